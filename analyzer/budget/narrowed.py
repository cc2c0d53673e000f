"""A run narrowed to some of its records: every table without the others, numbered anew, so that numbers stay positions."""

from __future__ import annotations

import numpy as np
import pandas as pd

_OF_RECORDS = ("records", "facts", "readings", "curves", "events")


def narrowed(
    tables: dict[str, pd.DataFrame], seeds: pd.DataFrame, keep: np.ndarray
) -> tuple[dict[str, pd.DataFrame], pd.DataFrame]:
    """Tables and seeds of the records that are kept; what was read (files, blocks, what was set aside) stays whole.

    Args:
        tables: schema tables by name; `record` is the position of the record, `reading` that of the reading.
        seeds: code, record (-1: none), text.
        keep: which records stay, n marks.
    """
    record = _numbers(keep)
    kept_readings = keep[tables["readings"]["record"].to_numpy()]
    reading = _numbers(kept_readings)
    out = dict(tables)
    for name in _OF_RECORDS:
        frame = tables[name]
        stays = keep[frame["record"].to_numpy()] if len(frame) else np.zeros(0, dtype=bool)
        frame = frame[stays].reset_index(drop=True)
        out[name] = frame.assign(record=record[frame["record"].to_numpy()] if len(frame) else frame["record"])
    out["judged"] = tables["judged"][kept_readings].reset_index(drop=True)
    for name in ("readings", "judged"):
        out[name] = out[name].assign(reading=np.arange(len(out[name])))
    curves = out["curves"]
    if len(curves):
        of = curves["reading"].to_numpy()
        out["curves"] = curves.assign(curve=np.arange(len(curves)), reading=np.where(of < 0, -1, reading[of]))
    if len(out["events"]):
        out["events"] = out["events"].assign(event=np.arange(len(out["events"])))
    about = seeds["record"].to_numpy(dtype=np.int64)
    mine = (about < 0) | (keep[np.clip(about, 0, None)] if len(keep) else False)
    told = seeds[mine].reset_index(drop=True)
    at = told["record"].to_numpy(dtype=np.int64)
    return out, told.assign(record=np.where(at < 0, -1, record[np.clip(at, 0, None)] if len(record) else -1))


def _numbers(keep: np.ndarray) -> np.ndarray:
    """New position of each row that stays; -1 for the others."""
    return np.where(keep, np.cumsum(keep) - 1, -1)
