"""Admissible worlds: what may be true of a link where facts are missing.

A record with all its facts lives in one world. Every missing fact opens its admissible set (values: `admissible`),
narrowed by what is known: the glass, the wavelengths that were measured, the job. The limit only grows with length,
matings and splices, so of those the two extremes are enough; types and constructions are listed one by one.
Without a length the extremes are 0 m and no bound at all: what passes at 0 m passes at any length.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import product
from typing import Any

import numpy as np
import pandas as pd

from analyzer.budget.facts import FEET_IN_M
from analyzer.budget.fiber import reference_cords
from analyzer.budget.plain import distinct_rows, texts_of
from analyzer.job import Job
from analyzer.standards import Values, admissible, allowances

MOST_WORLDS = 64

FACT_NAMES = {
    "type": "fiber type",
    "construction": "cable construction (inside plant, indoor-outdoor, outside plant)",
    "mated_pairs": "mated pairs",
    "splices": "splices",
    "length_m": "length",
    "unit": "unit of the length",
}
"""How a missing fact is named in a sentence."""


def make_worlds(
    facts: pd.DataFrame,
    records: pd.DataFrame,
    disputed_type: pd.Series,
    job: Job,
    values: Values,
) -> tuple[pd.DataFrame, pd.Series]:
    """Worlds of every record of fiber, and the names of its missing facts; twisted pair has none of these worlds.

    Args:
        facts: schema `facts`, n rows.
        records: schema `records`, n rows (its `length_unstated`).
        disputed_type: second statement of the type, n rows.
        job: narrows the admissible sets.
        values: the admissible sets.

    Returns:
        A frame with one row per world: `at` (position of the record), `world` (number within the record), `alternative`
        (statements that differ share a world; the stricter decides), `type`, `construction`, `length_m`, `matings`,
        `array_matings`, `splices`; and a text per record: the missing facts separated by "; ".
    """
    fiber = np.flatnonzero((facts["medium"] != "twisted pair").to_numpy())
    names = pd.Series("", index=range(len(facts)), dtype="str")
    if len(fiber) < len(facts):
        one, said = (table.take(fiber).reset_index(drop=True) for table in (facts, records))
        disputed = disputed_type.take(fiber).reset_index(drop=True)
        worlds, told = make_worlds(one, said, disputed, job, values)
        names.iloc[fiber] = told
        return worlds.assign(at=fiber[worlds["at"].to_numpy(np.int64)]), names
    if facts.empty:
        return _NO_WORLDS.copy(), pd.Series(dtype="str")
    state = {
        "type": texts_of(facts["type"], np.nan),
        "disputed": disputed_type.to_numpy(dtype=object),
        **{name: texts_of(facts[name], np.nan) for name in ("glass", "construction", "standard", "edition")},
        "pairs": facts["mated_pairs"].notna().to_numpy(),
        "splices": facts["splices"].notna().to_numpy(),
        "length": _length_state(facts, records),
    }
    signature, first = distinct_rows(*state.values())
    distinct = [{name: column[at] for name, column in state.items()} for at in first.tolist()]
    templates = [_template(row, job, values) for row in distinct]
    missing = pd.Series([words for _, words in templates], dtype="str")
    sizes = np.array([len(rows) for rows, _ in templates])
    start, own = np.cumsum(sizes) - sizes, sizes[signature]
    at = np.repeat(np.arange(len(facts)), own)
    every = pd.DataFrame([row for rows, _ in templates for row in rows])
    # each record takes the run of rows of its combination
    taken = np.arange(len(at)) - np.repeat(np.cumsum(own) - own, own) + start[signature][at]
    worlds = every.take(taken).reset_index(drop=True)
    worlds.insert(0, "at", at)
    return _fill_numbers(worlds, facts, records, values), missing.take(signature).reset_index(drop=True)


_NO_WORLDS = pd.DataFrame(
    {name: pd.Series(dtype="int64") for name in ("at", "world", "alternative")}
    | {name: pd.Series(dtype="object") for name in ("type", "construction", "length_rule")}
    | {name: pd.Series(dtype="float64") for name in ("length_m", "matings", "array_matings", "splices")}
)


def _length_state(facts: pd.DataFrame, records: pd.DataFrame) -> np.ndarray:
    unstated = records["length_unstated"].notna()
    return np.select([facts["length_m"].notna(), unstated], ["known", "unit"], "missing")


def _template(known: Mapping[str, Any], job: Job, values: Values) -> tuple[list[dict[str, Any]], str]:
    """Worlds of one combination of known and missing facts, and the missing ones; NaN: take the record's own number."""
    missing: list[str] = []
    types = _types(known, missing, job, values)
    low_high = ["only"]
    pairs: dict[str, float] = {"only": np.nan}
    splices: dict[str, float] = {"only": np.nan}
    length: dict[str, str] = {"only": "known"}
    if not (known["pairs"] and known["splices"] and known["length"] == "known"):
        low_high = ["low", "high"]
        pairs = _ends_of("mated_pairs", known["pairs"], missing, job, values)
        splices = _ends_of("splices", known["splices"], missing, job, values)
        length = _length_ends(known["length"], missing)
    rows: list[dict[str, Any]] = []
    for world, ((fiber_types, construction), end) in enumerate(
        product(_with_construction(types, known, missing, job, values), low_high)
    ):
        rows.extend(
            {
                "world": world, "alternative": alternative, "type": name,
                "construction": construction, "pairs": pairs[end], "splice_count": splices[end],
                "length_rule": length[end],
            }
            for alternative, name in enumerate(fiber_types)
        )  # fmt: skip
    assert rows[-1]["world"] < MOST_WORLDS
    return rows, "; ".join(dict.fromkeys(missing))


def _types(known: Mapping[str, Any], missing: list[str], job: Job, values: Values) -> list[tuple[str, ...]]:
    """Each entry is one world: the types judged in it (two where file and schedule differ)."""
    if _is_said(known["type"]):
        other = known["disputed"]
        return [(known["type"], other) if _is_said(other) else (known["type"],)]
    missing.append(FACT_NAMES["type"])
    glasses = (known["glass"],) if _is_said(known["glass"]) else ("multimode", "single-mode")
    book = allowances(values, known["standard"], known["edition"])
    names = [name for glass in glasses for name in admissible(values, "type", glass, known["standard"])]
    with_limits = {row["type"] for row in book.coefficient_rows}
    names = [name for name in names if name in with_limits] or names
    if job.admissible.fiber:
        names = [name for name in names if name in job.admissible.fiber] or names
    return [(name,) for name in names]


def _with_construction(
    types: list[tuple[str, ...]], known: Mapping[str, Any], missing: list[str], job: Job, values: Values
) -> Iterable[tuple[tuple[str, ...], str]]:
    for names in types:
        if _is_said(known["construction"]):
            yield names, known["construction"]
            continue
        may_be = {name: admissible(values, "construction", name, known["standard"]) for name in names}
        choices = list(dict.fromkeys(choice for choices in may_be.values() for choice in choices))
        if job.admissible.construction:
            choices = [choice for choice in choices if choice in job.admissible.construction] or choices
        if len(choices) > 1:
            missing.append(FACT_NAMES["construction"])
        for choice in choices or [""]:
            # of two types that are told, only those of which there is such a cable
            meant = tuple(name for name in names if not may_be[name] or choice in may_be[name])
            yield meant or names, choice


def _ends_of(fact: str, known: bool, missing: list[str], job: Job, values: Values) -> dict[str, float]:
    if known:
        return {"low": np.nan, "high": np.nan}
    missing.append(FACT_NAMES[fact])
    narrowed = getattr(job.admissible, fact)
    numbers = narrowed or [float(number) for number in admissible(values, fact.replace("_", " "))]
    return {"low": min(numbers), "high": max(numbers)}


def _length_ends(state: str, missing: list[str]) -> dict[str, str]:
    if state == "known":
        return {"low": "known", "high": "known"}
    if state == "unit":
        missing.append(FACT_NAMES["unit"])
        return {"low": "feet", "high": "metres"}
    missing.append(FACT_NAMES["length_m"])
    return {"low": "zero", "high": "unbounded"}


def _is_said(value: Any) -> bool:
    return isinstance(value, str) and value != ""


def _fill_numbers(worlds: pd.DataFrame, facts: pd.DataFrame, records: pd.DataFrame, values: Values) -> pd.DataFrame:
    at = worlds["at"].to_numpy()
    own_pairs = facts["mated_pairs"].to_numpy(float)[at]
    pairs = np.where(np.isnan(worlds["pairs"]), own_pairs, worlds["pairs"])
    # matings in reading = mated pairs + a constant of the record (plug ends less the cords of the reference)
    cords = facts["reference"].astype("object").map(reference_cords(values))
    constant = (facts["plug_ends"] - cords.astype(float)).to_numpy(float)[at]
    own_splices = facts["splices"].to_numpy(float)[at]
    own_length = facts["length_m"].to_numpy(float)[at]
    unstated = records["length_unstated"].to_numpy(float)[at]
    rule = worlds["length_rule"].to_numpy()
    worlds["length_m"] = np.select(
        [rule == "known", rule == "metres", rule == "feet", rule == "zero"],
        [own_length, unstated, unstated * FEET_IN_M, 0.0],
        np.inf,
    )
    worlds["matings"] = pairs + constant
    worlds["array_matings"] = np.minimum(facts["array_pairs"].to_numpy(float)[at], np.maximum(worlds["matings"], 0.0))
    worlds["splices"] = np.where(np.isnan(worlds["splice_count"]), own_splices, worlds["splice_count"])
    return worlds.drop(columns=["pairs", "splice_count"])
