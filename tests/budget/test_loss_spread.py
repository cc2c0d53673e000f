"""Fit of one component and convolution of many, compared with scipy's distributions, convolution and random draws."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, signal, special, stats

from analyzer import standards
from analyzer.budget.loss_spread import LINE, STEP_DB, Gamma, Spread, fit_gamma, sum_curve
from analyzer.errors import OptionError

ROWS = {row["row_id"]: row for row in standards.load().rows("component_spread")}
B, C, BM = Spread(0.12, 0.25), Spread(0.25, 0.5), Spread(0.3, 0.6)
FUSION = Spread(0.05, 0.1)
parts = st.lists(
    st.tuples(st.sampled_from([B, C, BM, FUSION]), st.integers(0, 4)), min_size=1, max_size=3, unique_by=lambda x: x[0]
)


@pytest.mark.parametrize("row_id", ROWS)
def test_published_mean_and_97_percent_value_come_back_from_the_fit(row_id):
    # IEC 61755-1 grades (recalled) and the other rows of component_loss_spread.csv; scipy.stats.gamma is the judge
    row = ROWS[row_id]
    shape, scale = fit_gamma(Spread(row["mean_db"], row["q97_db"]))
    loss = stats.gamma(shape, scale=scale)
    assert loss.mean() == pytest.approx(row["mean_db"], rel=1e-9)
    assert loss.ppf(0.97) == pytest.approx(row["q97_db"], rel=1e-9)


@pytest.mark.parametrize("row_id", ROWS)
def test_the_shape_is_the_root_that_scipy_finds(row_id):
    row = ROWS[row_id]
    ratio = row["q97_db"] / row["mean_db"]
    root = optimize.brentq(lambda k: special.gammaincinv(k, 0.97) / k - ratio, 1, 1e4, xtol=1e-12)
    assert fit_gamma(Spread(row["mean_db"], row["q97_db"])).shape == pytest.approx(root, rel=1e-8)


def test_mechanical_splice_has_the_variance_that_the_guide_prints():
    # IBM single-mode example, read: mean 0.15 dB, variance 0.01 dB^2
    row = ROWS["FS-IBMSM-MECH-SM"]
    shape, scale = fit_gamma(Spread(row["mean_db"], row["q97_db"]))
    assert shape * scale**2 == pytest.approx(0.01, rel=0.005)


@pytest.mark.parametrize("spread", [Spread(0.5, 0.5), Spread(0.5, 0.4), Spread(0.0, 0.1), Spread(0.1, 0.4)])
def test_figures_that_fit_no_distribution_are_refused(spread):
    with pytest.raises(OptionError, match="97 % value"):
        fit_gamma(spread)


def test_a_spread_next_to_none_and_the_widest_are_fitted():
    assert stats.gamma(*_args(Spread(0.3, 0.3001))).ppf(0.97) == pytest.approx(0.3001, abs=1e-6)
    assert fit_gamma(Spread(1.0, 3.5065)).shape == pytest.approx(1.0, abs=1e-3)  # exponential: -ln(0.03) = 3.5066


def _args(spread):
    shape, scale = fit_gamma(spread)
    return shape, 0, scale


@pytest.mark.parametrize("spread", [B, C, BM, FUSION])
@pytest.mark.parametrize("count", [1, 2, 4, 12])
def test_alike_components_add_up_to_the_gamma_of_their_number(spread, count):
    # n gammas of one scale add up to a gamma with n times the shape (textbook law)
    shape, scale = fit_gamma(spread)
    total = stats.gamma(count * shape, scale=scale)
    curve = sum_curve(((spread, count),))
    for share in (0.03, 0.5, 0.9, 0.97, 0.999):
        assert curve.loss_at(share) == pytest.approx(total.ppf(share), abs=2e-4)
    losses = np.linspace(0, total.ppf(0.9999), 200)
    np.testing.assert_allclose(curve.share_below(losses), total.cdf(losses), atol=1e-3)


def test_the_sum_is_the_convolution_that_scipy_makes():
    size = 4096
    edges = (np.arange(size) + 0.5) * STEP_DB
    masses = [np.diff(stats.gamma(*_args(spread)).cdf(edges), prepend=0.0) for spread in (C, C, FUSION)]
    total = signal.fftconvolve(signal.fftconvolve(masses[0], masses[1]), masses[2])
    curve = sum_curve(((C, 2), (FUSION, 1)))
    share = np.cumsum(total)
    np.testing.assert_allclose(curve.share[1:4000], share[:3999], atol=1e-9)


@pytest.mark.parametrize(
    "counts", [((BM, 2), (FUSION, 0)), ((BM, 2), (FUSION, 2)), ((C, 4), (FUSION, 4)), ((B, 3), (C, 1), (FUSION, 6))]
)
def test_the_sum_is_what_random_draws_give(counts):
    """400,000 seeded draws: the median within 0.002 dB, the 97 % line within 0.005 dB (five standard errors or more)."""
    generator = np.random.default_rng(20260715)
    drawn = np.zeros(400_000)
    for spread, count in counts:
        for _ in range(count):
            drawn += stats.gamma(*_args(spread)).rvs(len(drawn), random_state=generator)
    curve = sum_curve(counts)
    assert curve.loss_at(0.5) == pytest.approx(np.quantile(drawn, 0.5), abs=0.002)
    assert curve.loss_at(LINE) == pytest.approx(np.quantile(drawn, LINE), abs=0.005)
    assert np.mean(drawn <= curve.loss_at(0.9)) == pytest.approx(0.9, abs=0.003)


def test_no_component_no_curve():
    assert sum_curve(()) is None
    assert sum_curve(((C, 0), (FUSION, 0))) is None


@given(parts)
def test_a_curve_is_a_distribution(counts):
    curve = sum_curve(tuple(counts))
    if curve is None:
        return
    assert curve.share[0] == 0
    assert curve.share[-1] == pytest.approx(1, abs=1e-9)
    assert np.all(np.diff(curve.share) >= 0)
    assert np.all(np.diff(curve.loss_db) > 0)
    mean_db = sum(spread.mean_db * count for spread, count in counts)
    trapezoid = np.sum(np.diff(curve.share) * (curve.loss_db[1:] + curve.loss_db[:-1]) / 2)
    assert trapezoid == pytest.approx(mean_db, abs=5e-4)


@given(parts, st.sampled_from([B, C, BM, FUSION]), st.sampled_from([0.5, 0.9, LINE]))
def test_one_more_component_never_loses_less(counts, spread, share):
    before = sum_curve(tuple(counts))
    after = sum_curve((*counts, (spread, 1)))
    assert after.loss_at(share) > (0 if before is None else before.loss_at(share))


def test_a_better_grade_loses_less():
    assert sum_curve(((B, 2),)).loss_at(LINE) < sum_curve(((C, 2),)).loss_at(LINE)


def test_the_line_of_a_sum_lies_below_the_sum_of_lines():
    # not all joints of a link are among the worst at once
    assert sum_curve(((C, 4),)).loss_at(LINE) < 4 * C.q97_db
    assert sum_curve(((C, 4),)).loss_at(LINE) > 4 * C.mean_db


def test_absurd_counts_are_summed_on_a_coarser_grid():
    curve = sum_curve(((C, 100_000),))
    assert len(curve.share) <= 2**19
    assert curve.loss_at(0.5) == pytest.approx(25_000, rel=1e-3)


def test_place_of_a_missing_reading_is_missing():
    curve = sum_curve(((C, 2),))
    np.testing.assert_array_equal(curve.share_below([np.nan, -1.0, 100.0]), [np.nan, 0.0, 1.0])


def test_gamma_is_named():
    assert fit_gamma(C) == Gamma(*fit_gamma(C))
