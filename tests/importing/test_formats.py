"""Every kind of file that is gathered is read; the workbooks are written byte by byte, the values here by hand."""

import io

import pytest
from workbook_bytes import biff8, compound_file, ods, ods_row, xlsx, xlsx_text

from analyzer.importing import Source, read_source

ROWS = [("Link", "Loss 850 nm (dB)", "Length (m)"), ("L1", 0.4, 120.0), ("L2", 0.51, 121.5)]


def text(delimiter):
    return "\n".join(delimiter.join(map(str, row)) for row in ROWS).encode()


def xls():
    cells = {(row, col): value for row, cells in enumerate(ROWS) for col, value in enumerate(cells)}
    return compound_file({"Workbook": biff8(cells)})


def written_by(engine):
    buffer = io.BytesIO()
    if engine == "parquet":
        import pyarrow as pa
        import pyarrow.parquet as pq

        pq.write_table(pa.table({name: [row[at] for row in ROWS[1:]] for at, name in enumerate(ROWS[0])}), buffer)
    else:
        import openpyxl

        book = openpyxl.Workbook()
        for row in ROWS:
            book.active.append(row)
        book.save(buffer)
    return buffer.getvalue()


FILES = {
    "r.csv": lambda: text(","), "r.tsv": lambda: text("\t"), "r.txt": lambda: text("|"), "r.xls": xls,
    "r.ods": lambda: ods("".join(ods_row(*row) for row in ROWS)), "r.parquet": lambda: written_by("parquet"),
    "r.xlsx": lambda: written_by("openpyxl"), "r.xlsm": lambda: written_by("openpyxl"),
}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_the_same_table_in_every_kind_of_file(name):
    imported = read_source(Source(name, FILES[name]()))
    assert imported.records["label"].tolist() == ["L1", "L2"]
    assert imported.records["length_m"].tolist() == [120, 121.5]
    assert imported.readings["value"].tolist() == [0.4, 0.51]
    assert imported.set_aside.empty


def test_parquet_with_dates_whole_numbers_and_nothing():
    import datetime as dt

    import pyarrow as pa
    import pyarrow.parquet as pq

    buffer = io.BytesIO()
    table = pa.table(
        {
            "Link": pa.array(["L1", "L2"]).dictionary_encode(),
            "Loss 850 nm (dB)": [0.4, None],
            "Length (m)": [120, 121],
            "Tested at": [dt.datetime(2026, 3, 4, 10, 20), None],  # noqa: DTZ001 (times carry no zone)
        }
    )
    pq.write_table(table, buffer)
    imported = read_source(Source("r.parquet", buffer.getvalue()))
    assert imported.records["length_m"].tolist() == [120, 121]
    assert len(imported.readings) == 1
    assert str(imported.records["tested_at"][0]) == "2026-03-04 10:20:00"


@pytest.mark.parametrize(("date1904", "day"), [(False, "2026-03-04"), (True, "2030-03-05")])
def test_days_are_counted_from_the_base_of_the_workbook(date1904, day):
    # ECMA-376 part 1, 18.17.4.1: serial 1 is 1900-01-01 (with the leap day that never was), or serial 0 is 1904-01-01.
    rows = '<row r="1">' + "".join(xlsx_text(f"{letter}1", head) for letter, head in zip("ABC", ("Link", "Loss 850 nm (dB)", "Date"), strict=True)) + "</row>"  # fmt: skip
    rows += f'<row r="2">{xlsx_text("A2", "L1")}<c r="B2"><v>0.4</v></c><c r="C2" s="1"><v>46085</v></c></row>'
    imported = read_source(Source("r.xlsx", xlsx(rows, date1904=date1904)))
    assert str(imported.records["tested_at"][0].date()) == day
