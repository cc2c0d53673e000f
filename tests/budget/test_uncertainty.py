"""Probabilities, guard bands and decision rules, compared with published examples and with scipy.stats.

Source of every published number: tests/budget/data/decision_checks.csv, which says how each is known.
"""

import csv
import itertools
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from analyzer.budget.uncertainty import (
    NOT_JUDGED,
    TAKEN_AS,
    TAKEN_AS_WORDS,
    VERDICTS,
    accepted,
    combined,
    decide,
    decision_rules,
    guard_band,
    margin_of,
    p_conform,
    p_conform_between,
    standard_uncertainty,
    worst_risk,
)
from analyzer.errors import OptionError

DATA = Path(__file__).with_name("data") / "decision_checks.csv"
RULES = list(decision_rules())
decibels = st.floats(-50, 50)
spreads = st.floats(1e-3, 10)


def checks():
    with DATA.open(encoding="utf-8", newline="") as lines:
        return {row["check"]: row for row in csv.DictReader(line for line in lines if not line.startswith("#"))}


CHECKS = checks()
COMPUTED = {
    "D01": lambda: p_conform(-5.47, -5.40, 0.05),
    "D02": lambda: p_conform(509.7, 490, 8.6, "floor"),
    "D03": lambda: p_conform_between(13.6, 12.5, 16.3, 1.8),
    # A = T + z u with u = 2 % of A: the speed at which exceeding T is 99.9 % sure
    "D04": lambda: 100 / (1 - float(guard_band(0.02, 0.999))),
    "D05": lambda: worst_risk("simple acceptance")[0],
    "D06": lambda: worst_risk("guarded acceptance")[0],
    "D07": lambda: 1.44 * combined(0.19, standard_uncertainty(0.22, "coverage k=2")),
    "D08": lambda: 4.00 / (2 * 0.800),
    "D09a": lambda: worst_risk("guarded acceptance 0.83 U")[0],
    "D09b": lambda: worst_risk("guarded acceptance 1.5 U")[0],
    "D09c": lambda: worst_risk("guarded acceptance 3 U")[0],
}


def test_every_published_example_is_checked():
    assert set(COMPUTED) | {"D10"} == set(CHECKS)


@pytest.mark.parametrize("name", COMPUTED)
def test_published_example(name):
    row = CHECKS[name]
    assert float(row["low"]) <= float(COMPUTED[name]()) <= float(row["high"])


def test_d04_the_speed_found_is_over_the_limit_with_the_wanted_probability():
    speed = COMPUTED["D04"]()
    assert 1 - p_conform(speed, 100, 0.02 * speed) == pytest.approx(0.999, abs=1e-12)


def test_d08_probability_at_the_limit_less_u():
    # derived from the same figures: y = 3.20, limits -4 and 4
    assert p_conform_between(3.2, -4, 4, 0.8) == pytest.approx(0.8413, abs=5e-5)


def test_d10_four_bands_of_a_ceiling():
    # limit 2.0, guard band 0.3: below 1.7 pass, to 2.0 conditional pass, to 2.3 conditional fail, beyond fail
    codes = decide([1.69, 1.7, 1.71, 2.0, 2.01, 2.3, 2.31], 2.0, 0.3, "non-binary with guard band")
    words = [VERDICTS[code] for code in codes]
    assert words == ["pass", "pass", "marginal pass", "marginal pass", "marginal fail", "marginal fail", "fail"]


@given(decibels, decibels, spreads)
def test_probability_is_that_of_the_normal_distribution(value, limit, u):
    margin = margin_of(value, limit)
    assert p_conform(value, limit, u) == pytest.approx(stats.norm.cdf(margin, scale=u), abs=1e-12)
    assert p_conform(value, limit, u, "floor") == pytest.approx(stats.norm.sf(margin, scale=u), abs=1e-12)


@given(spreads, st.floats(0.001, 0.999))
def test_guard_band_gives_the_probability_it_was_made_for(u, probability):
    assert p_conform(-guard_band(u, probability), 0.0, u) == pytest.approx(probability, abs=1e-6)


def test_guard_bands_of_the_usual_probabilities():
    # z of 0.80, 0.90, 0.95, 0.99, 0.999: any table of the normal distribution
    for probability, z in ((0.80, 0.84), (0.90, 1.28), (0.95, 1.645), (0.99, 2.326), (0.999, 3.09)):
        assert guard_band(1.0, probability) == pytest.approx(z, abs=5e-3)


def test_how_an_accuracy_is_taken_changes_the_probability_and_is_said():
    # margin 0.8 dB, accuracy 1.9 dB: 80 % taken as U, 77 % taken as an even spread (computed by hand)
    assert p_conform(0, 0.8, standard_uncertainty(1.9, "coverage k=2")) == pytest.approx(0.80, abs=5e-3)
    assert p_conform(0, 0.8, standard_uncertainty(1.9)) == pytest.approx(0.77, abs=5e-3)
    assert set(TAKEN_AS) == set(TAKEN_AS_WORDS)
    # an even spread of half-width a has the standard deviation that scipy gives it
    assert standard_uncertainty(1.9) == pytest.approx(stats.uniform(-1.9, 3.8).std())


def test_at_the_limit_the_probability_is_a_half_whatever_the_uncertainty():
    np.testing.assert_array_equal(p_conform([2.0, 2.0, 2.0], 2.0, [0.01, 1.0, 0.0]), 0.5)


def test_missing_numbers_stay_missing():
    np.testing.assert_array_equal(p_conform([np.nan, 1, 1], [1, np.nan, 1], [1, 1, np.nan]), np.nan)
    assert np.isnan(p_conform(1.0, 2.0, -1.0))
    codes = decide([np.nan, 1.0, 1.0, 1.0], [2.0, np.nan, 2.0, 2.0], [0.1, 0.1, np.nan, -0.1])
    np.testing.assert_array_equal(codes, [NOT_JUDGED, NOT_JUDGED, 3, NOT_JUDGED])


def test_a_rule_with_a_guard_band_is_not_applied_without_an_uncertainty():
    assert decide(1.0, 2.0, np.nan, "guarded acceptance") == NOT_JUDGED
    assert decide(3.0, 2.0, np.nan, "guarded rejection") == NOT_JUDGED
    assert VERDICTS[decide(3.0, 2.0, np.nan, "simple acceptance")] == "fail"


@pytest.mark.parametrize(
    ("rule", "margins_accepted"),
    [
        ("simple acceptance", [False, False, True, True, True]),
        ("simple acceptance with flag", [False, False, True, True, True]),
        ("guarded acceptance", [False, False, False, False, True]),
        ("guarded rejection", [False, True, True, True, True]),
        ("non-binary with guard band", [False, False, False, False, True]),
    ],
)
def test_who_carries_the_risk(rule, margins_accepted):
    margins = np.array([-0.31, -0.2, 0.0, 0.2, 0.3])
    codes = decide(2.0 - margins, 2.0, 0.3, rule)
    np.testing.assert_array_equal(accepted(codes, rule), margins_accepted)
    assert not accepted(np.int8(NOT_JUDGED), rule)


@pytest.mark.parametrize("rule", RULES)
def test_a_rule_is_named_with_its_risk_and_source(rule):
    sentence = decision_rules()[rule].sentence
    assert rule in sentence
    assert "risk: wrong" in sentence
    assert decision_rules()[rule].source in sentence


@given(st.sampled_from(RULES), st.sampled_from(["ceiling", "floor"]), decibels, decibels, decibels, st.floats(0, 10))
def test_a_better_value_never_gets_a_worse_verdict(rule, sense, limit, one, other, expanded):
    better, worse = sorted((one, other), reverse=sense == "floor")
    codes = decide([better, worse], limit, expanded, rule, sense)
    assert codes[0] >= codes[1]
    assert accepted(codes[0], rule) >= accepted(codes[1], rule)


@given(st.sampled_from(RULES), decibels, decibels, st.floats(0, 10))
def test_a_ceiling_mirrored_is_a_floor(rule, value, limit, expanded):
    assert decide(value, limit, expanded, rule) == decide(-value, -limit, expanded, rule, "floor")


@given(st.sampled_from(RULES), decibels, decibels, spreads)
def test_no_accepted_reading_is_likelier_to_be_bad_than_the_rule_says(rule, value, limit, u):
    if accepted(decide(value, limit, 2 * u, rule), rule):
        assert 1 - p_conform(value, limit, u) <= worst_risk(rule)[0] + 1e-6
    else:
        assert p_conform(value, limit, u) <= worst_risk(rule)[1] + 1e-6


def test_wider_bands_never_turn_an_accepted_reading_of_simple_acceptance():
    for one, other in itertools.pairwise((0.0, 0.1, 0.5, 2.0)):
        values = np.linspace(0, 4, 81)
        np.testing.assert_array_equal(
            accepted(decide(values, 2.0, one)), accepted(decide(values, 2.0, other)), strict=True
        )


@pytest.mark.parametrize(
    ("call", "part"),
    [
        (lambda: standard_uncertainty(1.0, "gut feeling"), "known are even spread, coverage k=2"),
        (lambda: decide(1, 2, 0.1, "wishful"), "known are simple acceptance,"),
        (lambda: decide(1, 2, 0.1, sense="wall"), "a ceiling or a floor"),
        (lambda: guard_band(0.1, 1.0), "between 0 and 1"),
    ],
)
def test_refused_in_one_sentence(call, part):
    with pytest.raises(OptionError, match=part):
        call()


def test_the_page_lists_the_rules_as_they_are():
    page = (Path(__file__).parents[2] / "docs" / "uncertainty.md").read_text(encoding="utf-8")
    rows = [tuple(cell.strip() for cell in line.strip("|").split(" | ")) for line in page.splitlines()]
    for rule in decision_rules().values():
        accepts = ", ".join(rule.accepts)
        wanted = (rule.name, f"{rule.accept_guard:g} U", f"{rule.reject_guard:g} U", accepts, rule.risk)
        assert wanted in rows
    read = sum(row["how_known"] == "read" for row in CHECKS.values())
    assert (len(CHECKS), read) == (12, 5)
