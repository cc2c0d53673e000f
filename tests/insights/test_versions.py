"""Versions of testers and names of projects, kind by kind; every case beside one that is quiet."""

import pytest
from crew import analysis, job_of, joined, strands

from analyzer import analyze
from analyzer.insights import versions
from analyzer.insights.joined import Joined


def of_job(text, rows):
    return joined(rows, job=job_of(text))


def test_the_same_version_in_other_words_is_not_mixed():
    said = ["5.1", "v5.1.0", "5.1 ", "Version 5.1"]
    assert versions.versions_mixed(joined(strands(count=4, software_version=said))) == []
    assert versions.versions_mixed(joined(strands(count=4))) == []


def test_two_versions_are_told_with_their_testers():
    rows = strands(
        count=5, software_version=["5.1", "5.1", "5.10", "5.1", "5.1"], tester=["T-1", "T-1", "T-2", "T-1", "T-1"]
    )
    (found,) = versions.versions_mixed(joined(rows))
    assert found.message == "testers of fiber: 1 link with software 5.10 (T-2), 4 with 5.1 (T-1)"
    assert found.links == ("TB-101-03",)
    assert found.evidence[0].what == "TB-101-03: software 5.10"


def test_software_firmware_and_limit_tables_are_not_compared_with_each_other():
    rows = strands(count=2, software_version=["5.1", None], firmware_version=[None, "2.0"], limit_table_version="7")
    assert versions.versions_mixed(joined(rows)) == []


def test_a_reflectometer_is_another_kind_than_the_set_that_measures_loss(tmp_path):
    (tmp_path / "loss.csv").write_text(
        "Label,Fiber type,Software version,Loss 850 A-B (dB)\nTB-1-01,OM4,5.1,0.5\nTB-1-02,OM4,5.1,0.6\n",
        encoding="utf-8",
    )
    (tmp_path / "trace.csv").write_text(
        "Software version,9.1\n\nCable,Strand,Wavelength (nm),Direction,Event,Distance (m),Event type,Event loss (dB)\n"
        "TB-1,1,850,A-B,1,0,start,\nTB-1,1,850,A-B,2,100,connection,0.3\nTB-1,1,850,A-B,3,200,end,\n",
        encoding="utf-8",
    )
    run = analyze([tmp_path / "loss.csv", tmp_path / "trace.csv"])
    assert set(run.records["software_version"]) == {"5.1", "9.1"}
    assert not {"versions-mixed", "version-missing"} & {found.code for found in run.findings}


def test_testers_of_stated_kinds_may_differ():
    rows = strands(count=4, firmware_version=["1", "1", "2", "2"], tester=["T-1", "T-1", "T-2", "T-2"])
    kinds = '[[instruments]]\ntester = "T-1"\nkind = "loss set"\n[[instruments]]\ntester = "t-2"\nkind = "{}"\n'
    assert versions.versions_mixed(of_job(kinds.format("large set"), rows)) == []
    (found,) = versions.versions_mixed(of_job(kinds.format("loss set"), rows))
    assert found.message == 'testers of kind "loss set": 2 links with firmware 2 (T-2), 2 with 1 (T-1)'


@pytest.mark.parametrize(("said", "told"), [("5.9", 1), ("5.10", 0), ("v5.10.0", 0), ("5.11", 0), ("4.20", 1)])
def test_the_lowest_version_of_the_job(said, told):
    rows = strands(count=2, software_version=["5.10", said])
    found = versions.versions_below_the_least(of_job('[required]\nsoftware_from = "5.10"\n', rows))
    assert len(found) == told
    assert versions.versions_below_the_least(joined(rows)) == []
    if told:
        assert found[0].code == "version-too-old"
        assert found[0].message == (
            f"1 link tested with software {said} (T-1), below 5.10, the lowest that required.software_from allows"
        )


def test_what_cannot_be_compared_is_said_so_and_not_called_old():
    rows = strands(count=2, limit_table_version=["7.4", "spring"])
    (found,) = versions.versions_below_the_least(of_job('[required]\nlimit_table_from = "7"\n', rows))
    assert found.code == "version-not-comparable"
    assert found.message == (
        "1 link tested with limit tables spring (T-1), which is no dotted number to compare with 7 of required.limit_table_from"
    )


def test_a_version_that_some_lack():
    (found,) = versions.versions_missing(joined(strands(count=3, software_version=["5.1", None, "n/a"])))
    assert (
        found.message
        == "testers of fiber: 2 links without a version of the software, which the records of 1 other link state"
    )
    assert found.links == ("TB-101-02", "TB-101-03")
    assert versions.versions_missing(joined(strands(count=3, software_version="5.1"))) == []


def test_a_version_that_the_job_asks_for_and_nobody_has():
    rows = strands(count=3)
    assert versions.versions_missing(joined(rows)) == []
    (found,) = versions.versions_missing(of_job('[required]\nfirmware_from = "0"\n', rows))
    assert (
        found.message
        == "testers of fiber: 3 links without a version of the firmware, which required.firmware_from asks for"
    )


def test_projects_against_each_other():
    assert versions.project_names(joined(strands(count=3))) == []
    assert (
        versions.project_names(joined(strands(count=3, project=["Invented Hall", "INVENTED-HALL", " invented hall"])))
        == []
    )
    (found,) = versions.project_names(joined(strands(count=3, project=["Invented Hall", "Invented Hall", "Annex"])))
    assert (found.severity, found.links) == ("note", ("TB-101-03",))
    assert found.message == '1 link with the project "Annex", 2 "Invented Hall"'


def test_projects_against_the_job():
    rows = strands(count=3, project=["Invented Hall", "C-77", "Annex"])
    job = '[job]\nname = "Invented hall"\nreference = "C-77"\n'
    (found,) = versions.project_names(of_job(job, rows))
    assert found.message == '1 link with the project "Annex", while the job is named "Invented hall"'
    assert versions.project_names(of_job(job, rows[:2])) == []


def test_a_project_that_some_lack():
    (found,) = versions.project_missing(joined(strands(count=3, project=["Invented Hall", None, "-"])))
    assert (found.code, found.links) == ("project-missing", ("TB-101-02", "TB-101-03"))
    assert versions.project_missing(joined(strands(count=3))) == []


def test_an_empty_run_has_nothing_to_tell():
    empty = Joined(analysis())
    assert [
        insight(empty) for insight in (versions.versions_mixed, versions.versions_missing, versions.project_names)
    ] == [[]] * 3
