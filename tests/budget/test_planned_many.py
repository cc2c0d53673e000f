"""A schedule planned at once agrees with each link planned alone; what is missing is told per row."""

import time

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer import schema
from analyzer.budget.planned import plan_link
from analyzer.budget.planned_many import plan_links
from analyzer.errors import OptionError
from analyzer.job import Job


def schedule(*rows):
    table = pd.DataFrame([{"medium": "fiber", "label": f"L-{number}"} | row for number, row in enumerate(rows)])
    return schema.conform("schedule", table)


GOOD = {"type": "OM4", "length_m": 120.0, "end_type_a": "panel", "end_type_b": "panel", "edition": "568.3-E"}


def test_one_row_per_link_and_wavelength_in_order():
    table = schedule(GOOD, {**GOOD, "type": "OS2"}, {"medium": "twisted pair"}, {**GOOD, "type": "OM3"})
    planned = plan_links(table)
    assert list(zip(planned["row"], planned["wavelength_nm"], strict=True)) == [
        (0, 850), (0, 1300), (1, 1310), (1, 1550), (3, 850), (3, 1300),
    ]  # fmt: skip
    assert (planned["problem"] == "").all()
    assert planned.loc[0, "allowed_db"] == pytest.approx(1.86)  # docs/verdicts.md, by hand
    assert "FA-TIA-E-OM4-850" in planned.loc[0, "limit"]


@pytest.mark.parametrize(
    ("row", "part"),
    [
        ({**GOOD, "type": None}, "fiber type is missing"),
        ({**GOOD, "length_m": None}, "length is missing"),
        ({**GOOD, "end_type_b": None}, "mated pairs and splices are missing"),
        ({**GOOD, "edition": "568.3-Z"}, "edition of the standard is not known"),
        ({**GOOD, "end_type_a": "plug", "end_type_b": None, "mated_pairs": 1, "splices": 0, "reference": "three-cord"},
         "choose another"),
        ({**GOOD, "type": "OS1"}, "no sourced allowance"),
        ({**GOOD, "standard": "ISO", "edition": "11801:2002"}, "no sourced allowance"),
    ],
)  # fmt: skip
def test_a_problem_is_told_in_its_row_and_gives_no_number(row, part):
    planned = plan_links(schedule(GOOD, row), power_budget_db=4.0)
    bad = planned[planned["row"] == 1]
    assert bad["problem"].str.contains(part).all()
    numbers = bad[["allowed_db", "expected_db", "service_db", "longest_length_m", "most_mated_pairs"]]
    assert numbers.isna().all(axis=None)
    assert (planned.loc[planned["row"] == 0, "problem"] == "").all()


def test_arrays_are_allowed_but_not_expected_and_the_reason_stands_there():
    planned = plan_links(schedule({**GOOD, "end_type_a": "cassette", "end_type_b": "cassette"}))
    assert planned["allowed_db"].notna().all()
    assert planned["not_expected"].str.contains("array connections").all()


def test_the_job_fills_what_the_schedule_leaves_open():
    job = Job.model_validate(
        {
            "order": {"fiber": "OM3", "edition": "568-C.3"},
            "facts": {"length_m": 100.0, "mated_pairs": 2, "splices": 1, "reference": "two-cord"},
            "required": {"multimode": [850]},
        }
    )
    (row,) = plan_links(schedule({}), job).to_dict("records")
    # 568-C.3 for OM3: 3.5 dB/km (recalled); one mating left in the reading, one splice
    assert row["allowed_db"] == pytest.approx(0.35 + 0.75 + 0.3)
    assert row["reference"] == "two-cord"


def test_without_a_power_budget_nothing_is_said_of_it():
    planned = plan_links(schedule(GOOD))
    assert planned[["power_margin_db", "longest_length_m", "most_mated_pairs"]].isna().all(axis=None)


def test_an_empty_schedule_gives_an_empty_plan():
    assert len(plan_links(schema.empty("schedule"))) == 0
    assert len(plan_links(schedule({"medium": "twisted pair"}))) == 0


links = st.fixed_dictionaries(
    {
        "type": st.sampled_from(["OM1", "OM3", "OM4", "OM5", "OS1a", "OS2"]),
        "length_m": st.floats(0, 3000),
        "end_type_a": st.sampled_from(["panel", "pigtail", "cassette", "plug", "jack"]),
        "end_type_b": st.sampled_from(["panel", "pigtail", "cassette", "plug", "jack"]),
        "reference": st.sampled_from(["one-cord", "two-cord", "three-cord"]),
    }
)


@given(st.lists(links, min_size=1, max_size=6), st.floats(0, 10))
def test_many_at_once_and_one_by_one_agree(rows, power):
    planned = plan_links(schedule(*rows), power_budget_db=power, connection_grade="C")
    assert (planned["problem"] == "").all()
    for number, row in enumerate(rows):
        alone = plan_link(
            fiber=row["type"], length_m=row["length_m"], ends=(row["end_type_a"], row["end_type_b"]),
            power_budget_db=power, connection_grade="C", references=(row["reference"],),
        )  # fmt: skip
        for each in alone.wavelengths:
            (got,) = planned[(planned["row"] == number) & (planned["wavelength_nm"] == each.wavelength_nm)].to_dict(
                "records"
            )
            budget = each.readings[0].budget
            wanted = {
                "cable_db": budget.cable_db, "matings_db": budget.matings_db, "splices_db": budget.splices_db,
                "allowed_db": budget.allowed_db, "matings_in_reading": budget.matings_in_reading,
                "expected_db": np.nan if budget.expected_db is None else budget.expected_db,
                "expected_97_db": np.nan if budget.expected_97_db is None else budget.expected_97_db,
                "service_db": each.service.allowed_db, "power_margin_db": each.power_margin_db,
                "longest_length_m": each.longest_length_m,
                "most_mated_pairs": np.nan if each.most_mated_pairs < 0 else each.most_mated_pairs,
            }  # fmt: skip
            assert {name: got[name] for name in wanted} == pytest.approx(wanted, abs=1e-9, nan_ok=True)


def test_a_wrong_grade_is_refused():
    with pytest.raises(OptionError, match="known are A"):
        plan_links(schedule(GOOD), connection_grade="Z")


@pytest.mark.slow
def test_ten_thousand_links_in_less_than_two_seconds():
    table = pd.concat([schedule(GOOD, {**GOOD, "type": "OS2", "splices": 2.0})] * 5000, ignore_index=True)
    begun = time.process_time()
    planned = plan_links(table, power_budget_db=3.0)
    assert time.process_time() - begun < 2.0
    assert len(planned) == 20_000
