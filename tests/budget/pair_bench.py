"""A bench for judging twisted pair: tests written down as plain dicts, judged without any file."""

from __future__ import annotations

from typing import Any

import pandas as pd
from bench import Asked, asked

from analyzer import schema
from analyzer.budget.links import Linked
from analyzer.budget.one_file import FileVerdicts
from analyzer.job import Job

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


def ask_pairs(*rows: dict[str, Any], job: Job | None = None, schedule: Any = None, **given: Any) -> Asked:
    """The rows of twisted pair, to be judged."""
    return asked(pair_frames, rows, job, schedule, given)


def judged_pairs(*rows: dict[str, Any], **more: Any) -> tuple[FileVerdicts, Linked, pd.DataFrame]:
    """Verdicts, links, and one frame of readings with their judgement."""
    it = ask_pairs(*rows, **more)
    return it.verdicts, it.linked, it.told.assign(in_force=it.linked.in_force)


def reading(*readings: dict[str, Any], number: int = 0, job: Job | None = None, given: Any = None, **more: Any) -> Any:
    """One of the readings of one link, judged; `more` are facts of the record."""
    return ask_pairs(pair_link(*readings, **more), job=job, **(given or {})).told.iloc[number]


def link_of(*rows: dict[str, Any], **more: Any) -> Any:
    """The first link."""
    return ask_pairs(*rows, **more).linked.links.iloc[0]
