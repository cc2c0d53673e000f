"""Cells to files: text in many dialects, workbooks, OpenDocument, Parquet, ZIP. A table is a list of rows of cells.

Cells are texts, numbers, dates, times or None. Nothing here knows what a cell means.
"""

from __future__ import annotations

import csv
import io
import zipfile
from dataclasses import dataclass, field
from datetime import date, datetime, time
from xml.sax.saxutils import escape, quoteattr

import pyarrow as pa
import pyarrow.parquet
import xlsxwriter

_EPOCH = datetime.fromisoformat("2026-05-04 12:00")


def text(rows, *, delimiter=",", encoding="utf-8", newline="\n", quote_all=False):
    """Rows as delimited text."""
    out = io.StringIO()
    quoting = csv.QUOTE_ALL if quote_all else csv.QUOTE_MINIMAL
    writer = csv.writer(out, delimiter=delimiter, lineterminator=newline, quoting=quoting)
    writer.writerows(["" if cell is None else cell for cell in row] for row in rows)
    return out.getvalue().encode(encoding)


@dataclass
class Sheet:
    """One sheet: cells, merges (first row, first column, last row, last column; from 0), hidden rows and columns.

    `formats` maps a column to a number format; `cell_formats` a (row, column) to one.
    """

    name: str
    rows: list
    merges: list = field(default_factory=list)
    hidden_rows: tuple = ()
    hidden_columns: tuple = ()
    formats: dict = field(default_factory=dict)
    cell_formats: dict = field(default_factory=dict)


def workbook(sheets, *, date_1904=False):
    """Sheets as an .xlsx workbook."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True, "date_1904": date_1904})
    book.set_properties({"created": _EPOCH})
    made = {}

    def style(number_format):
        if number_format not in made:
            made[number_format] = book.add_format({"num_format": number_format})
        return made[number_format]

    for sheet in sheets:
        page = book.add_worksheet(sheet.name)
        for first_row, first_col, last_row, last_col in sheet.merges:
            page.merge_range(first_row, first_col, last_row, last_col, sheet.rows[first_row][first_col])
        for r, row in enumerate(sheet.rows):
            for c, cell in enumerate(row):
                if cell is None or any(_covers(merge, r, c) for merge in sheet.merges):
                    continue
                _put(page, r, c, cell, sheet.cell_formats.get((r, c)) or sheet.formats.get(c), style)
        for r in sheet.hidden_rows:
            page.set_row(r, None, None, {"hidden": True})
        for c in sheet.hidden_columns:
            page.set_column(c, c, None, None, {"hidden": True})
    book.close()
    return out.getvalue()


def _covers(merge, r, c):
    return merge[0] <= r <= merge[2] and merge[1] <= c <= merge[3]


def _put(page, r, c, cell, number_format, style):
    if isinstance(cell, datetime):
        page.write_datetime(r, c, cell, style(number_format or "yyyy-mm-dd hh:mm"))
    elif isinstance(cell, date):
        page.write_datetime(r, c, cell, style(number_format or "yyyy-mm-dd"))
    elif isinstance(cell, time):
        page.write_datetime(r, c, cell, style(number_format or "hh:mm"))
    elif isinstance(cell, (int, float)):
        page.write_number(r, c, cell, style(number_format) if number_format else None)
    else:
        page.write_string(r, c, cell)


_MACRO_TYPE = "application/vnd.ms-excel.sheet.macroEnabled.main+xml"
_PLAIN_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"


def macro_workbook(sheets):
    """The same as .xlsm: the workbook's content type says so; it holds no macro."""
    with zipfile.ZipFile(io.BytesIO(workbook(sheets))) as plain:
        members = {name: plain.read(name) for name in plain.namelist()}
    types = "[Content_Types].xml"
    members[types] = members[types].replace(_PLAIN_TYPE.encode(), _MACRO_TYPE.encode())
    return packed(members)


_ODS_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?><office:document-content'
    ' xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"'
    ' xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"'
    ' xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.3">'
    "<office:body><office:spreadsheet>"
)
_ODS_TYPE = "application/vnd.oasis.opendocument.spreadsheet"
_ODS_MANIFEST = (
    '<?xml version="1.0" encoding="UTF-8"?>'
    '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0" manifest:version="1.3">'
    f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{_ODS_TYPE}"/>'
    '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>'
)


def open_document(sheets):
    """Sheets as .ods after OASIS OpenDocument 1.3, part 3; merges become spans, runs of blanks stay single cells."""
    parts = [_ODS_HEAD]
    for sheet in sheets:
        parts.append(f"<table:table table:name={quoteattr(sheet.name)}>")
        spans = {(a, b): (c - a + 1, d - b + 1) for a, b, c, d in sheet.merges}
        for r, row in enumerate(sheet.rows):
            cells = (_ods_cell(cell, spans.get((r, c))) for c, cell in enumerate(row))
            parts.append(f"<table:table-row>{''.join(cells)}</table:table-row>")
        parts.append("</table:table>")
    parts.append("</office:spreadsheet></office:body></office:document-content>")
    return packed({"mimetype": _ODS_TYPE, "content.xml": "".join(parts), "META-INF/manifest.xml": _ODS_MANIFEST})


def _ods_cell(cell, span):
    if cell is None:
        return "<table:table-cell/>"
    if isinstance(cell, datetime):
        kind, shown = f'date" office:date-value="{cell.isoformat()}', cell.isoformat(sep=" ")
    elif isinstance(cell, date):
        kind, shown = f'date" office:date-value="{cell.isoformat()}', cell.isoformat()
    elif isinstance(cell, (int, float)):
        kind, shown = f'float" office:value="{cell}', str(cell)
    else:
        kind, shown = "string", escape(str(cell))
    extent = f' table:number-rows-spanned="{span[0]}" table:number-columns-spanned="{span[1]}"' if span else ""
    return f'<table:table-cell office:value-type="{kind}"{extent}><text:p>{shown}</text:p></table:table-cell>'


def parquet(rows):
    """First row as names of columns; a column with any text in it becomes text."""
    names, *body = rows
    columns = {}
    for place, name in enumerate(names):
        cells = [row[place] for row in body]
        if any(isinstance(cell, str) for cell in cells):
            cells = [cell if cell is None or isinstance(cell, str) else str(cell) for cell in cells]
        columns[name] = pa.array(cells)
    out = pa.BufferOutputStream()
    pa.parquet.write_table(pa.table(columns), out)
    return out.getvalue().to_pybytes()


def packed(members):
    """Name -> bytes or text, as a ZIP with fixed dates."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            entry = zipfile.ZipInfo(name, date_time=(2026, 5, 4, 12, 0, 0))
            entry.compress_type = zipfile.ZIP_STORED if name == "mimetype" else zipfile.ZIP_DEFLATED
            archive.writestr(entry, data)
    return out.getvalue()
