"""What single headings mean: worked out by hand from their words, in invented spellings of common practice."""

import pytest

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
