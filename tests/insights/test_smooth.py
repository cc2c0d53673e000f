"""Losses that scatter less than connectors: told as a question, never of honest cables."""

from __future__ import annotations

import numpy as np
import pytest
from crew import joined, strands
from scipy import stats

from analyzer.insights import smooth
from analyzer.insights.smooth import FEWEST, PART, REPEATABILITY_DB


def worked_out(rows, scatter=0.006, seed=5, only=None):
    """The losses that a formula gives, and a little noise on them."""
    rng = np.random.default_rng(seed)
    for row in rows:
        for wave, way in row["loss"]:
            if only is None or (wave, way) in only:
                usual = row["length_m"] / 1000 * (2.3 if wave == 850 else 0.6) + 0.36
                row["loss"][wave, way] = round(float(usual + rng.normal(0, scatter)), 2)
    return rows


def of_cables(count, strands_of_each, **more):
    """Honest cables of one tester, each of a length of its own."""
    lengths = np.linspace(60, 300, count)
    return [strands(f"TB-1{n:02d}", strands_of_each, seed=n, length_m=lengths[n], **more) for n in range(count)]


def test_honest_cables_are_quiet():
    for seed in range(2):
        rows = [row for n in range(4) for row in strands(f"TB-10{n}", seed=10 * seed + n)]
        assert smooth.too_smooth(joined(rows)) == []


def test_a_cable_that_was_worked_out_is_a_question():
    one, other = strands("TB-101", seed=1), worked_out(strands("TB-102", seed=2))
    (found,) = smooth.too_smooth(joined(one + other))
    assert found.links == tuple(row["label"] for row in other)
    assert "96 losses of cable TB-102, tester T-1, at 850 nm and 1300 nm scatter by 0.00" in found.message
    assert "chance alone would give fewer than 0.001, 4 seen" in found.message
    assert found.severity == "warning"
    assert found.next_step.startswith("ask")
    assert {"seen", "standard deviation of the losses"} <= {one.what for one in found.evidence}
    assert sum(one.row is not None for one in found.evidence) > 4


def test_one_direction_that_was_worked_out():
    rows = worked_out(strands(), only={(850, "B-A")})
    (found,) = smooth.too_smooth(joined(rows))
    assert "24 losses of cable TB-101, tester T-1, at 850 nm scatter" in found.message


def test_some_strands_that_were_measured_hide_nothing():
    rows = worked_out(strands(), only={(850, "A-B")})
    for row, loss in zip(rows[:3], (0.71, 1.4, 0.95), strict=True):
        row["loss"][850, "A-B"] = loss
    (found,) = smooth.too_smooth(joined(rows))
    assert len(found.links) == 24


def test_small_cables_are_looked_at_together_along_their_lengths():
    cables = of_cables(6, 8)
    assert smooth.too_smooth(joined([row for rows in cables for row in rows])) == []
    (found,) = smooth.too_smooth(joined([row for rows in cables for row in worked_out(rows)]))
    assert "192 losses of 6 cables, tester T-1, at 850 nm and 1300 nm" in found.message
    assert "about a line through their lengths" in found.message


def test_many_cables_of_one_tester_are_one_finding():
    rows = [row for rows in of_cables(4, 24) for row in worked_out(rows)]
    (found,) = smooth.too_smooth(joined(rows))
    assert "384 losses of 4 cables" in found.message
    assert len(found.links) == 96


def test_fewer_than_twenty_prove_nothing():
    assert smooth.too_smooth(joined(worked_out(strands(count=FEWEST - 1)))) == []


def test_coarse_readings_tell_nothing_of_a_small_scatter():
    rows = worked_out(strands())
    for row in rows:
        row["loss"] = {key: (round(value, 1), None, 1) for key, value in row["loss"].items()}
    assert smooth.too_smooth(joined(rows)) == []


@pytest.mark.parametrize("loss", [0.5, 0.02], ids=["one and the same", "near zero"])
def test_what_other_screenings_tell_is_left_to_them(loss):
    rows = strands()
    for n, row in enumerate(rows):
        row["loss"] = dict.fromkeys(row["loss"], loss if loss > 0.1 else loss + 0.01 * (n % 2))
    assert smooth.too_smooth(joined(rows)) == []


def test_lengths_matings_and_testers_may_be_missing():
    rows = worked_out(strands())
    for row in rows:
        row |= {"length_m": float("nan"), "mated_pairs": float("nan"), "tester": None}
    (found,) = smooth.too_smooth(joined(rows))
    assert "of cable TB-101 at 850 nm" in found.message


def test_the_chance_is_that_of_chi_square():
    rows = worked_out(strands(count=30), only={(850, "A-B")})
    (found,) = smooth.too_smooth(joined(rows))
    said = next(one.value for one in found.evidence if one.what == "expected by chance alone")
    values = np.array([row["loss"][850, "A-B"] for row in rows])
    rest = values - np.median(values)
    reach = 2 * 1.4826 * np.median(np.abs(rest)) + 0.005
    squares = (np.clip(rest, -reach, reach) ** 2).sum() / REPEATABILITY_DB**2
    # four ways of the cable are looked at; the tester has no other
    assert said == pytest.approx(stats.chi2.cdf(squares, len(rows) - 2) * 4, rel=1e-6)


def test_a_third_of_the_repeatability_over_twenty_losses_is_far_beyond_chance():
    assert stats.chi2.cdf((FEWEST - 2) / PART**2, FEWEST - 2) < 1e-5
