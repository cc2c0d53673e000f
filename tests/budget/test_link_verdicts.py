"""Verdicts of links: fail before incomplete before marginal before pass, and what a link must have.

OM4, 120 m, 2 pairs, one-cord: 3.0 × 0.120 + 2 × 0.75 = 1.86 dB at 850 nm; 1.5 × 0.120 + 1.50 = 1.68 dB at 1300 nm.
"""

import numpy as np
import pytest
from bench import OL, job_of, judged, link, om4, schedule_of

ACCURATE = "[rules]\naccuracy_db = 0.1\n"


def os2(**more):
    return om4(type="OS2", construction="outside plant", **({"loss": {1310: 1.0, 1550: 1.0}} | more))


# --- the four verdicts


def test_all_pass():
    one = link(om4(loss={850: 1.42, 1300: 1.0}))
    assert (one.verdict, one.missing, one.attempts) == ("pass", "", 1)
    assert one.margin_db == pytest.approx(0.44)  # 1.86 - 1.42
    assert one.sentence == "pass: least margin 0.44 dB at 850 nm"


def test_the_worst_reading_decides_a_fail():
    one = link(om4(loss={850: 1.90, 1300: 2.00}))
    assert (one.verdict, one.decided_by) == ("fail", 1)
    assert one.margin_db == pytest.approx(-0.32)  # 1.68 - 2.00
    assert one.sentence == "fail: loss at 1300 nm 2.00 dB, 0.32 dB over the 1.68 dB allowed"


def test_a_break_decides_before_every_number():
    one = link(om4(loss={850: 9.0, 1300: OL}))
    assert (one.verdict, one.decided_by) == ("fail", 1)
    assert np.isnan(one.margin_db)
    assert one.sentence == "fail: loss at 1300 nm beyond the range of the tester"


def test_a_marginal_fail_is_a_fail():
    one = link(om4(loss={850: 1.90, 1300: 1.0}), job=job_of(ACCURATE))
    assert one.verdict == "fail"
    assert one.sentence.endswith("0.04 dB over the 1.86 dB allowed, within uncertainty")


def test_a_sure_fail_decides_before_a_marginal_one():
    one = link(om4(loss={850: 1.90, 1300: 1.90}), job=job_of(ACCURATE))  # -0.04 and -0.22 dB
    assert one.decided_by == 1


def test_a_fail_is_a_fail_though_something_is_missing():
    assert link(om4(loss={850: 9.0})).verdict == "fail"


def test_a_marginal_pass_is_listed_apart():
    one = link(om4(loss={850: 1.80, 1300: 1.0}), job=job_of(ACCURATE))
    assert (one.verdict, one.sentence) == (
        "marginal",
        "marginal: passes within uncertainty, least margin 0.06 dB at 850 nm",
    )


def test_a_marginal_pass_is_accepted_where_the_owner_says_so():
    assert link(om4(loss={850: 1.80, 1300: 1.0}), job=job_of(ACCURATE + 'marginal = "accept"\n')).verdict == "pass"


def test_a_marginal_pass_fails_where_the_owner_says_so():
    one = link(om4(loss={850: 1.80, 1300: 1.0}), job=job_of(ACCURATE + 'marginal = "fail"\n'))
    assert one.verdict == "fail"
    assert one.sentence == (
        "fail: passes only within uncertainty, which the job counts as a fail, least margin 0.06 dB at 850 nm"
    )


def test_incomplete_goes_before_marginal():
    assert link(om4(loss={850: 1.80}), job=job_of(ACCURATE)).verdict == "incomplete"


def test_an_incomplete_link_states_its_measured_part():
    one = link(om4(loss={850: 1.0}))
    assert one.sentence == "incomplete: all that was judged passes, least margin 0.86 dB at 850 nm; missing: 1300 nm"


def test_a_record_without_readings_is_incomplete():
    one = link(om4(loss={}))
    assert (one.verdict, one.sentence) == (
        "incomplete",
        "incomplete: nothing could be judged; missing: 850 nm; 1300 nm",
    )


def test_an_excess_too_small_to_print_is_not_called_nothing():
    assert "less than 0.01 dB over" in link(om4(loss={850: 1.862, 1300: 1.0})).sentence


# --- what is required


def test_both_standard_wavelengths_and_a_length():
    cases = [
        (om4(loss={850: 1.0}), "1300 nm"),
        (om4(loss={1310: 1.0}), "850 nm"),
        (om4(loss={1550: 1.0}), "850 nm; 1300 nm"),
        (os2(loss={1310: 1.0}), "1550 nm"),
        (os2(loss={1550: 1.0, 1625: 1.0}), "1310 nm"),
        (os2(loss={1310: 1.0, 1550: 1.0, 1625: 9.0}), ""),
        (om4(type="OS1", loss={1310: 1.0, 1550: 1.0}), "1310 nm could not be judged; 1550 nm could not be judged"),
        (om4(loss={850: -1.0, 1300: 1.0}), "850 nm could not be judged"),
        (om4(length_m=None), "length"),
    ]
    rows = [row | {"label": f"L{number}"} for number, (row, _) in enumerate(cases)]
    assert judged(*rows)[1].links["missing"].tolist() == [missing for _, missing in cases]


def test_the_job_may_ask_for_less():
    assert link(om4(loss={850: 1.0}), job=job_of("[required]\nmultimode = [850]\n")).verdict == "pass"
    assert link(om4(length_m=None), job=job_of("[required]\nlength = false\n")).verdict == "pass"


def test_the_job_may_ask_for_more():
    job = job_of("[required]\nsingle_mode = [1310, 1550, 1625]\n")
    assert link(os2(), job=job).missing == "1625 nm"


def test_horizontal_needs_one_wavelength():
    assert link(om4(segment="horizontal", loss={850: 1.0})).verdict == "pass"
    assert link(om4(segment="horizontal", loss={1300: 1.0})).verdict == "pass"
    assert link(om4(segment="horizontal", loss={})).missing == "850 or 1300 nm"


def test_horizontal_needs_a_standard_wavelength():
    job = job_of('[[limits]]\nname = "n"\nsource = "s"\nmax_db = 2.0\n')
    assert link(os2(segment="horizontal", loss={1625: 1.0}), job=job).missing == "1310 or 1550 nm"


def test_horizontal_needs_the_list_that_the_owner_stated():
    job = job_of("[required]\nmultimode = [850, 1300]\n")
    assert link(om4(segment="horizontal", loss={850: 1.0}), job=job).missing == "1300 nm"


def test_backbone_needs_both():
    assert link(om4(segment="backbone", loss={850: 1.0})).missing == "1300 nm"


TWO = "[required]\ndirections = 2\n"
BOTH = {(wave, way): 1.0 for wave in (850, 1300) for way in ("A-B", "B-A")}


def test_two_directions_where_the_job_asks_for_them():
    assert link(om4(loss=BOTH), job=job_of(TWO)).verdict == "pass"
    one_way = {(850, "A-B"): 1.0, (850, "B-A"): 1.0, (1300, "A-B"): 1.0}
    assert link(om4(loss=one_way), job=job_of(TWO)).missing == "1300 nm in the other direction"


def test_a_direction_that_is_not_stated_is_none_of_its_own():
    loss = {(850, "A-B"): 1.0, 850: 1.0, (1300, "A-B"): 1.0, (1300, "B-A"): 1.0}
    assert link(om4(loss=loss), job=job_of(TWO)).missing == "850 nm in the other direction"


def test_one_direction_is_enough_otherwise():
    assert link(om4(loss={(850, "B-A"): 1.0, (1300, "A-B"): 1.0})).verdict == "pass"


def test_glass_that_nothing_tells_leaves_the_second_wavelength_open():
    # 1310 nm alone is 1300 nm of multimode or 1310 nm of single-mode
    one = link({"label": "A", "length_m": 10.0, "mated_pairs": 2, "splices": 0, "loss": {1310: 0.5}})
    assert (one.verdict, one.missing) == ("incomplete", "second wavelength, which one depends on the fiber type")


def test_glass_that_nothing_tells_is_enough_where_only_that_window_is_asked_for():
    job = job_of("[required]\nmultimode = [1300]\nsingle_mode = [1310]\n")
    assert link(
        {"label": "A", "length_m": 10.0, "mated_pairs": 2, "splices": 0, "loss": {1310: 0.5}}, job=job
    ).verdict == ("pass")


# --- a reading that could not be judged leaves the link undecided, required or not


def test_one_of_two_directions_that_hinges_on_a_missing_fact():
    row = om4(mated_pairs=None, loss={(850, "A-B"): 1.0, (850, "B-A"): 2.0, 1300: 1.0})  # limits 1.86 to 3.36 dB
    one = link(row)
    assert (one.verdict, one.missing) == ("incomplete", "one reading at 850 nm could not be judged")


def test_a_wavelength_that_is_not_required_and_hinges_on_a_missing_fact():
    job = job_of("[required]\nmultimode = [850]\n")
    one = link(om4(mated_pairs=None, loss={850: 1.0, 1300: 2.0}), job=job)
    assert (one.verdict, one.missing) == ("incomplete", "1300 nm could not be judged")


def test_a_horizontal_link_with_a_second_wavelength_that_could_not_be_judged():
    one = link(om4(segment="horizontal", mated_pairs=None, loss={850: 1.0, 1300: 2.0}))
    assert (one.verdict, one.missing) == ("incomplete", "1300 nm could not be judged")


def test_a_loss_without_a_wavelength_leaves_the_link_undecided():
    one = link(om4(loss={850: 1.0, 1300: 1.0, -1: 1.0}))
    assert (one.verdict, one.missing) == ("incomplete", "a loss without a wavelength could not be judged")


# --- directions and their mean

MEAN = "[rules]\njudge_mean = true\n"


def test_each_direction_is_judged():
    assert link(om4(loss={(850, "A-B"): 1.90, (850, "B-A"): 1.0, 1300: 1.0})).verdict == "fail"


def test_the_mean_decides_only_where_the_job_says_so():
    one = link(om4(loss={(850, "A-B"): 1.90, (850, "B-A"): 1.0, 1300: 1.0}), job=job_of(MEAN))
    assert one.verdict == "pass"
    assert one.margin_db == pytest.approx(0.41)  # 1.86 - (1.90 + 1.00) / 2
    assert one.sentence == "pass: least margin 0.41 dB at the mean of both directions at 850 nm"


def test_the_mean_may_fail():
    one = link(om4(loss={(850, "A-B"): 2.90, (850, "B-A"): 1.0, 1300: 1.0}), job=job_of(MEAN))
    assert one.verdict == "fail"
    # (2.90 + 1.00) / 2 = 1.95; 1.95 - 1.86 = 0.09
    assert one.sentence == ("fail: mean loss of both directions at 850 nm 1.95 dB, 0.09 dB over the 1.86 dB allowed")


def test_there_is_no_mean_of_one_direction():
    assert link(om4(loss={(850, "A-B"): 1.90, 1300: 1.0}), job=job_of(MEAN)).verdict == "fail"


def test_a_break_in_one_direction_has_no_mean():
    assert link(om4(loss={(850, "A-B"): OL, (850, "B-A"): 1.0, 1300: 1.0}), job=job_of(MEAN)).verdict == "fail"


# --- what the export declares


def test_a_link_declared_failed_never_passes():
    one = link(om4(declared_verdict="fail"))
    assert (one.verdict, one.missing) == ("incomplete", "declared failed, no reading explains it")


def test_a_reading_declared_failed_never_lets_the_link_pass():
    assert link(om4(reading_verdicts={850: "fail"})).verdict == "incomplete"


def test_a_failing_reading_explains_the_declared_fail():
    one = link(om4(declared_verdict="fail", loss={850: 9.0, 1300: 1.0}))
    assert (one.verdict, one.missing) == ("fail", "")


def test_a_link_declared_passed_may_fail():
    assert link(om4(declared_verdict="pass", loss={850: 9.0, 1300: 1.0})).verdict == "fail"


def test_a_declared_fail_that_is_superseded_does_not_count():
    rows = [
        om4(tested_at="2026-03-01 10:00", declared_verdict="fail", loss={850: 9.0, 1300: 1.0}),
        om4(tested_at="2026-03-01 11:00", declared_verdict="pass"),
    ]
    assert link(*rows).verdict == "pass"


def test_a_superseded_reading_explains_the_declared_fail_of_its_record():
    rows = [
        om4(tested_at="2026-03-01 10:00", declared_verdict="fail", loss={850: 9.0, 1300: 1.0}),
        om4(tested_at="2026-03-01 11:00", loss={850: 1.0}),
    ]
    assert link(*rows).verdict == "pass"


def test_a_retest_of_another_wavelength_does_not_explain_it():
    rows = [
        om4(tested_at="2026-03-01 10:00", declared_verdict="fail"),
        om4(tested_at="2026-03-01 11:00", loss={850: 1.0}),
    ]
    assert link(*rows).verdict == "incomplete"


def test_a_declared_fail_without_any_reading_counts():
    assert link(om4(loss={}, declared_verdict="fail"), om4()).verdict == "incomplete"


# --- the table


def test_links_stand_in_the_order_of_first_appearance():
    rows = [om4("B"), om4("A"), om4("B", loss={850: 1.0})]
    assert judged(*rows)[1].links.label.tolist() == ["B", "A"]
    assert judged(*rows)[1].link_of_record.tolist() == [0, 1, 0]


def test_records_without_identity_are_links_of_their_own():
    rows = [om4("", key=None), om4("", key=None)]
    assert judged(*rows)[1].link_of_record.tolist() == [0, 1]


def test_schedule_supplies_places_cable_and_identity():
    schedule = schedule_of({"label": "A", "cable": "TB-1", "place_a": "Hall", "place_b": "Plant room", "area": "North"})
    one = link(om4(), schedule=schedule)
    assert (one.cable, one.place_a, one.place_b, one.area, one.scheduled) == (
        "TB-1",
        "Hall",
        "Plant room",
        "North",
        True,
    )


def test_nothing_at_all_gives_empty_tables():
    verdicts, linked, readings = judged()
    assert (len(verdicts.facts), len(linked.links), len(readings)) == (0, 0, 0)
