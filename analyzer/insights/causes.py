"""The likely causes of failing and marginal links, ranked, each with what speaks for it and what against.

`signs_fiber` and `signs_pairs` say what the readings show; cause_signs.csv says which cause a sign speaks for or against
and how strongly, with source; causes.csv says what to do next. A cause is told only where something speaks for it and
more for it than against it. It is a guess from numbers: the next step is there to test it.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from functools import cache
from importlib.resources import files

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.insights.signs_fiber import Sign, fiber_signs
from analyzer.insights.signs_pairs import pair_signs
from analyzer.schema import Analysis
from analyzer.standards import Values

MOST_CAUSES = 3
STRONG = 2
"""A sign of less weight only adds to others."""


@cache
def rows_of(name: str) -> tuple[dict[str, str], ...]:
    """Rows of one of the data files of this module."""
    lines = (files("analyzer.insights") / name).read_text(encoding="utf-8").splitlines()
    return tuple(csv.DictReader(line for line in lines if not line.startswith("#")))


@cache
def sources() -> dict[str, str]:
    """Short name of each source, as it is printed."""
    return {row["source_id"]: row["short"] for row in rows_of("cause_sources.csv")}


def likely_causes(analysis: Analysis, values: Values) -> pd.DataFrame:
    """Schema `causes`: at most `MOST_CAUSES` for each failing or marginal link, the likeliest first."""
    links = analysis.links
    asked = links["verdict"].isin(["fail", "marginal"]).to_numpy()
    parts = []
    for medium in ("fiber", "twisted pair"):
        here = asked & (links["medium"] == medium).to_numpy()
        if here.any():
            signs = fiber_signs(analysis, values) if medium == "fiber" else pair_signs(analysis)
            parts.append(weighed(medium, signs, here))
    parts = [part for part in parts if len(part)]
    if not parts:
        return schema.empty("causes")
    table = pd.concat(parts, ignore_index=True)
    table = table.sort_values(["link", "score", "order"], ascending=[True, False, True], kind="stable")
    table["rank"] = table.groupby("link").cumcount() + 1
    return schema.conform("causes", table[table["rank"] <= MOST_CAUSES].reset_index(drop=True))


def weighed(medium: str, signs: Iterable[Sign], asked: np.ndarray) -> pd.DataFrame:
    """Every cause that the signs of some link speak for: link, cause, score, words for and against, sources.

    Args:
        medium: whose rules are used.
        signs: the signs of all links.
        asked: which links are asked about.
    """
    shown = {name: (hit & asked, words) for name, hit, words in signs}
    at = np.flatnonzero(asked)
    parts = []
    for order, row in enumerate(rows_of("causes.csv")):
        if row["medium"] != medium:
            continue
        score, strong = np.zeros(len(at)), np.zeros(len(at), dtype=bool)
        words = {sign: np.full(len(at), "", dtype=object) for sign in (1, -1)}
        basis = np.full(len(at), "", dtype=object)
        for rule in rows_of("cause_signs.csv"):
            if rule["medium"] != medium or rule["cause"] != row["cause"] or rule["sign"] not in shown:
                continue
            hit, text = (values[at] for values in shown[rule["sign"]])
            if not hit.any():
                continue
            weight = int(rule["weight"])
            score += np.where(hit, weight, 0)
            strong |= hit & (weight >= STRONG)
            side = 1 if weight > 0 else -1
            words[side] = _joined(words[side], text, hit)
            for source in rule["source"].split():
                name = sources()[source]
                new = np.array([name not in said for said in basis.tolist()], dtype=bool)
                basis = _joined(basis, np.full(len(at), name, dtype=object), hit & new)
        told = (score > 0) & strong
        if not told.any():
            continue
        parts.append(
            pd.DataFrame(
                {
                    "link": at, "cause": row["cause"], "score": score, "order": order, "speaks_for": words[1],
                    "speaks_against": words[-1], "next_step": row["next_step"], "basis": basis,
                }
            )[told]
        )  # fmt: skip
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=["link", "cause", "score"])


def _joined(said: np.ndarray, more: np.ndarray, hit: np.ndarray) -> np.ndarray:
    return np.asarray(np.where(hit, np.where(said == "", more, said + "; " + more), said), dtype=object)
