"""Labels written once for several rows: the facts beside them are written once as well, and no row is lost."""

import pytest
from corpus import files

from analyzer.importing import Source, read_source

_HEAD = "Link,Fiber type,Length (m),Date,Time,Tester,Wavelength (nm),Direction,Loss (dB)\n"


def read(text):
    return read_source(Source("once.csv", text.encode()))


@pytest.mark.parametrize("links", [1, 3])
def test_facts_written_once_hold_for_every_row_of_the_label(links):
    rows = "".join(
        f"L-{n},OM4,76.2,2026-03-1{n},08:07,T-{n},850,A-B,.46\n,,,,,,850,B-A,.79\n" for n in range(1, links + 1)
    )
    imported = read(_HEAD + rows)
    records = imported.records
    assert records["label"].tolist() == [f"L-{n}" for n in range(1, links + 1) for _ in range(2)]
    assert records["tester"].tolist() == [f"T-{n}" for n in range(1, links + 1) for _ in range(2)]
    assert records["tested_at"].dt.strftime("%d %H:%M").tolist() == [
        f"1{n} 08:07" for n in range(1, links + 1) for _ in "AB"
    ]
    assert set(records["length_m"]) == {76.2}
    assert len(imported.readings) == 2 * links
    assert imported.set_aside.empty


def test_groups_of_unlike_size_go_on_where_facts_stand_beside_labels_alone():
    rows = "L-1,OM4,76.2,2026-03-11,08:07,T-1,850,A-B,.46\n,,,,,,850,B-A,.79\n,,,,,,1300,A-B,.4\nL-2,OM4,9,2026-03-11,08:08,T-1,850,A-B,.4\n"
    assert read(_HEAD + rows).records["label"].tolist() == ["L-1"] * 3 + ["L-2"]


def test_a_row_with_facts_of_its_own_and_no_label_is_set_aside():
    rows = "L-1,OM4,76.2,2026-03-11,08:07,T-1,850,A-B,.46\n,OM4,80,2026-03-11,08:09,T-1,850,B-A,.79\n"
    imported = read(_HEAD + rows)
    assert imported.records["label"].tolist() == ["L-1"]
    assert "no-label" in set(imported.set_aside["code"])


def test_the_same_key_twice_is_no_group():
    rows = "L-1,OM4,76.2,2026-03-11,08:07,T-1,850,A-B,.46\n,,,,,,850,A-B,.79\n"
    assert read(_HEAD + rows).records["label"].tolist() == ["L-1"]


_CABLES = "Cable,Strand,Fiber type,Length (m),Reference,Loss 1310 nm (dB)\n"


def test_facts_written_once_beside_the_cable_hold_for_its_strands():
    rows = "TB-1,1,OS2,120,1 jumper,0.4\n,2,,,,0.5\n,3,,,,0.6\nTB-2,1,OS2,80,1 jumper,0.4\n,2,,,,0.5\n"
    records = read(_CABLES + rows).records
    assert records["label"].tolist() == ["TB-1-01", "TB-1-02", "TB-1-03", "TB-2-01", "TB-2-02"]
    assert records["length_m"].tolist() == [120, 120, 120, 80, 80]
    assert (records["type"] == "OS2").all()
    assert (records["reference"] == "one-cord").all()


def test_a_fact_that_some_strands_have_of_their_own_is_not_filled_down():
    rows = "TB-1,1,OS2,120,1 jumper,0.4\n,2,,121,,0.5\n,3,,,,0.6\n"
    records = read(_CABLES + rows).records
    assert records["length_m"].fillna(-1).tolist() == [120, 121, -1]
    assert (records["type"] == "OS2").all()


def test_a_merged_fact_holds_for_every_row_that_it_covers():
    rows = [
        ["Link", "Fiber type", "Length (m)", "Loss 1310 nm (dB)"], ["A-1", "OS2", 120, 0.4], ["A-2", None, None, 0.5],
        ["A-3", None, None, 0.5], ["B-1", "OS2", 80, 0.3],
    ]  # fmt: skip
    book = files.workbook([files.Sheet("S", rows, [(1, 1, 3, 1), (1, 2, 2, 2)])])
    records = read_source(Source("merged.xlsx", book)).records
    assert records["length_m"].fillna(-1).tolist() == [120, 120, -1, 80]
    assert (records["type"] == "OS2").all()
