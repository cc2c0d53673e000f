"""Operators and testers against the lists of the job."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.insights.joined import Joined, counted_words
from analyzer.insights.register import finding
from analyzer.schema import Finding

_NAMELESS = ""


def certificate_lapsed(job: Joined) -> list[Finding]:
    """Operators who tested after the last day of the certificate that the job states for them."""
    until = {_plain(name): day for name, day in job.job.people.certified_until.items()}
    if not until or not job.records["dated"].any():
        return []
    records = job.records
    last = pd.Series(records["operator"]).map(_plain).map(until)
    ends = pd.to_datetime(last).to_numpy().astype("datetime64[D]").astype(np.int64)
    late = records["dated"].to_numpy() & last.notna().to_numpy() & (records["tested_s"].to_numpy() // 86_400 > ends)
    found = []
    at = np.flatnonzero(late)
    for name, rows in pd.Series(at).groupby(records["operator"].to_numpy()[at], sort=True):
        links = job.labels(job.link_of_record[rows.to_numpy()])
        message = f"{counted_words(len(links), 'link')} tested by {name} after {until[_plain(name)]}, the last day of the certificate"
        days = [f"tested on {np.datetime64(int(second), 's')}" for second in records["tested_s"].to_numpy()[rows]]
        found.append(finding("certificate-lapsed", message, links, evidence=job.of_records(rows.to_numpy(), days)))
    return found


def _plain(name: object) -> str:
    return " ".join(str(name).split()).casefold()


def not_on_the_list(job: Joined) -> list[Finding]:
    """Operators and testers that stand in records and not on the job's list; only where the job has such a list."""
    lists = {"operator": job.job.people.operators, "tester": [one.tester for one in job.job.instruments]}
    found = []
    for what, allowed in lists.items():
        if not allowed:
            continue
        known = {_plain(name) for name in allowed}
        said = pd.Series(job.records[what].to_numpy(dtype=object))
        said = said.where(said != "", _NAMELESS)
        odd = said[~said.map(_plain).isin(known)]
        for name, rows in odd.groupby(odd, sort=True):
            at = rows.index.to_numpy()
            links = job.labels(job.link_of_record[at])
            by = "by" if what == "operator" else "with"
            who = "who" if what == "operator" else "which"
            message = f"{counted_words(len(links), 'link')} tested {by} {what} {name}, {who} is not on the job's list"
            if name == _NAMELESS:
                article = "an" if what == "operator" else "a"
                message = f"{counted_words(len(links), 'link')} tested without naming {article} {what}, though the job has a list"
            code = "operator-not-listed" if what == "operator" else "tester-not-listed"
            told = f"{what} {name}" if name != _NAMELESS else f"no {what} named"
            found.append(finding(code, message, links, evidence=job.of_records(at, told)))
    return found
