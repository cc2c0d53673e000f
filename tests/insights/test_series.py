"""Change points, stretches and control charts against published series and constants."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analyzer.insights import series
from analyzer.insights.series import shared_in_groups, trend


def test_the_nile_changes_after_1898():
    # Annual flow at Aswan 1871 to 1970, the data as statsmodels carries them; the change after 1898: Cobb 1978,
    # Biometrika 65:243. The statistic at that place again by scipy's Mann-Whitney test, its chance by Pettitt's formula.
    from statsmodels.datasets import nile

    flow = nile.load_pandas().data
    change = series.change_point(flow["volume"])
    assert flow["year"].iloc[change.at - 1] == 1898
    u = stats.mannwhitneyu(flow["volume"][28:], flow["volume"][:28]).statistic
    assert change.statistic == abs(2 * u - 28 * 72)
    assert change.chance == pytest.approx(2 * np.exp(-6 * change.statistic**2 / (100**3 + 100**2)))
    assert series.level_shift_chance(flow["volume"], change.at) < 1e-9


def test_pettitts_statistic_is_that_of_mann_and_whitney():
    x = np.random.default_rng(3).normal(size=40)
    x[25:] += 1.0
    change = series.change_point(x)
    u = stats.mannwhitneyu(x[change.at :], x[: change.at]).statistic
    assert change.statistic == pytest.approx(abs(2 * u - change.at * (40 - change.at)))


def test_a_constant_series_does_not_change():
    assert series.change_point(np.full(30, 0.4)).chance == 1
    assert series.low_runs(np.full(30, 0.4)) == []


@pytest.mark.parametrize("size", [12, 24, 60])
def test_level_shifts_of_honest_series_are_as_rare_as_said(size):
    rng = np.random.default_rng(size)
    told = 0
    for _ in range(600):
        x = rng.lognormal(-1.8, 0.5, (size, 2)).sum(axis=1)
        told += series.level_shift_chance(x, series.change_point(x).at) < 0.05
    assert told / 600 <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 600)


def test_without_choosing_the_place_it_is_the_t_test():
    rng = np.random.default_rng(8)
    x = rng.uniform(0, 1, 20)  # no value is drawn in: a uniform one never lies 3 robust deviations out
    t = stats.ttest_ind(x[:8], x[8:], equal_var=True)
    assert series.level_shift_chance(x, 8) == pytest.approx(min(1, 19 * t.pvalue), rel=1e-9)


def test_a_short_series_borrows_from_the_others():
    x = np.array([0.50, 0.61, 0.42, 0.55, 0.47, 0.93, 0.97, 1.02, 0.95, 1.04])
    alone = series.level_shift_chance(x, 5)
    with_others = series.level_shift_chance(x, 5, series.Spread(0.005, 20.0))
    assert with_others < alone / 10


def test_the_individuals_chart_of_the_handbook():
    # NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.2, flow rates of 10 batches: center 50.81, limits 45.8159 and
    # 55.8041 with d2 = 1.128 (recalled; mean and mean moving range 1.8778 follow from the data)
    flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    chart = series.individuals_chart(flow)
    assert (round(chart.low, 4), round(chart.center, 2), round(chart.high, 4)) == (45.8159, 50.81, 55.8041)


def test_d2_of_two_is_two_over_the_root_of_pi():
    assert pytest.approx(2 / np.sqrt(np.pi), abs=5e-4) == series.D2_OF_TWO


def test_stretches_of_honest_series_are_as_rare_as_said():
    rng = np.random.default_rng(17)
    told = 0
    for _ in range(400):
        runs = series.low_runs(rng.gamma(2, 0.1, 300))
        told += bool(runs and runs[0].chance < 0.05)
    assert told / 400 <= 0.05


def test_a_stretch_is_found_where_it_lies():
    x = np.random.default_rng(1).normal(size=400)
    x[200:225] -= 2.0
    first = series.low_runs(x)[0]
    assert first.chance < 1e-4
    assert abs(first.start - 200) <= 3
    assert abs(first.stop - 225) <= 3


def test_runs_of_marks():
    assert series.runs_of(np.array([1, 0, 0, 1, 1, 1, 0, 1], dtype=bool)) == [(0, 1), (3, 6), (7, 8)]
    assert series.runs_of(np.array([], dtype=bool)) == []


# --- trends, against scipy


@pytest.mark.parametrize("n", [4, 9, 30, 120])
def test_slope_and_chance_of_a_trend_are_those_of_scipy(n):
    values = np.random.default_rng(n).normal(0, 2, n) - 3 * np.arange(n) / n
    found = trend(values)
    assert found.slope == pytest.approx(stats.theilslopes(values).slope)
    for side, chance in (("less", found.fall_chance), ("greater", found.rise_chance)):
        known = stats.kendalltau(np.arange(n), values, method="exact", alternative=side)
        assert found.tau == pytest.approx(known.statistic)
        assert chance == pytest.approx(known.pvalue, rel=1e-6)


def test_ties_are_allowed_for_as_scipy_does():
    values = np.round(np.random.default_rng(3).normal(0, 1.2, 60) + 0.02 * np.arange(60))
    found = trend(values)
    for side, chance in (("less", found.fall_chance), ("greater", found.rise_chance)):
        known = stats.kendalltau(np.arange(60), values, method="asymptotic", alternative=side)
        assert found.tau == pytest.approx(known.statistic)
        assert chance == pytest.approx(known.pvalue)


@pytest.mark.parametrize("values", [[], [1.0], [2.0, 2.0, 2.0]])
def test_no_trend_without_values_that_differ(values):
    assert trend(values)[1:] == (0.0, 1.0, 1.0)


def test_the_correlation_inside_groups_is_that_of_statsmodels():
    # variance components of a mixed model (statsmodels, REML) on even groups: the same as the analysis of variance
    import pandas as pd
    from statsmodels.regression.mixed_linear_model import MixedLM

    rng = np.random.default_rng(4)
    group = np.repeat(np.arange(200), 12)
    values = rng.normal(0, 1, 200)[group] + rng.normal(0, 2, len(group))
    fit = MixedLM(values, np.ones((len(values), 1)), groups=pd.Series(group)).fit()
    between = float(np.asarray(fit.cov_re)[0, 0])
    alike = between / (between + fit.scale)
    # the bound lies above the estimate, and with so many groups not far
    assert 1 + 11 * alike < shared_in_groups(values, group) < 1 + 11 * alike * 1.4


def test_values_of_groups_make_no_trend_by_chance():
    """Panels that differ and have no trend: Student's tail with the design effect errs no more often than it says."""
    rng = np.random.default_rng(5)
    chances = []
    for _ in range(120):
        group = np.repeat(np.arange(10), 12)
        values = rng.normal(0, 1.5, 10)[group] + rng.normal(0, 2, len(group))
        plain = trend(values)
        rest = values - plain.slope * np.arange(len(values))
        chances.append((plain.fall_chance, trend(values, shared_in_groups(rest, group), 8).fall_chance))
    plain, corrected = (np.array(chances)[:, side] for side in (0, 1))
    assert (plain < 0.01).mean() > 0.1
    assert (corrected < 0.01).mean() <= 0.015


def test_values_that_share_nothing_count_in_full():
    assert shared_in_groups(np.arange(6.0), np.arange(6)) == 1.0
    assert shared_in_groups(np.repeat([1.0, 5.0], 4), np.repeat([0, 1], 4)) == 4.0
