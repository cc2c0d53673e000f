"""Limits and configurations against each other and against the schedule."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.insights.joined import Joined, counted, counted_words
from analyzer.insights.register import finding
from analyzer.schema import Finding


def limits_mixed(job: Joined) -> list[Finding]:
    """Cables of which some links were tested to another limit than the rest."""
    records = job.analysis.records
    named = np.flatnonzero(records["declared_limit"].notna().to_numpy() & job.records["in_use"].to_numpy())
    if not len(named):
        return []
    frame = pd.DataFrame(
        {
            "record": named,
            "link": job.link_of_record[named],
            "limit": [" ".join(str(text).split()) for text in records["declared_limit"].to_numpy()[named]],
        }
    )
    frame["cable"] = job.links["cable"].to_numpy()[frame["link"]]
    frame = frame.dropna(subset="cable")
    several = frame.groupby("cable")["limit"].transform("nunique") > 1
    found = []
    for cable, rows in frame[several].groupby("cable", sort=True):
        counts = rows["limit"].value_counts()
        usual = counts.index[0]
        odd = rows[rows["limit"] != usual]
        others = ", ".join(sorted(odd["limit"].unique())[:3])
        message = (
            f"{cable}: {counted_words(odd['link'].nunique(), 'link')} tested to {others}, the other "
            f"{rows.loc[rows['limit'] == usual, 'link'].nunique()} to {usual}"
        )
        evidence = [
            counted(f"records tested to {usual}", int(counts.iloc[0])),
            *job.of_records(odd["record"].to_numpy(), [f"tested to {limit}" for limit in odd["limit"]]),
        ]
        found.append(finding("limits-mixed", message, job.labels(odd["link"]), evidence=evidence))
    return found


_JACKS_AT_BOTH = ("permanent link", "channel")


def plug_tested_as_other(job: Joined) -> list[Finding]:
    """Links that the schedule ends in a plug and that were tested as a permanent link or a channel."""
    schedule, records = job.analysis.schedule, job.analysis.records
    if schedule.empty:
        return []
    ends = schedule[["end_type_a", "end_type_b"]].astype("object")
    plug = set(schedule.loc[(ends == "plug").any(axis=1), "key"])
    if not plug:
        return []
    copper = (job.links["medium"] == "twisted pair").to_numpy()[job.link_of_record]
    hit = copper & records["key"].isin(plug).to_numpy() & records["configuration"].isin(_JACKS_AT_BOTH).to_numpy()
    rows = np.flatnonzero(hit)
    found = []
    for configuration, some in pd.Series(rows).groupby(records["configuration"].astype("object").to_numpy()[rows]):
        at = some.to_numpy()
        links = job.labels(job.link_of_record[at])
        message = (
            f"{counted_words(len(links), 'link')} with a plug at one end by the schedule, tested as {configuration}: "
            "the plug is not in the reading, or its limits are not those of the link"
        )
        found.append(
            finding("plug-tested-as-other", message, links, evidence=job.of_records(at, f"tested as {configuration}"))
        )
    return found
