"""Screening of links that pass: counts beside chance, names only beyond chance; what batches of like links lose."""

import sys
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

sys.path.insert(0, str(Path(__file__).parents[1] / "budget"))

from bench import analysis, job_of, om4, schedule_of

from analyzer.budget.impossible import CODE
from analyzer.insights.batches import batch_tables, batches_over_allowance, off_the_line
from analyzer.insights.chances import stands_out
from analyzer.insights.done_well import p_of_count


def links(losses, **more):
    return [om4(f"L-{at:03d}", loss={850: float(loss), 1300: 0.5}, **more) for at, loss in enumerate(losses)]


def found(code, *rows, **more):
    return [each for each in analysis(*rows, **more).findings if each.code == code]


def test_the_chance_of_a_count_is_the_binomial_tail_of_scipy():
    for seen, looked_at in ((1, 1), (3, 100), (9, 100), (40, 1000), (12, 12)):
        assert p_of_count(seen, looked_at) == pytest.approx(stats.binom.sf(seen - 1, looked_at, 0.03), rel=1e-9)
    assert p_of_count(0, 10) == 1.0


def test_those_that_stand_out_are_those_of_scipy():
    random = np.random.default_rng(7)
    for _ in range(20):
        p = np.concatenate([random.uniform(size=60), random.uniform(0, 0.002, size=5)])
        np.testing.assert_array_equal(stands_out(p), stats.false_discovery_control(p) <= 0.05)
    assert not stands_out(np.array([])).any()


def test_links_done_well_are_no_finding():
    # the middle of such links is 0.88 dB, 97 of 100 stay under 1.31 dB (docs/planning.md, docs of `plan`)
    assert not found("worse-than-done-well", *links(np.linspace(0.6, 1.25, 40)))
    assert not found("above-the-line", *links(np.linspace(0.6, 1.25, 40)))


def test_what_chance_gives_is_a_note_and_names_nobody():
    rows = links([*np.linspace(0.6, 1.2, 60), 1.47])
    assert not found("worse-than-done-well", *rows)
    (note,) = found("above-the-line", *rows)
    assert note.links == ()
    assert note.message.startswith("1 of 61 links that pass loses more than 97 of 100")
    assert "chance alone gives about 1.8" in note.message


def test_more_than_chance_is_a_warning_and_only_the_sure_ones_are_named():
    rows = links([*np.linspace(0.6, 1.2, 30), 1.85])
    (warning,) = found("worse-than-done-well", *rows)
    assert warning.links == ("L-030",)
    assert "L-030 1.85 dB at 850 nm where 97 of 100 stay under 1.31 dB" in warning.message


def test_a_lot_that_is_worse_as_a_whole_names_five_and_counts_the_rest():
    (warning,) = found("worse-than-done-well", *links(np.linspace(1.60, 1.65, 12)))
    assert warning.message.startswith("12 of 12 links that pass lose more")
    assert warning.message.count(" dB at 850 nm where") == 5
    assert warning.message.endswith("; and 7 more")
    assert len(warning.links) == 12


def test_the_accuracy_leaves_room():
    rows = links([*np.linspace(0.6, 1.2, 30), 1.60], accuracy_db=0.4)
    assert not found("worse-than-done-well", *rows)


def test_the_grade_of_the_job_moves_the_line():
    rows = links([*np.linspace(0.6, 1.2, 30), 1.85])
    job = job_of('[expected]\nconnection_grade = "Cm"\n')
    assert not found("worse-than-done-well", *rows, job=job)


def batch(count=40, slope=2.4, mating=0.2, noise=0.01, seed=3):
    random = np.random.default_rng(seed)
    length = np.linspace(50, 400, count)
    loss = slope * length / 1000 + mating * 2 + random.normal(0, noise, count)
    return [
        om4(f"B-{at:03d}", length_m=float(m), loss={850: float(v), 1300: 0.5})
        for at, (m, v) in enumerate(zip(length, loss, strict=True))
    ]


def test_a_batch_tells_what_it_was_made_of():
    fits, rows = batch_tables(analysis(*batch()))
    fit = fits[fits["wavelength_nm"] == 850].iloc[0]
    assert fit["attenuation_db_per_km_low"] <= 2.4 <= fit["attenuation_db_per_km_high"]
    assert fit["mating_loss_db"] == pytest.approx(0.2, abs=0.01)
    assert (fit["coefficient_db_per_km"], fit["mated_pair_db"]) == (3.0, 0.75)
    # the same slope as scipy's Theil-Sen where all links have the same counts
    own = rows[rows["batch"] == fit["batch"]]
    assert fit["attenuation_db_per_km"] == pytest.approx(1000 * stats.theilslopes(own["loss_db"], own["length_m"])[0])


def test_few_links_make_no_batch():
    assert batch_tables(analysis(*batch(count=7)))[0].empty


def with_batches(*rows, **more):
    run = analysis(*rows, **more)
    run.batches, run.batch_links = batch_tables(run)
    return off_the_line(run, set()), batches_over_allowance(run)


def test_a_link_far_off_the_line_is_named_and_one_told_already_is_not():
    rows = batch()
    rows[5]["loss"][850] += 0.5
    (off,), over = with_batches(*rows)
    assert off.links == ("B-005",)
    assert "0.50 dB more at 850 nm" in off.message or "0.49 dB more at 850 nm" in off.message
    assert over == []


def test_a_batch_of_cable_that_loses_more_than_allowed_is_told():
    _, over = with_batches(*batch(slope=3.6))
    assert len(over) == 1
    assert "the cable really loses 3.6" in over[0].message
    assert "more than the 3.00 dB/km allowed" in over[0].message


def test_impossible_facts_are_told_once_per_link():
    rows = [
        om4("A", mated_pairs=0),
        om4("B", length_m=5000.0, loss={850: 5.0, 1300: 2.0}),
        om4("C", loss={850: 1.0, 1300: 0.5, 1550: 0.4}),
        om4("D"),
    ]
    told = {each.links: each.message for each in found(CODE, *rows)}
    assert set(told) == {("A",), ("B",), ("C",)}
    assert "state mated pairs" in told["A",]
    assert "5000.0 m of OM4" in told["B",]
    assert "OM4 does not carry 1550 nm" in told["C",]


def test_lengths_of_file_and_schedule_that_no_slack_explains():
    row = om4("A", length_m=5000.0, type="OM3")
    messages = [each.message for each in found(CODE, row, schedule=schedule_of({"label": "A", "length_m": 40.0}))]
    assert any("the file says 5000.0 m, the schedule 40.0 m" in text for text in messages)
