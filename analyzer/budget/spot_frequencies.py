"""Readings of one test at several frequencies, which are no retests of each other.

A table of worst points has one frequency for each reading, and a second row about the same thing is a second test. A
table of spot frequencies has one row for each frequency, or one column: there the frequency belongs to what is measured.
The two are told apart by what shares a frequency: in a row of spot frequencies several readings stand at the same one,
or one thing stands at several.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

_UNIT = ["parameter", "pair", "end", "direction"]


def spot_frequencies(tests: pd.DataFrame, readings: pd.DataFrame, is_curve: np.ndarray) -> np.ndarray:
    """Number of the frequency of each reading that is one of several of the same test, n integers; 0 for all others.

    Args:
        tests: one row per reading, as `retests.tests_of` makes them.
        readings: schema `readings`, same order.
        is_curve: whether each is the worst point of a curve.
    """
    out = np.zeros(len(tests), dtype=np.int64)
    frequency = readings["frequency_mhz"].to_numpy()
    at = np.flatnonzero(np.isfinite(frequency) & ~is_curve)
    if not len(at):
        return out
    rows = tests.iloc[at][["link", "tested_at", "configuration", *_UNIT]].reset_index(drop=True)
    rows = rows.assign(**{name: readings[name].to_numpy()[at] for name in ("block", "row", "frequency_mhz")})
    rows["unit"] = rows.groupby(_UNIT, sort=False).ngroup()
    beside = rows.groupby(["block", "row", "frequency_mhz"], sort=False)["unit"].transform("nunique") > 1
    along = rows.groupby(["block", "row", "unit"], sort=False)["frequency_mhz"].transform("nunique") > 1
    shares = beside | along
    one_test = rows.assign(shares=shares).groupby(
        ["block", "link", "unit", "configuration", "tested_at"], sort=False, dropna=False
    )
    several = (one_test["frequency_mhz"].transform("nunique") > 1) & one_test["shares"].transform("all")
    numbers = pd.factorize(rows["frequency_mhz"], sort=True)[0] + 1
    out[at] = np.where(several, numbers, 0)
    return out
