"""Findings of whole runs: what is told, of which links, in which order."""

import sys
from pathlib import Path

import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "budget"))

from bench import OL, analysis, ask, finding_of, job_of, om4, schedule_of, told

from analyzer.insights import all_findings, finding, in_order, register
from analyzer.insights.completeness import missing_links

STRANDS = [0.50, 0.52, 0.48, 0.50, 0.50, 1.60]  # median 0.50 dB; 1.60 - 0.50 = 1.10 dB above it


def cable(values, **more):
    return [om4(f"TB-1-{n:02d}", loss={850: value, 1300: 0.4}, **more) for n, value in enumerate(values, start=1)]


# --- schedule against results


def scheduled(*labels, cable="TB-1"):
    return schedule_of(*({"label": label, "cable": cable, "cable_key": cable.casefold()} for label in labels))


def test_a_scheduled_link_without_a_result_is_an_error():
    found = finding_of("missing-link", om4("A"), schedule=scheduled("A", "B", "C"))
    assert (found.severity, found.links) == ("error", ("B", "C"))
    assert found.message == "2 of 3 scheduled links have no result: TB-1 (2)"


def test_missing_links_of_a_schedule_by_label_are_told_by_cable():
    labels = [f"TB-{cable}-{n:02d}" for cable in range(1, 10) for n in (1, 2, 3)]
    table = schedule_of(*({"label": label, "cable": label, "cable_key": label.casefold()} for label in labels))
    run = ask(*(om4(label) for label in labels if label[3] in "123" or label.endswith("1")), schedule=table).run
    (found,) = missing_links(run, whole_schedule=True)
    assert (
        found.message
        == "12 of 27 scheduled links have no result: TB-4 (2), TB-5 (2), TB-6 (2), TB-7 (2), TB-8 (2), TB-9 (2)"
    )
    run = ask(*(om4(label) for label in labels if label != "TB-4-02"), schedule=table).run
    (found,) = missing_links(run, whole_schedule=True)
    assert found.message == "1 of 27 scheduled link has no result: TB-4-02"


def test_files_alone_speak_only_of_cables_that_they_touch():
    other = [{"label": "Z", "cable": "TB-2", "cable_key": "tb-2"}, {"label": "A", "cable": "TB-1", "cable_key": "tb-1"}]
    assert "missing-link" not in told(om4("A"), schedule=schedule_of(*other), whole_schedule=False)
    assert "missing-link" in told(om4("A"), schedule=schedule_of(*other), whole_schedule=True)


def test_a_link_that_is_not_scheduled_is_told():
    assert finding_of("extra-link", om4("A"), om4("Q"), schedule=scheduled("A")).links == ("Q",)


def test_without_a_schedule_nothing_is_extra():
    assert "extra-link" not in told(om4("A"))


def test_a_near_miss_is_told_and_never_joined():
    run = analysis(om4("TB-2O1-14"), schedule=scheduled("TB-201-14"))
    codes = [found.code for found in run.findings]
    assert {"missing-link", "extra-link", "label-near-miss"} <= set(codes)
    assert run.links.scheduled.tolist() == [False]


def test_labels_that_are_far_apart_are_no_near_miss():
    assert "label-near-miss" not in told(om4("Q-77"), schedule=scheduled("TB-201-14"))


@pytest.mark.parametrize("mark", ["-R", "_r2", " (2)", "(2)", " retest", "-RETEST", ".rt1", " repeat"])
def test_a_suffix_is_proposed_as_a_retest_and_not_joined(mark):
    run = analysis(om4("TB-1-01"), om4("TB-1-01" + mark))
    assert "retest-suffix" in [found.code for found in run.findings]
    assert len(run.links) == 2


@pytest.mark.parametrize("other", ["TB-1-011", "TB-1-02", "TB-1-01-02", "TB-1-01X"])
def test_other_labels_are_no_retests(other):
    assert "retest-suffix" not in told(om4("TB-1-01"), om4(other))


def test_a_suffix_without_the_link_itself_is_no_retest():
    assert "retest-suffix" not in told(om4("TB-1-01-R"))


def test_a_range_label_covers_its_strands_by_a_group_value_only():
    schedule = schedule_of(
        *({"label": f"TB-1-{n:02d}", "cable": "TB-1", "cable_key": "tb-1", "strand": n} for n in range(1, 6))
    )
    run = analysis(om4("TB-1-01..04", strands=4), schedule=schedule)
    (group,) = [found for found in run.findings if found.code == "group-value"]
    assert group.message == (
        "1 link speaks for 4 strands with one value each: covered by a group value only (4 scheduled strands)"
    )
    (missing,) = [found for found in run.findings if found.code == "missing-link"]
    assert missing.links == ("TB-1-05",)


# --- sisters


def test_a_strand_that_passes_but_stands_out_is_told():
    found = finding_of("worse-than-sisters", *cable(STRANDS))
    assert found.links == ("TB-1-06",)
    assert found.message == (
        "TB-1-06 passes at 850 nm, but 1.10 dB worse than its sisters (median 0.50 dB of 6 strands)"
    )
    assert found.next_step == "inspect, clean, test again before leaving"


def test_five_strands_are_too_few():
    assert "worse-than-sisters" not in told(*cable(STRANDS[1:]))


def test_the_job_says_how_many_are_enough():
    assert "worse-than-sisters" in told(*cable(STRANDS[1:]), job=job_of("[rules]\nsister_min_strands = 5\n"))


def test_a_strand_that_fails_is_not_told_as_one_that_passes():
    assert "worse-than-sisters" not in told(*cable([*STRANDS[:5], 3.0]))


def test_one_bad_strand_does_not_hide_another():
    # the median absolute deviation stays small: 0.5, 0.52, 0.48, 0.5, 0.51, 0.5, 1.6, 1.7
    found = [
        f.links[0] for f in analysis(*cable([*STRANDS[:5], 0.5, 1.6, 1.7])).findings if f.code == "worse-than-sisters"
    ]
    assert found == ["TB-1-07", "TB-1-08"]


def test_a_wide_spread_is_usual_there():
    # the sixth is 0.35 dB above the median of a cable whose quartiles lie 0.45 dB apart
    assert "worse-than-sisters" not in told(*cable([0.4, 0.5, 0.6, 0.9, 1.0, 1.1]))


def test_a_distance_below_the_least_of_the_job_is_not_told():
    rows = cable([0.5, 0.5, 0.5, 0.5, 0.5, 0.91])
    assert "worse-than-sisters" in told(*rows)
    assert "worse-than-sisters" in told(*rows, job=job_of("[rules]\nsister_min_excess_db = 0.41\n"))
    assert "worse-than-sisters" not in told(*rows, job=job_of("[rules]\nsister_min_excess_db = 0.42\n"))


def test_five_alike_strands_do_not_make_a_sixth_suspect_that_any_cable_may_have():
    # two connections of grade B differ by 0.08 dB as a rule, and six strands are few to tell that these differ by less
    assert "worse-than-sisters" not in told(*cable([0.5, 0.5, 0.5, 0.5, 0.5, 0.71]))


def test_a_strand_tested_twice_is_one_sister():
    rows = [*cable(STRANDS[1:]), om4("TB-1-01", loss={850: 0.60, 1300: 0.4})]
    assert "worse-than-sisters" not in told(*rows)


def test_cables_are_not_compared_with_each_other():
    rows = [om4(f"TB-{n}-01", loss={850: value, 1300: 0.4}) for n, value in enumerate(STRANDS)]
    assert "worse-than-sisters" not in told(*rows)


def test_breaks_are_no_statistics():
    assert "worse-than-sisters" not in told(*cable([*STRANDS[1:], OL]))


# --- what the export says


def test_a_link_that_the_export_passes_and_we_fail_is_told():
    found = finding_of("declared-differs", om4("A", declared_verdict="pass", loss={850: 9.0, 1300: 1.0}))
    assert found.links == ("A",)
    assert found.message == "1 link passes by the export's own verdict and fails by the limits that were ordered"


def test_a_reading_that_the_export_passes_and_we_fail_is_told():
    assert "declared-differs" in told(om4(reading_verdicts={850: "pass"}, loss={850: 9.0, 1300: 1.0}))


def test_a_reading_that_the_export_fails_and_we_pass_is_told_where_another_explains_the_fail():
    row = om4(reading_verdicts={850: "fail"}, loss={850: 1.0, 1300: 9.0})
    assert "a reading that fails by the export's own verdict" in finding_of("declared-differs", row).message


def test_agreement_is_not_told():
    rows = [om4("A", declared_verdict="pass"), om4("B", declared_verdict="fail", loss={850: 9.0, 1300: 9.0})]
    assert "declared-differs" not in told(*rows)


def test_a_declared_fail_that_nothing_explains_is_an_error():
    found = finding_of("declared-fail-unexplained", om4("A", declared_verdict="fail"))
    assert (found.severity, found.links) == ("error", ("A",))


# --- the assumed reference


def test_the_assumed_reference_is_counted_once_with_what_other_methods_would_give():
    # margins: 1.86 - 1.00 = 0.86 (fails only with three-cord: 0.86 < 1.50), 1.86 - 1.42 = 0.44 (0.44 < 0.75: both),
    # 1.86 - 0.10 = 1.76 (neither), 1.86 - 9.00 fails already
    rows = [om4(f"L{n}", reference=None, loss={850: value}) for n, value in enumerate((1.00, 1.42, 0.10, 9.00))]
    found = finding_of("reference-assumed", *rows)
    assert found.message == "4 verdicts assume one-cord: with two-cord 1 of the passes would fail, with three-cord 2"


def test_a_stated_reference_is_not_told():
    assert "reference-assumed" not in told(om4())


def test_verdicts_with_a_stated_reference_are_not_counted():
    assert finding_of("reference-assumed", om4("A"), om4("B", reference=None)).message.startswith("2 verdicts")


# --- seeds, set aside, order


def test_equal_conflicts_are_one_finding_with_a_count():
    rows = [om4(f"L{n}", length_m=100.0 + n // 2) for n in range(4)]
    schedule = schedule_of(*({"label": f"L{n}", "length_m": 200.0} for n in range(4)))
    found = finding_of("fact-differs", *rows, schedule=schedule)
    # links are counted, not the texts that tell of them
    assert found.message == "length: the file says 100.0 m, the schedule 200.0 m; and 3 more of this kind"
    assert found.links == ("L0", "L1", "L2", "L3")


def test_rows_of_the_schedule_set_aside_for_one_cause_are_one_finding():
    seeds = pd.DataFrame(
        {"code": "schedule-set-aside", "record": -1, "text": [f"schedule, row {n}: no label" for n in (3, 4, 9)]}
    )
    (found,) = [f for f in all_findings(analysis(om4()), seeds, whole_schedule=True) if f.code == "schedule-set-aside"]
    assert found.message == "schedule, row 3: no label; and 2 more of this kind"


def test_unconfirmed_values_are_counted():
    # OM4 at 850 and 1300 nm, one mated pair row, one splice row
    assert finding_of("limits-unconfirmed", om4()).message.startswith("4 values")


def test_errors_come_first_then_the_order_of_the_register():
    run = analysis(om4("A", reference=None, declared_verdict="fail"), schedule=scheduled("A", "B"))
    severities = [found.severity for found in run.findings]
    assert severities == sorted(severities, key=["error", "warning", "note"].index)
    codes = list(register())
    places = [(found.severity, codes.index(found.code)) for found in run.findings]
    assert places == sorted(places, key=lambda place: (["error", "warning", "note"].index(place[0]), place[1]))


def test_equal_findings_keep_the_order_in_which_they_came():
    pair = [finding("set-aside", "second"), finding("missing-link", "first"), finding("set-aside", "third")]
    assert [found.message for found in in_order(pair)] == ["first", "second", "third"]


def test_a_code_that_is_not_registered_is_refused():
    with pytest.raises(KeyError):
        finding("no-such-code", "text")


def test_a_verdict_to_another_limit_is_expected_to_differ():
    row = om4("A", declared_verdict="pass", loss={850: 9.0, 1300: 1.0}, printed_limits={850: 9.5})
    assert finding_of("declared-differs", row).message.endswith(
        "it was tested against another limit than the ordered one, so that was to be expected"
    )
