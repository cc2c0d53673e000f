"""Delay, velocity, length and temperature, against the worked examples of the reference (answers derived there from
the speed of light and the quoted coefficients) and against physics as laws."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from analyzer import schema
from analyzer.budget.pair_physics import (
    SPEED_OF_LIGHT_M_PER_NS,
    delay_ns,
    derive_lengths,
    length_m,
    nvp_percent,
    shortest_delay_ns,
)
from analyzer.budget.temperature import loss_factors, resistance_factor
from analyzer.standards import load

VALUES = load()
LENGTHS, VELOCITIES = st.floats(0.5, 500), st.floats(40, 100)


def test_the_speed_of_light_is_that_of_scipy():
    assert constants.c / 1e9 == SPEED_OF_LIGHT_M_PER_NS


def test_delay_of_a_hundred_metres():
    # worked_examples.csv: propagation delay of 100 m at velocity 69 % of c, 483.4 ns
    assert delay_ns(100, 69) == pytest.approx(483.4, abs=0.05)


def test_the_delay_limit_implies_the_lowest_velocity():
    # cable_properties.csv: 100 m / 537.6 ns / c = 62.0 %
    assert nvp_percent(100, 537.6) == pytest.approx(62.0, abs=0.05)


@given(LENGTHS, VELOCITIES)
def test_delay_times_velocity_is_length(length, velocity):
    assert length_m(delay_ns(length, velocity), velocity) == pytest.approx(length)
    assert nvp_percent(length, delay_ns(length, velocity)) == pytest.approx(velocity)


@pytest.mark.parametrize(
    ("degrees", "screened", "more_percent"),
    # worked_examples.csv: UTP at 40 C 8.0 %, UTP at 60 C 20.0 %, screened at 60 C 8.0 % more than at 20 C
    [(40, False, 8.0), (60, False, 20.0), (60, True, 8.0)],
)
def test_insertion_loss_of_warm_cable(degrees, screened, more_percent):
    least, greatest = loss_factors(np.array([degrees]), VALUES, screened=screened)
    assert (least[0] - 1) * 100 == pytest.approx(more_percent)
    assert greatest[0] == least[0]


def test_length_of_warm_cable():
    # worked_examples.csv: 90 m at 40 C become 83.3 m
    assert 90 / loss_factors(np.array([40.0]), VALUES, screened=False)[0][0] == pytest.approx(83.3, abs=0.05)


def test_resistance_of_warm_copper():
    # worked_examples.csv: 90 m of 24 AWG at 45 C, 16.65 ohm; electricianmath.com: 8.58 ohm per 100 m at about 25 C
    assert 2 * 8.421 * 0.9 * resistance_factor(np.array([45.0]), VALUES)[0] == pytest.approx(16.65, abs=0.005)
    assert 8.421 * resistance_factor(np.array([25.0]), VALUES)[0] == pytest.approx(8.58, abs=0.01)


@pytest.mark.parametrize("screened", [True, False, None])
def test_at_the_reference_temperature_nothing_changes(screened):
    assert [one[0] for one in loss_factors(np.array([20.0]), VALUES, screened=screened)] == [1.0, 1.0]
    assert resistance_factor(np.array([20.0]), VALUES)[0] == 1.0


@given(st.floats(20, 60), st.floats(20, 60))
def test_warmer_cable_loses_more(one, other):
    cool, warm = sorted((one, other))
    for screened in (True, False, None):
        least, greatest = loss_factors(np.array([cool, warm]), VALUES, screened=screened)
        assert least[0] <= least[1]
        assert greatest[0] <= greatest[1]
        assert (least <= greatest).all()


@pytest.mark.parametrize("degrees", [-10.0, 19.9, 60.1])
def test_without_a_sourced_coefficient_there_is_no_factor(degrees):
    assert np.isnan(loss_factors(np.array([degrees]), VALUES, screened=False)[0][0])


def tables(rows):
    """Records and readings from (key, delays, nvp, length)."""
    records = pd.DataFrame({
        "record": range(len(rows)), "key": [row[0] for row in rows], "nvp_percent": [row[2] for row in rows],
    })  # fmt: skip
    delays = [(at, value) for at, row in enumerate(rows) for value in row[1]]
    readings = pd.DataFrame({
        "reading": range(len(delays)), "record": [at for at, _ in delays], "value": [value for _, value in delays],
        "parameter": "propagation delay",
    })  # fmt: skip
    facts = pd.DataFrame({
        "record": range(len(rows)), "length_m": [row[3] for row in rows], "medium": "twisted pair",
        "length_m_from": ["missing" if np.isnan(row[3]) else "file" for row in rows],
    })  # fmt: skip
    return (schema.conform(name, frame) for name, frame in
            (("facts", facts), ("records", records), ("readings", readings)))  # fmt: skip


def test_a_missing_length_is_derived_from_the_quickest_pair():
    facts, records, readings = tables([("c1", [483.4, 490.0], 69.0, np.nan), ("c2", [300.0], 69.0, 61.0)])
    seeds = derive_lengths(facts, records, readings)
    assert facts["length_m"].tolist() == [pytest.approx(100, abs=0.01), 61.0]
    assert facts["length_m_from"].tolist() == ["derived", "file"]
    assert seeds["code"].tolist() == ["length-derived"]


def test_rows_of_one_test_share_their_delays():
    _, records, readings = tables(
        [("c1", [490.0], 69.0, np.nan), ("c1", [483.0], 69.0, np.nan), ("c2", [], 69.0, np.nan)]
    )
    assert shortest_delay_ns(records, readings)[:2].tolist() == [483.0, 483.0]
    assert np.isnan(shortest_delay_ns(records, readings)[2])


def test_without_a_velocity_nothing_is_derived():
    facts, records, readings = tables([("c1", [483.4], np.nan, np.nan)])
    assert derive_lengths(facts, records, readings).empty
    assert facts["length_m"].isna().all()
