"""The few repairs that mend the most failures: failing links covered by what they share, the largest share first."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from analyzer.insights.joined import Joined, counted
from analyzer.insights.register import finding
from analyzer.schema import Finding

REPAIRS = 5
FEWEST_FAILING = 3
SHARED_RATE = 0.25
"""What is shared is the likely cause only if at least this share of its links fails; a choice of ours, no source."""


class Repair(NamedTuple):
    """One thing to look at, the failing links that it may mend, and how many links it has in all."""

    what: str
    links: np.ndarray
    of: int


def best_repairs(job: Joined) -> list[Repair]:
    """At most five repairs, chosen one after the other by how many failing links they add (greedy set cover).

    What can be shared is the cable, the place of either end, and the tube of twelve strands; a link that shares its
    failure with none is a repair of its own. Greedy choice covers at least 63 % of what any five could (Nemhauser,
    Wolsey and Fisher 1978, Math. Program. 14:265).
    """
    fails = (job.links["verdict"] == "fail").to_numpy()
    open_links = set(np.flatnonzero(fails).tolist())
    shared = _shared(job, fails)
    repairs: list[Repair] = []
    while open_links and len(repairs) < REPAIRS:
        gains = [(len(open_links.intersection(one.links.tolist())), -one.of, one.what, one) for one in shared]
        best = max(gains, default=(0, 0, "", None), key=lambda gain: gain[:3])
        if best[3] is None or best[0] < 2:
            break
        added = np.array(sorted(open_links.intersection(best[3].links.tolist())))
        repairs.append(Repair(best[3].what, added, best[3].of))
        open_links -= set(added.tolist())
    single = sorted(open_links)[: REPAIRS - len(repairs)]
    return [*repairs, *(Repair(f"link {job.links['label'].iloc[link]}", np.array([link]), 1) for link in single)]


def told_repairs(job: Joined) -> list[Finding]:
    """The five repairs that mend the most, where several links fail for something they share."""
    failing = int((job.links["verdict"] == "fail").sum())
    if failing < FEWEST_FAILING:
        return []
    repairs = best_repairs(job)
    if not any(len(one.links) > 1 for one in repairs):
        return []
    covered = sum(len(one.links) for one in repairs)
    parts = [f"{one.what} ({len(one.links)} failing of {one.of})" if one.of > 1 else one.what for one in repairs]
    count = "1 place" if len(repairs) == 1 else f"{len(repairs)} places"
    message = f"{covered} of {failing} failing links lie in {count}: {'; '.join(parts)}"
    evidence = [counted(f"failing links: {one.what}", len(one.links)) for one in repairs]
    links = job.labels(np.concatenate([one.links for one in repairs]))
    return [finding("best-repairs", message, links, evidence=evidence)]


def _shared(job: Joined, fails: np.ndarray) -> list[Repair]:
    links = job.links
    cable = links["cable"].astype("object").fillna("")
    tube = ((links["strand"] - 1) // 12).where(links["strand"] > 0, -1)
    first = (tube * 12 + 1).astype("str")
    last = (tube * 12 + 12).astype("str")
    names = {
        "cable": cable,
        "place": links["place_a"].astype("object").fillna(""),
        "other end": links["place_b"].astype("object").fillna(""),
        "strands": (cable + " strands " + first + " to " + last).where((cable != "") & (tube >= 0), ""),
    }
    found = []
    for kind, texts in names.items():
        word = {"cable": "cable ", "place": "at ", "other end": "at ", "strands": ""}[kind]
        sizes = texts.value_counts()
        for text, rows in texts[fails & (texts != "").to_numpy()].groupby(texts, sort=True):
            of = int(sizes[text])
            if len(rows) >= 2 and len(rows) >= SHARED_RATE * of:
                found.append(Repair(f"{word}{text}", rows.index.to_numpy(), of))
    return found
