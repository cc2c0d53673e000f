"""Whether a row of words is a row of the table above it: `F-01 | 850 | B-A` with nothing measured is no new heading."""

from __future__ import annotations

from collections.abc import Callable

from analyzer.importing import facts
from analyzer.importing.grid import Sheet
from analyzer.importing.headings import could_be_heading, is_exact, understand
from analyzer.importing.pair_colors import colors_in
from analyzer.importing.words import word

_FREE_TEXT = frozenset(
    {
        "label",
        "cable",
        "strand",
        "end A label",
        "end B label",
        "place A",
        "place B",
        "area",
        "operator",
        "tester",
        "note",
        "project",
    }
)
"""Roles of columns that hold any text, but never the bare word of a heading."""


def is_row_of(sheet: Sheet, heading_rows: list[int], row: int) -> bool:
    """Whether every cell of a row that could head a column is what cells under these headings say."""
    heads = [sheet.row_texts(line) for line in heading_rows]
    explained = 0
    for col, text in enumerate(sheet.row_texts(row)):
        if not text or not (could_be_heading(text) or understand((text,)).known):
            continue
        role = understand(tuple(line[col] for line in heads if line[col])).role
        if not _is_cell_of(role, text):
            return False
        explained += 1
    return explained > 0


def _is_cell_of(role: str, text: str) -> bool:
    """Whether a text is what a column of some role holds."""
    if role in _FREE_TEXT:
        return not is_exact(text)
    return role in _SAYS and bool(_SAYS[role](text))


def _wavelength(text: str) -> bool:
    return facts.wavelength_nm(text) > 0 or bool(facts.wavelength_and_direction(text))


def _kind(text: str) -> bool:
    return bool(facts.fiber_type(text).type or facts.copper_grade(text))


def _word_of(kind: str) -> Callable[[str], object]:
    return lambda text: word(kind, text)


_SAYS: dict[str, Callable[[str], object]] = {
    "wavelength": _wavelength,
    "direction": lambda text: facts.direction(text) or facts.end(text),
    "end": lambda text: facts.direction(text) or facts.end(text),
    "pair": lambda text: facts.pair(text) or colors_in(text),
    "parameter": lambda text: understand((text,)).parameter,
    "type": _kind,
    "grade": _kind,
    "type or grade": _kind,
    "reference": facts.reference,
    "verdict": facts.verdict,
    "value": lambda text: facts.verdict(text) or word("over range", text) or word("not measured", text),
    **{
        name: _word_of(name)
        for name in ("configuration", "construction", "segment", "medium", "polarity", "standard")
    },
}  # fmt: skip
"""What the cells of a column of some role say; empty where a text says no such thing."""
