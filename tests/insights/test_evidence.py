"""Every finding says what it rests on and where that stands: number or sentence, file and row."""

import dataclasses
from pathlib import Path

import pandas as pd
import pytest
from crew import analysis, joined, om4
from simulated_job import troubled_job, write

from analyzer.insights.evidence import of_set_aside, of_texts, with_places
from analyzer.insights.register import finding
from analyzer.pipeline import analyze

CAMPUS = Path(__file__).parents[2] / "sample_results" / "campus"

NO_ROW = {
    "too-few-failures": "rests on the count of the whole job and on its history",
    "accuracy-unknown": "rests on what stands nowhere",
    "limits-unconfirmed": "rests on rows of the values, which it names",
    "sheet-not-read": "is about a whole sheet",
    "file-repeated": "is about whole files",
    "file-unreadable": "is about a whole file",
    "sample-too-small": "is about links that nobody tested",
}
"""Codes of which nothing stands in one row of one file, and why."""


def _lacking(found):
    if not found.evidence:
        return "evidence"
    placed = [piece for piece in found.evidence if piece.file and piece.row]
    return "" if placed or found.code in NO_ROW else "a place"


@pytest.mark.slow
def test_every_finding_of_the_campus_says_where_it_stands():
    findings = analyze(CAMPUS).findings
    assert len(findings) > 10
    assert [(found.code, _lacking(found)) for found in findings if _lacking(found)] == []


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_every_finding_of_a_large_troubled_job_says_where_it_stands(tmp_path):
    findings = analyze(write(troubled_job(75), tmp_path)).findings
    assert len({found.code for found in findings}) > 30
    assert [(found.code, _lacking(found)) for found in findings if _lacking(found)] == []


def test_counts_over_links_get_the_records_of_the_links():
    job = joined([om4("A"), om4("B"), om4("C")])
    (found,) = with_places(job, [finding("test-missing", "invented", ["B", "C"])])
    assert [(piece.what, piece.row) for piece in found.evidence] == [("B: its record", 3), ("C: its record", 4)]


def test_a_link_that_was_not_tested_has_no_record():
    (found,) = with_places(joined([om4("A")]), [finding("missing-link", "invented", ["Z"])])
    assert found.evidence == ()


def test_sentences_about_files_name_file_and_row():
    run = dataclasses.replace(analysis(om4()), files=pd.DataFrame({"name": ["a.csv", "deep/a.csv"]}))
    deep, schedule, bare = of_texts(run, ["deep/a.csv: row 7: no label", "schedule, row 3: no label", "something"])
    assert (deep.file, deep.row) == ("deep/a.csv", 7)
    assert (schedule.file, schedule.row) == ("the schedule", 3)
    assert (bare.file, bare.row) == (None, None)


def test_what_was_set_aside_is_shown_as_written():
    run = dataclasses.replace(analysis(om4()), files=pd.DataFrame({"file": [0], "name": ["a.csv"]}))
    rows = pd.DataFrame({"file": [0, 0], "sheet": ["S", None], "row": [5, 6], "col": [2, -1], "text": ["n/a", None]})
    cell, row = of_set_aside(run, rows)
    assert cell == ('set aside: "n/a"', None, "", "a.csv", "S", 5, 2)
    assert row == ("set aside", None, "", "a.csv", None, 6, None)
