"""`cableproof closeout`: the package that the owner accepts and that anyone can verify again."""

from __future__ import annotations

import datetime as dt
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from analyzer.cli.loading import load_pipeline
from analyzer.cli.options import ReadingOptions, be_strict, command_line_of
from analyzer.errors import OptionError

if TYPE_CHECKING:
    from analyzer.report.package.contents import Packed, Tell
    from analyzer.schema import Analysis

STEPS = 7
"""Reading and judging, then the steps that a package tells."""


def closeout(
    *paths: Path,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    pdf: Literal["compact", "page"] = "compact",
    sign: Path | None = None,
    options: ReadingOptions | None = None,
) -> int:
    """Make the package for the owner: a bag after RFC 8493 with evidence, results, limits and proof.

    Exit codes as for check; also 1 while something required is missing and not granted: the package is then a draft,
    and every page of it says so.

    Parameters
    ----------
    paths
        A job folder, or one or several exports.
    output
        The folder or ZIP to write, for example closeout/hall.zip. It must not exist yet.
    pdf
        compact: one block for each link. page: one page for each link.
    sign
        A private Ed25519 key in PEM; the package then carries a detached signature.
    """
    load_pipeline()
    from analyzer.importing.gather import gather
    from analyzer.pipeline import judge_gathered
    from analyzer.report.package.contents import Wanted, write_package

    if output is None:
        raise OptionError("say where the package goes: -o FOLDER or -o PACKAGE.zip")
    if output.exists():
        raise OptionError(f"{output}: exists already, and a package never replaces anything; name another place")
    options = options or ReadingOptions()
    given = command_line_of(paths, options)
    seal = _signer(sign)
    made = made_at(os.environ)
    with _progress() as tell:
        tell("reading and judging")
        gathered = gather(list(paths), options.job, given.schedule)
        _not_inside(output, paths)
        analysis = judge_gathered(gathered, given)
        if options.strict:
            be_strict(analysis)
        try:
            packed = write_package(analysis, gathered, given, Wanted(output, made, pdf, seal), tell)
        except OSError as error:
            why = error.strerror or str(error)
            raise OptionError(f"{output}: cannot be written ({why}); make room or choose another place") from error
    return _say(analysis, packed)


def _say(analysis: Analysis, packed: Packed) -> int:
    from analyzer.report.package.cover import summary_sentence
    from analyzer.report.wording import exit_sentence, sentence

    print(f"Package: {packed.target}")
    print(summary_sentence(analysis))
    for answer in packed.answers:
        print(
            f"  {answer.status}: {answer.meaning} ({answer.why})"
            + (f"; granted by {answer.granted}" if answer.granted else "")
        )
    print(f"SHA-256 of its manifest: {packed.manifest_sha256}")
    code, reason = analysis.exit_code, analysis.exit_reason
    if packed.draft:
        print("This package is a draft. What keeps it from being final:")
        for part in packed.draft:
            print(f"  {sentence(part)}")
        reason = "the package is a draft" if code == 0 else f"{reason}; the package is a draft"
        code = 1
    print(exit_sentence(code, reason))
    return code


def made_at(environment: os._Environ[str] | dict[str, str]) -> dt.datetime:
    """The time that the package states: SOURCE_DATE_EPOCH where it is set, so that equal inputs give equal bytes.

    Raises:
        OptionError: SOURCE_DATE_EPOCH is no number of seconds.
    """
    said = environment.get("SOURCE_DATE_EPOCH", "").strip()
    if not said:
        return dt.datetime.now(dt.UTC).replace(microsecond=0, tzinfo=None)
    try:
        return dt.datetime.fromtimestamp(int(said), dt.UTC).replace(tzinfo=None)
    except (ValueError, OverflowError, OSError):
        raise OptionError(f"SOURCE_DATE_EPOCH is {said!r}; it must be whole seconds since 1970") from None


def _not_inside(output: Path, paths: tuple[Path, ...]) -> None:
    """A package inside the evidence would be evidence of the next run."""
    place = output.resolve()
    for path in paths:
        root = path.resolve() / "evidence"
        if root.is_dir() and place.is_relative_to(root):
            raise OptionError(f"{output}: lies inside the evidence; name a place outside {root}")


def _signer(key: Path | None) -> Callable[[bytes], bytes] | None:
    if key is None:
        return None
    from analyzer.report.package.signature import signer

    return signer(key)


@contextmanager
def _progress() -> Iterator[Tell]:
    """A bar on standard error where a person looks at it, nothing otherwise."""
    if not sys.stderr.isatty():
        yield lambda _step: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description:24}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=STEPS)
        done = -1

        def tell(step: str) -> None:
            nonlocal done
            done += 1
            bar.update(task, description=step, completed=done)

        yield tell
