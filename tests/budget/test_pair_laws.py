"""Laws of judging twisted pair, and verdicts at published limit values.

Published values: tests/standards/data holds the check values with the page that each was read on; here they go through
the judge as readings. Recalled tables (from memory, said so) cover permanent links.
"""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pair_bench import at, judged_pairs, pair_link

DATA = Path(__file__).parents[1] / "standards" / "data"
RANK = {"fail": 0, "marginal fail": 1, "not judged": 2, "marginal pass": 3, "pass": 4}
FLOORS, CEILINGS = (
    ("NEXT", "PSNEXT", "ACR-F", "PSACR-F", "return loss"),
    ("insertion loss", "propagation delay", "delay skew"),
)
LIMITS = ("TIA Cat 6 Perm. Link", "TIA Cat 6A Perm. Link", "ISO 11801 class EA PL", "TIA Cat 5e Channel", "Hall limits")
GIVEN = {"grade": "6A", "configuration": "permanent link"}


def verdicts(*readings, **more):
    """Verdicts of readings that have nothing to do with each other: one link each."""
    rows = [pair_link(one, label=f"C{number}", **more) for number, one in enumerate(readings)]
    return judged_pairs(*rows, **GIVEN)[2]


@settings(max_examples=max(8, settings().max_examples // 3), deadline=None)
@given(
    parameter=st.sampled_from(FLOORS + CEILINGS),
    mhz=st.one_of(st.just(float("nan")), st.floats(1, 500)),
    value=st.floats(0.1, 700),
    better=st.floats(0, 50),
    bound=st.sampled_from([None, "below", "above"]),
    limit=st.sampled_from(LIMITS),
)
def test_a_better_reading_never_gets_a_worse_verdict(parameter, mhz, value, better, bound, limit):
    step = better if parameter in FLOORS else -min(better, value)
    found = verdicts(
        at(parameter, value, mhz, bound=bound), at(parameter, value + step, mhz, bound=bound), declared_limit=limit
    )["verdict"]
    # a reading that a rule takes out or that depends on insertion loss is judged alike on both sides, or gets better
    assert RANK[found[1]] >= RANK[found[0]]


@settings(max_examples=max(8, settings().max_examples // 3), deadline=None)
@given(margin=st.floats(-20, 20), better=st.floats(0, 20), limit=st.sampled_from(LIMITS))
def test_a_larger_declared_margin_never_gets_a_worse_verdict(margin, better, limit):
    found = verdicts(
        *(at("PSNEXT", declared_margin=number) for number in (margin, margin + better)), declared_limit=limit
    )["verdict"]
    assert RANK[found[1]] >= RANK[found[0]]


@settings(max_examples=max(8, settings().max_examples // 3), deadline=None)
@given(parameter=st.sampled_from(FLOORS + CEILINGS[:1]), mhz=st.floats(1, 250), value=st.floats(0.1, 80))
def test_margin_and_limit_add_up_to_the_value(parameter, mhz, value):
    one = verdicts(at(parameter, value, mhz), declared_limit="TIA Cat 6 Perm. Link").iloc[0]
    if one["basis"] == "worst point" and np.isfinite(one["limit"]):
        sign = 1 if parameter in FLOORS else -1
        assert one["margin"] == pytest.approx(sign * (value - one["limit"]), abs=2e-9)


def recalled():
    """Recalled tables of permanent link limits (memory, said so): parameter, MHz, value as the table rounds it."""
    lines = [
        line
        for line in (DATA / "copper_check_values_recalled.csv").read_text(encoding="utf-8").splitlines()
        if not line.startswith("#")
    ]
    return list(csv.DictReader(lines))


def test_a_reading_beside_a_recalled_limit_is_judged_by_it():
    rows = [row for row in recalled() if row["grade"] == "6" and row["parameter"] in FLOORS + CEILINGS[:1]]
    assert len(rows) > 40
    good, bad = [], []
    for row in rows:
        sign = 1 if row["parameter"] in FLOORS else -1
        number, mhz = float(row["value"]), float(row["frequency_mhz"])
        good.append(at(row["parameter"], number + sign * 0.15, mhz))
        bad.append(at(row["parameter"], number - sign * 0.15, mhz))
    given_limit = {"declared_limit": "TIA Cat 6 Perm. Link"}
    links = [pair_link(one, label=f"C{number}", **given_limit) for number, one in enumerate([*good, *bad])]
    table = judged_pairs(*links)[2]
    assert set(table["verdict"][: len(good)]) == {"pass"}
    # what fails may be taken out by a rule of exemption, for no insertion loss stands beside it
    assert set(table["verdict"][len(good) :]) <= {"fail", "not judged"}
    open_ones = table["verdict"][len(good) :] == "not judged"
    assert set(table["code"][len(good) :][open_ones]) <= {"exemption-open"}


# worked examples: the first three on slides of March 2004 (public, "a closer look at channel insertion loss"), read;
# class D carried to 250 MHz lies beyond the class; delay: derived from the equation of the corrigendum of 2008
@pytest.mark.parametrize(
    ("grade", "parameter", "mhz", "answer"),
    [
        ("D", "insertion loss", 100.0, 24.01),
        ("E", "insertion loss", 100.0, 21.71),
        ("E", "insertion loss", 250.0, 35.93),
        ("D", "propagation delay", 1.0, 580.0),
        ("6", "propagation delay", 100.0, 547.6),
    ],
)
def test_worked_examples_decide_on_both_sides_of_their_answer(grade, parameter, mhz, answer):
    half_a_digit = 0.05 if parameter == "propagation delay" else 0.006
    readings = [at(parameter, answer - half_a_digit, mhz), at(parameter, answer + half_a_digit, mhz)]
    rows = [pair_link(one, label=f"C{number}", declared_limit=None) for number, one in enumerate(readings)]
    table = judged_pairs(*rows, grade=grade, configuration="channel")[2]
    assert table["verdict"].tolist() == ["pass", "fail"]
    assert table["limit"].tolist() == pytest.approx([answer, answer], abs=half_a_digit)
