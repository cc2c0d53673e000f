"""What the testers' clocks tell: tests faster than they can be, out of order, jumps, two places at once.

An hour back or forward around the Sunday on which clocks are changed is no jump; those Sundays stand in
clock_changes.csv.
"""

from __future__ import annotations

import calendar
import datetime as dt
from functools import cache

import numpy as np
import pandas as pd

from analyzer.insights.chances import EACH, poisson_at_least
from analyzer.insights.joined import Joined, chance_evidence, chance_words, counted, counted_words
from analyzer.insights.register import finding, rows_of
from analyzer.insights.series import runs_of
from analyzer.schema import Finding

LEAST_SECONDS = 5.0
"""No test with both ends in hand is shorter (common practice, no source); `screening.least_seconds` of the job wins."""

QUARTER = 0.25
"""A test in less than a quarter of the usual time of its set-up is fast as well; a choice of ours, no source."""

RUN_OF_TESTS = 5
"""Fast tests in a row that are told."""

HOUR_S, DAY_S = 3600, 86_400
BACK_S = 120
"""A clock that falls back by less was set by hand against another (common practice, no source)."""

FORWARD_DAYS = 300
"""A clock that runs ahead by more between two record numbers in a row was set wrong; a choice of ours, no source."""

AROUND_CHANGE_DAYS = 8
"""How long after the Sunday of the change a tester may still be set by an hour."""


def tests(job: Joined) -> pd.DataFrame:
    """One row per test: tester, link, time; long exports write one test over several records.

    Strands of one cable at the same instant are one test of an array.
    """
    records = job.records
    dated = records[records["dated"]].reset_index(names="record")
    dated = dated.assign(
        cable=job.links["cable"].to_numpy()[dated["link"]], medium=job.links["medium"].to_numpy()[dated["link"]]
    )
    return dated.drop_duplicates(["tester", "link", "tested_s"])


def too_fast(job: Joined) -> list[Finding]:
    """Runs of tests that follow each other faster than a tester can be moved, by tester and set-up."""
    if not job.records["has_clock"].any():
        return []
    made = tests(job)
    made = made[made["has_clock"]].drop_duplicates(["tester", "cable", "tested_s"])
    found = []
    least = float(job.job.screening.least_seconds)
    in_order = made.sort_values(["tested_s", "record"], kind="stable")
    for _, rows in in_order.groupby(["tester", "medium"], sort=True, dropna=False):
        if len(rows) < RUN_OF_TESTS + 1 or (rows["tested_s"] % 60 != 0).mean() < 0.5:
            continue  # a clock without seconds tells nothing of seconds
        gaps = np.diff(rows["tested_s"].to_numpy())
        usual = float(np.median(gaps))
        bound = max(least, QUARTER * usual) if usual > 2 * least else least
        fast = gaps < bound
        runs = [(start, stop) for start, stop in runs_of(fast) if stop - start >= RUN_OF_TESTS]
        if not runs:
            continue
        inside = sum(stop - start for start, stop in runs)
        elsewhere = (float(fast.sum()) - inside + 0.5) / (len(gaps) - inside + 1)
        expected = len(gaps) * elsewhere**RUN_OF_TESTS
        if poisson_at_least(len(runs), expected) >= EACH and bound > least:
            continue
        for start, stop in runs:
            chosen = rows.iloc[start : stop + 1]
            longest = int(gaps[start:stop].max())
            message = (
                f"{counted_words(len(chosen), 'test')}{_by(rows)} follow each other within {longest} s, the usual is "
                f"{usual:.0f} s; {chance_words(len(runs), expected, f'runs of {RUN_OF_TESTS} among {len(gaps)} gaps')}"
            )
            places = job.of_records(
                chosen["record"].to_numpy()[1:], "seconds since the test before", gaps[start:stop], "s"
            )
            evidence = [*chance_evidence(len(runs), expected), *places]
            found.append(finding("tests-too-fast", message, job.labels(chosen["link"]), evidence=evidence))
    return found


def two_places(job: Joined) -> list[Finding]:
    """One tester at the same second on cables that do not share a place."""
    if not job.records["has_clock"].any():
        return []
    made = tests(job)
    made = made[made["has_clock"] & (made["tester"] != "") & made["cable"].notna()]
    seconds = (made["tested_s"] % 60 != 0).groupby(made["tester"]).transform("mean")
    made = made[seconds >= 0.5]
    together = made[made.groupby(["tester", "tested_s"])["cable"].transform("nunique") > 1]
    if together.empty:
        return []
    instants = together.groupby(["tester", "tested_s"]).ngroups
    spread = max(int(made["tested_s"].max() - made["tested_s"].min()), 1)
    expected = len(made) * (len(made) - 1) / 2 / spread
    if poisson_at_least(instants, expected) >= EACH:
        return []
    message = (
        f"{counted_words(instants, 'instant')} at which one tester stands in records of different cables; "
        f"{chance_words(instants, expected, f'among {len(made)} tests')}"
    )
    evidence = [
        *chance_evidence(instants, expected),
        *job.of_records(together["record"].to_numpy(), "same tester, same second"),
    ]
    return [finding("two-places-at-once", message, job.labels(together["link"]), evidence=evidence)]


def out_of_order(job: Joined) -> list[Finding]:
    """Times against the tester's own record numbers: single records out of order, and clocks that jumped."""
    if not job.records["dated"].any():
        return []
    found = []
    records = numbered(job)
    dated = records[records["dated"]].drop_duplicates(["tester", "stem", "number"]).sort_values("number", kind="stable")
    for _, rows in dated.groupby(["tester", "stem"], sort=True):
        if len(rows) < 5:
            continue
        stray = _strays(rows["tested_s"].to_numpy())
        found += _jumps(job, rows[~stray])
        if stray.any() and stray.mean() <= 0.2:
            odd = rows[stray]
            message = (
                f"{counted_words(len(odd), 'record')} of {len(rows)}{_by(rows)} out of order: the time is not between those of "
                "the record numbers before and after"
            )
            places = job.of_records(odd["record"].to_numpy(), [f"record number {number}" for number in odd["number"]])
            evidence = [counted("records out of order", len(odd)), *places]
            found.append(finding("times-out-of-order", message, job.labels(odd["link"]), evidence=evidence))
    return found


def clock_not_set(job: Joined) -> list[Finding]:
    """Times from before or after the rest of the job by years, as a clock shows that was never set."""
    records = job.records
    dated = np.flatnonzero(records["dated"].to_numpy())
    if len(dated) < 5:
        return []
    seconds = records["tested_s"].to_numpy()[dated]
    far = years_away(seconds)
    if not far.any() or far.mean() > 0.4:
        return []
    rows = dated[far]
    years = sorted({str(np.datetime64(int(second), "s"))[:4] for second in seconds[far]})
    message = (
        f"{counted_words(len(rows), 'record')} dated {', '.join(years[:3])}, years away from the other "
        f"{len(dated) - len(rows)}: the clock was not set"
    )
    evidence = job.of_records(rows, [str(np.datetime64(int(second), "s")) for second in seconds[far]])
    return [finding("clock-not-set", message, job.labels(job.link_of_record[rows]), evidence=evidence)]


def years_away(seconds: np.ndarray) -> np.ndarray:
    """Which times lie more than two years from the middle of all: no day of work of this job."""
    return np.asarray(np.abs(seconds - np.median(seconds)) > 2 * 365 * DAY_S)


def numbered(job: Joined) -> pd.DataFrame:
    """Records that bear a number of their tester: record, link, tester, stem (what stands before the digits), number."""
    records = job.records
    parts = pd.Series(records["record_no"], dtype="str").str.extract(r"^(?P<stem>.*?)(?P<number>\d{1,12})$")
    has = parts["number"].notna().to_numpy()
    rows = records[has].reset_index(names="record")
    rows["number"] = parts.loc[has, "number"].astype("int64").to_numpy()
    rows["stem"] = parts.loc[has, "stem"].to_numpy(dtype=object)
    return rows


def _strays(seconds: np.ndarray) -> np.ndarray:
    """Single records whose time does not fit between neighbors that are in order themselves."""
    stray = np.zeros(len(seconds), dtype=bool)
    before, here, after = seconds[:-2], seconds[1:-1], seconds[2:]
    ordered = before <= after
    stray[1:-1] = ordered & ((here < before - BACK_S) | (here > after + BACK_S))
    return stray


def _jumps(job: Joined, rows: pd.DataFrame) -> list[Finding]:
    """Places where all times after a record number lie earlier, or absurdly later, than those before it."""
    seconds = rows["tested_s"].to_numpy()
    step = np.diff(seconds)
    back = (step < -BACK_S) & ~(_by_an_hour(step) & around_clock_change(seconds[1:]))
    ahead = step > FORWARD_DAYS * DAY_S
    found = []
    for at in np.flatnonzero(back | ahead):
        chosen = rows.iloc[at : at + 2]
        way = "back" if step[at] < 0 else "ahead"
        message = (
            f"the clock{_by(rows)} jumps {way} by {_span(abs(int(step[at])))} between record numbers "
            f"{chosen['number'].iloc[0]} and {chosen['number'].iloc[1]}"
        )
        texts = [str(np.datetime64(int(second), "s")) for second in chosen["tested_s"]]
        evidence = [
            counted("jump of the clock", float(step[at]), "s"),
            *job.of_records(chosen["record"].to_numpy(), texts),
        ]
        found.append(finding("clock-jumped", message, job.labels(rows["link"].to_numpy()[at + 1 :]), evidence=evidence))
    return found


def _by_an_hour(step: np.ndarray) -> np.ndarray:
    """Falls back by no more than an hour, which a pause before it may have shortened."""
    return np.asarray((step < 0) & (step >= -(HOUR_S + BACK_S)))


def around_clock_change(seconds: np.ndarray) -> np.ndarray:
    """Whether each time lies on a Sunday on which clocks are changed somewhere, or in the week after it."""
    days = np.asarray(seconds, dtype=np.int64) // DAY_S
    near = np.zeros(len(days), dtype=bool)
    for year in np.unique(days.astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64) + 1970).tolist():
        for sunday in change_sundays(year):
            apart = days - (sunday - dt.date(1970, 1, 1)).days
            near |= (apart >= 0) & (apart < AROUND_CHANGE_DAYS)
    return near


def change_sundays(year: int) -> list[dt.date]:
    """The Sundays of a year on which clocks are changed somewhere."""
    found = set()
    for month, which in _changes():
        days = [dt.date(year, month, day) for day in range(1, calendar.monthrange(year, month)[1] + 1)]
        sundays = [day for day in days if day.weekday() == calendar.SUNDAY]
        found.add(sundays[{"first": 0, "second": 1, "last": -1}[which]])
    return sorted(found)


@cache
def _changes() -> tuple[tuple[int, str], ...]:
    return tuple(sorted({(int(row["month"]), row["which_sunday"]) for row in rows_of("clock_changes.csv")}))


def _by(rows: pd.DataFrame) -> str:
    tester = rows["tester"].iloc[0]
    return f" of tester {tester}" if tester else ""


def _span(seconds: int) -> str:
    for size, name in ((DAY_S, "day"), (HOUR_S, "hour"), (60, "minute")):
        if seconds >= size:
            return counted_words(round(seconds / size), name)
    return f"{seconds} s"
