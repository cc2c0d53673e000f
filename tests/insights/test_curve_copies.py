"""Near-copies of curves among honest sweeps that physics made; none are told where nobody copied."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from crew import joined, strands
from simulated_curves import COMBINED, honest, run_of, write

from analyzer.insights import copies, curve_copies
from analyzer.insights.joined import Joined
from analyzer.pipeline import analyze
from analyzer.schema import NO_POINT

GRID = np.r_[1.0:10.0:2.0, 10.0:100.0:6.0, 100.0:500.1:10.0]
RNG = np.random.default_rng(9)


def with_noise(value):
    return np.round(value + RNG.choice([-0.1, 0.0, 0.1], value.shape), 1)


def shifted(value):
    return np.round(value + 0.1, 1)


def rounded(value):
    return np.round(value * 2) / 2


CHANGES = {"a digit of noise": with_noise, "0.1 dB more": shifted, "rounded to half a dB": rounded}


def told(made):
    return curve_copies.near_curves(Joined(run_of(made)))


@pytest.fixture(scope="module")
def planted(tmp_path_factory):
    """Files of 36 links, one copied with a digit of noise, one with a constant and the ends exchanged."""
    made = honest(36, 21, GRID)
    pairs = [made.copied(3, 16, with_noise), made.copied(9, 28, shifted, turned=True)]
    return analyze(write(made, tmp_path_factory.mktemp("sweeps"))), pairs


def test_copies_are_found_from_files_and_lead_back_to_them(planted):
    analysis, pairs = planted
    found = [item for item in analysis.findings if item.code == "curves-alike"]
    assert [set(item.links) for item in found] == pairs
    noise, turned = found
    assert "WB-601-04 and WB-602-05 agree in 20 of 20 curves of NEXT and return loss to about 0.0" in noise.message
    assert "among 36 links with curves: chance alone would give fewer than 0.001, 2 seen" in noise.message
    assert "agree, the ends exchanged, in 20 of 20" in turned.message
    numbers = {one.what: one.value for one in noise.evidence}
    assert (numbers["curves that agree"], numbers["curves looked at"], numbers["seen"]) == (20, 20, 2)
    places = [one for one in turned.evidence if one.file]
    assert [one.what.split(":")[0] for one in places[:2]] == ["WB-601-10", "WB-603-05"]
    assert [one.what[-5:] for one in places[:2]] == ["end A", "end B"]
    assert all(one.row > 0 and one.col > 0 for one in places)
    assert places[0].file == "evidence/WB-601.csv"


def test_copied_curves_are_not_told_a_second_time_by_their_worst_points(planted):
    analysis, _ = planted
    assert not {"near-copy", "same-readings"} & {item.code for item in analysis.findings}
    assert copies.near_copies(Joined(analysis)) == []


def test_every_kind_of_copy_is_found_both_ways_round():
    made = honest(48, 22, GRID)
    ways = [(change, turned) for change in CHANGES for turned in (False, True)]
    pairs = [made.copied(30 + n, 2 * n, CHANGES[change], turned=turned) for n, (change, turned) in enumerate(ways)]
    found = told(made)
    assert set().union(*(item.links for item in found)) == set().union(*pairs)
    assert "6 seen" in found[0].message


def test_honest_sweeps_are_quiet():
    assert told(honest(120, 31, GRID)) == []


@pytest.mark.slow
def test_links_of_one_short_length_are_quiet():
    """Hardly any cable: what is left are connectors of one make."""
    assert told(honest(60, 34, GRID, all_about_m=4.0)) == []


def test_insertion_loss_proves_nothing():
    made = honest(12, 35, GRID)
    made.curve = {key: value for key, value in made.curve.items() if key[0] == "insertion loss"}
    made.copied(3, 10, shifted)
    assert told(made) == []


@pytest.mark.slow
def test_half_of_the_curves_are_enough_and_fewer_are_not():
    made = honest(16, 36, GRID)
    kept = {key: value.copy() for key, value in made.curve.items()}
    made.copied(4, 14, with_noise)
    honest_ones = [("NEXT", pair, end) for pair in COMBINED for end in "AB"]
    for key in honest_ones[:10]:
        made.curve[key] = kept[key]
    (found,) = told(made)
    assert "agree in 10 of 20 curves" in found.message
    made.curve[honest_ones[10]] = kept[honest_ones[10]]
    assert told(made) == []


def test_one_curve_given_to_a_whole_room_is_one_finding():
    made = honest(36, 37, GRID)
    for link in range(12, 24):
        made.copied(link, 30, with_noise)
    (found,) = told(made)
    assert set(found.links) == {made.label[30], *made.label[12:24]}
    assert "and 9 more agree in" in found.message


def test_a_room_copied_link_by_link_is_one_finding():
    made = honest(36, 38, GRID)
    for link in range(12):
        made.copied(24 + link, link, shifted)
    (found,) = told(made)
    assert len(found.links) == 24
    assert "and 11 more groups of these cables" in found.message


def test_same_points_are_told_as_such_and_not_as_near():
    made = honest(24, 39, GRID)
    made.copied(3, 20, np.copy)
    job = Joined(run_of(made))
    assert curve_copies.near_curves(job) == []
    (found,) = curve_copies.same_curves(job)
    assert found.links == ("WB-601-04", "WB-602-09")


def test_missing_data():
    assert curve_copies.near_curves(joined(strands())) == []
    made = honest(12, 40, GRID)
    made.copied(1, 9, with_noise)
    run = run_of(made)
    # a reading that was superseded, curves without a sketch, a sketch without points
    run.judged.loc[run.curves["reading"].iloc[:40], "in_force"] = False
    run.sketches[100:110] = NO_POINT
    run.curves.loc[200:230, "sketch"] = -1
    (found,) = curve_copies.near_curves(Joined(run))
    assert set(found.links) == {"WB-601-02", "WB-601-10"}
    run.curves["sketch"] = -1
    assert curve_copies.near_curves(Joined(run)) == []


def test_few_links_teach_nothing_of_chance():
    made = honest(5, 41, GRID)
    made.copied(1, 4, with_noise)
    assert told(made) == []


@pytest.mark.slow
def test_sweeps_over_other_frequencies_are_not_compared():
    one, other = honest(12, 42, GRID), honest(12, 42, GRID[::2])
    runs = [Joined(run_of(made)) for made in (one, other)]
    spans = [next(curve_copies._sweeps(run)).sketch.shape[3] for run in runs]
    assert spans[0] > spans[1]


def test_curves_with_the_same_points_are_told():
    job = joined(strands(count=4))
    job.analysis.curves = pd.DataFrame({"record": [0, 1, 2, 3], "hash": np.array([11, 12, 11, 13], dtype="uint64")})
    (found,) = curve_copies.same_curves(job)
    assert found.links == ("TB-101-01", "TB-101-03")


def test_curves_of_one_link_may_be_the_same():
    job = joined(strands(count=2))
    job.analysis.curves = pd.DataFrame({"record": [0, 0], "hash": np.array([11, 11], dtype="uint64")})
    assert curve_copies.same_curves(job) == []
