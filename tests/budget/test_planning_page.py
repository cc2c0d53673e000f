"""The tables of docs/planning.md say what the package computes."""

import re

import pytest
from planning_page import LINKS, PAGE, families, filled


def test_the_tables_of_the_page_are_those_that_the_package_makes():
    text = PAGE.read_text(encoding="utf-8")
    assert filled(text) == text, "write them anew: python tests/budget/planning_page.py"


def rows_of(name):
    return [line for line in PAGE.read_text(encoding="utf-8").splitlines() if line.startswith(f"| {name}")]


def test_by_hand_the_first_link():
    # TIA: 3.0 dB/km x 80 m = 0.24 dB and 0.75 dB a mating; ISO: 3.5 dB/km x 80 m = 0.28 dB, ends 2 x 0.3 dB (2006)
    numbers = re.findall(r"\d+\.\d\d", rows_of("OM4, 80 m")[0])
    assert numbers[:5] == ["1.74", "0.99", "0.24", "0.28", "0.88"]


def test_every_link_stands_there_at_both_wavelengths():
    assert all(len(rows_of(name)) == 2 for name in LINKS)


def test_the_distributions_compared_have_the_two_published_figures():
    for one in families(0.25, 0.5).values():
        assert one.mean() == pytest.approx(0.25, rel=1e-9)
        assert one.ppf(0.97) == pytest.approx(0.5, rel=1e-9)
