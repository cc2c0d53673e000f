"""Every rule of practice stands in the coverage table once, and what the table names exists and is checked."""

import re
from pathlib import Path

import pytest
from practice_cases import CASES

from analyzer.insights.practice import coverage_page, practice_rules
from analyzer.insights.register import register
from analyzer.job import known_keys
from analyzer.job.closing import closing_rules

EVERY_RULE = [f"R{n:02d}" for n in range(1, 66)] + [f"P{n:02d}" for n in range(1, 25)] + [f"T{n}" for n in range(1, 16)]


def test_every_rule_stands_there_once_in_order():
    assert [row.rule for row in practice_rules()] == EVERY_RULE


def test_everything_that_is_named_exists():
    for row in practice_rules():
        assert set(row.findings) <= set(register()), row.rule
        assert set(row.keys) <= set(known_keys()), row.rule
        assert set(row.closing) <= set(closing_rules()), row.rule


def test_every_rule_is_answered_or_says_why_not():
    for row in practice_rules():
        assert row.asks, row.rule
        assert row.findings or row.closing or row.elsewhere or row.not_checked, row.rule


def test_no_rule_waits_for_what_is_not_built():
    assert not [row.rule for row in practice_rules() if row.not_checked.startswith("not yet")]


def test_closing_rules_and_the_table_name_the_same_demands():
    by_rule = {row.rule: set(row.closing) for row in practice_rules()}
    for name, rule in closing_rules().items():
        for requirement in rule.requirements:
            assert name in by_rule[requirement], f"{requirement} is answered by {name}"


def test_every_case_is_of_rules_that_name_its_code():
    named = {row.rule: set(row.findings) for row in practice_rules()}
    for name, (rules, codes, _, _) in CASES.items():
        for rule in rules:
            assert named[rule] & codes, f"{name}: {rule} names none of {sorted(codes)}"


def test_the_page_is_made_from_the_table_and_holds_every_rule_once():
    page = coverage_page()
    assert (Path(__file__).parents[2] / "docs" / "practice.md").read_text(encoding="utf-8") == page
    assert [rule for rule in EVERY_RULE if len(re.findall(rf"^\| {rule} \|", page, re.MULTILINE)) != 1] == []


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_the_trouble_is_told(name, tmp_path):
    _, codes, clean, change = CASES[name]
    folder = clean()
    change(folder)
    told = {found.code for found in folder.analyzed(tmp_path / "job").findings}
    assert codes <= told


QUIET = {"accuracy-unknown", "limits-unconfirmed"}


@pytest.mark.parametrize("clean", sorted({case[2] for case in CASES.values()}, key=lambda clean: clean.__name__))
def test_of_the_clean_folder_nothing_is_told(clean, tmp_path):
    analysis = clean().analyzed(tmp_path / "job")
    assert {found.code for found in analysis.findings} <= QUIET
    assert analysis.totals["pass"] == 8
