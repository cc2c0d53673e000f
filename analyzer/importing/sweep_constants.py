"""What stands in every row of a sweep and is no curve: length, resistance. It must be the same in all rows of a link."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd

from analyzer.importing.columns import Use
from analyzer.importing.grid import CellColumn
from analyzer.importing.parsed import PROBLEMS, Parsed, category_codes, factors, unit_inside
from analyzer.importing.words import plain, units
from analyzer.schema import CATEGORIES

OF_THE_LINK = frozenset({"loop resistance", "resistance unbalance"})
"""Parameters without a frequency: in a sweep they are repeated in every row."""
_VARIES = "varies-in-sweep"


def fact_once(column: CellColumn, rows: np.ndarray, record_of: np.ndarray) -> tuple[CellColumn, np.ndarray]:
    """A fact column with what the first filled row of a record says in all its rows, nothing where others differ.

    Args:
        column: the column.
        rows: data rows, as positions in the sheet.
        record_of: record of each data row; -1 where none is named.

    Returns:
        The column, and the data rows whose cells contradict each other.
    """
    codes = column.codes[rows]
    at = np.flatnonzero((codes != 0) & (record_of >= 0))
    if not len(at):
        return column, at
    records, first = np.unique(record_of[at], return_index=True)
    said = np.zeros(int(record_of.max()) + 1, dtype=codes.dtype)
    said[records] = codes[at[first]]
    differs = np.zeros(len(said), dtype=bool)
    differs[record_of[at[codes[at] != said[record_of[at]]]]] = True
    said[differs] = 0
    out = column.codes.copy()
    out[rows] = np.where(record_of >= 0, said[record_of], codes)
    return replace(column, codes=out), at[differs[record_of[at]]]


def constants_of(
    use: Use, column: CellColumn, parsed: Parsed, rows: np.ndarray, record_of: np.ndarray
) -> tuple[pd.DataFrame, dict[str, np.ndarray], int]:
    """Readings of a column that says the same in every row of a record: one for each record.

    Args:
        use: the column.
        column: its cells.
        parsed: its cells at the data rows.
        rows: data rows, as positions in the sheet.
        record_of: record of each data row; -1 where none is named.

    Returns:
        Readings with `line` (position in the sheet), not yet its place; data rows to be set aside by their code; how
        many cells were read: those of a record that repeat its first are one with it.
    """
    inside = unit_inside(use.parameter)
    default = units().get(plain(use.unit or column.unit), use.unit or column.unit) or inside
    value = parsed.value * factors(parsed.unit, default, inside)
    problem = np.where((parsed.problem == 0) & np.isnan(value), PROBLEMS.index("wrong-unit"), parsed.problem)
    problem = np.where(record_of < 0, PROBLEMS.index("no-label-cell"), problem)
    aside = {
        PROBLEMS[code]: np.flatnonzero(parsed.filled & (problem == code))
        for code in np.unique(problem[parsed.filled]).tolist()
        if code
    }
    good = np.flatnonzero(parsed.filled & (problem == 0))
    records, first, group = np.unique(record_of[good], return_index=True, return_inverse=True)
    same = (value[good] == value[good[first]][group]) & (parsed.bound[good] == parsed.bound[good[first]][group])
    varies = np.bincount(group, ~same, minlength=len(records)) > 0
    if varies.any():
        aside[_VARIES] = good[varies[group]]
    kept, at = records[~varies], good[first[~varies]]
    size = len(kept)
    pair = category_codes("pair", [use.pair])[0]
    frame = pd.DataFrame(
        {
            "record": kept, "line": rows[at], "parameter": np.full(size, CATEGORIES["parameter"].index(use.parameter)),
            "wavelength_nm": np.full(size, -1), "pair": np.full(size, pair), "end": np.full(size, -1),
            "direction": np.full(size, -1), "frequency_mhz": np.full(size, math.nan), "value": value[at] + 0.0,
            "bound": parsed.bound[at], "decimals": parsed.decimals[at], "declared_limit": np.full(size, math.nan),
            "declared_margin": np.full(size, math.nan), "declared_verdict": np.full(size, -1),
            "worst": np.full(size, use.worst),
        }
    )  # fmt: skip
    return frame, aside, size + sum(map(len, aside.values()))
