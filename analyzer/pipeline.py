"""The whole run on one page: map, settle, combine, insights.

`map_file` reads and judges one file and depends on nothing but its arguments; `settle` (in importing) adds up what the
files tell of decisions that hold for a whole column; files whose decision changed are mapped once more; `combine` forms
the links. The order of the files decides the order of the output and nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.array_positions import ArrayRecords
from analyzer.budget.ends import ends_exchanged, told, turned_readings, turned_records
from analyzer.budget.events import judge_traces
from analyzer.budget.links import Linked, link_up
from analyzer.budget.looser import looser_than_standard
from analyzer.budget.lower_grade import lower_grades
from analyzer.budget.narrowed import narrowed
from analyzer.budget.one_file import judge_file
from analyzer.budget.owners_own import is_owners, owners_own_told, set_apart
from analyzer.budget.rules import rules_in_force
from analyzer.budget.scheduled import ScheduleIndex
from analyzer.budget.wording import with_wire_maps
from analyzer.errors import FileUnreadable, InputError, JobError, NothingToJudge, OptionError, StandardsError
from analyzer.importing import (
    Decisions,
    Imported,
    ReadContext,
    Source,
    read_schedule,
    read_source,
    settle,
    strand_aliases,
)
from analyzer.importing.gather import Found, Gathered, gather
from analyzer.importing.map_text import check_used, load_maps
from analyzer.importing.raw_rows import ReadAgain
from analyzer.insights import all_findings
from analyzer.insights.batches import batch_tables
from analyzer.insights.causes import likely_causes
from analyzer.insights.marked import fingerprints, lay_marks
from analyzer.job import CommandLine, Job
from analyzer.job.marks import Mark, load_marks
from analyzer.points import Points
from analyzer.schema import Analysis
from analyzer.stacking import FileResult, stack
from analyzer.standards import Values, load, resolve_edition


@dataclass(frozen=True)
class Context:
    """What judging depends on besides the file: job, command line, schedule, values, column decisions."""

    job: Job
    given: CommandLine
    values: Values
    schedule: ScheduleIndex
    reading: ReadContext


def analyze(
    paths: Sequence[str | Path] | str | Path, job: Job | Path | str | None = None, *, given: CommandLine | None = None
) -> Analysis:
    """Read, judge and compare everything below `paths`.

    Args:
        paths: files, ZIPs or a job folder.
        job: a job, or the path of a job.toml; None takes the one in the folder, if any.
        given: facts and orders of the command line.

    Raises:
        InputError: nothing can be judged; one sentence says why and how to mend it.
    """
    given = given or CommandLine()
    if isinstance(paths, (str, Path)):
        paths = [paths]
    return judge_gathered(gather(paths, Path(job) if isinstance(job, str) else job, given.schedule), given)


def judge_gathered(gathered: Gathered, given: CommandLine, values_folder: Path | None = None) -> Analysis:
    """Read, judge and compare evidence that was already found.

    Args:
        gathered: the evidence in its order, its job and schedule.
        given: facts and orders of the command line.
        values_folder: the standards' values to judge by, as a package carries them; None takes the product's own.

    Raises:
        InputError: nothing can be judged; one sentence says why and how to mend it.
    """
    values = _values(gathered.job, given, values_folder)
    reading = ReadContext(maps=load_maps(given.columns, gathered.maps))
    schedule, schedule_aside = _schedule(gathered, reading)
    context = Context(gathered.job, given, values, ScheduleIndex(schedule, strand_aliases(schedule)), reading)
    files, results = _map_all(gathered.evidence, context)
    if given.columns is not None:
        check_used(given.columns, reading.maps, [result.imported.blocks for result in results if result])
    whole = gathered.is_folder or given.schedule is not None
    analysis = combine(files, results, context, schedule_aside, load_marks(gathered.marks), whole_schedule=whole)
    analysis.read_again = ReadAgain(gathered.evidence, reading)
    return analysis


def map_file(source: Source, context: Context) -> FileResult:
    """Read and judge one file; pure. The points of its curves end here: memory follows the largest file.

    Raises:
        FileUnreadable: the file holds no table that can be judged.
    """
    imported = as_scheduled(read_source(source, context.reading), context.schedule, context.values)
    verdicts = judge_file(
        imported.records, imported.readings, context.schedule, context.job, context.given, context.values,
        imported.curves, imported.points,
    )  # fmt: skip
    return FileResult(replace(imported, points=Points()), verdicts)


def as_scheduled(imported: Imported, schedule: ScheduleIndex, values: Values) -> Imported:
    """The tables of a file with end A where the schedule has it, positions of arrays counted from there."""
    arrays = ArrayRecords(imported.records, imported.columns, schedule)
    turned = ends_exchanged(imported.records, schedule, arrays.row)
    placed = arrays.at_end_a(turned_records(imported.records, turned), turned, values)
    if not turned.any() and not len(placed.seeds):
        return imported
    return replace(
        imported,
        records=placed.records,
        readings=turned_readings(imported.readings, turned),
        curves=turned_readings(imported.curves, turned),
        events=turned_readings(imported.events, turned),
        seeds=pd.concat([imported.seeds, told(turned), placed.seeds], ignore_index=True),
    )


def _map_all(evidence: Sequence[Found], context: Context) -> tuple[list[dict[str, Any]], list[FileResult | None]]:
    """Map every file, settle, and map those again whose decisions changed; a broken file among good ones is told."""
    files: list[dict[str, Any]] = [{} for _ in evidence]
    results: list[FileResult | None] = [None for _ in evidence]
    first_with: dict[str, str] = {}
    failures: list[InputError] = []
    # a copy among the owner's own measurements must not stand in place of the contractor's file
    owners = [is_owners(found.name, context.job.audit.files) for found in evidence]
    for place in sorted(range(len(evidence)), key=owners.__getitem__):
        files[place], results[place] = _map_one(evidence[place], context, first_with, failures)
    read = [result for result in results if result]
    if not read:
        raise failures[0] if len(failures) == 1 else _nothing_readable(failures)
    decisions = settle([result.imported.tallies for result in read])
    again = replace(context, reading=replace(context.reading, decisions=decisions))
    for place, (found, result) in enumerate(zip(evidence, results, strict=True)):
        if result and _decides_otherwise(result, decisions):
            mapped = map_file(Source(found.name, found.read()), again)
            files[place], results[place] = mapped.imported.file, mapped
    return files, results


def _map_one(
    found: Found, context: Context, first_with: dict[str, str], failures: list[InputError]
) -> tuple[dict[str, Any], FileResult | None]:
    row: dict[str, Any] = {"name": found.name, "bytes": 0}
    try:
        source = Source(found.name, found.read())
        row |= {"sha256": source.sha256, "bytes": len(source.data)}
        if not found.is_table:
            nested = found.member is not None and found.member.lower().endswith(".zip")
            why = "a ZIP inside a ZIP is not opened: unpack it" if nested else "no table file: hashed, not read"
            return row | {"status": "not a table", "reason": why}, None
        if source.sha256 in first_with:
            reason = f"{found.name} is the same to the byte as {first_with[source.sha256]}"
            return row | {"status": "repeated", "reason": reason}, None
        first_with[source.sha256] = found.name
        result = map_file(source, context)
    except FileUnreadable as error:
        failures.append(error)
        return row | {"status": getattr(error, "status", "unreadable"), "reason": str(error)}, None
    return result.imported.file, result


def _decides_otherwise(result: FileResult, decisions: Decisions) -> bool:
    own = result.imported.tallies.fingerprints
    return decisions.only(own) != settle([result.imported.tallies]).only(own)


def combine(
    files: list[dict[str, Any]],
    results: list[FileResult | None],
    context: Context,
    schedule_aside: pd.DataFrame,
    marks: Sequence[Mark] = (),
    *,
    whole_schedule: bool,
) -> Analysis:
    """Tables of all files together, links, findings, totals."""
    tables, seeds, pictures, sketches = stack(files, results)
    area: list[str] = []
    if context.given.area:
        scheduled = bool(len(in_scope(context.schedule.table, context)))
        tables, seeds, area = _only_area(tables, seeds, context.given.area, scheduled=scheduled)
    tables, seeds, audit = set_apart(tables, seeds, [row["name"] for row in files], context.job.audit.files)
    linked = link_up(tables["records"], tables["facts"], tables["readings"], tables["judged"], context.job)
    tables["judged"]["in_force"], tables["judged"]["counts"] = linked.in_force, linked.counts
    _complete_sentences(linked, tables, context.values)
    records = schema.conform("records", tables["records"])
    links, records["link"] = in_given_order(linked.links, linked.link_of_record, tables["records"]["file"].to_numpy())
    kept: dict[str, Any] = {name: schema.conform(name, tables[name]) for name in _KEPT}
    told = _facts_of_readings(tables)
    analysis = Analysis(
        **kept,
        records=records,
        links=links,
        schedule=in_scope(context.schedule.table, context),
        findings=[],
        totals=_totals(links),
        pictures=pictures,
        sketches=sketches,
        rules=[
            *area,
            *owners_own_told(audit),
            *rules_in_force(told, context.job, records["link"].to_numpy()[told["record"].to_numpy()]),
        ],
        looser=looser_than_standard(context.job, context.values),
        job=context.job,
        audit=audit,
    )
    judge_traces(analysis, context.values)
    analysis.totals = _totals(analysis.links)
    analysis.batches, analysis.batch_links = batch_tables(analysis)
    analysis.causes = likely_causes(analysis, context.values)
    seeds = pd.concat([seeds, linked.seeds, _schedule_seeds(schedule_aside)], ignore_index=True)
    analysis.links["fingerprint"] = fingerprints(analysis)
    analysis.marks = lay_marks(analysis, marks)
    analysis.findings = all_findings(analysis, seeds, whole_schedule=whole_schedule)
    analysis.exit_code, analysis.exit_reason = verdict_of_run(analysis)
    return analysis


def _complete_sentences(linked: Linked, tables: dict[str, pd.DataFrame], values: Values) -> None:
    """Sentences of twisted-pair links: what is wrong with a wire map, and what a link that does not pass proves."""
    links = linked.links
    links["sentence"] = with_wire_maps(links, tables["readings"], tables["judged"], tables["reasons"])
    lower = lower_grades(
        linked.links, linked.link_of_record, tables["facts"], tables["readings"], tables["judged"], tables["curves"],
        values,
    )  # fmt: skip
    linked.links["proved"] = pd.Series(lower.proved).replace("", None).astype("str")
    more = np.where(lower.sentence == "", "", "; " + lower.sentence)
    linked.links["sentence"] += more


def _facts_of_readings(tables: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """Facts of the records whose loss was measured; a trace has no reference method, so it tells none."""
    record = tables["facts"]["record"]
    only_trace = record.isin(tables["events"]["record"]) & ~record.isin(tables["readings"]["record"])
    return tables["facts"][~only_trace].reset_index(drop=True)


def _only_area(
    tables: dict[str, pd.DataFrame], seeds: pd.DataFrame, area: str, *, scheduled: bool
) -> tuple[dict[str, pd.DataFrame], pd.DataFrame, list[str]]:
    """The records of one area, and a sentence on what was left out; an area that nothing names ends the run."""
    areas = tables["records"]["area"]
    keep = _matches(areas.fillna(""), [area]).to_numpy()
    if not keep.any() and not scheduled:
        known = ", ".join(sorted(areas.dropna().unique())[:8])
        said = f"the areas are {known}" if known else "neither the exports nor a schedule name areas"
        raise NothingToJudge(f"--area {area}: no record lies in it; {said}")
    left_out, nowhere = int((~keep).sum()), int(areas.isna().sum())
    told = f"only area {area}: {left_out} records of other areas are left out"
    told += f", {nowhere} of them without any area" if nowhere else ""
    return *narrowed(tables, seeds, keep), [told] if left_out else [f"only area {area}"]


def in_given_order(
    links: pd.DataFrame, link_of_record: np.ndarray, file_of_record: np.ndarray
) -> tuple[pd.DataFrame, np.ndarray]:
    """Links renumbered by their first appearance in the files as given; everything else goes by the files' names."""
    appearance = np.lexsort((np.arange(len(link_of_record)), file_of_record))
    order = pd.unique(link_of_record[appearance])
    number = np.empty(len(order), dtype=np.int64)
    number[order] = np.arange(len(order))
    return links.take(order).assign(link=np.arange(len(order))).reset_index(drop=True), number[link_of_record]


_KEPT = (
    "files", "blocks", "columns", "facts", "readings", "curves", "judged", "limits", "reasons", "set_aside", "events",
)  # fmt: skip


def in_scope(schedule: pd.DataFrame, context: Context) -> pd.DataFrame:
    """The schedule less what [scope] or --area leaves out."""
    scope = context.job.scope
    areas, labels = schedule["area"].fillna(""), schedule["label"]
    keep = pd.Series(data=True, index=schedule.index)
    if context.given.area:
        keep &= _matches(areas, [context.given.area])
    if scope.areas:
        keep &= _matches(areas, scope.areas)
    if scope.labels:
        keep &= _matches(labels, scope.labels)
    keep &= ~_matches(areas, scope.exclude_areas) & ~_matches(labels, scope.exclude_labels)
    return schedule[keep].reset_index(drop=True)


def _matches(texts: pd.Series, patterns: Sequence[str]) -> pd.Series:
    """Which texts fit one of the shell patterns; upper and lower case are one."""
    from fnmatch import translate

    hit = pd.Series(data=False, index=texts.index)
    for pattern in patterns:
        hit |= texts.str.fullmatch(translate(pattern), case=False).astype(bool)
    return hit


def verdict_of_run(analysis: Analysis) -> tuple[int, str]:
    """Exit code and the sentence that says what caused it."""
    totals = analysis.totals
    causes = []
    if totals["fail"]:
        causes.append(f"{totals['fail']} {'link fails' if totals['fail'] == 1 else 'links fail'}")
    if totals["incomplete"]:
        causes.append(f"{totals['incomplete']} {'link is' if totals['incomplete'] == 1 else 'links are'} incomplete")
    errors = [found for found in analysis.findings if found.severity == "error"]
    causes += [found.message for found in errors]
    if causes:
        return 1, "; ".join(causes)
    return 0, "everything that was judged passes"


def _totals(links: pd.DataFrame) -> dict[str, int]:
    counts = links["verdict"].value_counts()
    return {
        "links": len(links),
        **{name: int(counts.get(name, 0)) for name in ("pass", "marginal", "fail", "incomplete")},
    }


def _values(job: Job, given: CommandLine, folder: Path | None) -> Values:
    """The standards' values with the job's overrides; an order that names nothing known ends here."""
    name = str((job.folder or Path()) / "job.toml")
    try:
        values = load(overrides=job.overrides, folder=folder)
        for row_id in job.confirmed:
            values.row(row_id)
        if job.candidates:
            from analyzer.budget.pair_limits import check_candidates

            check_candidates(job, values)
        if job.order.edition or job.order.standard:
            _known_edition(values, job.order.standard, job.order.edition)
    except StandardsError as error:
        raise JobError(name, [str(error)]) from error
    try:
        if given.edition:
            _known_edition(values, given.standard or job.order.standard, given.edition)
    except StandardsError as error:
        raise OptionError(f"--edition: {error}") from error
    return values


def _known_edition(values: Values, standard: str | None, edition: str | None) -> None:
    problems = []
    for family in (standard,) if standard else schema.CATEGORIES["standard"]:
        for table in ("editions", "copper_editions"):
            try:
                resolve_edition(values, family, edition, table)
            except StandardsError as error:
                problems.append(str(error))
            else:
                return
    raise StandardsError("; ".join(problems))


def _schedule(gathered: Gathered, reading: ReadContext) -> tuple[pd.DataFrame, pd.DataFrame]:
    if gathered.schedule is None:
        return schema.empty("schedule"), schema.empty("set_aside")
    found = Found(gathered.schedule.name, gathered.schedule)
    return read_schedule(Source(found.name, found.read()), reading, sheet=gathered.job.schedule.sheet)


def _schedule_seeds(aside: pd.DataFrame) -> pd.DataFrame:
    where = "schedule, row " + aside["row"].astype("str") + ": " + aside["reason"]
    return pd.DataFrame({"code": "schedule-set-aside", "record": -1, "text": where}, index=aside.index)


def _nothing_readable(failures: Sequence[InputError]) -> InputError:
    if not failures:
        return NothingToJudge("nothing readable among the files that were given; name at least one export")
    sentences = "; ".join(str(failure) for failure in failures[:3])
    more = f"; and {len(failures) - 3} more" if len(failures) > 3 else ""
    return NothingToJudge(f"none of {len(failures)} files can be read: {sentences}{more}")
