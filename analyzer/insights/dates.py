"""Dates of tests against the job: before the cable was there, after hand-over, before a repair, out of calibration."""

from __future__ import annotations

import datetime as dt
from fnmatch import translate
from typing import Any

import numpy as np
import pandas as pd

from analyzer.insights.joined import Joined, counted, counted_words
from analyzer.insights.register import finding
from analyzer.schema import Finding

CALIBRATION_DAYS = 365
"""A calibration holds for a year where neither job nor maker says otherwise (owner rule R27: six owners ask for it)."""


def outside_the_job(job: Joined) -> list[Finding]:
    """Tests from before the cable was installed, and from after the hand-over."""
    dates = job.job.dates
    found = []
    for code, bound, sign, words in (
        ("test-before-install", dates.installed, -1, "before the cable was installed"),
        ("test-after-handover", dates.handover, 1, "after the hand-over"),
    ):
        if bound is None:
            continue
        days = _days(job)
        hit = job.records["dated"].to_numpy() & (sign * (days - _day_number(bound)) > 0)
        if not hit.any():
            continue
        rows = np.flatnonzero(hit)
        links = job.labels(job.link_of_record[rows])
        message = f"{counted_words(len(links), 'link')} tested {words} ({bound:%Y-%m-%d}): {_span_of(days[rows])}"
        if _day_and_month_exchanged(days, dates):
            message += "; with day and month exchanged nearly all dates would fit"
        found.append(finding(code, message, links, evidence=job.of_records(rows, _dates(days[rows]))))
    return found


def before_repair(job: Joined) -> list[Finding]:
    """Links whose last test is older than a repair, or other work, that the job names, or bears no date."""
    if not job.job.repairs:
        return []
    found = []
    latest = _latest(job)
    labels = job.links["label"].astype("str")
    for repair in job.job.repairs:
        touched = np.zeros(len(labels), dtype=bool)
        for pattern in repair.links:
            touched |= labels.str.fullmatch(translate(pattern), case=False).to_numpy(dtype=bool)
        old = touched & (latest["record"].to_numpy() >= 0) & (latest["day"].to_numpy() < _day_number(repair.date))
        undated = touched & (latest["record"].to_numpy() < 0)
        why = f" ({repair.note})" if repair.note else ""
        work = f"the work of {repair.date:%Y-%m-%d}{why}"
        if old.any():
            links = np.flatnonzero(old)
            rows, days = latest["record"].to_numpy()[links], latest["day"].to_numpy()[links]
            message = f"{counted_words(len(links), 'link')} last tested before {work}: {_span_of(days)}"
            evidence = job.of_records(rows, _dates(days))
            found.append(finding("test-before-repair", message, job.labels(links), evidence=evidence))
        if undated.any():
            links = np.flatnonzero(undated)
            message = (
                f"{counted_words(len(links), 'link')} tested without a date, so not proved to be tested after {work}"
            )
            rows = np.flatnonzero(undated[job.link_of_record])
            found.append(
                finding("test-before-repair", message, job.labels(links), evidence=job.of_records(rows, "no date"))
            )
        if not touched.any():
            message = f"no link was tested that {work} touched: {', '.join(repair.links)}"
            evidence = (counted("links tested of those that the work touched", 0),)
            found.append(finding("test-before-repair", message, evidence=evidence))
    return found


def calibration(job: Joined) -> list[Finding]:
    """Testers whose calibration had lapsed on the day of the test, or was made after it."""
    records = job.records
    if not records["dated"].any():
        return []
    days = _days(job)
    made = _calibrated(job)
    known = records["dated"].to_numpy() & (made["day"].to_numpy() > _NEVER)
    age = days - made["day"].to_numpy()
    found = []
    for code, hit, words in (
        (
            "calibration-lapsed",
            known & (age > made["valid"].to_numpy()),
            "after the calibration of the tester had lapsed",
        ),
        (
            "tested-before-calibration",
            known & (age < 0),
            "before the calibration date that the record or the job states",
        ),
    ):
        rows = np.flatnonzero(hit)
        for tester, some in pd.Series(rows).groupby(records["tester"].to_numpy()[rows], sort=True):
            at = some.to_numpy()
            links = job.labels(job.link_of_record[at])
            worst = int(np.abs(age[at]).max())
            of = f" {tester}" if tester else ""
            message = (
                f"tester{of}: {counted_words(len(links), 'link')} tested {words}; calibrated on "
                f"{_date(made['day'].to_numpy()[at[0]])}, up to {worst} days {'before' if age[at[0]] > 0 else 'after'} the test"
            )
            found.append(
                finding(code, message, links, evidence=job.of_records(at, "days since calibration", age[at], "d"))
            )
    return found


def days_since_calibration(job: Joined) -> np.ndarray:
    """Days from the calibration that counts to each test, n records; NaN where one of them is not known."""
    made, days = _calibrated(job)["day"].to_numpy(), _days(job)
    return np.where((made > _NEVER) & (days > _NEVER), days - made, np.nan)


def calibration_unknown(job: Joined) -> list[Finding]:
    """Testers of which neither record nor job states a calibration, where others are stated: one finding a tester."""
    stated = job.analysis.records["calibrated_on"].notna().any()
    if not stated and not any(one.calibrated_on for one in job.job.instruments):
        return []
    unknown = np.flatnonzero(_calibrated(job)["day"].to_numpy() == _NEVER)
    found = []
    for tester, some in pd.Series(unknown).groupby(job.records["tester"].to_numpy()[unknown], sort=True):
        at = some.to_numpy()
        links = job.labels(job.link_of_record[at])
        of = f"tester {tester}" if tester else "a tester that is not named"
        message = f"{counted_words(len(links), 'link')} tested with {of}, whose calibration nothing states"
        found.append(
            finding("calibration-unknown", message, links, evidence=job.of_records(at, "no calibration stated"))
        )
    return found


_NEVER = -(10**8)


def _calibrated(job: Joined) -> pd.DataFrame:
    """For each record: day of the calibration that counts and how many days it holds. The record wins over the job."""
    records = job.analysis.records
    stated = records["calibrated_on"]
    day = np.full(len(records), _NEVER)
    has = stated.notna().to_numpy()
    day[has] = stated[has].to_numpy().astype("datetime64[D]").astype(np.int64)
    valid = np.full(len(records), CALIBRATION_DAYS)
    tests, tester = _days(job), pd.Series(job.records["tester"]).str.casefold().to_numpy(dtype=object)
    for one in sorted((one for one in job.job.instruments if one.calibrated_on), key=lambda one: one.calibrated_on):
        own = (tester == one.tester.strip().casefold()) & ~has
        at = _day_number(one.calibrated_on)
        # of several calibrations the last before the test counts; where none is before it, the first after it
        counts = own & ((at <= tests) | (day == _NEVER))
        day[counts], valid[counts] = at, one.valid_days
    for one in job.job.instruments:
        valid[(tester == one.tester.strip().casefold()) & has] = one.valid_days
    return pd.DataFrame({"day": day, "valid": valid})


def _latest(job: Joined) -> pd.DataFrame:
    """Last dated record of each link, -1 where none, and its day."""
    records = job.records
    dated = np.flatnonzero(records["dated"].to_numpy())
    order = dated[np.argsort(records["tested_s"].to_numpy()[dated], kind="stable")]
    record = np.full(len(job.links), -1)
    record[job.link_of_record[order]] = order
    return (
        pd.DataFrame({"record": record, "day": np.where(record >= 0, _days(job)[np.maximum(record, 0)], 0)})
        if len(records)
        else pd.DataFrame({"record": record, "day": record})
    )


def _days(job: Joined) -> np.ndarray:
    """Day of each record since 1970; far in the past where it has no date."""
    seconds = job.records["tested_s"].to_numpy()
    return np.where(job.records["dated"].to_numpy(), seconds // 86_400, _NEVER)


def _day_and_month_exchanged(days: np.ndarray, dates: Any) -> bool:
    """Nine tenths of the days lie inside the job once day and month are exchanged, and fewer as they stand."""
    known = days[days > _NEVER]
    stamps = pd.to_datetime(pd.Series(known), unit="D")
    fits = stamps.dt.day <= 12
    other = pd.to_datetime(
        pd.DataFrame({"year": stamps.dt.year, "month": stamps.dt.day.where(fits, 1), "day": stamps.dt.month})
    )
    first = _day_number(dates.installed) if dates.installed else _NEVER
    last = _day_number(dates.handover) if dates.handover else -_NEVER
    exchanged = (other - pd.Timestamp(0)).dt.days.to_numpy()
    inside = fits.to_numpy() & (exchanged >= first) & (exchanged <= last)
    return bool(inside.mean() > 0.9 > ((known >= first) & (known <= last)).mean())


def _day_number(day: dt.date) -> int:
    return day.toordinal() - dt.date(1970, 1, 1).toordinal()


def _date(day: int) -> str:
    return str(np.datetime64(int(day), "D"))


def _dates(days: np.ndarray) -> list[str]:
    return [f"tested on {_date(day)}" for day in days[:12]]


def _span_of(days: np.ndarray) -> str:
    first, last = _date(days.min()), _date(days.max())
    return first if first == last else f"{first} to {last}"
