"""The generator of honest sweeps against scikit-rf, which makes and cascades the same sections itself."""

from __future__ import annotations

import numpy as np
import pytest
from simulated_curves import REFERENCE_OHM, honest, input_reflection, propagation

GRID = np.linspace(1.0, 500.0, 60)


def test_the_reflection_of_a_chain_is_that_of_scikit_rf():
    skrf = pytest.importorskip("skrf", reason="the extra named touchstone is not installed")
    from skrf.media import DefinedGammaZ0

    rng = np.random.default_rng(2)
    ohm, length = REFERENCE_OHM * (1 + rng.normal(0, 0.05, (1, 24))), np.full((1, 24), 0.5)
    length[0, 0] = length[0, -1] = 0.03
    frequency = skrf.Frequency.from_f(GRID, unit="MHz")
    sections = [
        DefinedGammaZ0(frequency, z0=one, gamma=propagation(GRID), z0_port=REFERENCE_OHM).line(meters, "m")
        for one, meters in zip(ohm[0], length[0], strict=True)
    ]
    whole = skrf.network.cascade_list(sections)
    assert np.allclose(input_reflection(ohm, length, GRID)[0], whole.s[:, 0, 0], atol=1e-9)
    # from the other end the chain is the same turned round
    assert np.allclose(input_reflection(ohm[:, ::-1], length[:, ::-1], GRID)[0], whole.s[:, 1, 1], atol=1e-9)


def test_sections_without_length_and_step_change_nothing():
    rng = np.random.default_rng(3)
    ohm, length = REFERENCE_OHM * (1 + rng.normal(0, 0.05, (2, 10))), np.full((2, 10), 0.5)
    drawn = np.c_[ohm[:, :9], ohm[:, 9:], ohm[:, 9:], ohm[:, 9:]]
    lengths = np.c_[length[:, :9], np.zeros((2, 2)), length[:, 9:]]
    assert np.allclose(input_reflection(drawn, lengths, GRID), input_reflection(ohm, length, GRID))


def test_honest_sweeps_look_like_those_of_a_building():
    made = honest(60, 4)
    at = int(np.argmin(np.abs(made.grid_mhz - 100)))
    middle = {
        name: np.median(made.curve[name][:, at]) for name in (("NEXT", "1-2/3-6", "A"), ("return loss", "1-2", "A"))
    }
    # orders of size of category 6A at 100 MHz (common practice, no source)
    assert 45 < middle["NEXT", "1-2/3-6", "A"] < 65
    assert 20 < middle["return loss", "1-2", "A"] < 35
    loss = made.curve["insertion loss", "1-2", "A"][:, at]
    assert np.corrcoef(loss, made.length_m)[0, 1] > 0.99
