"""The tables of all files under each other, with ids that are unique over all of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.one_file import FileVerdicts
from analyzer.importing import Imported


@dataclass(frozen=True)
class FileResult:
    """Small tables of one file; ids start at 0."""

    imported: Imported
    verdicts: FileVerdicts


_IDS = {
    "blocks": ("block",), "columns": ("block",), "records": ("record", "block"), "facts": ("record",),
    "readings": ("reading", "record", "block"), "curves": ("curve", "record", "block", "reading", "picture", "sketch"),
    "judged": ("reading", "limit_id", "reason"), "limits": ("limit_id",), "reasons": ("reason",),
    "events": ("event", "record", "block"),
}  # fmt: skip
"""Columns of each table that are numbers unique over all files; the number of the file is set apart."""


def stack(
    files: list[dict[str, Any]], results: list[FileResult | None]
) -> tuple[dict[str, pd.DataFrame], pd.DataFrame, np.ndarray, np.ndarray]:
    """Every table under each other, ids shifted to be unique over all files; seeds; pictures and sketches of curves."""
    by_name = sorted(range(len(files)), key=lambda place: files[place]["name"])
    read = [(number, result) for number in by_name if (result := results[number])]
    numbers = np.array([number for number, _ in read])
    parts = [_tables_of(result) for _, result in read]
    counts = [{key: len(tables[name]) for key, name in _COUNTED.items()} for tables in parts]
    for count, (_, result) in zip(counts, read, strict=True):
        count |= {"picture": len(result.verdicts.pictures), "sketch": len(result.verdicts.sketches)}
    first = {key: np.cumsum([0, *(count[key] for count in counts)])[:-1] for key in counts[0]}
    stacked = {"files": pd.DataFrame([row | {"file": number} for number, row in enumerate(files)])}
    for name in parts[0]:
        whole = pd.concat([tables[name] for tables in parts], ignore_index=True)
        rows = [len(tables[name]) for tables in parts]
        if "file" in whole or name == "records":
            whole["file"] = np.repeat(numbers, rows)
        for key in _IDS.get(name, ()):
            whole[key] = _shifted(whole[key], np.repeat(first[key], rows))
        stacked[name] = whole
    pictures = np.concatenate([schema.empty_pictures(), *(result.verdicts.pictures for _, result in read)])
    sketches = np.concatenate([schema.empty_sketches(), *(result.verdicts.sketches for _, result in read)])
    return stacked, _stacked_seeds([result for _, result in read], first["record"]), pictures, sketches


_COUNTED = {
    "block": "blocks", "record": "records", "reading": "readings", "curve": "curves", "limit_id": "limits",
    "reason": "reasons", "event": "events",
}  # fmt: skip
"""The table whose rows each id counts; pictures and sketches are no tables."""


def _tables_of(result: FileResult) -> dict[str, pd.DataFrame]:
    own, verdicts = result.imported, result.verdicts
    return {
        "blocks": own.blocks, "columns": own.columns, "records": verdicts.records, "facts": verdicts.facts,
        "readings": verdicts.readings, "curves": verdicts.curves, "judged": verdicts.judged, "limits": verdicts.limits,
        "reasons": verdicts.reasons, "set_aside": own.set_aside, "events": own.events,
    }  # fmt: skip


def _shifted(ids: pd.Series, by: np.ndarray) -> np.ndarray:
    """Ids moved up; a missing one, -1, stays."""
    old = ids.to_numpy()
    return np.where(old < 0, old, old + by).astype(old.dtype)


def _stacked_seeds(results: Sequence[FileResult], first_record: np.ndarray) -> pd.DataFrame:
    """Seeds of all files; those that speak of no record begin with the name of their file."""
    parts = [(result.imported.seeds, result.verdicts.seeds) for result in results]
    rows = [sum(map(len, both)) for both in parts]
    seeds = pd.concat([seed for both in parts for seed in both], ignore_index=True)
    names = pd.Series([result.imported.file["name"] for result in results], dtype="str")
    named = names.repeat(rows).reset_index(drop=True) + ": " + seeds["text"]
    seeds["text"] = seeds["text"].where(seeds["record"] >= 0, named)
    seeds["record"] = _shifted(seeds["record"], np.repeat(first_record, rows))
    return seeds
