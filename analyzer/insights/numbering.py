"""What is not there: numbers missing from the testers' own count, and failures that this crew usually has."""

from __future__ import annotations

import numpy as np

from analyzer.insights.chances import EACH, predictive_at_most
from analyzer.insights.clocks import numbered
from analyzer.insights.joined import Joined, counted, counted_words
from analyzer.insights.register import finding
from analyzer.schema import Finding

DENSE = 0.8
"""A tester counts its records without gaps if at least this share of the numbers is there; else nothing is told."""

FEWEST_NUMBERS = 10
RANGES_TOLD = 3


def record_gaps(job: Joined) -> list[Finding]:
    """Record numbers of a tester that are missing between its first and its last: tests that were not handed over."""
    if len(job.records) < FEWEST_NUMBERS:
        return []
    found = []
    counted_once = numbered(job).drop_duplicates(["tester", "stem", "number"]).sort_values("number", kind="stable")
    for (tester, stem), rows in counted_once.groupby(["tester", "stem"], sort=True):
        numbers = rows["number"].to_numpy()
        if len(numbers) < FEWEST_NUMBERS:
            continue
        span = int(numbers[-1] - numbers[0]) + 1
        missing = span - len(numbers)
        if not missing or len(numbers) < DENSE * span:
            continue
        steps = np.diff(numbers)
        at = np.flatnonzero(steps > 1)
        ranges = [_range(str(stem), int(numbers[i]) + 1, int(numbers[i + 1]) - 1) for i in at]
        more = f" and {len(ranges) - RANGES_TOLD} more places" if len(ranges) > RANGES_TOLD else ""
        of_tester = f" of tester {tester}" if tester else ""
        is_are = "record number is" if missing == 1 else "record numbers are"
        message = (
            f"{missing} {is_are} missing{of_tester}: {', '.join(ranges[:RANGES_TOLD])}{more}; among {span} numbers in a row "
            f"a tester that counts every record leaves none out, {missing} missing"
        )
        beside = np.unique(np.r_[at, at + 1])
        chosen = rows.iloc[beside]
        places = job.of_records(chosen["record"].to_numpy(), [f"record number {n}" for n in chosen["number"]])
        evidence = [counted("numbers missing", missing), counted("numbers in a row", span), *places]
        found.append(finding("record-numbers-missing", message, job.labels(chosen["link"]), evidence=evidence))
    return found


def too_few_failures(job: Joined) -> list[Finding]:
    """Fewer failures than this contractor's own history lets expect; only where the job states that history."""
    history = job.job.history
    if not history.links or history.failures is None:
        return []
    judged = (job.analysis.links["decided_by"] >= 0).to_numpy() | job.first_failed
    links, failed = int(judged.sum()), int(job.first_failed.sum())
    chance = predictive_at_most(failed, links, (history.failures, history.links))
    if chance >= EACH:
        return []
    expected = links * history.failures / history.links
    message = (
        f"{counted_words(failed, 'link')} of {links} judged failed at any test; this contractor's history ({history.failures} of "
        f"{history.links}) lets expect about {expected:.0f}, so few come by chance once in {1 / max(chance, 1e-9):,.0f} jobs"
    )
    evidence = [counted("links that failed", failed), counted("expected from the history", expected)]
    return [finding("too-few-failures", message, evidence=evidence)]


def _range(stem: str, first: int, last: int) -> str:
    return f"{stem}{first}" if first == last else f"{stem}{first} to {stem}{last}"
