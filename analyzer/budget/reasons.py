"""Why a reading was judged as it was: the closed set of causes, and the texts of those that a run used."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.plain import distinct_rows


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
    flags: Mapping[str, np.ndarray], told: Mapping[str, np.ndarray], words: Mapping[str, str]
) -> tuple[np.ndarray, pd.DataFrame]:
    """Numbers of the reason of every reading, and the table of schema `reasons`.

    Args:
        flags: for each code a boolean array of n readings.
        told: words in braces of the texts that differ from reading to reading, n texts each; `missing` is always there.
        words: other words in braces of the texts, one for the whole run.

    The code of a reason is its first cause in the order of reasons.csv; its text joins all of them.
    """
    known = causes()
    bits = np.zeros(len(told["missing"]), dtype=np.int64)
    for place, code in enumerate(known):
        if code in flags:
            bits |= flags[code].astype(np.int64) << place
    # only where a cause that holds speaks of a word does that word tell reasons apart
    every_bit = int(np.bitwise_or.reduce(bits)) if len(bits) else 0
    spoken = {
        name: np.where((bits & _speaking_of(name)) != 0, texts, "")
        for name, texts in told.items()
        if every_bit & _speaking_of(name)
    }
    numbers, first = distinct_rows(bits, *spoken.values())
    distinct = pd.DataFrame({"bits": bits[first], **{name: texts[first] for name, texts in spoken.items()}})
    distinct = distinct.sort_values(list(distinct.columns))
    rows = [_row(one.pop("bits"), {**one, **dict(words)}) for one in distinct.to_dict("records")]
    table = pd.DataFrame(rows, columns=["code", "text", "mend"])
    silent = distinct["bits"].to_numpy() == 0
    # number the reasons from 0 as they are sorted, leaving -1 for "nothing to say"
    renumber = np.empty(len(distinct), dtype=np.int64)
    renumber[distinct.index.to_numpy()] = np.where(silent, -1, np.cumsum(~silent) - 1)
    table = table[~silent].reset_index(drop=True)
    table["reason"] = np.arange(len(table))
    return renumber[numbers], schema.conform("reasons", table)


def _speaking_of(name: str) -> int:
    """Bits of the causes whose text holds a word in braces."""
    return sum(1 << place for place, cause in enumerate(causes().values()) if f"{{{name}}}" in cause.text + cause.mend)


def _row(bits: int, words: Mapping[Any, str]) -> tuple[str, str, str]:
    held = [cause for place, cause in enumerate(causes().values()) if bits >> place & 1]
    if not held:
        return ("", "", "")
    filled = {str(name): text for name, text in words.items()}
    text = "; ".join(cause.text.format(**filled) for cause in held)
    mend = "; ".join(dict.fromkeys(cause.mend.format(**filled) for cause in held if cause.mend))
    return held[0].code, text, mend
