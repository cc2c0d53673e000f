"""Sketches of curves: what a smooth trend leaves of them, near ones found without comparing all with all.

Plain mathematics without a view of cabling. Two curves are as far apart as the root mean square of the difference of
their sketches. Near sketches meet in the cells of a few random projections (Datar, Immorlica, Indyk and Mirrokni 2004,
Symp. Comput. Geom. 253); inside a cell each is compared with its few next neighbors along one more projection only, so
that a crowd of equal curves costs no more than any other: n log n for the sorting, the rest is n times a constant.
"""

from __future__ import annotations

from typing import Any

import numpy as np

TREND = 2
"""Degree of the polynomial that counts as smooth trend: a constant, a tilt and a bend."""

CELL = 6.0
"""Width of a cell in units of the reach: of curves as far apart as the reach, 7 in 8 share it along one axis."""

NEIGHBORS = 8
"""Next neighbors inside a cell that each sketch is compared with."""

NEAR_ENOUGH = 3.0
"""How far, in units of the reach, neighbors may be apart along the projection that sorts a cell."""

QUANTILES = (0.01, 0.1, 0.5)
"""Where the distances of a job are read to learn how few are small; the tenth smallest as well."""

_CHUNK = 4096


def detrended(curves: np.ndarray) -> np.ndarray:
    """What a polynomial over the points leaves of each curve.

    Args:
        curves: n × b; NaN where a point is missing: there the usual of the curves stands, moved to the level of its
            curve.

    Returns:
        float32, n × b; the usual of all curves, point by point, is taken off first. Differences of curves do not change
        by that.
    """
    usual = np.nanmedian(curves, axis=0)
    rest = curves - usual
    level = np.nanmean(rest, axis=1, keepdims=True)
    rest = np.where(np.isfinite(rest), rest, level)
    basis, _ = np.linalg.qr(np.vander(np.linspace(-1.0, 1.0, rest.shape[1]), min(TREND + 1, rest.shape[1])))
    return np.asarray(rest - (rest @ basis) @ basis.T, dtype=np.float32)


def apart(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Root mean square of the difference over the last axis; NaN where a curve is missing."""
    return np.asarray(np.sqrt(((one - other) ** 2).mean(axis=-1)))


def near_in_cells(sketches: np.ndarray, reach: float, generator: np.random.Generator) -> np.ndarray:
    """Pairs of sketches no farther apart than `reach`, as one cutting of the space into cells finds them.

    Args:
        sketches: m × b.
        reach: largest distance, root mean square over the b points.
        generator: draws the projections; another draw finds others.

    Returns:
        p × 2 rows; a pair is missed where a border of cells runs between its two, no pair beyond `reach` ever comes.
    """
    m, b = sketches.shape
    if m < 2:
        return np.empty((0, 2), dtype=np.int64)
    axes = max(3, int(np.ceil(np.log10(m))))
    directions = generator.normal(size=(b, axes + 1))
    projected = sketches @ (directions / np.linalg.norm(directions, axis=0)).astype(np.float32)
    cells = np.floor(projected[:, :axes] / (CELL * reach) + generator.random(axes)).astype(np.int64)
    cell = (cells * generator.integers(1, 2**62, axes)).sum(axis=1)
    along = projected[:, axes]
    order = np.lexsort((along, cell))
    found = []
    for step in range(1, min(NEIGHBORS, m - 1) + 1):
        one, other = order[:-step], order[step:]
        close = (cell[one] == cell[other]) & (along[other] - along[one] <= NEAR_ENOUGH * reach)
        one, other = one[close], other[close]
        for begin in range(0, len(one), _CHUNK):
            part = slice(begin, begin + _CHUNK)
            hit = apart(sketches[one[part]], sketches[other[part]]) <= reach
            found.append(np.c_[one[part][hit], other[part][hit]])
    return np.concatenate(found) if found else np.empty((0, 2), dtype=np.int64)


def chance_below(distances: Any, reach: Any) -> np.ndarray:
    """Chance that two honest curves come as near as `reach`, from a sample of their distances.

    In the space that curves fill, the share of neighbors within r grows as a power of r (Grassberger and Procaccia
    1983, Physica D 9:189). The power is read between neighboring quantiles of the sample, and the largest of the
    chances is taken: power laws fitted above the tail never fall as steeply as the tail of normal differences does.

    Args:
        distances: d of pairs that are taken for honest.
        reach: one or more distances below the tail of the sample.
    """
    ordered = np.sort(np.asarray(distances, dtype=float))
    near = np.atleast_1d(np.asarray(reach, dtype=float))
    if len(ordered) < FEWEST_DISTANCES or ordered[0] <= 0:
        return np.ones(near.shape)
    shares = sorted({share for share in (10 / len(ordered), *QUANTILES) if share * len(ordered) >= 2})
    at = np.quantile(ordered, shares)
    chance = np.zeros(near.shape)
    for low, high, d_low, d_high in zip(shares[:-1], shares[1:], at[:-1], at[1:], strict=True):
        power = np.log(high / low) / max(np.log(d_high / d_low), 1e-6)
        chance = np.maximum(chance, low * np.exp(np.minimum(power * np.log(near / d_low), -np.log(low))))
    return np.minimum(chance, 1.0)


FEWEST_DISTANCES = 30
"""Fewest distances that tell anything about how near honest curves come."""


def together(pairs: np.ndarray) -> list[np.ndarray]:
    """Members of each connected group, sorted, the group of the least member first.

    Args:
        pairs: p × 2 numbers.
    """
    members, at = np.unique(pairs, return_inverse=True)
    one, other = at.reshape(-1, 2).T
    group = np.arange(len(members))
    while True:
        least = group.copy()
        np.minimum.at(least, one, group[other])
        np.minimum.at(least, other, group[one])
        least = np.minimum(least, least[least])
        if (least == group).all():
            break
        group = least
    order = np.argsort(group, kind="stable")
    cuts = np.flatnonzero(np.diff(group[order])) + 1
    return [members[part] for part in np.split(order, cuts)] if len(members) else []
