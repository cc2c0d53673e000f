"""The owner's demands as three published specifications state them, ticked off against one job.

Sources (requirements in our words, as gathered; the ids are those of the merged list in closing_rules.csv):
* UFGS 27 10 00 (May 2025), US DoD: every strand, both directions, both wavelengths, one-cord reference, date and time,
  personnel, calibration dates, native format, PDF, test plan, technicians' certificates, tested when terminated.
* Section 27 05 00, Washington State University (2025): every cable, operator, tester, calibration within a year, length,
  failed originals kept in a folder of their own, hand over within three weeks of substantial completion.
* Section 27 13 00, Washington State University: both directions, both wavelengths.
"""

import dataclasses
import datetime as dt
import functools
import shutil

import pytest
from package_scene import make_job, row

from analyzer import analyze
from analyzer.job import parse_job
from analyzer.job.closing import closing_rules
from analyzer.report.package.checklist import MET, NOT_APPLICABLE, NOT_MET, Delivery, checklist
from analyzer.report.package.evidence import attachments_in

SPECIFICATIONS = {
    "UFGS 27 10 00": {
        "every_link_tested": MET, "both_directions": NOT_MET, "both_wavelengths": MET, "one_cord_reference": MET,
        "time_recorded": MET, "operator_recorded": MET, "native_files": NOT_MET, "test_plan": NOT_MET,
        "operator_certificates": NOT_MET, "tested_in_final_state": NOT_MET, "copper_parameters": NOT_APPLICABLE,
    },
    "WSU 27 05 00": {
        "every_link_tested": MET, "operator_recorded": MET, "tester_recorded": MET, "length_recorded": MET,
        "labels_match_schedule": MET,
    },
    "WSU 27 13 00": {"every_link_tested": MET, "both_directions": NOT_MET, "both_wavelengths": MET},
}  # fmt: skip


@functools.cache
def judged(folder):
    """The run of a folder: demands are held against it and change nothing in it."""
    return analyze(folder)


def answers(folder, asks, made=dt.datetime(2026, 11, 20, tzinfo=dt.UTC)):
    import pandas as pd

    text = "".join(f"[closeout.{rule}]\n{body}\n" for rule, body in asks.items())
    job = parse_job(text.encode(), "job.toml").lying_in(folder)
    analysis = dataclasses.replace(judged(folder), job=job)
    kinds = [path.parent.name for path in attachments_in(folder)]
    delivery = Delivery(analysis, pd.DataFrame({"kind": kinds}, dtype="str"), made, page_per_link=False)
    return {answer.rule: answer for answer in checklist(delivery)}


@pytest.mark.parametrize("specification", SPECIFICATIONS)
def test_demands_of_published_specifications(job_folder, specification):
    wanted = SPECIFICATIONS[specification]
    told = answers(job_folder, dict.fromkeys(wanted, 'says = "As the specification asks."'))
    assert {rule: answer.status for rule, answer in told.items()} == wanted
    assert all(answer.why for answer in told.values())


def test_calibration_within_a_year(job_folder):
    # WSU 27 05 00: yearly; tested 2026-11-02, calibrated 2026-03-01: 246 days
    for days, status in ((365, MET), (246, NOT_MET), (247, MET)):
        told = answers(job_folder, {"calibration_current": f'says = "Yearly."\ndays = {days}'})
        assert told["calibration_current"].status == status, days


def test_a_calibration_that_only_the_job_states_counts(job_folder):
    import pandas as pd

    text = '[closeout.calibration_current]\nsays = "Yearly."\ndays = 365\n[[instruments]]\ntester = "T-1"\ncalibrated_on = 2026-03-01\n'
    for instruments, status in ((text, MET), (text.partition("[[")[0], NOT_MET)):
        analysis = analyze(job_folder)
        analysis.records["calibrated_on"] = pd.NaT
        analysis.records["tester"] = "T-1"
        analysis = dataclasses.replace(analysis, job=parse_job(instruments.encode(), "job.toml"))
        made = dt.datetime(2026, 11, 20, tzinfo=dt.UTC)
        (answer,) = checklist(Delivery(analysis, pd.DataFrame({"kind": []}, dtype="str"), made, page_per_link=False))
        assert answer.status == status


def test_notice_and_approval_count_from_the_first_test(job_folder):
    # tested 2026-11-02
    for date, days, status in (("2026-10-19", 14, MET), ("2026-10-20", 14, NOT_MET)):
        told = answers(job_folder, {"notice_given": f'says = "Two weeks."\ndays = {days}\ndate = {date}'})
        assert told["notice_given"].status == status, date
    for date, status in (("2026-11-02", MET), ("2026-11-03", NOT_MET)):
        told = answers(job_folder, {"plan_approved": f'says = "Plan first."\ndate = {date}'})
        assert told["plan_approved"].status == status, date


def test_plain_text_is_refused_where_the_owner_refuses_it(job_folder, tmp_path):
    ask = {"no_plain_text": 'says = "No text files."'}
    assert answers(job_folder, ask)["no_plain_text"].status == MET
    copy = shutil.copytree(job_folder, tmp_path / "job")
    export = next((copy / "evidence").glob("*.csv"))
    export.rename(export.with_suffix(".txt"))
    told = answers(copy, ask)["no_plain_text"]
    assert told.status == NOT_MET
    assert ".txt" in told.why


def test_alien_crosstalk_needs_the_share_of_the_sample(job_folder):
    told = answers(job_folder, {"alien_crosstalk_sample": 'says = "Ten percent."'})["alien_crosstalk_sample"]
    assert told.status == NOT_MET
    assert "sampling.alien_crosstalk" in told.why


def test_deadline_of_three_weeks(job_folder):
    # WSU 27 05 00: within three weeks of substantial completion
    ask = {"deadline": 'says = "Three weeks."\ndays = 21\ndate = 2026-11-01'}
    assert answers(job_folder, ask, dt.datetime(2026, 11, 22, 23, tzinfo=dt.UTC))["deadline"].status == MET
    late = answers(job_folder, ask, dt.datetime(2026, 11, 23, tzinfo=dt.UTC))["deadline"]
    assert late.status == NOT_MET
    assert "2026-11-22" in late.why


def test_marginal_passes_must_be_treated_as_the_owner_asks(job_folder):
    for fate, status in (("list apart", MET), ("fail", NOT_MET)):
        told = answers(job_folder, {"marginal_passes": f'says = "Marginal."\nfate = "{fate}"'})
        assert told["marginal_passes"].status == status


def test_a_silent_record_is_named(tmp_path):
    folder = make_job(tmp_path / "job")
    path = folder / "evidence" / "trunk.csv"
    path.write_text(path.read_text().replace(row(3, 0.33, 0.28), row(3, 0.33, 0.28).replace("A. Invented", "")))
    told = answers(folder, {"operator_recorded": 'says = "Name."'})["operator_recorded"]
    assert (told.status, told.why) == (NOT_MET, "no operator: 1 link (HX-01-03)")


def test_a_file_ticks_as_present_and_not_as_checked(job_folder):
    told = answers(job_folder, {"calibration_certificates": 'says = "Supply."'})["calibration_certificates"]
    assert told.status == MET
    assert "not checked" in told.why


def test_every_rule_that_looks_at_results_has_its_check():
    from analyzer.report.package.checklist import _CHECKS

    wanted = {rule.rule for rule in closing_rules().values() if rule.looks_at in {"results", "package"}}
    assert set(_CHECKS) == wanted


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("[closeout.deadline]\nsays = 'x'\n", "days is missing"),
        ("[closeout.failed_records]\nsays = 'x'\nfate = 'burn'\n", "accepted: keep, keep apart, leave out"),
        ("[closeout.nothing]\nsays = 'x'\n", "no rule of the closeout package"),
        ("[closeout.traces]\n", "closeout.traces.says is missing"),
    ],
)
def test_a_demand_that_cannot_be_met_is_refused(body, said):
    from analyzer.errors import JobError

    with pytest.raises(JobError) as error:
        parse_job(body.encode(), "job.toml")
    assert said in str(error.value)
