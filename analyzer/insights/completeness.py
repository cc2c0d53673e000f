"""What the schedule asks for and nobody tested, and what was tested and nobody asked for."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.insights.register import finding
from analyzer.schema import Analysis, Finding

NEAR_ENOUGH = 88.0
"""Score of rapidfuzz (0 to 100) from which two labels are told as nearly the same; a choice of ours, no source."""

MOST_COMPARED = 4_000_000
"""Pairs of labels that are compared at the most; beyond that near misses are not looked for."""


def missing_links(analysis: Analysis, *, whole_schedule: bool) -> list[Finding]:
    """Scheduled links without a result: of the whole schedule, or only of the cables that the files touch."""
    absent = absent_from_results(analysis, whole_schedule=whole_schedule)
    if absent.empty:
        return []
    scheduled = len(analysis.schedule)
    by_cable = absent.groupby("cable", sort=False).size()
    where = ", ".join(f"{cable} ({count})" for cable, count in by_cable.head(6).items())
    more = f" and {len(by_cable) - 6} more cables" if len(by_cable) > 6 else ""
    is_are = "link has" if len(absent) == 1 else "links have"
    message = f"{len(absent)} of {scheduled} scheduled {is_are} no result: {where}{more}"
    return [finding("missing-link", message, absent["label"])]


def absent_from_results(analysis: Analysis, *, whole_schedule: bool) -> pd.DataFrame:
    """Rows of the schedule whose link has no record."""
    schedule = analysis.schedule
    tested = schedule["key"].isin(analysis.links["key"])
    asked = ~tested
    if not whole_schedule:
        touched = schedule.loc[tested, "cable_key"].dropna().unique()
        asked &= schedule["cable_key"].isin(touched)
    return schedule[asked]


def extra_links(analysis: Analysis, *, whole_schedule: bool) -> list[Finding]:
    """Tested links that the schedule does not know, and those of them whose label nearly matches a missing one."""
    links = analysis.links
    if analysis.schedule.empty:
        return []
    extra = links.loc[~links["scheduled"], "label"]
    if extra.empty:
        return []
    absent = absent_from_results(analysis, whole_schedule=whole_schedule)["label"]
    near = _near_misses(extra, absent)
    found = [
        finding(
            "label-near-miss",
            f'tested "{label}" nearly matches scheduled "{other}" without a result (score {score:.0f} of 100)',
            [label],
        )
        for label, other, score in near
    ]
    count = "1 tested link does" if len(extra) == 1 else f"{len(extra)} tested links do"
    return [finding("extra-link", f"{count} not stand in the schedule", extra), *found]


def _near_misses(extra: pd.Series, absent: pd.Series) -> list[tuple[str, str, float]]:
    """Best pairs first, each label in one pair at the most."""
    if absent.empty or len(extra) * len(absent) > MOST_COMPARED:
        return []
    from rapidfuzz import fuzz, process

    labels, others = extra.to_numpy(dtype=object), absent.to_numpy(dtype=object)
    scores = process.cdist(labels, others, scorer=fuzz.ratio, score_cutoff=NEAR_ENOUGH)
    rows, columns = np.nonzero(scores)
    best = np.argsort(-scores[rows, columns], kind="stable")
    pairs = zip(labels[rows[best]], others[columns[best]], scores[rows[best], columns[best]], strict=True)
    taken: set[str] = set()
    chosen = []
    for label, other, score in pairs:
        if label not in taken and other not in taken:
            taken |= {label, other}
            chosen.append((str(label), str(other), float(score)))
    return chosen


def group_values(analysis: Analysis) -> list[Finding]:
    """Links that a range label covers with one value."""
    several = analysis.records[analysis.records["strands"] > 1]
    if several.empty:
        return []
    labels = analysis.links["label"].take(several["link"].unique())
    strands = int(several["strands"].sum())
    return [
        finding(
            "group-value",
            f"{len(labels)} records speak for {strands} strands with one value each: covered by a group value only",
            labels,
        )
    ]
