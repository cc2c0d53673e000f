"""A file becomes cells: sheets of columns, each distinct text of a column held once.

`read_sheets` looks at the first bytes, not at the name: text with delimiters, workbooks (through calamine), Parquet.
Row and column numbers are those a spreadsheet shows; blank rows keep their number.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from analyzer.errors import FileUnreadable
from analyzer.importing.distinct import codes_at, matching
from analyzer.importing.source import EmptyFile, OwnOutput, Source
from analyzer.schema import OWN_MARK

if TYPE_CHECKING:
    from analyzer.importing.texts import Texts

TEXT, NUMBER, DATE, TRUTH = 0, 1, 2, 3
"""Kinds of cells: text as typed, a number, a date or time, true or false. Text files hold text alone."""

MAX_CELLS = 120_000_000
"""More cells than this are refused: no export of tests comes near, and memory is bounded by it."""


MANY = 2000
"""So many distinct texts of a column stay in Arrow."""


@dataclass
class CellColumn:
    """One column: `texts[codes[row]]` is the cell; code 0 is always the empty cell. `kinds` goes with `texts`."""

    codes: np.ndarray
    texts: Sequence[str]
    kinds: list[int] | None = None
    decimals: int = -1
    """Decimals that the number format shows; -1 unknown."""
    unit: str = ""
    """Unit that the number format shows."""
    stands: tuple[int, int] | None = None
    """Row shown and column of the one cell that a column for a line above the table was made from."""
    parsed: dict[Any, Any] = field(default_factory=dict, init=False, repr=False, compare=False)
    """What was made of the distinct texts before, by what it depends on."""

    def map(self, parse: Callable[[str, int], Any]) -> list[Any]:
        """`parse(text, kind)` for each distinct text, in the order of the codes."""
        kinds = self.kinds or [TEXT] * len(self.texts)
        return [parse(text, kind) for text, kind in zip(self.texts, kinds, strict=True)]

    def at(self, rows: np.ndarray) -> np.ndarray:
        """Codes of some rows, which rise; not to be written to."""
        return codes_at(self.codes, rows)


@dataclass
class Sheet:
    """The cells of one sheet or text file. `rows[i]` is the row number a spreadsheet shows for cell row `i`."""

    name: str | None
    columns: list[CellColumn]
    rows: np.ndarray
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    """Merged ranges: first row, first column, last row, last column, counted from 0."""
    hidden_rows: np.ndarray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    visible: bool = True
    encoding: str | None = None
    delimiter: str | None = None
    remarks: list[tuple[str, str]] = field(default_factory=list)
    """(code, sentence) of what a reader of the result should know."""

    origin: tuple[np.ndarray, np.ndarray] | None = None
    """Of a table made from a form or turned on its side: row shown and column of each cell; -1 for none."""
    kind: str = "upright"
    file: str = ""
    """Name of the file, as told to the user."""
    width: int = -1
    """Columns before any was added; -1 where none was."""
    unused: dict[int, str] = field(default_factory=dict)
    """Columns of a form that cannot be used, and why."""

    def place(self, rows: np.ndarray, cols: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Row shown and column of cells given by position; column -1 means the whole row."""
        if self.origin is None:
            return codes_at(self.rows, rows), np.where(cols < self.origin_width, cols, -1)
        inside = (cols >= 0) & (cols < self.origin[0].shape[1])
        safe = np.where(inside, cols, 0)
        shown = self.origin[0][rows, safe]
        return shown, np.where(inside | (self.kind == "transposed"), self.origin[1][rows, safe], -1)

    @property
    def origin_width(self) -> int:
        """Columns that stand in the file, without those added for facts above the table."""
        return self.width if self.width >= 0 else len(self.columns)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return len(self.rows), len(self.columns)

    def text(self, row: int, col: int) -> str:
        """One cell as text, empty beyond the last column."""
        if not 0 <= col < len(self.columns):
            return ""
        column = self.columns[col]
        return str(column.texts[column.codes[row]])

    def kind_at(self, row: int, col: int) -> int:
        """Kind of one cell."""
        column = self.columns[col]
        return column.kinds[column.codes[row]] if column.kinds else TEXT

    def row_texts(self, row: int) -> list[str]:
        """All cells of one row, without columns that were added for facts above a table."""
        return [column.texts[column.codes[row]] for column in self.columns[: self.origin_width]]


_NOTHING = b"\x00 \t\r\n\xef\xbb\xbf\xff\xfe"


def read_sheets(source: Source) -> list[Sheet]:
    """Every sheet of a file; one sheet without a name for a text file.

    Raises:
        EmptyFile: nothing stands in the file.
        FileUnreadable: broken, locked, or no table file at all.
        OwnOutput: this program wrote it.
    """
    from analyzer.importing import text_file, workbook

    data = source.data
    if not data[:4096].strip(_NOTHING) and not data.strip(_NOTHING):
        raise EmptyFile(source.name, "the file is empty", "export it again")
    if data[:4] == b"PAR1":
        sheets = _from_parquet(source)
    elif data[:4] in {b"PK\x03\x04", b"PK\x05\x06"} or data[:8] == bytes.fromhex("D0CF11E0A1B11AE1"):
        sheets = workbook.read(source)
    else:
        sheets = text_file.read(source)
    if any(_is_ours(sheet) for sheet in sheets):
        refuse_own(source)
    for sheet in sheets:
        sheet.file = source.name
    return sheets


def refuse_own(source: Source) -> None:
    """Raise the one sentence for a file that this program wrote."""
    raise OwnOutput(
        source.name, "this is an answer that cableproof wrote, not evidence", "give the export of the tester instead"
    )


def column_of(cells: Sequence[str], kinds: Sequence[int] | None = None, **extra: Any) -> CellColumn:
    """A column from its cells, each distinct (text, kind) held once. Texts are trimmed."""
    import pandas as pd

    if kinds is None:
        codes, uniques = pd.factorize(np.asarray(["", *cells], dtype=object))
        return merge_trimmed(codes[1:].astype(np.int32), [str(text) for text in uniques], None, **extra)
    index: dict[tuple[str, int], int] = {("", TEXT): 0}
    codes = np.fromiter(
        (index.setdefault(cell, len(index)) for cell in zip(cells, kinds, strict=True)), np.int32, len(cells)
    )
    return merge_trimmed(codes, [cell[0] for cell in index], [cell[1] for cell in index], **extra)


def merge_trimmed(codes: np.ndarray, texts: list[str], kinds: list[int] | None, **extra: Any) -> CellColumn:
    """Trim the distinct texts and let those that became equal share a code."""
    if kinds is None and not matching(texts, _TO_TRIM).any() and len(set(texts)) == len(texts):
        return _blank_first(codes, texts, extra)
    index: dict[tuple[str, int], int] = {("", TEXT): 0}
    trimmed = [text.strip(_BLANKS) for text in texts]
    if kinds and trimmed == texts and texts[:1] == [""] and len({*zip(texts, kinds, strict=True)}) == len(texts):
        return CellColumn(codes, texts, kinds, **extra)
    pairs = [(text, kind if text else TEXT) for text, kind in zip(trimmed, kinds or [TEXT] * len(trimmed), strict=True)]
    remap = np.fromiter((index.setdefault(pair, len(index)) for pair in pairs), np.int32, len(pairs))
    return CellColumn(
        remap[codes] if len(remap) else codes,
        [pair[0] for pair in index],
        [pair[1] for pair in index] if kinds is not None else None,
        **extra,
    )


_BLANKS = " \t\r\n\u00a0\u200b\ufeff\x00"
_TO_TRIM = r"^[ \t\r\n\x{a0}\x{200b}\x{feff}\x00]|[ \t\r\n\x{a0}\x{200b}\x{feff}\x00]$"


def _blank_first(codes: np.ndarray, texts: list[str], extra: dict[str, Any]) -> CellColumn:
    """Different trimmed texts: only the empty one must stand first."""
    if texts and texts[0] == "":
        return CellColumn(codes.astype(np.int32, copy=False), texts, **extra)
    if "" not in texts:
        return CellColumn((codes + 1).astype(np.int32), ["", *texts], **extra)
    blank = texts.index("")
    remap = np.arange(1, len(texts) + 1)
    remap[blank] = 0
    remap[blank + 1 :] -= 1
    return CellColumn(remap[codes].astype(np.int32), ["", *texts[:blank], *texts[blank + 1 :]], **extra)


def merge_trimmed_texts(codes: np.ndarray, texts: Texts) -> CellColumn:
    """The same for many texts, which stay in Arrow where they are different and trimmed."""
    import pyarrow as pa  # type: ignore[import-untyped]
    import pyarrow.compute as pc  # type: ignore[import-untyped]

    from analyzer.importing.texts import Texts

    if len(texts) < MANY or texts.matching(_TO_TRIM).any():
        return merge_trimmed(codes, list(texts), None)
    blank = pc.index(texts.array, "").as_py()
    if blank < 0:
        first = pa.array([""], pa.large_string())
        return CellColumn(codes + np.int32(1), Texts(pa.concat_arrays([first, texts.array])))
    order = np.concatenate([[blank], np.arange(blank), np.arange(blank + 1, len(texts))])
    moved = np.where(codes == blank, 0, codes + (codes < blank)).astype(np.int32)
    return CellColumn(moved, Texts(texts.array.take(pa.array(order))))


def number_text(value: float) -> str:
    """A number of a workbook as text: whole numbers without a decimal point, others as short as they are exact."""
    if value != value:  # noqa: PLR0124 (NaN is the one value that differs from itself)
        return "nan"
    if abs(value) < 1e15 and value == int(value):
        return str(int(value))
    return repr(value)


def typed_text(value: Any) -> tuple[str, int]:
    """A cell of a workbook as (text, kind)."""
    if isinstance(value, str):
        return value, TEXT
    if isinstance(value, bool):
        return ("true" if value else "false"), TRUTH
    if isinstance(value, (int, float)):
        return number_text(float(value)), NUMBER
    if isinstance(value, (dt.datetime, dt.date, dt.time)):
        return value.isoformat(sep=" ") if isinstance(value, dt.datetime) else value.isoformat(), DATE
    return ("" if value is None else str(value)), TEXT


def _is_ours(sheet: Sheet) -> bool:
    rows, _ = sheet.shape
    near = [*range(min(rows, 40)), *range(max(rows - 40, 0), rows)]
    return any(OWN_MARK in text for row in near for text in sheet.row_texts(row))


def _from_parquet(source: Source) -> list[Sheet]:
    import io

    import pyarrow as pa  # type: ignore[import-untyped]
    import pyarrow.parquet as pq  # type: ignore[import-untyped]

    try:
        table = pq.read_table(io.BytesIO(source.data))
    except (pa.ArrowException, OSError, ValueError) as error:
        raise FileUnreadable(source.name, "the Parquet file is broken", "write it again") from error
    columns = []
    for name, values in zip(table.column_names, table.columns, strict=True):
        cells = [(name, TEXT), *(typed_text(value) for value in values.to_pylist())]
        columns.append(column_of([cell[0] for cell in cells], [cell[1] for cell in cells]))
    return [Sheet(None, columns, np.arange(1, table.num_rows + 2))]
