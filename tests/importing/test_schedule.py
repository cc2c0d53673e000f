"""The schedule and the spellings of its strands."""

import numpy as np
import pytest

from analyzer.errors import FileUnreadable
from analyzer.importing import Source, read_schedule, strand_aliases
from analyzer.importing.schedule import strand_numbers

TEXT = b"""Campus, invented
Cable,From label,To label,From room,To room,Type or grade,Strands,Length (m),Mated pairs,Splices,End type,Area
TB-01,A1,B1,R1,R2,OM4,1-4,120,2,0,panel,Hall
TB-02,A1,B1,R1,R2,OS2 outside plant,3,,2,0,panel,Hall
TB-03,A1,B1,R1,R2,OM3,abc,,2,x,panel,Hall
C-1,A1,B1,R1,R2,Cat 6A,,50,,,jack/plug,Hall
Total,,,,,,7,,,,,
"""


def test_a_cable_expands_to_its_strands():
    schedule, aside = read_schedule(Source("schedule.csv", TEXT))
    assert schedule["label"].tolist() == [
        "TB-01-01", "TB-01-02", "TB-01-03", "TB-01-04", "TB-02-01", "TB-02-02", "TB-02-03", "TB-03", "C-1",
    ]  # fmt: skip
    assert schedule["key"].tolist()[0] == "tb-01-01"
    assert schedule["construction"].astype(object).tolist()[4] == "outside plant"
    assert schedule["medium"].astype(object).tolist() == ["fiber"] * 8 + ["twisted pair"]
    assert schedule["end_type_a"].astype(object).tolist()[-1] == "jack"
    assert schedule["end_type_b"].astype(object).tolist()[-1] == "plug"
    assert schedule["length_m"].tolist()[0] == 120
    assert np.isnan(schedule["splices"][7])
    assert sorted(aside["text"]) == ["abc", "x"]


def test_a_label_is_enough():
    schedule, aside = read_schedule(Source("s.csv", b"Label\nL1\nL2\n"))
    assert schedule["key"].tolist() == ["l1", "l2"]
    assert aside.empty


def test_three_digits_where_a_strand_has_three():
    schedule, _ = read_schedule(Source("s.csv", b"Cable,Strands,Type\nT,144,OS2\n"))
    assert schedule["label"].tolist()[0] == "T-001"
    assert schedule["label"].tolist()[-1] == "T-144"


@pytest.mark.parametrize(
    ("text", "numbers"),
    [("12", list(range(1, 13))), ("13-15", [13, 14, 15]), ("1..3", [1, 2, 3]), ("1 to 3", [1, 2, 3]),
     ("1-2, 5", [1, 2, 5]), ("4 strands", [1, 2, 3, 4]), ("abc", None), ("5-2", None), ("0", None), ("1-2,2", None)],
)  # fmt: skip
def test_strands_as_number_or_range(text, numbers):
    assert strand_numbers(text) == numbers


def test_aliases_point_to_one_strand_or_to_none():
    schedule, _ = read_schedule(Source("s.csv", b"Cable,Strands,Type\nTB-01,24,OM4\nTB-012,4,OM4\nT,144,OS2\n"))
    aliases = strand_aliases(schedule)
    third = schedule["key"].tolist().index("tb-01-03")
    for spelling in ("tb-01-3", "tb-01/03", "tb-01.003", "tb-01:3", "tb-01_03", "tb-01#3", "tb-01 3", "tb-0103",
                     "tb-01003", "tb-01 f3", "tb-01-f03", "tb-01 fiber 3", "tb-01 strand 03"):  # fmt: skip
        assert aliases[spelling] == third, spelling
    assert aliases.get("tb-01-25") is None
    assert aliases.get("tb-0124") is None  # strand 24 of TB-01 or strand 4 of TB-012
    assert "t-7" in aliases
    assert schedule["key"].map(aliases).tolist() == list(range(len(schedule)))


def test_no_schedule_is_told():
    with pytest.raises(FileUnreadable, match="no schedule was found"):
        read_schedule(Source("s.csv", b"foo,bar\n1,2\n"))
