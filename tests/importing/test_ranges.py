"""Labels that speak for several strands: one record about them all, unless the row has a reading for each."""

import pytest

from analyzer.importing import Source, read_source
from analyzer.importing.ranges import group_sizes, strands_of
from analyzer.pipeline import analyze


def read(text):
    return read_source(Source("results.csv", text.encode()))


@pytest.mark.parametrize(
    ("text", "count", "ends"),
    [
        ("TB-01-01..12", 12, ("TB-01-01", "TB-01-12")), ("01-12", 12, ("01", "12")), ("1 – 4", 4, ("1", "4")),
        ("TB-01 1 to 4", 4, ("TB-01 1", "TB-01 4")), ("9..11", 3, ("9", "11")), ("TB-01-12", 1, None), ("TB-1", 1, None),
        ("12..1", 1, None), ("tower", 1, None), ("0-3", 1, None), ("5-5", 1, None), ("1..9999", 1, None), ("", 1, None),
    ],
)  # fmt: skip
def test_how_many_strands_a_label_speaks_for(text, count, ends):
    assert group_sizes([text]).tolist() == [count]
    names = strands_of(text)
    assert (len(names) or 1) == count
    assert (names[0], names[-1]) == ends if ends else not names


def test_one_value_for_a_range_is_one_record_about_all_its_strands():
    imported = read("Link,Loss 850 nm (dB),Loss 1300 nm (dB)\nTB-01-01..12,0.4,0.3\n")
    assert imported.records["label"].tolist() == ["TB-01-01..12"]
    assert imported.records["strands"].tolist() == [12]
    assert len(imported.readings) == 2


def test_a_reading_for_each_strand_splits_the_row():
    imported = read(
        "Link,Fiber type,Length (m),850 nm,850 nm,850 nm,1300 nm,1300 nm,1300 nm\n"
        "TB-01-01..03,OM4,120,0.41,0.42,0.43,0.31,0.32,0.33\nTB-02-1,OM4,130,0.5,,,0.4,,\n"
    )
    assert imported.records["label"].tolist() == ["TB-01-01", "TB-01-02", "TB-01-03", "TB-02-1"]
    assert imported.records["strands"].tolist() == [1, 1, 1, 1]
    assert imported.records["length_m"].tolist() == [120, 120, 120, 130]
    joined = imported.readings.merge(imported.records[["record", "label"]], on="record")
    assert list(zip(joined["label"], joined["wavelength_nm"], joined["value"], strict=True)) == [
        ("TB-01-01", 850, 0.41), ("TB-01-01", 1300, 0.31), ("TB-01-02", 850, 0.42), ("TB-01-02", 1300, 0.32),
        ("TB-01-03", 850, 0.43), ("TB-01-03", 1300, 0.33), ("TB-02-1", 850, 0.5), ("TB-02-1", 1300, 0.4),
    ]  # fmt: skip
    assert "range-split" in imported.seeds["code"].tolist()
    assert (imported.file["rows_read"], imported.file["rows_used"]) == (2, 2)


def test_a_range_in_the_column_of_strands_is_split_into_the_names_of_the_schedule():
    imported = read("Cable,Fibers,850 nm,850 nm\nTB-01,1-2,0.41,0.42\nTB-01,3-4,0.43,0.44\n")
    assert imported.records["label"].tolist() == ["TB-01-01", "TB-01-02", "TB-01-03", "TB-01-04"]
    assert imported.readings["value"].tolist() == [0.41, 0.42, 0.43, 0.44]


def test_too_few_readings_for_a_range_split_nothing():
    imported = read("Link,850 nm,850 nm,1300 nm\nTB-01-01..02,0.41,0.42,0.3\n")
    assert imported.records["strands"].tolist() == [2]
    assert len(imported.readings) == 3


def test_what_reading_notices_can_be_told_by_a_whole_check(tmp_path):
    files = {
        "range.csv": "Link,Length (m),850 nm,850 nm\nTB-01-01..02,120,0.41,0.42\n",
        "title.csv": "Results of cable TB-09\nStrand,850 nm (dB)\n1,0.41\n2,0.5\n",
        "ends.csv": "From Panel,From Port,To Panel,To Port,850 nm (dB)\nPP-A,1,PP-B,1,0.3\n",
        "feet.csv": "Link,Length,Cable length,850 nm\nL1,393.7,120.0,0.4\nL2,164.0,50.0,0.5\n",
    }
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    codes = {finding.code for finding in analyze([tmp_path]).findings}
    assert codes >= {"range-split", "cable-from-title", "label-from-ends", "unit-from-physics"}
