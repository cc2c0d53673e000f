"""One strand number, or one pair, that is the worst again and again: a connector, a tool or a habit, not chance."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.insights.chances import at_least, drawn_at_least, threshold
from analyzer.insights.joined import Joined, chance_evidence, chance_words, group_numbers
from analyzer.insights.register import finding
from analyzer.schema import CATEGORIES, Finding

FEWEST_STRANDS = 4
"""Fewest strands of a cable of which one can be the worst."""

WORST_PART = 8
"""The part of a cable that counts as its worst strands: one in eight; a choice of ours, no source."""

FEWEST_CABLES = 5
FEWEST_LINKS = 12
TUBE = 12
"""Strands of one ribbon, tube or array connector; a position repeats with it (TIA-598-D color code of 12; memory)."""


def strand_always_worst(job: Joined) -> list[Finding]:
    """Strand numbers, or positions within a tube of twelve, that are among the worst eighth of their cable too often.

    Nearly the worst counts as well: one dirty connector elsewhere in the cable must not hide the position.
    """
    losses = job.losses
    losses = losses[losses["cable"].notna() & (losses["strand"] > 0)]
    if len(losses) < FEWEST_CABLES * FEWEST_STRANDS:
        return []
    strands = losses.groupby(["cable", "strand"], sort=True).agg(
        value=("value", "max"), link=("link", "first"), reading=("reading", "first")
    )
    strands = strands.reset_index()
    size = strands.groupby("cable")["strand"].transform("size")
    strands, size = strands[size >= FEWEST_STRANDS], size[size >= FEWEST_STRANDS]
    if strands["cable"].nunique() < FEWEST_CABLES:
        return []
    most = np.ceil(size / WORST_PART)
    strands["worst"] = strands.groupby("cable")["value"].rank(ascending=False, method="first") <= most
    strands["share"] = most / size
    families = {"strand": strands["strand"], "position": (strands["strand"] - 1) % TUBE + 1}
    counts = [
        strands.groupby(by)[["worst", "share"]].agg(seen=("worst", "sum"), usual=("share", "sum"), of=("share", "size"))
        for by in families.values()
    ]
    looks = sum(len(one) for one in counts)
    told: list[tuple[float, Finding]] = []
    for (name, by), table in zip(families.items(), counts, strict=True):
        chance = at_least(table["seen"], table["of"], table["usual"] / table["of"])
        for at in np.flatnonzero((chance < threshold(looks)) & (table["seen"] >= FEWEST_CABLES)).tolist():
            rows = strands[(by == table.index[at]) & strands["worst"]]
            told.append((float(chance[at]), _told_position(job, name, int(table.index[at]), table.iloc[at], rows)))
    return _first_of_each(told)


def _told_position(job: Joined, name: str, number: int, counts: pd.Series, rows: pd.DataFrame) -> Finding:
    seen, usual, of = int(counts["seen"]), float(counts["usual"]), int(counts["of"])
    what = f"strand {number}" if name == "strand" else f"position {number} of a tube"
    message = (
        f"{what} is among the worst eighth of its cable {seen} of {of} times; "
        f"{chance_words(seen, usual, f'among {of} strands of that number')}"
    )
    evidence = [*chance_evidence(seen, usual), *job.of_readings(rows["reading"].to_numpy())]
    return finding("position-always-worst", message, job.labels(rows["link"]), evidence=evidence)


def _first_of_each(told: list[tuple[float, Finding]]) -> list[Finding]:
    """The likeliest first; one that mostly speaks of the same links is the same position by its other name."""
    kept: list[Finding] = []
    for _, item in sorted(told, key=lambda pair: pair[0]):
        if all(len(set(item.links) & set(other.links)) < len(item.links) / 2 for other in kept):
            kept.append(item)
    return kept


def pair_always_worst(job: Joined) -> list[Finding]:
    """Pairs that are the worst of their link for one operator far more often than for the others.

    Pairs are not alike by design: the middle pairs of a plug couple most. So each crew is compared with the rest.
    """
    live = job.readings[job.readings["in_force"] & (job.readings["pair"] >= 0) & job.readings["margin"].notna()]
    if live.empty:
        return []
    live = live.sort_values(["link", "parameter", "margin"], kind="stable").drop_duplicates(["link", "parameter"])
    live = live.assign(operator=job.records["operator"].to_numpy()[live["record"].to_numpy()])
    live = live[live["operator"] != ""]
    counts = pd.crosstab([live["operator"], live["parameter"]], live["pair"])
    found, looks = [], max(int(counts.size), 1)
    groups = group_numbers(live, ["operator", "parameter"])
    for number in range(int(groups.max()) + 1 if len(groups) else 0):
        rows = live[groups == number]
        everybody = live[live["parameter"] == rows["parameter"].iloc[0]]
        if len(rows) < FEWEST_LINKS or len(everybody) - len(rows) < FEWEST_LINKS:
            continue
        pair = int(rows["pair"].mode().iloc[0])
        here, all_here = int((rows["pair"] == pair).sum()), int((everybody["pair"] == pair).sum())
        chance = float(drawn_at_least(here, len(rows), all_here, len(everybody))[0])
        if chance >= threshold(looks) or here < 2 * len(rows) * (all_here - here) / (len(everybody) - len(rows)):
            continue
        expected = len(rows) * (all_here - here) / (len(everybody) - len(rows))
        name, parameter = CATEGORIES["pair"][pair], CATEGORIES["parameter"][int(rows["parameter"].iloc[0])]
        message = (
            f"pair {name} is the worst for {parameter} on {here} of {len(rows)} links of operator "
            f"{rows['operator'].iloc[0]}; {chance_words(here, expected, 'as often as with the other operators')}"
        )
        chosen = rows[rows["pair"] == pair]
        evidence = [*chance_evidence(here, expected), *job.of_readings(chosen["reading"].to_numpy())]
        found.append(finding("position-always-worst", message, job.labels(chosen["link"]), evidence=evidence))
    return found
