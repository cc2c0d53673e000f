"""Labels that speak for several strands: how many, and the strands by name where the row has a reading for each."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from analyzer.importing.distinct import where

_RANGE = re.compile(r"(?P<before>^|.*[^0-9])(?P<first>\d{1,4})\s*(?P<to>\.\.+|–|—|~|to|bis|-)\s*(?P<last>\d{1,4})$")
_BARE = re.compile(r"\d{1,4}\s*[-–—]\s*\d{1,4}")
_MOST = 2000
_SAME = ["parameter", "wavelength_nm", "pair", "end", "direction"]


def group_sizes(labels: Any) -> np.ndarray:
    """How many strands each label speaks for: 12 for `TB-01-01..12` or `01-12` at the end, else 1."""
    codes, distinct = pd.factorize(np.asarray(labels, dtype=object))
    sizes = sizes_of([str(text) for text in distinct])
    return sizes[codes] if len(sizes) else np.zeros(0, dtype=np.int16)


def sizes_of(texts: Sequence[str]) -> np.ndarray:
    """The same for distinct texts."""
    return where(texts, r"\.\.|to|~|bis|^\s*\p{Nd}", lambda text: len(strands_of(text)) or 1, 1, np.int16)


def strands_of(text: str) -> list[str]:
    """The strands of a range by name: `TB-01-01..03` gives `TB-01-01`, `TB-01-02`, `TB-01-03`; empty for no range.

    A hyphen makes a range only where nothing else stands: `TB-01-12` is one strand, `01-12` are twelve.
    """
    match = _RANGE.fullmatch(text.strip())
    if not match or (match["to"] in {"-", "–", "—"} and not _BARE.fullmatch(text.strip())):
        return []
    first, last = int(match["first"]), int(match["last"])
    if not 0 < first < last < first + _MOST:
        return []
    return [f"{match['before']}{number:0{len(match['first'])}d}" for number in range(first, last + 1)]


def split_ranges(
    records: pd.DataFrame, readings: pd.DataFrame, names: Any, identity: Any
) -> tuple[pd.DataFrame, pd.DataFrame, int]:
    """Records about several strands that hold one reading for each, as one record for each strand; how many were split.

    Split where every kind of reading (parameter, wavelength, pair, end, direction) stands as often in the row as there
    are strands: then the first is that of the first strand. `names(record)` gives the strands, `identity` their keys.
    """
    if readings.empty or not (records["strands"] > 1).any():
        return records, readings, 0
    kinds = readings.groupby(["record", *_SAME], sort=False, dropna=False)["value"].transform("size").to_numpy()
    several = records["strands"].to_numpy()
    fits = pd.Series(kinds == several[readings["record"]]).groupby(readings["record"].to_numpy()).all()
    chosen = [int(record) for record in fits.index[fits.to_numpy()] if several[record] > 1]
    if not chosen:
        return records, readings, 0
    counts = np.ones(len(records), dtype=np.int64)
    counts[chosen] = several[chosen]
    first = np.cumsum(counts) - counts
    out = records.loc[np.repeat(np.arange(len(records)), counts)].reset_index(drop=True)
    for record in chosen:
        strands = names(record)
        place = slice(first[record], first[record] + counts[record])
        out.loc[out.index[place], "label"] = strands
        out.loc[out.index[place], "key"] = np.asarray(identity(strands), dtype=object)
        out.loc[out.index[place], "strands"] = 1
    moved = readings.copy()
    turn = readings.groupby(["record", *_SAME], sort=False, dropna=False).cumcount().to_numpy()
    old = readings["record"].to_numpy()
    moved["record"] = first[old] + np.where(counts[old] > 1, turn, 0)
    order = np.lexsort((moved["col"].to_numpy(), moved["record"].to_numpy()))
    return out, moved.iloc[order].reset_index(drop=True), len(chosen)
