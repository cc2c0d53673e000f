"""How numbers and readings are written for people: decimals, signs, units. One place for all reports."""

from __future__ import annotations

from analyzer.schema import UNIT_OF_PARAMETER

MINUS = "−"
DECIMALS = {"dB": 2, "m": 1, "ns": 1, "ohm": 2}


def unit_of(parameter: str) -> str:
    """Unit of a parameter inside the product; empty for one without a unit."""
    return UNIT_OF_PARAMETER.get(parameter, "dB")


def number(value: float, decimals: int = 2, *, minus: str = MINUS) -> str:
    """A number with fixed decimals and a real minus sign; what rounds to zero has no sign.

    NaN is written as `-`.
    """
    if value != value:
        return "-"
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", minus)


def with_unit(value: float, parameter: str, *, minus: str = MINUS) -> str:
    """A value of a parameter in its own unit, for example `1.92 dB`."""
    unit = unit_of(parameter)
    return f"{number(value, DECIMALS.get(unit, 2), minus=minus)} {unit}".rstrip()


def reading_name(parameter: str, wavelength_nm: float, pair: object, end: object, direction: object) -> str:
    """What a reading is called, for example `loss at 1550 nm A-B` or `NEXT 1-2/3-6 from end A`.

    `wavelength_nm` below zero or NaN, and anything but text for the others, mean that it does not apply.
    """
    name = parameter
    if isinstance(pair, str):
        name += f" {pair}"
    if wavelength_nm > 0:
        name += f" at {wavelength_nm:.0f} nm"
    if isinstance(direction, str):
        name += f" {direction}"
    if isinstance(end, str):
        name += f" from end {end}"
    return name
