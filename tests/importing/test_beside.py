"""What is printed beside values, above all beside blank ones: nothing of it is lost, and nothing becomes a value."""

import numpy as np
import pytest

from analyzer.importing import Source, read_source

LONG = (
    "Link,Parameter,Pair,End,Frequency (MHz),Value (dB),Limit (dB),Margin (dB),Result\n"
    "C-01,NEXT,1-2/3-6,A,100,40.1,35.3,4.8,PASS\n"
)
WIDE = (
    "Link,Type,Length (m),Loss 850 nm (dB),Limit 850 nm (dB),Margin 850 nm (dB),Result 850 nm,Loss 1300 nm (dB)\n"
    "F-01,OM4,100,0.9,1.9,1.0,PASS,0.8\n"
)


def read(text):
    imported = read_source(Source("a.csv", text.encode()))
    file, aside = imported.file, imported.set_aside
    assert file["rows_read"] == file["rows_used"] + file["rows_set_aside"]
    assert file["cells_read"] == len(imported.readings) + (aside["counts_as"] == "reading cell").sum()
    return imported


def told(imported):
    """Row, column and code of everything set aside."""
    aside = imported.set_aside
    return list(zip(aside["row"], aside["col"], aside["code"], strict=True))


def test_margin_beside_a_blank_value_is_a_reading_with_a_margin_and_no_value():
    imported = read(LONG + "C-01,NEXT,1-2/4-5,A,100,,35.3,3.2,PASS\n")
    one = imported.readings.iloc[1]
    assert (one["row"], one["col"], one["parameter"], one["pair"], one["end"]) == (3, 7, "NEXT", "1-2/4-5", "A")
    assert np.isnan(one["value"])
    assert (one["declared_margin"], one["declared_limit"], one["declared_verdict"]) == (3.2, 35.3, "pass")
    assert told(imported) == []


def test_margin_beside_not_measured_is_one_as_well():
    imported = read(LONG + "C-01,NEXT,1-2/4-5,A,100,n/a,,3.2,PASS\n")
    assert imported.readings["declared_margin"].tolist() == [4.8, 3.2]
    assert told(imported) == [(3, 5, "not-measured")]


def test_margin_worked_out_from_a_blank_is_no_evidence():
    wide = read(WIDE + "F-02,OM4,100,,1.9,1.9,,0.7\n")
    assert told(wide) == [(3, 5, "margin-of-blank")]
    assert wide.readings["declared_margin"].notna().sum() == 1
    assert told(read(LONG + "C-01,NEXT,1-2/4-5,A,100,,35.3,-35.3,\n")) == [(3, 7, "margin-of-blank")]


def test_limit_beside_a_blank_value_is_told():
    assert told(read(LONG + "C-01,NEXT,1-2/7-8,A,100,,35.3,,\n")) == [(3, 6, "beside-a-blank")]


def test_verdict_of_one_column_beside_a_blank_value_is_a_reading():
    imported = read(WIDE + "F-02,OM4,100,,,,FAIL,0.7\n")
    one = imported.readings[imported.readings["record"] == 1].iloc[0]
    assert (one["col"], one["parameter"], one["wavelength_nm"], one["declared_verdict"]) == (6, "loss", 850, "fail")
    assert np.isnan(one["value"])


def test_margin_of_two_directions_stands_in_only_where_neither_is_there():
    text = (
        "Link,Loss 850 nm A-B (dB),Loss 850 nm B-A (dB),Margin 850 nm (dB)\n"
        "F-01,0.9,1.0,0.9\nF-02,0.9,,1.0\nF-03,,,0.8\n"
    )
    imported = read(text)
    alone = imported.readings[imported.readings["value"].isna()]
    assert alone[["row", "declared_margin"]].to_numpy().tolist() == [[4, 0.8]]
    assert alone["direction"].isna().all()


def test_row_without_label_and_value_goes_on_with_the_label_above():
    text = (
        "Link,Wavelength (nm),Direction,Loss (dB),Margin (dB)\n"
        "F-01,850,A-B,0.9,1.0\n,850,B-A,,0.8\nF-02,850,A-B,0.7,1.2\n,850,B-A,0.6,1.3\n"
    )
    imported = read(text)
    assert imported.records["label"].tolist() == ["F-01", "F-01", "F-02", "F-02"]
    assert imported.readings["declared_margin"].tolist() == [1.0, 0.8, 1.2, 1.3]


def test_row_of_a_margin_alone_is_never_furniture():
    imported = read(LONG + ",NEXT,,,,,,3.2,\n,,,,,,,,FAIL\n")
    assert told(imported) == [(3, -1, "no-label"), (4, -1, "no-label")]


def test_odd_verdict_beside_a_value_is_told():
    more = "F-02,OM4,100,2.9,1.9,-1.0,FAIL,0.8\nF-03,OM4,100,0.9,1.9,1.0,see note,0.8\n"
    assert told(read(WIDE + more)) == [(4, 6, "unclear-verdict")]


@pytest.mark.parametrize("heading", ["Limit (dB)", "Limit 1550 nm (dB)"])
def test_limit_that_belongs_to_no_value_is_told(heading):
    imported = read(f"Link,Loss 850 nm (dB),Loss 1300 nm (dB),{heading}\nF-01,0.9,0.8,1.9\n")
    assert "belongs-to-no-value" in set(imported.seeds["code"])
    assert imported.readings["declared_limit"].isna().all()


@pytest.mark.parametrize(
    "row",
    ["F-01,850,B-A,,", "F-01,850 nm,B to A,,PASS", "F-01,850,,,", "Link 1,850,B-A,,"],
)
def test_row_without_a_number_heads_no_other_table(row):
    head = "Link,Wavelength (nm),Direction,Loss (dB),Result\n"
    imported = read(f"{head}F-01,850,A-B,0.3,PASS\n{row}\nF-02,850,A-B,0.4,PASS\nF-02,850,B-A,0.5,PASS\n")
    assert imported.readings["value"].dropna().tolist() == [0.3, 0.4, 0.5]
    assert imported.file["rows_read"] == 4


def test_row_of_pairs_without_a_number_heads_no_other_table():
    rows = "C-01,NEXT,12-36,A,40.1\nC-01,NEXT,12-45,A,\nC-01,NEXT,12-78,A,40.2\n"
    imported = read(f"Link,Parameter,Pair,End,Value (dB)\n{rows}")
    assert imported.readings["value"].tolist() == [40.1, 40.2]


def test_headings_of_another_table_still_begin_it():
    text = "Link,Wavelength (nm),Direction,Loss (dB)\nF-01,850,A-B,0.3\nLink,850 A-B,850 B-A\nF-02,0.4,0.5\n"
    assert read(text).readings["value"].tolist() == [0.3, 0.4, 0.5]
