"""The sum: its parts, its counts, what it refuses; checks by hand stand beside each case."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer import standards
from analyzer.budget import fiber_budget
from analyzer.budget.fiber import allowed_db, expand_ends, longest_length_m, loss_parts_db, matings_in_reading
from analyzer.errors import OptionError

few = settings(max_examples=40, derandomize=True, deadline=None)
lengths = st.floats(0, 5000)
coefficients = st.floats(0, 5)
allowances = st.floats(0, 2)
ISO = "11801-1:2017"
counts = st.integers(0, 6)


def link(**changes):
    base = {"fiber": "OM4", "length_m": 120, "wavelength_nm": 850, "mated_pairs": 2, "splices": 0, "edition": "568.3-D"}
    return fiber_budget(**{**base, **changes})


# -- the sum with the ceilings of the standards, by hand -------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "expected_db"),
    [
        # values rows FA-*, FC-* named by `sources`; coefficient x km + matings x 0.75 + splices x 0.3
        ({}, 3.0 * 0.120 + 2 * 0.75),
        ({"wavelength_nm": 1300}, 1.5 * 0.120 + 2 * 0.75),
        ({"fiber": "OM1", "splices": 2}, 3.5 * 0.120 + 2 * 0.75 + 2 * 0.3),
        ({"edition": "568-C.3", "fiber": "OM3"}, 3.5 * 0.120 + 2 * 0.75),
        ({"fiber": "OM3"}, 3.0 * 0.120 + 2 * 0.75),
        ({"standard": "ISO", "edition": ISO, "end_pair_db": 0.3}, 3.5 * 0.120 + 2 * 0.3),
        ({"standard": "ISO", "edition": ISO, "mated_pairs": 4, "end_pair_db": 0.3}, 3.5 * 0.120 + 2 * 0.3 + 2 * 0.75),
        ({"standard": "ISO", "edition": ISO, "reference": "two-cord", "end_pair_db": 0.3}, 3.5 * 0.120 + 0.3),
        ({"standard": "ISO", "edition": ISO, "reference": "three-cord"}, 3.5 * 0.120),
        ({"standard": "ISO", "edition": ISO, "mated_pair_db": 0.5}, 3.5 * 0.120 + 2 * 0.5),
        ({"standard": "ISO", "edition": ISO, "mated_pair_db": 0.5, "end_pair_db": 0.3}, 3.5 * 0.120 + 2 * 0.3),
        ({"mated_pairs": 3, "end_pair_db": 0.3}, 0.36 + 2 * 0.3 + 0.75),
        ({"mated_pairs": 2, "array_pairs": 1, "end_pair_db": 0.3}, 0.36 + 2 * 0.3),
        ({"fiber": "OM5", "wavelength_nm": 953}, 2.3 * 0.120 + 2 * 0.75),
        ({"fiber": "OS1a", "wavelength_nm": 1550, "length_m": 1000}, 1.0 + 1.5),
        ({"fiber": "OS2", "wavelength_nm": 1310, "length_m": 1000, "construction": "indoor-outdoor"}, 0.5 + 1.5),
        ({"reference": "two-cord"}, 0.36 + 0.75),
        ({"reference": "three-cord"}, 0.36),
        ({"array_pairs": 1}, 0.36 + 1.5),
        ({"array_pairs": 1, "array_pair_db": 0.35}, 0.36 + 0.75 + 0.35),
        ({"mated_pair_db": 0.5, "array_pairs": 2}, 0.36 + 1.5),
        ({"other_db": 0.2}, 0.36 + 1.5 + 0.2),
        ({"coefficient_db_per_km": 2.5}, 0.30 + 1.5),
        ({"plug_ends": 1, "mated_pairs": 1}, 0.36 + 1.5),
    ],
)
def test_sum_by_hand(changes, expected_db):
    assert link(**changes).allowed_db == pytest.approx(expected_db, abs=1e-12)


def test_parts_sources_and_notes_are_told():
    budget = fiber_budget(fiber="OS2", length_m=2000, wavelength_nm=1310, mated_pairs=2, splices=2)
    assert (budget.cable_db, budget.matings_db, budget.splices_db) == pytest.approx((0.8, 1.5, 0.6))
    assert [source.row_id for source in budget.sources] == [
        "FA-TIA-E-OS2-OSP-1310", "FC-TIA-E-PAIR-SM", "FC-TIA-E-SPLICE-SM",
    ]  # fmt: skip
    assert budget.edition == "568.3-E"
    assert budget.construction == "outside plant"
    assert any("construction of the OS2 cable not said" in note for note in budget.notes)
    assert any("no edition given" in note for note in budget.notes)
    assert budget.confirmed is False
    assert budget.cable_db * 0.37 / 0.4 < budget.expected_db < budget.allowed_db


def test_own_figures_need_no_standard_and_are_confirmed():
    budget = fiber_budget(
        fiber="multimode", length_m=100, coefficient_db_per_km=1, mated_pairs=1, mated_pair_db=0.5, splices=0
    )
    assert budget.confirmed is True
    assert budget.edition is None
    assert budget.sources == ()


def test_1310_on_multimode_counts_as_1300_and_says_so():
    budget = link(wavelength_nm=1310)
    assert budget.sources[0].row_id == "FA-TIA-D-OM4-1300"
    assert "1310 nm on multimode counts as 1300 nm" in budget.notes


def test_sections_of_unlike_fiber_add_up():
    # 1 km at 1.75 and 1 km at 3.0 dB/km: 4.75 dB (3Com manual, page 114, cable part)
    budget = link(length_m=None, sections=[(1000, 1.75), (1000, 3.0)])
    assert budget.cable_db == pytest.approx(4.75)


def test_override_changes_the_sum_and_is_own():
    values = standards.load(overrides={"FA-TIA-D-OM4-850": 2.5})
    assert link(values=values).cable_db == pytest.approx(0.3)
    assert link().cable_db == pytest.approx(0.36)
    assert "own figure instead of 3.0" in link(values=values).sources[0].text


# -- ends and references ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ends", "matings", "splices"),
    [  # counts by the end table: common practice, no source
        (("panel", "panel"), 2, 0),
        (("pigtail", "pigtail"), 2, 2),
        (("cassette", "cassette"), 4, 0),
        (("panel", "plug"), 2, 0),
        (("plug", "plug"), 2, 0),
        (("jack", "pigtail"), 2, 1),
    ],
)
def test_ends_stand_for_counts(ends, matings, splices):
    budget = link(mated_pairs=None, splices=None, ends=ends)
    assert budget.matings_in_reading == matings
    assert budget.splices_db == pytest.approx(0.3 * splices)


def test_inner_matings_come_on_top_of_the_ends():
    assert link(mated_pairs=3, ends=("panel", "panel")).matings_in_reading == 3


def test_expand_ends_takes_columns():
    ends = pd.Series(["panel", "cassette", None])
    counted = expand_ends(ends, pd.Series(["plug", "panel", "panel"]))
    np.testing.assert_array_equal(counted.mated_pairs, [1, 3, np.nan])
    np.testing.assert_array_equal(counted.plug_ends, [1, 0, np.nan])
    np.testing.assert_array_equal(counted.array_pairs, [0, 1, np.nan])


def test_matings_in_reading_takes_columns():
    named = pd.Series(["one-cord", "two-cord", "three-cord", None])
    np.testing.assert_array_equal(matings_in_reading([2, 2, 2, 2], [0, 1, 0, 0], named), [2, 2, 0, np.nan])
    assert matings_in_reading(1, 0, "three-cord") == -1


# -- arrays ----------------------------------------------------------------------------------------------------------


def test_nan_in_nan_out():
    parts = loss_parts_db([100.0, np.nan], 3.0, [2, np.nan], 0.75, splices=[0, 1], splice_db=[np.nan, np.nan])
    np.testing.assert_allclose(parts.cable_db, [0.3, np.nan])
    np.testing.assert_allclose(parts.matings_db, [1.5, np.nan])
    np.testing.assert_allclose(parts.splices_db, [0.0, np.nan])


def test_a_missing_allowance_matters_only_where_it_is_needed():
    assert np.isnan(allowed_db(100, 3.0, 1, np.nan))
    assert allowed_db(100, 3.0, 0, np.nan) == pytest.approx(0.3)


def test_no_length_is_left_where_connections_exceed_the_budget():
    assert np.isnan(longest_length_m(1.0, 3.0, 2, 0.75))
    np.testing.assert_allclose(longest_length_m([1.5, 4.5], 3.0, 2, 0.75), [0.0, 1000.0])


@few
@given(lengths, lengths, coefficients, counts, counts, allowances, counts, counts, allowances)
def test_more_of_anything_never_allows_less(
    length, more_m, slope, pairs, more_pairs, pair_db, splices, more, splice_db
):
    base = allowed_db(length, slope, pairs, pair_db, splices=splices, splice_db=splice_db)
    assert allowed_db(length + more_m, slope, pairs, pair_db, splices=splices, splice_db=splice_db) >= base
    assert allowed_db(length, slope, pairs + more_pairs, pair_db, splices=splices, splice_db=splice_db) >= base
    assert allowed_db(length, slope, pairs, pair_db, splices=splices + more, splice_db=splice_db) >= base


@few
@given(lengths, st.integers(2, 6), counts, st.sampled_from(["OM1", "OM3", "OM4", "OS1a", "OS2"]))
def test_fewer_cords_in_the_reference_never_allow_less_and_parts_add_up(length, pairs, splices, fiber):
    wavelength_nm = 1310
    budgets = [
        fiber_budget(
            fiber=fiber, length_m=length, wavelength_nm=wavelength_nm, mated_pairs=pairs, splices=splices,
            reference=reference,
        )
        for reference in ("one-cord", "two-cord", "three-cord")
    ]  # fmt: skip
    allowed = [budget.allowed_db for budget in budgets]
    assert allowed == sorted(allowed, reverse=True)
    assert allowed[0] - allowed[2] == pytest.approx(2 * 0.75)
    for budget in budgets:
        parts = budget.cable_db + budget.matings_db + budget.splices_db + budget.other_db
        assert budget.allowed_db == pytest.approx(parts, abs=1e-12)


# -- what is refused -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "part"),
    [
        ({"fiber": "OM6"}, "known are OM1"),
        ({"fiber": "multimode"}, "say which of OM1"),
        ({"fiber": None}, "has no coefficient of its own"),
        ({"fiber": "OS1", "wavelength_nm": 1310}, "known are OM1, OM2, OM3, OM4, OM5, OS1a, OS2"),
        ({"wavelength_nm": 1550}, "known are 850, 953, 1300, 1310 nm"),
        ({"wavelength_nm": 953}, "for OM4 known are 850 nm; 1300 nm"),
        ({"wavelength_nm": None}, "no wavelength_nm"),
        ({"length_m": -1}, "length_m must be a number of zero or more"),
        ({"length_m": float("nan")}, "length_m must be a number of zero or more"),
        ({"length_m": None}, "no length_m"),
        ({"mated_pairs": -1}, "mated_pairs must be a whole number"),
        ({"mated_pairs": 1.5}, "mated_pairs must be a whole number"),
        ({"mated_pairs": None}, "no mated_pairs"),
        ({"splices": None}, "no splices"),
        ({"splice_db": -0.1}, "splice_db must be a number"),
        ({"other_db": float("inf")}, "other_db must be a number"),
        ({"reference": "four-cord"}, "known are one-cord, two-cord, three-cord"),
        ({"reference": "three-cord", "mated_pairs": 1}, "a three-cord reference cannot be used"),
        ({"reference": "two-cord", "mated_pairs": 0}, "a two-cord reference cannot be used"),
        ({"standard": "EN"}, "known are TIA, ISO"),
        ({"edition": "568.3-Z"}, "known are 568-C.3, 568.3-D, 568.3-E"),
        ({"construction": "attic"}, "known are inside plant"),
        ({"ends": ("panel", "socket")}, "known are panel, pigtail, cassette, plug, jack"),
        ({"ends": ("panel",)}, "two end types"),
        ({"ends": ("cassette", "cassette")}, "have 4 mated pairs, but mated_pairs is 2"),
        ({"array_pairs": 3}, "3 array_pairs among 2 mated_pairs"),
        ({"plug_ends": 3}, "a link has two ends"),
        ({"sections": [(50, 3.0)]}, "the sections add up to 50"),
        ({"sections": [(120, 3.0)], "coefficient_db_per_km": 3.0}, "exclude each other"),
        ({"fiber": "OS2", "wavelength_nm": 1310, "construction": "inside plant"}, "OS2 inside plant at 1310 nm"),
        (
            {"standard": "ISO", "edition": "11801:2002", "fiber": "OM3", "mated_pairs": 3, "end_pair_db": 0.3},
            "no sourced allowance for one mated pair",
        ),
        ({"standard": "ISO", "edition": "11801-1:2017"}, "allowances.end_pair_db in job.toml"),
    ],
)
def test_refused_in_one_sentence(changes, part):
    with pytest.raises(OptionError) as caught:
        link(**changes)
    assert part in str(caught.value)
    assert "\n" not in str(caught.value)
