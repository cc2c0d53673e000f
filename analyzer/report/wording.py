"""How numbers and readings are written for people: decimals, signs, units. One place for all reports."""

from __future__ import annotations

import math

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
    if math.isnan(value):
        return "-"
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", minus)


def with_unit(value: float, parameter: str, *, minus: str = MINUS) -> str:
    """A value of a parameter in its own unit, for example `1.92 dB`."""
    unit = unit_of(parameter)
    return f"{number(value, DECIMALS.get(unit, 2), minus=minus)} {unit}".rstrip()


def frequency(value_mhz: float) -> str:
    """A frequency as people write it, at most two decimals: `312 MHz`, `62.5 MHz`, `0.772 MHz`; empty where none."""
    if math.isnan(value_mhz):
        return ""
    text = f"{value_mhz:,.2f}" if value_mhz >= 1 else f"{value_mhz:.3g}"
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text} MHz"


def reading_name(
    parameter: str,
    wavelength_nm: float,
    pair: object,
    end: object,
    direction: object,
    frequency_mhz: float = math.nan,
) -> str:
    """What a reading is called, for example `loss at 1550 nm A-B` or `NEXT 1-2/3-6 at end A, 312 MHz`.

    `wavelength_nm` below zero or NaN, a frequency of NaN, and anything but text for the others, mean that it does not
    apply.
    """
    name = parameter
    if isinstance(pair, str):
        name += f" {pair}"
    if wavelength_nm > 0:
        name += f" at {wavelength_nm:.0f} nm"
    if isinstance(direction, str):
        name += f" {direction}"
    if isinstance(end, str):
        name += f" at end {end}"
    return ", ".join(part for part in (name, frequency(frequency_mhz)) if part)


CEILINGS = frozenset(
    {"loss", "insertion loss", "length", "propagation delay", "delay skew", "loop resistance", "resistance unbalance"}
)
"""Parameters that may not exceed their limit; all others must reach it."""


def measured(value: float, bound: object, parameter: str) -> str:
    """The value as measured in its own unit, with its bound: `1.92 dB`, `less than 0.05 dB`, `over range`.

    Empty where nothing but a word was read, as of a wire map.
    """
    if bound == "over range":
        return "over range"
    if math.isnan(value):
        return ""
    said = {"below": "less than ", "above": "more than "}.get(str(bound), "")
    return said + with_unit(value, parameter)


def allowed(limit: float, parameter: str) -> str:
    """The limit in words: `allowed 1.50 dB` for a ceiling, `needed 30.10 dB` for a floor; empty where there is none."""
    if math.isnan(limit):
        return ""
    return f"{'allowed' if parameter in CEILINGS else 'needed'} {with_unit(limit, parameter)}"


def margin(value: float, parameter: str) -> str:
    """The margin in words; one that is negative but rounds to zero says so, or a failure would look like a pass."""
    if math.isnan(value):
        return ""
    text = with_unit(value, parameter)
    if value < -1e-9 and not text.startswith(MINUS):
        return f"margin negative by less than {with_unit(10.0 ** -DECIMALS.get(unit_of(parameter), 2), parameter)}"
    return f"margin {text}"


def counted(count: int, singular: str, plural: str | None = None) -> str:
    """`1 link`, `2 links`, `12,000 links`."""
    return f"{count:,} {singular if count == 1 else plural or singular + 's'}"


def sentence(text: str, *, capital: bool = True) -> str:
    """The text with one full stop, and a capital letter in front where it stands alone."""
    text = without_stop(text)
    return f"{text[:1].upper() + text[1:] if capital else text}."


def without_stop(text: str) -> str:
    """The text without its last full stop, to be set into a longer sentence."""
    return text.rstrip().rstrip(".")


def exit_sentence(code: int, reason: str) -> str:
    """What caused the exit code, as one sentence: `Exit code 1: 2 links fail`, with its full stop."""
    head = f"exit code {code}"
    reason = reason.removeprefix(head).removeprefix(": ")
    return sentence(f"{head}: {reason}" if reason else head)
