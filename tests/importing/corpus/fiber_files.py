"""Kinds of files, encodings and dialects of text."""

from __future__ import annotations

from corpus import files
from corpus.layout import Pen, layout, long, register, wide
from corpus.old_workbook import old_workbook
from corpus.truth import cables, fiber_links

KINDS, TEXT = "kinds of files", "encodings and dialects"


def _sheets():
    return [files.Sheet("Loss", wide(Pen(typed=True), fiber_links()))]


@layout(KINDS, "workbook .xlsx with numbers and dates as such")
def kind_xlsx():
    return {"results.xlsx": files.workbook(_sheets())}


@layout(KINDS, "workbook .xlsm (without a macro)")
def kind_xlsm():
    return {"results.xlsm": files.macro_workbook(_sheets())}


def _dates_as_text():
    spelled, rows = Pen(), wide(Pen(typed=True), fiber_links())
    for row, link in zip(rows[1:], fiber_links(), strict=True):
        row[rows[0].index("Date")] = spelled.fact(link, "date")
        row[rows[0].index("Time")] = spelled.fact(link, "time")
    return rows


@layout(KINDS, "workbook .xls from before 2007, one sheet for each cable below a cover, dates as text")
def kind_xls():
    head, *body = _dates_as_text()
    sheets = [files.Sheet("Cover", [["Invented site"], ["Handed over by", "crew K"]])]
    for cable, links in cables().items():
        labels = {link.label for link in links}
        sheets.append(files.Sheet(cable, [head, *(row for row in body if row[0] in labels)]))
    return {"results.xls": old_workbook(sheets)}


@layout(KINDS, "OpenDocument .ods")
def kind_ods():
    return {"results.ods": files.open_document(_sheets())}


@layout(KINDS, "Parquet, wide")
def kind_parquet_wide():
    return {"results.parquet": files.parquet(wide(Pen(typed=True), fiber_links()))}


@layout(KINDS, "Parquet, long")
def kind_parquet_long():
    return {"results.parquet": files.parquet(long(Pen(typed=True), fiber_links()))}


@layout(KINDS, "tab-separated .tsv")
def kind_tsv():
    return {"results.tsv": files.text(wide(Pen(), fiber_links()), delimiter="\t")}


@layout(KINDS, "pipes in .txt")
def kind_txt_pipe():
    return {"results.txt": files.text(wide(Pen(), fiber_links()), delimiter="|")}


@layout(KINDS, "ZIP with one text file for each cable, in folders")
def kind_zip_per_cable():
    return {
        "all.zip": files.packed({f"site/{n}/{n}.csv": files.text(wide(Pen(), links)) for n, links in cables().items()})
    }


@layout(KINDS, "ZIP of text, workbook, OpenDocument and Parquet")
def kind_zip_mixed():
    text, typed = Pen(), Pen(typed=True)
    one, two, three, four = cables().values()
    return {"mixed.zip": files.packed({
        "a.csv": files.text(wide(text, one)),
        "b.xlsx": files.workbook([files.Sheet("Loss", wide(typed, two))]),
        "c.ods": files.open_document([files.Sheet("Loss", wide(typed, three))]),
        "d.parquet": files.parquet(wide(typed, four)),
    })}  # fmt: skip


def _dialect(name, what, extension="csv", pen=None, **how):
    pen = pen or Pen()

    def write():
        return {f"results.{extension}": files.text(wide(pen, fiber_links()), **how)}

    register(name, TEXT, what, write)


_COMMA = Pen(decimal=",")
_dialect("utf8_byte_order_mark", "UTF-8 with byte order mark", encoding="utf-8-sig")
_dialect("utf8_semicolon", "UTF-8, semicolons, decimal comma", pen=_COMMA, delimiter=";")
_dialect(
    "utf16_little_endian", "UTF-16 little-endian with mark, tabs", encoding="utf-16", delimiter="\t", extension="txt"
)
_dialect("windows_line_ends", "Windows line ends", newline="\r\n")
_dialect("mac_line_ends", "old Mac line ends", newline="\r")
_dialect("everything_quoted", "every cell in quotes", quote_all=True)
_dialect("comma_and_decimal_comma", "commas between quoted cells that hold decimal commas", pen=_COMMA, quote_all=True)
_dialect("pipe_decimal_comma", "pipes and decimal comma", pen=_COMMA, delimiter="|")
_dialect("tab_decimal_comma", "tabs and decimal comma", pen=_COMMA, delimiter="\t", extension="txt")


@layout(TEXT, "UTF-16 big-endian with mark")
def utf16_big_endian():
    return {"results.csv": b"\xfe\xff" + files.text(wide(Pen(), fiber_links()), encoding="utf-16-be")}


@layout(TEXT, "UTF-16 little-endian without mark")
def utf16_without_mark():
    return {"results.csv": files.text(wide(Pen(), fiber_links()), encoding="utf-16-le")}


@layout(TEXT, "Mac code page with old Mac line ends and µ in the headings")
def mac_roman():
    rows = wide(Pen(), fiber_links(), heading=lambda nm, way: f"Loss {way} {nm / 1000:g} µm (dB)")
    return {"results.txt": files.text(rows, encoding="mac-roman", newline="\r", delimiter="\t")}


@layout(TEXT, "quoted newlines in remarks and headings")
def quoted_newlines():
    head, *body = wide(Pen(), fiber_links(), heading=lambda nm, way: f"Loss {nm} nm\n{way} (dB)")
    rows = [[*head, "Remark"]]
    rows += [[*row, 'cleaned,\nthen tested again; "good"' if n % 7 == 0 else ""] for n, row in enumerate(body)]
    return {"newlines.csv": files.text(rows)}


@layout(TEXT, "ragged rows: blanks at the end of a row are left out")
def ragged_rows():
    rows = wide(Pen(), fiber_links(), tail=("verdict",))
    turned = [[*row[:11], row[-1], *row[11:-1]] for row in rows]
    cut = []
    for row in turned:
        filled = [place for place, cell in enumerate(row) if cell not in {None, ""}]
        cut.append(row[: filled[-1] + 1])
    return {"ragged.csv": files.text(cut)}


@layout(TEXT, "a line `sep=;` before everything")
def separator_line():
    return {"results.csv": b"sep=;\r\n" + files.text(wide(_COMMA, fiber_links()), delimiter=";", newline="\r\n")}


@layout(TEXT, "blanks around every cell")
def blanks_around_cells():
    rows = [[None if cell is None else f"  {cell} " for cell in row] for row in wide(Pen(), fiber_links())]
    return {"padded.csv": files.text(rows)}


@layout(TEXT, "non-breaking blanks in headings and cells, composed letters apart")
def unusual_blanks():
    nbsp, thin = "\u00a0", "\u202f"
    rows = wide(Pen(unit_in_cell=True), fiber_links(), heading=lambda nm, way: f"Loss{nbsp}{nm}{thin}nm {way} (dB)")
    return {
        "blanks.csv": files.text([[cell.replace(" dB", nbsp + "dB") if cell else cell for cell in row] for row in rows])
    }
