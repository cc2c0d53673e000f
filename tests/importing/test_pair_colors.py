"""Pairs named by the color of their wires; T568A and T568B as TIA/EIA-568-B.1-2001 has them (rows CW-PAIR-…)."""

import pytest

from analyzer.importing import Source, facts, read_source
from analyzer.importing.pair_colors import colors_in, scheme_in

HEAD = "Link,Wiring,Category,Length (m),Insertion loss orange (dB),Insertion loss blue (dB),NEXT green/brown A (dB)\n"


def pairs_of(text, name="colors.csv"):
    imported = read_source(Source(name, text.encode()))
    table = imported.readings[imported.readings["parameter"] != "length"]
    return [*table["pair"].astype(object).where(table["pair"].notna(), None)], imported


@pytest.mark.parametrize(("scheme", "pairs"), [
    ("T568A", ["3-6", "4-5", "1-2/7-8"]), ("T568B", ["1-2", "4-5", "3-6/7-8"]), ("T-568 B", ["1-2", "4-5", "3-6/7-8"]),
])  # fmt: skip
def test_a_wiring_column_says_which_pair_is_orange(scheme, pairs):
    found, imported = pairs_of(f"{HEAD}C-1,{scheme},6A,40,12.1,12.2,45.1\n")
    assert found == pairs
    assert len(imported.set_aside) == 0


def test_each_row_has_a_scheme_of_its_own():
    found, _ = pairs_of(f"{HEAD}C-1,T568A,6A,40,12.1,12.2,45.1\nC-2,T568B,6A,40,12.1,12.2,45.1\n")
    assert found == ["3-6", "4-5", "1-2/7-8", "1-2", "4-5", "3-6/7-8"]


def test_without_a_scheme_orange_and_green_are_set_aside_and_told():
    found, imported = pairs_of(f"{HEAD}C-1,,6A,40,12.1,12.2,45.1\n")
    assert found == ["4-5"]
    assert [*imported.set_aside["code"]] == ["pair-by-color"] * 2
    assert "Wiring: T568B" in imported.set_aside["reason"].iloc[0]
    assert imported.file["cells_read"] == imported.file["cells_used"] + imported.file["cells_set_aside"]


def test_a_line_above_the_table_says_the_scheme():
    text = "Wiring: T568B\n\nLink,Category,Length (m),Insertion loss orange (dB),Insertion loss vert (dB)\nC-1,6A,40,12.1,12.2\n"
    assert pairs_of(text)[0] == ["1-2", "3-6"]


def test_cells_of_a_pair_column_name_colors():
    rows = "\n".join(f"C-1,{scheme},6A,NEXT,{pair},A,44.{n}" for n, (scheme, pair) in enumerate(
        [("T568B", "orange-blue"), ("T568B", "green / brown"), ("", "orange/green"), ("", "orange/blue")]
    ))  # fmt: skip
    found, imported = pairs_of(f"Link,Wiring,Category,Parameter,Pair,End,Value (dB)\n{rows}\n")
    assert found == ["1-2/4-5", "3-6/7-8", "1-2/3-6"]
    assert [*imported.set_aside["code"]] == ["pair-by-color"]


def test_curves_by_color():
    rows = "\n".join(f"{f},{f / 10},{f / 9},{f / 8}" for f in range(1, 60))
    head = "Frequency (MHz),Insertion loss orange (dB),Insertion loss green (dB),Insertion loss blue (dB)"
    told = read_source(Source("C-01.csv", f"Link: C-01\nWiring: T568A\n\n{head}\n{rows}\n".encode()))
    assert [*told.curves["pair"]] == ["3-6", "1-2", "4-5"]
    silent = read_source(Source("C-01.csv", f"Link: C-01\n\n{head}\n{rows}\n".encode()))
    assert [*silent.curves["pair"]] == ["4-5"]
    assert set(silent.set_aside["code"]) == {"pair-by-color"}
    assert len(silent.set_aside) == 2 * 59


def test_colors_of_fiber_strands_stay_words():
    text = "Cable,Strand,Loss 1310 nm (dB)\nTB-01,blue,0.2\nTB-01,orange,0.3\n"
    imported = read_source(Source("fiber.csv", text.encode()))
    assert [*imported.records["label"]] == ["TB-01-blue", "TB-01-orange"]
    assert imported.readings["pair"].isna().all()


def test_words():
    assert (facts.pair("blue"), facts.pair("brown"), facts.pair("orange"), facts.pair("orange/green")) == (
        "4-5",
        "7-8",
        "",
        "1-2/3-6",
    )
    assert [colors_in(text) for text in ("white-orange / orange", "grün", "blue cable", "")] == [
        "orange",
        "green",
        "",
        "",
    ]
    assert [scheme_in(text) for text in ("T568A", "t-568 b", "TIA-568-B", "T568A/T568B")] == ["T568A", "T568B", "", ""]
