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
    rest = np.concatenate([part - part.mean() for part in _drawn_in(values, at) if len(part)] or [np.empty(0)])
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


class Trend(NamedTuple):
    """Steady rise or fall of a series: median slope per step, Kendall's tau, chance of such a fall and of such a rise."""

    slope: float
    tau: float
    fall_chance: float
    rise_chance: float


def trend(values: Numbers, shared: float = 1.0, freedom: float | None = None) -> Trend:
    """Slope of Theil and Sen, with the test of Mann and Kendall.

    The slope is the median of those of all pairs (Sen 1968, J. Am. Stat. Assoc. 63:1379). The chance is exact where no
    two values are equal (Kendall 1938, Biometrika 30:81), else normal with the variance corrected for ties. All pairs
    are looked at, n² of them: pool long series first.

    Args:
        values: n, in order.
        shared: how many values are worth one independent one (`shared_in_groups`); the variance is so much larger.
        freedom: degrees of freedom that `shared` is known with: the tail is Student's then.
    """
    x = np.asarray(values, dtype=float)
    n = len(x)
    if n < 2:
        return Trend(0.0, 0.0, 1.0, 1.0)
    first, second = np.triu_indices(n, 1)
    rise = x[second] - x[first]
    slope, total = float(np.median(rise / (second - first))), int(np.sign(rise).sum())
    _, ties = np.unique(x, return_counts=True)
    tied = int((ties * (ties - 1)).sum()) // 2
    if tied == len(rise):
        return Trend(slope, 0.0, 1.0, 1.0)
    tau = total / float(np.sqrt(len(rise) * (len(rise) - tied)))
    if not tied and freedom is None:
        return Trend(slope, tau, _kendall_at_most(n, total), _kendall_at_most(n, -total))
    from scipy.special import stdtr  # type: ignore[import-untyped]  # scipy brings no types

    spread = np.sqrt(shared * (n * (n - 1) * (2 * n + 5) - int((ties * (ties - 1) * (2 * ties + 5)).sum())) / 18)
    fall, rise_too = (float(stdtr(np.inf if freedom is None else freedom, way * total / spread)) for way in (1, -1))
    return Trend(slope, tau, fall, rise_too)


SURE = 0.95
"""Confidence of the bound that `shared_in_groups` gives."""


def shared_in_groups(values: Numbers, groups: np.ndarray) -> float:
    """How many values are worth one independent one where those of a group are alike, 1 or more.

    The design effect 1 + (m - 1) r (Kish 1965, Survey Sampling), m the size of the groups weighted by itself, r the
    correlation inside groups: not its estimate but the upper end of its exact interval from the analysis of variance
    (Searle 1971, Linear Models; both recalled), so that it is hardly ever too small.

    Args:
        values: n, what a trend leaves.
        groups: n numbers of groups from 0, all of them used.
    """
    from scipy.special import fdtri

    x, size = np.asarray(values, dtype=float), np.bincount(groups).astype(float)
    n, count = len(x), len(size)
    if count < 2 or n <= count:
        return 1.0
    middle = np.bincount(groups, x) / size
    inside = float(((x - middle[groups]) ** 2).sum()) / (n - count)
    between = float((size * (middle - x.mean()) ** 2).sum()) / (count - 1)
    squares = float((size**2).sum())
    if inside <= 0:
        return squares / n
    ratio = between / inside / float(fdtri(count - 1, n - count, 1 - SURE)) - 1
    alike = max(ratio / (ratio + (n - squares / n) / (count - 1)), 0.0)
    return max(1.0, 1 + (squares / n - 1) * alike)


def _kendall_at_most(n: int, total: int) -> float:
    """Chance that Kendall's S of n values in random order is `total` or less: inversions counted one value at a time."""
    share = np.ones(1)
    for size in range(2, n + 1):
        summed = np.cumsum(np.r_[share, np.zeros(size - 1)])
        summed[size:] -= summed[:-size].copy()
        share = summed / size
    least = (n * (n - 1) // 2 - total) // 2
    return float(np.clip(share[least:].sum(), 0.0, 1.0))


def rest_of_line(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """What a straight line leaves of y, wild values counted less and less (Huber 1964)."""
    design = np.c_[np.ones_like(x), x - x.mean()]
    weight = np.ones_like(x)
    rest = y - np.median(y)
    for _ in range(8):
        root = np.sqrt(weight)
        line = np.linalg.lstsq(design * root[:, None], y * root, rcond=None)[0]
        rest = y - design @ line
        scale = 1.345 * 1.4826 * float(np.median(np.abs(rest))) + 1e-9
        weight = np.minimum(1.0, scale / np.maximum(np.abs(rest), 1e-12))
    return np.asarray(rest)
