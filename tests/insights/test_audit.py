"""The owner's own measurements: compared, told, and without a say in any verdict."""

import numpy as np
import pandas as pd
import pytest
from practice_cases import at, clean_fiber

from analyzer.errors import NothingToJudge
from analyzer.pipeline import analyze


def folder_with(change, files='["owner/*"]'):
    """A clean folder and the owner's tests of its first four strands, three weeks later, within 0.02 dB."""
    folder = clean_fiber()
    folder.job += f"[audit]\nfiles = {files}\n"
    own = at(folder).iloc[:4].copy()
    own["Tested at"] = own["Tested at"].str.replace("09-14", "10-05")
    for name in [name for name in own if name.startswith("Loss")]:
        own[name] = (own[name] + np.array([0.01, -0.02, 0.02, 0.0])).round(2)
    change(own)
    folder.exports["owner/again.csv"] = own
    return folder


def unchanged(_own):
    """Honest measurements."""


def findings_of(analysis, code):
    return [found for found in analysis.findings if found.code == code]


def test_honest_measurements_agree(tmp_path):
    analysis = folder_with(unchanged).analyzed(tmp_path / "job")
    assert findings_of(analysis, "audit-differs") == []
    (note,) = findings_of(analysis, "audit-compared")
    assert note.message == "4 links measured again by the owner, 4 of them without a difference"
    assert any(
        "compared and decide no verdict: 4 records of evidence/owner/again.csv" in rule for rule in analysis.rules
    )


def test_an_owners_fail_is_told_and_supersedes_nothing(tmp_path):
    def fails(own):
        own.loc[1, "Loss 850 A-B (dB)"] = 2.9

    folder = folder_with(fails)
    analysis = folder.analyzed(tmp_path / "job")
    assert analysis.totals == {"links": 8, "pass": 8, "marginal": 0, "fail": 0, "incomplete": 0}
    assert analysis.links["attempts"].max() == 1
    (found,) = findings_of(analysis, "audit-differs")
    assert found.links == ("TB-101-02",)
    assert found.severity == "warning"
    contractors = at(folder).loc[1, "Loss 850 A-B (dB)"]
    assert f"2.90 against {contractors:.2f} dB, 0.20 dB apart at the most" in found.message
    assert "it fails where the contractor's passes" in found.message
    assert {piece.file for piece in found.evidence if piece.file} == {
        "evidence/owner/again.csv",
        "evidence/strands.csv",
    }
    # the very same file as a test like any other is in force, for it is the later one
    as_retest = folder_with(fails, "[]").analyzed(tmp_path / "other")
    assert as_retest.totals["fail"] == 1


@pytest.mark.parametrize(("apart_db", "told"), [(0.19, 0), (0.20, 0), (0.22, 1)])
def test_twice_the_accuracy_is_allowed(tmp_path, apart_db, told):
    def apart(own):
        own.loc[3, "Loss 1300 B-A (dB)"] += apart_db

    # rules.accuracy_db and the export say 0.1 dB
    analysis = folder_with(apart).analyzed(tmp_path / "job")
    assert len(findings_of(analysis, "audit-differs")) == told


def test_a_length_may_differ_by_two_percent(tmp_path):
    def longer(own):
        own.loc[0, "Length (m)"] *= 1.019
        own.loc[1, "Length (m)"] *= 1.021

    (found,) = findings_of(folder_with(longer).analyzed(tmp_path / "job"), "audit-differs")
    assert found.links == ("TB-101-02",)


def test_without_an_accuracy_nothing_is_compared_and_that_is_said(tmp_path):
    folder = folder_with(unchanged)
    folder.exports["owner/again.csv"] = at(folder, "owner/again.csv").drop(columns="Accuracy (dB)")
    folder.job = folder.job.replace("accuracy_db = 0.1", "")
    folder.exports["strands.csv"] = at(folder).drop(columns="Accuracy (dB)")
    (note,) = findings_of(folder.analyzed(tmp_path / "job"), "audit-compared")
    assert "16 readings without a known accuracy could not be compared" in note.message


def test_the_contractors_records_must_be_there(tmp_path):
    folder = folder_with(unchanged, '["*"]')
    with pytest.raises(NothingToJudge, match="every record is one of the owner's own"):
        folder.analyzed(tmp_path / "job")


def test_the_accounts_of_the_files_stay_whole(tmp_path):
    analysis = analyze(folder_with(unchanged).write(tmp_path / "job"))
    files = analysis.files.set_index("name")
    assert files.loc["evidence/owner/again.csv", ["rows_read", "rows_used"]].tolist() == [4, 4]
    assert len(analysis.records) == 8
    pd.testing.assert_index_equal(analysis.judged.index, analysis.readings.index)


def test_a_copy_of_the_contractors_file_takes_nothing_from_it(tmp_path):
    folder = clean_fiber()
    folder.job += '[audit]\nfiles = ["AUDIT/*"]\n'
    folder.exports = {"audit/copy.csv": at(folder).copy(), **folder.exports}
    analysis = folder.analyzed(tmp_path / "job")
    assert analysis.totals["pass"] == 8
    (note,) = findings_of(analysis, "file-repeated")
    assert note.message == "read once: evidence/audit/copy.csv is the same to the byte as evidence/strands.csv"


def test_no_light_is_no_unknown_number_and_nothing_compared_is_no_agreement(tmp_path):
    def dark(own):
        for name in [name for name in own if name.startswith("Loss")]:
            own[name] = own[name].astype(object)
        own.loc[0, "Loss 850 A-B (dB)"] = "OL"
        own.loc[1, "Loss 850 A-B (dB)"] = ">40"
        own.loc[2, [name for name in own if name.startswith("Loss")]] = ""

    analysis = folder_with(dark).analyzed(tmp_path / "job")
    (found,) = findings_of(analysis, "audit-differs")
    assert "TB-101-01: loss at 850 nm A-B over range against" in found.message
    assert "TB-101-02: loss at 850 nm A-B above 40.00 against" in found.message
    (note,) = findings_of(analysis, "audit-compared")
    assert note.message.startswith(
        "4 links measured again by the owner, 1 of them without a difference; 1 link without a reading that the contractor"
    )
