"""Robust fit of a batch on data whose truth is known, compared with scipy and numpy."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from analyzer.budget.batch import FEWEST_LINKS, NORMAL_MAD, fit_batch, fit_batches
from analyzer.errors import OptionError

SLOPE, MATING, SPLICE = 0.0025, 0.25, 0.06
"""The truth of the drawn batches: 2.5 dB/km, 0.25 dB a mating, 0.06 dB a splice."""


def drawn(seed, count, noise_db=0.03, matings=(2, 5), splices=(0, 3)):
    generator = np.random.default_rng(seed)
    length = generator.uniform(20, 400, count)
    pairs = generator.integers(*matings, count).astype(float)
    joints = generator.integers(*splices, count).astype(float)
    loss = SLOPE * length + MATING * pairs + SPLICE * joints + generator.normal(0, noise_db, count)
    return loss, length, pairs, joints


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("decimals", "step_m"), [(2, 0.1), (1, 1), (1, 50)])
def test_one_group_is_the_theil_sen_of_scipy(seed, decimals, step_m):
    loss, length, pairs, _ = drawn(seed, 90, matings=(2, 3), splices=(0, 1))
    loss, length = np.round(loss, decimals), np.round(length / step_m) * step_m  # as printed: many ties
    fit = fit_batch(loss, length, pairs)
    judge = stats.theilslopes(loss, length, method="joint")
    assert np.array(fit.attenuation_db_per_km) == pytest.approx(
        1000 * np.array([judge.slope, judge.low_slope, judge.high_slope]), rel=1e-12
    )
    assert 2 * fit.mating_db.value == pytest.approx(judge.intercept, abs=1e-12)


def test_without_noise_the_truth_comes_back_and_numpy_agrees():
    loss, length, pairs, joints = drawn(1, 60, noise_db=0.0)
    fit = fit_batch(loss, length, pairs, joints)
    truth = np.linalg.lstsq(np.column_stack([length, pairs, joints]), loss, rcond=None)[0]
    assert fit.attenuation_db_per_km.value == pytest.approx(1000 * truth[0], rel=1e-9)
    assert fit.mating_db.value == pytest.approx(truth[1], abs=1e-9)
    assert fit.splice_db.value == pytest.approx(truth[2], abs=1e-9)
    np.testing.assert_allclose(fit.expected_db, loss, atol=1e-9)
    assert fit.notes == ()


def test_with_normal_noise_it_lies_near_the_least_squares_of_numpy():
    loss, length, pairs, joints = drawn(2, 400)
    fit = fit_batch(loss, length, pairs, joints)
    least = np.linalg.lstsq(np.column_stack([length, pairs, joints]), loss, rcond=None)[0]
    assert fit.attenuation_db_per_km.value == pytest.approx(1000 * least[0], abs=0.05)
    assert fit.mating_db.value == pytest.approx(least[1], abs=0.005)
    assert fit.splice_db.value == pytest.approx(least[2], abs=0.01)
    assert fit.spread_db == pytest.approx(0.03, abs=0.004)


def test_a_tenth_of_bad_links_moves_least_squares_but_not_this_fit():
    loss, length, pairs, joints = drawn(3, 300)
    bad = np.zeros(300, dtype=bool)
    bad[np.argsort(length)[-30:]] = True  # the longest ones: the worst place for least squares
    loss[bad] += 1.0
    fit = fit_batch(loss, length, pairs, joints)
    least = np.linalg.lstsq(np.column_stack([length, pairs, joints]), loss, rcond=None)[0]
    assert abs(1000 * least[0] - 2.5) > 0.8
    assert fit.attenuation_db_per_km.value == pytest.approx(2.5, abs=0.3)
    assert fit.mating_db.value == pytest.approx(0.25, abs=0.02)
    np.testing.assert_array_equal(fit.off_line == 1, bad)


def test_intervals_hold_the_truth_about_as_often_as_they_say():
    """200 drawn batches of 60 links: nominal 95 %; three standard errors below that are 90 %."""
    inside = np.zeros(3)
    for seed in range(200):
        fit = fit_batch(*drawn(1000 + seed, 60, noise_db=0.05))
        for number, (estimate, truth) in enumerate(
            ((fit.attenuation_db_per_km, 1000 * SLOPE), (fit.mating_db, MATING), (fit.splice_db, SPLICE))
        ):
            inside[number] += estimate.low <= truth <= estimate.high
    assert np.all(inside / 200 >= 0.90)
    assert np.all(inside / 200 <= 1.0)


def test_links_off_the_line_on_both_sides():
    loss, length, pairs, joints = drawn(5, 120)
    loss[7] += 0.6
    loss[11] -= 0.4
    fit = fit_batch(loss, length, pairs, joints)
    assert fit.off_line[7] == 1
    assert fit.off_line[11] == -1
    assert np.count_nonzero(fit.off_line) <= 4


def test_near_the_line_is_never_off_it():
    loss, length, pairs, joints = drawn(6, 60, noise_db=0.0)
    loss[3] += 0.09  # the others lie on the line exactly, but a tenth of a decibel is nothing
    fit = fit_batch(loss, length, pairs, joints)
    assert np.count_nonzero(fit.off_line) == 0


def test_what_cannot_be_told_apart_is_not_told():
    loss, length, pairs, _ = drawn(7, 60, matings=(2, 3), splices=(0, 1))
    together = fit_batch(loss + 2 * SPLICE, length, pairs, np.full(60, 2.0))
    assert np.isnan(together.mating_db.value)
    assert "cannot be told apart" in together.notes[0]
    assert np.isfinite(together.expected_db).all()
    one_length = fit_batch(loss, np.full(60, 90.0), pairs)
    assert np.isnan(one_length.attenuation_db_per_km.value)
    assert "one length" in one_length.notes[0]
    cable_alone = fit_batch(SLOPE * length, length, np.zeros(60))
    assert cable_alone.attenuation_db_per_km.value == pytest.approx(2.5)
    assert "no mating and no splice" in cable_alone.notes[0]


def test_too_few_links_give_no_fit_and_missing_numbers_are_left_out():
    loss, length, pairs, joints = drawn(8, FEWEST_LINKS)
    assert fit_batch(loss[:-1], length[:-1], pairs[:-1], joints[:-1]) is None
    loss[0] = np.nan
    assert fit_batch(loss, length, pairs, joints) is None
    loss, length, pairs, joints = drawn(8, 40)
    loss[3], length[4] = np.nan, np.nan
    fit = fit_batch(loss, length, pairs, joints)
    assert fit.links_used == 38
    np.testing.assert_array_equal(np.flatnonzero(np.isnan(fit.expected_db)), [3, 4])


@given(st.randoms(use_true_random=False), st.floats(0.1, 3))
def test_order_and_scale_of_the_links_do_not_matter(shuffler, factor):
    columns = drawn(9, 40)
    order = list(range(40))
    shuffler.shuffle(order)
    fit = fit_batch(*columns)
    again = fit_batch(*(each[order] for each in columns))
    assert again.attenuation_db_per_km == pytest.approx(fit.attenuation_db_per_km, rel=1e-12)
    assert again.mating_db == pytest.approx(fit.mating_db, rel=1e-9)
    np.testing.assert_array_equal(again.off_line, fit.off_line[order])
    scaled = fit_batch(columns[0] * factor, *columns[1:])
    assert scaled.attenuation_db_per_km.value == pytest.approx(factor * fit.attenuation_db_per_km.value, rel=1e-9)
    assert scaled.mating_db.value == pytest.approx(factor * fit.mating_db.value, rel=1e-9)


def test_a_large_batch_is_thinned_and_still_found():
    fit = fit_batch(*drawn(10, 20_000, noise_db=0.05))
    assert fit.links_used == 20_000
    assert fit.attenuation_db_per_km.value == pytest.approx(2.5, abs=0.02)
    assert fit.mating_db.value == pytest.approx(MATING, abs=0.005)


def test_batches_of_a_table_are_fitted_apart():
    one, two = drawn(11, 50), drawn(12, 50)
    table = pd.concat(
        [
            pd.DataFrame({"type": "OM4", "wavelength_nm": 850, "reference": "one-cord"}, index=range(50)),
            pd.DataFrame({"type": "OS2", "wavelength_nm": 1310, "reference": "one-cord"}, index=range(50, 100)),
            pd.DataFrame({"type": "OM3", "wavelength_nm": 850, "reference": "one-cord"}, index=range(100, 104)),
            pd.DataFrame({"type": "OM4", "wavelength_nm": 850, "reference": [None]}, index=[104]),
        ]
    )
    for number, name in enumerate(("value", "length_m", "matings", "splices")):
        table[name] = np.concatenate([one[number], two[number] * (2 if name == "value" else 1), one[number][:5]])
    fits, each = fit_batches(table)
    assert list(fits["type"]) == ["OM4", "OS2"]
    alone = fit_batch(*one)
    assert fits.loc[0, "attenuation_db_per_km"] == alone.attenuation_db_per_km.value
    assert fits.loc[1, "mating_db_low"] == pytest.approx(2 * fit_batch(*two).mating_db.low)
    assert list(each.index) == list(table.index)
    np.testing.assert_array_equal(each["line_db"].to_numpy()[:50], alone.expected_db)
    assert each["line_db"].isna().sum() == 5
    nothing, _ = fit_batches(table.iloc[:0])
    assert len(nothing) == 0


def test_the_factor_of_the_robust_spread_is_that_of_the_normal_distribution():
    assert pytest.approx(1 / stats.norm.ppf(0.75), rel=1e-12) == NORMAL_MAD


def test_refused_in_one_sentence():
    with pytest.raises(OptionError, match="one length"):
        fit_batch([1, 2], [1, 2, 3], [1, 2])
    with pytest.raises(OptionError, match="confidence"):
        fit_batch(*drawn(1, 10), confidence=95)
