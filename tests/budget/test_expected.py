"""Expected loss of links: many at once and one by one agree, sums by hand, what has no source is not expected."""

import time

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from analyzer import standards
from analyzer.budget.expected import (
    EXPECTED,
    FACT_MISSING,
    NO_ARRAY_SPREAD,
    NO_TYPICAL,
    NOTHING_VARIES,
    WHY_NONE,
    describe_row,
    expect,
    expected_loss,
    typical_row,
    workmanship,
    worse_than_done_well,
)
from analyzer.budget.loss_spread import Spread, fit_gamma
from analyzer.errors import OptionError
from analyzer.schema import CATEGORIES

VALUES = standards.load()
STANDARD = {
    "type": "OM4", "wavelength_nm": 850, "length_m": 120.0, "matings": 2, "array_matings": 0, "splices": 0, "value": 0.9
}  # fmt: skip


def one(done_well=None, **changes):
    return expect(pd.DataFrame([{**STANDARD, **changes}]), VALUES, done_well).iloc[0]


def test_by_hand_two_matings_on_om4():
    # 2.5 dB/km typical (cable maker datasheet, read) x 120 m = 0.300 dB; two Bm matings: gamma of twice the shape
    shape, scale = fit_gamma(Spread(0.3, 0.6))
    pair = stats.gamma(2 * shape, scale=scale)
    got = one()
    assert got["typical_cable_db"] == pytest.approx(0.300)
    assert got["expected_db"] == pytest.approx(0.300 + pair.ppf(0.5), abs=2e-4)
    assert got["expected_97_db"] == pytest.approx(0.300 + pair.ppf(0.97), abs=2e-4)
    assert got["place"] == pytest.approx(pair.cdf(0.6), abs=1e-3)


def test_typical_values_are_those_of_their_evidence():
    evidence = {row["row_id"]: row for row in VALUES.rows("attenuation_evidence")}
    for row in VALUES.rows("typical_attenuation"):
        first = evidence[row["second_source"].split()[0]]
        assert row["typical_db_per_km"] == first["attenuation_db_per_km"], row["row_id"]
        assert first["kind"] == "typical"


def test_spreads_are_those_of_their_evidence():
    evidence = {row["row_id"]: row for row in VALUES.rows("components_evidence")}
    for row in VALUES.rows("component_spread"):
        found = [evidence[name] for name in row["second_source"].split()]
        figures = {each["percentile"]: each["loss_db"] for each in found}
        if {"mean", "97"} <= set(figures):
            assert (row["mean_db"], row["q97_db"]) == (figures["mean"], figures["97"]), row["row_id"]
        else:
            assert row["how_known"] == "derived"
            assert found[0]["loss_db"] in {row["mean_db"], row["q97_db"]}


def test_typical_cable_keeps_the_limit_of_its_type():
    # a typical value above the newest ceiling of TIA or ISO would expect a fail
    for standard in CATEGORIES["standard"]:
        for row in standards.allowances(VALUES, standard).coefficient_rows:
            typical = typical_row(VALUES, row["type"], row["wavelength_nm"])
            if typical is not None:
                assert typical["typical_db_per_km"] <= row["coefficient_db_per_km"], row["row_id"]


def test_exactly_one_row_is_taken_per_component_and_medium():
    taken = [(row["component"], row["medium"]) for row in VALUES.rows("component_spread") if row["taken"]]
    assert sorted(taken) == [
        ("mated pair", "multimode"), ("mated pair", "single-mode"), ("splice", "multimode"), ("splice", "single-mode"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({}, EXPECTED),
        ({"type": None}, FACT_MISSING),
        ({"length_m": np.nan}, FACT_MISSING),
        ({"length_m": -1.0}, FACT_MISSING),
        ({"length_m": np.inf}, FACT_MISSING),
        ({"matings": np.nan}, FACT_MISSING),
        ({"matings": -1}, FACT_MISSING),
        ({"matings": 1.5}, FACT_MISSING),
        ({"splices": np.nan}, FACT_MISSING),
        ({"array_matings": 3}, FACT_MISSING),
        ({"type": "OM5", "wavelength_nm": 953}, NO_TYPICAL),
        ({"type": "OS2", "wavelength_nm": 1490}, NO_TYPICAL),
        ({"wavelength_nm": -1}, NO_TYPICAL),
        ({"array_matings": 1}, NO_ARRAY_SPREAD),
        ({"matings": 0}, NOTHING_VARIES),
    ],
)
def test_what_has_no_source_is_not_expected_and_the_reason_is_known(changes, why):
    got = one(**changes)
    assert got["why_none"] == why
    assert np.isnan(got["place"]) == (why != EXPECTED)
    assert np.isnan(got["expected_97_db"]) == (why not in {EXPECTED, NOTHING_VARIES})
    assert bool(WHY_NONE[why]) == (why != EXPECTED)


def test_cable_alone_is_expected_without_a_place():
    got = one(matings=0)
    assert got["expected_db"] == got["expected_97_db"] == pytest.approx(0.3)


def test_an_array_spread_of_the_product_ordered_is_used():
    done_well = workmanship(VALUES, array_pair=Spread(0.2, 0.35))
    got = one(done_well, array_matings=2)
    shape, scale = fit_gamma(Spread(0.2, 0.35))
    assert got["expected_97_db"] == pytest.approx(0.3 + stats.gamma(2 * shape, scale=scale).ppf(0.97), abs=2e-4)


def test_grades_hold_for_their_own_medium():
    done_well = workmanship(VALUES, "B")
    assert done_well.rows["mated pair", "single-mode"]["grade"] == "B"
    assert done_well.rows["mated pair", "multimode"]["grade"] == "Bm"
    assert workmanship(VALUES, "Cm").rows["mated pair", "multimode"]["grade"] == "Cm"
    assert workmanship(VALUES, "Cm").rows["mated pair", "single-mode"]["taken"]
    assert workmanship(VALUES, splice="mechanical").rows["splice", "single-mode"]["grade"] == "mechanical"
    with pytest.raises(OptionError, match="known are A, B, C, D, Bm, Cm"):
        workmanship(VALUES, "Z")
    with pytest.raises(OptionError, match="known are fusion, mechanical"):
        workmanship(VALUES, splice="glue")


def test_doubtful_rows_say_so():
    assert "doubtful" in describe_row(workmanship(VALUES).rows["mated pair", "multimode"])
    assert "doubtful" not in describe_row(workmanship(VALUES).rows["mated pair", "single-mode"])
    assert "2.5 dB/km (cable maker datasheet" in describe_row(typical_row(VALUES, "OM4", 850))


table_rows = st.fixed_dictionaries(
    {
        "type": st.sampled_from(CATEGORIES["type"]),
        "wavelength_nm": st.sampled_from([850, 953, 1300, 1310, 1550]),
        "length_m": st.floats(0, 5000),
        "matings": st.integers(0, 4),
        "array_matings": st.just(0),
        "splices": st.integers(0, 4),
        "value": st.floats(-1, 10),
    }
)


@given(st.lists(table_rows, min_size=1, max_size=8))
def test_many_at_once_and_one_by_one_agree(rows):
    together = expect(pd.DataFrame(rows), VALUES)
    for row, got in zip(rows, together.to_dict("records"), strict=True):
        alone = expected_loss(
            VALUES, row["type"], row["wavelength_nm"], row["length_m"], row["matings"], 0, row["splices"],
            workmanship(VALUES),
        )  # fmt: skip
        assert alone.why_none == WHY_NONE[got["why_none"]]
        for name in ("expected_db", "expected_97_db"):
            number = getattr(alone, name)
            assert (number is None) == np.isnan(got[name])
            assert number is None or number == pytest.approx(got[name], abs=1e-12)


@given(table_rows, st.floats(0, 3))
def test_more_never_is_expected_to_lose_less_and_a_higher_loss_never_stands_better(row, more):
    base, longer, worse = (
        one(**{**row, **change})
        for change in ({}, {"length_m": row["length_m"] + 1000 * more}, {"value": row["value"] + more})
    )
    for name in ("expected_db", "expected_97_db"):
        assert np.isnan(base[name]) or longer[name] >= base[name]
    assert np.isnan(base["place"]) or (worse["place"] >= base["place"] >= longer["place"])
    assert np.isnan(base["place"]) or base["expected_db"] < base["expected_97_db"]


def test_the_line_splits_three_in_a_hundred_of_drawn_links():
    generator = np.random.default_rng(7)
    shape, scale = fit_gamma(Spread(0.25, 0.5))
    losses = 0.37 * 0.5 + generator.gamma(shape, scale, (20_000, 2)).sum(axis=1)
    drawn = pd.DataFrame({**STANDARD, "type": "OS2", "wavelength_nm": 1310, "length_m": 500.0, "value": losses})
    got = expect(drawn, VALUES)
    assert np.mean(losses > got["expected_97_db"]) == pytest.approx(0.03, abs=0.005)
    # places of good links are evenly spread
    assert stats.kstest(got["place"], "uniform").pvalue > 0.001


def test_worse_than_done_well_leaves_the_accuracy_as_room():
    told = worse_than_done_well([1.3, 1.4, 1.5, np.nan, 9.0], [1.3, 1.3, 1.3, 1.3, np.nan], [0, 0.2, np.nan, 0, 0])
    np.testing.assert_array_equal(told, [False, False, True, False, False])


def test_an_empty_table_gives_an_empty_table():
    empty = pd.DataFrame({name: pd.Series(dtype="float64") for name in STANDARD}).astype({"type": "str"})
    assert len(expect(empty, VALUES)) == 0


@pytest.mark.slow
def test_ten_thousand_links_of_four_readings_in_less_than_a_second():
    generator = np.random.default_rng(3)
    count = 40_000
    table = pd.DataFrame(
        {
            "type": pd.Categorical(generator.choice(["OM3", "OM4", "OS2", "OS1a"], count), list(CATEGORIES["type"])),
            "length_m": generator.uniform(10, 500, count),
            "matings": generator.integers(2, 5, count),
            "array_matings": 0,
            "splices": generator.integers(0, 5, count),
            "value": generator.gamma(5, 0.2, count),
        }
    )
    table["wavelength_nm"] = np.where(table["type"].isin(["OM3", "OM4"]), 850, 1310)
    begun = time.process_time()
    got = expect(table, VALUES)
    assert time.process_time() - begun < 1.0
    assert (got["why_none"] == EXPECTED).all()
