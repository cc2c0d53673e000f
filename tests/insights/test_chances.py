"""The statistics against published tables and other programs; each check names its origin."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analyzer.insights import chances


@pytest.mark.parametrize(
    ("seen", "trials", "low", "high"),
    [
        # Clopper-Pearson 95 % limits as tables of Biometrika Tables for Statisticians, vol. 1, table 41 print them,
        # recalled and confirmed by scipy 1.17: 0, 1, 3 and 5 of 10, 1 of 20
        (0, 10, 0.0, 0.3085),
        (1, 10, 0.0025, 0.4450),
        (3, 10, 0.0667, 0.6525),
        (5, 10, 0.1871, 0.8129),
        (1, 20, 0.0013, 0.2487),
    ],
)
def test_exact_intervals_are_those_of_the_tables(seen, trials, low, high):
    ours = chances.exact_interval(seen, trials)
    assert [round(float(end), 4) for end in ours] == [low, high]


@pytest.mark.parametrize("confidence", [0.90, 0.95, 0.99])
def test_exact_intervals_are_those_of_statsmodels(confidence):
    from statsmodels.stats.proportion import proportion_confint

    k, n = np.array([0, 1, 7, 50, 99, 100]), np.array([9, 40, 7, 100, 100, 1000])
    ours = chances.exact_interval(k, n, confidence)
    theirs = proportion_confint(k, n, alpha=1 - confidence, method="beta")
    np.testing.assert_allclose(np.array(ours), np.nan_to_num(np.array(theirs)), atol=1e-12)


def test_tails_are_those_of_scipy():
    k, n, p = np.array([0, 1, 5, 30, 31]), np.array([30, 30, 30, 30, 30]), np.array([0.1, 0.1, 0.1, 0.9, 0.9])
    np.testing.assert_allclose(chances.at_least(k, n, p), stats.binom.sf(k - 1, n, p), rtol=1e-10)
    np.testing.assert_allclose(chances.poisson_at_least(k, 3.5), stats.poisson.sf(k - 1, 3.5), rtol=1e-10)


def test_a_group_drawn_at_random_is_fishers_exact_test():
    marked, group = np.array([0, 3, 8, 12]), np.array([24, 24, 24, 12])
    ours = chances.drawn_at_least(marked, group, 20, 300)
    theirs = [
        stats.fisher_exact([[k, n - k], [20 - k, 280 - (n - k)]], alternative="greater").pvalue
        for k, n in zip(marked, group, strict=True)
    ]
    np.testing.assert_allclose(ours, theirs, rtol=1e-9)


def test_few_failures_after_a_history_are_beta_binomial():
    ours = chances.predictive_at_most(3, 500, (40, 2000))
    assert ours == pytest.approx(stats.betabinom.cdf(3, 500, 40.5, 1960.5), rel=1e-9)


def test_last_digits_of_the_published_points():
    # chi-square with 9 degrees of freedom: 16.92, 21.67, 27.88 are exceeded in 5, 1 and 0.1 % (NIST/SEMATECH e-Handbook,
    # table 1.3.6.7.4); counts made so that the statistic comes near each
    for target, share in ((16.92, 0.05), (21.67, 0.01), (27.88, 0.001)):
        _, chance = chances.even_digits(_counts_with(target))
        assert chance == pytest.approx(share, rel=0.01)


def _counts_with(statistic):
    counts = np.full(10, 1e6)
    counts[0] += np.sqrt(statistic * 1e6 / 2)
    counts[1] -= np.sqrt(statistic * 1e6 / 2)
    return counts


def test_chi_square_is_that_of_scipy():
    counts = np.array([31, 8, 12, 9, 11, 28, 10, 7, 9, 12])
    assert chances.even_digits(counts) == pytest.approx(tuple(stats.chisquare(counts)))


RAT_TUMORS = """0/20 0/20 0/20 0/20 0/20 0/20 0/20 0/19 0/19 0/19 0/19 0/18 0/18 0/17 1/20 1/20 1/20 1/20 1/19 1/19 1/18
1/18 2/25 2/24 2/23 2/20 2/20 2/20 2/20 2/20 2/20 1/10 5/49 2/19 5/46 3/27 2/17 7/49 7/47 3/20 3/20 2/13 9/48 10/50 4/20
4/20 4/20 4/20 4/20 4/20 4/20 10/48 4/19 4/19 4/19 5/22 11/46 12/49 5/20 5/20 6/23 5/19 6/22 6/20 6/20 6/20 16/52 15/47
15/46 9/24"""
"""Gelman and others, Bayesian Data Analysis, third edition, table 5.1: 70 historical groups (recalled; the check below
that their mean is 0.136 and their standard deviation 0.103, printed there in section 5.1, guards the recollection)."""


def test_shrinkage_on_a_published_example():
    pairs = np.array([text.split("/") for text in RAT_TUMORS.split()], dtype=int)
    k, n = pairs.T
    raw = k / n
    assert (len(k), round(raw.mean(), 3), round(raw.std(ddof=1), 3)) == (70, 0.136, 0.103)
    shrunk = chances.shrunk_rates(k, n)
    # the likeliest beta distribution of the same data, found by scipy, and the posterior means that it gives
    from scipy.optimize import minimize

    found = minimize(
        lambda log: -stats.betabinom.logpmf(k, n, *np.exp(log)).sum(), x0=np.log([1.4, 8.6]), method="Nelder-Mead"
    )
    a, b = np.exp(found.x)
    np.testing.assert_allclose(shrunk.rates, (k + a) / (n + a + b), atol=0.012)
    assert shrunk.a / (shrunk.a + shrunk.b) == pytest.approx(a / (a + b), abs=0.01)


def test_three_links_make_no_scandal():
    # 2 of 3 links failed in one room, 3 % elsewhere
    failures, links = np.array([2, *([0, 1, 1, 2, 0, 1] * 5)]), np.array([3, *([40] * 30)])
    shrunk = chances.shrunk_rates(failures, links).rates
    assert failures[0] / links[0] > 0.6
    assert shrunk[0] < 0.2


def test_groups_that_differ_by_chance_alone_all_get_the_mean():
    failures = np.array([2, 2, 2, 2, 2])
    assert chances.shrunk_rates(failures, np.full(5, 100)).rates == pytest.approx(np.full(5, 0.02))


def test_no_group_and_no_failure_are_no_error():
    assert chances.shrunk_rates(np.array([]), np.array([])).rates.tolist() == []
    assert chances.shrunk_rates(np.zeros(3), np.array([5, 1, 0])).rates.tolist() == [0, 0, 0]


def test_equal_pairs_of_the_practice_notes():
    # practitioner_pains T2: 500 links, lengths to 0.1 m with a spread of 20 m give 176 equal pairs; two losses to
    # 0.01 dB with a spread of 0.08 dB give 155, four give 0.19
    pairs = 500 * 499 / 2
    assert pairs * chances.same_cell(np.array([[200.0**2]])) == pytest.approx(176, abs=0.5)
    assert pairs * chances.same_cell(np.eye(2) * 8**2) == pytest.approx(155, abs=0.5)
    assert pairs * chances.same_cell(np.eye(4) * 8**2) == pytest.approx(0.19, abs=0.01)


def test_equal_pairs_of_correlated_readings_are_counted():
    rng = np.random.default_rng(5)
    covariance = np.array([[90.0, 80.0], [80.0, 90.0]])
    draws = np.round(rng.multivariate_normal([300, 300], covariance, 4000))
    _, counts = np.unique(draws, axis=0, return_counts=True)
    seen = (counts * (counts - 1) / 2).sum()
    assert seen == pytest.approx(4000 * 3999 / 2 * chances.same_cell(covariance), rel=0.05)
