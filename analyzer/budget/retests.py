"""Which tests are in force: a newer one supersedes only its like, and what cannot be told apart stays.

In: one row per reading of all files. Out: for every reading whether it is in force, and what is to be told of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analyzer import schema

SEVERITY = {"pass": 0, "marginal pass": 1, "not judged": 2, "marginal fail": 3, "fail": 4}
"""How bad a verdict is; where no time tells which test is the later, the worst decides."""

LIKE = {
    "link": 2**31, "parameter": 2**5, "judged_wavelength_nm": 2**12, "pair": 2**4, "end": 2**2, "direction": 2**2,
    "configuration": 2**3,
}  # fmt: skip
"""What a newer reading must share with an older one to supersede it, and how many values each may have."""

CURVE = -1
"""Number of the point where a reading is a whole curve."""

OVER_RANGE = schema.CATEGORIES["bound"].index("over range")

_DAY_S = 86_400


@dataclass(frozen=True)
class Force:
    """For each of n readings: in force; part of a collision; repeated without usable time; the same test twice."""

    in_force: np.ndarray
    collided: np.ndarray
    undated: np.ndarray
    identical: np.ndarray
    attempts: np.ndarray
    """How often the unit of the reading (link, parameter, wavelength, direction ...) was tested."""


def tests_of(
    records: pd.DataFrame, facts: pd.DataFrame, readings: pd.DataFrame, judged: pd.DataFrame, link: np.ndarray
) -> pd.DataFrame:
    """One row per reading: what it is like, when it was made, how bad it is; `order` is its position.

    `apart` keeps apart what is no retest though all of `LIKE` is shared: see `beside_curves`.
    """
    at = readings["record"].to_numpy()
    severity = np.array([*(SEVERITY[name] for name in schema.CATEGORIES["verdict"]), SEVERITY["not judged"]])
    return pd.DataFrame(
        {
            "record": at,
            "link": link[at],
            "parameter": readings["parameter"].cat.codes.to_numpy(),
            "judged_wavelength_nm": judged["judged_wavelength_nm"].to_numpy(),
            "pair": readings["pair"].cat.codes.to_numpy(),
            "end": readings["end"].cat.codes.to_numpy(),
            "direction": readings["direction"].cat.codes.to_numpy(),
            "configuration": facts["configuration"].cat.codes.to_numpy()[at],
            "tested_at": records["tested_at"].to_numpy()[at],
            "order": np.arange(len(readings)),
            "severity": severity[judged["verdict"].cat.codes.to_numpy()],
            "margin": judged["margin"].to_numpy(),
            "accuracy": judged["accuracy"].to_numpy(),
            "value": readings["value"].to_numpy(),
            "point": np.where(judged["basis"] == "curve", CURVE, _points_of(readings)),
            "worst": readings["worst"].to_numpy(),
            "bound": readings["bound"].cat.codes.to_numpy(),
            "counts": judged["counts"].to_numpy(),
            "apart": np.zeros(len(readings), dtype=np.int64),
        }
    )


_PAIRS = 4
"""Numbers of `pair` from here on are combinations."""

_TWO_VALUED = [schema.CATEGORIES["parameter"].index(name) for name in ("ACR-F", "ELTCTL")]
"""Crosstalk at the far end less the loss of the disturbed pair: two pairs have one value for each that is disturbed."""

_OF_THE_LINK = [schema.CATEGORIES["parameter"].index(name) for name in ("length", "wire map")]
"""Readings that speak of the link as a whole, whatever parameter their row is about."""


def tests_in_force(tests: pd.DataFrame) -> Force:
    """Choose among the tests of each unit.

    The latest is in force, with all the points that it gave over frequency. Among tests that nothing puts in order (one
    has no time, or only the day is stated and it is the last day) the worst is. Tests at one and the same minute with other values stay all: they cannot be of one
    link. Tests with the same values are one test that stands there several times.
    """
    n = len(tests)
    _, group, sizes = np.unique(_like(tests), return_inverse=True, return_counts=True)
    place = np.flatnonzero(sizes[group] > 1)
    in_force, collided, undated, identical = np.ones(n, dtype=bool), *(np.zeros(n, dtype=bool) for _ in range(3))
    if not len(place):
        return Force(in_force, collided, undated, identical, np.ones(n, dtype=np.int64))
    again = tests.iloc[place].reset_index(drop=True)
    unit = pd.factorize(group[place])[0]
    undatable, candidate, by_day = _last_of_each(again["tested_at"], unit)
    # points of one sweep stand beside each other; only the same point can contradict itself
    point = pd.factorize(pd.MultiIndex.from_arrays([unit, again["point"]]))[0]
    candidates = _count(point, candidate)
    both_ways = (candidates == 2) & (again["parameter"].isin(_TWO_VALUED) & (again["pair"] >= _PAIRS)).to_numpy()
    several = (candidates > 1) & ~both_ways
    same = _all_same(again, point, candidate)
    unordered = several & ~same & (undatable | by_day)
    clash = several & ~same & ~unordered
    stands_beside = clash | (both_ways & ~same)
    in_force[place] = np.where(stands_beside, candidate, _worst(again, point, candidate) & candidate)
    collided[place] = clash & candidate
    undated[place] = unordered & candidate
    # tables with one row for each reading repeat what is said of the whole link: that is no test made again
    of_link = again["parameter"].isin(_OF_THE_LINK).to_numpy()
    identical[place] = several & same & candidate & ~of_link
    times = _times(again["tested_at"], unit)
    attempts = np.ones(n, dtype=np.int64)
    attempts[place] = np.where(
        (of_link & same) | both_ways, np.maximum(times, 1), np.maximum(_count(point, np.ones(len(again))), times)
    )
    return Force(in_force, collided, undated, identical, attempts)


def attempts_of(force: Force, link: np.ndarray, count: int) -> np.ndarray:
    """Tests of the most often tested unit of each link; 1 where nothing was read."""
    out = np.ones(count, dtype=np.int64)
    np.maximum.at(out, link, force.attempts)
    return out


def _points_of(readings: pd.DataFrame) -> np.ndarray:
    """Number of the point of a sweep that each reading is: its frequency, and whether it is a margin without a value."""
    lone = readings["value"].isna().to_numpy() & readings["bound"].isna().to_numpy()
    frequency = readings["frequency_mhz"].fillna(-1.0).to_numpy()
    return pd.factorize(pd.MultiIndex.from_arrays([frequency, lone]))[0]


def _times(tested_at: pd.Series, unit: np.ndarray) -> np.ndarray:
    """How many different times the tests of each unit have."""
    return tested_at.groupby(unit).transform("nunique").to_numpy()


def _like(tests: pd.DataFrame) -> np.ndarray:
    """All columns of `LIKE` in one number; each is moved by one, for -1 stands where nothing is said."""
    like = np.zeros(len(tests), dtype=np.int64)
    for name, room in LIKE.items():
        like = like * room + tests[name].to_numpy(dtype=np.int64) + 1
    apart = tests["apart"].to_numpy()
    if apart.any():  # one more column would not fit into the number
        like = np.unique(like, return_inverse=True)[1].astype(np.int64) * (int(apart.max()) + 1) + apart
    return like


def _last_of_each(tested_at: pd.Series, unit: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """For each test: its unit has one without a time; it may be the last of its unit; the last day has no clock."""
    timeless = tested_at.isna().to_numpy()
    seconds = tested_at.to_numpy().astype("datetime64[s]").astype(np.int64)
    undatable = _count(unit, timeless) > 0
    latest = pd.Series(seconds).groupby(unit).transform("max").to_numpy()
    day_only = ~timeless & (seconds % _DAY_S == 0)
    on_last_day = day_only & (seconds // _DAY_S == latest // _DAY_S)
    candidate = undatable | (seconds == latest) | on_last_day
    return undatable, candidate, _count(unit, candidate & on_last_day) > 0


def _count(unit: np.ndarray, mask: np.ndarray) -> np.ndarray:
    counts: np.ndarray = np.bincount(unit, weights=mask)[unit]
    return counts


def _all_same(again: pd.DataFrame, unit: np.ndarray, candidate: np.ndarray) -> np.ndarray:
    """Whether all candidates of a unit have the same value and bound."""
    value = again["value"].mask(again["bound"] == OVER_RANGE, np.inf).fillna(-np.inf)
    same = np.ones(len(again), dtype=bool)
    for column in (value, again["bound"].astype("float64")):
        grouped = column.where(candidate).groupby(unit)
        same &= (grouped.transform("max") == grouped.transform("min")).to_numpy()
    return same


def _worst(again: pd.DataFrame, unit: np.ndarray, candidate: np.ndarray) -> np.ndarray:
    """The worst candidate of each unit: the worst verdict, then the least margin, then the last in order."""
    margin = again["margin"].fillna(-np.inf).to_numpy()
    ranked = np.lexsort((-again["order"].to_numpy(), margin, -again["severity"].to_numpy(), ~candidate, unit))
    first = np.r_[True, unit[ranked][1:] != unit[ranked][:-1]]
    worst = np.zeros(len(again), dtype=bool)
    worst[ranked[first]] = True
    return worst
