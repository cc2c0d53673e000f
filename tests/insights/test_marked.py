"""Marks laid on links: they hold, lapse and contradict each other, and change no verdict."""

import functools
import json
import tempfile
from pathlib import Path

import pytest

from analyzer import analyze
from analyzer.insights.marked import marked_words

HEAD = "Label,Type,Length (m),Mated pairs,Splices,Reference,Loss 850 nm (dB),Loss 1300 nm (dB)\n"
ROWS = {"A-01": (0.4, 0.3), "A-02": (3.4, 0.3), "A-03": (3.9, 0.3)}


@pytest.fixture
def job(tmp_path):
    write(tmp_path, ROWS)
    return tmp_path


def write(folder, rows):
    text = "".join(f"{label},OM4,30,2,0,one-cord,{a},{b}\n" for label, (a, b) in rows.items())
    (folder / "x.csv").write_text(HEAD + text)


@functools.cache
def fingerprints(text):
    """Fingerprints by label; they follow from the bytes of the file and its name alone."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "x.csv").write_text(text)
        return analyze(folder).links.set_index("label")["fingerprint"].to_dict()


def mark(folder, file, *entries):
    links = fingerprints((folder / "x.csv").read_text())
    marks = [
        {"link": link, "mark": kind, "note": "n", "name": name, "at": at, "fingerprint": links.get(link, "0")}
        for link, kind, name, at in entries
    ]
    (folder / f"{file}.marks.json").write_text(json.dumps({"format": "cableproof-marks/1", "marks": marks}))


def codes(analysis):
    return {found.code for found in analysis.findings}


def test_a_mark_changes_no_verdict(job):
    before = analyze(job)
    mark(
        job,
        "one",
        ("A-02", "accept", "R. One", "1"),
        ("A-03", "accept", "R. One", "1"),
        ("A-01", "query", "R. One", "1"),
    )
    after = analyze(job)
    assert after.links["verdict"].tolist() == before.links["verdict"].tolist() == ["pass", "fail", "fail"]
    assert after.exit_code == 1
    assert marked_words(after) == ["of 2 that fail: 2 accepted by R. One", "of 1 that pass: 1 queried by R. One"]


def test_a_mark_lapses_when_a_reading_changes(job):
    mark(job, "one", ("A-02", "accept", "R. One", "1"))
    assert analyze(job).marks["state"].tolist() == ["holds"]
    write(job, {**ROWS, "A-02": (3.5, 0.3)})
    after = analyze(job)
    assert after.marks["state"].tolist() == ["lapsed"]
    assert "mark-lapsed" in codes(after)
    assert marked_words(after) == []


def test_a_mark_lapses_when_the_bytes_of_its_file_change(job):
    mark(job, "one", ("A-02", "accept", "R. One", "1"))
    write(job, {**ROWS, "A-03": (3.8, 0.3)})  # another link of the same file
    assert analyze(job).marks["state"].tolist() == ["lapsed"]


def test_two_reviewers_who_disagree_are_shown(job):
    mark(job, "one", ("A-02", "accept", "R. One", "1"))
    mark(job, "two", ("A-02", "retest", "R. Two", "2"))
    after = analyze(job)
    assert after.marks["state"].tolist() == ["conflict", "conflict"]
    assert "marks-differ" in codes(after)
    assert marked_words(after) == []


def test_the_last_mark_of_one_reviewer_holds(job):
    mark(
        job,
        "one",
        ("A-02", "query", "R. One", "2026-11-20T10:00:00"),
        ("A-02", "accept", "R. One", "2026-11-21T10:00:00"),
    )
    assert analyze(job).marks["state"].tolist() == ["replaced", "holds"]


def test_a_mark_about_nothing_is_told(job):
    mark(job, "one", ("B-09", "accept", "R. One", "1"))
    assert "mark-without-link" in codes(analyze(job))


def test_the_fingerprint_does_not_depend_on_the_order_of_files(tmp_path):
    for order in ("ab", "ba"):
        folder = tmp_path / order
        folder.mkdir()
        for place, name in enumerate(order):
            label = {"a": "A-01", "b": "A-02"}[name]
            write(folder, {label: ROWS[label]})
            (folder / "x.csv").rename(folder / f"{place}.csv")
    one, two = (analyze(tmp_path / order).links.set_index("label")["fingerprint"].to_dict() for order in ("ab", "ba"))
    assert one == two
