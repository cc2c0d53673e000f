"""The points of many curves on one grid at a time: worst margins, worst values, and the points that are exempt."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from analyzer.budget.curve_sums import Losses
from analyzer.points import Points

ZERO_MARGIN = 1e-9
"""A margin this small either way is none: it is float noise, and passes."""


GENEROUS = {
    "margin": "generous_margin", "frequency_mhz": "generous_mhz", "value": "generous_value", "limit": "generous_limit",
}  # fmt: skip
"""What is shown of the worst margin, and the same of the worst margin to the most generous limit."""


class Worst:
    """Worst margins and worst values of curves on one grid, all the rows of a table at once."""

    def __init__(self, grid: np.ndarray, ceiling: bool) -> None:
        self.grid, self.ceiling = grid, ceiling
        self.buffer = np.empty(0)

    def margins(self, value: np.ndarray, limit: np.ndarray, exempt: np.ndarray | None) -> np.ndarray:
        """Margin at every point, positive on the good side; infinite where the point is exempt."""
        if self.buffer.shape != value.shape:
            self.buffer = np.empty(value.shape)
        if self.ceiling:
            np.subtract(limit, value, out=self.buffer)
        else:
            np.subtract(value, limit, out=self.buffer)
        if exempt is not None:
            np.putmask(self.buffer, exempt, np.inf)
        return self.buffer

    def put(
        self,
        shown: dict[str, np.ndarray],
        part: np.ndarray,
        value: np.ndarray,
        limit: np.ndarray,
        exempt: np.ndarray | None = None,
    ) -> np.ndarray:
        """Write worst margin and worst value of some rows; returns how many points of each are no number."""
        margin = self.margins(value, limit, exempt)
        at = margin.argmin(axis=1)
        extreme = value.argmax(axis=1) if self.ceiling else value.argmin(axis=1)
        line = np.arange(len(value))
        least = margin[line, at]
        nans = np.zeros(len(value), dtype=np.int64)
        broken = np.flatnonzero(np.isnan(value[line, extreme]))
        if len(broken):
            nans[broken] = np.isnan(value[broken]).sum(axis=1)
            filled = np.where(np.isnan(margin[broken]), np.inf, margin[broken])
            at[broken] = filled.argmin(axis=1)
            least[broken] = filled[np.arange(len(broken)), at[broken]]
            bad_end = -np.inf if self.ceiling else np.inf
            known = np.where(np.isnan(value[broken]), bad_end, value[broken])
            extreme[broken] = known.argmax(axis=1) if self.ceiling else known.argmin(axis=1)
        least = np.where(np.abs(least) <= ZERO_MARGIN, 0.0, least)
        for name, numbers in (
            ("frequency_mhz", self.grid[at]), ("value", value[line, at]), ("limit", limit[at]), ("margin", least),
            ("worst_value", value[line, extreme]), ("worst_value_mhz", self.grid[extreme]),
        ):  # fmt: skip
            shown[name][part] = numbers
        for name, generous in GENEROUS.items():
            shown[generous][part] = shown[name][part]
        return nans

    def put_generous(
        self, shown: dict[str, np.ndarray], part: np.ndarray, value: np.ndarray, limits: list[np.ndarray],
        exempt: np.ndarray | None,
    ) -> None:  # fmt: skip
        """Write the worst margin to the most generous of several limits."""
        line = np.arange(len(value))
        best = np.full(len(value), -np.inf)
        for limit in limits:
            margin = self.margins(value, limit, exempt)
            margin = np.where(np.isnan(margin), np.inf, margin)
            at = margin.argmin(axis=1)
            least = margin[line, at]
            better = np.flatnonzero(least > best)
            best[better] = least[better]
            at = at[better]
            for name, numbers in (
                ("generous_mhz", self.grid[at]), ("generous_value", value[better, at]), ("generous_limit", limit[at]),
            ):  # fmt: skip
                shown[name][part[better]] = numbers
        shown["generous_margin"][part] = np.where(np.abs(best) <= ZERO_MARGIN, 0.0, best)


class Exemptions:
    """Which points of a group are exempt, and which curves lack the partner that would tell."""

    def __init__(
        self, exemptions: tuple[Any, ...], table: pd.DataFrame, losses: Losses, points: Points, rows: np.ndarray
    ) -> None:
        self.exemptions, self.points = exemptions, points
        self.unknown: np.ndarray = np.zeros(len(rows), dtype=bool)
        if exemptions:
            self.partner = losses.rows(*(table[name].to_numpy()[rows] for name in ("set", "pair", "grid")))
            self.unknown = np.asarray((self.partner < 0).any(axis=1))

    def hits(self, part: np.ndarray, grid: np.ndarray, shown: dict[str, np.ndarray]) -> np.ndarray:
        """Whether the worst point of each of some rows is exempt; where none is, no exemption changes anything."""
        out = np.zeros(len(part), dtype=bool)
        known = np.flatnonzero(~self.unknown[part]) if self.exemptions else part[:0]
        if len(known):
            rows = part[known]
            at = np.searchsorted(grid, shown["frequency_mhz"][rows])
            first, second = (self.points.value[self.points.offset[self.partner[rows, side]] + at] for side in (0, 1))
            out[known] = self._exempt(shown["value"][rows], first, second)
        return out

    def of(self, part: np.ndarray, value: np.ndarray, span: Any) -> np.ndarray | None:
        """Mask of exempt points of some rows, shape of `value`; None where no rule holds."""
        if not self.exemptions:
            return None
        out = np.zeros(value.shape, dtype=bool)
        known = np.flatnonzero(~self.unknown[part])
        if len(known):
            partner = self.partner[part[known]]
            first, second = (self.points.rows(partner[:, side])[:, span] for side in (0, 1))
            out[known] = self._exempt(value[known], first, second)
        return out

    def _exempt(self, value: np.ndarray, first: np.ndarray, second: np.ndarray) -> np.ndarray:
        """The rules at some points, given the insertion loss of both pairs [dB]; a missing number exempts nothing.

        A combination counts as losing little where both its pairs do; crosstalk at the far end is reckoned with the
        pair that loses less.
        """
        out = np.zeros(value.shape, dtype=bool)
        for rule in self.exemptions:
            threshold = float(rule["threshold"])
            below = rule["side"] == "below"
            own = 0.0 if rule["partner"] == "insertion loss" else value
            partner = own + (np.maximum(first, second) if below else np.minimum(first, second))
            out |= partner < threshold if below else partner > threshold
        return out


def is_mask(row: Any) -> bool:
    """Whether a row of the exemptions takes single points out of the verdict (others end a limit)."""
    return row["rule"] == "reading is for information" and row["partner"] in _PARTNERS


_PARTNERS = ("insertion loss", "FEXT loss", "power sum FEXT loss")
