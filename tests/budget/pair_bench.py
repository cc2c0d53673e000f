"""A bench for judging twisted pair: tests written down as plain dicts, judged without any file."""

from __future__ import annotations

from typing import Any

import pandas as pd
from bench import links_of, schedule_of, with_judgement

from analyzer import schema
from analyzer.budget.links import Linked
from analyzer.budget.one_file import FileVerdicts, judge_file
from analyzer.job import CommandLine, Job
from analyzer.standards import load

RECORD_FIELDS = set(schema.TABLES["records"])
NAMED = {"declared_limit": "TIA Cat 6 Perm. Link"}
"""An export that names the loaded limit: category 6, permanent link."""


def at(parameter: str, value: Any = float("nan"), mhz: float = float("nan"), **more: Any) -> dict[str, Any]:
    """One reading; `more` are columns of schema `readings`."""
    return {"parameter": parameter, "value": value, "frequency_mhz": mhz, "decimals": 2, **more}


def pair_link(*readings: dict[str, Any], label: str = "C", **more: Any) -> dict[str, Any]:
    """One record of twisted pair with its readings; the limit is named unless `declared_limit` is given."""
    return {"label": label, "medium": "twisted pair", **NAMED, **more, "readings": readings}


def pair_frames(*rows: dict[str, Any]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Records and readings of the schema."""
    records, readings = [], []
    for number, row in enumerate(rows):
        own = {name: value for name, value in row.items() if name in RECORD_FIELDS}
        records.append({"record": number, "row": number + 2, "key": row["label"].casefold(), "strands": 1} | own)
        for one in row["readings"]:
            readings.append(
                {"reading": len(readings), "record": number, "row": number + 2, "col": 3, "wavelength_nm": -1} | one
            )
    table = pd.DataFrame(readings)
    return schema.conform("records", pd.DataFrame(records)), schema.conform("readings", table)


def verdicts_of_pairs(
    *rows: dict[str, Any], job: Job | None = None, schedule: Any = None, **given: Any
) -> FileVerdicts:
    """Verdicts of the rows, before links are made of them."""
    job = job or Job()
    records, readings = pair_frames(*rows)
    return judge_file(
        records, readings, schedule or schedule_of(), job, CommandLine(**given), load(overrides=job.overrides)
    )


def pairs_with_judgement(verdicts: FileVerdicts) -> pd.DataFrame:
    """One frame of readings with their judgement, and code, text and mend of its reason."""
    both = with_judgement(verdicts)
    return both.assign(mend=both["reason"].map(verdicts.reasons.set_index("reason")["mend"]))


def judged_pairs(
    *rows: dict[str, Any], job: Job | None = None, **more: Any
) -> tuple[FileVerdicts, Linked, pd.DataFrame]:
    """Verdicts, links, and one frame of readings with their judgement."""
    verdicts = verdicts_of_pairs(*rows, job=job, **more)
    linked = links_of(verdicts, job)
    return verdicts, linked, pairs_with_judgement(verdicts).assign(in_force=linked.in_force)


def reading(*readings: dict[str, Any], number: int = 0, job: Job | None = None, given: Any = None, **more: Any) -> Any:
    """One of the readings of one link, judged; `more` are facts of the record."""
    verdicts = verdicts_of_pairs(pair_link(*readings, **more), job=job, **(given or {}))
    return pairs_with_judgement(verdicts).iloc[number]


def link_of(*rows: dict[str, Any], **more: Any) -> Any:
    """The first link."""
    return links_of(verdicts_of_pairs(*rows, **more), more.get("job")).links.iloc[0]
