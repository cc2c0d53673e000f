"""Operators and testers against the lists of the job."""

from __future__ import annotations

import pandas as pd

from analyzer.insights.joined import Joined, counted_words
from analyzer.insights.register import finding
from analyzer.schema import Finding


def not_on_the_list(job: Joined) -> list[Finding]:
    """Operators and testers that stand in records and not on the job's list; only where the job has such a list."""
    lists = {"operator": job.job.people.operators, "tester": [one.tester for one in job.job.instruments]}
    found = []
    for what, allowed in lists.items():
        if not allowed:
            continue
        known = {" ".join(name.split()).casefold() for name in allowed}
        said = pd.Series(job.records[what].to_numpy(dtype=object))
        odd = said[(said != "") & ~said.map(lambda name: " ".join(str(name).split()).casefold()).isin(known)]
        for name, rows in odd.groupby(odd, sort=True):
            at = rows.index.to_numpy()
            links = job.labels(job.link_of_record[at])
            message = f"{counted_words(len(links), 'link')} tested by {what} {name}, who is not on the job's list"
            if what == "tester":
                message = message.replace("who is", "which is").replace("tested by", "tested with")
            code = "operator-not-listed" if what == "operator" else "tester-not-listed"
            found.append(finding(code, message, links, evidence=job.of_records(at, f"{what} {name}")))
    return found
