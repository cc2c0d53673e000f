"""Resistance of pairs. Limits: TIA-568.2-D as recalled (memory); the pairset: IEEE 802.3 types 2 to 4, 12.5 ohm
(memory), whose working 25 ohm per pair -> 12.5 ohm per pairset stands in applications_copper.csv of the reference."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer import schema
from analyzer.budget.overlay import lay_over
from analyzer.budget.pair_limits import PairLimits
from analyzer.budget.pair_resistance import (
    judge_remote_power,
    judge_unbalance_between_pairs,
    loop_ohm,
    pairset_limit_ohm,
    pairset_ohm,
)
from analyzer.job import Job
from analyzer.standards import load

VALUES = load()
PAIRS = ("1-2", "3-6", "4-5", "7-8")


def file_of(*rows):
    """Records (one test) and readings from (parameter, pair, value)."""
    records = schema.conform("records", pd.DataFrame({"record": [0], "key": ["c1"]}))
    readings = schema.conform("readings", pd.DataFrame({
        "reading": range(len(rows)), "record": 0, "parameter": [row[0] for row in rows],
        "pair": [row[1] for row in rows], "value": [float(row[2]) for row in rows],
    }))  # fmt: skip
    judged = schema.conform("judged", pd.DataFrame({"reading": range(len(rows)), "verdict": "not judged"}))
    return records, readings, judged


def unbalance(*rows):
    records, readings, judged = file_of(*rows)
    facts = schema.conform("facts", pd.DataFrame({
        "record": [0], "standard": "TIA", "grade": "6A", "configuration": "channel", "medium": "twisted pair",
    }))  # fmt: skip
    limits = PairLimits(facts, Job(), VALUES)
    overlay = judge_unbalance_between_pairs(readings, records, limits)
    return lay_over(judged, schema.empty("reasons"), overlay)


def test_between_pairs_seven_percent_of_both_in_parallel():
    # parallel resistance of a pair is a quarter of its loop: (20 + 20) / 4 = 10 ohm, 7 % of it 0.7 ohm
    loops = [("loop resistance", pair, 20) for pair in PAIRS]
    table, _ = unbalance(*loops, ("resistance unbalance", "1-2/3-6", 0.65), ("resistance unbalance", "4-5/7-8", 0.71))
    assert table["limit"].tolist()[4:] == pytest.approx([0.7, 0.7])
    assert table["verdict"].tolist()[4:] == ["pass", "fail"]
    assert table["margin"].tolist()[4:] == pytest.approx([0.05, -0.01])
    assert not table["counts"].any()


def test_without_the_loops_the_floor_proves_a_pass_and_no_fail():
    # the greater of 7 % and 0.1 ohm
    table, reasons = unbalance(("resistance unbalance", "1-2/3-6", 0.1), ("resistance unbalance", "1-2/4-5", 0.11))
    assert table["verdict"].tolist() == ["pass", "not judged"]
    assert reasons["code"].to_numpy()[table.loc[1, "reason"]] == "unbalance-without-loop"
    assert np.isnan(table.loc[1, "limit"])


def test_a_pairset_of_two_pairs_of_25_ohm():
    # applications_copper.csv: 25 ohm pair loop gives 12.5 ohm; 2 pairsets * 0.867 A squared * 12.5 ohm = 18.8 W
    sets = pairset_ohm(np.array([[25.0, 25.0, 25.0, np.nan]]))
    assert sets[0, 0] == 12.5
    assert np.isnan(sets[0, 1])
    assert 2 * 0.867**2 * sets[0, 0] == pytest.approx(18.8, abs=0.05)
    assert [pairset_limit_ohm(VALUES, f"type {number}") for number in (1, 2, 3, 4)] == [20.0, 12.5, 12.5, 12.5]


def test_remote_power_fails_the_pairset_and_spares_the_other():
    records, readings, judged = file_of(
        *[("loop resistance", pair, ohm) for pair, ohm in zip(PAIRS, (26, 25, 20, 20), strict=True)]
    )
    overlay = judge_remote_power(readings, records, judged, VALUES, "type 3")
    table, _ = lay_over(judged, schema.empty("reasons"), overlay)
    assert table["verdict"].tolist() == ["fail", "fail", "not judged", "not judged"]
    # pair 1-2 may have 50 - 25 ohm beside its partner
    assert table["limit"].tolist()[:2] == [25.0, 24.0]
    assert table["margin"].tolist()[:2] == [-1.0, -1.0]


@given(st.lists(st.floats(0.1, 40), min_size=4, max_size=4))
def test_a_pairset_has_the_mean_of_its_pairs_halved(loops):
    sets = pairset_ohm(np.array([loops]))[0]
    assert sets[0] == pytest.approx((loops[0] + loops[1]) / 2 / 2)
    assert sets.sum() * 4 == pytest.approx(sum(loops))


def test_of_two_readings_of_a_pair_the_higher_counts():
    records, readings, _ = file_of(("loop resistance", "1-2", 8), ("loop resistance", "1-2", 9))
    loops, test = loop_ohm(records, readings)
    assert loops[test[0], 0] == 9
    assert np.isnan(loops[test[0], 1:]).all()
