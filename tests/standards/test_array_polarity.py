"""Positions at the other end, by polarity: TIA-568.3, from memory (no document was open)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer import standards
from analyzer.standards.array_polarity import polarities_of_arrays, position_at_other_end

TWELVE = {
    "type A": [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12],
    "type B": [12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1],
    "type C": [2, 1, 4, 3, 6, 5, 8, 7, 10, 9, 12, 11],
}


def mapped(polarity, position, positions):
    count = len(position)
    words = np.full(count, polarity, dtype=object)
    return position_at_other_end(standards.load(), words, np.asarray(position), np.full(count, positions)).tolist()


@pytest.mark.parametrize("polarity", TWELVE)
def test_twelve_positions(polarity):
    assert mapped(polarity, range(1, 13), 12) == TWELVE[polarity]


@pytest.mark.parametrize("polarity", TWELVE)
def test_twenty_four_positions_are_two_rows_of_twelve(polarity):
    twice = TWELVE[polarity] + [12 + position for position in TWELVE[polarity]]
    assert mapped(polarity, range(1, 25), 24) == twice


def test_duplex_links():
    assert mapped("A-B", [1, 2], 2) == [2, 1]
    assert mapped("A-A", [1, 2], 2) == [1, 2]


@given(
    st.sampled_from(["type A", "type B", "type C", "A-B", "A-A"]),
    st.integers(1, 24).flatmap(lambda rows: st.tuples(st.just(12 * rows), st.integers(1, 12 * rows))),
)
def test_mapping_twice_returns_the_position(polarity, place):
    positions, position = place
    there = mapped(polarity, [position], positions)
    assert 1 <= there[0] <= positions
    assert mapped(polarity, there, positions) == [position]


@pytest.mark.parametrize(
    ("polarity", "position", "positions"),
    [(None, 1, 12), (np.nan, 1, 12), ("type B", 1, 8), ("type C", 5, 5), ("type A", 13, 12), ("type B", 0, 12)],
)
def test_what_cannot_be_told_is_not_guessed(polarity, position, positions):
    assert mapped(polarity, [position], positions) == [-1]


def test_only_the_types_are_arrays():
    assert polarities_of_arrays(standards.load()) == ("type A", "type B", "type C")
