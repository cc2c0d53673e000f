"""Label/value lines above tables: every line is a fact of the table, or an ignored column that says so."""

import pytest

from analyzer.importing import Source, read_source

_TABLE = "Wavelength (nm),Direction,Loss (dB)\n850,A-B,0.46\n850,B-A,0.79\n"


def read(text, name="results.csv"):
    return read_source(Source(name, text.encode()))


@pytest.mark.parametrize("operator", ["crew K", "Miller", "tester 2", "installer"])
def test_a_value_that_is_a_word_of_headings_does_not_end_the_form(operator):
    imported = read(f"Test record\n\nLink,MX-01\nFiber type,OM4\nLength (m),76.2\nOperator,{operator}\n\n{_TABLE}")
    records = imported.records
    assert list(records["label"].unique()) == ["MX-01"]
    assert list(records["length_m"].unique()) == [76.2]
    assert list(records["operator"].unique()) == [operator]
    assert len(imported.readings) == 2


def test_a_value_that_means_something_else_is_a_value_among_lines():
    imported = read(f"Link,MX-01\nMedium,Fiber\nOperator,Link\nResult,Pass\n\n{_TABLE}")
    assert list(imported.records["label"].unique()) == ["MX-01"]
    assert list(imported.records["operator"].unique()) == ["Link"]
    assert list(imported.records["declared_verdict"].unique()) == ["pass"]


def test_a_heading_row_right_under_lines_is_one():
    imported = read("Tester,T-11\nOperator,crew K\nLink,Verdict\nMX-01,pass\nMX-02,fail\n")
    assert list(imported.records["label"]) == ["MX-01", "MX-02"]
    assert list(imported.records["operator"].unique()) == ["crew K"]


def test_a_label_without_value_does_not_take_the_next_label_for_it():
    imported = read(
        f"Link,MX-01,,Length (m),76.2\nConstruction,,,Operator,crew K\nFiber type,OM4,,Tester,T-11\n\n{_TABLE}"
    )
    assert list(imported.records["operator"].unique()) == ["crew K"]
    assert imported.set_aside.empty


def test_forms_one_below_the_other():
    forms = "".join(f"Link,MX-0{n}\nOperator,crew {n}\n\n{_TABLE}\n\n" for n in (1, 2))
    records = read(forms).records
    assert records[["label", "operator"]].drop_duplicates().to_numpy().tolist() == [
        ["MX-01", "crew 1"],
        ["MX-02", "crew 2"],
    ]


def test_lines_that_are_not_used_are_told():
    imported = read(f"Link,MX-01\nGrumble,7\nDirection,A-B\nFiber type,OM4\n\n{_TABLE}")
    columns = imported.columns.set_index("heading")
    assert "no known word" in columns.loc["Grumble", "why"]
    assert columns.loc["Direction"]["role"].tolist() == ["direction", "ignored"]


def test_the_value_of_a_line_settles_its_label():
    assert list(read(f"Link,MX-01\nCategory,OM4\nTester,T-1\n\n{_TABLE}").records["type"].unique()) == ["OM4"]


def test_a_reading_that_a_line_above_the_table_tells_comes_from_its_own_cell():
    text = "Link: C-01\nCategory: 6A\nWire map: PASS\nLength: abc\n\nPair,NEXT A (dB),Insertion loss (dB)\n1-2,44.1,20.1\n3-6,45.1,20.2\n"
    imported = read_source(Source("C-01.csv", text.encode()))
    wire_map = imported.readings[imported.readings["parameter"] == "wire map"]
    assert [*zip(wire_map["row"], wire_map["col"], strict=True)] == [(3, 0)]
    told = imported.set_aside[imported.set_aside["counts_as"] == "fact cell"]
    assert [*zip(told["row"], told["col"], told["text"], strict=True)] == [(4, 0, "abc")]
