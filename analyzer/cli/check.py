"""`cableproof check`: read, judge, print."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from analyzer.cli.options import ReadingOptions, judge_paths


def check(
    *paths: Path,
    json: Annotated[bool, Parameter(negative="", show_default=False)] = False,
    all_links: Annotated[bool, Parameter(name="--all", negative="", show_default=False)] = False,
    options: ReadingOptions | None = None,
) -> int:
    """Read exports, judge each link, and print what fails, what is missing and what to do next.

    Exit code 0: everything passes. 1: a link fails or is incomplete, or an error was found. 2: it could not run.

    Parameters
    ----------
    paths
        One or several exports, a ZIP, or a job folder.
    json
        Print one JSON document instead: every link, every reading, and where each came from.
    all_links
        Print every link instead of folding those that are alike.
    """
    analysis = judge_paths(paths, options)
    if json:
        from analyzer.report.document import write_check_json

        write_check_json(analysis, sys.stdout)
    else:
        from analyzer.report.terminal import print_check

        print_check(analysis, all_links=all_links)
    return analysis.exit_code
