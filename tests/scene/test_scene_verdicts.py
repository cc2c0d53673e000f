"""The product's verdicts on the invented scene, against the arithmetic of the scene's own generator."""

import contextlib
import copy
import io
import json
from collections import Counter
from pathlib import Path

import pytest
from scene_comparison import (
    account_differences,
    expected_files,
    expected_links,
    expected_pairs,
    expected_without_result,
    fiber_only,
    link_differences,
    pair_differences,
)

from analyzer.cli.main import outcome

REPOSITORY = Path(__file__).parent.parent.parent
SAMPLES = REPOSITORY / "sample_results"
SINGLE_FILES = {
    "om4_trunk_clean.csv": 0,
    "os2_trunk_with_failures.csv": 1,
    "om4_long.csv": 0,
    "os2_two_level.xlsx": 0,
}
TOLD = [
    "TB-101-19",  # bent, passes
    "TB-102-33",  # the export calls a pass what fails by the order
    "TB-103-09",  # broken
    "TB-201-14",  # scheduled, its result carries a misspelled label
    "TB-204-12",  # marginal
    "TB-204-31",  # worse than its sisters
    "TB-204-48",  # never tested
    "TB-205-01",  # measured length far from the scheduled one
    "TB-2O1-14",  # misspelled
    "TB-301-09",  # negative loss
]


def _check(path):
    with contextlib.redirect_stdout(io.StringIO()) as said:
        code = outcome(["check", str(path), "--json"])
    return code, json.loads(said.getvalue())


@pytest.fixture(scope="module")
def campus():
    return _check(SAMPLES / "campus")


def test_every_strand_of_the_campus_is_judged_as_expected(campus):
    assert link_differences(fiber_only(campus[1]), expected_links("campus")) == []


def test_every_link_of_twisted_pair_is_judged_as_expected(campus):
    """Worst points, bounds of another limit, sweeps: to a millionth of a decibel by arithmetic that shares no code."""
    assert pair_differences(campus[1], expected_pairs("campus")) == []


def test_totals_and_exit_code_of_the_campus(campus):
    code, document = campus
    rows = [*expected_links("campus").values(), *expected_pairs("campus").values()]
    count = Counter(row["verdict"] for row in rows)
    assert document["totals"] == {"links": len(rows), **count}
    assert {medium: counts["links"] for medium, counts in document["media"].items()} == {
        "fiber": len(expected_links("campus")),
        "twisted pair": len(expected_pairs("campus")),
    }
    assert code == 1


def test_every_basis_of_a_verdict_occurs_in_the_scene(campus):
    assert {"curve", "worst point", "value", "declared verdict"} <= set(campus[1]["judged_by"])
    swept = [link for link in campus[1]["links"] if link["link"].startswith("RH-")]
    points = [{reading["points"] for reading in link["readings"] if reading["basis"] == "curve"} for link in swept]
    assert points == [{102}] * 3  # as many as the rows of each sweep


def test_scheduled_links_without_a_result_are_an_error_that_names_them(campus):
    (missing,) = [finding for finding in campus[1]["findings"] if finding["code"] == "missing-link"]
    assert missing["severity"] == "error"
    assert missing["links"] == expected_without_result("campus")


def test_every_row_and_cell_of_the_campus_is_accounted_for(campus):
    assert account_differences(campus[1], expected_files("campus/")) == []


def test_every_planted_trouble_is_told(campus):
    """Each is named by some finding or fails by its own verdict; which code it bears is the business of other tests."""
    document = campus[1]
    named = {label for finding in document["findings"] for label in finding["links"]}
    named |= {link["link"] for link in document["links"] if link["findings"] or link["verdict"] in {"fail", "marginal"}}
    assert [label for label in TOLD if label not in named] == []


def test_the_reference_that_nobody_stated_is_told(campus):
    assumed = [finding for finding in campus[1]["findings"] if finding["code"] == "reference-assumed"]
    assert len(assumed) == 1
    assert "one-cord" in assumed[0]["message"]


@pytest.mark.parametrize(("name", "exit_code"), SINGLE_FILES.items())
def test_single_files_without_a_job(name, exit_code):
    code, document = _check(SAMPLES / "single_files" / name)
    assert link_differences(document, expected_links(f"single_files/{name}")) == []
    (entry,) = document["inputs"]
    assert entry["rows"] == expected_files("single_files/")[name]["data_rows"]
    assert code == exit_code


def test_a_single_file_of_twisted_pair_without_a_job():
    name = "copper_6a_links.csv"
    code, document = _check(SAMPLES / "single_files" / name)
    assert pair_differences(document, expected_pairs(f"single_files/{name}")) == []
    assert document["cells"]["read"] == expected_files("single_files/")[name]["reading_cells"]
    # its rows carry the tester's verdicts, by the same limits: one of PF-03 says fail, so nothing differs
    assert "declared-differs" not in {found["code"] for found in document["findings"]}
    assert code == 1


@pytest.fixture
def as_expected():
    """A document that says what is expected, to show that the comparison sees each kind of difference."""
    rows = expected_links("campus").values()
    links = [
        {
            "link": row["link"],
            "verdict": row["verdict"],
            "margin_db": float(row["least_margin_db"]) if row["least_margin_db"] else None,
            "attempts": int(row["attempts"]),
        }
        for row in rows
    ]
    files = expected_files("campus/")
    read = {name: sum(row[name] for row in files.values()) for name in ("data_rows", "reading_cells")}
    return {
        "links": links,
        "inputs": [{"file": name, "rows": row["data_rows"]} for name, row in files.items()],
        "rows": {"read": read["data_rows"], "used": read["data_rows"], "set_aside": 0},
        "cells": {"read": read["reading_cells"], "used": read["reading_cells"] - 2, "set_aside": 2},
    }


def test_comparison_finds_nothing_where_nothing_differs(as_expected):
    assert link_differences(as_expected, expected_links("campus")) == []
    assert account_differences(as_expected, expected_files("campus/")) == []


@pytest.mark.parametrize(
    ("key", "value"),
    [("verdict", "fail"), ("margin_db", 9.0), ("margin_db", None), ("attempts", 7), ("link", "TB-999-01")],
)
def test_comparison_sees_a_link_that_differs(as_expected, key, value):
    document = copy.deepcopy(as_expected)
    document["links"][0][key] = value
    assert link_differences(document, expected_links("campus")) != []


@pytest.mark.parametrize(
    ("key", "value"), [("verdict", "pass"), ("margin_db", -9.0), ("proved", "6"), ("attempts", 2), ("link", "DP-999")]
)
def test_comparison_sees_a_link_of_twisted_pair_that_differs(campus, key, value):
    document = copy.deepcopy(campus[1])
    link = next(link for link in document["links"] if link["link"] == "OL-208")
    link[key] = value
    assert pair_differences(document, expected_pairs("campus")) != []


def test_comparison_sees_a_lost_row_and_a_lost_cell(as_expected):
    as_expected["inputs"][0]["rows"] -= 1
    as_expected["cells"]["used"] -= 1
    assert len(account_differences(as_expected, expected_files("campus/"))) == 2
