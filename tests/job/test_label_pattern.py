"""Patterns of labels: what is plain passes, what could run away is refused."""

from __future__ import annotations

import re
import time

import pytest

from analyzer.errors import JobError
from analyzer.job import parse_job
from analyzer.job.label_pattern import why_not_safe


@pytest.mark.parametrize(
    "pattern",
    [
        r"TB-\d{3}-\d{2}",
        r"^[0-9]{1,2}[A-Z]-[A-Z]\d{1,3}$",
        r"(?:TB|WA)-\d{3}-\d{2}",
        r"TB-\d+(?:-\d{1,2})?",
        r"[A-Z\-]+\.[0-9]*",
        r"(?:\d{2}-){3}\d{2}",
        "plain text",
    ],
)
def test_plain_patterns_are_accepted(pattern):
    assert why_not_safe(pattern) == ""


@pytest.mark.parametrize(
    "pattern",
    ["(a+)+", r"(\w*)*", "(a|aa)+", "(?:a|b)*c", "(a{1,3}){2,9}", "((ab)+c)+", "(a?){20}", "(x+x+)+y", r"(\d{1,2},?)+"],
)
def test_what_could_run_away_is_refused(pattern):
    assert "run away" in why_not_safe(pattern)


def test_such_a_pattern_does_run_away_in_an_engine_that_tries_every_way():
    # 22 signs take more than a hundred times as long as 12 do: the reason for refusing
    def seconds(signs):
        begun = time.perf_counter()
        re.fullmatch("(a+)+b", "a" * signs)
        return time.perf_counter() - begun

    assert seconds(22) > 100 * seconds(12)


@pytest.mark.parametrize(
    ("pattern", "why"),
    [
        ("a**", "after another repeat"),
        ("*a", "after nothing"),
        ("(?=a)b", "ahead or behind"),
        ("(?i)a", "sets a flag"),
        (r"(a)\1", "engines read it differently"),
        (r"\bTB", "engines read it differently"),
        ("[[:alpha:]]", "engines read it differently"),
        ("[A-Z", "never closed"),
        ("(a", "never closed"),
        ("a)", "never opened"),
        ("a{2", "begins no count"),
        ("a{999}", "a count above 100"),
        ("((a{9}){9}){9}", "a count above 100"),
        ("[z-a]", "no regular expression"),
        ("a" * 201, "longer than 200"),
        ("a?" * 13, "more than 12 repeats"),
        ("TB\\", "ends in a backslash"),
    ],
)
def test_other_patterns_are_refused_with_the_reason(pattern, why):
    assert why in why_not_safe(pattern)


def test_the_job_refuses_it_in_one_sentence():
    with pytest.raises(JobError) as caught:
        parse_job(b"[labels]\npattern = '(a+)+$'\n", "job.toml")
    (problem,) = caught.value.problems
    assert problem.startswith('labels.pattern is "(a+)+$" (a repeat or a choice stands inside a repeat')


def test_more_failures_than_links_are_refused():
    with pytest.raises(JobError, match=r"more than history\.links"):
        parse_job(b"[history]\nlinks = 10\nfailures = 11\n", "job.toml")
