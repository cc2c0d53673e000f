"""Counts that an export gives away: what number of matings and splices explains every limit that it prints.

An export that prints the limit it used has decided on mated pairs and splices. If exactly one admissible pair of counts
explains every printed limit of a table, it is taken as declared by the export; several leave the counts missing.
It never stands above schedule or job.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import pandas as pd

from analyzer.budget.fiber import loss_parts_db, reference_cords
from analyzer.job import Job
from analyzer.standards import Values, admissible, allowances, medium_of, nominal_wavelength_nm

AS_PRINTED_DB = 0.005 + 1e-6
"""A limit printed with two decimals may differ from the sum by half of its last digit."""


def fill_declared_counts(
    facts: pd.DataFrame, records: pd.DataFrame, readings: pd.DataFrame, job: Job, values: Values
) -> pd.DataFrame:
    """Fill `mated_pairs` and `splices` of `facts` in place; returns seeds of findings (code, record, text)."""
    seeds = pd.DataFrame(
        {"code": pd.Series(dtype="str"), "record": pd.Series(dtype="int64"), "text": pd.Series(dtype="str")}
    )
    printed = readings[(readings["parameter"] == "loss") & readings["declared_limit"].notna()]
    at = printed["record"].to_numpy()
    open_counts = (facts["mated_pairs"].isna() & facts["splices"].isna()).to_numpy()
    blocks = records["block"].to_numpy()
    found = []
    for block in np.unique(blocks[at[open_counts[at]]]):
        rows = printed[blocks[at] == block]
        solutions = _solutions(rows, facts, job, values)
        if len(solutions) != 1:
            continue
        construction, pairs, splices = solutions[0]
        fill = open_counts & (blocks == block)
        for name, number in (("mated_pairs", pairs), ("splices", splices)):
            facts[name] = facts[name].mask(fill, number)
            facts[f"{name}_from"] = facts[f"{name}_from"].mask(fill, "derived")
        if construction:
            silent = fill & facts["construction"].isna().to_numpy()
            facts["construction"] = facts["construction"].mask(silent, construction)
            facts["construction_from"] = facts["construction_from"].mask(silent, "derived")
        words = f"declared by the export: {pairs:g} mated pairs, {splices:g} splices"
        words += f", {construction}" if construction else ""
        found.append({"code": "counts-from-limit", "record": int(records["record"].iloc[np.flatnonzero(fill)[0]]),
                      "text": f"{words} (the only counts that explain every limit it prints)"})  # fmt: skip
    return pd.concat([seeds, pd.DataFrame(found)], ignore_index=True) if found else seeds


def _solutions(rows: pd.DataFrame, facts: pd.DataFrame, job: Job, values: Values) -> list[tuple[str, float, float]]:
    at = rows["record"].to_numpy()
    one = facts.iloc[at].reset_index(drop=True)
    if one["type"].isna().any() or one["length_m"].isna().any():
        return []
    limit = rows["declared_limit"].to_numpy(float)
    cords = one["reference"].astype("object").fillna("one-cord").map(reference_cords(values)).to_numpy(float)
    constant = one["plug_ends"].to_numpy(float) - cords
    pairs = job.admissible.mated_pairs or [int(number) for number in admissible(values, "mated pairs")]
    splices = job.admissible.splices or [int(number) for number in admissible(values, "splices")]
    out = []
    for construction in _constructions(one, values):
        sums = _sums(rows, one, construction, values)
        if sums is None:
            continue
        coefficient, pair_db, splice_db = sums
        for pair, splice in product(range(min(pairs), max(pairs) + 1), range(min(splices), max(splices) + 1)):
            parts = loss_parts_db(
                one["length_m"].to_numpy(float), coefficient, pair + constant, pair_db, 0, 0, splice, splice_db
            )
            total = parts.cable_db + parts.matings_db + parts.splices_db
            if np.all(np.abs(total - limit) <= AS_PRINTED_DB):
                out.append((construction, float(pair), float(splice)))
    return out


def _constructions(one: pd.DataFrame, values: Values) -> list[str]:
    """Constructions to try for the whole table; "" where every record says its own or none matters."""
    silent = one[one["construction"].isna()]
    choices = {
        name
        for fiber, standard in silent[["type", "standard"]].drop_duplicates().to_numpy().tolist()
        for name in admissible(values, "construction", fiber, standard)
    }
    return sorted(choices) or [""]


def _sums(
    rows: pd.DataFrame, one: pd.DataFrame, construction: str, values: Values
) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
    """Coefficient, mated pair and splice allowance of every row; None where a row has no sourced value."""
    key = pd.DataFrame(
        {
            "standard": one["standard"].astype("object"),
            "edition": one["edition"],
            "type": one["type"].astype("object"),
            "construction": one["construction"].astype("object").fillna(construction),
            "wave": rows["wavelength_nm"].to_numpy().astype(int),
        }
    )
    which = key.groupby(list(key.columns), sort=False).ngroup().to_numpy()
    found = []
    for standard, edition, fiber, where, wave in key.drop_duplicates().to_numpy().tolist():
        book, glass = allowances(values, standard, edition), medium_of(fiber)
        cable = book.cable(fiber, nominal_wavelength_nm(values, int(wave), glass) or int(wave), where or None)
        pair, splice = book.component("mated pair", glass), book.component("splice", glass)
        if len(cable) != 1 or pair is None or splice is None:
            return None
        found.append((cable[0]["coefficient_db_per_km"], pair["max_loss_db"], splice["max_loss_db"]))
    numbers = np.array(found, dtype=float)[which]
    return numbers[:, 0], numbers[:, 1], numbers[:, 2]
