"""The points of one curve put in order: rising frequencies, each once, and where points are missing."""

from __future__ import annotations

from bisect import bisect_right

import numpy as np

from analyzer.points import wide_steps

_HOLE = 1.5
"""A step so many times wider than those around it has lost a point: one lost point doubles it."""
IN_ORDER, FALLS, REPEATED = range(3)
"""What is wrong with a point: nothing; its frequency breaks the order; its frequency stands twice."""


def holes(f: np.ndarray, blank: np.ndarray) -> int:
    """Blank cells where the curve should have a point: its own steps around them are shorter.

    A curve that was measured in wider steps than its neighbors has blank cells too, and lacks nothing.
    """
    inside = blank[(blank > f[0]) & (blank < f[-1])]
    if not len(inside):
        return 0
    return int(wide_steps(f, _HOLE)[np.searchsorted(f, inside) - 1].sum())


def rising(f: np.ndarray, value: np.ndarray, *, ceiling: bool) -> tuple[np.ndarray, np.ndarray, bool]:
    """Order in which a curve rises: positions that stay, code of what is wrong with each point, whether it was turned.

    A curve that falls throughout is read from its end. Otherwise the longest run of points that keeps the order stays;
    of points at one frequency the worse stays.
    """
    problem = np.zeros(len(f), dtype=np.int64)
    steps = np.diff(f)
    if (steps > 0).all():
        return np.arange(len(f)), problem, False
    falls = (steps < 0).sum() > (steps > 0).sum()
    order = np.arange(len(f))[::-1] if falls else np.arange(len(f))
    kept = order[_longest_rise(f[order])]
    problem[np.setdiff1d(order, kept)] = FALLS
    badness = value[kept] if ceiling else -value[kept]
    ranked = kept[np.lexsort((-badness, f[kept]))]
    first = np.r_[True, f[ranked][1:] != f[ranked][:-1]]
    problem[ranked[~first]] = REPEATED
    return ranked[first], problem, bool(falls)


def _longest_rise(f: np.ndarray) -> np.ndarray:
    """Positions of a longest run that never falls (patience sorting); only curves out of order come here."""
    tails: list[float] = []
    ends: list[int] = []
    before = np.full(len(f), -1)
    for at, one in enumerate(f.tolist()):
        place = bisect_right(tails, one)
        before[at] = ends[place - 1] if place else -1
        if place == len(tails):
            tails.append(one)
            ends.append(at)
        else:
            tails[place], ends[place] = one, at
    out = []
    at = ends[-1] if ends else -1
    while at >= 0:
        out.append(at)
        at = int(before[at])
    return np.asarray(out[::-1], dtype=np.int64)
