"""Columns of cells as numbers: each distinct text parsed once, units brought to those inside."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analyzer.importing.cells import FACTORS, Number, parse_cell
from analyzer.importing.distinct import constant, is_constant, spread
from analyzer.importing.grid import NUMBER, TEXT, CellColumn
from analyzer.schema import CATEGORIES, UNIT_OF_PARAMETER

PARAMETERS = CATEGORIES["parameter"]


PROBLEMS = (
    "", "not-measured", "not-a-number", "ambiguous-number", "impossible-value", "power-level", "wrong-unit",
    "unknown-parameter", "no-label-cell", "no-unit", "pair-by-color", "below-zero",
)  # fmt: skip


VERDICTS = CATEGORIES["declared_verdict"]


@dataclass
class Parsed:
    """One column parsed: an entry per row. `problem` numbers `PROBLEMS`; 0 is none."""

    filled: np.ndarray
    value: np.ndarray
    bound: np.ndarray
    decimals: np.ndarray
    unit: np.ndarray
    problem: np.ndarray
    verdict: np.ndarray


def parse_column(column: CellColumn, rows: np.ndarray, mark: str | None) -> Parsed:
    """Numbers of a column at some rows."""
    numbers = column.parsed.get(mark)
    if numbers is None:
        read: list[Number] = column.map(lambda text, kind: parse_cell(text, kind, mark, column.decimals))
        numbers = column.parsed[mark] = list(zip(*read, strict=True))
        numbers[_PROBLEM] = [PROBLEMS.index(problem) for problem in numbers[_PROBLEM]]
        numbers[_VERDICT] = [VERDICTS.index(verdict) if verdict else -1 for verdict in numbers[_VERDICT]]
    values, bounds, decimals, written, problems, verdicts = numbers
    codes = column.at(rows)
    return Parsed(
        codes != 0,
        np.asarray(values, dtype=np.float64)[codes],
        spread(bounds, codes, np.int8),
        spread(decimals, codes, np.int8),
        spread(written, codes, object),
        np.asarray(problems, np.int8)[codes],
        spread(verdicts, codes, np.int8),
    )


_PROBLEM = Number._fields.index("problem")


_VERDICT = Number._fields.index("verdict")


def written_decimals(column: CellColumn, rows: np.ndarray, parsed: Parsed) -> np.ndarray:
    """Decimals with which each cell was written, at most 9; those of a number cell are its own, not those shown."""
    kinds = column.kinds or [TEXT] * len(column.texts)
    own = [
        min(len(text.partition(".")[2]) if "e" not in text.lower() else 9, 9) if kind == NUMBER else -1
        for text, kind in zip(column.texts, kinds, strict=True)
    ]
    typed = np.asarray(own, dtype=np.int64)[column.at(rows)]
    return np.minimum(np.where(typed >= 0, typed, np.where(parsed.decimals >= 0, parsed.decimals, 9)), 9)


def category_codes(name: str, texts: list[str]) -> np.ndarray:
    """Codes of texts in a closed set, -1 for empty or foreign ones."""
    index = {text: code for code, text in enumerate(CATEGORIES[name])}
    return np.fromiter((index.get(text, -1) for text in texts), np.int16, len(texts))


def factors(written: np.ndarray, default: str, inside: str) -> np.ndarray:
    """Factor from each unit as written (else the default) to the unit inside; NaN where they do not fit."""
    table = FACTORS[inside]
    usual = table.get(default or inside, math.nan)
    if is_constant(written):
        return constant(table.get(written[0], math.nan) if written[0] else usual, len(written), np.float64)
    out = np.full(len(written), usual)
    for unit in set(written[written != ""].tolist()):
        out[written == unit] = table.get(unit, math.nan)
    return out


def stated_unit(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """The unit of each cell: what `first` states, else what `second` does."""
    if is_constant(first):
        return first if first[0] else np.broadcast_to(second, len(first))
    return np.asarray(np.where(first != "", first, second))


def unit_inside(parameter: str) -> str:
    """Unit of a parameter inside the product."""
    return UNIT_OF_PARAMETER.get(parameter, "dB")
