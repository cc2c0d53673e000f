"""One cell's text becomes a value: numbers with their bound, unit and decimals.

Each function is called once for each distinct text of a column. None of them raises on any text.
"""

# ruff: noqa: RUF001 (exports are written with dashes, minus signs and apostrophes of all kinds)
from __future__ import annotations

import math
import re
import unicodedata
from functools import lru_cache
from typing import NamedTuple

from analyzer.importing.grid import NUMBER
from analyzer.importing.words import plain, units, word

BELOW, ABOVE, OVER_RANGE, NO_BOUND = 0, 1, 2, -1
"""Codes of `analyzer.schema.CATEGORIES["bound"]`."""

FACTORS = {
    "dB": {"dB": 1.0},
    "m": {"m": 1.0, "ft": 0.3048, "km": 1000.0},
    "ns": {"ns": 1.0, "us": 1000.0},
    "MHz": {"MHz": 1.0, "kHz": 1e-3, "Hz": 1e-6},
    "ohm": {"ohm": 1.0, "kohm": 1000.0, "percent": math.nan},
    "nm": {"nm": 1.0, "um": 1000.0, "m": math.nan},
    "": {},
}
"""Factor from a unit as written to the unit inside. The international foot is 0.3048 m (exact by definition)."""


class Number(NamedTuple):
    """A cell read as a number. `problem` is a set-aside code, empty where the cell could be read."""

    value: float
    bound: int = NO_BOUND
    decimals: int = -1
    unit: str = ""
    problem: str = ""
    verdict: str = ""


NOT_A_NUMBER = Number(math.nan, problem="not-a-number")

_NUMBER = re.compile(
    r"""^(?P<bound><=|>=|=<|=>|<|>|≤|≥|less\ than|greater\ than|more\ than)?\s*
        (?P<sign>[+-])?\s*
        (?P<digits>\d[\d.,'\ ]*|[.,]\d+)
        (?:e(?P<exponent>[+-]?\d{1,3}))?\s*
        (?P<unit>[a-zµωω%"']{0,14}|)\s*
        (?P<tail>\*{0,2}|\([a-z* ]{1,16}\)|[a-z*]{1,12})?$""",
    re.VERBOSE,
)
_BOUNDS = {"<": BELOW, "<=": BELOW, "=<": BELOW, "≤": BELOW, "less than": BELOW}


@lru_cache(maxsize=200_000)
def parse_number(text: str, mark: str | None = None) -> Number:
    """A text as a number; `mark` is the decimal mark decided for the file, None where nothing decided it.

    `0,42 dB`, `<0.05`, `> 60`, `1.2E-1`, `1 234,5`, `0.42*` are numbers; `OL` is over range; `---` is not measured.
    """
    if not text or len(text) > 64:
        return NOT_A_NUMBER
    bare = plain(text.replace("−", "-").replace("\u2013", "-") if text[0] in "−\u2013" else text)
    bare = (
        bare.replace("’", "'").replace("e ", "e") if bare[:1].isdigit() and "e " in bare[:8] else bare.replace("’", "'")
    )
    if word("over range", bare) or (bare[0] == ">" and word("over range", bare[1:])):
        return Number(math.nan, OVER_RANGE)
    if word("not measured", bare):
        return Number(math.nan, problem="not-measured")
    match = _NUMBER.match(bare)
    if not match:
        return NOT_A_NUMBER
    unit, verdict = _unit_and_verdict(match["unit"] or "", match["tail"] or "")
    if unit is None:
        return NOT_A_NUMBER
    value, decimals, problem = _digits(match["digits"].rstrip(), mark)
    if problem:
        return Number(math.nan, problem=problem)
    if match["exponent"]:
        exponent = int(match["exponent"])
        value = float(f"{value!r}e{exponent}") if "e" not in repr(value) else value * 10.0**exponent
        decimals = max(decimals - exponent, 0)
    if match["sign"] == "-":
        value = -value
    if not math.isfinite(value) or abs(value) > 1e12:
        return Number(math.nan, problem="impossible-value")
    bound = NO_BOUND if not match["bound"] else _BOUNDS.get(match["bound"], ABOVE)
    return Number(value, bound, min(decimals, 100), unit, "", verdict)


def _unit_and_verdict(unit: str, tail: str) -> tuple[str | None, str]:
    known = units()
    mark = tail.strip("() ")
    if unit in {"", *known} and (not mark or set(mark) == {"*"}):
        return known.get(unit, ""), ""
    if unit in known and word("verdict", mark):
        return known[unit], word("verdict", mark) or ""
    if word("verdict", unit) and not mark:
        return "", word("verdict", unit) or ""
    if not unit and word("verdict", mark):
        return "", word("verdict", mark) or ""
    if unit in {"'", "ft"}:
        return "ft", ""
    return None, ""


def _digits(digits: str, mark: str | None) -> tuple[float, int, str]:
    """Value, decimals, problem."""
    grouped = re.fullmatch(r"(\d{1,3}(?:[ ']\d{3})+)([.,]\d+)?", digits)
    if grouped:
        digits = re.sub(r"[ ']", "", grouped[1]) + (grouped[2] or "")
        if grouped[2]:
            return _plain_number(digits.replace(",", "."))
    elif " " in digits or "'" in digits:
        return math.nan, -1, "not-a-number"
    dots, commas = digits.count("."), digits.count(",")
    if not dots and not commas:
        return _plain_number(digits)
    if dots and commas:
        last = max(digits.rfind("."), digits.rfind(","))
        decimal, thousands = digits[last], "," if digits[last] == "." else "."
        if digits.count(decimal) != 1 or not re.fullmatch(rf"\d{{1,3}}(\{thousands}\d{{3}})+\{decimal}\d*", digits):
            return math.nan, -1, "not-a-number"
        return _plain_number(digits.replace(thousands, "").replace(decimal, "."))
    separator = "." if dots else ","
    if dots + commas > 1:
        if re.fullmatch(rf"\d{{1,3}}(\{separator}\d{{3}})+", digits):
            return _plain_number(digits.replace(separator, ""))
        return math.nan, -1, "not-a-number"
    if could_be_thousands(digits):
        if mark is None and separator == ",":
            return math.nan, -1, "ambiguous-number"
        if mark is not None and separator != mark:
            return _plain_number(digits.replace(separator, ""))
    return _plain_number(digits.replace(",", "."))


def _plain_number(digits: str) -> tuple[float, int, str]:
    digits = digits.rstrip(".") if digits.endswith(".") else digits
    return float(digits), len(digits.split(".")[1]) if "." in digits else 0, ""


def could_be_thousands(digits: str) -> bool:
    """Whether one separator in these digits can be a thousands separator: `1,234`, not `0,234` or `1,23`."""
    return bool(re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", digits))


_SEPARATED = re.compile(r"^[<>≤≥+\-−\s]*(\d[\d.,]*\d|[.,]\d+)(?![\d.,])")


def mark_vote(text: str) -> str | None:
    """The decimal mark that this text proves, `.` or `,`; None where it proves nothing; `?` where it is ambiguous."""
    match = _SEPARATED.match(text)
    if not match:
        return None
    digits = match[1]
    dots, commas = digits.count("."), digits.count(",")
    if dots and commas:
        return "." if digits.rfind(".") > digits.rfind(",") else ","
    if dots + commas > 1:
        return "," if dots else "."  # several equal separators can only be thousands
    if not dots + commas:
        return None
    if could_be_thousands(digits):
        return "?"
    return "." if dots else ","


def parse_cell(text: str, kind: int, mark: str | None, decimals: int = -1) -> Number:
    """A cell of any kind as a number: numbers of a workbook need no decimal mark, their decimals come from the format."""
    if kind == NUMBER:
        try:
            value = float(text)
        except ValueError:
            return NOT_A_NUMBER
        if math.isnan(value):
            return NOT_A_NUMBER
        if not math.isfinite(value) or abs(value) > 1e12:
            return Number(math.nan, problem="impossible-value")
        return Number(value, decimals=decimals)
    return parse_number(text, mark)


_LIKE_NUMBER = re.compile(r"^[<>≤≥~+\-−]*\s*(\d[\d.,'’  ]*|[.,]\d+)(e[+-]?\d+)?\s*(%|[a-zµΩω]{0,4})\*?$", re.IGNORECASE)


def looks_like_number(text: str) -> bool:
    """Cheap look whether a cell is a number rather than words."""
    return bool(_LIKE_NUMBER.match(text))


def spaced(text: str) -> str:
    """NFC, trimmed, inner spaces collapsed."""
    return " ".join(unicodedata.normalize("NFC", text).split())
