"""Losses below what glass must lose, and the two directions side by side."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "budget"))

from bench import analysis, finding_of, om4, told

from analyzer.insights.directions import direction_means
from analyzer.insights.physics import least_attenuation_db_per_km


@pytest.mark.parametrize(
    ("wave", "rayleigh"), [(850, 1.533), (1300, 0.280), (1310, 0.272), (1550, 0.139), (1625, 0.115)]
)
def test_the_floor_follows_the_fourth_power(wave, rayleigh):
    # reference fibre/physics.csv, "Rayleigh part at ... with A = 0.8"; the floor takes the lowest A, 0.7
    assert least_attenuation_db_per_km(np.array([wave]))[0] == pytest.approx(rayleigh * 0.7 / 0.8, abs=0.0006)


def test_the_published_floor_of_single_mode_lies_above_ours():
    # 0.17 dB/km at 1550 nm, maximum of an ultra-low-loss fiber: read, reference fibre/physics.csv
    assert least_attenuation_db_per_km(np.array([1550.0]))[0] < 0.17


def test_a_loss_below_the_glass_is_told_with_its_numbers():
    # 300 m at 850 nm: 0.7 / 0.85^4 x 0.3 = 0.402 dB
    found = finding_of("below-the-fiber", om4("A", length_m=300.0, loss={850: 0.25, 1300: 0.4}))
    assert "A at 850 nm: 0.25 dB over 300 m, at least 0.40 dB" in found.message
    assert found.links == ("A",)


@pytest.mark.parametrize(
    "row",
    [
        om4("A", length_m=300.0, loss={850: 0.31, 1300: 0.4}),  # within what cords may hide
        om4("A", length_m=300.0, reference="three-cord", loss={850: 0.10, 1300: 0.3}),
        om4("A", length_m=50.0, loss={850: 0.02, 1300: 0.02}),
        om4("A", length_m=300.0, accuracy_db=0.15, loss={850: 0.16, 1300: 0.4}),
    ],
)
def test_what_cords_and_accuracy_may_hide_is_left_to_the_reading(row):
    assert "below-the-fiber" not in told(row)


def test_a_loss_below_zero_is_told_as_such_alone():
    codes = told(om4("A", length_m=2000.0, loss={850: -0.5, 1300: -0.4}))
    assert "negative-loss" in codes
    assert "below-the-fiber" not in codes


BOTH = {(850, "A-B"): 1.30, (850, "B-A"): 0.80, (1300, "A-B"): 1.00}


def test_the_mean_of_both_directions_and_never_of_one():
    found = direction_means(analysis(om4("A", loss=BOTH)))
    assert found["wavelength_nm"].tolist() == [850]
    np.testing.assert_allclose(found[["mean_db", "difference_db"]].iloc[0], [1.05, 0.50])


def test_a_large_difference_is_told_and_a_small_one_is_not():
    assert "A at 850 nm: 1.30 dB A-B, 0.80 dB B-A" in finding_of("directions-differ", om4("A", loss=BOTH)).message
    assert "directions-differ" not in told(om4("A", loss=BOTH | {(850, "B-A"): 0.95}))
