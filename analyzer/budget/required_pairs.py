"""What a twisted-pair link still lacks: tests, pairs and ends that are required, and readings that stayed open.

A value that names no pair is taken to be that of the worst pair; so is one headed as the worst that stands alone for its
parameter and end, whichever pair it names. A value that names no end counts for both ends only
where it is headed as the worst; else the end is missing.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.retests import CURVE, SEVERITY
from analyzer.job import Job

Add = Callable[[np.ndarray, str], None]
"""Adds a part to what the marked links lack."""

_PAIRS = 4
_COMBINATIONS = 6
_BY_COMBINATION = ("NEXT", "ACR-F", "ACR-N")
_BY_PAIR = ("insertion loss", "PSNEXT", "PSACR-F", "PSACR-N", "return loss", "propagation delay")
FROM_BOTH_ENDS = ("NEXT", "PSNEXT", "ACR-N", "PSACR-N", "return loss")
"""Measured at each end: what comes back to the end where it is sent."""


def add_missing_tests(
    add: Add, pair: np.ndarray, facts: pd.DataFrame, link: np.ndarray, live: pd.DataFrame, job: Job
) -> None:
    """Add what each twisted-pair link lacks.

    Args:
        add: see `Add`.
        pair: marks of the twisted-pair links, n.
        facts: schema `facts`, m rows.
        link: the link of each record, m numbers.
        live: the tests in force, as `retests.tests_of` makes them.
        job: the required tests.
    """
    if not pair.any():
        return
    count = len(pair)
    graded = _some(link[facts["grade"].notna().to_numpy()], count)
    add(pair & ~graded, "grade")
    rows = live[pair[live["link"].to_numpy()]]
    names = schema.CATEGORIES["parameter"]
    for parameter in job.required.twisted_pair:
        of_it = rows[rows["parameter"] == names.index(parameter)]
        if parameter == "length":
            stated = _some(link[facts["length_m"].notna().to_numpy()], count) | _some(of_it["link"], count)
            add(pair & ~stated, "length")
        else:
            _add_coverage(add, pair, parameter, of_it, count)
    open_ones = rows[rows["counts"] & (rows["severity"] == SEVERITY["not judged"])]
    required = [names.index(parameter) for parameter in job.required.twisted_pair if parameter != "length"]
    for code in np.unique([*required, *open_ones["parameter"]]):
        unsettled = _some(open_ones.loc[open_ones["parameter"] == code, "link"], count)
        if code in required:
            unsettled |= _untold(names[code], rows[rows["parameter"] == code], count)
        add(graded & pair & unsettled, f"{names[code]} could not be judged")


def _untold(parameter: str, rows: pd.DataFrame, count: int) -> np.ndarray:
    """For each link: a required pair or end was read, and no reading of it met a limit.

    A value without a sourced limit, or outside the range of its limit, decides nothing; a link that has nothing else
    there was not proved. A curve whose every point is exempt is no such thing: no limit holds for it.
    """
    silent = ~rows["counts"] & (rows["severity"] == SEVERITY["not judged"]) & (rows["point"] != CURVE)
    if not silent.any():
        return np.zeros(count, dtype=bool)
    told = rows[~silent]
    if parameter not in (*_BY_PAIR, *_BY_COMBINATION):
        return np.asarray(_some(rows["link"], count) & ~_some(told["link"], count), dtype=bool)
    wide = _COMBINATIONS if parameter in _BY_COMBINATION else _PAIRS
    untold = _covered(parameter, rows, wide, count) & ~_covered(parameter, told, wide, count)
    endless = _some(rows["link"], count) & ~_some(told["link"], count)
    return np.asarray(untold.any(axis=(1, 2)) | endless, dtype=bool)


def _add_coverage(add: Add, pair: np.ndarray, parameter: str, rows: pd.DataFrame, count: int) -> None:
    """Add the parameter where nothing was read of it, else the ends and pairs that are not covered."""
    read = _some(rows["link"], count)
    add(pair & ~read, parameter)
    by_pair = parameter in _BY_PAIR or parameter in _BY_COMBINATION
    if not by_pair or not read.any():
        return
    wide = _COMBINATIONS if parameter in _BY_COMBINATION else _PAIRS
    what = "pair combinations" if parameter in _BY_COMBINATION else "pairs"
    covered = _covered(parameter, rows, wide, count)
    endless = parameter in FROM_BOTH_ENDS
    at_end = np.asarray(covered.any(axis=1))
    if endless:
        no_end = read & ~at_end.any(axis=1)
        add(pair & no_end, f"{parameter}: the end is not stated")
        for end, name in enumerate(schema.CATEGORIES["end"]):
            add(pair & read & ~no_end & ~at_end[:, end], f"{parameter} at end {name}")
    seen = at_end.any(axis=1)
    gaps: np.ndarray = ~covered & at_end[:, None, :]
    lacks = gaps.any(axis=2).sum(axis=1)
    for number in np.unique(lacks[lacks > 0]):
        add(pair & seen & (lacks == number), f"{parameter} of {number} of {wide} {what}")


def _covered(parameter: str, rows: pd.DataFrame, wide: int, count: int) -> np.ndarray:
    """For each link, pair or combination, and end: a value stands there; shape (links, pairs, 2)."""
    out = np.zeros((count, wide, 2), dtype=bool)
    first = _PAIRS if wide == _COMBINATIONS else 0
    link, end = rows["link"].to_numpy(), rows["end"].to_numpy()
    place = rows["pair"].to_numpy() - first
    alone = rows["worst"].to_numpy(bool) & ~rows.duplicated(["link", "end"], keep=False).to_numpy()
    of_any = (rows["pair"].to_numpy() < 0) | (place < 0) | (place >= wide) | alone
    both = (end < 0) & (rows["worst"].to_numpy(bool) | (parameter not in FROM_BOTH_ENDS))
    for number in range(2):
        here = (end == number) | both
        out[link[here & ~of_any], place[here & ~of_any], number] = True
        out[link[here & of_any], :, number] = True
    if parameter not in FROM_BOTH_ENDS:  # measured once, from whichever end
        out = out | out.any(axis=2, keepdims=True)
    return out


def _some(links: np.ndarray | pd.Series[int], count: int) -> np.ndarray:
    out = np.zeros(count, dtype=bool)
    out[np.asarray(links, dtype=np.int64)] = True
    return out
