"""Reviewers' marks in the page: made with clicks, saved, honored by the next run, shown again."""

import json
import shutil

import pytest
from browser_fixture import SAMPLES
from page_fixture import make_analysis
from playwright.sync_api import expect

from analyzer import analyze
from analyzer.insights.marked import lay_marks
from analyzer.job.marks import Mark, load_marks
from analyzer.report.page import write_page

pytestmark = pytest.mark.browser


def mark_first_link(page, kind, name, note=""):
    page.get_by_label("Your name").first.fill(name)
    page.get_by_label("Note").first.fill(note)
    page.locator(".detail .kinds button", has_text=kind).first.click()


def saved(page, tmp_path, name="review"):
    page.get_by_label("Name of the file").fill(name)
    with page.expect_download() as download:
        page.get_by_role("button", name="Save marks").click()
    path = tmp_path / download.value.suggested_filename
    download.value.save_as(path)
    return path


@pytest.fixture
def job(tmp_path):
    """A job folder with one export of the samples, and its analysis."""
    folder = tmp_path / "job"
    folder.mkdir()
    shutil.copy(SAMPLES / "os2_trunk_with_failures.csv", folder)
    return folder


def test_a_mark_goes_from_the_page_into_the_next_run_and_back(view, job, tmp_path):
    analysis = analyze([job])
    failing = analysis.links.loc[analysis.links["verdict"] == "fail", "label"].tolist()
    write_page(analysis, tmp_path / "page.html")
    page = view((tmp_path / "page.html").as_uri())
    page.locator(".body .row").first.click()
    label = page.locator(".detail b").first.inner_text()
    assert label in failing
    mark_first_link(page, "accept", "A. Reviewer", "agreed, see letter 4")
    expect(page.locator("#marked")).to_contain_text(f"Of {len(failing)} that fail: 1 accepted by A. Reviewer.")
    expect(page.locator(".body .row").first).to_contain_text("accept")
    assert page.title().startswith("cableproof: Not yet")
    path = saved(page, tmp_path, "north = review")
    assert path.name == "north review.marks.json"
    (mark,) = load_marks([path])
    assert (mark.link, mark.mark, mark.note, mark.name) == (label, "accept", "agreed, see letter 4", "A. Reviewer")

    shutil.copy(path, job)
    again = analyze([job])
    assert again.marks["state"].tolist() == ["holds"]
    assert again.totals == analysis.totals
    write_page(again, tmp_path / "again.html")
    page = view((tmp_path / "again.html").as_uri())
    expect(page.locator("#marked")).to_contain_text("1 accepted by A. Reviewer")
    expect(page.locator("#marks-told")).to_contain_text("1 mark: 1 counts.")
    page.locator("#facet-mark").select_option("accept")
    expect(page.locator("#shown")).to_contain_text("1 of ")
    assert page.locator(".body .row > :first-child").all_inner_texts() == [label]


def test_marks_survive_a_reload_and_can_be_removed(view, tmp_path):
    write_page(make_analysis(), tmp_path / "page.html")
    page = view((tmp_path / "page.html").as_uri() + "#link=NT-A-07")
    page.locator(".kinds button", has_text="query").click()
    expect(page.locator(".mark-form [role=status]")).to_have_text("A mark needs a name.")
    mark_first_link(page, "query", "B. Reviewer")
    page.reload()
    page.wait_for_selector("html[data-ready=chart]")
    expect(page.locator("#marks-told")).to_contain_text("1 mark: 1 counts.")
    page.locator(".detail .marking button", has_text="remove").click()
    expect(page.locator("#marks-told")).to_contain_text("No link is marked yet")
    page.reload()
    page.wait_for_selector("html[data-ready=chart]")
    expect(page.locator("#marks-told")).to_contain_text("No link is marked yet")


def test_states_in_the_page_are_those_of_the_next_run(view, tmp_path):
    """Outside check: `lay_marks`, which check and closeout use, on the same marks."""
    analysis = make_analysis()
    now = dict(zip(analysis.links["label"], analysis.links["fingerprint"], strict=True))
    rows = [
        ("NT-A-07", "accept", "A", "2026-01-01T10:00:00"),
        ("NT-A-07", "retest", "B", "2026-01-01T09:00:00"),
        ("NT-A-03", "query", "A", "2026-01-02T10:00:00"),
        ("NT-A-03", "accept", "A", "2026-01-03T10:00:00"),
        ("NT-A-05", "accept", "A", "2026-01-01T10:00:00"),
        ("Nowhere", "accept", "A", "2026-01-01T10:00:00"),
        ("NT-A-06", "accept", "A", "2026-01-01T10:00:00"),
        ("NT-A-06", "accept", "B", "2026-01-01T11:00:00"),
    ]
    made = [Mark(label, mark, "", name, at, now.get(label, ""), "f") for label, mark, name, at in rows]
    made[4] = made[4]._replace(fingerprint="0" * 16)
    analysis.marks = lay_marks(analysis, made[:5])
    write_page(analysis, tmp_path / "page.html")
    page = view((tmp_path / "page.html").as_uri())
    expect(page.locator("#marks-told")).to_have_text(
        "5 marks: 1 counts, 2 in conflict, 1 lapsed, 1 replaced by later ones."
    )
    second = {
        "format": "cableproof-marks/1",
        "marks": [{key: value for key, value in mark._asdict().items() if key != "file"} for mark in made[3:]],
    }
    (tmp_path / "second.marks.json").write_text(json.dumps(second), encoding="utf-8")
    page.locator("#marks-load").set_input_files(tmp_path / "second.marks.json")
    expect(page.locator("#marks-result")).to_have_text("second.marks.json: 3 marks new here.")
    states = lay_marks(analysis, made)["state"].astype("str").tolist()
    assert states == ["conflict", "conflict", "replaced", "holds", "lapsed", "no such link", "holds", "holds"]
    expect(page.locator("#marks-told")).to_have_text(
        "8 marks: 3 count, 2 in conflict, 1 lapsed, 1 replaced by later ones, 1 about links that are not here."
    )
    page.locator("#marks-odd summary").click()
    expect(page.locator("#marks-odd")).to_contain_text("NT-A-05: accepted by A, 2026-01-01 10:00:00, lapsed: readings")
    page.locator("#facet-mark").select_option("conflict")
    assert page.locator(".body .row > :first-child").all_inner_texts() == ["NT-A-07"]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("{", "is no JSON"),
        ('{"format": "other", "marks": []}', "is no file of marks"),
        (
            '{"format": "cableproof-marks/1", "marks": [{"link": "<b>x", "mark": "pass", "name": "A"}]}',
            "mark 1 (<b>x) is “pass” and not one of accept, query, retest",
        ),
        ('{"format": "cableproof-marks/1", "marks": [{"link": "x", "mark": "accept"}]}', "mark 1 does not name a link"),
    ],
)
def test_a_wrong_file_is_one_sentence(view, tmp_path, content, said):
    write_page(make_analysis(), tmp_path / "page.html")
    (tmp_path / "wrong.json").write_text(content, encoding="utf-8")
    page = view((tmp_path / "page.html").as_uri())
    page.locator("#marks-load").set_input_files(tmp_path / "wrong.json")
    expect(page.locator("#marks-result")).to_contain_text(said)
    expect(page.locator("#marks-told")).to_contain_text("No link is marked yet")
