"""Verdicts of some readings laid over the table of all: each special judge owns the readings that it names."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analyzer import schema


@dataclass(frozen=True)
class Overlay:
    """What one judge says of k readings.

    `at` are the positions of the readings; `columns` holds columns of the schema `judged`, k entries each, in which
    `reason` numbers the rows of `reasons` (-1: nothing to say).
    """

    at: np.ndarray
    columns: dict[str, np.ndarray]
    reasons: pd.DataFrame
    """Schema `reasons`, numbered from 0."""


def lay_over(judged: pd.DataFrame, reasons: pd.DataFrame, overlay: Overlay) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Tables `judged` and `reasons` with what the overlay says in place of what stood there."""
    if not len(overlay.at):
        return judged, reasons
    columns = dict(overlay.columns)
    own = np.asarray(columns["reason"])
    columns["reason"] = np.where(own >= 0, own + len(reasons), -1)
    out = judged.copy(deep=False)
    for name, values in columns.items():
        column = out[name].astype("object") if out[name].dtype == "category" else out[name]
        filled = column.to_numpy(copy=True)
        filled[overlay.at] = values
        out[name] = filled
    moved = overlay.reasons.assign(reason=overlay.reasons["reason"] + len(reasons))
    return schema.conform("judged", out), schema.conform("reasons", pd.concat([reasons, moved], ignore_index=True))
