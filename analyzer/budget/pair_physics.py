"""Delay, velocity and length of twisted pair: delay is measured, length is derived.

    length = delay · velocity,   velocity = NVP · speed of light in vacuum

Where an export has delays and the velocity that its tester was set to, but no length, the length is derived and told.
Where it has both, the velocity that they imply is worked out: `insights` tells where it does not fit.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from analyzer.budget.curve_sums import same_test
from analyzer.budget.facts import join_seeds

SPEED_OF_LIGHT_M_PER_NS = 0.299792458
"""In vacuum, exact by the definition of the meter."""


def delay_ns(length_m: Any, nvp_percent: Any) -> Any:
    """Propagation delay [ns] of a length [m] at a velocity [% of that of light in vacuum]; number or array."""
    return length_m / (nvp_percent / 100 * SPEED_OF_LIGHT_M_PER_NS)


def length_m(delay_ns: Any, nvp_percent: Any) -> Any:
    """Length [m] that a delay [ns] means at a velocity [% of that of light in vacuum]; number or array."""
    return delay_ns * (nvp_percent / 100 * SPEED_OF_LIGHT_M_PER_NS)


def nvp_percent(length_m: Any, delay_ns: Any) -> Any:
    """Velocity [% of that of light in vacuum] that a length [m] and a delay [ns] imply; number or array."""
    return length_m / delay_ns / SPEED_OF_LIGHT_M_PER_NS * 100


def shortest_delay_ns(records: pd.DataFrame, readings: pd.DataFrame) -> np.ndarray:
    """Least propagation delay among the pairs of each record's test [ns], NaN where none was measured; m numbers.

    The pairs of a cable are twisted unlike; the one with the least twist is the nearest to the length of the jacket
    (common practice, no source).
    """
    test = same_test(records)
    use = (
        (readings["parameter"] == "propagation delay") & readings["bound"].isna() & (readings["value"] > 0)
    ).to_numpy()
    least = np.full(int(test.max()) + 1 if len(test) else 0, np.inf)
    np.minimum.at(least, test[readings["record"].to_numpy()[use]], readings["value"].to_numpy()[use])
    known: np.ndarray = np.where(np.isinf(least), np.nan, least)[test]
    return known


def derive_lengths(facts: pd.DataFrame, records: pd.DataFrame, readings: pd.DataFrame) -> pd.DataFrame:
    """Fill `length_m` of twisted pair where only delay and velocity say it; gives seeds of findings.

    Args:
        facts: schema `facts`, m rows; changed in place, `length_m_from` becomes "derived".
        records: schema `records`, same order.
        readings: schema `readings`; `record` is the position of the record.
    """
    nvp = records["nvp_percent"].to_numpy()
    if np.isnan(nvp).all():
        return join_seeds([])
    delay = shortest_delay_ns(records, readings)
    fill = facts["length_m"].isna().to_numpy() & records["length_unstated"].isna().to_numpy()
    fill &= (facts["medium"] != "fiber").to_numpy() & np.isfinite(delay) & np.isfinite(nvp)
    facts["length_m"] = facts["length_m"].mask(fill, length_m(delay, nvp))
    facts["length_m_from"] = facts["length_m_from"].mask(fill, "derived")
    velocities = np.unique(nvp[fill])
    if not len(velocities):
        return join_seeds([])
    percent = f"{velocities[0]:g} %" if len(velocities) == 1 else f"{velocities[0]:g} to {velocities[-1]:g} %"
    text = f"length: derived from the delay of the quickest pair and the stated velocity ({percent} of that of light)"
    return pd.DataFrame({"code": "length-derived", "record": records["record"].to_numpy()[fill], "text": text})
