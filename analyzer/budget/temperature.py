"""Cable temperature: what it does to insertion loss, resistance and to the length that may be laid.

Limits hold at 20 °C. Only where the job asks for it ([rules] correct_to_20_c) the limits of a test that states its
temperature are moved to that temperature, and the reason says so. The coefficients are rows of copper_cable.csv:
insertion loss by TIA-568-C.2 clause 6.4.7 as public mail of IEEE 802.3 quotes it, resistance by IEC 60028.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from analyzer.budget.overlay import add_to_reasons
from analyzer.budget.pair_limits import LENGTH, PairLimits, PairOrder
from analyzer.standards import Values
from analyzer.standards.lines import LimitLine

REFERENCE_C = 20.0

_LOSS = "temperature coefficient of insertion loss"
_RESISTANCE = "temperature coefficient of copper resistance"
_KINDS = {True: ("screened",), False: ("unscreened",), None: ("screened", "unscreened")}


def loss_factors(temperature_c: np.ndarray, values: Values, *, screened: bool | None) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest factor by which insertion loss at some temperatures [°C] is more than at 20 °C.

    They differ only where nothing says whether the cabling is screened. Each degree counts with the coefficient of its
    range; NaN below 20 °C and beyond the last range, where no source gives a coefficient.
    """
    factors = [_loss_factor(np.asarray(temperature_c, dtype=float), kind, values) for kind in _KINDS[screened]]
    return np.minimum.reduce(factors), np.maximum.reduce(factors)


def _loss_factor(temperature_c: np.ndarray, kind: str, values: Values) -> np.ndarray:
    ranges = [
        (row["low_c"], row["high_c"], row["value"] / 100)
        for row in values.rows("copper_cable")
        if row["property"] == _LOSS and row["applies_to"] == kind and not row["evidence"]
    ]
    factor = np.ones_like(temperature_c)
    for low, high, share in ranges:
        factor = factor + share * np.clip(temperature_c - low, 0.0, high - low)
    inside = (temperature_c >= REFERENCE_C) & (temperature_c <= max(high for _, high, _ in ranges))
    return np.where(inside, factor, np.nan)


def resistance_factor(temperature_c: np.ndarray, values: Values) -> np.ndarray:
    """Factor by which the resistance of copper at some temperatures [°C] is more than at 20 °C."""
    row = next(row for row in values.rows("copper_cable") if row["property"] == _RESISTANCE)
    factor: np.ndarray = 1 + row["value"] / 100 * (np.asarray(temperature_c, dtype=float) - row["low_c"])
    return factor


@dataclass(frozen=True, eq=False)
class WarmLine(LimitLine):
    """A limit moved to another temperature than 20 °C: `factor` times what the standard has."""

    factor: float = 1.0

    def at(self, frequency_mhz: Any = None, *, r_loop_ohm: Any = None, r_pairs_ohm: Any = None) -> Any:
        """The moved limit; see `LimitLine.at`."""
        return super().at(frequency_mhz, r_loop_ohm=r_loop_ohm, r_pairs_ohm=r_pairs_ohm) * self.factor


@dataclass(frozen=True)
class WarmLimits(PairLimits):
    """Limits of every record, those of insertion loss, length and loop resistance moved to its temperature."""

    temperature_c: np.ndarray
    """Temperature of each record [°C], m numbers; NaN leaves its limits where they are."""
    screened: bool | None = None

    def lines(self, at: int, parameter: str) -> tuple[LimitLine, ...]:
        """Every line that may be the limit of this record's parameter."""
        lines = super().lines(at, parameter)
        factor = self.factors.get(parameter)
        if factor is None or not np.isfinite(factor[at]) or factor[at] == 1.0:
            return lines
        key = ("warm", int(self.order_numbers[at]), parameter)
        if key not in self._known:
            self._known[key] = tuple(_warm(line, float(factor[at])) for line in lines)
        return self._known[key]

    @cached_property
    def factors(self) -> dict[str, np.ndarray]:
        """By how much the limits of each record move, m numbers for each parameter; NaN: no source, or none stated."""
        least, greatest = loss_factors(self.temperature_c, self.values, screened=self.screened)
        # where nothing says whether the cabling is screened, the stricter of both holds
        return {
            "insertion loss": least,
            LENGTH: 1 / greatest,
            "loop resistance": resistance_factor(self.temperature_c, self.values),
        }

    @cached_property
    def _distinct(self) -> tuple[list[PairOrder], np.ndarray]:
        """Records of one order and one temperature share their limits."""
        plain = PairLimits(self.facts, self.job, self.values)
        both = pd.DataFrame({"order": plain.order_numbers, "degrees": self.temperature_c})
        finer = both.groupby(["order", "degrees"], sort=False, dropna=False).ngroup().to_numpy()
        return [plain.orders[one] for one in both.drop_duplicates()["order"]], finer


def _warm(line: LimitLine, factor: float) -> WarmLine:
    return WarmLine(**{one.name: getattr(line, one.name) for one in fields(line)}, factor=factor)


def tell_temperature(
    judged: pd.DataFrame, reasons: pd.DataFrame, readings: pd.DataFrame, limits: WarmLimits
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Say in the reason of every reading whose limit was moved by how much it was; and where it could not be."""
    record = readings["record"].to_numpy()
    texts = np.full(len(readings), "", dtype=object)
    for parameter, factor in limits.factors.items():
        here = (readings["parameter"] == parameter).to_numpy() & np.isfinite(limits.temperature_c[record])
        moved = np.where(here, factor[record], np.nan)
        degrees = np.char.mod("%g", limits.temperature_c[record]).astype(object)
        words = "limit moved from 20 °C to " + degrees + " °C: " + np.char.mod("%.4g", moved).astype(object) + " times, " + _SAYS[parameter]  # fmt: skip
        texts = np.where(np.isfinite(moved) & (moved != 1.0), words, texts)
        unsourced = here & np.isnan(moved)
        texts = np.where(unsourced, "no coefficient is sourced for " + degrees + " °C: the limit of 20 °C holds", texts)
    return add_to_reasons(judged, reasons, texts)


_SAYS = {
    "insertion loss": "TIA-568-C.2 clause 6.4.7 as quoted",
    LENGTH: "the inverse of what insertion loss rises, TIA-568-C.2 clause 6.4.7 as quoted",
    "loop resistance": "0.393 % a degree, IEC 60028",
}
