"""`cableproof demo`: the whole tour on invented sample results."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import as_file, files
from pathlib import Path

from analyzer.cli.options import judge_paths
from analyzer.cli.report import check_output, write
from analyzer.errors import FileMissing

JOB = "campus"
SINGLE = Path("single_files") / "os2_trunk_with_failures.csv"


def demo() -> int:
    """Check the invented job that comes with cableproof, make its page in reports/, and say what to try next."""
    page = Path("reports") / "demo.html"
    check_output(page, ())
    with sample_results() as samples:
        from analyzer.report.terminal import print_check

        analysis = judge_paths((samples / JOB,), None)
        print(f"$ cableproof check {_quoted(samples / JOB)}")
        print_check(analysis)
        write(analysis, page)
        print()
        _say_what_next(samples, page)
    sys.stdout.flush()
    return 0


def _say_what_next(samples: Path, page: Path) -> None:
    print(
        "This was the demo: everything in it is invented, and its failures were planted, so it ends with exit code 0."
    )
    print(f"Page: {page} - open it in a browser; it needs no network.")
    print("Try next:")
    for command in (
        f"check {_quoted(samples / SINGLE)}",
        f"columns {_quoted(samples / SINGLE)}",
        f"report {_quoted(samples / JOB)} -o {page}",
        "check YOUR_EXPORT.csv --fiber OM4 --length 120",
    ):
        print(f"  cableproof {command}")


@contextmanager
def sample_results() -> Iterator[Path]:
    """The folder of sample results: beside the package in a clone, inside it when installed.

    Raises:
        FileMissing: the installation has none.
    """
    beside = Path(__file__).resolve().parents[2] / "sample_results"
    if (beside / JOB).is_dir():
        yield _relative(beside)
        return
    with as_file(files("analyzer") / "sample_results") as inside:
        if not (inside / JOB).is_dir():
            raise FileMissing("the sample results are missing from this installation; install cableproof again")
        yield _relative(inside)


def _relative(folder: Path) -> Path:
    """The folder as one would type it from here, where that is shorter."""
    try:
        return folder.relative_to(Path.cwd())
    except ValueError:
        return folder


def _quoted(path: Path) -> str:
    text = str(path)
    return f'"{text}"' if " " in text else text
