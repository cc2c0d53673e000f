"""Sketches of curves: 32 means along the frequency, 64 bytes a curve, by which links with the same curves are found.

The thinned pictures would not do: a point that is exempt stands in none of them, and of a short link most points are.
A mean changes by no more than its points do, and rounding or noise of a digit nearly cancels in it.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.points import Points
from analyzer.schema import NO_POINT, SKETCH_BINS

SKETCHED = ("NEXT", "return loss")
"""Parameters whose ripple is another on every link (common practice, no source); insertion loss hardly differs between
links of one length and cable."""

_MOST = 32767
_CHUNK_POINTS = 65_536


def sketches_of(curves: pd.DataFrame, points: Points) -> tuple[np.ndarray, np.ndarray]:
    """Sketches of the curves of one file.

    Args:
        curves: schema `curves`, n rows in the order of the points.
        points: their points.

    Returns:
        int16 (s, SKETCH_BINS), hundredths of a dB, as `schema.Analysis.sketches`; and of each curve the number of its
        sketch, n integers, -1 where it has none.
    """
    number = np.full(len(curves), -1, dtype=np.int32)
    chosen = np.flatnonzero(curves["parameter"].isin(SKETCHED).to_numpy())
    number[chosen] = np.arange(len(chosen))
    out = np.full((len(chosen), SKETCH_BINS), NO_POINT, dtype=np.int16)
    grid = curves["grid"].to_numpy()[chosen]
    for one in np.unique(grid):
        frequency = points.frequency_mhz[int(one)]
        starts = bin_starts(frequency)
        rows = np.flatnonzero(grid == one)
        step = max(_CHUNK_POINTS // len(frequency), 1)
        for begin in range(0, len(rows), step):
            part = rows[begin : begin + step]
            out[part, : len(starts)] = _means(points.rows(chosen[part]), starts)
    return out, number


def bin_starts(frequency_mhz: np.ndarray) -> np.ndarray:
    """First point of each bin of a grid: bins of equal width on a logarithmic scale, those without a point left out."""
    first, last = float(frequency_mhz[0]), float(frequency_mhz[-1])
    if not 0 < first < last:
        return np.zeros(1, dtype=np.int64)
    edges = np.geomspace(first, last, SKETCH_BINS + 1)[:-1] * (1 - 1e-12)
    return np.unique(np.searchsorted(frequency_mhz, edges))


def _means(value: np.ndarray, starts: np.ndarray) -> np.ndarray:
    """Means of the points of each bin as whole hundredths; `NO_POINT` where no point is a number."""
    count = np.diff(np.r_[starts, value.shape[1]])
    total = np.add.reduceat(value, starts, axis=1)
    if not np.isfinite(total).all():
        number = np.isfinite(value)
        total = np.add.reduceat(np.where(number, value, 0.0), starts, axis=1)
        count = np.add.reduceat(number.astype(np.int64), starts, axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        whole = np.clip(np.rint(total / count * 100), -_MOST, _MOST)
    return np.asarray(np.where(np.isfinite(whole), whole, NO_POINT).astype(np.int16))
