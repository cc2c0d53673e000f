"""Which grades each twisted-pair reading of a file proves, and which it fails, whatever was ordered.

The readings are judged once more as if each grade of the family had been ordered, by the same judges and under the
same rules: a worst point is worst only against the limit that the tester had loaded, a curve that stops short proves
no pass. Where nobody states the configuration, channel and permanent link are tried apart.

A grade is one bit of a number: 2 · (its place in the schema) + 0, or + 1 for the permanent link of a link whose
configuration is not stated.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.curve_join import CurveTables, join_curves
from analyzer.budget.pair_facts import limits_of_pairs
from analyzer.budget.pair_judge import FAIL, MARGINAL_FAIL, MARGINAL_PASS, PASS, judge_pairs
from analyzer.budget.pair_limits import UNSTATED, PairLimits
from analyzer.budget.pair_partners import EXEMPT
from analyzer.job import Job
from analyzer.points import Points
from analyzer.standards import Values

GRADES = schema.CATEGORIES["grade"]
_NO_LIMIT = "no limit named"
"""Stands in for the name of the loaded limit where nothing states one: worst points are then worst of nothing known."""


class Proved(NamedTuple):
    """Bits of the grades that each reading proves and fails; scalar readings first, curves after them."""

    proves: np.ndarray
    refutes: np.ndarray


def bit_of(grade: str, slot: int) -> int:
    """The bit of a grade; slot 1 is the permanent link of a link whose configuration is not stated."""
    return 1 << (2 * GRADES.index(grade) + slot)


def grades_proved(
    readings: pd.DataFrame, records: pd.DataFrame, facts: pd.DataFrame, curves: pd.DataFrame, points: Points, job: Job,
    values: Values,
) -> Proved:  # fmt: skip
    """Judge the readings of one file by every grade.

    Args:
        readings: schema `readings`, n rows: the scalar ones.
        records: schema `records`, m rows.
        facts: schema `facts`, m rows.
        curves: schema `curves`, c rows.
        points: the points of the curves.
        job: what is required, own limits.
        values: the standards' values.
    """
    count = len(readings)
    proves, refutes = np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.int64)
    of_curves: Proved | None = None
    records = _as_loaded(records, facts)
    for slot, rank in _runs(facts):
        grade = _grade_at(facts, rank)
        bits = np.array([0 if one is None else bit_of(one, slot) for one in grade], dtype=np.int64)
        tried = facts.assign(grade=pd.Series(grade, index=facts.index, dtype="object").astype(facts["grade"].dtype))
        if slot or facts["configuration"].isna().any():
            tried["configuration"] = facts["configuration"].fillna(UNSTATED[slot])
            bits = np.where(facts["configuration"].notna() & (slot > 0), 0, bits)
        limits = limits_of_pairs(tried, records, job, values)
        _of_numbers(readings, records, tried, limits, bits, (proves, refutes), job, values)
        if len(curves):
            added = join_curves(curves, points, records, tried, limits)
            of_curves = (
                of_curves if of_curves is not None else Proved(*np.zeros((2, len(added.readings)), dtype=np.int64))
            )
            _of_curves(added, bits, of_curves)
    if of_curves is None:
        return Proved(proves, refutes)
    return Proved(np.r_[proves, of_curves.proves], np.r_[refutes, of_curves.refutes])


def _of_numbers(
    readings: pd.DataFrame, records: pd.DataFrame, facts: pd.DataFrame, limits: PairLimits, bits: np.ndarray,
    out: tuple[np.ndarray, np.ndarray], job: Job, values: Values,
) -> None:  # fmt: skip
    """Add the bits of each record's grade to single readings; what is exempt or for information stands in no one's way."""
    done = judge_pairs(readings, records, facts, limits, job, values)
    if not len(done.at):
        return
    rows, verdict = done.columns, done.columns["verdict"].to_numpy()
    own = bits[rows["record"].to_numpy()]
    good = np.isin(verdict, (PASS, MARGINAL_PASS)) | (rows["exempt"] == EXEMPT).to_numpy()
    good |= rows["informs"].to_numpy(bool)
    bad = np.isin(verdict, (FAIL, MARGINAL_FAIL)) & rows["counts"].to_numpy(bool)
    out[0][done.at] |= np.where(good, own, 0)
    out[1][done.at] |= np.where(bad, own, 0)


def _of_curves(added: CurveTables, bits: np.ndarray, out: Proved) -> None:
    """The same for curves."""
    own = bits[added.readings["record"].to_numpy()]
    counts = added.judged["counts"].to_numpy()
    out.proves[:] |= np.where(added.judged["verdict"].isin(["pass", "marginal pass"]).to_numpy() | ~counts, own, 0)
    out.refutes[:] |= np.where(added.judged["verdict"].isin(["fail", "marginal fail"]).to_numpy() & counts, own, 0)


def _runs(facts: pd.DataFrame) -> Iterator[tuple[int, int]]:
    """(slot, rank of the grade in its family) of every run that some record needs."""
    copper = facts["medium"] == "twisted pair"
    if not copper.any():
        return
    longest = max(len(_family(standard)) for standard in facts.loc[copper, "standard"].unique())
    slots = (0, 1) if facts.loc[copper, "configuration"].isna().any() else (0,)
    for slot in slots:
        for rank in range(longest):
            yield slot, rank


def _family(standard: str) -> tuple[str, ...]:
    """Grades of a family of standards, rising."""
    return tuple(grade for grade in GRADES if grade[0].isdigit() == (standard != "ISO"))


def _grade_at(facts: pd.DataFrame, rank: int) -> list[str | None]:
    """The grade of this rank in the family of each record; None where the family has none, or the medium is fiber."""
    by_family = {name: dict(enumerate(_family(name))).get(rank) for name in schema.CATEGORIES["standard"]}
    copper = facts["medium"] == "twisted pair"
    names = facts["standard"].astype("object").map(by_family).where(copper)
    return names.astype("object").where(names.notna(), None).tolist()


def _as_loaded(records: pd.DataFrame, facts: pd.DataFrame) -> pd.DataFrame:
    """Records that say what limit their worst points are worst of: where the export does not, the ordered one.

    Without an order either, no limit is known, and worst points prove no pass.
    """
    nothing = records["declared_limit"].isna() & records["grade"].isna()
    ordered = facts["grade"].notna()
    grade = records["grade"].astype("object").where(~(nothing & ordered), facts["grade"].astype("object"))
    unnamed = nothing & ~ordered
    return records.assign(
        grade=grade.astype(records["grade"].dtype),
        declared_limit=records["declared_limit"].where(~unnamed, _NO_LIMIT),
    )
