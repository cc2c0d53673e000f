"""Rows of the files and events in a real browser, and a head that needs nothing of the table."""

import csv
import re

import pytest
from page_fixture import make_analysis
from playwright.sync_api import expect

from analyzer.report.page import page_text

pytestmark = pytest.mark.browser


def rows_of(locator):
    return [[" ".join(cell.split()) for cell in row.split("\t")] for row in locator.all_inner_texts()]


def test_the_row_of_a_link_is_shown_with_every_cell(view, rows_folder):
    page = view((rows_folder / "page.html").as_uri() + "#link=L2")
    fold = page.locator(".detail .raw")
    fold.locator("summary").first.click()
    expect(fold.locator(".raw-place")).to_have_text("wide.csv, row 3")
    shown = rows_of(fold.locator(".raw-list tbody tr"))
    with (rows_folder / "wide.csv").open(newline="") as file:
        head, _, row = csv.reader(file)
    assert [line[1] for line in shown] == head
    assert [line[2].replace("empty", "") for line in shown] == row
    assert [line[0] for line in shown] == list("ABCDEFGH")
    assert shown[4][3] == "loss at 850 nm in dB"
    assert shown[6][3] == "not used"


def test_a_link_of_many_rows_shows_them_as_in_the_file(view, rows_folder):
    page = view((rows_folder / "page.html").as_uri() + "#link=L1")
    fold = page.locator(".detail .raw")
    fold.locator("summary").first.click()
    expect(fold.locator(".raw-place")).to_have_text(["long.csv, rows 2 to 7", "wide.csv, row 2"])
    with (rows_folder / "long.csv").open(newline="") as file:
        _, *written = csv.reader(file)
    assert [line[1:] for line in rows_of(fold.locator(".raw-grid tbody tr"))] == written


def test_events_stand_joint_by_joint_with_both_directions_and_their_mean(view, rows_folder):
    """Outside check: the losses as the csv module reads them; their mean by hand."""
    with (rows_folder / "trace.csv").open(newline="") as file:
        lines = [row for row in csv.reader(file) if len(row) > 3 and row[2] in {"splice", "gain"}]
    (one, other) = (float(row[3]) for row in lines)
    page = view((rows_folder / "page.html").as_uri() + "#link=SF-105-01")
    joint = page.locator(".detail .events tbody tr", has_text="820.0 m from end A")
    expect(joint).to_contain_text("970.0 m (A-B), 790.0 m (B-A) in the traces")
    heads = page.locator(".detail .events").first.locator("th").all_inner_texts()
    told = dict(zip(heads, joint.locator("td").all_inner_texts(), strict=True))
    assert told["Loss A-B"] == f"{one:.2f} dB"
    assert told["Loss B-A"] == f"\u2212{-other:.2f} dB"
    assert told["Mean"] == f"{(one + other) / 2:.2f} dB"
    assert (told["Allowed"], told["Verdict"]) == ("0.30 dB", "pass")
    assert told["Read in"] == "trace.csv, rows 14, 27"
    far = page.locator(".detail .events tbody tr", has_text="1460.0 m from end A")
    expect(far).to_contain_text("\u221249.80 dB, allowed \u221235.00 dB: pass")
    far.locator("summary").click()
    expect(far).to_contain_text("a mated pair")
    expect(page.locator(".detail")).to_contain_text("Each joint is judged for information")


def test_the_head_needs_nothing_of_the_table(browser, tmp_path):
    """The data of the table is broken on purpose: the head stands, and the trouble is told."""
    text = re.sub(r'(id="data">).{200}', r"\1", page_text(make_analysis()))
    (tmp_path / "page.html").write_text(text, encoding="utf-8")
    page = browser.new_page()
    page.goto((tmp_path / "page.html").as_uri())
    expect(page.locator("#trouble")).to_contain_text("could not be unpacked")
    expect(page.locator("#sentence")).to_have_text("Not yet: of 37 links, 4 fail and 5 are incomplete.")
    expect(page.locator("#findings")).to_contain_text("2 scheduled links have no result.")
    expect(page.locator("#records")).to_contain_text("37 rows read = 36 used + 1 set aside.")
    expect(page.locator("#links")).to_be_hidden()
    page.close()


def test_what_was_typed_outlives_a_filter(view, rows_folder):
    page = view((rows_folder / "page.html").as_uri() + "#link=L1")
    page.locator(".detail .mark-form input").nth(1).fill("look again")
    page.locator("#search").fill("SF-105")
    expect(page.locator(".detail")).to_have_count(0)
    page.locator("#search").fill("")
    expect(page.locator(".detail .mark-form input").nth(1)).to_have_value("look again")
