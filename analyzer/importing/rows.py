"""Which rows of a table are data, which are furniture, and what each data row is called.

Furniture: blank rows, totals and averages, notes after the table. A row with readings and no label is data, set aside.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from analyzer.importing import facts
from analyzer.importing.blocks import Block
from analyzer.importing.cells import looks_like_number
from analyzer.importing.columns import Use
from analyzer.importing.distinct import where
from analyzer.importing.grid import CellColumn
from analyzer.importing.row_labels import OF_LINK, label_cells
from analyzer.importing.words import plain, word

_SUMS = {"total", "subtotal", "average", "mean", "sum", "mittelwert", "summe", "moyenne", "promedio", "gemiddelde"}
_NAMED_BY = {"label", "cable", "strand", "record number", "end A label"}


@dataclass
class Rows:
    """The data rows of a block. `data` are positions in the sheet; `label` holds the label of each, empty if none."""

    data: np.ndarray
    label: CellColumn
    cable: np.ndarray | None = None
    strand: np.ndarray | None = None
    furniture: int = 0
    filled_from: np.ndarray | None = None
    """Of each data row whose label was filled in, the position in the sheet of the row it came from; else -1."""
    seeds: list[tuple[str, str]] = field(default_factory=list)
    cable_from: np.ndarray | None = None
    """Of each data row whose cable was filled in, the position in the sheet of the row that names it; else -1."""

    @property
    def labels(self) -> np.ndarray:
        """The labels as an object array of texts."""
        return np.asarray(np.asarray(self.label.texts, dtype=object)[self.label.codes])


def _flags(column: CellColumn, rows: np.ndarray, test: Callable[[str], object], candidates: str) -> np.ndarray:
    each = where(column.texts, candidates, lambda text: bool(text and test(text)), otherwise=False, dtype=bool)
    return np.asarray(each[column.at(rows)]) if each.any() else np.zeros(len(rows), dtype=bool)


def reading_columns(uses: list[Use]) -> list[Use]:
    """Columns whose cells are readings."""
    return [use for use in uses if use.role == "value"]


def classify(block: Block, uses: list[Use]) -> Rows:
    """The data rows of a block, with their labels."""
    sheet, rows = block.sheet, block.data_rows
    filled = np.zeros(len(rows), dtype=np.int32)
    for use in uses:
        filled += sheet.columns[use.col].at(rows) != 0
    readings = np.zeros(len(rows), dtype=bool)
    for use in reading_columns(uses):
        readings |= sheet.columns[use.col].at(rows) != 0
    keep = filled > 0
    beside, told = _printed(block, uses, rows, readings)
    label, cable, strand, seeds = label_cells(block, uses, rows, keep & (readings | beside))
    named = label.codes != 0
    total = _totals(block, uses, rows)
    sparse = ~total & keep & ~readings & (filled <= 2)
    note = sparse & (
        ~(named | told) | (named & _unlike_the_others(label, (readings | beside) & named & ~total, filled))
    )
    spare = ~total & keep & ~told & ~named & (filled < max(2, len(uses) // 2))
    data = keep & ~total & ~note & ~spare
    sources, cables = _sources(block, uses, rows, named), _cable_sources(block, uses, rows, named)
    if data.all():
        return Rows(rows, label, cable, strand, 0, sources, seeds, cables)
    result = Rows(rows[data], replace(label, codes=label.codes[data]), furniture=int((~data).sum()), seeds=seeds)
    result.cable = None if cable is None else cable[data]
    result.strand = None if strand is None else strand[data]
    result.filled_from = None if sources is None else sources[data]
    result.cable_from = None if cables is None else cables[data]
    return result


def _printed(block: Block, uses: list[Use], rows: np.ndarray, readings: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rows that hold a margin, and rows that hold a value or anything that is printed beside values."""
    margins, told = np.zeros(len(rows), dtype=bool), readings.copy()
    bare = ~readings
    for use in uses if bare.any() else []:
        if use.role in {"margin", "limit", "verdict"}:
            says = facts.verdict if use.role == "verdict" else looks_like_number
            at = np.zeros(len(rows), dtype=bool)
            at[bare] = _flags(block.sheet.columns[use.col], rows[bare], says, "")
            told |= at
            if use.role == "margin":
                margins |= at
    return margins, told


def _sources(block: Block, uses: list[Use], rows: np.ndarray, named: np.ndarray) -> np.ndarray | None:
    """Positions in the sheet of the rows from which labels were filled in; -1 for rows with a label of their own."""
    naming = [use for use in uses if use.role in {"label", "cable", "strand"}]
    own = np.zeros(len(rows), dtype=bool)
    for use in naming:
        own |= block.sheet.columns[use.col].at(rows) != 0
    if own[named].all():
        return None
    last = np.maximum.accumulate(np.where(own, np.arange(len(rows)), -1))
    return np.where(named & ~own & (last >= 0), rows[np.maximum(last, 0)] if len(rows) else rows, -1)


def _cable_sources(block: Block, uses: list[Use], rows: np.ndarray, named: np.ndarray) -> np.ndarray | None:
    """The same for rows that name a strand, under a row that names its cable as well."""
    at = {use.role: use for use in reversed(uses) if use.role in {"cable", "strand"}}
    if len(at) < 2:
        return None
    own = block.sheet.columns[at["cable"].col].at(rows) != 0
    blank = named & ~own & (block.sheet.columns[at["strand"].col].at(rows) != 0)
    if not blank.any():
        return None
    last = np.maximum.accumulate(np.where(own, np.arange(len(rows)), -1))
    return np.where(blank & (last >= 0), rows[np.maximum(last, 0)], -1)


def _totals(block: Block, uses: list[Use], rows: np.ndarray) -> np.ndarray:
    """Rows that sum up others: a word such as total or average where the label stands, or in the first column."""
    total = np.zeros(len(rows), dtype=bool)
    first = block.columns[0]
    naming = {use.col for use in uses if use.role in _NAMED_BY or (use.col == first and use.role == "ignored")}
    for col in naming:
        total |= _flags(block.sheet.columns[col], rows, _is_total, _NO_DIGIT_FIRST)
    return total


_NO_DIGIT_FIRST = r"^\P{N}*?([\s\p{Z}\x1c-\x1f\x85:(]|$)"
"""No word of a total has a digit in it."""


def _is_total(text: str) -> bool:
    bare = plain(text).strip(" :=.")
    if word("total", bare):
        return True
    first = re.split(r"[ :(]", bare, maxsplit=1)[0]
    return bool(word("total", first)) and len(bare.split()) <= 4 and (":" in bare or first in _SUMS)


def shape(text: str) -> str:
    """Form of a label: digits as 9, letters as a, runs collapsed."""
    return re.sub(r"[^\W\d_]+", "a", re.sub(r"\d+", "9", text))


def _unlike_the_others(label: CellColumn, sure: np.ndarray, filled: np.ndarray) -> np.ndarray:
    """Rows with hardly a cell but the first, whose text has not the form of the labels in rows with readings."""
    lonely = (filled <= 2) & (label.codes != 0) & ~sure
    out = np.zeros(len(lonely), dtype=bool)
    if not lonely.any():
        return out
    known = {shape(label.texts[code]) for code in np.unique(label.codes[sure]).tolist()}
    at = np.flatnonzero(lonely)
    out[at] = [not _could_be_label(label.texts[code], known) for code in label.codes[at].tolist()]
    return out


def _could_be_label(text: str, known: set[str]) -> bool:
    """Form of a label in the same table, or one word with a digit in it; no word that begins a note.

    Where no row tells what a label of the table looks like, several words with a digit in them may be one.
    """
    if word("note", text.split(" ", maxsplit=1)[0].strip(":")) or text.startswith("*"):
        return False
    has_digit = any(letter.isdigit() for letter in text)
    return shape(text) in known or (has_digit and (" " not in text or not known))


def facts_filled_down(block: Block, filled: Rows) -> Callable[[Use], CellColumn]:
    """Cells of a fact column, those that were written once for several rows taken from where they stand.

    Beside labels that were filled in, from the row of the label; beside cables that were filled in, from the row of the
    cable, if the column is blank in all such rows; and where a merged range covers the row, from its first cell.
    """

    def column_of(use: Use) -> CellColumn:
        column = block.sheet.columns[use.col]
        if use.role not in OF_LINK:
            return column
        codes = _merged_codes(block, use.col, column.codes)
        for source, only_if_blank in ((filled.filled_from, False), (filled.cable_from, True)):
            if source is None or not (source >= 0).any():
                continue
            blank = (source >= 0) & (codes[filled.data] == 0)
            if only_if_blank and (blank != (source >= 0)).any():
                continue
            codes = codes.copy()
            codes[filled.data[blank]] = codes[source[blank]]
        return column if codes is column.codes else replace(column, codes=codes)

    return column_of


def _merged_codes(block: Block, col: int, codes: np.ndarray) -> np.ndarray:
    """Codes of a column with every merged range showing its first cell in all its rows."""
    if not block.sheet.merged or not len(block.data_rows):
        return codes
    first, last = block.data_rows[0], block.data_rows[-1]
    spans = [
        (r0, r1) for r0, c0, r1, c1 in block.sheet.merged if c0 == col == c1 and first <= r0 < r1 <= last and codes[r0]
    ]
    if not spans:
        return codes
    out = codes.copy()
    for top, bottom in spans:
        out[top + 1 : bottom + 1] = np.where(out[top + 1 : bottom + 1] == 0, out[top], out[top + 1 : bottom + 1])
    return out
