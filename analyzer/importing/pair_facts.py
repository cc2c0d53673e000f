"""Cells that are facts of a test of twisted pair: velocity, temperature, accuracy level, wiring scheme, screen.

Each function is called once for each distinct text of a column and gives NaN or "" where the text says none of it.
"""

from __future__ import annotations

import math
import re

from analyzer.importing.words import plain, word
from analyzer.schema import CATEGORIES

LEAST_NVP_PERCENT, MOST_NVP_PERCENT = 30.0, 100.0
"""Beyond these no cable is told of; a fraction of the velocity of light is taken as such below 1.5."""

ABSOLUTE_ZERO_C = -273.15

_LEVELS = {level.casefold(): level for level in CATEGORIES["accuracy_level"]}
_LEVEL = re.compile(
    r"(?:accuracy|acc|tester|iec|tia)?[ .:-]*(?:level|lvl|lev|stufe|niveau|nivel|livello|klasse|classe|class|clase)?[ .:-]*(2g|iiie|iie|iii|iv|vi|v)"
)
_DEGREES = re.compile(r"([+-]?\d+(?:[.,]\d+)?) ?(?:°|º|deg\.?|degrees?|grad)? ?(c|f|celsius|fahrenheit)?")
_HEADED = re.compile(r"(?:°|º|deg|[\s_(\[])([cf])[)\]]?$|(celsius|fahrenheit)")
_PERCENT = re.compile(r"(\d+(?:[.,]\d+)?) ?%? ?(?:of )?c?")


def accuracy_level(text: str) -> str:
    """`IIIe`, `Level IV`, `level 2G`: the level; "" where the text is none."""
    match = _LEVEL.fullmatch(plain(text))
    return _LEVELS[match[1]] if match else ""


def wiring_scheme(text: str) -> tuple[str, str]:
    """Schemes of end A and end B: `T568B` holds for both, `T568A / T568B` for one each; "" where none is named."""
    found = re.findall(r"(?<![\d])568[ -]?([ab])\b", plain(text))
    names = [f"T568{letter.upper()}" for letter in found]
    return (names[0], names[-1]) if names else ("", "")


def screen(text: str) -> str:
    """`continuous` or `open`; "" where the text says neither."""
    return word("screen", text) or ""


def nvp_percent(text: str) -> float:
    """Velocity in percent of that of light in vacuum: `69`, `69 %`, `0.69`, `0,69 c`."""
    match = _PERCENT.fullmatch(plain(text))
    if not match:
        return math.nan
    value = float(match[1].replace(",", "."))
    percent = value * 100 if value <= 1.5 else value
    return round(percent, 6) if LEAST_NVP_PERCENT <= percent <= MOST_NVP_PERCENT else math.nan


def temperature(text: str, heading: str) -> tuple[float, str]:
    """Degrees Celsius, and a set-aside code: `23 °C`, `73.4 F`, a number under `Temperature (°F)`."""
    match = _DEGREES.fullmatch(plain(text.replace("\u2212", "-")))
    if not match:
        return math.nan, "not-a-fact"
    headed = _HEADED.search(plain(heading))
    unit = (match[2] or (next(filter(None, headed.groups())) if headed else ""))[:1]
    if not unit:
        return math.nan, "no-temperature-unit"
    value = float(match[1].replace(",", "."))
    celsius = value if unit == "c" else (value - 32) / 1.8
    return (round(celsius, 6), "") if celsius >= ABSOLUTE_ZERO_C else (math.nan, "not-a-fact")
