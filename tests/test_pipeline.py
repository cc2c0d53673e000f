"""The whole run: pure, independent of the order of files, every row and cell accounted for."""

from __future__ import annotations

import functools
import io
import json
import shutil
import zipfile
from pathlib import Path

import pytest

from analyzer import analyze
from analyzer.errors import FileMissing, FileUnreadable, InputError, JobError, NothingToJudge
from analyzer.job import CommandLine
from analyzer.report.document import write_check_json

SAMPLES = Path(__file__).parents[1] / "sample_results"
CAMPUS = SAMPLES / "campus"
EVIDENCE = sorted((CAMPUS / "evidence").iterdir())

SMALL = """Cable ID,Length (m),Loss 850 nm (dB),Loss 1300 nm (dB),Fiber type,Mated pairs,Splices,Reference
TB-01-01,120,1.20,0.90,OM4,2,0,one-cord
TB-01-02,120,1.95,0.90,OM4,2,0,one-cord
"""


def document(analysis):
    stream = io.StringIO()
    write_check_json(analysis, stream)
    return json.loads(stream.getvalue())


def without_order(doc):
    """The document with everything that follows the order of files sorted."""
    by_text = {
        name: sorted(json.dumps(entry, sort_keys=True) for entry in doc[name])
        for name in ("links", "inputs", "set_aside")
    }
    findings = sorted(
        json.dumps(entry | {"links": sorted(entry["links"])}, sort_keys=True) for entry in doc["findings"]
    )
    return by_text | {"totals": doc["totals"], "rows": doc["rows"], "cells": doc["cells"]}, findings


@pytest.fixture
def small(tmp_path):
    path = tmp_path / "small.csv"
    path.write_text(SMALL, encoding="utf-8")
    return path


some_files = pytest.mark.parametrize(
    "files",
    [
        [
            CAMPUS / "evidence" / "retest_2026-09-28.csv",
            CAMPUS / "evidence" / "konferenzhaus_TB-102.csv",
            CAMPUS / "evidence" / "rehearsal_house_RH-01.csv",
            SAMPLES / "single_files" / "trace_events.csv",
        ],
        pytest.param(EVIDENCE, marks=pytest.mark.slow),
    ],
    ids=["four files", "the whole campus"],
)  # fmt: skip


@functools.cache
def judged_once(*files):
    return document(analyze(files, CAMPUS / "job.toml"))


@some_files
def test_the_same_job_twice_gives_the_same_document(files):
    assert document(analyze(files, CAMPUS / "job.toml")) == judged_once(*files)


@some_files
def test_order_of_files_changes_only_the_order_of_links(files):
    forth, codes = without_order(judged_once(*files))
    back, codes_back = without_order(document(analyze(files[::-1], CAMPUS / "job.toml")))
    assert forth == back
    assert len(codes) == len(codes_back)


ONE_OF_EACH_KIND = {
    "guest_wing_data_points.xlsx", "great_hall_TB-101.csv", "rehearsal_house_RH-01.csv", "rehearsal_house_wiring.csv",
    "om4_long.csv", "os2_two_level.xlsx", "trace_events.csv",
}  # fmt: skip
"""Every kind of layout once; the rest of the sample files are of the same kinds."""


@pytest.mark.parametrize(
    "path",
    [
        pytest.param(path, id=path.name, marks=[] if path.name in ONE_OF_EACH_KIND else pytest.mark.slow)
        for path in [*EVIDENCE, *sorted((SAMPLES / "single_files").iterdir())]
    ],
)
def test_rows_and_cells_of_every_sample_are_accounted_for(path):
    analysis = analyze(path)
    doc = document(analysis)
    for account in (doc["rows"], doc["cells"]):
        assert account["read"] == account["used"] + account["set_aside"]
        assert account["read"] > 0
    of_events = int(analysis.events[["loss_db", "reflectance_db", "cumulative_db"]].notna().sum(axis=None))
    # a curve stands for one cell of each row; what is computed from it names the same column
    readings = [reading for link in doc["links"] for reading in link["readings"]]
    cells = {tuple(reading["from"].values()): reading["points"] or 1 for reading in readings}
    assert doc["cells"]["used"] == sum(cells.values()) + of_events


def test_a_file_alone_speaks_only_of_itself(small):
    assert not [found for found in analyze(small).findings if found.code == "missing-link"]


def test_the_same_bytes_twice_are_read_once(small):
    copy = shutil.copy(small, small.with_name("copy.csv"))
    analysis = analyze([small, copy])
    assert analysis.totals["links"] == 2
    assert list(analysis.files["status"]) == ["read", "repeated"]
    assert "file-repeated" in {found.code for found in analysis.findings}


def test_a_broken_file_among_good_ones_is_told_and_the_rest_is_judged(small):
    broken = small.with_name("broken.xlsx")
    broken.write_bytes(b"PK\x03\x04 but no workbook")
    analysis = analyze([small, broken])
    assert analysis.totals["links"] == 2
    (found,) = [found for found in analysis.findings if found.code == "file-unreadable"]
    assert found.severity == "error"
    assert "broken.xlsx" in found.message
    assert analysis.exit_code == 1


def test_members_of_an_archive_are_named_after_it(small):
    archive = small.with_name("all.zip")
    with zipfile.ZipFile(archive, "w") as zipped:
        zipped.write(small, "crew a/one.csv")
    doc = document(analyze(archive))
    assert [entry["file"] for entry in doc["inputs"]] == ["all.zip!crew a/one.csv"]
    assert doc["totals"]["links"] == 2


def test_facts_of_the_command_line_stand_above_the_file(small):
    analysis = analyze(small, given=CommandLine(mated_pairs=3))
    assert set(analysis.facts["mated_pairs"]) == {3.0}
    assert set(analysis.facts["mated_pairs_from"]) == {"command line"}


def test_a_schedule_option_makes_completeness_speak_of_all_of_it(small):
    schedule = small.with_name("cables.csv")
    schedule.write_text("Cable,Strands,Type\nTB-01,3,OM4\nTB-02,2,OM4\n", encoding="utf-8")
    analysis = analyze(small, given=CommandLine(schedule=schedule))
    (missing,) = [found for found in analysis.findings if found.code == "missing-link"]
    assert missing.links == ("TB-01-03", "TB-02-01", "TB-02-02")
    assert analysis.exit_code == 1


@pytest.mark.parametrize(
    ("make", "error", "words"),
    [
        (lambda folder: folder / "nothing.csv", FileMissing, "nothing.csv"),
        (lambda folder: _written(folder / "empty.csv", b""), FileUnreadable, "empty"),
        (lambda folder: _written(folder / "heads.csv", b"Cable ID,Length (m),Loss 850 nm (dB)\n"), InputError, "no row"),
        (lambda folder: _written(folder / "prose.csv", b"dear all, see you\n"), FileUnreadable, "no table"),
        (lambda folder: _written(folder / "bits.csv", bytes(range(256)) * 20), FileUnreadable, "not text"),
        (lambda folder: _written(folder / "bits.xlsx", b"PK\x03\x04" + bytes(500)), FileUnreadable, "bits.xlsx"),
        (lambda folder: folder, NothingToJudge, "no evidence"),
    ],
)  # fmt: skip
def test_what_cannot_be_judged_ends_in_one_sentence_that_names_it(tmp_path, make, error, words):
    with pytest.raises(error) as caught:
        analyze(make(tmp_path))
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def _written(path, data):
    path.write_bytes(data)
    return path


@pytest.mark.parametrize(
    "text",
    ['[order]\nedition = "568.9"\n', '[overrides]\n"FA-NOT-THERE" = 1.0\n', '[confirmed]\n"FA-NO" = {by = "a", document = "b", date = 2026-01-01}\n'],
)  # fmt: skip
def test_a_job_that_orders_what_does_not_exist_is_refused(small, text):
    job = small.with_name("job.toml")
    job.write_text(text, encoding="utf-8")
    with pytest.raises(JobError):
        analyze(small, job)


def test_scope_and_area_leave_scheduled_links_out(small):
    schedule = small.with_name("schedule.csv")
    schedule.write_text("Cable,Strands,Type,Area\nTB-01,3,OM4,Hall\nTB-02,2,OM4,Attic\n", encoding="utf-8")
    job = small.with_name("job.toml")
    job.write_text('[scope]\nexclude_areas = ["att*"]\n', encoding="utf-8")
    (missing,) = [found for found in analyze(small.parent).findings if found.code == "missing-link"]
    assert missing.links == ("TB-01-03",)
    job.unlink()
    (missing,) = [
        found
        for found in analyze(small.parent, given=CommandLine(area="Attic")).findings
        if found.code == "missing-link"
    ]
    assert missing.links == ("TB-02-01", "TB-02-02")


def test_standard_input_is_read_like_a_file(monkeypatch):
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(SMALL.encode())))
    doc = document(analyze("-"))
    assert [entry["file"] for entry in doc["inputs"]] == ["standard input"]
    assert doc["totals"]["links"] == 2
