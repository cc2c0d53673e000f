"""Crews that worked from the other end: records whose ends are the schedule's exchanged are turned round.

End A is the schedule's first end. A record that names both its ends (labels or places) the other way round was measured
from the other end: its ends and directions are exchanged, so that those of all crews can be joined. A record that names
one end, or none, is left as it is: its direction stays what the file says, and no verdict hinges on it.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.budget.plain import texts_of
from analyzer.budget.scheduled import ScheduleIndex

_ENDS = (("label_a", "label_b"), ("place_a", "place_b"))
_EXCHANGED = (*_ENDS, ("position_a", "position_b"), ("end_type_a", "end_type_b"))


def ends_exchanged(records: pd.DataFrame, schedule: ScheduleIndex, row: np.ndarray) -> np.ndarray:
    """Which records name their two ends as the schedule does, exchanged; n booleans.

    Where labels and places tell different stories nothing is exchanged.

    Args:
        records: schema `records`, n rows.
        schedule: what was scheduled.
        row: row of the schedule that tells the ends of each record; -1: none.
    """
    if (np.asarray(row) < 0).all():
        return np.zeros(len(records), dtype=bool)
    rows = schedule.take(row)
    turned, straight = (np.zeros(len(records), dtype=bool) for _ in range(2))
    for first, second in _ENDS:
        own_a, own_b, a, b = (_plain(frame[name]) for frame in (records, rows) for name in (first, second))
        told = (own_a != "") & (own_b != "") & (a != b)
        straight |= told & (own_a == a) & (own_b == b)
        turned |= told & (own_a == b) & (own_b == a)
    return turned & ~straight


def turned_records(records: pd.DataFrame, turned: np.ndarray) -> pd.DataFrame:
    """Records with labels, places and types of their ends exchanged where `turned`."""
    out = records.copy(deep=False)
    for first, second in _EXCHANGED if turned.any() else ():
        out[first] = records[first].where(~turned, records[second])
        out[second] = records[second].where(~turned, records[first])
    return out


def turned_readings(frame: pd.DataFrame, turned: np.ndarray) -> pd.DataFrame:
    """Readings, curves or events with end and direction exchanged where their record is turned."""
    out = frame.copy(deep=False)
    if not len(frame):
        return out
    here = turned[frame["record"].to_numpy()]
    for name in ("end", "direction"):
        if name in frame:
            codes = frame[name].cat.codes.to_numpy()
            out[name] = pd.Categorical.from_codes(
                np.where(here & (codes >= 0), 1 - codes, codes),
                dtype=pd.CategoricalDtype(list(frame[name].cat.categories)),
            )
    return out


def told(turned: np.ndarray) -> pd.DataFrame:
    """Seeds: code, record, text."""
    at = np.flatnonzero(turned)
    text = "measured from the schedule's second end: its ends and directions are exchanged"
    return pd.DataFrame({"code": "ends-exchanged", "record": at.astype("int32"), "text": text}, index=range(len(at)))


def _plain(texts: pd.Series) -> np.ndarray:
    codes, distinct = pd.factorize(texts_of(texts))
    return np.array([text.strip().casefold() for text in distinct], dtype=object)[codes]
