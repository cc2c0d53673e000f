"""The table for the person at the rack.

The snapshots were read by eye; after a wanted change CABLEPROOF_UPDATE_SNAPSHOTS=1 writes them anew, and the diff is
reviewed like code.
"""

import io
import os
import re
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from terminal_fixture import FINDINGS, empty_analysis, thirty_links

from analyzer import schema
from analyzer.report.terminal import SHOWN, print_check
from analyzer.schema import Finding

SNAPSHOTS = Path(__file__).parent / "snapshots"


def printed(analysis, **options):
    stream = io.StringIO()
    print_check(analysis, stream=stream, **{"width": 80, "color": False, **options})
    return stream.getvalue()


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("check_80", {}),
        ("check_120", {"width": 120}),
        ("check_all_120", {"width": 120, "all_links": True}),
        ("check_ascii_80", {"ascii_only": True}),
    ],
)
def test_the_page_is_as_reviewed(name, options):
    text = printed(thirty_links(), **options)
    kept = SNAPSHOTS / f"{name}.txt"
    if os.environ.get("CABLEPROOF_UPDATE_SNAPSHOTS"):
        kept.write_text(text, encoding="utf-8", newline="\n")
    assert text == kept.read_text(encoding="utf-8")


def test_what_fails_comes_first_with_value_limit_margin_and_place():
    lines = printed(thirty_links(), width=120).splitlines()
    at = next(number for number, line in enumerate(lines) if "TB-02-3" in line)
    assert lines[at] == "  FAIL TB-02-3  OS2  loss at 1550 nm A-B 1.92 dB, allowed 1.50 dB*, margin −0.42 dB"
    assert lines[at + 1].strip() == 'evidence/hall.xlsx, sheet Trunk 2, row 14, column G "Loss A-B 1550 nm"'
    assert lines[at + 2].strip() == "Also fails: loss at 1310 nm A-B (margin −0.08 dB)"
    first_word = re.compile(r"^  (FAIL|INCOMPLETE|MARGINAL|PASS)", re.MULTILINE)
    order = list(dict.fromkeys(first_word.findall("\n".join(lines))))
    assert order == ["FAIL", "INCOMPLETE", "MARGINAL", "PASS"]


def test_every_label_is_named_or_stands_in_a_range():
    every = printed(thirty_links(), all_links=True)
    for label in thirty_links().links["label"]:
        assert re.search(rf"^  (FAIL|INCOMPLETE|MARGINAL|PASS) {re.escape(label)} ", every, re.MULTILINE), label


def test_passes_of_one_cable_fold_to_one_line_with_the_least_margin():
    text = printed(thirty_links(), width=140)
    assert "PASS TB-01-01 … TB-01-12  OM4  12 links, least margin 0.31 dB: TB-01-09, loss at 1300 nm" in text
    assert text.count("PASS ") == 3


def test_minus_zero_is_never_printed():
    assert "−0.00" not in printed(thirty_links(), all_links=True)
    assert "-0.00" not in printed(thirty_links(), all_links=True, ascii_only=True)


def test_ascii_only_is_ascii():
    assert printed(thirty_links(), all_links=True, ascii_only=True).isascii()


def test_color_adds_nothing_but_color():
    plain = printed(thirty_links())
    colored = printed(thirty_links(), color=True)
    assert colored != plain
    assert re.sub(r"\x1b\[[0-9;]*m", "", colored) == plain


def test_no_row_is_wider_than_asked_where_words_allow():
    for width in (60, 80, 120):
        rows = printed(thirty_links(), width=width, all_links=True).splitlines()[:-1]
        assert max(len(row) for row in rows) <= width


def test_the_last_line_says_what_caused_the_exit_code_and_one_next_action():
    last = printed(thirty_links()).splitlines()[-1]
    assert last.startswith("Exit code 1: 2 links fail, 10 are incomplete. Next: at FOH-1, trace the strand")


def test_accounts_that_do_not_add_up_are_told():
    analysis = thirty_links()
    assert "DOES NOT ADD UP" not in printed(analysis)
    analysis.files.loc[0, "rows_used"] = 19
    assert "Rows: 31 read = 28 used + 2 set aside - THIS DOES NOT ADD UP" in printed(analysis, width=140)


def test_nothing_to_mend_says_so():
    text = printed(empty_analysis())
    assert text.splitlines()[0] == "cableproof 0.1.0: check of 0 links from 0 files"
    assert text.splitlines()[-1].startswith("Exit code 0. Next: nothing to mend")


def test_the_next_action_without_failures_is_the_commonest_gap():
    analysis = thirty_links()
    analysis.links.loc[analysis.links["verdict"] == "fail", "verdict"] = "pass"
    assert "Next: test at 1300 nm (CR-A-1 … CR-A-4)." in printed(analysis)


def test_many_failures_are_cut_but_each_label_is_still_named():
    analysis = thirty_links()
    row = analysis.links[analysis.links["label"] == "TB-02-3"]
    many = pd.concat([row] * 60, ignore_index=True)
    many["label"] = [f"X-{number}" for number in range(1, 61)]
    analysis.links = schema.conform("links", many)
    text = printed(analysis, width=140)
    assert text.count("Also fails") == SHOWN
    assert f"FAIL 35 more links: X-{SHOWN + 1} … X-60 (--all prints each)" in text


def test_many_cables_that_pass_fold_once_more_by_type():
    analysis = thirty_links()
    row = analysis.links[analysis.links["label"] == "TB-01-01"]
    many = pd.concat([row] * 200, ignore_index=True)
    many["label"] = [f"C{number // 2}-{number % 2 + 1}" for number in range(200)]
    many["cable"] = many["label"].str.split("-").str[0]
    analysis.links = schema.conform("links", many)
    text = printed(analysis, width=140)
    assert text.count("PASS ") == 1
    assert "200 links, least margin 0.83 dB" in text


def test_a_flood_of_alike_findings_folds_with_their_links():
    analysis = thirty_links()
    analysis.findings = [
        Finding("wavelength-mixed", "warning", f"F-{number} is odd", "look", (f"F-{number}",))
        for number in range(1, 21)
    ]
    text = printed(analysis)
    assert text.count("WARNING") == 3
    assert "17 more like it (wavelength-mixed): F-4 … F-20" in text


def test_a_link_that_fails_in_every_world_says_why():
    analysis = thirty_links()
    chosen = analysis.links["label"] == "TB-01-01"
    analysis.links.loc[chosen, "verdict"] = "fail"
    analysis.links.loc[chosen, "sentence"] = "fails whatever the missing facts are"
    assert "Why: fails whatever the missing facts are." in printed(analysis)


def test_a_grant_is_named_and_its_absence_too():
    analysis = thirty_links()
    assert "LOOSER than the standard: required.multimode = [850], granted by nobody named" in printed(
        analysis, width=120
    )
    analysis.looser = [{"what": "x", "granted_by": "A. Owner", "date": "2026-01-05", "reference": "RFI 7"}]
    assert "LOOSER than the standard: x, granted by A. Owner, 2026-01-05, RFI 7" in printed(analysis, width=120)


def test_a_failure_is_mended_by_what_an_error_says_of_it_and_not_by_a_warning_about_papers():
    analysis = thirty_links()
    analysis.findings = [replace(FINDINGS[3], code="fact-differs", next_step="mend the schedule", links=("TB-02-3",))]
    assert "To do: inspect and clean both ends" in printed(analysis)
    analysis.findings.append(replace(FINDINGS[0], next_step="set the reference again", links=("TB-02-3",)))
    block = printed(analysis).split("TB-02-3")[1].split("INCOMPLETE")[0]
    assert "To do: set the reference again." in block


def test_a_finding_that_does_not_name_its_links_is_printed_with_them():
    analysis = thirty_links()
    analysis.findings = [Finding("fact-differs", "warning", "length: 267 m and 240 m", "mend", ("F-1", "F-2", "F-3"))]
    assert "WARNING F-1 … F-3: length: 267 m and 240 m." in printed(analysis)


def test_sisters_stand_in_natural_order_with_one_step_for_all():
    analysis = thirty_links()
    analysis.findings = [
        replace(FINDINGS[2], message=f"{label} stands out", links=(label,), next_step="inspect")
        for label in ("T-10", "T-9")
    ]
    shown = printed(analysis)
    assert "LOOK AT T-9 stands out.\n  LOOK AT T-10 stands out.\n      To do: inspect.\n" in shown


def test_a_strand_that_fails_is_not_told_again_as_one_that_passes():
    analysis = thirty_links()
    analysis.findings = [replace(FINDINGS[2], message="TB-02-3 passes at 1310 nm, but stands out", links=("TB-02-3",))]
    assert "LOOK AT" not in printed(analysis)
