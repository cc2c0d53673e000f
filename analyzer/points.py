"""The points of curves: one flat array of values, and every distinct grid of frequencies once.

Curves are large and short-lived: they live inside the reading and judging of one file, are reduced there to their
worst points, and never travel further. `Points` stands beside the table `curves` of `analyzer.schema`, which has one
row for each curve, in the same order.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

CEILINGS = frozenset({"insertion loss", "propagation delay", "delay skew"})
"""Parameters of which less is better; of every other curve more is better."""


@dataclass(frozen=True)
class Points:
    """Points of c curves on g distinct grids; curve k holds `value[offset[k]:offset[k + 1]]` on `frequency_mhz[grid[k]]`.

    Values are in the unit of the parameter of the curve, in the order of rising frequency.
    """

    frequency_mhz: list[np.ndarray] = field(default_factory=list)
    """Grids [MHz], each a rising float64 array; no two are equal."""
    value: np.ndarray = field(default_factory=lambda: np.empty(0))
    """All values, float64, curve after curve."""
    offset: np.ndarray = field(default_factory=lambda: np.zeros(1, dtype=np.int64))
    """Where each curve begins, int64, one more than there are curves."""
    grid: np.ndarray = field(default_factory=lambda: np.empty(0, dtype=np.int32))
    """Number of the grid of each curve, int32."""
    limit: list[np.ndarray] = field(default_factory=list)
    """Distinct limits that the export prints beside curves, each on the grid of its curves [unit of the parameter]."""
    limit_at: np.ndarray = field(default_factory=lambda: np.empty(0, dtype=np.int32))
    """Number of the printed limit of each curve, int32; -1 where none is printed."""

    def __len__(self) -> int:
        return len(self.grid)

    def curve(self, number: int) -> tuple[np.ndarray, np.ndarray]:
        """Frequencies [MHz] and values of one curve."""
        return self.frequency_mhz[self.grid[number]], self.value[self.offset[number] : self.offset[number + 1]]

    def printed_limit(self, number: int) -> np.ndarray | None:
        """The limit that the export prints beside a curve, on its grid; None where it prints none."""
        at = int(self.limit_at[number])
        return None if at < 0 else self.limit[at]

    def rows(self, numbers: np.ndarray) -> np.ndarray:
        """Values of several curves of one grid as a table, one row each; a view where they lie one after the other."""
        width = len(self.frequency_mhz[self.grid[numbers[0]]])
        start = self.offset[numbers]
        if len(numbers) == 1 or bool((np.diff(start) == width).all()):
            return self.value[start[0] : start[0] + width * len(numbers)].reshape(len(numbers), width)
        shift = int(start[0]) % width
        if bool((start % width == shift).all()):  # whole rows of a table: far quicker than element by element
            table = self.value[shift : shift + (len(self.value) - shift) // width * width].reshape(-1, width)
            taken: np.ndarray = table.take((start - shift) // width, axis=0)
            return taken
        return np.stack([self.value[begin : begin + width] for begin in start.tolist()])

    @classmethod
    def of(
        cls,
        curves: Iterable[tuple[np.ndarray, np.ndarray]],
        limits: Sequence[np.ndarray | None] | None = None,
    ) -> Points:
        """From pairs of frequencies [MHz] and values; equal grids and equal limits are held once."""
        grids, printed = _Distinct(), _Distinct()
        parts, grid, limit_at = [], [], []
        for number, (frequency, value) in enumerate(curves):
            grid.append(grids.number(frequency))
            parts.append(np.asarray(value, dtype=np.float64))
            limit = limits[number] if limits is not None else None
            limit_at.append(-1 if limit is None else printed.number(limit))
        sizes = np.fromiter((len(part) for part in parts), np.int64, len(parts))
        return cls(
            grids.arrays, np.concatenate(parts) if parts else np.empty(0), np.r_[0, np.cumsum(sizes)].astype(np.int64),
            np.asarray(grid, dtype=np.int32), printed.arrays, np.asarray(limit_at, dtype=np.int32),
        )  # fmt: skip

    @classmethod
    def joined(cls, parts: Sequence[Points]) -> Points:
        """Several sets of curves one after the other; grids that are equal are held once."""
        grids, printed = _Distinct(), _Distinct()
        grid, limit_at = [], []
        for part in parts:
            to_grid = np.fromiter((grids.number(one) for one in part.frequency_mhz), np.int32, len(part.frequency_mhz))
            to_limit = np.fromiter((printed.number(one) for one in part.limit), np.int32, len(part.limit))
            grid.append(to_grid[part.grid])
            limit_at.append(np.where(part.limit_at >= 0, np.r_[to_limit, np.int32(-1)][part.limit_at], -1))
        sizes = [np.diff(part.offset) for part in parts]
        return cls(
            grids.arrays, np.concatenate([part.value for part in parts] or [np.empty(0)]),
            np.r_[0, np.cumsum(np.concatenate(sizes or [np.empty(0, dtype=np.int64)]))].astype(np.int64),
            np.concatenate(grid or [np.empty(0, dtype=np.int32)]).astype(np.int32), printed.arrays,
            np.concatenate(limit_at or [np.empty(0, dtype=np.int32)]).astype(np.int32),
        )  # fmt: skip


def wide_steps(frequency_mhz: np.ndarray, times: float) -> np.ndarray:
    """Which steps of a rising grid are more than `times` as wide as those around them (median of five), n - 1 marks."""
    steps = np.diff(frequency_mhz)
    if len(steps) < 3:
        return np.zeros(len(steps), dtype=bool)
    around = np.lib.stride_tricks.sliding_window_view(np.pad(steps, 2, mode="reflect"), 5)
    return np.asarray(steps > times * np.median(around, axis=1))


class _Distinct:
    """Arrays held once each, by their bytes."""

    def __init__(self) -> None:
        self.arrays: list[np.ndarray] = []
        self._numbers: dict[bytes, int] = {}

    def number(self, values: Any) -> int:
        array = np.ascontiguousarray(values, dtype=np.float64)
        key = array.tobytes()
        if key not in self._numbers:
            self._numbers[key] = len(self.arrays)
            self.arrays.append(array)
        return self._numbers[key]


def curve_hash(frequency_mhz: np.ndarray, value: np.ndarray) -> int:
    """64 bits over the points of a curve: two curves with the same points share it."""
    digest = hashlib.blake2b(np.ascontiguousarray(frequency_mhz, dtype=np.float64).tobytes(), digest_size=8)
    digest.update(np.ascontiguousarray(value, dtype=np.float64).tobytes())
    return int.from_bytes(digest.digest(), "little")
