"""How likely something is by chance alone: tails, exact intervals, shrinkage. Arrays in, arrays out.

Every function is plain mathematics without a view of cabling; each names the paper or table it is checked against.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

Numbers = Any
"""A number or an array of float64."""

MAD_TO_SIGMA = 1.4826
"""Median absolute deviation to standard deviation of a normal distribution: 1 / Φ⁻¹(3/4)."""

JOB_FALSE_ALARM = 0.01
"""Chance that screening a whole clean job tells anything at all; a choice of ours, no source."""

SCREENINGS = 28
"""Screenings that share `JOB_FALSE_ALARM` between them (Bonferroni)."""

EACH = JOB_FALSE_ALARM / SCREENINGS
"""What one screening may spend on all that it looks at."""


def threshold(looks: int) -> float:
    """Chance below which one of `looks` comparisons is told (Bonferroni: the share of the screening divided evenly)."""
    return EACH / max(looks, 1)


def exact_interval(successes: Numbers, trials: Numbers, confidence: float = 0.95) -> tuple[np.ndarray, np.ndarray]:
    """Exact binomial interval of a rate (Clopper and Pearson 1934): lower and upper end; 0 to 1 without trials."""
    from scipy.special import betaincinv  # type: ignore[import-untyped]  # scipy brings no types

    k, n = np.broadcast_arrays(np.asarray(successes, dtype=float), np.asarray(trials, dtype=float))
    tail = (1 - confidence) / 2
    low = np.where(k > 0, betaincinv(np.maximum(k, 1), n - k + 1, tail), 0.0)
    high = np.where(k < n, betaincinv(k + 1, np.maximum(n - k, 1), 1 - tail), 1.0)
    return np.asarray(low), np.asarray(high)


def at_least(seen: Numbers, trials: Numbers, rate: Numbers) -> np.ndarray:
    """Binomial chance of `seen` or more successes."""
    from scipy.special import betainc

    k, n, p = np.broadcast_arrays(*(np.asarray(x, dtype=float) for x in (seen, trials, rate)))
    inside = (k > 0) & (k <= n)
    tail = betainc(np.where(inside, k, 1), np.where(inside, n - k + 1, 1), p)
    return np.asarray(np.where(k <= 0, 1.0, np.where(k > n, 0.0, tail)))


def poisson_at_least(seen: Numbers, expected: Numbers) -> np.ndarray:
    """Poisson chance of `seen` or more where `expected` are usual."""
    from scipy.special import gammainc

    k, mean = np.broadcast_arrays(np.asarray(seen, dtype=float), np.asarray(expected, dtype=float))
    return np.asarray(np.where(k <= 0, 1.0, gammainc(np.maximum(k, 1), np.maximum(mean, 0.0))))


def drawn_at_least(marked: Numbers, group: Numbers, all_marked: int, everybody: int) -> np.ndarray:
    """Chance that a group drawn at random holds `marked` or more of the marked ones (Fisher's exact test, one-sided).

    Args:
        marked: marked ones in each group.
        group: size of each group.
        all_marked: marked ones among everybody.
        everybody: all.
    """
    from scipy.special import gammaln

    k, n = (np.atleast_1d(np.asarray(x, dtype=np.int64)) for x in (marked, group))
    top = np.minimum(n, all_marked)
    steps = np.maximum(top - k + 1, 0)
    which = np.repeat(np.arange(len(k)), steps)
    j = k[which] + np.arange(steps.sum()) - np.repeat(np.cumsum(steps) - steps, steps)
    size = n[which]

    def choose(of: Numbers, take: Numbers) -> Any:
        return gammaln(of + 1.0) - gammaln(take + 1.0) - gammaln(of - take + 1.0)

    fits = (all_marked - j >= 0) & (everybody - size - all_marked + j >= 0)
    j, size, which = j[fits], size[fits], which[fits]
    log = choose(size, j) + choose(everybody - size, all_marked - j) - choose(everybody, all_marked)
    return np.minimum(np.bincount(which, weights=np.exp(log), minlength=len(k)), 1.0)


def missed_by_sample(everybody: int, marked: int, drawn: int) -> float:
    """Chance that a sample drawn at random holds none of the marked ones: C(N - d, n) / C(N, n) (hypergeometric).

    Args:
        everybody: N, all.
        marked: d of them.
        drawn: n, size of the sample.
    """
    from scipy.special import gammaln

    if drawn > everybody - marked:
        return 0.0
    n = np.array([everybody - marked, everybody, everybody - marked - drawn, everybody - drawn]) + 1.0
    rest, everything, rest_left, everything_left = gammaln(n)
    return float(np.exp(rest - rest_left - everything + everything_left))


def predictive_at_most(seen: int, trials: int, history: tuple[int, int]) -> float:
    """Chance of `seen` or fewer failures in `trials`, after `history` = (failures, trials) of the same crew.

    Beta-binomial: the rate is not known better than the history tells it (Jeffreys' prior).
    """
    from scipy.special import betaln, gammaln

    a, b = history[0] + 0.5, history[1] - history[0] + 0.5
    k = np.arange(min(seen, trials) + 1)
    choose = gammaln(trials + 1) - gammaln(k + 1) - gammaln(trials - k + 1)
    return float(min(np.exp(choose + betaln(k + a, trials - k + b) - betaln(a, b)).sum(), 1.0))


FALSE_SHARE = 0.05
"""Share of false ones among those that `stands_out` names; 5 % is usual, no source."""


def stands_out(p: np.ndarray) -> np.ndarray:
    """Which of many p values are beyond chance together: the step-up rule of Benjamini and Hochberg (1995, recalled).

    Where nothing is wrong anywhere it names something in one job of twenty; where much is wrong, one in twenty that it
    names is wrongly named.
    """
    order = np.argsort(p, kind="stable")
    holds = p[order] <= FALSE_SHARE * np.arange(1, len(p) + 1) / max(len(p), 1)
    last = int(np.flatnonzero(holds)[-1]) + 1 if holds.any() else 0
    out = np.zeros(len(p), dtype=bool)
    out[order[:last]] = True
    return out


def skew_of(below: float, above: float, z: float) -> float:
    """Shape of the log-normal distribution whose two like quantiles lie so far below and above its median.

    With quantiles at -z and +z standard normal units: above / below = exp(shape z). Zero is the normal distribution.
    """
    return float(np.log(above / below) / z)


def skewed_tail(excess: Numbers, half_width: Numbers, shape: float, z: float) -> np.ndarray:
    """Chance of lying `excess` or more above the median of a log-normal distribution with a location of its own.

    X = location + m exp(shape Z), Z standard normal, so that quantiles at -z and +z lie 2 m sinh(shape z) apart and
    the median m above the location (the quantile form of the three-parameter log-normal distribution).

    Args:
        excess: distance above the median.
        half_width: half the distance between the two quantiles, in the same unit.
        shape: above zero.
        z: of the two quantiles.
    """
    from scipy.special import ndtr

    middle = np.asarray(half_width, dtype=float) / np.sinh(shape * z)
    return np.asarray(ndtr(-np.log1p(np.maximum(excess, 0.0) / middle) / shape))


class Shrunk(NamedTuple):
    """Rates drawn towards their mean, and the beta distribution they were drawn to."""

    rates: np.ndarray
    a: float
    b: float


def shrunk_rates(successes: Numbers, trials: Numbers) -> Shrunk:
    """Empirical-Bayes rates of groups: small groups are drawn towards the mean of all, large ones hardly.

    Beta-binomial: its two parameters by moments (Kleinman 1973, J. Am. Stat. Assoc. 68:46), then by likelihood (the
    fixed point of Minka 2000, Estimating a Dirichlet distribution). Where the groups differ no more than chance makes
    them, all get the mean.
    """
    k, n = np.asarray(successes, dtype=float), np.asarray(trials, dtype=float)
    total = float(n.sum())
    mean = float(k.sum() / total) if total else 0.0
    groups = int((n > 0).sum())
    usual = mean * (1 - mean)
    if groups < 2 or usual == 0:
        return Shrunk(np.full(k.shape, mean), np.inf, np.inf)
    squares = float((n * (np.divide(k, n, out=np.full(k.shape, mean), where=n > 0) - mean) ** 2).sum())
    room = total - float((n**2).sum()) / total - (groups - 1)
    alike = (squares / usual - (groups - 1)) / room if room > 0 else 0.0
    if alike <= 0:
        return Shrunk(np.full(k.shape, mean), np.inf, np.inf)
    weight = 1 / min(alike, 0.999) - 1
    a, b = _likeliest(k[n > 0], n[n > 0], mean * weight, (1 - mean) * weight)
    return Shrunk((k + a) / (n + a + b), a, b)


def _likeliest(k: np.ndarray, n: np.ndarray, a: float, b: float) -> tuple[float, float]:
    """The beta distribution that makes the counts likeliest, from a first guess."""
    from scipy.special import digamma

    for _ in range(FIXED_POINTS):
        below = (digamma(n + a + b) - digamma(a + b)).sum()
        more = a * (digamma(k + a) - digamma(a)).sum() / below, b * (digamma(n - k + b) - digamma(b)).sum() / below
        settled = abs(more[0] - a) < 1e-4 * a and abs(more[1] - b) < 1e-4 * b
        a, b = float(more[0]), float(more[1])
        if settled or a + b > 1e6:
            break
    return a, b


FIXED_POINTS = 300
"""Steps towards the likeliest beta distribution at the most; each is better than the one before."""


def even_digits(counts: Numbers) -> tuple[float, float]:
    """Chi-square of ten digit counts against even ones, and its chance with 9 degrees of freedom (Pearson 1900)."""
    from scipy.special import chdtrc

    seen = np.asarray(counts, dtype=float)
    usual = seen.sum() / len(seen)
    statistic = float(((seen - usual) ** 2 / usual).sum()) if usual else 0.0
    return statistic, float(chdtrc(len(seen) - 1, statistic))


def same_cell(covariance: np.ndarray, width: float = 1.0) -> float:
    """Chance that two draws of a normal distribution agree in every coordinate to within one step of the scale.

    For one coordinate it is width / (2 √π s); for several, the product over the principal axes, so that coordinates
    that go together are not counted as if they were independent. No axis counts for more than certainty, and none has a
    spread of less than half a step: an honest reading is uncertain by half its last digit.
    """
    if covariance.size == 0:
        return 1.0
    spread = np.linalg.eigvalsh(covariance)
    factors = width / (2 * np.sqrt(np.pi * np.maximum(spread, 0.25)))
    return float(np.minimum(factors, 1.0).prod())
