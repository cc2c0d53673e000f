"""The product's JSON beside the truth of the scene: every difference in words."""

from __future__ import annotations

import csv
from typing import Any

from scene_campus import HERE

SAME_DB = 1e-6


def expected_links(source: str) -> dict[str, dict[str, str]]:
    """Rows of expected.csv for the campus or for one single file, by label; only links that have a result."""
    return {link: row for link, row in _expected(source).items() if row["verdict"] != "no result"}


def expected_without_result(source: str) -> list[str]:
    """Labels of scheduled links that nobody tested: no link of the document, but an error that names them."""
    return [link for link, row in _expected(source).items() if row["verdict"] == "no result"]


def _expected(source: str) -> dict[str, dict[str, str]]:
    with (HERE / "expected.csv").open(encoding="utf-8", newline="") as lines:
        return {row["link"]: row for row in csv.DictReader(lines) if row["source"] == source}


def expected_files(below: str) -> dict[str, dict[str, str]]:
    """Rows of expected_files.csv below a folder, by their path in it."""
    with (HERE / "expected_files.csv").open(encoding="utf-8", newline="") as lines:
        rows = [row for row in csv.DictReader(lines) if row["file"].startswith(below)]
    return {row["file"].removeprefix(below): row for row in rows}


def margin_differs(link: dict[str, Any], row: dict[str, str]) -> bool:
    """Whether the least margin is another one.

    Measured and scheduled length differ by a few decimeters, and either may govern: a margin between the two is the
    same (they lie less than 0.003 dB apart). An incomplete link need not state one.
    """
    margin_db = link["margin_db"]
    if not row["least_margin_db"]:
        return margin_db is not None
    if margin_db is None:
        return row["verdict"] != "incomplete"
    said = [float(row[name]) for name in ("least_margin_db", "least_margin_db_at_schedule_length") if row[name]]
    return not min(said) - SAME_DB <= margin_db <= max(said) + SAME_DB


def link_differences(document: dict[str, Any], expected: dict[str, dict[str, str]]) -> list[str]:
    """One sentence for each link that is missing, one too many, or judged in another way."""
    links = {link["link"]: link for link in document["links"]}
    told = [f"{label}: expected, not in the document" for label in expected if label not in links]
    told += [f"{label}: in the document, not expected" for label in links if label not in expected]
    for label in links.keys() & expected.keys():
        link, row = links[label], expected[label]
        if link["verdict"] != row["verdict"]:
            told.append(f"{label}: {link['verdict']}, expected {row['verdict']} {row['planted']}".rstrip())
        if margin_differs(link, row):
            told.append(f"{label}: margin {link['margin_db']} dB, expected {row['least_margin_db']} dB")
        if link["attempts"] != int(row["attempts"]):
            told.append(f"{label}: {link['attempts']} attempts, expected {row['attempts']}")
    return sorted(told)


def account_differences(document: dict[str, Any], expected: dict[str, dict[str, str]]) -> list[str]:
    """One sentence for each file whose rows, and one for all files whose loss cells, were counted in another way."""
    read = {entry["file"]: entry for entry in document["inputs"]}
    told = [f"{name}: not read" for name in expected if name not in read]
    for name in read.keys() & expected.keys():
        rows, wanted = read[name]["rows"], int(expected[name]["data_rows"])
        if rows != wanted:
            told.append(f"{name}: {rows} rows, expected {wanted}")
    cells, wanted = document["cells"]["read"], sum(int(row["loss_cells"]) for row in expected.values())
    if cells != wanted:
        told.append(f"{cells} cells read, expected {wanted}")
    for what in ("rows", "cells"):
        account = document[what]
        if account["read"] != account["used"] + account["set_aside"]:
            told.append(f"the {what} do not add up: {account}")
    return sorted(told)
