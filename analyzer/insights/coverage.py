"""What a link lacks that was required, or that its neighbors have: folded for each cable."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from analyzer.budget.required import NOT_JUDGED
from analyzer.insights.joined import Joined, counted, counted_words
from analyzer.insights.register import finding
from analyzer.schema import CATEGORIES, Finding

FEWEST_SISTERS = 4
MOST_HAVE = 0.75
"""Share of the links of a cable that must have a reading before it is missed on the others; a choice of ours, no source."""

NAMED = 6
MOST_CABLES = 12
"""Cables that are told one by one; what is missing on more is one trouble of the job."""


def tests_missing(job: Joined) -> list[Finding]:
    """Wavelengths, directions, ends and parameters that the order requires and that are missing, one finding a cable."""
    links = job.analysis.links
    missing = links["missing"].fillna("").astype("object")
    lacking = (missing != "").to_numpy()
    if not lacking.any():
        return []
    rows = pd.DataFrame({"cable": job.links["cable"], "missing": missing})[lacking]
    rows = rows.assign(what=rows["missing"].str.split("; ")).explode("what")
    there = rows["what"].str.contains(f"{NOT_JUDGED}|^declared failed|^nothing could", regex=True)
    rows = rows[~there.to_numpy(dtype=bool)]
    if rows["cable"].nunique() > MOST_CABLES:
        return _missing_everywhere(job, rows)
    found = []
    for cable, some in rows.fillna({"cable": ""}).groupby("cable", sort=True):
        counts = some["what"].value_counts()
        of = int((job.links["cable"] == cable).sum()) if cable else len(set(some.index))
        parts = [f"{what} on {counted_words(int(count), 'link')}" for what, count in counts.items()]
        where = f"{cable!s}: " if cable else ""
        message = f"{where}{'; '.join(parts[:NAMED])} missing, of {counted_words(of, 'link')} tested"
        evidence = [counted(f"links without {what}", int(count)) for what, count in counts.items()]
        found.append(finding("test-missing", message, job.labels(some.index.to_numpy()), evidence=evidence))
    return found


def _missing_everywhere(job: Joined, rows: pd.DataFrame) -> list[Finding]:
    """What is missing on many cables: one finding for each thing that is missing."""
    found = []
    for what, some in rows.groupby("what", sort=True):
        cables = some["cable"].dropna().unique()
        message = (
            f"{what} missing on {counted_words(len(some), 'link')} of {counted_words(len(cables), 'cable')}: "
            f"{', '.join(map(str, cables[:NAMED]))}{' and more' if len(cables) > NAMED else ''}"
        )
        evidence = [counted(f"links without {what}", len(some)), counted("cables", len(cables))]
        found.append(finding("test-missing", message, job.labels(some.index.to_numpy()), evidence=evidence))
    return found


def unlike_sisters(job: Joined) -> list[Finding]:
    """Links that lack a reading which most links of their cable have, though nothing requires it: one finding a cable."""
    if len(job.links) < FEWEST_SISTERS:
        return []
    live = job.measured[job.measured["in_force"]]
    keys = ["parameter", "wavelength_nm", "pair", "end", "direction"]
    # the worst of all pairs and ends speaks for all of them: which one it was is chance
    worst = job.analysis.readings["worst"].to_numpy()[live["reading"].to_numpy()]
    live = live.assign(**{key: live[key].mask(worst, -1) for key in ("pair", "end")})
    live = live.assign(cable=job.links["cable"].to_numpy()[live["link"].to_numpy()]).dropna(subset="cable")
    live = live.drop_duplicates(["link", *keys])
    if live.empty:
        return []
    links = live.drop_duplicates("link")["cable"].value_counts()
    have = live.groupby(["cable", *keys], sort=True)["link"].agg(["size", "first"]).reset_index()
    have["of"] = links.reindex(have["cable"]).to_numpy()
    few = have[(have["of"] >= FEWEST_SISTERS) & (have["size"] >= MOST_HAVE * have["of"]) & (have["size"] < have["of"])]
    required = job.analysis.links["missing"].fillna("").astype("object").to_numpy()
    found = []
    for cable, kinds in few.groupby("cable", sort=True):
        here = live[live["cable"] == cable]
        everyone = here["link"].unique()
        without: dict[int, list[str]] = {}
        for kind in kinds.to_dict("records"):
            has = here[np.logical_and.reduce([here[key] == kind[key] for key in keys])]["link"]
            for link in np.setdiff1d(everyone, has):
                if not required[link]:  # told with what is required
                    without.setdefault(int(link), []).append(_words(kind))
        if not without:
            continue
        what = sorted({word for words in without.values() for word in words})
        more = f" and {len(what) - NAMED} more" if len(what) > NAMED else ""
        message = (
            f"{cable}: {counted_words(len(without), 'link')} of {len(everyone)} without {', '.join(what[:NAMED])}{more}, "
            "which the others have"
        )
        evidence = [
            counted(f"links of {cable} with it", int(kind["size"])) for kind in kinds.head(3).to_dict("records")
        ]
        found.append(finding("test-unlike-sisters", message, job.labels(list(without)), evidence=evidence))
    return found


def strand_gaps(job: Joined) -> list[Finding]:
    """Without a schedule: strand numbers that are missing between tested ones of a cable."""
    if len(job.analysis.schedule) or len(job.links) < FEWEST_SISTERS:
        return []
    links = job.links[(job.links["strand"] > 0) & job.links["cable"].notna()]
    grouped = links.groupby("cable", sort=True)["strand"]
    ends = grouped.agg(["min", "max", "nunique"])
    short = ends[
        (ends["nunique"] >= FEWEST_SISTERS)
        & (ends["max"] - ends["min"] + 1 > ends["nunique"])
        & (ends["nunique"] >= 0.5 * (ends["max"] - ends["min"] + 1))
    ]
    found = []
    for cable, row in zip(short.index, short.to_dict("records"), strict=True):
        have = links.loc[links["cable"] == cable, "strand"].to_numpy()
        absent = np.setdiff1d(np.arange(row["min"], row["max"] + 1), have)
        named = ", ".join(map(str, absent[:NAMED])) + (
            f" and {len(absent) - NAMED} more" if len(absent) > NAMED else ""
        )
        message = (
            f"{cable}: strand {named} {'stands' if len(absent) == 1 else 'stand'} between tested ones and "
            f"{'has' if len(absent) == 1 else 'have'} no result"
        )
        evidence = [counted("strands without a result", len(absent)), counted("strands tested", int(row["nunique"]))]
        found.append(finding("strands-missing", message, evidence=evidence))
    return found


def _words(kind: dict[Any, Any]) -> str:
    """What a reading is of, from its codes."""
    words = str(CATEGORIES["parameter"][kind["parameter"]])
    if kind["pair"] >= 0:
        words += f" {CATEGORIES['pair'][kind['pair']]}"
    if kind["wavelength_nm"] > 0:
        words += f" at {kind['wavelength_nm']} nm"
    if kind["direction"] >= 0:
        words += f" {CATEGORIES['direction'][kind['direction']]}"
    if kind["end"] >= 0:
        words += f" from end {CATEGORIES['end'][kind['end']]}"
    return words
