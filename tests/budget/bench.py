"""A bench for judging: links written down as plain dicts, judged without any file."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.facts import join_seeds
from analyzer.budget.links import Linked, link_up
from analyzer.budget.one_file import FileVerdicts, judge_file
from analyzer.budget.scheduled import ScheduleIndex
from analyzer.insights import all_findings
from analyzer.job import CommandLine, Job, parse_job
from analyzer.schema import Analysis
from analyzer.standards import load

RECORD_FIELDS = set(schema.TABLES["records"])


def frames(*rows: dict[str, Any]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Records and readings: each row is one record; `loss` is {wavelength: value} or {(wavelength, direction): value}.

    A value is a number, or (number, bound), or (number, bound, decimals). `reading_verdicts` and `printed_limits` hold
    what the export says of a reading, under the same keys as `loss`.
    """
    records, readings = [], []
    for number, row in enumerate(rows):
        label = row.get("label", f"L-{number + 1:02d}")
        records.append({"record": number, "row": number + 2, "label": label, "key": label.casefold(), "strands": 1}
                       | {name: value for name, value in row.items() if name in RECORD_FIELDS})  # fmt: skip
        for where, what in row.get("loss", {}).items():
            wave, direction = where if isinstance(where, tuple) else (where, None)
            value, bound, decimals = (
                (*what, *(None, 2)[len(what) - 1 :]) if isinstance(what, tuple) else (what, None, 2)
            )
            readings.append({"reading": len(readings), "record": number, "parameter": "loss", "wavelength_nm": wave,
                             "direction": direction, "value": value, "bound": bound, "decimals": decimals,
                             "row": number + 2, "col": 3,
                             "declared_verdict": row.get("reading_verdicts", {}).get(where),
                             "declared_limit": row.get("printed_limits", {}).get(where, np.nan)})  # fmt: skip
    return schema.conform("records", pd.DataFrame(records)), schema.conform("readings", pd.DataFrame(readings))


def schedule_of(*rows: dict[str, Any]) -> ScheduleIndex:
    """A schedule with one row per link."""
    if not rows:
        return ScheduleIndex(schema.empty("schedule"))
    table = pd.DataFrame([{"key": row["label"].casefold(), "cable_key": row["label"].casefold()} | row for row in rows])
    table = schema.conform("schedule", table)
    return ScheduleIndex(table, {key: number for number, key in enumerate(table["key"])})


def verdicts_of(
    *rows: dict[str, Any], job: Job | None = None, schedule: ScheduleIndex | None = None, **given: Any
) -> FileVerdicts:
    """Verdicts of the rows, before links are made of them."""
    job = job or Job()
    records, readings = frames(*rows)
    return judge_file(
        records, readings, schedule or schedule_of(), job, CommandLine(**given), load(overrides=job.overrides)
    )


def links_of(verdicts: FileVerdicts, job: Job | None = None) -> Linked:
    """The links of judged rows."""
    return link_up(verdicts.records, verdicts.facts, verdicts.readings, verdicts.judged, job or Job())


def with_judgement(verdicts: FileVerdicts) -> pd.DataFrame:
    """One frame of readings with their judgement, and the code and text of its reason."""
    both = verdicts.readings.drop(columns="reading").join(verdicts.judged)
    reasons = verdicts.reasons.set_index("reason")
    both["code"], both["why"] = both["reason"].map(reasons["code"]), both["reason"].map(reasons["text"])
    return both


def judged(*rows: dict[str, Any], job: Job | None = None, **more: Any) -> tuple[FileVerdicts, Linked, pd.DataFrame]:
    """Verdicts of the rows, the links made of them, and one frame of readings with their judgement."""
    verdicts = verdicts_of(*rows, job=job, **more)
    return verdicts, links_of(verdicts, job), with_judgement(verdicts)


def run_of(
    *rows: dict[str, Any], job: Job | None = None, schedule: ScheduleIndex | None = None, **given: Any
) -> tuple[Analysis, pd.DataFrame]:
    """The rows as a whole run without findings, and the seeds from which some findings are made."""
    job, schedule = job or Job(), schedule or schedule_of()
    verdicts = verdicts_of(*rows, job=job, schedule=schedule, **given)
    linked = links_of(verdicts, job)
    records = schema.conform("records", verdicts.records)
    records["link"] = linked.link_of_record
    run = Analysis(
        **{name: schema.empty(name) for name in ("files", "blocks", "columns", "set_aside")},
        records=records, facts=verdicts.facts, readings=verdicts.readings,
        judged=verdicts.judged.assign(in_force=linked.in_force), limits=verdicts.limits, reasons=verdicts.reasons,
        links=linked.links, schedule=schedule.table, findings=[], totals={}, job=job,
    )  # fmt: skip
    return run, join_seeds([verdicts.seeds, linked.seeds])


def analysis(*rows: dict[str, Any], whole_schedule: bool = True, **more: Any) -> Analysis:
    """The rows as a whole run, findings included."""
    run, seeds = run_of(*rows, **more)
    run.findings = all_findings(run, seeds, whole_schedule=whole_schedule)
    return run


def om4(label: str = "A", **more: Any) -> dict[str, Any]:
    """OM4, 120 m, 2 mated pairs, no splice, one-cord: 1.86 dB at 850 nm, 1.68 dB at 1300 nm (TIA 568.3-E)."""
    facts = {"type": "OM4", "length_m": 120.0, "mated_pairs": 2, "splices": 0, "reference": "one-cord"}
    return {"label": label, **facts, "loss": {850: 1.0, 1300: 1.0}, **more}


def job_of(text: str) -> Job:
    """The job that a job.toml with this text states."""
    return parse_job(text.encode(), "job.toml")


OL = (np.nan, "over range")
"""A reading beyond the range of the tester."""


def first(*rows: dict[str, Any], **more: Any) -> pd.Series[Any]:
    """The first reading with its judgement."""
    return with_judgement(verdicts_of(*rows, **more)).iloc[0]


def link(*rows: dict[str, Any], **more: Any) -> pd.Series[Any]:
    """The first link."""
    return links_of(verdicts_of(*rows, **more), more.get("job")).links.iloc[0]


def facts(*rows: dict[str, Any], **more: Any) -> pd.Series[Any]:
    """The facts of the first record."""
    return verdicts_of(*rows, **more).facts.iloc[0]


def told(*rows: dict[str, Any], **more: Any) -> list[str]:
    """Codes of the findings of a run."""
    return [found.code for found in analysis(*rows, **more).findings]


def finding_of(code: str, *rows: dict[str, Any], **more: Any) -> Any:
    """The one finding with this code."""
    (found,) = [found for found in analysis(*rows, **more).findings if found.code == code]
    return found
