"""Strands that stand out among their sisters: honest skewed connectors stay quiet, a dirty one among good ones is told."""

import numpy as np
import pytest
from crew import joined, om4
from scipy import stats

from analyzer.insights.chances import skew_of, skewed_tail
from analyzer.insights.workmanship import USUAL_SHAPE, USUAL_SPREAD_DB, against_sisters, sisters_that_stand_out

GRADE_B = {"median": 0.112, "shape": 0.39}
"""Log-normal with a mean of 0.12 dB and a 97 % value near 0.25 dB (IEC 61755-1, recalled)."""
TIGHT = {"median": 0.096, "shape": 0.28}
ROUGH = {"median": 0.16, "shape": 0.5}


def cables(seed, count=3, strands=24, dirt_db=0.0, median=0.112, shape=0.39):
    """Strands of honest connectors; strand 4 of the first cable has `dirt_db` more."""
    rng = np.random.default_rng(seed)
    rows = []
    for c in range(count):
        ends = rng.lognormal(np.log(median), shape, (strands, 2)).sum(axis=1)
        ends[3] += dirt_db if c == 0 else 0.0
        for n in range(strands):
            loss = {850: round(0.28 + ends[n], 2), 1300: round(0.07 + 0.85 * ends[n] + rng.normal(0, 0.02), 2)}
            rows.append(om4(f"TB-{101 + c}-{n + 1:02d}", cable=f"TB-{101 + c}", strand=str(n + 1), loss=loss))
    return joined(rows)


def told(job):
    return [label for found in sisters_that_stand_out(job) for label in found.links]


def test_the_tail_is_that_of_a_log_normal_distribution_with_a_location():
    # scipy: lognorm(s=shape, loc=-m, scale=m) has its median at zero
    shape, middle, z = 0.37, 0.29, 1.2815515655446004
    ours = stats.lognorm(shape, loc=-middle, scale=middle)
    below, above = ours.ppf([0.1, 0.9])
    assert skew_of(-below, above, z) == pytest.approx(shape)
    excess = np.array([0.0, 0.2, 0.8, 1.6])
    np.testing.assert_allclose(skewed_tail(excess, (above - below) / 2, shape, z), ours.sf(excess))


def test_the_usual_spread_and_skew_are_those_of_two_connections_of_grade_b():
    # gamma with the mean 0.12 and the 97 % value 0.25: scipy solves for its shape
    from scipy.optimize import brentq

    k = brentq(lambda k: stats.gamma.ppf(0.97, k, scale=0.12 / k) - 0.25, 1, 50)
    assert pytest.approx(np.sqrt(2 * k) * 0.12 / k, abs=0.005) == USUAL_SPREAD_DB
    assert stats.lognorm.stats(USUAL_SHAPE, moments="s") == pytest.approx(
        stats.gamma.stats(2 * k, moments="s"), abs=0.03
    )


@pytest.mark.parametrize("seed", range(4))
def test_honest_skewed_connectors_stay_quiet(seed):
    # by the rule of four robust spreads one strand of a hundred of these was told
    assert told(cables(seed, count=6, **ROUGH)) == []


@pytest.mark.parametrize(("connectors", "dirt_db"), [(TIGHT, 0.4), (GRADE_B, 0.6)])
@pytest.mark.parametrize("seed", range(3))
def test_a_dirty_connector_is_told_where_the_others_are_better(connectors, dirt_db, seed):
    assert "TB-101-04" in told(cables(seed, dirt_db=dirt_db, **connectors))


def test_evidence_says_reading_median_and_what_chance_gives():
    (found,) = sisters_that_stand_out(cables(1, dirt_db=0.9))
    reading, median, looked_at, by_chance = found.evidence
    assert reading.row is not None
    assert reading.value - median.value > 0.7
    assert looked_at.value == 72
    assert by_chance.value < 0.05


def test_a_link_that_fails_at_another_wavelength_is_told_as_failing():
    rows = [om4(f"TB-1-{n:02d}", loss={850: 0.5, 1300: 0.4}) for n in range(1, 9)]
    assert sisters_that_stand_out(joined([*rows, om4("TB-1-09", loss={850: 9.0, 1300: 1.3})])) == []
    assert told(joined([*rows, om4("TB-1-09", loss={850: 0.5, 1300: 1.3})])) == ["TB-1-09"]


def test_too_few_strands_are_not_compared():
    assert against_sisters(joined([om4(f"TB-1-{n}") for n in range(5)])).empty
