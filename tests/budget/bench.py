"""A bench for judging: links written down as plain dicts, judged without any file."""

from __future__ import annotations

from typing import Any

import pandas as pd

from analyzer import schema
from analyzer.budget.links import Linked, link_up
from analyzer.budget.one_file import FileVerdicts, judge_file
from analyzer.budget.scheduled import ScheduleIndex
from analyzer.job import CommandLine, Job
from analyzer.standards import load

RECORD_FIELDS = set(schema.TABLES["records"])


def frames(*rows: dict[str, Any]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Records and readings: each row is one record; `loss` is {wavelength: value} or {(wavelength, direction): value}.

    A value is a number, or (number, bound), or (number, bound, decimals).
    """
    records, readings = [], []
    for number, row in enumerate(rows):
        label = row.get("label", f"L-{number + 1:02d}")
        records.append({"record": number, "row": number + 2, "label": label, "key": label.casefold(), "strands": 1}
                       | {name: value for name, value in row.items() if name in RECORD_FIELDS})  # fmt: skip
        for where, what in row.get("loss", {}).items():
            wave, direction = where if isinstance(where, tuple) else (where, None)
            value, bound, decimals = (*(what if isinstance(what, tuple) else (what,)), None, 2)[:3]
            if isinstance(what, tuple) and len(what) == 3:
                value, bound, decimals = what
            readings.append({"reading": len(readings), "record": number, "parameter": "loss", "wavelength_nm": wave,
                             "direction": direction, "value": value, "bound": bound, "decimals": decimals or 2,
                             "row": number + 2, "col": 3,
                             "declared_verdict": row.get("reading_verdict")})  # fmt: skip
    return schema.conform("records", pd.DataFrame(records)), schema.conform("readings", pd.DataFrame(readings))


def schedule_of(*rows: dict[str, Any]) -> ScheduleIndex:
    """A schedule with one row per link."""
    if not rows:
        return ScheduleIndex(schema.empty("schedule"))
    table = pd.DataFrame([{"key": row["label"].casefold(), "cable_key": row["label"].casefold()} | row for row in rows])
    table = schema.conform("schedule", table)
    return ScheduleIndex(table, {key: number for number, key in enumerate(table["key"])})


def judged(
    *rows: dict[str, Any], job: Job | None = None, schedule: ScheduleIndex | None = None, **given: Any
) -> tuple[FileVerdicts, Linked, pd.DataFrame]:
    """Verdicts of the rows, the links made of them, and one frame of readings with their judgement."""
    job = job or Job()
    records, readings = frames(*rows)
    verdicts = judge_file(
        records, readings, schedule or schedule_of(), job, CommandLine(**given), load(overrides=job.overrides)
    )
    linked = link_up(verdicts.records, verdicts.facts, readings, verdicts.judged, job)
    both = readings.drop(columns="reading").join(verdicts.judged)
    reasons = verdicts.reasons.set_index("reason")
    both["code"] = both["reason"].map(reasons["code"])
    both["why"] = both["reason"].map(reasons["text"])
    return verdicts, linked, both
