"""Scalar readings that stand beside a curve of the same thing: the curve decides, the scalar is compared with it.

A tester prints the worst point of a sweep, and many exports carry both. The scalar is then no test of its own: it
neither supersedes the curve nor counts a second time. Where it is neither the worst margin nor the worst value of the
curve, export and curve contradict each other, and that is told.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.retests import SEVERITY

_SAME = ["link", "parameter", "pair", "end", "configuration"]
_UNKNOWN_DIGITS_DB = 0.1
"""How far apart values of unknown digits may lie: one step of the coarsest print in use; own choice."""


@dataclass(frozen=True)
class Beside:
    """For each of n readings whether it stands beside a curve that decides; and what is told of those that differ."""

    mask: np.ndarray
    differs: pd.DataFrame
    """record, text"""


def beside_curves(tests: pd.DataFrame, readings: pd.DataFrame, judged: pd.DataFrame) -> Beside:
    """Find them.

    Args:
        tests: one row per reading, as `retests.tests_of` makes them.
        readings: schema `readings`, same order.
        judged: schema `judged`, same order.
    """
    mask = np.zeros(len(tests), dtype=bool)
    is_curve = (judged["basis"] == "curve").to_numpy()
    # a curve that could not be judged decides nothing, unless it is for information only
    decides = is_curve & ((tests["severity"] != SEVERITY["not judged"]) | ~tests["counts"]).to_numpy()
    if not decides.any():
        return Beside(mask, pd.DataFrame({"record": [], "text": []}))
    curves = _compared(tests, readings, judged, np.flatnonzero(decides))
    scalars = _compared(tests, readings, judged, np.flatnonzero(~is_curve & (tests["parameter"] >= 0).to_numpy()))
    both = scalars.merge(curves, on=_SAME, suffixes=("", "_curve"))
    one_time = (
        both["tested_at"].isna() | both["tested_at_curve"].isna() | (both["tested_at"] == both["tested_at_curve"])
    )
    both = both[one_time].sort_values(["order", "margin_curve"], kind="stable").drop_duplicates("order")
    mask[both["order"].to_numpy()] = True
    return Beside(mask, _told(both))


def _compared(tests: pd.DataFrame, readings: pd.DataFrame, judged: pd.DataFrame, at: np.ndarray) -> pd.DataFrame:
    rows = tests.iloc[at][[*_SAME, "record", "tested_at", "order", "value", "bound", "margin"]]
    return rows.assign(
        decimals=readings["decimals"].to_numpy()[at], declared_margin=readings["declared_margin"].to_numpy()[at],
        worst_value=judged["worst_value"].to_numpy()[at],
    ).reset_index(drop=True)  # fmt: skip


def _told(both: pd.DataFrame) -> pd.DataFrame:
    """Scalars that are neither the worst margin nor the worst value of their curve."""
    digits = both["decimals"].to_numpy(dtype=np.float64)
    within = np.where(digits >= 0, 10.0**-digits, _UNKNOWN_DIGITS_DB) + 1e-9
    pairs = (("value", "value_curve"), ("value", "worst_value_curve"), ("declared_margin", "margin_curve"))
    apart = np.stack([(both[one] - both[other]).abs().to_numpy() for one, other in pairs])
    known = ~np.isnan(apart)
    differs = known.any(axis=0) & ~(known & (apart <= within)).any(axis=0) & (both["bound"] < 0).to_numpy()
    rows = both[differs]
    return pd.DataFrame({"record": rows["record"], "text": _sentences(rows)})


def _sentences(rows: pd.DataFrame) -> list[str]:
    names, pairs, ends = (np.asarray([*schema.CATEGORIES[name], ""], object) for name in ("parameter", "pair", "end"))
    units = [schema.UNIT_OF_PARAMETER.get(name, "dB") for name in names[rows["parameter"]]]
    columns = ("value", "declared_margin", "value_curve", "margin_curve")
    numbers = zip(*(rows[name] for name in columns), strict=True)
    what = zip(names[rows["parameter"]], pairs[rows["pair"]], ends[rows["end"]], units, numbers, strict=True)
    return [
        f"worst points of the export that are not those of its curves: {_name(name, pair, end)}: "
        f"{_both(value, margin, unit)} by the export, {_both(own_value, own_margin, unit)} by the curve, which decides"
        for name, pair, end, unit, (value, margin, own_value, own_margin) in what
    ]


def _name(parameter: str, pair: str, end: str) -> str:
    return " ".join(part for part in (parameter, pair, f"end {end}" if end else "") if part)


def _both(value: float, margin: float, unit: str) -> str:
    said = [f"{value:.2f} {unit}"] if not np.isnan(value) else []
    return ", ".join([*said, *([f"margin {margin:.2f} {unit}"] if not np.isnan(margin) else [])])
