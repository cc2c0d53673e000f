"""Failure and marginal rates by who, where, when and with what, each with its exact interval.

A rate of few links is drawn towards the rate of all, so that three links make no scandal.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.insights.chances import drawn_at_least, exact_interval, shrunk_rates, threshold
from analyzer.insights.joined import Joined, counted
from analyzer.insights.register import finding
from analyzer.schema import Finding

BY = ("operator", "tester", "panel", "cable", "room", "area", "day")
"""What links are grouped by. A panel is the cable's end place with its last number, a room that place without it."""

TWICE = 2.0
"""A group is told if its shrunk rate is at least twice that of the others; a choice of ours, no source."""

FEWEST_FAILURES = 3
ALREADY_TOLD = 0.8
"""A group whose failures are to this share those of a group told before is the same trouble under another name."""


def rates(job: Joined) -> pd.DataFrame:
    """Failure and marginal rates of every group.

    Returns:
        One row per group: by, name, links, failures, marginal, rate, low, high (exact, 95 %), shrunk, others (rate of
        all other links), chance (of as many failures in a group drawn at random).
    """
    parts = [_rates_by(job, name) for name in BY]
    parts = [part for part in parts if len(part)]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=_COLUMNS)


_COLUMNS = ["by", "name", "links", "failures", "marginal", "rate", "low", "high", "shrunk", "others", "chance"]


def high_rates(job: Joined) -> list[Finding]:
    """Groups that fail far more often than the rest of the job, the least likely first, each trouble once."""
    if job.first_failed.sum() < FEWEST_FAILURES:
        return []
    table = rates(job)
    if table.empty:
        return []
    overall = float(job.first_failed.mean())
    hit = table[
        (table["chance"] < threshold(len(table)))
        & (table["shrunk"] >= TWICE * np.maximum(table["others"], 0.25 * overall))
        & (table["failures"] >= FEWEST_FAILURES)
    ]
    told: list[set[int]] = []
    found = []
    groups = {name: _group_of(job, name) for name in BY}
    for row in hit.sort_values(["chance", "links"], kind="stable").to_dict("records"):
        links = np.flatnonzero((groups[row["by"]] == row["name"]) & job.first_failed)
        here = set(links.tolist())
        if any(len(here & before) >= ALREADY_TOLD * min(len(here), len(before)) for before in told):
            continue
        told.append(here)
        message = (
            f"{row['by']} {row['name']}: {row['failures']} of {row['links']} links failed a test "
            f"({row['rate']:.0%}, 95 % interval {row['low']:.0%} to {row['high']:.0%}; drawn towards the rest of the job "
            f"{row['shrunk']:.0%}), elsewhere {row['others']:.1%}; a group drawn at random has as many once in "
            f"{1 / max(row['chance'], 1e-12):,.0f}"
        )
        evidence = [
            counted(name.replace("_", " "), float(row[name]))
            for name in ("failures", "links", "rate", "low", "high", "shrunk")
        ]
        found.append(finding("failure-rate-high", message, job.labels(links), evidence=evidence))
    return found


def _rates_by(job: Joined, name: str) -> pd.DataFrame:
    group = pd.Series(_group_of(job, name))
    known = group.notna() & (group != "")
    if known.sum() < 2 or group[known].nunique() < 2:
        return pd.DataFrame(columns=_COLUMNS)
    failed = pd.Series(job.first_failed)
    marginal = job.links["verdict"] == "marginal"
    grouped = pd.DataFrame({"failed": failed, "marginal": marginal})[known].groupby(group[known], sort=True)
    table = grouped.agg(links=("failed", "size"), failures=("failed", "sum"), marginal=("marginal", "sum"))
    links, failures = table["links"].to_numpy(), table["failures"].to_numpy()
    everybody, all_failed = int(links.sum()), int(failures.sum())
    table["rate"] = failures / links
    table["low"], table["high"] = exact_interval(failures, links)
    table["shrunk"] = shrunk_rates(failures, links).rates
    table["others"] = (all_failed - failures) / np.maximum(everybody - links, 1)
    table["chance"] = drawn_at_least(failures, links, all_failed, everybody) if all_failed else 1.0
    return table.reset_index(names="name").assign(by=name)[_COLUMNS]


def _group_of(job: Joined, by: str) -> np.ndarray:
    """Name of the group of each link, "" where unknown."""
    if by in {"operator", "tester", "day"}:
        return _of_first_test(job, by)
    links = job.links
    place = links["place_a"].where(links["place_a"].notna(), links["place_b"]).astype("str")
    texts = {
        "panel": place,
        "room": place.str.replace(_LAST_PART, "", regex=True),
        "cable": links["cable"],
        "area": links["area"],
    }[by]
    return texts.astype("object").fillna("").to_numpy(dtype=object)


_LAST_PART = r"[\s,;/-]*(?:panel|rack|row|field|frame)?[\s.:#-]*\w*\d+$"


def _of_first_test(job: Joined, by: str) -> np.ndarray:
    """Operator, tester or day of the first record of each link: a retest by another crew is not theirs."""
    records = job.records
    out = np.full(len(job.links), "", dtype=object)
    when = np.lexsort((np.arange(len(records)), records["tested_s"].to_numpy(), ~records["dated"].to_numpy()))
    ordered = records.take(when).drop_duplicates("link")
    if by == "day":
        days = (
            ordered["tested_s"].to_numpy().astype("datetime64[s]").astype("datetime64[D]").astype("str").astype(object)
        )
        values = np.where(ordered["dated"], days, "")
    else:
        values = ordered[by].to_numpy(dtype=object)
    out[ordered["link"].to_numpy()] = values
    return out
