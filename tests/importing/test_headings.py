"""What single headings mean: worked out by hand from their words, in invented spellings of common practice."""

import pytest

from analyzer.importing import Source, read_source
from analyzer.importing.headings import understand


@pytest.mark.parametrize(
    ("heading", "direction"),
    [
        ("Attenuation (dB) 850nm A/B", "A-B"),
        ("Attenuation (dB) 850nm B/A", "B-A"),
        ("Atenuación 850 nm A a B (dB)", "A-B"),
        ("Atenuación 850 nm B a A (dB)", "B-A"),
        ("Loss 850 nm from far end to near end", "B-A"),
    ],
)
def test_the_first_end_named_is_where_a_direction_begins(heading, direction):
    assert (understand((heading,)).direction, understand((heading,)).end) == (direction, "")


@pytest.mark.parametrize(("heading", "role"), [("Direction (A/B)", "direction"), ("End A/B", "end")])
def test_a_column_that_asks_for_one_of_two_names_none(heading, role):
    found = understand((heading,))
    assert (found.role, found.direction, found.end) == (role, "", "")


def test_a_heading_that_names_both_ends_in_no_known_way_takes_neither_and_says_so():
    found = understand(("Loss 850 nm end A, end B (dB)",))
    assert (found.end, found.direction) == ("", "")
    assert "near miss: both ends" in found.why


def test_a_preposition_is_no_end():
    assert understand(("Affaiblissement à l'extrémité B",)).end == "B"


@pytest.mark.parametrize(
    ("heading", "parameter", "pair"),
    [
        ("Attenuation to crosstalk ratio far-end 1-2/3-6 A (dB)", "ACR-F", "1-2/3-6"),
        ("ACR far-end 1-2/3-6 A (dB)", "ACR-F", "1-2/3-6"),
        ("Power sum attenuation to crosstalk ratio far-end 1-2 A (dB)", "PSACR-F", "1-2"),
        ("Attenuation to crosstalk ratio near-end 1-2/3-6 A (dB)", "ACR-N", "1-2/3-6"),
        ("Power sum attenuation to crosstalk ratio 1-2 A (dB)", "PSACR-N", "1-2"),
    ],
)
def test_far_end_in_the_name_of_a_parameter_is_no_end_of_the_link(heading, parameter, pair):
    found = understand((heading,))
    assert (found.parameter, found.pair, found.end, found.direction) == (parameter, pair, "A", "")


def test_ends_that_are_numbered_still_give_a_direction():
    assert understand(("Loss 850 End 1-2 (dB)",)).direction == "A-B"
    assert understand(("Loss 850 End 2 - End 1 (dB)",)).direction == "B-A"


PAIRS_ALONE = "Link,Grade,End,1-2/3-6 (dB),1-2/4-5 (dB)\nH-1,Cat 6A,A,41.6,37.2\nH-2,Cat 6A,A,40.0,39.1\n"


def test_pairs_alone_measure_what_the_line_above_says():
    imported = read_source(Source("results.csv", f"NEXT\n\n{PAIRS_ALONE}".encode()))
    assert list(imported.readings["parameter"]) == ["NEXT"] * 4


@pytest.mark.parametrize("title", ["", "NEXT and ACR-F\n\n"], ids=["no title", "two parameters"])
def test_pairs_alone_are_set_aside_where_nothing_names_one_parameter(title):
    imported = read_source(Source("results.csv", f"{title}{PAIRS_ALONE}".encode()))
    assert len(imported.readings) == 0
    assert list(imported.set_aside["code"]) == ["unknown-parameter"] * 4


def _told(text):
    imported = read_source(Source("results.csv", text.encode()))
    found = imported.readings.merge(imported.records[["record", "label"]], on="record").astype(object)
    return imported, [
        (row["label"], row["wavelength_nm"], row["direction"], row["value"]) for row in found.to_dict("records")
    ]


FACTS_BELOW = "Link,Fiber type,Length (m),Mated pairs"
LOSSES = [("L1", 850, "A-B", 0.5), ("L1", 850, "B-A", 0.6), ("L1", 1300, "A-B", 0.3), ("L1", 1300, "B-A", 0.4)]


@pytest.mark.parametrize(
    "heads",
    [
        f",,,,Loss 850 nm (dB),,Loss 1300 nm (dB),,\n{FACTS_BELOW},A to B,B to A,A to B,B to A,Result",
        f",,,,Loss 850 nm (dB),Loss 850 nm (dB),Loss 1300 nm (dB),Loss 1300 nm (dB),\n{FACTS_BELOW},A to B,B to A,A to B,B to A,Result",
        f"Link data,,,,Insertion loss (dB),,,,\n,,,,850 nm,,1300 nm,,\n{FACTS_BELOW},A-B,B-A,A-B,B-A,Result",
    ],
    ids=["written once", "repeated", "three rows"],
)
def test_groups_above_several_fact_columns_are_joined_to_their_sub_headings(heads):
    imported, found = _told(f"{heads}\nL1,OM4,90,2,0.5,0.6,0.3,0.4,PASS\n")
    assert found == LOSSES
    assert list(imported.records["declared_verdict"]) == ["pass"]
    assert list(imported.records["type"]) == ["OM4"]


def test_pairs_under_groups_are_headings_though_no_word_stands_in_them():
    pairs = "1-2,3-6,4-5,7-8"
    head = f",,Insertion loss (dB),,,,Delay skew (ns),Return loss A (dB),,,\nLink,Length (m),{pairs},,{pairs}\n"
    imported = read_source(Source("results.csv", f"{head}H-1,90,20,21,22,23,8,11,12,13,14\n".encode()))
    found = imported.readings[imported.readings["parameter"] != "length"].astype(object)
    assert list(found["parameter"]) == ["insertion loss"] * 4 + ["delay skew"] + ["return loss"] * 4
    assert list(found["pair"].dropna()) == pairs.split(",") * 2
    assert list(found["value"]) == [20, 21, 22, 23, 8, 11, 12, 13, 14]


@pytest.mark.parametrize("heading", ["Jacket color", "Fiber type comment", "Tester version", "Firmware date"])
def test_what_is_said_about_a_fact_is_a_note_and_not_the_fact(heading):
    assert understand((heading,)).role == "note"


@pytest.mark.parametrize("foreign", ["Kind of plant", "Jacket color"])
def test_a_heading_known_as_it_stands_is_used_before_others_whatever_their_order(foreign):
    head = f"Link,{foreign},Cable construction,Splice count test,Splices,Loss 1310 nm (dB)\n"
    imported, _ = _told(f"{head}L1,aqua,outside plant,9,2,0.3\n")
    assert list(imported.records["construction"]) == ["outside plant"]
    assert list(imported.records["splices"]) == [2]


@pytest.mark.parametrize(
    "heading",
    [
        "NEXT (1,2)-(3,6) A (dB)",
        "NEXT 1-2 vs 3-6 A (dB)",
        "NEXT 12 to 36 A (dB)",
        "NEXT pair 1,2 pair 3,6 A",
        "NEXT [1-2] [3-6] A",
    ],
)
def test_both_pairs_of_a_combination_are_taken(heading):
    found = understand((heading,))
    assert (found.parameter, found.pair, found.end) == ("NEXT", "1-2/3-6", "A")


def test_one_pair_in_brackets_is_one_pair():
    assert understand(("Insertion loss (3,6) (dB)",)).pair == "3-6"


def test_a_sweep_with_a_date_above_it_is_read():
    points = "\n".join(f"{mhz},{mhz / 10}" for mhz in (1, 4, 10, 31.25, 62.5, 100, 250, 500))
    text = f"Link,H-1\nDate,2026-03-14\nNEXT end A\nFrequency (MHz),1-2/3-6 (dB)\n{points}\n"
    imported = read_source(Source("results.csv", text.encode()))
    assert [str(day)[:10] for day in imported.records["tested_at"]] == ["2026-03-14"]
    assert list(imported.curves["parameter"]) == ["NEXT"]


@pytest.mark.parametrize(
    ("heading", "expected"),
    [
        ("FEXT 12-36 (dB)", ("value", "FEXT", "1-2/3-6")),
        ("Far-end crosstalk 12-36", ("value", "FEXT", "1-2/3-6")),
        ("PS FEXT 36", ("value", "PSFEXT", "3-6")),
        ("PSFEXT", ("value", "PSFEXT", "")),
        ("Télédiaphonie 12-36", ("value", "FEXT", "1-2/3-6")),
        ("FEXT margin", ("margin", "FEXT", "")),
    ],
)
def test_far_end_crosstalk_is_known(heading, expected):
    """Once `far-end crosstalk` was one letter from `near-end crosstalk`, and `PSFEXT` from `PSELFEXT`."""
    found = understand((heading,))
    assert (found.role, found.parameter, found.pair) == expected


def test_what_is_made_from_far_end_crosstalk_is_judged():
    named = {
        text: understand((text,)).parameter
        for text in ("ELFEXT 12-36", "PSELFEXT 36", "NEXT far end 12-36", "EL-FEXT 12-36")
    }
    assert [*named.values()] == ["ACR-F", "PSACR-F", "NEXT", "ACR-F"]
