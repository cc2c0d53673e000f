"""What a series of numbers does: where its level changes, where it lies low, what a control chart makes of it.

Plain mathematics without a view of cabling; each function names the paper or table it is checked against.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from analyzer.insights.chances import Numbers


class Change(NamedTuple):
    """Where a series changes its level: values before it, the statistic, its chance, median after less before."""

    at: int
    statistic: float
    chance: float
    shift: float


def change_point(values: Numbers) -> Change:
    """The likeliest place where the level of a series changes (Pettitt 1979, Appl. Stat. 28:126), ties averaged."""
    x = np.asarray(values, dtype=float)
    n = len(x)
    if n < 2:
        return Change(0, 0.0, 1.0, 0.0)
    sums = 2 * np.cumsum(_ranks(x))[:-1] - np.arange(1, n) * (n + 1)
    at = int(np.argmax(np.abs(sums)))
    statistic = float(abs(sums[at]))
    chance = min(1.0, 2 * float(np.exp(-6 * statistic**2 / (n**3 + n**2))))
    return Change(at + 1, statistic, chance, float(np.median(x[at + 1 :]) - np.median(x[: at + 1])))


def _ranks(x: np.ndarray) -> np.ndarray:
    """Ranks from 1; equal values share the mean of theirs."""
    _, inverse, counts = np.unique(x, return_inverse=True, return_counts=True)
    last = np.cumsum(counts)
    mean: np.ndarray = (last - (counts - 1) / 2)[inverse]
    return mean


class Run(NamedTuple):
    """A stretch of a series whose values lie low: first and last place (exclusive), height of the sum, its chance."""

    start: int
    stop: int
    height: float
    chance: float


SLACK = 0.5
"""Reference value k of the cumulative sum, in standard deviations: half the shift of one that it is tuned to."""


def low_runs(values: Numbers) -> list[Run]:
    """Stretches of a series that lie below the rest, least likely first: cumulative sum (Page 1954, Biometrika 41:100).

    Values count by their normal scores, so that neither skew nor one wild value makes a stretch. The sum of n scores
    less the slack k reaches the height h by chance with at most n exp(-2 k h) (Siegmund 1985, Sequential Analysis,
    equation 2.52, recalled; without its correction for overshoot, which makes the chance larger than it is).
    """
    from scipy.special import ndtri  # type: ignore[import-untyped]  # scipy brings no types

    x = np.asarray(values, dtype=float)
    n = len(x)
    if n < 2:
        return []
    total = np.cumsum(-ndtri((_ranks(x) - 0.375) / (n + 0.25)) - SLACK)
    height = total - np.minimum(np.minimum.accumulate(np.r_[0.0, total])[:-1], total)
    found = []
    for start, stop in runs_of(height > 0):
        peak = start + int(np.argmax(height[start:stop]))
        top = float(height[peak])
        found.append(Run(start, peak + 1, top, float(min(1.0, n * np.exp(-2 * SLACK * top)))))
    return sorted(found, key=lambda run: run.chance)


D2_OF_TWO = 1.128
"""Mean range of two values in standard deviations: control-chart constant d2 for n = 2 (NIST/SEMATECH e-Handbook of
Statistical Methods, 6.3.2.2; exactly 2/√π = 1.12838)."""


class Chart(NamedTuple):
    """Center and limits of an individuals chart."""

    low: float
    center: float
    high: float


def individuals_chart(values: Numbers) -> Chart:
    """Shewhart chart of single values: mean ± 3 × mean moving range / d2 (NIST/SEMATECH e-Handbook 6.3.2.2)."""
    x = np.asarray(values, dtype=float)
    if len(x) < 2:
        center = float(x.mean()) if len(x) else np.nan
        return Chart(np.nan, center, np.nan)
    reach = 3 * float(np.abs(np.diff(x)).mean()) / D2_OF_TWO
    center = float(x.mean())
    return Chart(center - reach, center, center + reach)


def runs_of(marks: np.ndarray) -> list[tuple[int, int]]:
    """(start, stop) of each run of true marks."""
    edges = np.flatnonzero(np.diff(np.r_[0, marks.astype(np.int8), 0]))
    return [(int(start), int(stop)) for start, stop in edges.reshape(-1, 2)]


class Spread(NamedTuple):
    """A variance, and the degrees of freedom that it is worth."""

    variance: float
    freedom: float


def spread_around(values: Numbers, at: int) -> Spread:
    """Variance of a series around its level before and after place `at`.

    Wild values are drawn in to 3 robust standard deviations, so that one bad strand makes no shift and hides none.
    """
    rest = np.concatenate([part - part.mean() for part in _drawn_in(values, at)])
    freedom = max(len(rest) - 2, 1)
    return Spread(float((rest**2).sum()) / freedom, float(freedom))


def level_shift_chance(values: Numbers, at: int, usual: Spread | None = None) -> float:
    """Chance that the means before and after a chosen place differ so much where the level does not change.

    Student's t with a pooled variance, times the places there were to choose from (Bonferroni). `usual` is the spread
    of other series of the job: a short series borrows from it (moderated t: Smyth 2004, Stat. Appl. Genet. Mol. Biol.
    3:3).
    """
    from scipy.special import stdtr

    parts = _drawn_in(values, at)
    if min(len(part) for part in parts) < 3:
        return 1.0
    own, usual = spread_around(values, at), usual or Spread(0.0, 0.0)
    freedom = own.freedom + usual.freedom
    variance = max((own.variance * own.freedom + usual.variance * usual.freedom) / freedom, 1e-8)
    apart = abs(float(parts[0].mean() - parts[1].mean()))
    t = apart / np.sqrt(variance * sum(1 / len(part) for part in parts))
    return float(min(1.0, 2 * stdtr(freedom, -t) * (len(parts[0]) + len(parts[1]) - 1)))


def _drawn_in(values: Numbers, at: int) -> list[np.ndarray]:
    x = np.asarray(values, dtype=float)
    drawn = []
    for part in (x[:at], x[at:]):
        middle = float(np.median(part)) if len(part) else 0.0
        reach = 3 * 1.4826 * float(np.median(np.abs(part - middle))) + 1e-12 if len(part) else 0.0
        drawn.append(np.clip(part, middle - reach, middle + reach))
    return drawn
