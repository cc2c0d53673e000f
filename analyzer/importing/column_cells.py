"""What only the cells of a column can tell about it: verdicts under a heading of limits, fiber types under `Cable`."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

import numpy as np

from analyzer.importing import facts, pair_facts
from analyzer.importing.cells import looks_like_number
from analyzer.importing.grid import TEXT, CellColumn
from analyzer.importing.headings import Heading, understand
from analyzer.importing.pair_colors import scheme_in
from analyzer.importing.words import word

if TYPE_CHECKING:
    from analyzer.importing.columns import Use


def sample(column: CellColumn, rows: np.ndarray, most: int = 200) -> list[str]:
    """Distinct texts of a column, from its first rows."""
    codes = np.unique(column.codes[rows[: most * 5]])[:most] if len(rows) else np.empty(0, dtype=np.int32)
    return [column.texts[code] for code in codes.tolist() if column.texts[code]]


def share(cells: Iterable[str], test: object) -> float:
    """Share of some cells that pass a test; 0 of none."""
    texts = list(cells)
    return sum(bool(test(text)) for text in texts) / len(texts) if texts else 0.0  # type: ignore[operator]


def _is_type(text: str) -> bool:
    return bool(facts.fiber_type(text).type) and len(text) < 40


def number_or_blank(text: str) -> bool:
    """Whether a cell holds a number, or says that there is none."""
    return looks_like_number(text) or bool(word("not measured", text) or word("over range", text))


_MAY_HOLD_KEYS = {"ignored", "label", "record number", "wavelength", "direction", "end", "note", "project"}
"""Roles of columns such as `Test` or `Wavelength`, whose cells may say `850 nm A-B`."""


BOTH_KEYS = "the cells name wavelength and direction"


def _is_clock(text: str) -> bool:
    return ":" in text and facts.parse_clock(text, TEXT) >= 0


def by_content(use: Use, heading: Heading, cells: list[str]) -> Use:
    """Roles that only the cells can tell."""
    role = use.role
    both = role in _MAY_HOLD_KEYS and share(cells, facts.wavelength_and_direction) > 0.8
    if both and all(understand((text,)).parameter in {"", "loss"} for text in cells):
        return use.because(BOTH_KEYS, role="wavelength")
    if use.parameter == "wire map" and cells and share(cells, scheme_in) > 0.8:
        return use.because("the cells are wiring schemes", role="wiring scheme", parameter="")
    if role == "wiring scheme" and cells and share(cells, facts.verdict) > 0.8 and not share(cells, scheme_in):
        return use.because("the cells are verdicts", role="value", parameter="wire map")
    if role == "type or grade":
        fiber = share(cells, facts.fiber_type)
        copper = share(cells, facts.copper_grade)
        if max(fiber, copper) == 0:
            return use.because("no cell is a known type or grade", role="ignored")
        return use.because("the cells tell", role="type" if fiber >= copper else "grade")
    if role in {"strand", "cable", "label"} and cells and share(cells, _is_type) > 0.8:
        return use.because("the cells are fiber types", role="type")
    if role == "grade" and cells and share(cells, facts.fiber_type) > share(cells, facts.copper_grade):
        return use.because("the cells are fiber types", role="type")
    if role == "type" and cells and share(cells, facts.fiber_type) < share(cells, facts.copper_grade):
        return use.because("the cells are grades of balanced cabling", role="grade")
    measured = role in {"value", "limit", "margin"} and use.parameter != "wire map"
    if measured and cells and share(cells, number_or_blank) < 0.5 and _are_verdicts(cells):
        return use.because("the cells are verdicts", role="verdict")
    if role == "limit" and cells and share(cells, number_or_blank) < 0.5:
        return use.because("the cells are names", role="limit name")
    if role == "limit name" and cells and share(cells, looks_like_number) > 0.8:
        return use.because("the cells are numbers", role="limit")
    if role == "verdict" and cells and share(cells, facts.verdict) < 0.2 and share(cells, looks_like_number) > 0.5:
        return use.because("the cells are numbers, not verdicts", role="value" if use.parameter else "ignored")
    if role == "reference" and cells and use.unit == "dBm":
        return use.because("in dBm", role="reference power")
    if role == "value" and not use.parameter and not cells:
        return use.because("no cell is filled", role="ignored")
    if role == "value" and use.parameter == "" and heading.direction and share(cells, number_or_blank) < 0.5:
        return use.because("the cells are no numbers", role="ignored")
    if role == "accuracy" and cells and share(cells, pair_facts.accuracy_level) > 0.8:
        return use.because("the cells are accuracy levels of testers", role="accuracy level")
    if role in _WORDS_OF_PAIRS and share(cells, _WORDS_OF_PAIRS[role]) == 0:
        return use.because(f"no cell tells a {role}", role="ignored")
    if role in {"direction", "end"} and cells and share(cells, facts.direction) < 0.3:
        return use.because("no cell names a direction", role="ignored")
    if role == "tested at" and cells and share(cells, _is_clock) > 0.8:
        return use.because("the cells are times of day", role="time")
    if role == "wavelength" and cells and max(map(facts.wavelength_nm, cells)) < 0:
        return use.because("no cell is a wavelength", role="ignored")
    return use


def _are_verdicts(cells: list[str]) -> bool:
    """Whether most cells are verdicts, or say that there is none; one at least is one."""
    verdicts = [bool(facts.verdict(text)) for text in cells]
    none = [bool(word("no verdict", text) or word("near the limit", text)) for text in cells]
    return any(verdicts) and sum(map(max, verdicts, none)) > 0.5 * len(cells)


_WORDS_OF_PAIRS: dict[str, Callable[[str], object]] = {
    "accuracy level": pair_facts.accuracy_level,
    "screen": pair_facts.screen,
    "wiring scheme": lambda text: pair_facts.wiring_scheme(text)[0],
}
"""Roles whose headings mean other things too; only their cells tell."""
