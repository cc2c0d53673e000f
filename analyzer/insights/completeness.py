"""What the schedule asks for and nobody tested, and what was tested and nobody asked for."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.insights.joined import EVIDENCE_SHOWN, Joined, bundles
from analyzer.insights.labels import near_misses
from analyzer.insights.register import finding
from analyzer.insights.samples import drawn_from, sample_findings
from analyzer.schema import Analysis, Evidence, Finding

CABLES_NAMED = 6


def missing_links(analysis: Analysis, *, whole_schedule: bool) -> list[Finding]:
    """Scheduled links without a result: of the whole schedule, or only of the cables that the files touch.

    Links that the job draws a sample from are told as a sample, where the whole schedule is spoken of.
    """
    if analysis.schedule.empty:
        return sample_findings(analysis, analysis.schedule)
    absent = absent_from_results(analysis, whole_schedule=whole_schedule)
    of_sample: list[Finding] = []
    if analysis.job.sampling.share is not None:
        drawn = drawn_from(absent["label"], analysis.job.sampling.links)
        of_sample = sample_findings(analysis, absent[drawn]) if whole_schedule else []
        absent = absent[~drawn]
    if absent.empty:
        return of_sample
    scheduled = len(analysis.schedule)
    # one link of a cable is told by its own label
    cable = pd.Series(bundles(analysis.schedule), analysis.schedule.index).loc[absent.index].fillna(absent["label"])
    by_cable = absent.groupby(cable, sort=False)["label"].agg(["size", "first"])
    names = [
        f"{name} ({count})" if count > 1 else first
        for name, count, first in by_cable.head(CABLES_NAMED).itertuples(name=None)
    ]
    more = f" and {len(by_cable) - CABLES_NAMED} more" if len(by_cable) > CABLES_NAMED else ""
    is_are = "link has" if len(absent) == 1 else "links have"
    message = f"{len(absent)} of {scheduled} scheduled {is_are} no result: {', '.join(names)}{more}"
    rows = absent.head(EVIDENCE_SHOWN)
    evidence = [
        Evidence(f"{label}: scheduled", None, "", "the schedule", None, row if row >= 0 else None)
        for label, row in zip(rows["label"], rows["row"].tolist(), strict=True)
    ]
    return [finding("missing-link", message, absent["label"], evidence=evidence), *of_sample]


def absent_from_results(analysis: Analysis, *, whole_schedule: bool) -> pd.DataFrame:
    """Rows of the schedule whose link has no record."""
    schedule = analysis.schedule
    tested = schedule["key"].isin(analysis.links["key"])
    asked = ~tested & ~covered_by_group(analysis)
    if not whole_schedule:
        touched = schedule.loc[~asked, "cable_key"].dropna().unique()
        asked &= schedule["cable_key"].isin(touched)
    return schedule[asked]


def extra_links(analysis: Analysis, *, whole_schedule: bool) -> list[Finding]:
    """Tested links that the schedule does not know, and those of them whose label nearly matches a missing one."""
    links = analysis.links
    if analysis.schedule.empty:
        return []
    unknown = ~links["scheduled"].to_numpy() & ~_speaks_for_scheduled(analysis)
    extra = links.loc[unknown, "label"]
    if extra.empty:
        return []
    near = near_misses(extra, absent_from_results(analysis, whole_schedule=whole_schedule))
    count = "1 tested link does" if len(extra) == 1 else f"{len(extra)} tested links do"
    records = links["first_record"].to_numpy()[unknown]
    evidence = Joined(analysis).of_records(records, "tested, not scheduled")
    return [finding("extra-link", f"{count} not stand in the schedule", extra, evidence=evidence), *near]


def retests_by_suffix(analysis: Analysis) -> list[Finding]:
    """Labels that are another label with a mark of a retest behind it: proposed, never joined."""
    links = analysis.links
    keys = links["key"].astype("object").fillna("").astype("str")
    stem = keys.str.replace(_RETEST_MARK, "", regex=True)
    hit = (stem != keys) & stem.isin(keys[keys != ""])
    if not hit.any():
        return []
    labels = links.loc[hit, "label"]
    first = links.loc[keys == stem[hit].iloc[0], "label"].iloc[0]
    of = keys[hit].index.to_numpy()
    told = [f'may be a retest of "{label}"' for label in _label_of_key(links, stem[hit])]
    evidence = Joined(analysis).of_records(links["first_record"].to_numpy()[of], told)
    count = "1 label looks like a retest" if len(labels) == 1 else f"{len(labels)} labels look like retests"
    return [
        finding(
            "retest-suffix",
            f'{count} of another link, such as "{labels.iloc[0]}" of "{first}"',
            labels,
            evidence=evidence,
        )
    ]


def _label_of_key(links: pd.DataFrame, keys: pd.Series) -> list[str]:
    known = links.drop_duplicates("key").set_index("key")["label"]
    return known.reindex(keys).astype("object").tolist()


_RETEST_MARK = r"(?:[\s._-]*\(\d{1,2}\)|[\s._-]+\(?(?:r\d?|rt\d?|retest\s?\d?|re-test\s?\d?|repeat)\)?)$"


def group_values(analysis: Analysis) -> list[Finding]:
    """Links that a range label covers with one value."""
    several = analysis.records[analysis.records["strands"] > 1].drop_duplicates("link")
    if several.empty:
        return []
    labels = analysis.links["label"].take(several["link"].to_numpy())
    strands = int(several["strands"].sum())
    speaks = "1 link speaks" if len(labels) == 1 else f"{len(labels)} links speak"
    message = f"{speaks} for {strands} strands with one value each: covered by a group value only"
    scheduled = int(covered_by_group(analysis).sum())
    if scheduled:
        message += f" ({scheduled} scheduled {'strand' if scheduled == 1 else 'strands'})"
    evidence = Joined(analysis).of_records(
        several["record"].to_numpy(), "strands with one value", several["strands"].to_numpy()
    )
    return [finding("group-value", message, labels, evidence=evidence)]


def _speaks_for_scheduled(analysis: Analysis) -> np.ndarray:
    """For each link: its label is a range of strands of a scheduled cable, so it is told as a group value."""
    records = analysis.records
    several = (records["strands"] > 1).to_numpy()
    out = np.zeros(len(analysis.links), dtype=bool)
    if several.any():
        stem = records.loc[several, "key"].astype("str").str.extract(_RANGE)["stem"]
        known = stem.isin(analysis.schedule["cable_key"].dropna()).to_numpy()
        out[records.loc[several, "link"].to_numpy()[known]] = True
    return out


def covered_by_group(analysis: Analysis) -> np.ndarray:
    """For each row of the schedule: whether a range label such as `TB-01-01..12` speaks for that strand."""
    schedule, records = analysis.schedule, analysis.records
    covered = np.zeros(len(schedule), dtype=bool)
    several = (records["strands"] > 1).to_numpy()
    if schedule.empty or not several.any():
        return covered
    ranges = records.loc[several, "key"].astype("str").drop_duplicates().str.extract(_RANGE).dropna()
    strands = schedule[["cable_key", "strand"]].reset_index(names="row")
    pairs = strands.merge(ranges.astype({"first": "int64", "last": "int64"}), left_on="cable_key", right_on="stem")
    inside = (pairs["strand"] >= pairs["first"]) & (pairs["strand"] <= pairs["last"])
    covered[pairs.loc[inside, "row"].to_numpy()] = True
    return covered


_RANGE = r"^(?P<stem>.*?)[\s._/:-]*(?<!\d)(?P<first>\d{1,5})\s*(?:-|\u2013|\.{2,})\s*(?P<last>\d{1,5})$"
