"""Sketches of curves against means taken point by point."""

import numpy as np
import pandas as pd
import pytest

from analyzer import schema
from analyzer.budget.curve_sketches import bin_starts, sketches_of
from analyzer.points import Points
from analyzer.schema import NO_POINT, SKETCH_BINS

GRID, OTHER = np.arange(1.0, 251.0), np.linspace(2.0, 100.0, 20)


def given(*rows):
    """(parameter, frequencies, values)."""
    points = Points.of([(grid, np.asarray(value, dtype=float)) for _, grid, value in rows])
    frame = pd.DataFrame({"record": range(len(rows)), "parameter": [row[0] for row in rows], "grid": points.grid})
    return schema.conform("curves", frame), points


def test_a_sketch_holds_the_mean_of_each_bin():
    value = 40 + 5 * np.sin(GRID / 7)
    (sketch,), number = sketches_of(*given(("NEXT", GRID, value)))
    assert number.tolist() == [0]
    edges = np.geomspace(1.0, 250.0, SKETCH_BINS + 1)
    at = np.clip(np.searchsorted(edges * (1 - 1e-12), GRID, side="right") - 1, 0, SKETCH_BINS - 1)
    means = [value[at == one].mean() for one in range(SKETCH_BINS) if (at == one).any()]
    assert sketch[: len(means)] == pytest.approx(np.array(means) * 100, abs=0.51)
    assert (sketch[len(means) :] == NO_POINT).all()
    assert len(means) == len(bin_starts(GRID)) < SKETCH_BINS


def test_only_curves_with_a_ripple_of_their_own_have_a_sketch():
    rows = [("insertion loss", GRID, GRID / 30), ("return loss", OTHER, 30 - OTHER / 10), ("NEXT", GRID, 80 - GRID / 9)]
    sketch, number = sketches_of(*given(*rows))
    assert number.tolist() == [-1, 0, 1]
    assert (sketch[0] != NO_POINT).sum() == len(bin_starts(OTHER))
    assert (sketch[1] != NO_POINT).sum() == len(bin_starts(GRID))


def test_points_that_are_no_numbers_are_left_out():
    value = np.full(len(GRID), 35.0)
    value[[100, 101]] = np.nan
    value[0] = np.nan
    (sketch,), _ = sketches_of(*given(("NEXT", GRID, value)))
    assert sketch[0] == NO_POINT
    assert set(sketch[1 : len(bin_starts(GRID))].tolist()) == {3500}


@pytest.mark.parametrize("grid", [np.array([100.0]), np.array([0.0, 10.0])])
def test_a_grid_without_a_span_is_one_bin(grid):
    (sketch,), _ = sketches_of(*given(("NEXT", grid, np.full(len(grid), 41.5))))
    assert sketch.tolist() == [4150] + [NO_POINT] * (SKETCH_BINS - 1)
