"""Sketches of curves: trends taken off, near ones found as by comparing all with all, chance against known laws."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.spatial.distance import pdist

from analyzer.insights.sketches import FEWEST_DISTANCES, apart, chance_below, detrended, near_in_cells, together


def test_a_constant_a_tilt_and_a_bend_make_no_distance():
    rng = np.random.default_rng(1)
    x = np.linspace(0, 1, 30)
    curves = rng.normal(0, 3, (40, 30))
    curves[7] = curves[5] + 0.4 - 0.8 * x + 0.3 * x**2
    rest = detrended(curves)
    assert apart(rest[7], rest[5]) < 1e-6
    # what numpy's own least squares leaves of the difference
    difference = curves[9] - curves[5]
    left = difference - np.polyval(np.polyfit(x, difference, 2), x)
    assert apart(rest[9], rest[5]) == pytest.approx(np.sqrt((left**2).mean()), rel=1e-5)


def test_a_missing_point_stands_where_it_is_usual():
    rng = np.random.default_rng(2)
    curves = rng.normal(0, 0.1, (20, 16)) + np.sin(np.arange(16))
    curves[3, 5] = np.nan
    rest = detrended(curves)
    assert np.isfinite(rest).all()
    assert abs(rest[3, 5]) < 0.3


def brute(sketches, reach):
    both = np.triu_indices(len(sketches), 1)
    near = pdist(sketches) / np.sqrt(sketches.shape[1]) <= reach
    return set(zip(both[0][near].tolist(), both[1][near].tolist(), strict=True))


def test_near_sketches_are_those_of_a_comparison_of_all():
    rng = np.random.default_rng(3)
    sketches = rng.normal(0, 4, (600, 24)).astype(np.float32)
    sketches[300:340] = sketches[:40] + rng.normal(0, 0.08, (40, 24))
    sketches[500] = sketches[501] + 0.5
    wanted = brute(sketches, 0.2)
    assert len(wanted) == 40
    found = np.concatenate([near_in_cells(sketches, 0.2, rng) for _ in range(12)])
    assert {(min(pair), max(pair)) for pair in found.tolist()} == wanted


def test_a_crowd_of_equal_curves_is_found_whole_and_not_pair_by_pair():
    rng = np.random.default_rng(4)
    sketches = rng.normal(0, 4, (1000, 24)).astype(np.float32)
    sketches[:400] = sketches[0] + rng.normal(0, 0.03, (400, 24))
    pairs = np.concatenate([near_in_cells(sketches, 0.2, rng) for _ in range(6)])
    assert len(pairs) <= 6 * 8 * 400
    (crowd,) = together(pairs)
    assert crowd.tolist() == list(range(400))


@pytest.mark.parametrize("freedom", [4, 8, 20, 60])
def test_the_chance_of_a_small_distance_is_never_too_small(freedom):
    # distance of two normal vectors: chi with as many degrees of freedom as they have coordinates (scipy)
    law = stats.chi(freedom)
    sample = law.rvs(6000, random_state=5)
    for far in (0.5, 0.2, 0.05):
        reach = far * law.ppf(0.01)
        said, true = float(chance_below(sample, reach)[0]), law.cdf(reach)
        assert said >= true
        # nor of no use: it falls by orders of magnitude with the reach
        assert said <= 0.012 * far ** (freedom / 6)


def test_the_chance_of_a_power_law_is_its_own():
    # d^3 is even between 0 and 1: exactly the law that is fitted
    sample = np.random.default_rng(6).uniform(0, 1, 20_000) ** (1 / 3)
    assert chance_below(sample, 0.02)[0] == pytest.approx(0.02**3, rel=0.5)


def test_few_distances_tell_nothing():
    assert chance_below(np.full(FEWEST_DISTANCES - 1, 5.0), 0.1)[0] == 1.0
    assert chance_below(np.empty(0), np.array([0.1, 0.2])).tolist() == [1.0, 1.0]


def test_pairs_that_share_a_member_belong_together():
    groups = together(np.array([[7, 3], [1, 2], [3, 9], [2, 5], [11, 12]]))
    assert [group.tolist() for group in groups] == [[1, 2, 5], [3, 7, 9], [11, 12]]
    assert together(np.empty((0, 2), dtype=np.int64)) == []
