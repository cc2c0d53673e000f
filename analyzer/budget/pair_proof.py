"""What readings of twisted pair prove: the margin that they have at least, and the one that they have at most.

A single number out of a sweep is the worst point of the limit that the tester had loaded; see `pair_loaded`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.budget.curve_points import ZERO_MARGIN
from analyzer.budget.pair_limits import PairLimits
from analyzer.budget.pair_loaded import OTHER, UNNAMED, Loaded, gap, relation
from analyzer.budget.pair_met import SWEPT, Columns
from analyzer.budget.pair_sides import Sides, sides_of
from analyzer.standards.lines import LimitLine

BASES = ("value", "worst point", "declared margin", "declared verdict")
VALUE, WORST_POINT, DECLARED_MARGIN, DECLARED_VERDICT = range(4)

_POINTS_OF_A_WORST = 2
"""A sweep has two worst points, that of the margin and that of the value; more points of one test are a table."""


@dataclass
class Proof:
    """What k readings prove: the margin that they have at least, and the one that they have at most."""

    met: Columns
    sides: Sides
    lines: Sequence[LimitLine]
    own: Sequence[LimitLine]
    parameter: str
    limits: PairLimits
    loaded: Sequence[Loaded]

    def work_out(self) -> Columns:
        """`least`, `most` (margins, NaN where nothing is proved), `basis`, `relation`, `own`, and marks of causes."""
        met, sides = self.met, self.sides
        value, mhz = met["value"], met["frequency_mhz"]
        least, most = sides.sign * (value - sides.strict), sides.sign * (value - sides.generous)
        swept = self.parameter in SWEPT
        worst = swept & (met["points"] <= _POINTS_OF_A_WORST)
        relations = self._relations()
        stated = (np.isnan(value) & (met["bound"] < 0)) | (np.isnan(mhz) & sides.needs_frequency)
        margin = self._declared_margin()
        by_margin = stated & ~np.isnan(margin) & swept & (relations != UNNAMED)
        nothing = np.zeros(len(value), dtype=bool)
        proof = {
            "relation": relations,
            "basis": np.select([by_margin, worst], [DECLARED_MARGIN, WORST_POINT], VALUE),
            "lone_margin": np.isnan(value) & ~np.isnan(margin) & ~by_margin,
            "bounded_by_loaded": nothing, "another_limit": nothing, "own": np.full(len(value), -1),
        }  # fmt: skip
        least, most = np.where(by_margin, margin, least), np.where(by_margin, margin, most)
        if swept and (relations == OTHER).any():
            least, most = self._against_another(proof, least, most, margin, by_margin)
        if self.own:
            least, most = self._with_own(proof, least, most, margin)
        return proof | {"least": _zero(least), "most": _zero(most)}

    def _with_own(
        self, proof: Columns, least: np.ndarray, most: np.ndarray, margin: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """The stricter of the standard's limit and the owner's own decides."""
        at_point = self._own(self.met["value"])
        proven = self._own_proven(proof, at_point, margin)
        fails = at_point.min(axis=0) < -ZERO_MARGIN
        decisive = np.where(fails, at_point.argmin(axis=0), proven.argmin(axis=0))
        decides = np.where(fails, ~(most <= at_point.min(axis=0)), ~(least <= proven.min(axis=0)))
        proof["own"] = np.where(decides, decisive, -1)
        unknown = np.isnan(least) & bool(self.lines)
        least = np.where(unknown, np.nan, np.fmin(least, proven.min(axis=0)))
        return least, np.fmin(most, at_point.min(axis=0))

    def _relations(self) -> np.ndarray:
        distinct, codes = np.unique(self.met["loaded"], return_inverse=True)
        ordered = self.limits.order_of(int(self.met["record"][0]))
        found = [
            relation(self.loaded[number], self.lines, self._lines_loaded(number), ordered) for number in distinct
        ]  # fmt: skip
        return np.array(found)[codes]

    def _lines_loaded(self, number: int) -> Sequence[LimitLine]:
        one = self.loaded[number]
        return self.limits.lines_of(one.order, self.parameter) if one.known else ()

    def _declared_margin(self) -> np.ndarray:
        """Margin to the loaded limit: as printed, else from the limit that is printed."""
        met = self.met
        by_limit = self.sides.sign * (met["value"] - met["declared_limit"])
        return np.where(np.isnan(met["declared_margin"]), by_limit, met["declared_margin"])

    def _against_another(
        self, proof: Columns, least: np.ndarray, most: np.ndarray, margin: np.ndarray, by_margin: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """A worst point of another limit: a fail stands where the point itself fails, a pass only where it is bounded."""
        other = (proof["relation"] == OTHER) & (proof["basis"] != VALUE)
        for number in np.unique(self.met["loaded"][other]):
            rows = other & (self.met["loaded"] == number)
            loaded = self._lines_loaded(int(number))
            between = gap(loaded, self.lines)
            to_loaded = np.where(np.isnan(margin), self._to(loaded), margin)
            bounded = to_loaded + between.least
            holds = bounded >= -ZERO_MARGIN
            proof["another_limit"] = proof["another_limit"] | (rows & ~holds & ~(most < -ZERO_MARGIN))
            proof["bounded_by_loaded"] = proof["bounded_by_loaded"] | (rows & holds)
            least = np.where(rows, bounded, least)
            most = np.where(rows & by_margin, to_loaded + between.greatest, most)
        return least, most

    def _to(self, lines: Sequence[LimitLine]) -> np.ndarray:
        """Least margin of the value to some lines at its own frequency."""
        value = self.met["value"]
        sides = sides_of(lines, self.met["frequency_mhz"], value * np.nan)
        margin: np.ndarray = sides.sign * (value - sides.strict)
        return margin

    def _own(self, value: np.ndarray) -> np.ndarray:
        """Margin to each of the owner's own limits, a row for each."""
        return np.array([(1.0 if line.sense == "min" else -1.0) * (value - line.at()) for line in self.own])

    def _own_proven(self, proof: Columns, own: np.ndarray, margin: np.ndarray) -> np.ndarray:
        """Margin to each own limit that is proven.

        It is another limit than the loaded one, so a worst point of a sweep bounds it by the margin to that one.
        """
        proven = own.copy()
        worst, other = proof["basis"] != VALUE, proof["relation"] == OTHER
        for number in np.unique(self.met["loaded"]) if self.parameter in SWEPT else ():
            rows = (self.met["loaded"] == number) & worst
            for part, lines in ((rows & ~other, self.lines), (rows & other, self._lines_loaded(int(number)))):
                if part.any():
                    to_lines = np.where(np.isnan(margin), self._to(lines), margin)
                    bounds = np.array([to_lines + gap(lines, (line,)).least for line in self.own])
                    proven = np.where(part, np.where(np.isnan(bounds), -np.inf, bounds), proven)
        return proven


def _zero(margin: np.ndarray) -> np.ndarray:
    return np.where(np.abs(margin) <= ZERO_MARGIN, 0.0, margin)
