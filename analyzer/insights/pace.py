"""How the tests are spread over days and people: days on which one operator tests far more, and tests left to the end."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.insights.clocks import years_away
from analyzer.insights.joined import Joined, counted, counted_words
from analyzer.insights.register import finding
from analyzer.schema import Finding

TIMES_USUAL = 3.0
"""Tests of one operator on one day against the median of all days of work (owners' complaint P17)."""
LAST_DAYS, LAST_TESTS = 0.2, 0.6
"""Share of the days at the end in which more than this share of the tests is told (owners' complaint P17)."""
FEWEST_TESTS, FEWEST_DAYS_OF_WORK, FEWEST_DAYS = 100, 6, 10
"""Smaller jobs are worked off in a few days, whatever the pace; choices of ours, no source."""
NAMED = 4
_DAY_S = 86_400


def busy_days(job: Joined) -> list[Finding]:
    """Days on which an operator made more than three times the tests that are usual for one day of one operator."""
    tests = _tests(job)
    if len(tests) < FEWEST_TESTS:
        return []
    tests["operator"] = np.where(tests["operator"] == "", tests["tester"], tests["operator"])
    days = tests.groupby(["operator", "day"], sort=True)["record"].agg(["size", "first"]).reset_index()
    usual = float(days["size"].median())
    busy = days[days["size"] > TIMES_USUAL * usual].sort_values("size", ascending=False, kind="stable")
    if len(days) < FEWEST_DAYS_OF_WORK or busy.empty:
        return []
    named = ", ".join(
        f"{size} tests{f' by {who}' if who else ''} on {_date(day)}"
        for who, day, size in zip(busy["operator"][:NAMED], busy["day"][:NAMED], busy["size"][:NAMED], strict=True)
    )
    rest = f" and {counted_words(len(busy) - NAMED, 'more day')}" if len(busy) > NAMED else ""
    message = f"{named}{rest}; the usual is {usual:g} a day of one operator, over {len(days)} days of work"
    on = tests.merge(busy[["operator", "day"]], on=["operator", "day"])
    evidence = [
        counted("usual tests of one operator in a day", usual),
        *job.of_records(busy["first"].to_numpy(), "first of the tests of that day, in all", busy["size"].to_numpy()),
    ]
    return [finding("busy-day", message, job.labels(on["link"]), evidence=evidence)]


def left_to_the_end(job: Joined) -> list[Finding]:
    """More than 60 % of the tests in the last 20 % of the days from the first test to the last."""
    tests = _tests(job)
    if len(tests) < FEWEST_TESTS:
        return []
    first, last = int(tests["day"].min()), int(tests["day"].max())
    days = last - first + 1
    from_day = last - int(LAST_DAYS * days) + 1
    late = tests[tests["day"] >= from_day]
    if days < FEWEST_DAYS or len(late) <= LAST_TESTS * len(tests):
        return []
    message = (
        f"{len(late)} of {len(tests)} tests were made in the last {counted_words(last - from_day + 1, 'day')} of {days}, "
        f"from {_date(from_day)} on"
    )
    evidence = [
        counted("tests", len(tests)), counted("of them in the last fifth of the days", len(late)),
        *job.of_records(late["record"].to_numpy()[:3], "tested late"),
    ]  # fmt: skip
    return [finding("tests-at-the-end", message, evidence=evidence)]


def _tests(job: Joined) -> pd.DataFrame:
    """One row per test that has a day: a link at one time by one tester; a clock that was never set tells no day."""
    records = job.records
    dated = records[records["dated"]].reset_index(names="record")
    if len(dated):
        dated = dated[~years_away(dated["tested_s"].to_numpy())]
    made: pd.DataFrame = dated.drop_duplicates(["tester", "link", "tested_s"])
    return made.assign(day=made["tested_s"].to_numpy() // _DAY_S)


def _date(day: int) -> str:
    return str(np.datetime64(int(day), "D"))
