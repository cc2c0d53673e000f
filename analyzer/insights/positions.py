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

FEWEST_CABLES = 5
FEWEST_LINKS = 12
TUBE = 12
"""Strands of one ribbon, tube or array connector; a position repeats with it (TIA-598-D color code of 12; memory)."""


def strand_always_worst(job: Joined) -> list[Finding]:
    """Positions within a tube of twelve whose strand has the highest loss of its cable far too often."""
    losses = job.losses
    losses = losses[losses["cable"].notna() & (losses["strand"] > 0)]
    best = losses.groupby(["cable", "strand"], sort=False).agg(
        value=("value", "max"), link=("link", "first"), reading=("reading", "first")
    )
    if best.empty:
        return []
    best = best.reset_index().sort_values(["cable", "value", "strand"], ascending=[True, False, True], kind="stable")
    best["position"] = (best["strand"] - 1) % TUBE + 1
    size = best.groupby("cable")["strand"].transform("size")
    best = best[size >= FEWEST_STRANDS]
    worst = best.drop_duplicates("cable")
    if len(worst) < FEWEST_CABLES:
        return []
    share = best.groupby(["cable", "position"]).size() / best.groupby("cable").size()
    usual = share.groupby("position").sum()
    seen = worst["position"].value_counts().reindex(usual.index, fill_value=0)
    chance = at_least(seen, len(worst), usual / len(worst))
    found = []
    for at in np.flatnonzero((chance < threshold(len(usual))) & (seen >= FEWEST_CABLES)).tolist():
        position, count, expected = int(usual.index[at]), int(seen.iloc[at]), float(usual.iloc[at])
        rows = worst[worst["position"] == position]
        message = (
            f"strand {position} of its tube has the highest loss of its cable in {count} of {len(worst)} cables; "
            f"{chance_words(count, expected, f'among {len(worst)} cables')}"
        )
        evidence = [*chance_evidence(count, expected), *job.of_readings(rows["reading"].to_numpy())]
        found.append(finding("position-always-worst", message, job.labels(rows["link"]), evidence=evidence))
    return found


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
