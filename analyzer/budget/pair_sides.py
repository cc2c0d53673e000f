"""The strictest and the most generous limit of each reading, and what is open between the two."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer import schema
from analyzer.budget.pair_loaded import OTHER
from analyzer.budget.pair_met import Columns
from analyzer.budget.pair_open import what_is_open
from analyzer.standards.lines import LimitLine


@dataclass(frozen=True)
class Sides:
    """Strictest and most generous limit of each of k readings, and which line each is; -1 and NaN where none."""

    sense: str
    strict: np.ndarray
    generous: np.ndarray
    strict_line: np.ndarray
    generous_line: np.ndarray
    needs_frequency: bool

    @property
    def sign(self) -> float:
        """1 for a floor, -1 for a ceiling: margin = sign * (value - limit)."""
        return 1.0 if self.sense == "min" else -1.0


def sides_of(lines: Sequence[LimitLine], mhz: np.ndarray, loop_ohm: np.ndarray) -> Sides:
    """The limits of readings at their frequencies; at the ends of the band where no frequency is stated."""
    nothing = np.full(len(mhz), np.nan)
    if not lines:
        return Sides("max", nothing, nothing, np.full(len(mhz), -1), np.full(len(mhz), -1), needs_frequency=False)
    strict, generous = (np.empty((len(lines), len(mhz))) for _ in range(2))
    varies = [not line.is_dc and ("f" in line.names or len({row["expression"] for row in line.rows}) > 1) for line in lines]  # fmt: skip
    for number, (line, by_frequency) in enumerate(zip(lines, varies, strict=True)):
        if line.is_dc:
            strict[number] = generous[number] = line.at(mhz, r_loop_ohm=loop_ohm)
        elif by_frequency:
            values, (low, high) = line.at(mhz), line.extremes()
            strict[number] = np.where(np.isnan(mhz), low, values)
            generous[number] = np.where(np.isnan(mhz), high, values)
        else:
            strict[number] = generous[number] = line.at()
    sense = lines[0].sense
    sign = 1.0 if sense == "min" else -1.0
    nowhere = np.isnan(strict).all(axis=0)
    most = np.where(np.isnan(strict), -np.inf, sign * strict).argmax(axis=0)
    least = np.where(np.isnan(generous), np.inf, sign * generous).argmin(axis=0)
    column = np.arange(len(mhz))
    return Sides(
        sense, strict[most, column], generous[least, column], np.where(nowhere, -1, most),
        np.where(nowhere, -1, least), needs_frequency=any(varies),
    )  # fmt: skip


AS_PRINTED = 0.1
"""How far a limit that the export prints may lie from ours [dB; ns and ohm ten times that]: rounding of both columns."""


def printed_differs(met: Columns, sides: Sides, relation: np.ndarray, parameter: str) -> np.ndarray:
    """How far the printed limit lies outside of all that ours may be [unit of the parameter]; NaN within rounding."""
    printed = met["declared_limit"]
    low, high = np.fmin(sides.strict, sides.generous), np.fmax(sides.strict, sides.generous)
    beyond = np.fmax(low - printed, printed - high)
    tolerance = 10 * AS_PRINTED if parameter in schema.UNIT_OF_PARAMETER else AS_PRINTED
    return np.where((relation != OTHER) & (beyond > tolerance), beyond, np.nan)


def open_words(lines: Sequence[LimitLine], sides: Sides, met: Columns) -> np.ndarray:
    """What is open about the limit of each reading, in words separated by "; "."""
    words, in_doubt = what_is_open(lines) if lines else ([], "")
    text = "; ".join(words)
    doubt = f"{DOUBT}{in_doubt})" if in_doubt else ""
    rest = f"; {doubt}" if doubt else ""
    without = np.isnan(met["frequency_mhz"]) & sides.needs_frequency
    named = f"{text}; frequency{rest}" if text else f"frequency{rest}"
    return np.where(without, named, f"{text}{rest}" if text else doubt).astype(object)


DOUBT = "limit in doubt ("
"""How the name of a limit in doubt begins among what is open."""
