"""Whole files through the whole way: what is read, what is set aside, what is told."""

import io

import numpy as np
import pandas as pd
import pytest

from analyzer import schema
from analyzer.errors import FileUnreadable, InputError
from analyzer.importing import Decisions, ReadContext, Source, read_source, settle

WIDE = """Test results, invented

Cable;Fiber;Type;Länge [m];850 nm;;1300 nm;;Date;Result
;;;;A-B;B-A;A-B;B-A;;
TB-01;1;OM4;120,5;0,42;0,45;0,33;0,35;25.03.2026;PASS
TB-01;2;OM4;120,5;0,52;---;0,43;<0,05;25.03.2026;PASS
TB-01;;OM4;120,5;0,52;1,0;0,43;abc;25.03.2026;FAIL

Average;;;;0,5;0,5;0,5;0,5;;
All tests made with one cord
"""

LONG = """Link ID,Wavelength (nm),Direction,Loss (dB),Limit (dB),Margin (dB),Status,Length (ft)
L1,850,A>B,0.42,1.5,1.08,PASS,100
L1,1300,A>B,0.32,1.2,0.88,PASS,
L2,850,A>B,OL,1.5,,FAIL,200
L2,1300,A>B,-0.32,1.2,0.88,PASS,abc
"""


def read(text, name="results.csv", context=None):
    return read_source(Source(name, text if isinstance(text, bytes) else text.encode()), context)


def accounts_add_up(imported):
    file, aside = imported.file, imported.set_aside
    assert file["rows_read"] == file["rows_used"] + file["rows_set_aside"]
    assert file["rows_used"] == len(imported.records)
    assert file["rows_set_aside"] == (aside["counts_as"] == "row").sum()
    assert file["cells_read"] == len(imported.readings) + (aside["counts_as"] == "reading cell").sum()
    assert file["cells_used"] == len(imported.readings)


def test_wide_table_with_two_levels_of_headings_and_decimal_comma():
    imported = read(WIDE)
    accounts_add_up(imported)
    readings = imported.readings
    assert readings["value"].tolist() == [0.42, 0.45, 0.33, 0.35, 0.52, 0.43, 0.05]
    assert readings["bound"].astype(object).tolist()[-1] == "below"
    assert readings["wavelength_nm"].tolist() == [850, 850, 1300, 1300, 850, 1300, 1300]
    assert readings["direction"].tolist() == ["A-B", "B-A", "A-B", "B-A", "A-B", "A-B", "B-A"]
    assert imported.records["label"].tolist() == ["TB-01-1", "TB-01-2"]
    assert imported.records["length_m"].tolist() == [120.5, 120.5]
    assert imported.records["type"].tolist() == ["OM4", "OM4"]
    assert imported.records["tested_at"].tolist() == [pd.Timestamp("2026-03-25")] * 2
    assert imported.file["decimal_mark"] == ","
    assert imported.file["furniture_rows"] == 7  # title, blank, two headings, blank, average, note


def test_every_table_has_the_form_of_the_schema():
    imported = read(WIDE)
    for name in ("blocks", "columns", "records", "readings", "set_aside"):
        frame = getattr(imported, name)
        pd.testing.assert_frame_equal(frame, schema.conform(name, frame))
    assert set(imported.file) == set(schema.TABLES["files"])


def test_long_table_pools_facts_of_one_label_and_keeps_limit_margin_verdict():
    imported = read(LONG)
    accounts_add_up(imported)
    assert np.allclose(imported.records["length_m"], [30.48, 30.48, 60.96, 60.96])
    assert imported.readings["declared_limit"].tolist() == [1.5, 1.2, 1.5, 1.2]
    assert imported.readings["declared_margin"].tolist()[:2] == [1.08, 0.88]
    assert imported.readings["declared_verdict"].tolist() == ["pass", "pass", "fail", "pass"]
    assert imported.readings["bound"].astype(object).tolist()[2] == "over range"
    assert np.isnan(imported.readings["value"][2])
    assert imported.set_aside["code"].tolist() == ["not-a-fact"]


def test_row_numbers_are_those_of_a_spreadsheet():
    imported = read("\n\nLink,Loss 850 nm (dB)\n\nL1,0.4\n\n\nL2,0.5\n")
    assert imported.records["row"].tolist() == [5, 8]


def test_one_column_of_negative_losses_is_gain_and_one_negative_value_is_not():
    gain = read("Link,Loss 850 nm (dB)\nL1,-0.40\nL2,-0.51\n")
    assert gain.readings["value"].tolist() == [0.40, 0.51]
    assert "gain-notation" in gain.seeds["code"].tolist()
    mixed = read("Link,Loss 850 nm (dB)\nL1,-0.40\nL2,0.51\n")
    assert mixed.readings["value"].tolist() == [-0.40, 0.51]
    drift = read("Link,Loss 850 nm (dB)\nL1,-0.04\nL2,-0.05\n")
    assert drift.readings["value"].tolist() == [-0.04, -0.05]


def test_decimal_mark_of_one_link_files_is_settled_over_all_of_them():
    ambiguous = read("Link;Length (m);Loss 850 nm (dB)\nL1;1,234;1,250\n")
    assert set(ambiguous.set_aside["code"]) == {"not-a-fact", "ambiguous-number"}
    clear = read("Link;Length (m);Loss 850 nm (dB)\nL2;99,5;0,41\n")
    decisions = settle([ambiguous.tallies, clear.tallies])
    assert decisions == settle([clear.tallies, ambiguous.tallies])
    again = read("Link;Length (m);Loss 850 nm (dB)\nL1;1,234;1,250\n", context=ReadContext(decisions))
    assert again.readings["value"].tolist() == [1.25]
    assert again.records["length_m"].tolist() == [1.234]
    assert isinstance(hash(decisions), int)
    assert decisions.only(frozenset()) == Decisions()


def test_length_without_unit_is_carried_beside_and_told():
    imported = read("Link,Length,Loss 850 nm (dB)\nL1,120,0.4\nL2,120 m,0.5\n")
    assert np.isnan(imported.records["length_m"][0])
    assert imported.records["length_unstated"][0] == 120
    assert imported.records["length_m"][1] == 120
    assert "unit-not-stated" in imported.seeds["code"].tolist()


def test_power_level_alone_is_set_aside_and_beside_a_reference_becomes_loss():
    alone = read("Link,Power 850 nm (dBm)\nL1,-20.5\n")
    assert alone.set_aside["code"].tolist() == ["power-level"]
    accounts_add_up(alone)
    beside = read("Link,Reference power (dBm),Power 850 nm (dBm)\nL1,-20.0,-20.5\nL2,-20.0,-21.0\n")
    assert beside.readings["value"].tolist() == [0.5, 1.0]


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf\r\n \r\n", "empty"),
        (bytes(range(256)) * 20, "not text"),
        (b"PK\x03\x04" + b"rubbish" * 50, "broken"),
        (bytes.fromhex("D0CF11E0A1B11AE1") + "EncryptedPackage".encode("utf-16-le") * 2 + b"\x00" * 600, "password"),
        (bytes.fromhex("D0CF11E0A1B11AE1") + b"\x00" * 600, "broken"),
        (b"Link,850 nm,1300 nm\nL1,0,42,0,33\nL2,0,52,0,43\n", "more fields than headings"),
        (b"dear all,\nthis is a letter\n", "no table"),
        (b"Link,Length (m),Loss 850 nm (dB)\n", "no row under"),
        (b'{"format": "cableproof-check/1", "links": []}', "answer that cableproof wrote"),
        (b"Computed with cableproof from the records named\nLink,Loss 850 nm (dB)\nL1,0.4\n", "answer that cableproof"),
        (b"<!doctype html><html><p>Computed with cableproof</p></html>", "answer that cableproof"),
        (b"<html><table><tr><td>Link</td></tr></table></html>", "a page"),
    ],
)
def test_bad_files_are_refused_in_one_sentence(data, says):
    with pytest.raises(InputError) as caught:
        read(data, "results.csv")
    assert isinstance(caught.value, FileUnreadable)
    assert says in str(caught.value)
    assert str(caught.value).startswith("results.csv: ")
    assert "\n" not in str(caught.value)
    assert caught.value.mend


def workbook(fill):
    import xlsxwriter

    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer)
    fill(book)
    book.close()
    return buffer.getvalue()


def test_workbook_with_merged_headings_hidden_row_and_units_in_the_format():
    def fill(book):
        sheet = book.add_worksheet("Results")
        book.add_worksheet("Readme").write(0, 0, "invented")
        db, m = book.add_format({"num_format": '0.00" dB"'}), book.add_format({"num_format": '0.0" m"'})
        sheet.merge_range(2, 0, 3, 0, "Cable")
        sheet.merge_range(2, 1, 3, 1, "Fibre")
        sheet.merge_range(2, 2, 2, 3, "850 nm")
        sheet.merge_range(2, 4, 3, 4, "Length")
        sheet.write_row(3, 2, ["A>B", "B>A"])
        sheet.merge_range(4, 0, 6, 0, "TB-07")
        for row in range(3):
            sheet.write(4 + row, 1, row + 1)
            sheet.write(4 + row, 2, 0.5 + row, db)
            sheet.write(4 + row, 3, 0.25 + row, db)
            sheet.write(4 + row, 4, 120 + row, m)
        sheet.set_row(5, None, None, {"hidden": True})

    imported = read(workbook(fill), "results.xlsx")
    accounts_add_up(imported)
    assert imported.records["label"].tolist() == ["TB-07-1", "TB-07-2", "TB-07-3"]
    assert imported.records["length_m"].tolist() == [120, 121, 122]
    assert imported.readings["decimals"].tolist() == [2] * 6
    assert imported.readings["direction"].tolist() == ["A-B", "B-A"] * 3
    assert {"hidden-rows-read", "sheet-not-read", "unit-from-format"} <= set(imported.seeds["code"])


@pytest.mark.parametrize("mark", ["cell", "property"])
def test_our_own_workbook_is_refused(mark):
    def fill(book):
        sheet = book.add_worksheet("Links")
        sheet.write_row(0, 0, ["Link", "Loss 850 nm (dB)"])
        sheet.write_row(1, 0, ["L1", 0.4])
        if mark == "cell":
            sheet.write(3, 0, "Computed with cableproof from the records named; not a test instrument's record.")
        else:
            book.set_properties({"comments": "Computed with cableproof"})

    with pytest.raises(FileUnreadable, match="answer that cableproof wrote"):
        read(workbook(fill), "links.xlsx")


def test_a_schedule_sheet_is_found_by_name_and_a_wrong_name_is_told():
    from analyzer.importing import read_schedule

    def fill(book):
        book.add_worksheet("Cover").write(0, 0, "invented")
        sheet = book.add_worksheet("Cables")
        sheet.write_row(1, 0, ["Cable", "Strands", "Type", "Length (m)"])
        sheet.write_row(2, 0, ["T1", 2, "OS2", 80])

    source = Source("schedule.xlsx", workbook(fill))
    schedule, aside = read_schedule(source, sheet="cables")
    assert schedule["label"].tolist() == ["T1-01", "T1-02"]
    assert schedule["length_m"].tolist() == [80, 80]
    assert aside.empty
    with pytest.raises(FileUnreadable, match="Cover, Cables"):
        read_schedule(source, sheet="Kabel")
