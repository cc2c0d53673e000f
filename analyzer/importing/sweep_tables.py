"""Sweep tables in the cells of a sheet: where the frequencies run, which rows head them, which rows are points.

Other tables are found by their headings alone; a sweep has headings such as `12-36` that mean little by themselves, and
several sweeps under each other differ only by the title line between them. So the run of frequencies is looked for, and
what stands around it is understood from there.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from analyzer.importing.blocks import Block, spread_headings
from analyzer.importing.cells import looks_like_number
from analyzer.importing.columns import Use, settle_columns
from analyzer.importing.distinct import where
from analyzer.importing.forms import FACT_ROLES, pairs_in
from analyzer.importing.grid import NUMBER, CellColumn, Sheet
from analyzer.importing.headings import understand
from analyzer.importing.sweeps import FREQUENCY_UNITS, said_by_title, sweep_columns

_MOST_HEADINGS = 2000
_MOST_SUB_ROWS = 3


def find_sweeps(sheet: Sheet, medium: str) -> tuple[list[tuple[Block, list[Use]]], Sheet]:
    """The sweep tables of a sheet with their columns, and the sheet with their rows left blank for other tables."""
    heads = _frequency_cells(sheet)
    if not heads:
        return [], sheet
    numbers = [_is_number(column) for column in sheet.columns]
    filled = np.zeros(len(sheet.rows), dtype=bool)
    for column in sheet.columns:
        filled |= column.codes != 0
    found: list[tuple[Block, list[Use]]] = []
    after = 0
    for row in sorted(heads):
        if row < after:
            continue
        for block in _runs(sheet, row, heads, numbers, filled, after):
            columns = sweep_columns(block, settle_columns(block, medium))
            if not columns:
                break
            _add(found, block, columns)
            after = int(block.data_rows[-1]) + 1
    return found, _without(sheet, [block for block, _ in found]) if found else sheet


def _frequency_cells(sheet: Sheet) -> dict[int, list[int]]:
    """Rows in which a cell heads a column of frequencies, and the columns."""
    heads: dict[int, list[int]] = {}
    for col, column in enumerate(sheet.columns):
        codes = np.flatnonzero(where(column.texts, r"(?i)fre|fré|hz", _heads_frequencies, otherwise=False, dtype=bool))
        if not len(codes):
            continue
        for row in np.flatnonzero(np.isin(column.codes, codes))[:_MOST_HEADINGS].tolist():
            heads.setdefault(row, []).append(col)
    return heads


@lru_cache(maxsize=4096)
def _heads_frequencies(text: str) -> bool:
    if not 0 < len(text) <= 60 or not any(part in text.casefold() for part in ("fre", "fré", "hz")):
        return False
    if looks_like_number(text):
        return False
    heading = understand((text,))
    by_word = heading.role == "frequency" and heading.sure >= 0.6
    return by_word or (heading.unit in FREQUENCY_UNITS and not heading.parameter and not heading.pair)


def _is_number(column: CellColumn) -> np.ndarray:
    """Which rows of a column hold a number."""
    kinds = column.kinds or [0] * len(column.texts)
    each = np.fromiter(
        (
            bool(text) and (kind == NUMBER or looks_like_number(text))
            for text, kind in zip(column.texts, kinds, strict=True)
        ),
        np.bool_,
        len(column.texts),
    )
    return np.asarray(each[column.codes])


def _runs(
    sheet: Sheet, row: int, heads: dict[int, list[int]], numbers: list[np.ndarray], filled: np.ndarray, after: int
) -> list[Block]:
    """Every run of points under the headings in `row`, one block for each title line that begins another."""
    axis = heads[row]
    on_axis = np.logical_or.reduce([numbers[col] for col in axis])
    begins = np.flatnonzero(on_axis[row + 1 : row + 2 + _MOST_SUB_ROWS])
    if not len(begins):
        return []
    first = row + 1 + int(begins[0])
    end = min((other for other in heads if other >= first), default=len(sheet.rows))
    band = [*_group_rows(sheet, row, axis, after), row, *(at for at in range(row + 1, first) if filled[at])]
    beside = np.logical_or.reduce([numbers[col] for col in range(len(sheet.columns)) if col not in axis] or [on_axis])
    stops = np.flatnonzero(filled[first:end] & ~on_axis[first:end] & ~beside[first:end]) + first
    blocks: list[Block] = []
    above = list(range(after, band[0]))
    begin, keep = first, np.empty(0, dtype=np.int64)
    for stop in [*stops.tolist(), end]:
        rows = np.arange(begin, stop)
        keep = np.concatenate([keep, _trimmed(rows, on_axis, filled)])
        nothing_follows = not on_axis[stop + 1 : stop + 4].any() or stop == end
        if nothing_follows or _begins_another(sheet, stop):
            if len(keep):
                blocks.append(_block(sheet, band, keep, above))
            keep, above = np.empty(0, dtype=np.int64), []
        if nothing_follows:
            break
        above.append(stop)
        begin = stop + 1
    return blocks


def _trimmed(rows: np.ndarray, on_axis: np.ndarray, filled: np.ndarray) -> np.ndarray:
    """Rows up to the last frequency and what stands directly under it; a blank line ends a table that has no more."""
    at = np.flatnonzero(on_axis[rows])
    if not len(at):
        return rows[:0]
    blank = np.flatnonzero(~filled[rows[at[-1] :]])
    return rows[: at[-1] + blank[0]] if len(blank) else rows


def _group_rows(sheet: Sheet, row: int, axis: list[int], after: int) -> list[int]:
    """Rows above that head groups of columns: `NEXT` over the pairs; a line that begins on the frequencies is a title."""
    band: list[int] = []
    while len(band) < 3 and row - 1 - len(band) >= after:
        at = row - 1 - len(band)
        texts = sheet.row_texts(at)
        heads = [col for col, text in enumerate(texts) if text]
        if not heads or any(looks_like_number(texts[col]) and len(texts[col]) > 2 for col in heads):
            break
        title = heads[0] <= axis[0] and (len(axis) == 1 or len(heads) == 1)
        if (
            title
            or any(texts[col].rstrip().endswith(":") for col in heads)
            or not all(_groups(texts[col]) for col in heads)
        ):
            break
        band.insert(0, at)
    return band


def _groups(text: str) -> bool:
    heading = understand((text,))
    return heading.sure >= 0.6 and (
        heading.role in {"value", "limit"} or bool(heading.end or heading.pair or heading.unit)
    )


def _begins_another(sheet: Sheet, row: int) -> bool:
    """Whether a line between the points says that others follow: another parameter, end or link."""
    filled = [text for text in sheet.row_texts(row) if text]
    if len(filled) > 4:
        return False
    roles = FACT_ROLES | {"parameter", "end", "pair"}
    if any(pair.heading.role in roles for pair in pairs_in(sheet, [row])):
        return True
    said = [said_by_title(text) for text in filled[:2]]
    return any(one.parameter or one.end for one in said)


def _block(sheet: Sheet, band: list[int], rows: np.ndarray, above: list[int]) -> Block:
    texts = [sheet.row_texts(row) for row in band]
    columns = [
        col
        for col, column in enumerate(sheet.columns)
        if any(line[col] for line in texts) or (column.codes[rows] != 0).any()
    ]
    return Block(sheet, band, rows, columns, spread_headings(sheet, band, texts, columns), list(above), "sweep")


def _add(found: list[tuple[Block, list[Use]]], block: Block, columns: list[Use]) -> None:
    """One more table, or more points of the last: the same headings come again after a page break."""
    if found:
        last, uses = found[-1]
        same = last.headings == block.headings and last.columns == block.columns
        if (
            same
            and not any(_begins_another(block.sheet, row) for row in block.above)
            and last.heading_rows != block.heading_rows
        ):
            found[-1] = (replace(last, data_rows=np.concatenate([last.data_rows, block.data_rows])), uses)
            return
    found.append((block, columns))


def _without(sheet: Sheet, blocks: list[Block]) -> Sheet:
    """The sheet with some tables and their titles blank, so that other tables are found between them."""
    gone = np.concatenate([np.r_[_title_rows(sheet, block), block.heading_rows, block.data_rows] for block in blocks])
    columns = []
    for column in sheet.columns:
        codes = column.codes.copy()
        codes[gone] = 0
        columns.append(replace(column, codes=codes))
    return replace(sheet, columns=columns)


def _title_rows(sheet: Sheet, block: Block) -> np.ndarray:
    """The lines directly above a table, blank ones passed over, that say what its curves are."""
    titles = []
    for row in reversed(block.above):
        texts = [text for text in sheet.row_texts(row) if text]
        if not texts:
            continue
        said = [said_by_title(text) for text in texts[:2]]
        if len(texts) > 2 or not any(one.parameter or one.end for one in said):
            break
        titles.append(row)
    return np.asarray(titles, dtype=np.int64)
