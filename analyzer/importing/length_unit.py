"""The unit of lengths that state none, where physics settles it: the ratio of two columns, or delay against length.

Metre and foot are a factor of 3.2808 apart, far more than cables differ in the speed of their signal. Where the numbers
do not all fall clearly on one side, nothing is decided and both units stay possible.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from analyzer.importing.blocks import Block
from analyzer.importing.columns import COPPER_PARAMETERS, Use
from analyzer.importing.parsed import factors, parse_column
from analyzer.importing.words import plain

FOOT = 0.3048
"""Metres, exact by definition of the international foot."""
LIGHT_M_PER_NS = 0.299792458
"""Exact by definition of the metre."""
_ROUNDING = 0.01
_WIDER = 0.05
"""How far beyond the known speeds a cable may lie: makers differ, and lengths are rounded."""


def settle_length_unit(block: Block, uses: list[Use]) -> list[Use]:
    """The uses with the unit of the length where two columns, or delay and length, leave only one."""
    lengths = [use for use in uses if _is_length(use)]
    unstated = [use for use in lengths if use.role == "length" and not _unit(block, use)]
    if not unstated:
        return uses
    use = unstated[0]
    found = _by_ratio(block, use, [other for other in lengths if other.col != use.col]) or _by_delay(block, use, uses)
    if found is None:
        return uses
    unit, why = found
    return [one.because(f"no unit stated: {unit}, as {why}", unit=unit) if one is use else one for one in uses]


def _is_length(use: Use) -> bool:
    return use.role == "length" or (use.role == "ignored" and use.parameter == "length")


def _unit(block: Block, use: Use) -> str:
    return use.unit or block.sheet.columns[use.col].unit


def _numbers(block: Block, use: Use) -> tuple[np.ndarray, np.ndarray]:
    """Numbers of a column, NaN where none stands, and the units written in the cells."""
    parsed = parse_column(block.sheet.columns[use.col], block.data_rows, None)
    return np.where((parsed.problem == 0) & (parsed.value > 0), parsed.value, np.nan), parsed.unit


def _bare(block: Block, use: Use) -> np.ndarray:
    numbers, units = _numbers(block, use)
    return np.where(units == "", numbers, np.nan)


def _by_ratio(block: Block, use: Use, others: list[Use]) -> tuple[str, str] | None:
    """Another column of the same lengths, 3.281 times as large or as small."""
    mine = _bare(block, use)
    for other in others:
        its = _numbers(block, other)[0]
        both = np.isfinite(mine) & np.isfinite(its)
        ratio = its[both] / mine[both]
        if both.sum() < 2 or _unit(block, other) not in {"", "ft", "m"}:
            continue
        for unit, opposite, expected in (("m", "ft", 1 / FOOT), ("ft", "m", FOOT)):
            if _unit(block, other) in {"", opposite} and (np.abs(ratio / expected - 1) < _ROUNDING).all():
                return unit, f"{other.heading!r} is {expected:.3f} times as large in every row"
    return None


def _by_delay(block: Block, use: Use, uses: list[Use]) -> tuple[str, str] | None:
    """The speed of the signal that delay and length give, for one unit possible and for the other not."""
    length = _bare(block, use)
    delays = [one for one in uses if one.role == "value" and one.parameter == "propagation delay"]
    if not delays:
        return None
    speeds = []
    for one in delays:
        numbers, units = _numbers(block, one)
        nanoseconds = numbers * factors(units, one.unit or block.sheet.columns[one.col].unit or "ns", "ns")
        speeds.append(length / nanoseconds / LIGHT_M_PER_NS)
    speed = np.concatenate(speeds)
    speed = speed[np.isfinite(speed)]
    if not len(speed):
        return None
    copper = any(one.pair or one.role in {"pair", "grade"} or one.parameter in _COPPER for one in uses)
    both_ways = any("round" in plain(one.heading) or "two way" in plain(one.heading) for one in delays)
    low, high = copper_speeds() if copper else fiber_speeds()
    if both_ways:
        low, high = low / 2, high / 2
    for unit, metres in (("m", 1.0), ("ft", FOOT)):
        inside = (speed * metres > low * (1 - _WIDER)) & (speed * metres < high * (1 + _WIDER))
        if inside.all():
            middle = float(np.median(speed * metres)) * (2 if both_ways else 1)
            return unit, f"{delays[0].heading!r} then gives a signal at {middle:.0%} of the speed of light"
    return None


_COPPER = COPPER_PARAMETERS - {"propagation delay"}


@cache
def copper_speeds() -> tuple[float, float]:
    """Least and greatest nominal velocity of propagation of balanced cable known here, as a share of c."""
    from analyzer.standards import load

    rows = [row for row in load().rows("copper_cable") if str(row["property"]).endswith("velocity of propagation")]
    values = [float(row[name]) for row in rows for name in ("value", "up_to") if row[name] is not None]
    return min(values) / 100, max(values) / 100


@cache
def fiber_speeds() -> tuple[float, float]:
    """Least and greatest speed of light in the fibers known here, as a share of c: one by the group index."""
    from analyzer.standards import load

    index = load().group_index["group_index"]
    return float(1 / index.max()), float(1 / index.min())
