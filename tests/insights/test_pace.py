"""Days with far more tests than usual, and tests left to the end; small jobs are left alone."""

import numpy as np
from crew import START, codes, joined, strands

from analyzer.insights import pace


def worked(per_day):
    """Strands tested so many on each day, one a minute."""
    rows = strands(count=sum(per_day))
    days = [day for day, count in enumerate(per_day) for _ in range(count)]
    for n, (row, day) in enumerate(zip(rows, days, strict=True)):
        row["tested_at"] = START + np.timedelta64(day, "D") + np.timedelta64(n % 400, "m")
    return joined(rows)


def test_an_even_pace_is_not_told():
    job = worked([12] * 12)
    assert pace.busy_days(job) + pace.left_to_the_end(job) == []


def test_a_day_with_more_than_three_times_the_usual():
    (found,) = pace.busy_days(worked([10] * 5 + [31] + [10] * 6))
    assert (found.code, found.severity, len(found.links)) == ("busy-day", "note", 31)
    assert "31 tests by Ada Invented on 2026-09-19; the usual is 10 a day" in found.message
    assert pace.busy_days(worked([10] * 5 + [30] + [10] * 6)) == []


def test_two_operators_are_two_days_of_work():
    rows = worked([20] * 12)
    assert pace.busy_days(rows) == []


def test_most_tests_in_the_last_fifth_of_the_days():
    # 10 days: the last two hold 62 of 102 tests, 60.8 %
    (found,) = pace.left_to_the_end(worked([5] * 8 + [31, 31]))
    assert "62 of 102 tests were made in the last 2 days of 10, from 2026-09-22 on" in found.message
    assert pace.left_to_the_end(worked([5] * 8 + [30, 30])) == []  # 60 of 100 is not more


def test_small_jobs_are_left_alone():
    assert codes(pace.busy_days(worked([1] * 9 + [60]))) == []
    assert codes(pace.left_to_the_end(worked([2] * 8 + [110]))) == []


def test_a_clock_that_was_never_set_makes_no_day_of_work():
    rows = strands(count=160)
    for n, row in enumerate(rows):
        day = np.timedelta64(n // 10, "D")
        row["tested_at"] = np.datetime64("2010-01-01T00:00:00") if n < 40 else START + day + np.timedelta64(n % 10, "m")
    job = joined(rows)
    assert pace.busy_days(job) + pace.left_to_the_end(job) == []
