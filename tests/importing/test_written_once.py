"""Labels written once for several rows: the facts beside them are written once as well, and no row is lost."""

import pytest

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
