"""Twisted-pair readings against their limits: margins, bounds, worst points, doubts, exemptions."""

import math

import pytest
from bench import job_of, schedule_of
from pair_bench import at, judged_pairs, pair_link, reading

from analyzer.standards import limit

NEXT_100 = limit("NEXT", grade="6", configuration="permanent link", frequency_mhz=100.0)
"""41.8 dB: the published permanent link value of category 6 at 100 MHz (recalled table, check_values_recalled.csv)."""


def test_the_limit_at_100_mhz_is_the_published_one():
    assert round(NEXT_100, 1) == 41.8


# --- margins


def each(*readings, **more):
    """The readings with their judgement, one link each, all judged in one run."""
    return judged_pairs(*(pair_link(one, label=f"C{number}") for number, one in enumerate(readings)), **more)[2]


def test_margin_is_positive_on_the_good_side_of_floors_and_ceilings():
    # insertion loss at 100 MHz: 18.6 dB in the recalled table; 18.57 dB by the equation
    cases = [
        ("NEXT", NEXT_100 + 2.0, 2.0, "pass"), ("NEXT", NEXT_100 - 0.5, -0.5, "fail"), ("NEXT", NEXT_100, 0.0, "pass"),
        ("insertion loss", 18.0, 0.57, "pass"), ("insertion loss", 19.0, -0.43, "fail"),
    ]  # fmt: skip
    found = each(*(at(parameter, value, 100.0, pair="1-2", end="A") for parameter, value, _, _ in cases))
    assert found["margin"].tolist() == pytest.approx([margin for _, _, margin, _ in cases], abs=0.005)
    assert found["verdict"].tolist() == [verdict for *_, verdict in cases]


def test_float_noise_is_no_margin():
    one = reading(at("NEXT", NEXT_100 - 1e-10, 100.0))
    assert (one.verdict, one.margin) == ("pass", 0.0)


def test_nearer_than_half_of_the_last_digit_is_decided_by_rounding():
    assert "decided by rounding" in reading(at("NEXT", NEXT_100 + 0.004, 100.0)).why


def test_a_frequency_beyond_the_range_is_not_judged_and_decides_nothing():
    one = reading(at("NEXT", 10.0, 600.0))
    assert (one.verdict, one.code, one.counts) == ("not judged", "out-of-range", False)


def test_a_margin_proven_from_above_the_range_may_be_the_least():
    worst = limit("NEXT", grade="6A", configuration="permanent link", frequency_mhz=450.0) + 0.5
    one = reading(at("NEXT", worst, 450.0), declared_limit="TIA Cat 6A Perm. Link", given={"grade": "6"})
    assert (one.verdict, one.code, one.counts) == ("pass", "proven-by-margin", True)
    assert one.margin == pytest.approx(0.5, abs=0.01)  # both grades share the limit of NEXT to 250 MHz


def test_a_floor_read_beyond_the_range_of_the_tester_says_why_it_was_not_judged():
    assert reading(at("NEXT", bound="over range")).code == "over-range-floor"


def test_a_repeated_parameter_without_a_grade_is_not_judged():
    one = reading(at("NEXT", 10.0, 100.0), declared_limit=None)
    assert (one.verdict, one.code) == ("not judged", "no-grade")


def test_a_parameter_of_twisted_pair_on_fiber_has_a_reason_too():
    assert judged_pairs({"label": "F", "type": "OM4", "readings": [at("NEXT", 40.0, 100.0)]})[2].iloc[0].code == (
        "no-sourced-limit"
    )
    assert judged_pairs({"label": "X", "readings": [at("NEXT", 40.0, 100.0)]})[2].iloc[0].code == "no-grade"


# --- bounds: mirrored for floors


def test_bounds_decide_on_their_own_side_alone():
    cases = [
        ("insertion loss", 18.0, "below", "pass"),
        ("insertion loss", 19.0, "below", "not judged"),
        ("insertion loss", 19.0, "above", "fail"),
        ("insertion loss", 18.0, "above", "not judged"),
        ("NEXT", 45.0, "above", "pass"),
        ("NEXT", 40.0, "above", "not judged"),
        ("NEXT", 40.0, "below", "fail"),
        ("NEXT", 45.0, "below", "not judged"),
        ("insertion loss", math.nan, "over range", "fail"),
        ("NEXT", math.nan, "over range", "not judged"),
    ]
    found = each(*(at(parameter, value, 100.0, bound=bound) for parameter, value, bound, _ in cases))
    assert found["verdict"].tolist() == [verdict for *_, verdict in cases]


def test_insertion_loss_below_zero_proves_nothing():
    one = reading(at("insertion loss", -0.5, 100.0))
    assert (one.verdict, one.code) == ("not judged", "negative-loss")


# --- worst points and the loaded limit


def test_a_worst_point_of_the_ordered_limit_is_judged():
    one = reading(at("NEXT", 45.0, 100.0))
    assert (one.verdict, one.basis) == ("pass", "worst point")


def test_where_no_limit_is_named_the_ordered_one_is_taken_and_said():
    one = reading(at("NEXT", 45.0, 100.0), declared_limit=None, given={"grade": "6", "configuration": "permanent link"})
    assert one.verdict == "pass"
    assert "names no limit" in one.why


def test_a_worst_point_of_another_limit_proves_a_fail_where_it_fails():
    one = reading(at("NEXT", 40.0, 100.0), declared_limit="TIA Cat 5e Perm. Link", given={"grade": "6"})
    assert (one.verdict, one.code) == ("fail", "fails-at-its-point")


def test_a_worst_point_of_another_limit_proves_no_pass_by_itself():
    # 5e ends at 100 MHz: nothing is known of 100 to 250 MHz
    one = reading(at("NEXT", 60.0, 100.0), declared_limit="TIA Cat 5e Perm. Link", given={"grade": "6"})
    assert (one.verdict, one.code) == ("not judged", "another-limit")
    assert math.isnan(one.margin)
    assert "TIA 568.2-D 5e permanent link" in one.why


def test_a_worst_point_of_a_stricter_limit_bounds_the_ordered_one():
    # the 6A limit is at least as strict as that of 6 to 250 MHz, so a margin of 3 dB to it is one to 6
    one = reading(at("NEXT", math.nan, 200.0, declared_margin=3.0), declared_limit="TIA Cat 6A Perm. Link",
                  given={"grade": "6"})  # fmt: skip
    assert (one.verdict, one.code) == ("pass", "proven-by-margin")
    assert one.margin >= 3.0


def test_a_margin_to_another_limit_fails_where_no_frequency_could_keep_the_ordered_one():
    one = reading(at("NEXT", math.nan, math.nan, declared_margin=-60.0), declared_limit="TIA Cat 6 Channel",
                  given={"configuration": "permanent link"})  # fmt: skip
    assert one.verdict == "fail"


def test_a_margin_alone_is_judged_against_the_ordered_limit():
    one = reading(at("NEXT", math.nan, math.nan, declared_margin=2.5))
    assert (one.verdict, one.basis, one.margin) == ("pass", "declared margin", 2.5)
    assert math.isnan(one.limit)


def test_a_margin_alone_to_no_named_limit_is_not_judged():
    given = {"grade": "6", "configuration": "permanent link"}
    one = reading(at("NEXT", math.nan, math.nan, declared_margin=2.5), declared_limit=None, given=given)
    assert (one.verdict, one.code) == ("not judged", "margin-unnamed")


@pytest.mark.parametrize("name", ["10GBASE-T", "EN 50173 Class E PL", "Hall limits"])
def test_a_limit_that_is_not_known_here_proves_no_pass(name):
    given = {"grade": "6", "configuration": "permanent link"}
    one = reading(at("NEXT", 60.0, 100.0), declared_limit=name, given=given)
    assert (one.verdict, one.code) == ("not judged", "another-limit")


def test_an_edition_with_the_same_rows_is_the_same_limit():
    one = reading(at("NEXT", 45.0, 100.0), declared_limit="TIA-568-C.2 Cat 6 Perm. Link", given={"edition": "568.2-D"})
    assert (one.verdict, one.basis) == ("pass", "worst point")


# --- a frequency that nobody states


def test_without_a_frequency_only_what_passes_everywhere_passes():
    assert reading(at("NEXT", 66.0)).verdict == "pass"
    one = reading(at("NEXT", 45.0))
    assert (one.verdict, one.code) == ("not judged", "pair-missing-fact")
    assert "frequency" in one.why


def test_without_a_frequency_what_fails_everywhere_fails():
    one = reading(at("NEXT", 20.0))
    assert (one.verdict, one.world) == ("fail", "most generous")


def test_the_margin_of_its_sweep_stands_in_for_a_missing_frequency():
    one = reading(at("NEXT", 45.0), at("NEXT", math.nan, math.nan, declared_margin=2.0))
    assert (one.verdict, one.margin, one.basis) == ("pass", 2.0, "declared margin")


def test_delay_skew_needs_no_frequency():
    # 44 ns for a permanent link (recalled, TIA-568.2-D)
    found = each(at("delay skew", 43.0), at("delay skew", 45.0))
    assert found["verdict"].tolist() == ["pass", "fail"]
    assert found["basis"].tolist() == ["value", "value"]


# --- doubts


def doubtful(value, job=None):
    return reading(at("insertion loss", value, 500.0), declared_limit="TIA Cat 6A Perm. Link", job=job)


def test_a_limit_in_doubt_gives_a_verdict_only_where_its_candidates_agree():
    # 43.75 and 42.07 dB at 500 MHz by candidates a and b
    assert [doubtful(value).verdict for value in (42.0, 43.0, 44.0)] == ["pass", "not judged", "fail"]
    assert doubtful(42.0).limit == pytest.approx(42.07, abs=0.01)
    assert doubtful(44.0).limit == pytest.approx(43.75, abs=0.01)
    one = doubtful(43.0)
    assert (one.code, math.isnan(one.limit), one.limit_id) == ("limit-in-doubt", True, -1)
    assert '[candidates] "6A permanent link insertion loss" = "a"' in one.mend


def test_the_job_settles_a_doubt():
    job = job_of('[candidates]\n"6A permanent link insertion loss" = "a"\n')
    assert doubtful(43.0, job).verdict == "pass"


def test_a_configuration_that_nobody_states_is_judged_both_ways():
    values = 45.0, 40.5, 38.0
    found = [reading(at("NEXT", value, 100.0), declared_limit="TIA Cat 6").verdict for value in values]
    # 39.9 dB for a channel (published), 41.8 dB for a permanent link (recalled)
    assert found == ["pass", "not judged", "fail"]
    assert "configuration" in reading(at("NEXT", 40.5, 100.0), declared_limit="TIA Cat 6").why


# --- exemptions

CAT_6A = {"declared_limit": "TIA Cat 6A Channel"}


def low_loss_return_loss(loss, job=None):
    return reading(at("return loss", 5.0, 100.0, pair="1-2", end="A"), at("insertion loss", loss, 100.0, pair="1-2"),
                   job=job, **CAT_6A)  # fmt: skip


def test_return_loss_at_low_insertion_loss_never_decides():
    one = low_loss_return_loss(2.9)
    assert (one.verdict, one.counts, one.code) == ("fail", False, "exempt")
    assert "return loss at low insertion loss" in one.why


def test_return_loss_at_enough_insertion_loss_decides():
    one = low_loss_return_loss(3.1)
    assert (one.verdict, one.counts) == ("fail", True)


def test_a_switched_off_rule_exempts_nothing():
    job = job_of("[exemptions]\nreturn_loss_at_low_insertion_loss = false\n")
    assert low_loss_return_loss(2.9, job).counts


def test_without_the_partner_a_fail_is_open_and_a_pass_stands():
    one = reading(at("return loss", 5.0, 100.0, pair="1-2", end="A"), **CAT_6A)
    assert (one.verdict, one.code) == ("not judged", "exemption-open")
    assert reading(at("return loss", 25.0, 100.0, pair="1-2", end="A"), **CAT_6A).verdict == "pass"


def test_what_the_export_itself_calls_failed_was_not_taken_out():
    failed = at("return loss", 5.0, 100.0, pair="1-2", end="A", declared_verdict="fail")
    one = reading(failed, **CAT_6A)
    assert (one.verdict, one.code) == ("fail", "not-taken-out")
    # by another limit than the ordered one the export cannot tell
    given = {"grade": "6A", "configuration": "channel"}
    assert reading(failed, declared_limit="TIA Cat 6 Channel", given=given).verdict == "not judged"


def test_insertion_loss_at_another_frequency_bounds_the_partner():
    # transmission-line theory: loss grows with frequency, never faster than in proportion
    loss = at("insertion loss", 20.0, 400.0, pair="1-2")
    one = reading(at("return loss", 5.0, 100.0, pair="1-2", end="A"), loss, **CAT_6A)
    assert (one.verdict, one.counts) == ("fail", True)  # at least 5 dB at 100 MHz
    one = reading(at("return loss", 5.0, 40.0, pair="1-2", end="A"), loss, **CAT_6A)
    assert one.code == "exemption-open"  # 2 to 20 dB at 40 MHz
    low = at("insertion loss", 2.0, 100.0, pair="1-2")
    assert reading(at("return loss", 5.0, 40.0, pair="1-2", end="A"), low, **CAT_6A).code == "exempt"


# --- for information, own limits, accuracy


def test_length_is_shown_and_decides_nothing():
    one = reading(at("length", 95.0))
    assert (one.verdict, one.limit, one.counts, one.code) == ("fail", 90.0, False, "for-information")


def test_an_own_limit_on_length_decides():
    job = job_of('[[limits]]\nname = "Reach"\nsource = "invented brief"\nparameter = "length"\nmax = 80.0\n')
    one = reading(at("length", 85.0), job=job)
    assert (one.verdict, one.limit, one.counts) == ("fail", 80.0, True)


def own_next(least):
    return job_of(f'[[limits]]\nname = "Quiet"\nsource = "invented brief"\nparameter = "NEXT"\nmin = {least}\n')


def test_the_stricter_of_own_and_standard_decides():
    one = reading(at("NEXT", 44.0, 100.0), job=own_next(45.0))
    assert (one.verdict, one.limit) == ("fail", 45.0)
    one = reading(at("NEXT", 44.0, 100.0), job=own_next(30.0))
    assert (one.verdict, one.limit) == ("pass", pytest.approx(NEXT_100))


def test_an_own_limit_is_another_limit_than_the_loaded_one():
    # the point has 10 dB to the loaded limit, so at 250 MHz the sweep has at least the limit there and 10 dB
    bounded = NEXT_250 + 10.0
    assert reading(at("NEXT", NEXT_100 + 10.0, 100.0), job=own_next(bounded - 0.1)).verdict == "pass"
    assert reading(at("NEXT", NEXT_100 + 10.0, 100.0), job=own_next(bounded + 0.1)).verdict == "not judged"


NEXT_250 = limit("NEXT", grade="6", configuration="permanent link", frequency_mhz=250.0)


def test_a_parameter_for_information_counts_where_the_job_requires_it():
    job = job_of('[required]\ntwisted_pair = ["ACR-N"]\n')
    assert not reading(at("ACR-N", 50.0, 100.0)).counts
    assert reading(at("ACR-N", 50.0, 100.0), job=job).counts


def test_the_accuracy_level_makes_near_results_marginal():
    # level IIIe: 2.9 dB for NEXT (order of magnitude, recalled)
    job = job_of('[rules]\naccuracy_level = "IIIe"\n')
    values = NEXT_100 + 5, NEXT_100 + 1, NEXT_100 - 1, NEXT_100 - 5
    found = [reading(at("NEXT", value, 100.0), job=job).verdict for value in values]
    assert found == ["pass", "marginal pass", "marginal fail", "fail"]


def test_without_a_level_nothing_is_marginal():
    assert reading(at("NEXT", NEXT_100 + 0.01, 100.0)).verdict == "pass"


def test_an_accuracy_stated_in_the_record_stands_above_the_level():
    job = job_of('[rules]\naccuracy_level = "IIIe"\n')
    assert reading(at("NEXT", NEXT_100 + 1, 100.0), job=job, accuracy_db=0.5).verdict == "pass"


# --- wire map, category 8, plugs


@pytest.mark.parametrize(("said", "verdict"), [("pass", "pass"), ("fail", "fail"), (None, "not judged")])
def test_a_wire_map_is_as_declared(said, verdict):
    one = reading(at("wire map", declared_verdict=said, decimals=-1))
    assert (one.verdict, one.basis) == (verdict, "declared verdict")


def test_category_8_has_no_limit_that_governs():
    one = reading(at("insertion loss", 5.0, 100.0), declared_limit="TIA Cat 8 Channel")
    assert (one.verdict, one.code) == ("not judged", "no-sourced-limit")


def test_a_plug_ended_link_says_whose_limits_are_used():
    one = reading(at("NEXT", 45.0, 100.0), declared_limit="TIA Cat 6 MPTL")
    assert one.verdict == "pass"
    assert "judged by those of the permanent link" in one.why


@pytest.mark.parametrize(
    ("ends", "configuration"),
    [(("jack", "plug"), "modular plug terminated link"), (("plug", "plug"), "end-to-end link")],
)
def test_plugs_at_the_ends_say_the_configuration_where_nobody_does(ends, configuration):
    row = pair_link(at("NEXT", 45.0, 100.0), declared_limit="TIA Cat 6", end_type_a=ends[0], end_type_b=ends[1])
    one = judged_pairs(row)[0].facts.iloc[0]
    assert (one.configuration, one.configuration_from) == (configuration, "derived")


def test_a_plug_in_the_schedule_and_a_permanent_link_in_the_record_are_told():
    schedule = schedule_of({"label": "C", "configuration": "modular plug terminated link"})
    table = judged_pairs(pair_link(at("NEXT", 45.0, 100.0)), schedule=schedule)[2]
    assert table.iloc[0].verdict == "pass"
    assert "it does not tell whether the plug was in the reading" in table.iloc[0].why


def test_a_printed_limit_that_is_not_ours_is_told():
    row = pair_link(
        at("NEXT", 45.0, 100.0, declared_limit=39.9), at("insertion loss", 10.0, 100.0, declared_limit=18.6)
    )
    seeds = judged_pairs(row)[0].seeds
    assert seeds["code"].tolist() == ["printed-limit-differs"]
    assert seeds["text"].tolist() == ["NEXT: the limit that the export prints is 1.94 dB from ours"]
