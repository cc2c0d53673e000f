"""The options that every reading command takes, and the one way from them to an analysis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Group, Parameter

from analyzer.cli.loading import load_pipeline
from analyzer.errors import OptionError

if TYPE_CHECKING:
    from analyzer.job import CommandLine
    from analyzer.schema import Analysis

_JOB = Group("The job", sort_key=10)
_ORDER = Group("What was ordered", sort_key=20)
_BUILT = Group("What was built, for all links given", sort_key=30)


@Parameter(name="*")
@dataclass(frozen=True)
class ReadingOptions:
    """Options of the commands that read exports. What is said here stands above files, schedule and job."""

    job: Annotated[Path | None, Parameter(group=_JOB)] = None
    """The job.toml to judge by; in a folder its own job.toml is found by itself."""
    schedule: Annotated[Path | None, Parameter(group=_JOB)] = None
    """The cable schedule: any table with one link or one cable a row."""
    area: Annotated[str | None, Parameter(group=_JOB)] = None
    """Only the links of this area."""
    columns: Annotated[Path | None, Parameter(group=_JOB)] = None
    """A column map that says what the headings mean, as `cableproof columns FILE --write` makes one."""
    strict: Annotated[bool, Parameter(group=_JOB, negative="", show_default=False)] = False
    """Exit code 1 also if any row or cell of an export or of the schedule was set aside."""

    standard: Annotated[str | None, Parameter(group=_ORDER)] = None
    """TIA or ISO."""
    edition: Annotated[str | None, Parameter(group=_ORDER)] = None
    """Edition of the standard, for example 568.3-E."""
    grade: Annotated[str | None, Parameter(group=_ORDER)] = None
    """Category or class of twisted pair, for example 6A."""
    configuration: Annotated[str | None, Parameter(group=_ORDER)] = None
    """channel, "permanent link", "modular plug terminated link" or "end-to-end link"."""

    fiber: Annotated[str | None, Parameter(name=["--fiber", "--fibre"], group=_BUILT)] = None
    """Fiber type: OM1 to OM5, OS1, OS1a, OS2."""
    construction: Annotated[str | None, Parameter(group=_BUILT)] = None
    """Cable of single-mode fiber: "inside plant", indoor-outdoor or "outside plant"."""
    length: Annotated[str | None, Parameter(group=_BUILT)] = None
    """Length in meters."""
    mated_pairs: Annotated[str | None, Parameter(group=_BUILT)] = None
    """Mated pairs of connectors in the link, those at panels counted."""
    splices: Annotated[str | None, Parameter(group=_BUILT)] = None
    """Splices in the link."""
    ends: Annotated[str | None, Parameter(group=_BUILT)] = None
    """What end A and end B are, for example panel,plug."""
    reference: Annotated[str | None, Parameter(group=_BUILT)] = None
    """Reference method of the loss test: one-cord, two-cord or three-cord."""
    segment: Annotated[str | None, Parameter(group=_BUILT)] = None
    """horizontal or backbone."""


def judge_paths(paths: Sequence[Path], options: ReadingOptions | None) -> Analysis:
    """Read and judge what was given.

    Raises:
        OptionError: nothing was given, or an option makes no sense.
        InputError: what was given cannot be used.
    """
    load_pipeline()
    from analyzer.pipeline import analyze

    options = options or ReadingOptions()
    given = command_line_of(paths, options)
    analysis = analyze(list(paths), options.job, given=given)
    if options.strict:
        be_strict(analysis)
    return analysis


def command_line_of(paths: Sequence[Path], options: ReadingOptions) -> CommandLine:
    """What the options say, checked.

    Raises:
        OptionError: nothing was given, or an option makes no sense.
    """
    from analyzer.job import CommandLine

    if not paths:
        raise OptionError("say what to read: one or several exports, a ZIP, or a job folder")
    return CommandLine.parse(
        fiber=options.fiber,
        construction=options.construction,
        length=options.length,
        mated_pairs=options.mated_pairs,
        splices=options.splices,
        ends=options.ends,
        reference=options.reference,
        grade=options.grade,
        configuration=options.configuration,
        standard=options.standard,
        edition=options.edition,
        segment=options.segment,
        area=options.area,
        columns=options.columns,
        schedule=options.schedule,
    )


def be_strict(analysis: Analysis) -> None:
    """--strict: anything that was set aside makes exit code 1."""
    count = len(analysis.set_aside) + sum(found.code == "schedule-set-aside" for found in analysis.findings)
    if count:
        said = f"{count} {'row or cell was' if count == 1 else 'rows or cells were'} set aside (--strict)"
        analysis.exit_reason = f"{analysis.exit_reason}; {said}" if analysis.exit_code == 1 else said
        analysis.exit_code = 1
