"""Why curves were judged as they were: causes of reasons.csv, with the words of each curve put in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.reasons import causes
from analyzer.points import wide_steps
from analyzer.standards.lines import EDGE_TOLERANCE, LimitLine

SAID = (
    "curve-outside", "curve-incomplete", "curve-damaged", "exemption-unknown", "all-exempt",
    "exempt-points", "few-points", "computed-curve", "judged-as-ratio", "disturbed-pair-open",
)  # fmt: skip
"""Causes of reasons.csv that only curves have."""

FEW_POINTS = 30
"""A curve judged at fewer points says so (own choice): testers sweep some hundreds."""
GAP = 10.0
"""A step so many times wider than those around it is a gap in the sweep (own choice): nothing is guessed across it."""

_Item = tuple[str, tuple[tuple[str, str], ...]]


class Reasons:
    """What is said of each of some curves; equal reasons are held once."""

    def __init__(self, size: int) -> None:
        self.number = np.full(size, -1, dtype=np.int32)
        """Of each curve: its reason in `table`; -1 where nothing is said."""
        self._held: dict[frozenset[_Item], int] = {}

    def say(self, rows: np.ndarray, code: str, **words: str) -> None:
        """Add a cause to what is said of some curves; `words` stand for the braces of its text."""
        items = list(self._held)
        for before in np.unique(self.number[rows]).tolist() if len(rows) else []:
            said = (items[before] if before >= 0 else frozenset()) | {(code, tuple(sorted(words.items())))}
            here = rows[self.number[rows] == before]
            self.number[here] = self._held.setdefault(said, len(self._held))

    def table(self) -> pd.DataFrame:
        """Schema `reasons`: the code of the first cause in the order of reasons.csv, the texts of all."""
        order = {code: place for place, code in enumerate(causes())}
        rows = []
        for number, said in enumerate(self._held):
            ordered = sorted(said, key=lambda item: (order[item[0]], item[1]))
            known = [(causes()[code], dict(words)) for code, words in ordered]
            text = "; ".join(cause.text.format(**words) for cause, words in known)
            mend = "; ".join(dict.fromkeys(cause.mend.format(**words) for cause, words in known if cause.mend))
            rows.append((number, ordered[0][0], text, mend))
        return schema.conform("reasons", pd.DataFrame(rows, columns=["reason", "code", "text", "mend"]))


def ends_mhz(lines: Sequence[LimitLine], grid: np.ndarray) -> tuple[float, float]:
    """First and last frequency [MHz] of what may be the limit; of the grid where nothing but own limits hold."""
    if not lines:
        return float(grid[0]), float(grid[-1])
    return min(line.freq_min_mhz for line in lines), max(line.freq_max_mhz for line in lines)


def range_of(lines: Sequence[LimitLine], grid: np.ndarray) -> str:
    """The range of a limit in words: "1 to 500 MHz"."""
    first, last = ends_mhz(lines, grid)
    return f"{first:g} to {last:g} MHz"


def what_is_short(lines: Sequence[LimitLine], grid: np.ndarray, late_start_share: float) -> str:
    """Where a grid [MHz] begins late, stops short of the range of its limit or has a gap; empty where it covers it."""
    first, top = ends_mhz(lines, grid)
    said = []
    if grid[0] > first * (1 + max(late_start_share, EDGE_TOLERANCE)):
        said.append(f"begins at {grid[0]:g} MHz, and {lines[0].grade} begins at {first:g} MHz")
    if grid[-1] < top * (1 - EDGE_TOLERANCE):
        said.append(f"stops at {grid[-1]:g} MHz, and {lines[0].grade} goes to {top:g} MHz")
    inside = grid[(grid >= first * (1 - EDGE_TOLERANCE)) & (grid <= top * (1 + EDGE_TOLERANCE))]
    gaps = np.flatnonzero(wide_steps(inside, GAP))
    said += [f"has no point between {inside[at]:g} and {inside[at + 1]:g} MHz" for at in gaps[:3]]
    return "the curve " + "; it ".join(said) if said else ""


def exemption_words(exemptions: Sequence[Any]) -> str:
    """Rules of exemption by their names, with what they look at: "… (insertion loss below 3 dB)"."""
    return " and ".join(
        f"{rule['setting']} ({rule['partner']} {rule['side']} {rule['threshold']:g} {rule['threshold_unit']})"
        for rule in exemptions
    )
