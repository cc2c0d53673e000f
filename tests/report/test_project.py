"""What the job file says of the project stands at the head of letter, workbook and PDF alike."""

import datetime as dt

from bench import analysis, job_of, om4
from openpyxl import load_workbook
from pypdf import PdfReader

from analyzer.report.package.cover import Letter, cover_page
from analyzer.report.pdf import pdf_bytes
from analyzer.report.project import project_lines
from analyzer.report.workbook import workbook_bytes

MADE = dt.datetime(2026, 11, 18, tzinfo=dt.UTC)
JOB = """\
[job]
name = "Invented Hall"
owner = "Invented Owner"
contractor = "Invented Crew"
site = "Invented Street"
reference = "INV-1"
date = 2026-11-02
invented = true
"""
SAID = [
    ("job", "Invented Hall"),
    ("owner", "Invented Owner"),
    ("contractor", "Invented Crew"),
    ("site", "Invented Street"),
    ("contract", "INV-1"),
    ("date of the job file", "2026-11-02"),
    ("note", "this job is invented"),
]


def test_only_what_the_job_file_states_is_told():
    assert project_lines(analysis(om4(), job=job_of(JOB))) == SAID
    assert project_lines(analysis(om4(), job=job_of('[job]\nsite = "Invented Street"\n'))) == [SAID[3]]
    assert project_lines(analysis(om4())) == []


def test_letter_workbook_and_pdf_tell_all_of_it(tmp_path):
    run = analysis(om4(), job=job_of(JOB))
    run.totals = {"links": 1, "pass": 1, "marginal": 0, "fail": 0, "incomplete": 0}
    letter = cover_page(Letter(run, answers=[], draft=[], made=MADE, manifest_sha256="0" * 64, area=None)).decode()
    (tmp_path / "x.xlsx").write_bytes(workbook_bytes(run, draft=[], made=MADE))
    (tmp_path / "x.pdf").write_bytes(pdf_bytes(run, draft=[], made=MADE))
    summary = [row[:2] for row in load_workbook(tmp_path / "x.xlsx")["Summary"].iter_rows(values_only=True)]
    cover = PdfReader(tmp_path / "x.pdf").pages[0].extract_text()
    for word, said in SAID:
        assert f"<td><bdi>{word}</bdi></td><td><bdi>{said}</bdi></td>" in letter
        assert (word, said) in summary
        assert (f"{word.capitalize()}: {said}" if word != "job" else said) in cover
