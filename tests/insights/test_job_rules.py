"""Rules of the job: labels, dates, people, testers, limits; and what a link lacks."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from crew import analysis, codes, job_of, joined, om4, schedule_of, strands

from analyzer import analyze
from analyzer.budget.scheduled import ScheduleIndex
from analyzer.importing import strand_aliases
from analyzer.insights import coverage, dates, labels, limits_used, people
from analyzer.insights.joined import Joined


def of_job(text, rows=None, **more):
    return joined(rows or strands(count=4), job=job_of(text), **more)


# --- labels


def test_no_place_is_no_place():
    rows = strands(count=4)
    for row, ends in zip(rows, [("-", "-"), ("NaN", "NaN"), ("MDF 1", "mdf-1"), ("MDF 1", "tbd")], strict=True):
        row["place_a"], row["place_b"] = ends
    (found,) = labels.places_against_schedule(joined(rows))
    assert found.links == ("TB-101-03",)
    assert found.message == "1 link with one place for both ends"


def pairs(tested, scheduled):
    return [(tested[p.tested], scheduled[p.scheduled]) for p in labels.best_pairs(tested, scheduled)]


def test_labels_are_paired_as_a_whole_and_not_one_after_the_other():
    from rapidfuzz import fuzz

    tested, scheduled = ["TB-201-14", "TB-201-1"], ["TB-201-144", "TB-2011-4"]
    # the likest pair of all is the first with the first; taken alone it leaves the other two too unlike to be told
    assert fuzz.ratio(tested[0], scheduled[0]) > fuzz.ratio(tested[0], scheduled[1])
    assert fuzz.ratio(tested[1], scheduled[1]) < labels.NEAR_ENOUGH
    assert sorted(pairs(tested, scheduled)) == [("TB-201-1", "TB-201-144"), ("TB-201-14", "TB-2011-4")]


def test_the_pairing_has_the_most_likeness_of_all_pairings():
    from itertools import permutations

    from rapidfuzz import fuzz

    tested = ["TB-201-11", "TB-2O1-12", "TB-201-1l", "TB-20112"]
    scheduled = ["TB-201-12", "TB-201-13", "TB-201-17", "TB-301-12"]
    scores = {(i, j): fuzz.ratio(tested[i], scheduled[j]) for i in range(4) for j in range(4)}
    best = max(
        sum(1000 + scores[i, j] for i, j in enumerate(order) if scores[i, j] >= labels.NEAR_ENOUGH)
        for order in permutations(range(4))
    )
    assert sum(1000 + pair.score for pair in labels.best_pairs(tested, scheduled)) == pytest.approx(best)


@pytest.mark.parametrize(
    ("tested", "scheduled"),
    [
        ("TB-2O1-14", "TB-201-14"),  # a letter for a digit
        ("TB201/14", "TB-201-14"),  # other signs
        ("TB-201-4", "TB-201-04"),  # a zero that a spreadsheet took away
        ("TB-2O1-l4", "TB-201-14"),
        ("TB-210-14", "TB-201-14"),  # exchanged digits
        ("MDF-A-TB-201-114", "MDF-A-TB-201-14"),
    ],
)
def test_usual_slips_are_near_misses(tested, scheduled):
    assert pairs([tested, "unlike"], [scheduled, "QQ-777"]) == [(tested, scheduled)]


def test_other_labels_are_none():
    assert labels.best_pairs(["Q-77", ""], ["TB-201-14", "Q-X"]) == []


def test_a_link_is_found_by_the_label_of_one_end():
    table = schedule_of({"label": "TB-1-01", "label_a": "H1-P01", "label_b": "R01-P1"}).table
    schedule = ScheduleIndex(table, strand_aliases(table))
    run = analysis(om4("r01-p1"), schedule=schedule)
    assert run.links["label"].tolist() == ["TB-1-01"]
    assert "label-of-one-end" in [found.code for found in run.findings]
    assert "missing-link" not in [found.code for found in run.findings]


def test_a_label_that_stands_at_several_ends_names_no_link():
    rows = [{"label": f"TB-1-0{n}", "label_a": "H1-P01"} for n in (1, 2)]
    table = schedule_of(*rows).table
    assert strand_aliases(table).get("h1-p01", -1) == -1


def test_labels_against_the_pattern():
    job = of_job("[labels]\npattern = 'TB-[0-9]{3}-[0-9]{2}'\n", [*strands(count=3), om4("spare 1"), om4("TB-101-04b")])
    (found,) = labels.against_pattern(job)
    assert found.links == ("spare 1", "TB-101-04b")


# --- places


def places(a="Hub 1", b="Room 7", scheduled=("hub-1", "ROOM 7")):
    table = schedule_of({"label": "A", "place_a": scheduled[0], "place_b": scheduled[1]})
    return labels.places_against_schedule(joined([om4("A", place_a=a, place_b=b)], schedule=table))


def test_places_as_scheduled_whatever_the_signs_and_the_end():
    assert places() == []
    assert places("Room 7", "Hub 1") == []
    assert places(None, "Room 7") == []


def test_another_place_and_one_place_for_both_ends():
    (found,) = places(b="Room 9")
    assert "A: Hub 1 to Room 9, scheduled hub-1 to ROOM 7" in found.message
    assert "one place for both ends" in places(b="hub 1")[0].message


# --- dates


def test_tests_outside_the_days_of_the_job():
    rows = strands(count=4)
    job = of_job("[dates]\ninstalled = 2026-09-15\nhandover = 2026-09-20\n", rows)
    (found,) = dates.outside_the_job(job)
    assert (found.code, len(found.links)) == ("test-before-install", 4)
    rows[1]["tested_at"] = np.datetime64("2026-09-21T08:00:00")
    assert codes(dates.outside_the_job(of_job("[dates]\nhandover = 2026-09-20\n", rows))) == ["test-after-handover"]


def test_day_and_month_exchanged_is_said():
    rows = strands(count=12, tested_at=[np.datetime64(f"2026-{n + 1:02d}-10T08:00:00") for n in range(12)])
    (found, *_) = dates.outside_the_job(of_job("[dates]\ninstalled = 2026-10-01\nhandover = 2026-10-31\n", rows))
    assert "with day and month exchanged" in found.message


def test_a_test_before_a_repair_of_the_same_link():
    text = '[[repairs]]\nlinks = ["TB-101-0[12]"]\ndate = 2026-10-01\nnote = "spliced again"\n'
    rows = strands(count=4)
    (found,) = dates.before_repair(of_job(text, rows))
    assert found.links == ("TB-101-01", "TB-101-02")
    again = rows[0] | {"tested_at": np.datetime64("2026-10-02T09:00:00")}
    (found,) = dates.before_repair(of_job(text, [*rows, again]))
    assert found.links == ("TB-101-02",)


def test_a_touched_link_whose_test_bears_no_date_and_one_that_was_not_tested():
    text = '[[repairs]]\nlinks = ["TB-101-01", "TB-999-*"]\ndate = 2026-09-01\n'
    rows = strands(count=4)
    assert dates.before_repair(of_job(text, rows)) == []
    rows[0]["tested_at"] = None
    (found,) = dates.before_repair(of_job(text, rows))
    assert "tested without a date" in found.message
    (found,) = dates.before_repair(of_job(text, rows[2:]))
    assert "no link was tested" in found.message


def test_a_tester_whose_calibration_nothing_states():
    rows = strands(count=4, calibrated_on=np.datetime64("2026-03-02"))
    assert dates.calibration_unknown(of_job("", rows)) == []
    rows[1] |= {"calibrated_on": None, "tester": "T-2"}
    (found,) = dates.calibration_unknown(of_job("", rows))
    assert found.links == ("TB-101-02",)
    listed = '[[instruments]]\ntester = "t-2"\ncalibrated_on = 2026-03-02\n'
    assert dates.calibration_unknown(of_job(listed, rows)) == []


def test_where_nobody_speaks_of_calibration_nothing_is_asked():
    assert dates.calibration_unknown(of_job("", strands(count=4))) == []


def test_a_certificate_that_ended_before_the_test():
    text = '[people]\ncertified_until = {{"ada  Invented" = {day}}}\n'
    assert people.certificate_lapsed(of_job(text.format(day="2026-09-14"), strands(count=2))) == []
    (found,) = people.certificate_lapsed(of_job(text.format(day="2026-09-13"), strands(count=2)))
    assert found.code == "certificate-lapsed"


def test_a_record_without_an_operator_is_told_where_there_is_a_list():
    rows = strands(count=3)
    rows[1]["operator"] = None
    assert people.not_on_the_list(of_job("", rows)) == []
    (found,) = people.not_on_the_list(of_job('[people]\noperators = ["Ada Invented"]\n', rows))
    assert found.message == "1 link tested without naming an operator, though the job has a list"


def test_calibration_of_the_record():
    rows = strands(count=4, calibrated_on=np.datetime64("2025-09-10"))
    (found,) = dates.calibration(of_job("", rows))
    assert (found.code, len(found.links)) == ("calibration-lapsed", 4)
    assert "up to 369 days before the test" in found.message  # 2025-09-10 to 2026-09-14
    assert dates.calibration(of_job("", strands(count=4, calibrated_on=np.datetime64("2025-09-20")))) == []


def test_calibration_of_the_job_and_its_own_period():
    once = '[[instruments]]\ntester = "t-1"\ncalibrated_on = 2026-01-10\nvalid_days = 180\n'
    assert codes(dates.calibration(of_job(once))) == ["calibration-lapsed"]
    assert dates.calibration(of_job(once + '[[instruments]]\ntester = "T-1"\ncalibrated_on = 2026-08-01\n')) == []


def test_a_test_older_than_its_calibration():
    rows = strands(count=2, calibrated_on=np.datetime64("2026-09-20"))
    assert codes(dates.calibration(of_job("", rows))) == ["tested-before-calibration"]


def test_day_numbers_are_those_of_the_calendar():
    assert dates._day_number(dt.date(2026, 11, 25)) == np.datetime64("2026-11-25", "D").astype(int)


# --- people and limits


def test_operators_and_testers_of_the_list():
    text = '[people]\noperators = ["ada  invented"]\n[[instruments]]\ntester = "T-1"\n'
    assert people.not_on_the_list(of_job(text)) == []
    rows = [*strands(count=3), strands(count=4, operator="Dan", tester="T-9")[3]]
    found = people.not_on_the_list(of_job(text, rows))
    assert codes(found) == ["operator-not-listed", "tester-not-listed"]
    assert {item.links for item in found} == {("TB-101-04",)}


def test_without_a_list_everybody_may_test():
    assert people.not_on_the_list(of_job("")) == []


def test_two_limits_in_one_cable():
    names = ["Backbone A"] * 5 + ["Application C"]
    (found,) = limits_used.limits_mixed(of_job("", strands(count=6, declared_limit=names)))
    assert found.links == ("TB-101-06",)
    assert limits_used.limits_mixed(of_job("", strands(count=6, declared_limit="Backbone  A"))) == []


# --- coverage


def test_what_is_required_is_folded_for_each_cable():
    rows = strands(count=6) + strands("TB-102", count=6)
    for row in rows[2:4] + rows[8:9]:
        row["loss"] = {key: value for key, value in row["loss"].items() if key[0] == 850}
    found = coverage.tests_missing(joined(rows))
    assert [item.message for item in found] == [
        "TB-101: 1300 nm on 2 links missing, of 6 links tested",
        "TB-102: 1300 nm on 1 link missing, of 6 links tested",
    ]


def test_what_is_missing_everywhere_is_one_finding():
    rows = [row for n in range(14) for row in strands(f"TB-1{n + 10}", count=2)]
    for row in rows:
        row["loss"] = {key: value for key, value in row["loss"].items() if key[0] == 850}
    (found,) = coverage.tests_missing(joined(rows))
    assert found.message.startswith("1300 nm missing on 28 links of 14 cables")


def test_a_direction_that_the_sisters_have():
    rows = strands(count=8)
    del rows[3]["loss"][850, "B-A"]
    (found,) = coverage.unlike_sisters(joined(rows))
    assert found.message == "TB-101: 1 link of 8 without loss at 850 nm B-A, which the others have"
    assert coverage.unlike_sisters(joined(strands(count=8))) == []


def test_the_worst_of_all_pairs_is_no_test_of_one_pair(tmp_path):
    lines = ["Outlet,Category,Configuration,Length (m),Worst return loss (dB),Pair,MHz"]
    lines += [f"W01-0{n},6A,permanent link,{40 + n},14.{n},{'36' if n == 3 else '12'},200" for n in range(1, 9)]
    (tmp_path / "outlets.csv").write_text("\n".join(lines))
    run = analyze([tmp_path / "outlets.csv"])
    assert run.readings.loc[run.readings["parameter"] == "return loss", "worst"].all()
    run.links["missing"] = None  # what is required is told elsewhere
    assert coverage.unlike_sisters(Joined(run)) == []


def test_strand_numbers_that_are_missing_without_a_schedule():
    rows = strands(count=12)
    del rows[4:6]
    (found,) = coverage.strand_gaps(joined(rows))
    assert found.message == "TB-101: strand 5, 6 stand between tested ones and have no result"
    assert coverage.strand_gaps(joined(strands(count=12))) == []
