"""A bench for judging: links written down as plain dicts, judged without any file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache, cached_property, lru_cache
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
from analyzer.schema import Analysis, Finding
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


@dataclass(frozen=True)
class Same:
    """Something that equals what has the same text, so that it is worked out once."""

    text: str
    content: Any = field(compare=False)


def schedule_of(*rows: dict[str, Any]) -> ScheduleIndex:
    """A schedule with one row per link."""
    return _schedule_of(Same(repr(rows), rows))


@lru_cache(maxsize=64)
def _schedule_of(same: Same) -> ScheduleIndex:
    rows = same.content
    if not rows:
        return ScheduleIndex(schema.empty("schedule"))
    table = pd.DataFrame([{"key": row["label"].casefold(), "cable_key": row["label"].casefold()} | row for row in rows])
    table = schema.conform("schedule", table)
    return ScheduleIndex(table, {key: number for number, key in enumerate(table["key"])})


@dataclass
class Asked:
    """Rows to be judged and what became of them; each part is made when a test first asks for it, and never altered."""

    records: pd.DataFrame
    readings: pd.DataFrame
    job: Job
    schedule: ScheduleIndex
    given: dict[str, Any]

    @cached_property
    def verdicts(self) -> FileVerdicts:
        values = load(overrides=self.job.overrides)
        return judge_file(self.records, self.readings, self.schedule, self.job, CommandLine(**self.given), values)

    @cached_property
    def linked(self) -> Linked:
        found = self.verdicts
        return link_up(found.records, found.facts, found.readings, found.judged, self.job)

    @cached_property
    def told(self) -> pd.DataFrame:
        """One frame of readings with their judgement, and code, text and mend of its reason."""
        both = self.verdicts.readings.drop(columns="reading").join(self.verdicts.judged)
        reasons = self.verdicts.reasons.set_index("reason")
        return both.assign(
            **{
                name: both["reason"].map(reasons[column])
                for name, column in (("code", "code"), ("why", "text"), ("mend", "mend"))
            }
        )

    @cached_property
    def run(self) -> Analysis:
        """A whole run without findings."""
        found, linked = self.verdicts, self.linked
        records = schema.conform("records", found.records)
        records["link"] = linked.link_of_record
        return Analysis(
            **{name: schema.empty(name) for name in ("files", "blocks", "columns", "set_aside")},
            records=records, facts=found.facts, readings=found.readings,
            judged=found.judged.assign(in_force=linked.in_force), limits=found.limits, reasons=found.reasons,
            links=linked.links, schedule=self.schedule.table, findings=[], totals={}, job=self.job,
        )  # fmt: skip

    @cached_property
    def findings(self) -> list[Finding]:
        return self.findings_of(whole_schedule=True)

    def findings_of(self, *, whole_schedule: bool) -> list[Finding]:
        seeds = join_seeds([self.verdicts.seeds, self.linked.seeds])
        return all_findings(self.run, seeds, whole_schedule=whole_schedule)


EMPTY_JOB = Job()


def ask(*rows: dict[str, Any], job: Job | None = None, schedule: ScheduleIndex | None = None, **given: Any) -> Asked:
    """The rows of fiber, to be judged; the same question a second time costs nothing."""
    return asked(frames, rows, job, schedule, given)


def asked(
    make: Callable[..., tuple[pd.DataFrame, pd.DataFrame]],
    rows: tuple[dict[str, Any], ...],
    job: Job | None,
    schedule: ScheduleIndex | None,
    given: dict[str, Any],
) -> Asked:
    """Rows that `make` turns into records and readings, to be judged."""
    job, schedule = job or EMPTY_JOB, schedule or schedule_of()
    # what is remembered holds its job and schedule, so nothing else gets their ids meanwhile
    return _asked(
        Same(f"{make.__name__} {rows!r} {given!r} {id(job)} {id(schedule)}", (make, rows, job, schedule, given))
    )


@lru_cache(maxsize=64)
def _asked(same: Same) -> Asked:
    make, rows, job, schedule, given = same.content
    return Asked(*make(*rows), job, schedule, given)


def judged(*rows: dict[str, Any], **more: Any) -> tuple[FileVerdicts, Linked, pd.DataFrame]:
    """Verdicts of the rows, the links made of them, and one frame of readings with their judgement."""
    it = ask(*rows, **more)
    return it.verdicts, it.linked, it.told


def analysis(*rows: dict[str, Any], whole_schedule: bool = True, **more: Any) -> Analysis:
    """The rows as a whole run, findings included."""
    it = ask(*rows, **more)
    found = it.findings if whole_schedule else it.findings_of(whole_schedule=False)
    return replace(it.run, findings=list(found))


def om4(label: str = "A", **more: Any) -> dict[str, Any]:
    """OM4, 120 m, 2 mated pairs, no splice, one-cord: 1.86 dB at 850 nm, 1.68 dB at 1300 nm (TIA 568.3-E)."""
    facts = {"type": "OM4", "length_m": 120.0, "mated_pairs": 2, "splices": 0, "reference": "one-cord"}
    return {"label": label, **facts, "loss": {850: 1.0, 1300: 1.0}, **more}


@cache
def job_of(text: str) -> Job:
    """The job that a job.toml with this text states."""
    return parse_job(text.encode(), "job.toml")


OL = (np.nan, "over range")
"""A reading beyond the range of the tester."""


def first(*rows: dict[str, Any], **more: Any) -> pd.Series[Any]:
    """The first reading with its judgement."""
    return ask(*rows, **more).told.iloc[0]


def firsts(*rows: dict[str, Any], **more: Any) -> list[pd.Series[Any]]:
    """The first reading of each row with its judgement; every row is a link of its own, all judged in one run."""
    told = ask(*(row | {"label": f"L{number}"} for number, row in enumerate(rows)), **more).told
    return [told.iloc[at] for at in np.unique(told["record"].to_numpy(), return_index=True)[1]]


def link(*rows: dict[str, Any], **more: Any) -> pd.Series[Any]:
    """The first link."""
    return ask(*rows, **more).linked.links.iloc[0]


def facts(*rows: dict[str, Any], **more: Any) -> pd.Series[Any]:
    """The facts of the first record."""
    return ask(*rows, **more).verdicts.facts.iloc[0]


def told(*rows: dict[str, Any], **more: Any) -> list[str]:
    """Codes of the findings of a run."""
    return [found.code for found in analysis(*rows, **more).findings]


def finding_of(code: str, *rows: dict[str, Any], **more: Any) -> Any:
    """The one finding with this code."""
    (found,) = [found for found in analysis(*rows, **more).findings if found.code == code]
    return found
