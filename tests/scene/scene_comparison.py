"""The product's JSON beside the truth of the scene: every difference in words."""

from __future__ import annotations

import csv
from typing import Any

from scene_campus import HERE

SAME_DB = 1e-6


def fiber_only(document: dict[str, Any]) -> dict[str, Any]:
    """The document without its links of twisted pair."""
    return document | {"links": [link for link in document["links"] if link["medium"] != "twisted pair"]}


def expected_links(source: str) -> dict[str, dict[str, str]]:
    """Rows of expected.csv for the campus or for one single file, by label; only links that have a result."""
    return {link: row for link, row in _expected(source).items() if row["verdict"] != "no result"}


def expected_pairs(source: str) -> dict[str, dict[str, str]]:
    """The same of expected_pairs.csv: the links of twisted pair."""
    return {link: row for link, row in _expected(source, "expected_pairs.csv").items() if row["verdict"] != "no result"}


def expected_without_result(source: str) -> list[str]:
    """Labels of scheduled links that nobody tested: no link of the document, but an error that names them."""
    rows = {**_expected(source), **_expected(source, "expected_pairs.csv")}
    return [link for link, row in rows.items() if row["verdict"] == "no result"]


def _expected(source: str, table: str = "expected.csv") -> dict[str, dict[str, str]]:
    with (HERE / table).open(encoding="utf-8", newline="") as lines:
        return {row["link"]: row for row in csv.DictReader(lines) if row["source"] == source}


def expected_files(below: str) -> dict[str, dict[str, int]]:
    """Data rows and reading cells of each file below a folder, by its path in it."""
    found = {}
    for table, cells in (("expected_files.csv", "loss_cells"), ("expected_pair_files.csv", "reading_cells")):
        with (HERE / table).open(encoding="utf-8", newline="") as lines:
            for row in csv.DictReader(lines):
                if row["file"].startswith(below):
                    counts = {"data_rows": int(row["data_rows"]), "reading_cells": int(row[cells])}
                    found[row["file"].removeprefix(below)] = counts
    return found


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


def pair_differences(document: dict[str, Any], expected: dict[str, dict[str, str]]) -> list[str]:
    """The same for links of twisted pair: verdict, least margin, what a failing link fails by, the best grade proved."""
    links = {link["link"]: link for link in document["links"] if link["medium"] == "twisted pair"}
    told = [f"{label}: expected, not in the document" for label in expected if label not in links]
    told += [f"{label}: in the document, not expected" for label in links if label not in expected]
    for label in links.keys() & expected.keys():
        told += [f"{label}: {words}" for words in _pair_link(links[label], expected[label])]
    return sorted(told)


def _pair_link(link: dict[str, Any], row: dict[str, str]) -> list[str]:
    told = []
    if link["verdict"] != row["verdict"]:
        told.append(f"{link['verdict']}, expected {row['verdict']} {row['planted']}".rstrip())
    by_wire_map = row["wire_map"] != "pass"
    if row["least_margin_db"] and not by_wire_map:
        margin_db = link["margin_db"]
        if margin_db is None or abs(margin_db - float(row["least_margin_db"])) > SAME_DB:
            told.append(f"margin {margin_db} dB, expected {row['least_margin_db']} dB")
    if row["verdict"] == "fail":
        reading = link["readings"][link["decided_by_reading"]]
        names = ("parameter", "pair", "end", "frequency_mhz")
        got = [reading[name] for name in names]
        wanted = [row["parameter"], row["pair"], row["end"], float(row["frequency_mhz"])]
        if got != (["wire map", None, None, None] if by_wire_map else wanted):
            told.append(f"decided by {got}, expected {wanted}")
        proved = f"{row['proved']} {row['configuration']}" if row["proved"] else None
        if link["proved"] != proved:
            told.append(f"proves {link['proved']}, expected {proved}")
    if link["attempts"] != 1:
        told.append(f"{link['attempts']} attempts, expected 1")
    return told


def account_differences(document: dict[str, Any], expected: dict[str, dict[str, str]]) -> list[str]:
    """One sentence for each file whose rows, and one for all files whose reading cells, were counted in another way."""
    read = {entry["file"]: entry for entry in document["inputs"]}
    told = [f"{name}: not read" for name in expected if name not in read]
    for name in read.keys() & expected.keys():
        rows, wanted = read[name]["rows"], expected[name]["data_rows"]
        if rows != wanted:
            told.append(f"{name}: {rows} rows, expected {wanted}")
    cells, wanted = document["cells"]["read"], sum(row["reading_cells"] for row in expected.values())
    if cells != wanted:
        told.append(f"{cells} cells read, expected {wanted}")
    for what in ("rows", "cells"):
        account = document[what]
        if account["read"] != account["used"] + account["set_aside"]:
            told.append(f"the {what} do not add up: {account}")
    return sorted(told)
