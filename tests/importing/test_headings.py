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


def test_pairs_alone_are_set_aside_where_nothing_names_the_parameter():
    imported = read_source(Source("results.csv", PAIRS_ALONE.encode()))
    assert len(imported.readings) == 0
    assert list(imported.set_aside["code"]) == ["unknown-parameter"] * 4
