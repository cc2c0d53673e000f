"""Published loss budgets, reproduced with their own coefficients.

Source of every expected number: tests/budget/data/worked_examples.csv, which names publisher, document and page.
Where a printed answer does not follow from its own printed terms the recomputed one is asserted, and the test says how
the page differs.
"""

import csv
import math
from pathlib import Path

import pytest

from analyzer.budget import fiber_budget
from analyzer.budget.fiber import longest_length_m

DATA = Path(__file__).with_name("data") / "worked_examples.csv"


def examples():
    with DATA.open(encoding="utf-8", newline="") as lines:
        return {row["example"]: row for row in csv.DictReader(line for line in lines if not line.startswith("#"))}


EXAMPLES = examples()
SUMS = [name for name, row in EXAMPLES.items() if row["length_km"]]
LENGTHS = [name for name, row in EXAMPLES.items() if not row["length_km"]]


def number(row, column):
    return float(row[column]) if row[column] else None


def budget_of(row, **other):
    glass = "single-mode" if "single" in row["fiber"] else "multimode"
    sections = None
    if row["second_length_km"]:
        sections = [
            (number(row, "length_km") * 1000, number(row, "coefficient_db_per_km")),
            (number(row, "second_length_km") * 1000, number(row, "second_coefficient_db_per_km")),
        ]
    given = {
        "fiber": glass,
        "wavelength_nm": int(row["wavelength_nm"]) if row["wavelength_nm"] else None,
        "length_m": None if sections else number(row, "length_km") * 1000,
        "coefficient_db_per_km": None if sections else number(row, "coefficient_db_per_km"),
        "sections": sections,
        "mated_pairs": int(row["mated_pairs"]),
        "mated_pair_db": number(row, "mated_pair_db"),
        "splices": int(row["splices"]),
        "splice_db": number(row, "splice_db"),
        "other_db": number(row, "other_db"),
        **other,
    }
    return fiber_budget(**given)


def longest_km(row):
    length_m = longest_length_m(
        number(row, "power_budget_db"),
        number(row, "coefficient_db_per_km"),
        int(row["mated_pairs"]),
        number(row, "mated_pair_db"),
        int(row["splices"]),
        number(row, "splice_db"),
        number(row, "other_db"),
    )
    return float(length_m) / 1000


def half_a_digit(text):
    """Half of the last printed digit."""
    return 0.5 * 10.0 ** -len(text.partition(".")[2]) + 1e-9


def test_all_examples_are_there():
    assert len(EXAMPLES) == 23
    assert len(SUMS) + len(LENGTHS) == 23


@pytest.mark.parametrize("name", SUMS)
def test_sum_of_the_printed_terms(name):
    row = EXAMPLES[name]
    assert budget_of(row).allowed_db == pytest.approx(number(row, "recomputed_loss_db"), abs=5e-4)


@pytest.mark.parametrize("name", [name for name in SUMS if EXAMPLES[name]["printed_loss_db"] and name != "W08"])
def test_printed_loss(name):
    row = EXAMPLES[name]
    assert row["follows"] == "yes"
    printed = row["printed_loss_db"]
    assert budget_of(row).allowed_db == pytest.approx(float(printed), abs=half_a_digit(printed))


@pytest.mark.parametrize("name", [name for name in SUMS if EXAMPLES[name]["printed_margin_db"] and name != "W05"])
def test_printed_margin_to_the_power_budget(name):
    row = EXAMPLES[name]
    assert row["follows"] == "yes"
    printed = row["printed_margin_db"]
    margin_db = number(row, "power_budget_db") - budget_of(row).allowed_db
    assert margin_db == pytest.approx(float(printed), abs=half_a_digit(printed))


@pytest.mark.parametrize("name", LENGTHS)
def test_longest_length_solved_from_the_sum(name):
    row = EXAMPLES[name]
    length_km = longest_km(row)
    assert length_km == pytest.approx(number(row, "recomputed_longest_km"), abs=6e-4)
    there = budget_of({**row, "length_km": str(length_km)})
    assert there.allowed_db == pytest.approx(number(row, "power_budget_db"), abs=1e-9)


@pytest.mark.parametrize("name", [name for name in LENGTHS if EXAMPLES[name]["follows"] == "yes"])
def test_printed_longest_length(name):
    row = EXAMPLES[name]
    printed = row["printed_longest_km"]
    assert longest_km(row) == pytest.approx(float(printed), abs=half_a_digit(printed))


def test_w05_prints_a_margin_one_decibel_short_of_its_own_terms():
    # Cisco 7000 manual, page 2-78: 3 + 2 + 1.5 + 0.5 + 1 = 8 dB against 11.5 dB leaves 3.5; the page prints 2.5
    row = EXAMPLES["W05"]
    margin_db = number(row, "power_budget_db") - budget_of(row).allowed_db
    assert margin_db == pytest.approx(3.5, abs=1e-9)
    assert row["printed_margin_db"] == "2.5"


def test_w08_prints_a_spread_that_does_not_follow_from_its_variances():
    # IBM single-mode example, sections B and C: variances 0.14 (components) and 0.04 (system) give sigma 0.424 and
    # 11.05 + 3 sigma + 0.50 = 12.82 dB; the page prints sigma 0.436 and 12.86 dB
    row = EXAMPLES["W08"]
    sigma_db = math.sqrt(0.14 + 0.04)
    assert budget_of(row, other_db=3 * sigma_db + 0.50).allowed_db == pytest.approx(12.82, abs=0.005)
    assert budget_of(row, other_db=3 * 0.436 + 0.50).allowed_db == pytest.approx(12.86, abs=0.005)
    assert row["printed_loss_db"] == "12.86"


@pytest.mark.parametrize(
    ("name", "recomputed_km", "printed_km"),
    [
        ("W12", 3.775, 3.7),  # RAD manual, page 7-7: cut, not rounded
        ("W13", 16.571, 16.5),  # RAD manual, page 7-7: cut, not rounded
        ("W20", 3.214, 3.0),  # GE manual, page 4-4: rounded down to the next whole half
    ],
)
def test_lengths_printed_shorter_than_they_are(name, recomputed_km, printed_km):
    row = EXAMPLES[name]
    assert longest_km(row) == pytest.approx(recomputed_km, abs=6e-4)
    assert float(row["printed_longest_km"]) == printed_km
    assert row["follows"] == "no"


def test_w19_repeats_the_budget_of_the_row_above():
    # GE manual, page 4-4: 11.5 - 2.0 leaves 9.5 dB, and the printed length 3.4 km fits that; the page prints 19.5 dB
    row = EXAMPLES["W19"]
    left_db = number(row, "power_budget_db") - number(row, "other_db")
    assert left_db == pytest.approx(9.5)
    assert row["printed_margin_db"] == "19.5"
    assert longest_km(row) == pytest.approx(3.393, abs=6e-4)
    assert round(longest_km(row), 1) == float(row["printed_longest_km"])


@pytest.mark.parametrize("name", [name for name in LENGTHS if EXAMPLES[name]["printed_margin_db"] and name != "W19"])
def test_printed_rest_for_the_cable(name):
    row = EXAMPLES[name]
    rest_db = number(row, "power_budget_db") - budget_of({**row, "length_km": "0"}).allowed_db
    assert rest_db == pytest.approx(number(row, "printed_margin_db"), abs=half_a_digit(row["printed_margin_db"]))
