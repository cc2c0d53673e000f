"""`cableproof report`: one self-contained page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from analyzer.cli.options import ReadingOptions, judge_paths
from analyzer.errors import OptionError

if TYPE_CHECKING:
    from analyzer.schema import Analysis

_PAGE_START = b"<!doctype html"
"""Stands on every page of ours, in the words that also keep it from being read as evidence."""


def report(
    *paths: Path,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    options: ReadingOptions | None = None,
) -> int:
    """Make one page to look into: every link, sorted and filtered, without network. Exit codes as for check.

    Parameters
    ----------
    paths
        One or several exports, a ZIP, or a job folder.
    output
        The page to write, for example reports/hall.html. Only an earlier page of ours is ever replaced.
    """
    from analyzer.report.wording import exit_sentence

    if output is None:
        raise OptionError("say where the page goes: -o page.html")
    check_output(output, paths)
    analysis = judge_paths(paths, options)
    write(analysis, output)
    totals = analysis.totals
    print(f"Page: {output}")
    print(
        f"{totals['links']} links: {totals['pass']} pass, {totals['marginal']} marginal, "
        f"{totals['fail']} fail, {totals['incomplete']} incomplete"
    )
    print(exit_sentence(analysis.exit_code, analysis.exit_reason))
    return analysis.exit_code


def write(analysis: Analysis, output: Path) -> None:
    """Write the page, with the folders above it.

    Raises:
        OptionError: the place cannot be written to.
    """
    from analyzer.report.page import write_page

    try:
        output.parent.mkdir(parents=True, exist_ok=True)
        write_page(analysis, output)
    except OSError as error:
        raise OptionError(f"{output}: cannot be written ({error.strerror or error}); choose another place") from error


def check_output(output: Path, paths: tuple[Path, ...]) -> None:
    """Refuse to write over anything but an earlier page of ours.

    Raises:
        OptionError: the output is an input, a folder, no page by its name, or a file that is not ours.
    """
    if output.suffix.casefold() not in {".html", ".htm"}:
        raise OptionError(f"{output}: a page ends in .html; write for example -o {output.with_suffix('.html')}")
    if output.is_dir():
        raise OptionError(f"{output}: is a folder; name a file in it, for example -o {output / 'page.html'}")
    if not output.exists():
        return
    if any(path.exists() and path.samefile(output) for path in paths):
        raise OptionError(f"{output}: is one of the files to read, and evidence is never altered; choose another name")
    try:
        content = output.read_bytes()
    except OSError as error:
        raise OptionError(f"{output}: exists and cannot be read ({error.strerror}); choose another name") from error
    from analyzer.schema import OWN_MARK

    if not content[:200].lstrip().lower().startswith(_PAGE_START) or OWN_MARK.encode() not in content:
        raise OptionError(f"{output}: exists and is no page of cableproof; choose another name or move it away")
