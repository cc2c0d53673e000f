"""How one file was understood, for people: its tables, the cells behind each column, the sheets left out.

Results and schedules are explained alike; a table of which no word is known can still be described, for a map of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from analyzer.importing.blocks import Block, find_blocks
from analyzer.importing.column_map import heading_key
from analyzer.importing.columns import Use, settle_columns
from analyzer.importing.grid import NUMBER, Sheet, read_sheets
from analyzer.importing.read import read_source, understood
from analyzer.importing.schedule import read_schedule, schedule_table
from analyzer.importing.source import HeadingsOnly, Imported, NoTable, ReadContext, Source

SAMPLE_ROWS = 200


@dataclass
class Explained:
    """One file as understood. `imported` is there for results, `schedule` for a schedule, neither for unknown words."""

    tables: list[tuple[Block, list[Use]]]
    sheets_left_out: list[str]
    imported: Imported | None = None
    schedule: pd.DataFrame | None = None
    set_aside: pd.DataFrame | None = None
    told: list[str] = field(default_factory=list)
    """What the reader noticed, one sentence each."""


def explain_file(
    source: Source, context: ReadContext, *, schedule: bool = False, sheet: str | None = None
) -> Explained:
    """A file of results, else a schedule; `schedule` says that it is one, `sheet` on which sheet.

    Raises:
        FileUnreadable: neither can be read from it.
    """
    if schedule:
        return _schedule(source, context, sheet)
    try:
        sheets, parts = understood(source, context)
    except (NoTable, HeadingsOnly):
        try:
            return _schedule(source, context, sheet)
        except (NoTable, HeadingsOnly):
            pass
        raise
    imported = read_source(source, context)
    told = [text for code, text in zip(imported.seeds["code"], imported.seeds["text"], strict=True) if code != "sheet-not-read"]  # fmt: skip
    return Explained(parts, _left_out(sheets, parts), imported, set_aside=imported.set_aside, told=told)


def _schedule(source: Source, context: ReadContext, sheet: str | None) -> Explained:
    part = schedule_table(source, context, sheet)
    frame, aside = read_schedule(source, context, sheet)
    return Explained([part], _left_out(read_sheets(source), [part]), schedule=frame, set_aside=aside)


def _left_out(sheets: list[Sheet], parts: list[tuple[Block, list[Use]]]) -> list[str]:
    read = {block.sheet.name for block, _ in parts}
    return [sheet.name for sheet in sheets if sheet.name is not None and sheet.name not in read]


def unknown_tables(source: Source) -> list[tuple[Block, list[Use]]]:
    """The likeliest table of each sheet, whatever its words: the first row of texts that stands over a longer table."""
    found = []
    for sheet in read_sheets(source):
        row = _likeliest_headings(sheet)
        if row is None:
            continue
        known = frozenset([tuple(heading_key(text) for text in sheet.row_texts(row) if text)])
        blocks = [block for block in find_blocks(sheet, known=known) if row in block.heading_rows]
        found += [(block, settle_columns(block, "fiber")) for block in blocks]
    return found


def _likeliest_headings(sheet: Sheet) -> int | None:
    height, _ = sheet.shape
    for row in range(min(height - 1, SAMPLE_ROWS)):
        texts = sheet.row_texts(row)
        filled = [col for col, text in enumerate(texts) if text]
        if len(filled) < 2 or any(_is_number(sheet, row, col) for col in filled):
            continue
        if any(_is_number(sheet, under, col) for under in range(row + 1, min(row + 4, height)) for col in filled):
            return row
    return None


def _is_number(sheet: Sheet, row: int, col: int) -> bool:
    from analyzer.importing.cells import looks_like_number

    return sheet.kind_at(row, col) == NUMBER or looks_like_number(sheet.text(row, col))


def samples(block: Block, use: Use, most: int = 3) -> list[str]:
    """The first different texts of a column, as they stand in the file; a fact above the table gives its one text."""
    column = block.sheet.columns[use.col]
    codes = column.codes[block.data_rows[: SAMPLE_ROWS * 5]]
    _, first = np.unique(codes, return_index=True)
    return [column.texts[codes[at]] for at in np.sort(first) if codes[at]][:most]


def filled_cells(block: Block, use: Use) -> int:
    """How many cells of a column are filled."""
    return int((block.sheet.columns[use.col].codes[block.data_rows] != 0).sum())


__all__ = ["Explained", "explain_file", "filled_cells", "samples", "unknown_tables"]
