"""Workbooks: cells through calamine; hidden rows, merged ranges and number formats from the XML inside.

Only the first rows are looked at for number formats. Nothing is evaluated: formulas show the value that was stored.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections import Counter
from typing import Any

import numpy as np

from analyzer.errors import FileUnreadable
from analyzer.importing.grid import NUMBER, TEXT, CellColumn, Sheet, merge_trimmed, refuse_own, typed_text
from analyzer.importing.source import EmptyFile, Source
from analyzer.importing.texts import contains
from analyzer.schema import OWN_MARK

_LARGEST_MEMBER = 1 << 30
MOST_CELLS_OF_SHEET = 40_000_000
"""Blanks counted: a million rows of 40 columns. No export comes near, and memory is bounded by it."""
_FORMAT_LOOK = 400_000
_FORMAT_ROWS = 60
_OLE = bytes.fromhex("D0CF11E0A1B11AE1")
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")


def read(source: Source) -> list[Sheet]:
    """Every sheet of a workbook that holds anything.

    Raises:
        FileUnreadable: broken, locked by a password, or larger inside than any export can be.
        EmptyFile: no sheet holds anything.
        OwnOutput: this program wrote it.
    """
    import python_calamine as calamine

    locked = FileUnreadable(
        source.name, "the workbook is locked by a password", "open it, save it without a password, and give that file"
    )
    if source.data[:8] == _OLE and _ENCRYPTED in source.data:
        raise locked
    inside = _Inside(source)
    if inside.is_binary:
        raise FileUnreadable(
            source.name,
            "binary workbooks (.xlsb) are not read",
            "open it in a spreadsheet program, save it as XLSX, and give that file",
        )
    try:
        book = calamine.CalamineWorkbook.from_filelike(io.BytesIO(source.data))
        sheets = [_sheet(source, book, meta, inside) for meta in book.sheets_metadata if _is_worksheet(meta)]
    except calamine.PasswordError as error:
        raise locked from error
    except (calamine.CalamineError, OSError, ValueError, zipfile.BadZipFile) as error:
        raise FileUnreadable(
            source.name,
            "the workbook is broken and cannot be opened",
            "open it in a spreadsheet program, save it again",
        ) from error
    filled = [sheet for sheet in sheets if sheet is not None]
    if not filled:
        raise EmptyFile(source.name, "no sheet of the workbook holds anything", "export it again")
    return filled


def _is_worksheet(meta: Any) -> bool:
    return str(meta.typ).rsplit(".", 1)[-1] == "WorkSheet"


def _sheet(source: Source, book: Any, meta: Any, inside: _Inside) -> Sheet | None:
    xml = inside.sheet_xml(meta.name)
    _refuse_absurd(source, meta.name, *_span(xml))
    raw = book.get_sheet_by_name(meta.name)
    _refuse_absurd(source, meta.name, raw.total_height, raw.total_width)
    rows = raw.to_python(skip_empty_area=False)
    while rows and not any(cell != "" for cell in rows[-1]):
        rows.pop()
    if not rows:
        return None
    hidden, formats = inside.look(xml)
    columns = []
    for number, cells in enumerate(zip(*rows, strict=True)):
        decimals, unit = formats.get(number, (-1, ""))
        columns.append(_column(cells, decimals, unit))
    return Sheet(
        meta.name,
        columns,
        np.arange(1, len(rows) + 1),
        merged=[(*first, *last) for first, last in (raw.merged_cell_ranges or [])],
        hidden_rows=hidden,
        visible=str(meta.visible).rsplit(".", 1)[-1] == "Visible",
    )


_FAR = r'r="([A-Z]{3}[0-9]|[A-Z]{1,2}[0-9]{6})'
_REFERENCE = re.compile(rb'\br="([A-Z]{1,3})(\d{1,7})"')


def _span(xml: bytes) -> tuple[int, int]:
    """Rows and columns that the cells of a sheet span, looked for only where one lies far out.

    The reader fills the whole span with blanks, so two cells in opposite corners would take hundreds of gigabytes.
    """
    if not contains(xml, _FAR):
        return 0, 0
    height = width = 0
    for found in _REFERENCE.finditer(xml):
        height = max(height, int(found[2]))
        width = max(width, column_number(found[1].decode()) + 1)
    return height, width


def _refuse_absurd(source: Source, sheet: str, height: int, width: int) -> None:
    if height * width > MOST_CELLS_OF_SHEET:
        raise FileUnreadable(
            source.name,
            f"sheet {sheet!r} spans {height:,} rows of {width:,} columns, which is too many",
            "delete what stands far outside the table, or export it as CSV",
        )


def _column(cells: tuple[Any, ...], decimals: int, unit: str) -> CellColumn:
    """A column from the values of a workbook: factorized as they are, each distinct value named once."""
    import pandas as pd

    values = np.empty(len(cells), dtype=object)
    values[:] = cells
    if bool in set(map(type, cells)):  # true equals 1, and would share its code
        values[:] = [str(cell).lower() if isinstance(cell, bool) else cell for cell in cells]
    codes, distinct = pd.factorize(values)
    typed = [("", TEXT), *(typed_text(value) for value in distinct)]
    return merge_trimmed(
        (codes + 1).astype(np.int32),
        [text for text, _ in typed],
        [kind for _, kind in typed],
        decimals=decimals,
        unit=unit,
    )


class _Inside:
    """The XML of an XLSX workbook, searched by pattern, never parsed: no entity is ever expanded."""

    def __init__(self, source: Source) -> None:
        self._zip: zipfile.ZipFile | None = None
        self.is_binary = False
        if source.data[:2] != b"PK":
            return
        try:
            self._zip = zipfile.ZipFile(io.BytesIO(source.data))
            self._check(source)
        except (zipfile.BadZipFile, RuntimeError, ValueError, OSError) as error:
            raise FileUnreadable(
                source.name, "the workbook is broken and cannot be opened", "export it again, or save it again"
            ) from error
        self.is_binary = "xl/workbook.bin" in self._zip.namelist()
        self._paths = self._sheet_paths()
        self._styles = self._cell_formats()

    def _check(self, source: Source) -> None:
        assert self._zip is not None
        sizes = [(info.file_size, max(info.compress_size, 1)) for info in self._zip.infolist()]
        if sum(size for size, _ in sizes) > _LARGEST_MEMBER or any(s > 1 << 24 and s / c > 400 for s, c in sizes):
            raise FileUnreadable(
                source.name, "the workbook swells to an absurd size when opened", "export it again as CSV"
            )
        for name in ("docProps/core.xml", "docProps/app.xml", "docProps/custom.xml"):
            if OWN_MARK.encode() in self._member(name):
                refuse_own(source)

    def _member(self, name: str, most: int = -1) -> bytes:
        try:
            assert self._zip is not None
            with self._zip.open(name) as handle:
                return handle.read(most)
        except (KeyError, OSError, RuntimeError, zipfile.BadZipFile, EOFError, ValueError, zlib.error):
            return b""

    def _sheet_paths(self) -> dict[str, str]:
        import html

        relations = self._member("xl/_rels/workbook.xml.rels").decode("utf-8", "replace")
        targets = {}
        for tag in re.findall(r"<Relationship\b[^>]*>", relations):
            key, target = re.search(r'\bId="([^"]*)"', tag), re.search(r'\bTarget="([^"]*)"', tag)
            if key and target:
                path = target[1]
                targets[key[1]] = path[1:] if path.startswith("/") else "xl/" + path
        paths = {}
        for tag in re.findall(r"<sheet\b[^>]*>", self._member("xl/workbook.xml").decode("utf-8", "replace")):
            name, key = re.search(r'\bname="([^"]*)"', tag), re.search(r'\br:id="([^"]*)"', tag)
            if name and key and key[1] in targets:
                paths[html.unescape(name[1])] = targets[key[1]]
        return paths

    def _cell_formats(self) -> list[str]:
        import html

        styles = self._member("xl/styles.xml").decode("utf-8", "replace")
        own = {
            int(number): html.unescape(code)
            for number, code in re.findall(r'<numFmt\b[^>]*?numFmtId="(\d+)"[^>]*?formatCode="([^"]*)"', styles)
        }
        builtin = {1: "0", 2: "0.00", 3: "#,##0", 4: "#,##0.00", 10: "0.00%", 11: "0.00E+00"}
        part = re.search(r"<cellXfs\b.*?</cellXfs>", styles, re.DOTALL)
        numbers = re.findall(r'<xf\b[^>]*?numFmtId="(\d+)"', part[0]) if part else []
        return [own.get(int(number), builtin.get(int(number), "")) for number in numbers]

    def sheet_xml(self, sheet: str) -> bytes:
        """The XML of a sheet of an XLSX workbook; empty for other kinds."""
        return self._member(self._paths[sheet]) if self._zip is not None and sheet in self._paths else b""

    def look(self, xml: bytes) -> tuple[np.ndarray, dict[int, tuple[int, str]]]:
        """Hidden rows (numbers as shown) and, per column, decimals and unit that the number format shows."""
        hidden = []
        if b'hidden="' in xml:
            for tag in re.findall(rb'<row\b[^>]*\bhidden="(?:1|true)"[^>]*>', xml):
                number = re.search(rb'\br="(\d+)"', tag)
                if number:
                    hidden.append(int(number[1]))
        votes: dict[int, Counter[str]] = {}
        for letters, row, style in re.findall(
            rb'<c r="([A-Z]{1,3})(\d+)" s="(\d+)"(?: t="n")?>\s*<v>', xml[:_FORMAT_LOOK]
        ):
            if int(row) <= _FORMAT_ROWS and int(style) < len(self._styles):
                votes.setdefault(column_number(letters.decode()), Counter())[self._styles[int(style)]] += 1
        formats = {col: read_format(count.most_common(1)[0][0]) for col, count in votes.items()}
        return np.array(hidden, dtype=np.int64), formats


def column_number(letters: str) -> int:
    """`A` is 0, `Z` is 25, `AA` is 26."""
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number - 1


def read_format(code: str) -> tuple[int, str]:
    """Decimals and unit of a number format: `0.00" dB"` gives (2, "dB"); (-1, "") where it does not tell."""
    first = code.split(";", maxsplit=1)[0]
    words = re.findall(r'"([^"]*)"', first)
    bare = re.sub(r'"[^"]*"|\\.|\[[^\]]*\]|_.', "", first)
    if "%" in bare or re.search(r"[ymdhs]", bare, re.IGNORECASE) or "E" in bare:
        return -1, ""
    number = re.search(r"[0#?](?:\.([0#?]+))?$", bare.strip())
    if not number:
        return -1, ""
    unit = " ".join(word.strip() for word in words if word.strip())
    return (len(number[1]) if number[1] and "#" not in number[1] else (-1 if number[1] else 0)), unit


__all__ = ["NUMBER", "CellColumn", "column_number", "read", "read_format"]
