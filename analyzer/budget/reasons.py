"""Why a reading was judged as it was: the closed set of causes, and the texts of those that a run used."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer import schema


class Cause(NamedTuple):
    """One row of reasons.csv."""

    code: str
    judged: bool
    text: str
    mend: str


@cache
def causes() -> dict[str, Cause]:
    """All causes by code, in the order of the file."""
    lines = (files("analyzer.budget") / "reasons.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {row["code"]: Cause(row["code"], row["judged"] == "yes", row["text"], row["mend"]) for row in rows}


def reason_table(
    flags: Mapping[str, np.ndarray], missing: np.ndarray, words: Mapping[str, str]
) -> tuple[np.ndarray, pd.DataFrame]:
    """Numbers of the reason of every reading, and the table of schema `reasons`.

    Args:
        flags: for each code a boolean array of n readings.
        missing: the names of the missing facts of every reading's record, text, n.
        words: other words in braces of the texts, one for the whole run.

    The code of a reason is its first cause in the order of reasons.csv; its text joins all of them.
    """
    known = causes()
    bits = np.zeros(len(missing), dtype=np.int64)
    for place, code in enumerate(known):
        if code in flags:
            bits |= flags[code].astype(np.int64) << place
    speaks_of_missing = np.array(["{missing}" in cause.text for cause in known.values()])
    mask = int(sum(1 << place for place in np.flatnonzero(speaks_of_missing)))
    names = np.where((bits & mask) != 0, missing, "")
    pairs = pd.DataFrame({"bits": bits, "names": names})
    numbers = pairs.groupby(["bits", "names"], sort=True).ngroup().to_numpy()
    distinct = pairs.drop_duplicates().sort_values(["bits", "names"])
    rows = [_row(bits, names, words) for bits, names in zip(distinct["bits"], distinct["names"], strict=True)]
    table = pd.DataFrame(rows, columns=["code", "text", "mend"])
    silent = distinct["bits"].to_numpy() == 0
    # number the reasons from 0, leaving -1 for "nothing to say"
    renumber = np.where(silent, -1, np.cumsum(~silent) - 1)
    table = table[~silent].reset_index(drop=True)
    table["reason"] = np.arange(len(table))
    return renumber[numbers] if len(numbers) else numbers, schema.conform("reasons", table)


def _row(bits: int, names: str, words: Mapping[str, str]) -> tuple[str, str, str]:
    held = [cause for place, cause in enumerate(causes().values()) if bits >> place & 1]
    if not held:
        return ("", "", "")
    text = "; ".join(cause.text.format(missing=names, **words) for cause in held)
    mend = "; ".join(dict.fromkeys(cause.mend for cause in held if cause.mend))
    return held[0].code, text, mend
