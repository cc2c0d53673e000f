"""Thinned pictures of curves: what is left of the points once a file is judged, 256 bytes a curve.

Between the first and the last frequency of the limit lie `schema.PICTURE_BINS` bins of equal width on a logarithmic
scale. Of each bin the point with the least margin stays: its margin and its value, as whole hundredths.
"""

from __future__ import annotations

import numpy as np

from analyzer import schema
from analyzer.schema import NO_POINT, PICTURE_BINS

_MOST = 32767


class Picture:
    """Draws the curves of one grid and one limit, some rows of a table at a time."""

    def __init__(self, parameter: str, ends_mhz: tuple[float, float], grid: np.ndarray) -> None:
        bins = _bin_of(grid, *ends_mhz)
        self._starts = np.flatnonzero(np.r_[True, bins[1:] != bins[:-1]])
        self._bins = bins[self._starts]
        self._steps = steps_of(parameter)
        self._key, self._low, self._scaled = (
            np.empty((0, 0), np.int32),
            np.empty((0, 0), np.int32),
            np.empty((0, 0), np.float32),
        )

    def of(self, margin: np.ndarray, value: np.ndarray, *, all_numbers: bool) -> np.ndarray:
        """Pictures of some rows, int16 (rows, 2, PICTURE_BINS).

        Args:
            margin: margins, (rows, points of the grid); not finite where a point is not judged.
            value: values, same shape.
            all_numbers: every margin and value is finite.
        """
        out = np.full((len(value), 2, PICTURE_BINS), NO_POINT, dtype=np.int16)
        if self._key.shape != value.shape:
            self._key, self._low = np.empty(value.shape, np.int32), np.empty(value.shape, np.int32)
            # 24 bits hold every number of a picture exactly, in half the room
            self._scaled = np.empty(value.shape, np.float32)
        # margin and value in one whole number, the margin in front: one pass finds the least margin and its value
        self._whole(margin, self._key, all_numbers)
        self._whole(value, self._low, all_numbers)
        if not all_numbers:
            self._key[~np.isfinite(margin)] = _MOST
            self._low[~np.isfinite(value)] = NO_POINT
        np.left_shift(self._key, 16, out=self._key)
        np.bitwise_and(self._low, 0xFFFF, out=self._low)
        np.bitwise_or(self._key, self._low, out=self._key)
        least = np.minimum.reduceat(self._key, self._starts, axis=1)
        out[:, 0, self._bins] = least >> 16
        out[:, 1, self._bins] = (least & 0xFFFF).astype(np.uint16).view(np.int16)
        out[:, 0][out[:, 0] == _MOST] = NO_POINT
        return out

    def _whole(self, numbers: np.ndarray, out: np.ndarray, all_numbers: bool) -> None:
        np.multiply(numbers, self._steps, out=self._scaled, casting="same_kind")
        if not all_numbers:
            np.nan_to_num(self._scaled, copy=False, nan=0.0)
        np.clip(self._scaled, -_MOST + 1, _MOST - 1, out=self._scaled)
        np.rint(self._scaled, out=self._scaled)
        np.copyto(out, self._scaled, casting="unsafe")


def steps_of(parameter: str) -> float:
    """How many steps of a picture make one unit of the parameter: 100 to a dB, 10 to a nanosecond."""
    return 100.0 if schema.UNIT_OF_PARAMETER.get(parameter, "dB") == "dB" else 10.0


def bin_edges_mhz(first_mhz: float, last_mhz: float) -> np.ndarray:
    """Edges of the bins of a picture between two frequencies [MHz], PICTURE_BINS + 1 numbers."""
    return np.geomspace(first_mhz, last_mhz, PICTURE_BINS + 1)


def _bin_of(grid: np.ndarray, first: float, last: float) -> np.ndarray:
    if last <= first:
        return np.zeros(len(grid), dtype=np.int64)
    return np.clip(np.searchsorted(bin_edges_mhz(first, last), grid, side="right") - 1, 0, PICTURE_BINS - 1)
