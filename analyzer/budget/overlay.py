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


def add_to_reasons(judged: pd.DataFrame, reasons: pd.DataFrame, texts: np.ndarray) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Add a text to the reason of each reading; "" adds nothing; equal reasons are held once.

    Args:
        judged: schema `judged`, n rows.
        reasons: schema `reasons`; `reason` is the position.
        texts: one for each reading, n.
    """
    at = np.flatnonzero(texts != "")
    if not len(at):
        return judged, reasons
    pairs = pd.DataFrame({"reason": judged["reason"].to_numpy()[at], "text": texts[at]})
    number = pairs.groupby(["reason", "text"], sort=False).ngroup().to_numpy()
    distinct = pairs.drop_duplicates()
    before = reasons.reindex(distinct["reason"]).reset_index(drop=True)
    said = distinct["text"].reset_index(drop=True)
    more = pd.DataFrame({
        "reason": np.arange(len(distinct)) + len(reasons), "code": before["code"].fillna("moved-limit"),
        "text": (before["text"].astype("object").fillna("") + "; " + said).str.removeprefix("; "),
        "mend": before["mend"].fillna(""),
    })  # fmt: skip
    moved = judged["reason"].to_numpy(copy=True)
    moved[at] = number + len(reasons)
    whole = schema.conform("reasons", pd.concat([reasons, more], ignore_index=True))
    return schema.conform("judged", judged.assign(reason=moved)), whole
