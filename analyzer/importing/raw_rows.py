"""Rows as they stand in their files, read once more: every cell of a row, also those that gave no reading.

The importer keeps what became readings. Whoever wants to see the row itself reads the file again, through the same
`understood` that read it for judging, so that tables, headings and rows are found in the very same places. Cells are the
texts of the grid: of text files as written, of workbooks the value that the cell holds, in its shortest exact form.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from analyzer.importing.blocks import Block
from analyzer.importing.columns import Use
from analyzer.importing.grid import Sheet
from analyzer.importing.read import understood
from analyzer.importing.source import ReadContext, Source
from analyzer.importing.touchstone import header_lines, is_touchstone

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analyzer.importing.gather import Found

MOST_LINES = 24
"""Lines above a table, and comment lines of a network file, that are kept."""
MOST_FORM_LINES = 80
"""Lines of one form that are kept."""

Line = tuple[int, list[str]]
"""Row as a spreadsheet shows it, and its texts from the first column to the last that is filled."""


@dataclass(frozen=True)
class ReadAgain:
    """How the files of a run can be read once more: where they lie, in the order of `files`, and how they were read."""

    found: tuple[Found, ...]
    context: ReadContext
    left_out: frozenset[int] = frozenset()
    """Records whose rows are not to be shown, because the owner wants replaced failures left out."""


@dataclass
class RawTable:
    """Some rows of one table as they stand in the file.

    ``cells[k]`` are codes and texts of column ``k`` for each row; ``places`` are columns of the sheet counted from 0 or,
    of a table on its side, rows as shown. ``rows`` are rows as shown or, of a table on its side, columns from 0.
    """

    kind: str
    headings: list[str] = field(default_factory=list)
    places: list[int] = field(default_factory=list)
    uses: list[Use | None] = field(default_factory=list)
    heading_rows: list[int] = field(default_factory=list)
    above: list[Line] = field(default_factory=list)
    rows: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    cells: list[tuple[NDArray[np.int32], list[str]]] = field(default_factory=list)
    points: int = 0
    """Points of a sweep, which are not kept."""
    last_row: int = -1
    """Row of the last of these points."""
    of: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    """For each entry of `at` the place asked for."""
    at: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    """Rows of this table that stand at the places asked for; a form has many for one place."""
    is_text: bool = True
    """Whether the cells are texts as typed; else values of a workbook."""


Places = tuple["NDArray[np.int64]", "NDArray[np.int64]"]
"""Rows as shown and columns from 0 of the places asked for; -1 where that does not matter."""


def raw_tables(source: Source, context: ReadContext, wanted: Mapping[int, Places]) -> dict[int, RawTable]:
    """The rows at some places of a file, by the number of their table in it.

    Args:
        source: the file, with the same bytes as when it was judged.
        context: how it was read then.
        wanted: for tables, counted from 0 in the order of the file, the places.

    Raises:
        FileUnreadable: it cannot be read (any more).
    """
    if is_touchstone(source):
        return {number: RawTable("network", above=header_lines(source, MOST_LINES)) for number in wanted}
    sheets, parts = understood(source, context)
    by_name = {sheet.name: sheet for sheet in sheets}
    out = {}
    for number, places in wanted.items():
        block, uses = parts[number]
        out[number] = _READERS.get(block.kind, _upright)(block, uses, by_name[block.sheet.name], places)
    return out


def _upright(block: Block, uses: list[Use], sheet: Sheet, places: Places) -> RawTable:
    """Rows of a table that stands upright, found by the row a spreadsheet shows."""
    table = _headed(block, uses, sheet)
    shown = block.sheet.rows[block.data_rows]
    order = np.argsort(shown, kind="stable")
    found = np.searchsorted(shown[order], places[0])
    safe = np.clip(found, 0, max(len(shown) - 1, 0))
    hit = (shown[order][safe] == places[0]) if len(shown) else np.zeros(len(places[0]), dtype=bool)
    return _with_rows(table, block, block.data_rows[order][safe[hit]], np.flatnonzero(hit))


def _on_side(block: Block, uses: list[Use], sheet: Sheet, places: Places) -> RawTable:
    """Columns of a table on its side: its rows, turned, are the columns of the sheet."""
    table = _headed(block, uses, sheet)
    turned = block.sheet.origin
    assert turned is not None, "a table on its side knows where its cells stood"
    table.places = [int(turned[0][0, col]) for col in _columns(block)]
    hit = (places[1] >= 0) & (places[1] < len(block.sheet.rows))
    table = _with_rows(table, block, places[1][hit], np.flatnonzero(hit))
    table.above = []
    return table


def _sweep(block: Block, uses: list[Use], sheet: Sheet, _places: Places) -> RawTable:
    """What stands around the points of a sweep; the points themselves are only counted."""
    table = _headed(block, uses, sheet)
    shown = block.sheet.rows[block.data_rows]
    table.points, table.rows, table.last_row = len(shown), shown[:1], int(shown[-1])
    return table


def _form(block: Block, _uses: list[Use], sheet: Sheet, places: Places) -> RawTable:
    """Every line of the form from its first to the first of the next one."""
    origin = block.sheet.origin
    assert origin is not None, "a form knows where its cells stood"
    data = origin[0][1:]
    first = np.where(data >= 0, data, np.iinfo(data.dtype).max).min(axis=1)
    last = np.append(first[1:] - 1, sheet.rows[-1])
    begins = np.where(np.arange(len(first)) == 0, sheet.rows[0], first)
    group = np.array(
        [_form_at(origin, int(row), int(col)) for row, col in zip(*places, strict=True)], dtype=np.int64
    )  # a handful of forms a file
    rows, of = [], []
    for asked in np.flatnonzero(group >= 0):
        inside = np.flatnonzero((sheet.rows >= begins[group[asked]]) & (sheet.rows <= last[group[asked]]))
        filled = inside[[any(sheet.row_texts(int(row))) for row in inside]][:MOST_FORM_LINES]
        rows.append(filled)
        of.append(np.full(len(filled), asked))
    at = np.concatenate(rows) if rows else np.empty(0, dtype=np.int64)
    whole = [col for col, column in enumerate(sheet.columns) if (column.codes[at] != 0).any()]
    lines = Block(sheet, block.heading_rows, block.data_rows, whole, [() for _ in whole], kind="form")
    table = RawTable("form", ["" for _ in whole], whole, [None for _ in whole], is_text=_is_text(sheet))
    return _with_rows(table, lines, at, np.concatenate(of) if of else at)


def _form_at(origin: tuple[NDArray[np.int64], NDArray[np.int64]], row: int, col: int) -> int:
    """Number of the form that has a cell at this place; -1 where none has."""
    hit = np.flatnonzero(((origin[0] == row) & ((origin[1] == col) | (col < 0))).any(axis=1))
    return int(hit[-1]) - 1 if len(hit) and hit[-1] > 0 else -1


_READERS = {"transposed": _on_side, "form": _form, "sweep": _sweep}


def _columns(block: Block) -> list[int]:
    """Columns that stand in the file, without those made from lines above the table."""
    return [col for col in block.columns if col < block.sheet.origin_width]


def _headed(block: Block, uses: list[Use], sheet: Sheet) -> RawTable:
    use_of = {use.col: use for use in uses}
    heading_of = dict(zip(block.columns, block.headings, strict=True))
    columns = _columns(block)
    rows = [] if block.sheet.origin is not None else [int(sheet.rows[row]) for row in block.heading_rows]
    return RawTable(
        block.kind, [" / ".join(heading_of[col]) for col in columns], columns, [use_of.get(col) for col in columns], rows,
        _lines(sheet, block.above) if block.sheet.origin is None else [], is_text=_is_text(sheet),
    )  # fmt: skip


def _lines(sheet: Sheet, rows: list[int]) -> list[Line]:
    """The filled lines among some rows, the last ones where there are too many: those stand next to the table."""
    lines = []
    for row in rows[-4 * MOST_LINES :]:
        texts = sheet.row_texts(row)
        while texts and not texts[-1]:
            texts.pop()
        if texts:
            lines.append((int(sheet.rows[row]), texts))
    return lines[-MOST_LINES:]


def _is_text(sheet: Sheet) -> bool:
    return all(column.kinds is None for column in sheet.columns)


def _with_rows(table: RawTable, block: Block, rows: NDArray[np.int64], of: NDArray[np.int64]) -> RawTable:
    """The table with these rows of its cells, each held once."""
    held, table.at = np.unique(rows, return_inverse=True)
    table.of = of
    table.rows = held if table.kind == "transposed" else block.sheet.rows[held]
    for col in _columns(block):
        column = block.sheet.columns[col]
        used, codes = np.unique(column.codes[held], return_inverse=True)
        table.cells.append((codes.astype(np.int32), [str(column.texts[code]) for code in used]))
    return table


__all__ = ["MOST_FORM_LINES", "MOST_LINES", "Line", "RawTable", "ReadAgain", "raw_tables"]
