"""Array positions counted from end B are mapped through the scheduled polarity, or told; never guessed.

Polarity types: TIA-568.3, from memory.
"""

import pytest

import analyzer

FROM_B = "Cable,Position B,Direction,Length (m),Loss 850 nm (dB)\n"
FROM_A = "Cable,Position A,Direction,Length (m),Loss 850 nm (dB)\n"
BY_ROOM = "Cable,Position,From room,To room,Loss 850 nm (dB)\n"


def run(tmp_path, polarity, *files, strands=12, schedule=()):
    (tmp_path / "evidence").mkdir()
    head = "Cable,Strands,Type,Length (m),From room,To room,Mated pairs,Splices,Polarity\n"
    if strands:
        rows = schedule or [f"TB-1,{strands},OM4,120,Hall,Loft,2,0,{polarity}"]
        (tmp_path / "schedule.csv").write_text(head + "\n".join(rows) + "\n")
    for number, (first, *rows) in enumerate(files):
        (tmp_path / "evidence" / f"{number}.csv").write_text(first + "\n".join(rows) + "\n")
    return analyzer.analyze(tmp_path)


def codes(found):
    return {finding.code for finding in found.findings}


def labels(found):
    return found.records["label"].tolist()


MAPPED = [
    # cable, polarity, strands, position at end B, strand by end A
    ("TB-1", "type A", 12, 3, 3),
    ("TB-2", "type B", 12, 3, 10),
    ("TB-3", "type C", 12, 3, 4),
    ("TB-4", "type A", 24, 15, 15),
    ("TB-5", "type B", 24, 15, 22),
    ("TB-6", "type C", 24, 15, 16),
]


def test_a_position_of_end_b_is_joined_with_the_strand_of_end_a(tmp_path):
    scheduled = [f"{cable},{strands},OM4,120,Hall,Loft,2,0,{polarity}" for cable, polarity, strands, _, _ in MAPPED]
    one = [f"{cable},{number},A-B,120,0.50" for cable, _, _, _, number in MAPPED]
    other = [f"{cable},{position},B-A,120,0.56" for cable, _, _, position, _ in MAPPED]
    found = run(tmp_path, "", (FROM_A, *one), (FROM_B, *other), schedule=scheduled)
    wanted = [f"{cable}-{number:02d}" for cable, _, _, _, number in MAPPED]
    assert labels(found) == wanted * 2
    assert found.links["label"].tolist() == wanted
    assert found.readings["direction"].tolist() == ["A-B"] * 6 + ["B-A"] * 6
    mapped = [
        label for finding in found.findings if finding.code == "array-positions-mapped" for label in finding.links
    ]
    assert sorted(mapped) == wanted
    assert "array-position-open" not in codes(found)


@pytest.mark.parametrize(
    ("polarity", "strands", "why"),
    [
        ("", 12, "states no polarity of TB-1"),
        ("A-B", 12, "polarity A-B maps none of 12"),
        ("type B", 8, "polarity type B maps none of 8"),
        ("", 0, "no schedule names this position of TB-1"),
    ],
)
def test_without_a_mapping_nothing_is_joined_and_that_is_told(tmp_path, polarity, strands, why):
    found = run(tmp_path, polarity, (FROM_A, "TB-1,3,A-B,120,0.50"), (FROM_B, "TB-1,3,B-A,120,0.56"), strands=strands)
    assert labels(found) == ["TB-1-03", "TB-1-B3"]
    assert len(found.links) == 2
    told = [finding for finding in found.findings if finding.code == "array-position-open"]
    assert len(told) == 1
    assert why in told[0].message
    assert told[0].links == ("TB-1-B3",)
    assert "Polarity" in told[0].next_step


@pytest.mark.parametrize(("polarity", "label"), [("type A", "TB-1-03"), ("type B", "TB-1-10"), ("type C", "TB-1-04")])
def test_a_trunk_tested_from_the_other_end_is_numbered_from_there(tmp_path, polarity, label):
    found = run(tmp_path, polarity, (BY_ROOM, "TB-1,3,Loft,Hall,0.56"))
    assert labels(found) == [label]
    assert found.records["strand"].tolist() == [str(int(label[-2:]))]
    assert {"ends-exchanged", "array-positions-mapped"} <= codes(found)


def test_strands_of_a_cable_that_is_no_array_keep_their_number(tmp_path):
    found = run(tmp_path, "", (BY_ROOM, "TB-1,3,Loft,Hall,0.56"))
    assert labels(found) == ["TB-1-03"]
    assert not codes(found) & {"array-positions-mapped", "array-position-open"}


def test_a_polarity_that_only_the_file_states_maps_nothing(tmp_path):
    head = BY_ROOM.replace("Position", "Polarity,Position")
    found = run(tmp_path, "", (head, "TB-1,type B,3,Loft,Hall,0.56"))
    assert labels(found) == ["TB-1-B3"]
    assert "array-position-open" in codes(found)


def test_a_label_of_its_own_names_the_strand_from_either_end(tmp_path):
    found = run(tmp_path, "type B", ("Link,From room,To room,Loss 850 nm (dB)\n", "TB-1-03,Loft,Hall,0.56"))
    assert labels(found) == ["TB-1-03"]
    assert "array-positions-mapped" not in codes(found)


def test_end_b_of_a_crew_at_the_other_end_is_end_a(tmp_path):
    head = "Cable,Position B,From room,To room,Loss 850 nm (dB)\n"
    found = run(tmp_path, "type B", (head, "TB-1,3,Loft,Hall,0.56"))
    assert labels(found) == ["TB-1-03"]
    assert found.records["position_a"].tolist() == [3]


def test_both_positions_stated_need_no_mapping(tmp_path):
    head = "Cable,Position A,Position B,From room,To room,Loss 850 nm (dB)\n"
    found = run(tmp_path, "", (head, "TB-1,3,10,Hall,Loft,0.5", "TB-1,10,3,Loft,Hall,0.6"))
    assert labels(found) == ["TB-1-03", "TB-1-03"]
    assert "array-position-open" not in codes(found)


def test_ports_of_panels_are_no_positions(tmp_path):
    head = "Cable,Fiber,Port A,Port B,Polarity,Loss 850 nm (dB)\n"
    found = run(tmp_path, "type B", (head, "TB-1,3,13,37,type B,0.5"))
    assert found.records[["position_a", "position_b"]].isna().all(axis=None)
    assert "polarity-against-positions" not in codes(found)


@pytest.mark.parametrize(
    ("scheduled", "stated", "a", "b", "contradicts"),
    [
        ("type B", "type B", 3, 10, False),
        ("type B", "type B", 3, 3, True),
        ("type B", "", 3, 4, True),
        ("", "A-B", 3, 4, False),
        ("", "A-B", 3, 3, True),
        ("", "A-A", 3, 3, False),
        ("", "A-A", 3, 4, True),
        ("", "", 3, 7, False),
    ],
)
def test_a_polarity_that_the_strands_of_both_ends_contradict_is_told(tmp_path, scheduled, stated, a, b, contradicts):
    head = "Cable,Strand,Strand A,Strand B,Polarity,Loss 850 nm (dB)\n"
    found = run(tmp_path, scheduled, (head, f"TB-1,{a},{a},{b},{stated},0.5"))
    told = [finding for finding in found.findings if finding.code == "polarity-against-positions"]
    assert bool(told) == contradicts
    if contradicts:
        assert f"position {a} of end A to {b} of end B" in told[0].message
        assert told[0].links == ("TB-1-03",)
