"""Links of twisted pair: what is required, what supersedes what, and the sentence of the link."""

import math

import numpy as np
import pytest
from bench import job_of
from pair_bench import at, judged_pairs, link_of, pair_link

PAIRS = ("1-2", "3-6", "4-5", "7-8")
COMBINATIONS = ("1-2/3-6", "1-2/4-5", "1-2/7-8", "3-6/4-5", "3-6/7-8", "4-5/7-8")


def full(**without):
    """All that is required of a category 6 permanent link, good throughout; `without` leaves out by parameter."""
    readings = [at("wire map", declared_verdict="pass"), at("length", 50.0), at("delay skew", 20.0)]
    readings += [at("propagation delay", 250.0, 10.0, pair=pair) for pair in PAIRS]
    readings += [at("insertion loss", 15.0, 250.0, pair=pair) for pair in PAIRS]
    readings += [at("PSACR-F", 40.0, 100.0, pair=pair) for pair in PAIRS]
    readings += [at("ACR-F", 40.0, 100.0, pair=pair) for pair in COMBINATIONS]
    for end in "AB":
        readings += [at("NEXT", 45.0, 100.0, pair=pair, end=end) for pair in COMBINATIONS]
        readings += [at("PSNEXT", 44.0, 100.0, pair=pair, end=end) for pair in PAIRS]
        readings += [at("return loss", 20.0, 100.0, pair=pair, end=end) for pair in PAIRS]
    return [one for one in readings if not without.get("drop", lambda _: False)(one)]


def link(*readings, **more):
    return link_of(pair_link(*readings), **more)


def test_all_that_is_required_passes():
    one = link(*full())
    assert (one.verdict, one.missing) == ("pass", "")
    assert one.sentence.startswith("pass: least margin ")


@pytest.mark.parametrize(
    ("drop", "missing"),
    [
        (lambda one: one["parameter"] == "PSNEXT", "PSNEXT"),
        (lambda one: one["parameter"] == "NEXT" and one["end"] == "B", "NEXT at end B"),
        (lambda one: one["parameter"] == "return loss" and one.get("pair") == "7-8", "return loss of 1 of 4 pairs"),
        (lambda one: one["parameter"] == "ACR-F" and one.get("pair") in COMBINATIONS[:2],
         "ACR-F of 2 of 6 pair combinations"),
        (lambda one: one["parameter"] == "wire map", "wire map"),
        (lambda one: one["parameter"] == "length", "length"),
        (lambda one: one["parameter"] in {"NEXT", "delay skew"}, "NEXT; delay skew"),
    ],
)  # fmt: skip
def test_what_is_missing_is_named_in_trade_words(drop, missing):
    one = link(*full(drop=drop))
    assert (one.verdict, one.missing) == ("incomplete", missing)
    assert "all that was judged passes" in one.sentence


def test_a_length_of_the_schedule_or_the_command_line_will_do():
    rest = full(drop=lambda one: one["parameter"] == "length")
    assert link(*rest, length_m=50.0).verdict == "pass"


def test_acr_f_needs_no_second_end():
    assert link(*[one | {"end": "A"} if one["parameter"] == "ACR-F" else one for one in full()]).verdict == "pass"


def headed(**more):
    rest = full(drop=lambda one: one["parameter"] == "NEXT")
    return link(*rest, at("NEXT", 45.0, 100.0, **more))


def test_a_value_headed_worst_counts_for_both_ends_and_all_pairs():
    assert headed(worst=True).verdict == "pass"


def test_a_grade_without_sourced_limits_is_no_pass_by_the_wire_map_alone():
    one = link(*full(), grade="8")
    assert one.verdict == "incomplete"
    assert "NEXT could not be judged" in one.missing


def test_a_required_value_outside_the_range_of_its_limit_covers_nothing():
    rest = full(drop=lambda one: one["parameter"] == "NEXT" and one.get("pair") == "4-5/7-8" and one["end"] == "B")
    outside = at("NEXT", 20.0, 600.0, pair="4-5/7-8", end="B")
    assert (link(*rest, outside).verdict, link(*rest, outside).missing) == ("incomplete", "NEXT could not be judged")
    assert link(*full(), outside).verdict == "pass"


def test_acr_f_of_one_combination_disturbed_either_way_is_no_collision():
    _, linked, rows = judged_pairs(pair_link(*full(), at("ACR-F", 39.0, 100.0, pair="1-2/3-6")))
    assert linked.seeds.empty
    both = rows[(rows["parameter"] == "ACR-F") & (rows["pair"] == "1-2/3-6")]
    one = link(*full(), at("ACR-F", 10.0, 100.0, pair="1-2/3-6"))
    assert sorted(both["value"]) == [39.0, 40.0]
    assert (one.verdict, one.attempts) == ("fail", 1)


def test_a_value_without_an_end_is_no_value_of_both_ends():
    assert headed().missing == "NEXT: the end is not stated"


def test_the_owner_may_require_less():
    job = job_of('[required]\ntwisted_pair = ["wire map", "NEXT"]\n')
    rows = [one for one in full() if one["parameter"] in {"wire map", "NEXT"}]
    assert link(*rows, job=job).verdict == "pass"


def test_a_reading_that_stays_open_leaves_the_link_incomplete_though_nothing_requires_it():
    one = link(*full(), at("loop resistance", 30.0, bound="below"))
    assert (one.verdict, one.missing) == ("incomplete", "loop resistance could not be judged")


def test_without_a_grade_the_grade_is_what_is_missing():
    one = link_of(pair_link(*full(), declared_limit=None))
    assert one.verdict == "incomplete"
    assert one.missing.startswith("grade")
    assert "could not be judged" not in one.missing


def test_an_exempted_reading_sets_neither_verdict_nor_least_margin():
    readings = [
        one | {"value": 5.0} if (one["parameter"], one.get("pair")) == ("return loss", "1-2") else one for one in full()
    ]
    readings = [
        one | {"value": 2.0, "frequency_mhz": 100.0} if one["parameter"] == "insertion loss" else one
        for one in readings
    ]
    assert link(*readings).verdict == "pass"
    assert link(*readings).margin_db > 0


def test_a_fail_in_decibels_and_one_in_nanoseconds_are_each_told_in_their_unit():
    skew = [one | {"value": 60.0} if one["parameter"] == "delay skew" else one for one in full()]
    one = link(*skew)
    assert one.sentence == "fail: delay skew 60.00 ns, 16.00 ns over the 44.00 ns allowed"
    assert math.isnan(one.margin_db)
    low = [one | {"value": 30.0} if one["parameter"] == "NEXT" else one for one in skew]
    assert "NEXT pair 1-2/3-6 from end A 30.00 dB, 11.84 dB under the 41.84 dB needed" in link(*low).sentence


def test_a_failed_wire_map_fails_the_link():
    rows = [one | {"declared_verdict": "fail"} if one["parameter"] == "wire map" else one for one in full()]
    assert link(*rows).sentence == "fail: wire map as the export declares it"


# --- retests


def dated(day, *readings, **more):
    return pair_link(*readings, tested_at=np.datetime64(f"2026-11-{day}T10:00:00"), **more)


def in_force(*rows):
    return judged_pairs(*rows)[2]["in_force"].tolist()


def test_a_later_test_supersedes_all_points_of_the_earlier_sweep():
    first = dated("01", at("NEXT", 30.0, 100.0), at("NEXT", 35.0, 200.0))
    second = dated("02", at("NEXT", 45.0, 120.0))
    assert in_force(first, second) == [False, False, True]
    assert judged_pairs(first, second)[1].links.iloc[0].attempts == 2


def test_two_worst_points_of_one_sweep_are_no_collision():
    _, linked, table = judged_pairs(dated("01", at("NEXT", 45.0, 100.0), at("NEXT", 43.0, 200.0)))
    assert table["in_force"].tolist() == [True, True]
    assert len(linked.seeds) == 0
    assert linked.links.iloc[0].attempts == 1


def test_one_point_with_two_values_is_a_collision():
    linked = judged_pairs(dated("01", at("NEXT", 45.0, 100.0)), dated("01", at("NEXT", 44.0, 100.0)))[1]
    assert linked.seeds["code"].tolist().count("label-collision") == 2


def test_channel_and_permanent_link_are_never_retests_of_each_other():
    channel = dated("02", at("NEXT", 45.0, 100.0), declared_limit="TIA Cat 6 Channel")
    assert in_force(dated("01", at("NEXT", 45.0, 100.0)), channel) == [True, True]


def test_other_pairs_and_ends_complete_each_other():
    one, two = at("NEXT", 45.0, 100.0, pair="1-2/3-6", end="A"), at("NEXT", 45.0, 100.0, pair="1-2/3-6", end="B")
    assert in_force(dated("01", one), dated("02", two)) == [True, True]
