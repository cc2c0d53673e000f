"""One area of a job: the same verdicts as in the whole job, and nothing of the others."""

import pytest

from analyzer import analyze
from analyzer.errors import NothingToJudge
from analyzer.job import CommandLine
from analyzer.schema import TABLES

HEAD = "Label,Area,Type,Length (m),Mated pairs,Splices,Reference,Loss 850 nm (dB),Loss 1300 nm (dB)\n"


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    folder = tmp_path_factory.mktemp("areas")
    for name, rows in {
        "a.csv": [("A-1", "West", 0.4), ("B-1", "East", 3.9), ("A-2", "West", 3.5)],
        "b.csv": [("B-2", "East", 0.5), ("C-1", "", 0.5), ("A-1", "West", 0.6)],
    }.items():
        text = "".join(f"{label},{area},OM4,30,2,0,one-cord,{loss},0.3\n" for label, area, loss in rows)
        (folder / name).write_text(HEAD + text)
    return folder


@pytest.fixture(scope="module")
def whole(job):
    return analyze(job)


@pytest.fixture(scope="module")
def west(job):
    return analyze(job, given=CommandLine(area="west"))


def test_links_of_the_area_are_judged_as_in_the_whole_job(whole, west):
    assert west.links["label"].tolist() == ["A-1", "A-2"]
    one = whole.links.set_index("label").loc[["A-1", "A-2"], ["verdict", "margin_db", "attempts", "fingerprint"]]
    assert west.links.set_index("label")[one.columns].equals(one)
    assert "only area west: 3 records of other areas are left out, 1 of them without any area" in west.rules


def test_numbers_stay_positions(west):
    assert west.readings["reading"].tolist() == list(range(len(west.readings))) == west.judged["reading"].tolist()
    assert west.records["record"].tolist() == list(range(len(west.records)))
    assert west.readings["record"].max() < len(west.records)
    assert set(west.judged) == set(TABLES["judged"])


def test_the_accounts_stay_whole(whole, west):
    assert west.files.equals(whole.files)


def test_an_area_without_a_record_ends_the_run(job):
    with pytest.raises(NothingToJudge, match="no record lies in it; the areas are East, West"):
        analyze(job, given=CommandLine(area="North"))


def test_all_of_an_area_is_found_by_a_pattern(job):
    assert len(analyze(job, given=CommandLine(area="*st")).links) == 4
