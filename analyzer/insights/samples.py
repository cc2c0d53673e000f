"""What was tested on a sample alone: whether it is large enough and spread, and what a sample of that size may miss."""

from __future__ import annotations

import math
from collections.abc import Iterable
from fnmatch import translate

import numpy as np
import pandas as pd

from analyzer.insights.chances import missed_by_sample
from analyzer.insights.joined import Joined, counted, counted_words
from analyzer.insights.register import finding
from analyzer.schema import CATEGORIES, Analysis, Evidence, Finding
from analyzer.standards import load

BAD_SHARES = (0.01, 0.025, 0.05, 0.10)
"""Shares of bad links for which the chance to miss them all is told; examples, no claim."""
NAMED = 6
ALIEN = tuple(CATEGORIES["parameter"].index(name) for name in ("PSANEXT", "PSAACR-F"))


def drawn_from(labels: pd.Series, patterns: Iterable[str]) -> np.ndarray:
    """Which labels fit one of the shell patterns; upper and lower case are one."""
    hit = np.zeros(len(labels), dtype=bool)
    for pattern in patterns:
        hit |= labels.astype("str").str.fullmatch(translate(pattern), case=False).to_numpy(dtype=bool)
    return hit


def sample_findings(analysis: Analysis, absent: pd.DataFrame) -> list[Finding]:
    """One finding on the sample of links that the job declares: what it may have missed, or that it is too small.

    Args:
        analysis: the run; its job declares the sample.
        absent: rows of the schedule that the sample is drawn from and that have no result.
    """
    sampling, schedule = analysis.job.sampling, analysis.schedule
    if sampling.share is None:
        return []
    drawn = schedule[drawn_from(schedule["label"], sampling.links)]
    if drawn.empty:
        declared = f"a sample of {100 * sampling.share:g} % is declared"
        why = "there is no schedule" if schedule.empty else f"no scheduled link fits {', '.join(sampling.links)}"
        return [finding("sample-not-known", f"{declared}, and {why}: nothing tells whether enough was tested")]
    everything, tested = len(drawn), len(drawn) - len(absent)
    wanted = math.ceil(sampling.share * everything - 1e-9)
    counts = [counted("links that the sample is drawn from", everything), counted("of them tested", tested)]
    where = _first_rows(absent)
    declared = f"a sample of {100 * sampling.share:g} % is declared, {counted_words(wanted, 'link')} of {everything}"
    if tested < wanted:
        message = f"{declared}, and {tested} {'has' if tested == 1 else 'have'} a result"
        return [
            finding("sample-too-small", message, absent["label"], evidence=[*counts, counted("wanted", wanted), *where])
        ]
    if absent.empty:
        return []
    bad = sorted({max(round(share * everything), 1) for share in BAD_SHARES})
    chances = [missed_by_sample(everything, number, tested) for number in bad]
    told = ", ".join(
        f"{chance:.0%} if {number} {'is' if number == 1 else 'are'} bad"
        for number, chance in zip(bad, chances, strict=True)
    )
    untouched = _untouched(drawn, absent)
    rest = f"; of {_names(untouched)} nothing was tested" if untouched else ""
    message = (
        f"{declared}, and {tested} were tested. Drawn at random they miss every bad link of the {everything} with a chance of "
        f"{told}; faults cluster, so it is larger where the sample is not spread{rest}"
    )
    evidence = [
        *counts,
        *(
            counted(f"chance that {number} bad links are all missed", chance)
            for number, chance in zip(bad, chances, strict=True)
        ),
        *where,
    ]
    return [finding("sample-tested", message, absent["label"], evidence=evidence)]


def _untouched(drawn: pd.DataFrame, absent: pd.DataFrame) -> list[str]:
    """Cables of several links, or areas, of which the sample holds nothing."""
    several = drawn["cable_key"].map(drawn["cable_key"].value_counts()) > 1
    group = drawn["cable"].where(several, drawn["area"])
    size = group.value_counts()
    without = group.loc[absent.index].value_counts()
    return sorted(str(name) for name in without.index if without[name] == size[name])


def _names(names: list[str]) -> str:
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return ", ".join(names[:NAMED]) + more


def _first_rows(absent: pd.DataFrame) -> list[Evidence]:
    rows = absent.head(3)
    return [
        Evidence(f"{label}: scheduled, not tested", None, "", "the schedule", None, row if row >= 0 else None)
        for label, row in zip(rows["label"], rows["row"].tolist(), strict=True)
    ]


def alien_sample_short(job: Joined) -> list[Finding]:
    """Grades of which too few links have alien crosstalk, or of which they lie in too few bundles."""
    share = job.job.sampling.alien_crosstalk
    if share is None:
        return []
    found = []
    grades = {row["grade"] for row in load().rows("copper_limits") if row["parameter"] == "PSANEXT"}
    live = job.measured[job.measured["in_force"]]
    have = np.logical_and.reduce(
        [np.isin(np.arange(len(job.links)), live.loc[live["parameter"] == code, "link"]) for code in ALIEN]
    )
    copper = job.links[(job.links["medium"] == "twisted pair") & job.links["type"].isin(grades)]
    for grade, links in copper.groupby("type", sort=True):
        at = links.index.to_numpy()
        wanted = math.ceil(share * len(at) - 1e-9)
        bundles = links["cable"].fillna("")
        touched, of = bundles[have[at]].nunique(), bundles.nunique()
        measured = int(have[at].sum())
        if measured >= wanted and touched >= min(wanted, of):
            continue
        message = (
            f"{grade}: PSANEXT and PSAACR-F on {counted_words(measured, 'link')} of {len(at)} in {touched} of "
            f"{counted_words(of, 'bundle')}; the sample asks for {wanted} links in {min(wanted, of)}"
        )
        evidence = [
            counted(f"{grade} links", len(at)), counted("with alien crosstalk", measured), counted("wanted", wanted),
            counted("bundles", of), counted("bundles with alien crosstalk", touched),
            *job.of_records(_records_of(job, at[have[at]]), "alien crosstalk measured"),
        ]  # fmt: skip
        untouched = at[~np.isin(bundles.to_numpy(), bundles[have[at]].unique())]
        found.append(finding("alien-sample-short", message, job.labels(untouched), evidence=evidence))
    return found


def _records_of(job: Joined, links: np.ndarray) -> np.ndarray:
    return np.flatnonzero(np.isin(job.link_of_record, links))[:3]
