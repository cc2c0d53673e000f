"""Worn test leads and adapters: return loss and NEXT of one tester fall steadily over its tests, those of others do not.

A lead wears with every mating (practice note P22). Links of one panel or room share cable, length and installer: how much
they have in common is measured on the panels of all testers, and so much less do they count. What wears the cords of
fiber shows as losses whose level rises, which `references.drifted` tells.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer.insights.chances import threshold
from analyzer.insights.joined import Joined, chance_evidence, chance_words, counted, counted_words, group_numbers
from analyzer.insights.register import finding
from analyzer.insights.series import Trend, rest_of_line, shared_in_groups, trend
from analyzer.schema import CATEGORIES, Finding

PARAMETERS = ("return loss", "NEXT")

LEAST_FALL_DB = 1.0
"""Fall over the whole job that is told (P22 of the practice notes, judgement)."""

FEWEST_PANELS, FEWEST_LINKS = 5, 30
"""Fewest panels and links of one tester; choices of ours, no source."""

PANEL = 24
"""Links that are taken together in the order of testing where no label tells panels apart."""

MOST_POINTS = 300
"""Longer series are pooled, neighbor with neighbor."""


class Series(NamedTuple):
    """Links of one tester, type, parameter and end in the order of testing."""

    tester: str
    type: str
    parameter: str
    end: str
    rows: pd.DataFrame
    """One row per link: link, reading, level: what is usual for pair and length taken out [dB]."""
    level: np.ndarray
    """Level of the points of the series [dB]."""
    panel: np.ndarray
    """Number of the panel of each point."""
    trend: Trend

    @property
    def what(self) -> str:
        """What was read, in words."""
        return f"{self.parameter} at end {self.end}" if self.end else self.parameter

    @property
    def change_db(self) -> float:
        """Change over the job along the line of the trend [dB]."""
        return self.trend.slope * (len(self.level) - 1)


def worn(job: Joined) -> list[Finding]:
    """Testers whose margins fall by a decibel and more over their tests, while other testers on the same type do not."""
    series = _series(job)
    hits: dict[tuple[str, str], list[Series]] = {}
    for one in series:
        if -one.change_db < LEAST_FALL_DB or one.trend.fall_chance >= threshold(len(series)):
            continue
        others = _others(one, series)
        if others and np.median([other.change_db for other in others]) > one.change_db / 2:
            hits.setdefault((one.tester, one.type), []).append(one)
    return [_told(job, some, series) for some in hits.values()]


def _others(one: Series, series: list[Series]) -> list[Series]:
    return [
        other for other in series if (other.type, other.what) == (one.type, one.what) and other.tester != one.tester
    ]


def _series(job: Joined) -> list[Series]:
    codes = [CATEGORIES["parameter"].index(name) for name in PARAMETERS]
    live = job.readings[job.readings["in_force"] & job.readings["parameter"].isin(codes)]
    records = job.records.take(live["record"].to_numpy()).reset_index(drop=True)
    keep = (records["dated"] & (records["tester"] != "")).to_numpy()
    if keep.sum() < FEWEST_LINKS:
        return []
    links = job.links.take(live["link"].to_numpy()).reset_index(drop=True)
    rows = live.reset_index(drop=True).assign(
        tester=records["tester"], tested_s=records["tested_s"], cable=links["cable"],
        type=links["type"].fillna("").astype(str),
        length_m=job.analysis.links["length_m"].to_numpy(dtype=float)[live["link"].to_numpy()],
    )[keep]  # fmt: skip
    found = []
    rows["parameter"] = np.asarray(CATEGORIES["parameter"], dtype=object)[rows["parameter"].to_numpy()]
    rows["end"] = np.asarray([*CATEGORIES["end"], ""], dtype=object)[rows["end"].to_numpy()]
    for (kind, parameter, end), own in rows.groupby(["type", "parameter", "end"], sort=True):
        if len(own["tester"].unique()) > 1:
            parts = [
                _one_series((str(tester), str(kind), str(parameter), str(end)), mine)
                for tester, mine in _levels(own).groupby("tester", sort=True)
            ]
            found += _tested([part for part in parts if part is not None])
    return found


def _levels(rows: pd.DataFrame) -> pd.DataFrame:
    """One row per tester and link: mean over its pairs, what is usual for the pair and the length taken out."""
    margin = rows["margin"].to_numpy()
    # margins where the readings have them, else the readings themselves: more is better of both
    value = margin if np.isfinite(margin).mean() >= MOSTLY else rows["value"].to_numpy()
    rows = rows.assign(level=value)[np.isfinite(value)]
    rows = rows.assign(level=rows["level"] - rows.groupby("pair")["level"].transform("median"))
    # the reading shown as evidence is the lowest of its link
    rows = rows.sort_values("level", kind="stable")
    links = rows.groupby(["tester", "link"], sort=True).agg(
        level=("level", "mean"), reading=("reading", "first"), tested_s=("tested_s", "min"), cable=("cable", "first"),
        length_m=("length_m", "first"),
    )  # fmt: skip
    links = links.reset_index()
    known = links["length_m"].notna().to_numpy()
    if known.sum() >= FEWEST_LINKS:
        links = links[known].reset_index(drop=True)
        links["level"] = rest_of_line(links["length_m"].to_numpy(), links["level"].to_numpy())
    return links


MOSTLY = 0.9
"""Share of the readings that must have a margin for margins to be compared."""


def _one_series(of: tuple[str, str, str, str], links: pd.DataFrame) -> Series | None:
    """The series of one tester, type, parameter and end; None where it is too short or nothing tells its order."""
    links = links.sort_values(["tested_s", "link"], kind="stable").reset_index(drop=True)
    panel = group_numbers(links, ["cable"])
    sizes = np.bincount(panel)
    if np.median(sizes) < FEWEST_LINKS / FEWEST_PANELS or len(sizes) < FEWEST_PANELS:
        panel = np.arange(len(links)) // PANEL
    moments = len(links["tested_s"].unique())
    if len(links) < FEWEST_LINKS or min(panel.max() + 1, moments) < FEWEST_PANELS:
        return None
    point = np.arange(len(links)) // -(-len(links) // MOST_POINTS)
    first = np.flatnonzero(np.diff(point, prepend=-1))
    level = links["level"].groupby(point).mean().to_numpy()
    _, used = np.unique(panel[first], return_inverse=True)
    return Series(*of, links, level, used, trend(level))


def _tested(series: list[Series]) -> list[Series]:
    """The series of one type and parameter, their trends tested with what links of a panel have in common."""
    if not series:
        return []
    rest = [one.level - one.level.mean() - one.trend.slope * _centered(len(one.level)) for one in series]
    panels = [int(one.panel.max()) + 1 for one in series]
    before = np.cumsum([0, *panels[:-1]])
    panel = np.concatenate([one.panel + shift for one, shift in zip(series, before, strict=True)])
    shared, freedom = shared_in_groups(np.concatenate(rest), panel), max(sum(panels) - 2 * len(series), 1)
    return [one._replace(trend=trend(one.level, shared, freedom)) for one in series]


def _centered(count: int) -> np.ndarray:
    return np.arange(count) - (count - 1) / 2


def _told(job: Joined, some: list[Series], series: list[Series]) -> Finding:
    some = sorted(some, key=lambda one: (PARAMETERS.index(one.parameter), one.end))
    first = some[0]
    falls = [f"{one.what} by {-one.change_db:.1f} dB" for one in some]
    others = [f"{other.tester} {round(other.change_db, 1) + 0.0:+.1f} dB" for other in _others(first, series)]
    expected = min(one.trend.fall_chance for one in some) * len(series)
    looked = f"among {counted_words(len(series), 'series', 'series')} of one tester, parameter and end"
    message = (
        f"margins of tester {first.tester} fall over its {len(first.rows)} links in the order of testing, "
        f"{' and '.join(falls)}; those of others do not ({first.what}: {', '.join(others[:4])}); "
        f"{chance_words(len(some), expected, looked)}"
    )
    late = first.rows.iloc[len(first.rows) // 2 :]
    worst = late.sort_values("level", kind="stable")["reading"].to_numpy()
    levels = [
        counted(f"{one.what}, median of the {where} quarter of the links, from the usual of its type", level, "dB")
        for one in some
        for where, level in zip(("first", "last"), _quarters(one.rows["level"].to_numpy()), strict=True)
    ]
    evidence = [*chance_evidence(len(some), expected), *levels, *job.of_readings(worst)]
    return finding("leads-worn", message, job.labels(late["link"]), evidence=evidence)


def _quarters(level: np.ndarray) -> tuple[float, float]:
    part = max(len(level) // 4, 1)
    return float(np.median(level[:part])), float(np.median(level[-part:]))
