"""A planned link against published worked examples, sums by hand, and the budget of one link."""

import csv
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.budget import fiber_budget
from analyzer.budget.planned import plan_link
from analyzer.errors import OptionError
from analyzer.job import Job

DATA = Path(__file__).with_name("data") / "worked_examples.csv"


def examples():
    with DATA.open(encoding="utf-8", newline="") as lines:
        return {row["example"]: row for row in csv.DictReader(line for line in lines if not line.startswith("#"))}


EXAMPLES = examples()
LENGTHS = [name for name, row in EXAMPLES.items() if not row["length_km"]]
PANELS = {"fiber": "OM4", "length_m": 120, "ends": ("panel", "panel"), "edition": "568.3-E"}


def own_figures(row, single_mode):
    """A job whose own allowances are the figures of a published example."""
    fiber, wavelength = ("OS2", 1310) if single_mode else ("OM1", 850)
    return Job.model_validate(
        {
            "allowances": {
                "mated_pair_db": float(row["mated_pair_db"]),
                "splice_db": float(row["splice_db"]),
                "attenuation_db_per_km": {fiber: {wavelength: float(row["coefficient_db_per_km"])}},
            }
        }
    )


@pytest.mark.parametrize("name", LENGTHS)
def test_longest_length_of_published_examples(name):
    # tests/budget/data/worked_examples.csv: publisher, document and page of each; recomputed from the printed terms
    row = EXAMPLES[name]
    single_mode = "single" in row["fiber"]
    planned = plan_link(
        fiber="OS2" if single_mode else "OM1", length_m=100, mated_pairs=int(row["mated_pairs"]),
        splices=int(row["splices"]), power_budget_db=float(row["power_budget_db"]), other_db=float(row["other_db"]),
        wavelengths_nm=(1310 if single_mode else 850,), job=own_figures(row, single_mode),
    )  # fmt: skip
    assert planned.wavelengths[0].longest_length_m / 1000 == pytest.approx(
        float(row["recomputed_longest_km"]), abs=6e-4
    )


def test_by_hand_one_link_and_three_methods():
    # docs/verdicts.md works out the same link: 0.36 dB of cable and 0.75 dB a mating
    planned = plan_link(**PANELS, power_budget_db=2.6)
    at_850 = planned.wavelengths[0]
    assert [reading.budget.allowed_db for reading in at_850.readings] == pytest.approx([1.86, 1.11, 0.36])
    assert at_850.service.allowed_db == pytest.approx(1.86)
    assert at_850.power_margin_db == pytest.approx(0.74)
    assert at_850.longest_length_m == pytest.approx((2.6 - 1.5) / 3.0 * 1000)
    assert at_850.most_mated_pairs == 2  # a third would take 0.75 dB, 0.74 are left
    assert plan_link(**PANELS, power_budget_db=2.61).wavelengths[0].most_mated_pairs == 3
    assert [each.wavelength_nm for each in planned.wavelengths] == [850, 1300]


def test_each_reading_is_the_budget_of_one_link():
    planned = plan_link(**PANELS, other_db=1.0)
    for each in planned.wavelengths:
        for reading in each.readings:
            alone = fiber_budget(
                fiber="OM4", length_m=120, wavelength_nm=each.wavelength_nm, mated_pairs=2, splices=0,
                reference=reading.reference, edition="568.3-E",
            )  # fmt: skip
            assert reading.budget.allowed_db == alone.allowed_db
            assert reading.budget.expected_97_db == alone.expected_97_db
        assert each.service.allowed_db == pytest.approx(each.readings[0].budget.allowed_db + 1.0)


def test_a_plug_is_read_with_the_cord_and_not_there_in_service():
    planned = plan_link(fiber="OM4", length_m=60, ends=("panel", "plug"))
    assert (planned.mated_pairs, planned.plug_ends) == (1, 1)
    at_850 = planned.wavelengths[0]
    assert at_850.service.matings_db == pytest.approx(0.75)
    assert at_850.readings[0].budget.matings_db == pytest.approx(1.50)


def test_a_method_that_cannot_be_used_with_the_ends_is_told():
    planned = plan_link(fiber="OM4", length_m=60, mated_pairs=1, splices=0)
    assert [reading.budget is None for reading in planned.wavelengths[0].readings] == [False, False, True]
    assert "three-cord reference cannot be used" in planned.wavelengths[0].readings[2].problem


def test_where_the_construction_is_not_said_the_reading_is_held_to_the_strictest_and_the_light_to_the_lossiest():
    planned = plan_link(fiber="OS2", length_m=1000, mated_pairs=2, splices=0, power_budget_db=4.0)
    at_1310 = planned.wavelengths[0]
    assert at_1310.readings[0].budget.cable_db == pytest.approx(0.4)
    assert at_1310.service.cable_db == pytest.approx(0.5)
    assert at_1310.longest_length_m == pytest.approx((4.0 - 1.5) / 0.5 * 1000)
    assert any("the power budget must hold for it as well" in note for note in planned.notes)
    said = plan_link(fiber="OS2", length_m=1000, mated_pairs=2, splices=0, construction="outside plant")
    assert said.wavelengths[0].service.cable_db == pytest.approx(0.4)
    assert not any("power budget" in note for note in said.notes)


def test_array_pairs_stay_when_mated_pairs_are_taken_away():
    given = {"fiber": "OM4", "length_m": 100, "ends": ("cassette", "cassette")}
    assert plan_link(**given, power_budget_db=2.0).wavelengths[0].most_mated_pairs == 2  # both of them array
    assert plan_link(**given, power_budget_db=1.5).wavelengths[0].most_mated_pairs == -1
    assert math.isnan(plan_link(**given, power_budget_db=1.5).wavelengths[0].longest_length_m)


def test_the_job_orders_wavelengths_and_allowances():
    job = Job.model_validate({"required": {"multimode": [850]}, "allowances": {"mated_pair_db": 0.5}})
    planned = plan_link(**PANELS, job=job)
    assert [each.wavelength_nm for each in planned.wavelengths] == [850]
    assert planned.wavelengths[0].service.matings_db == pytest.approx(1.0)


@given(
    st.integers(0, 4), st.integers(0, 4), st.floats(0, 3000), st.floats(0, 12), st.sampled_from(["OM3", "OM4", "OS2"])
)
def test_what_fits_fits_and_one_more_does_not(pairs, splices, length, power, fiber):
    given_link = {"fiber": fiber, "length_m": length, "mated_pairs": pairs, "splices": splices}
    for each in plan_link(**given_link, power_budget_db=power).wavelengths:
        most = each.most_mated_pairs
        assert (most >= pairs) == (each.power_margin_db >= -1e-8)
        others = each.service.allowed_db - each.service.matings_db
        if most >= 0:
            assert others + 0.75 * most <= power + 1e-8
        assert others + 0.75 * (most + 1) > power - 1e-8
        if not math.isnan(each.longest_length_m):
            there = plan_link(**{**given_link, "length_m": each.longest_length_m}).wavelengths
            same = next(other for other in there if other.wavelength_nm == each.wavelength_nm)
            assert same.service.allowed_db == pytest.approx(power, abs=1e-9)
        else:
            assert each.service.allowed_db - each.service.cable_db > power


@pytest.mark.parametrize(
    ("changes", "part"),
    [
        ({"fiber": None}, "known are OM1"),
        ({"fiber": "multimode"}, "known are OM1"),
        ({"length_m": None}, "no length"),
        ({"ends": None}, "say both ends"),
        ({"ends": None, "mated_pairs": 2}, "say both ends"),
        ({"ends": ("panel", "socket")}, "known are panel"),
        ({"mated_pairs": 1}, "have 2 mated pairs"),
        ({"power_budget_db": -1.0}, "power budget must be a number"),
        ({"power_budget_db": float("nan")}, "power budget must be a number"),
        ({"other_db": -1.0}, "other loss must be a number"),
        ({"edition": "568.3-Z"}, "known are 568-C.3"),
        ({"wavelengths_nm": (1550,)}, "no wavelength of multimode"),
        ({"connection_grade": "Z"}, "known are A, B"),
        ({"references": ("four-cord",)}, "four-cord"),
    ],
)
def test_refused_in_one_sentence(changes, part):
    with pytest.raises(OptionError) as caught:
        plan_link(**{**PANELS, **changes})
    assert part in str(caught.value)
    assert "\n" not in str(caught.value)
