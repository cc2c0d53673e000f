"""Which tests are in force. OM4, 120 m, 2 pairs, one-cord: 1.86 dB at 850 nm, 1.68 dB at 1300 nm."""

import pytest
from bench import OL, judged, link, om4


def at(time, **more):
    return om4(tested_at=time, **more)


def force(*rows, **more):
    return judged(*rows, **more)[1].in_force.tolist()


def seeds(*rows, **more):
    return judged(*rows, **more)[1].seeds["code"].drop_duplicates().tolist()


def test_a_newer_test_supersedes_its_like():
    rows = [at("2026-03-01 10:00", loss={850: 9.0}), at("2026-03-01 11:00", loss={850: 1.0, 1300: 1.0})]
    assert force(*rows) == [False, True, True]
    one = link(*rows)
    assert (one.verdict, one.attempts) == ("pass", 2)


def test_the_newer_test_counts_wherever_it_stands():
    rows = [at("2026-03-01 11:00", loss={850: 1.0, 1300: 1.0}), at("2026-03-01 10:00", loss={850: 9.0})]
    assert force(*rows) == [True, True, False]


def test_a_newer_fail_supersedes_an_older_pass():
    assert link(at("2026-03-01 10:00"), at("2026-03-01 11:00", loss={850: 9.0})).verdict == "fail"


def test_wavelengths_complete_each_other():
    rows = [at("2026-03-01 10:00", loss={850: 1.0}), at("2026-03-02 10:00", loss={1300: 1.0})]
    assert force(*rows) == [True, True]
    assert (link(*rows).verdict, link(*rows).attempts) == ("pass", 1)


def test_directions_complete_each_other():
    rows = [at("2026-03-01 10:00", loss={(850, "A-B"): 1.0}), at("2026-03-02 10:00", loss={(850, "B-A"): 1.0})]
    assert force(*rows) == [True, True]


def test_configurations_are_never_retests_of_each_other():
    rows = [at("2026-03-01 10:00", configuration="channel"), at("2026-03-02 10:00", configuration="permanent link")]
    assert force(*rows) == [True] * 4


def test_1310_nm_on_multimode_is_a_retest_of_1300_nm():
    rows = [at("2026-03-01 10:00", loss={1310: 9.0}), at("2026-03-02 10:00", loss={850: 1.0, 1300: 1.0})]
    assert force(*rows) == [False, True, True]


# --- no usable time


@pytest.mark.parametrize("times", [(None, None), ("2026-03-01 10:00", None), (None, "2026-03-01 10:00")])
@pytest.mark.parametrize("values", [(9.0, 1.0), (1.0, 9.0)])
def test_without_a_usable_time_the_worst_decides(times, values):
    rows = [at(time, loss={850: value, 1300: 1.0}) for time, value in zip(times, values, strict=True)]
    assert link(*rows).verdict == "fail"
    assert "retest-undated" in seeds(*rows)


def test_without_a_usable_time_one_that_could_not_be_judged_is_worse_than_a_pass():
    rows = [at(None), at(None, loss={850: -1.0, 1300: 1.0})]
    assert link(*rows).verdict == "incomplete"


def test_over_range_is_the_worst_of_all():
    assert link(at(None, loss={850: 9.0, 1300: 1.0}), at(None, loss={850: OL, 1300: 1.0})).sentence == (
        "fail: loss at 850 nm beyond the range of the tester"
    )


@pytest.mark.parametrize("values", [(9.0, 1.0), (1.0, 9.0)])
def test_on_one_day_without_a_clock_the_worst_decides(values):
    rows = [at("2026-03-01", loss={850: value, 1300: 1.0}) for value in values]
    assert link(*rows).verdict == "fail"
    assert seeds(*rows)[0] == "retest-undated"


def test_on_one_day_without_a_clock_older_days_stay_superseded():
    rows = [at("2026-02-01", loss={850: 9.0}), at("2026-03-01", loss={850: 1.0}), at("2026-03-01", loss={850: 1.2})]
    assert force(*rows) == [False, False, True]


def test_a_test_of_the_last_day_without_a_clock_may_be_later_than_one_with_a_clock():
    rows = [at("2026-03-01 10:00"), at("2026-03-01", loss={850: 9.0})]
    assert link(*rows).verdict == "fail"
    assert "retest-undated" in seeds(*rows)


def test_a_later_day_without_a_clock_is_later():
    rows = [at("2026-03-01 10:00", loss={850: 9.0, 1300: 1.0}), at("2026-03-02")]
    assert link(*rows).verdict == "pass"
    assert "retest-undated" not in seeds(*rows)


# --- collisions


@pytest.mark.parametrize("values", [(9.0, 1.0), (1.0, 9.0)])
def test_the_same_time_with_other_values_is_a_collision_and_the_worse_decides(values):
    rows = [at("2026-03-01 10:00", loss={850: value, 1300: 1.0}) for value in values]
    assert force(*rows).count(True) == 3  # both at 850 nm; the same value at 1300 nm is one test
    assert link(*rows).verdict == "fail"
    assert "label-collision" in seeds(*rows)


def test_a_collision_that_is_superseded_is_none():
    rows = [*(at("2026-03-01 10:00", loss={850: value}) for value in (9.0, 8.0)), at("2026-03-01 12:00")]
    assert link(*rows).verdict == "pass"
    assert "label-collision" not in seeds(*rows)


@pytest.mark.parametrize(
    "other",
    [
        {"length_m": 200.0},
        {"type": "OM3"},
        {"place_a": "Hall", "place_b": "Loft"},
    ],
)
def test_one_label_with_another_length_type_or_room_is_a_collision(other):
    rows = [
        at("2026-03-01 10:00", place_a="Hall", place_b="Plant room", loss={850: 9.0, 1300: 1.0}),
        at("2026-03-02 10:00", **({"place_a": "Hall", "place_b": "Plant room"} | other)),
    ]
    assert force(*rows) == [True] * 4
    assert link(*rows).verdict == "fail"
    assert "label-collision" in seeds(*rows)


def test_multimode_and_single_mode_wavelengths_under_one_label_are_a_collision():
    rows = [{"label": "A", "loss": {850: 1.0, 1300: 1.0}}, {"label": "A", "loss": {1310: 1.0, 1550: 1.0}}]
    assert "label-collision" in seeds(*rows)


def test_rooms_seen_from_the_other_end_are_the_same_rooms():
    rows = [
        at("2026-03-01 10:00", place_a="Hall", place_b="Plant room", loss={850: 9.0, 1300: 1.0}),
        at("2026-03-02 10:00", place_a="plant room ", place_b="HALL"),
    ]
    assert link(*rows).verdict == "pass"


def test_lengths_that_differ_by_slack_are_one_length():
    rows = [at("2026-03-01 10:00", loss={850: 9.0}), at("2026-03-02 10:00", length_m=131.0)]  # 11 m < 10 % of 131 m
    assert "label-collision" not in seeds(*rows)


# --- the same test twice


@pytest.mark.parametrize("time", [None, "2026-03-01", "2026-03-01 10:00"])
def test_identical_rows_are_used_once_and_told(time):
    rows = [at(time), at(time)]
    assert force(*rows).count(True) == 2
    assert seeds(*rows) == ["identical-rows"]
    assert link(*rows).verdict == "pass"


def test_a_bound_is_not_the_same_as_its_number():
    rows = [at("2026-03-01 10:00", loss={850: 1.0}), at("2026-03-01 10:00", loss={850: (1.0, "below")})]
    assert "label-collision" in seeds(*rows)


def test_two_breaks_are_the_same():
    rows = [at("2026-03-01 10:00", loss={850: OL}), at("2026-03-01 10:00", loss={850: OL})]
    assert seeds(*rows) == ["identical-rows"]


def test_attempts_count_the_most_often_tested_reading():
    rows = [at(f"2026-03-0{day} 10:00", loss={850: 1.0 + day / 10}) for day in (1, 2, 3)]
    assert link(*rows, at("2026-03-04 10:00", loss={1300: 1.0})).attempts == 3


def test_attempts_of_one_link_do_not_count_for_another():
    rows = [at("2026-03-01 10:00"), at("2026-03-02 10:00"), om4("B", tested_at="2026-03-02 10:00")]
    assert judged(*rows)[1].links.attempts.tolist() == [2, 1]
