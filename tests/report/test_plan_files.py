"""Plans as CSV and as a page: safe in a spreadsheet, no network, every caution, refused as evidence."""

import csv
import io
import re
from html.parser import HTMLParser

import pandas as pd
import pytest

from analyzer import schema
from analyzer.budget.planned import plan_link
from analyzer.budget.planned_many import plan_links
from analyzer.cli.main import outcome
from analyzer.report.plan_files import STANDING, link_page, links_page, plan_csv, safe
from analyzer.report.plan_table import CAUTIONS

GOOD = {"medium": "fiber", "type": "OM4", "length_m": 120.0, "end_type_a": "panel", "end_type_b": "panel"}


def planned(*labels, **more):
    rows = [{"key": label.casefold(), "label": label, **GOOD, **more} for label in labels]
    return plan_links(schema.conform("schedule", pd.DataFrame(rows)), power_budget_db=2.6)


def lines(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_the_csv_holds_what_the_plan_says():
    first = lines(plan_csv(planned("A-01")))[0]
    # docs/verdicts.md, by hand: 3.0 dB/km x 120 m + 2 x 0.75 dB = 1.86 dB
    assert (first["label"], first["wavelength_nm"], float(first["allowed_db"])) == ("A-01", "850", 1.86)
    assert float(first["power_margin_db"]) == pytest.approx(0.74)
    assert first["problem"] == ""


@pytest.mark.parametrize("label", ["=1+1", "+49", "-cmd", "@SUM(A1)", "\tx", '=HYPERLINK("x")'])
def test_no_text_is_computed_by_a_spreadsheet(label):
    assert safe(label) == f"'{label}"
    assert lines(plan_csv(planned(label)))[0]["label"] == f"'{label}"
    assert safe("A-01") == "A-01"


def test_the_last_line_keeps_a_plan_from_being_read_as_evidence(tmp_path, capsys):
    path = tmp_path / "plan.csv"
    path.write_text(plan_csv(planned("A-01")), encoding="utf-8")
    assert path.read_text(encoding="utf-8").rstrip().endswith(STANDING)
    assert outcome(["check", str(path)]) == 2
    assert "cableproof" in capsys.readouterr().err


class _Reader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.text, self.tags, self.addresses = [], [], []

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.addresses += [value for name, value in attributes if name in {"src", "href", "action"}]

    def handle_data(self, data):
        self.text.append(data)


def read(page):
    reader = _Reader()
    reader.feed(page)
    return reader


@pytest.mark.parametrize("page", [
    links_page(planned("A-01", "A-02", "<b>x</b>")),
    link_page(plan_link(fiber="OM4", length_m=120, ends=("panel", "pigtail"), power_budget_db=2.6)),
], ids=["many", "one"])  # fmt: skip
def test_a_page_needs_no_network_and_tells_the_cautions(page):
    reader = read(page)
    assert reader.addresses == []
    assert not {"script", "img", "iframe", "link", "b"} & set(reader.tags)
    assert not re.search(r"https?:", page)
    words = " ".join(reader.text)
    assert all(caution in words for caution in CAUTIONS)
    assert STANDING in words
    assert re.search(r"default-src 'none'|default-src &#x27;none&#x27;", page)


def test_equal_lines_of_a_page_fold_to_one():
    page = links_page(planned("A-01", "A-02", "A-03", "B-01"))
    assert page.count("<tr>") == 1 + 2  # head, and one line a wavelength
    assert "1.86" in " ".join(read(page).text)


def test_a_problem_stands_in_its_line():
    page = links_page(planned("A-01", standard="ISO"))
    assert "give allowances.end_pair_db in the job" in " ".join(read(page).text)


def test_files_are_written_and_only_ours_are_replaced(tmp_path, capsys):
    typed = ["plan", "--fiber", "OM4", "--length", "120", "--ends", "panel,panel"]
    target = tmp_path / "plan.csv"
    assert outcome([*typed, "--csv", str(target), "--html", str(tmp_path / "plan.html")]) == 0
    assert outcome([*typed, "--csv", str(target)]) == 0
    methods = [row["reference"] for row in lines(target.read_text(encoding="utf-8"))][:3]
    assert methods == ["one-cord", "two-cord", "three-cord"]
    target.write_text("mine", encoding="utf-8")
    assert outcome([*typed, "--csv", str(target)]) == 2
    assert "is no output of cableproof" in capsys.readouterr().err
    assert target.read_text(encoding="utf-8") == "mine"
    assert outcome([*typed, "--csv", str(tmp_path / "plan.txt")]) == 2


def test_a_schedule_is_planned_whole_and_options_that_it_says_are_refused(tmp_path, capsys):
    table = tmp_path / "schedule.csv"
    table.write_text(
        "Label,Fiber type,Length (m),Mated pairs,Splices\nA-01,OM4,120,2,0\nA-02,OM4,80,2,0\n", encoding="utf-8"
    )
    assert outcome(["plan", "--schedule", str(table)]) == 0
    told = lines(capsys.readouterr().out)
    assert [row["label"] for row in told[:4]] == ["A-01", "A-01", "A-02", "A-02"]
    assert float(told[0]["allowed_db"]) == 1.86
    assert outcome(["plan", "--schedule", str(table), "--fiber", "OM3"]) == 2
    assert "--fiber and --schedule exclude each other" in capsys.readouterr().err
    assert outcome(["plan", "--schedule", str(tmp_path / "none.csv")]) == 2
