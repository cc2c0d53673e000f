"""Which lower grades each twisted-pair reading of a file proves, and which it fails.

A reading that passes its ordered grade with margin m has at least L + m everywhere; it proves a lower grade with limit
L' where m and the gap between L and L' allow it (see `pair_loaded.gap`), and nothing need be judged again. Tests with a
reading that does not pass, or without a grade, are judged once more as if each lower grade (or any grade, where none is
stated) had been ordered: by the same judges and under the same rules. A worst point is worst only against the limit
that the tester had loaded; a curve that stops short proves no pass. Where nobody states the configuration, channel and
permanent link are tried apart.

A grade is one bit of a number: 2 · (its place in the schema), + 1 for the permanent link of a link whose configuration
is not stated.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.curve_join import CurveTables, join_curves
from analyzer.budget.curve_points import ZERO_MARGIN
from analyzer.budget.curve_sums import same_test
from analyzer.budget.pair_facts import limits_of_pairs
from analyzer.budget.pair_judge import FAIL, MARGINAL_FAIL, MARGINAL_PASS, PASS, WIRE_MAP, judge_pairs
from analyzer.budget.pair_limits import UNSTATED, PairLimits
from analyzer.budget.pair_loaded import gap
from analyzer.budget.pair_partners import EXEMPT
from analyzer.job import Job
from analyzer.points import Points
from analyzer.standards import Values

GRADES = schema.CATEGORIES["grade"]
_NO_LIMIT = "no limit named"
"""Stands in for the name of the loaded limit where nothing states one: worst points are then worst of nothing known."""
_PASSES, _FAILS = ("pass", "marginal pass"), ("fail", "marginal fail")


class Proved(NamedTuple):
    """Bits of the grades that each reading proves and fails; scalar readings first, curves after them."""

    proves: np.ndarray
    refutes: np.ndarray


@dataclass(frozen=True)
class OneFile:
    """The tables of a file that is judged: what was read, and what the ordered grades make of it."""

    scalars: pd.DataFrame
    """Schema `readings`: those that were read as single numbers."""
    readings: pd.DataFrame
    """Schema `readings`: the scalars, and after them one for each curve."""
    judged: pd.DataFrame
    """Schema `judged`, in the order of `readings`."""
    records: pd.DataFrame
    facts: pd.DataFrame
    curves: pd.DataFrame
    points: Points


def bit_of(grade: str, slot: int) -> int:
    """The bit of a grade; slot 1 is the permanent link of a link whose configuration is not stated."""
    return 1 << (2 * GRADES.index(grade) + slot)


def family_of(standard: str) -> tuple[str, ...]:
    """Grades of a family of standards, rising."""
    return tuple(grade for grade in GRADES if grade[0].isdigit() == (standard != "ISO"))


def grades_proved(file: OneFile, limits: PairLimits, job: Job, values: Values) -> Proved:
    """Bits of every reading of a file.

    Args:
        file: its tables.
        limits: the limits of the ordered grades.
        job: what is required, own limits.
        values: the standards' values.
    """
    out = Proved(*np.zeros((2, len(file.readings)), dtype=np.int64))
    record = file.readings["record"].to_numpy()
    copper = (file.facts["medium"] == "twisted pair").to_numpy()
    counts, passes = file.judged["counts"].to_numpy(), file.judged["verdict"].isin(_PASSES).to_numpy()
    graded = file.facts["grade"].notna().to_numpy()
    _by_gap(file, limits, copper[record] & graded[record] & (passes | ~counts), out)
    again = copper[record] & ((counts & ~passes) | ~graded[record])
    again &= (file.readings["parameter"] != WIRE_MAP).to_numpy()
    if again.any():
        test = same_test(file.records)
        _once_more(file, np.isin(test, test[record[again]]) & copper, out, job, values)
    return out


def _by_gap(file: OneFile, limits: PairLimits, use: np.ndarray, out: Proved) -> None:
    """Lower grades that follow from the margin to the ordered one; what decides nothing stands in no one's way."""
    record = file.readings["record"].to_numpy()
    codes = file.readings["parameter"].cat.codes.to_numpy().astype(np.int64)
    kind = np.where(use, limits.order_numbers[record] * 64 + codes, -1)
    margin = np.where(file.judged["counts"].to_numpy(), file.judged["margin"].to_numpy(), np.inf)
    for one in np.unique(kind[use]).tolist():
        rows = np.flatnonzero(kind == one)
        at, parameter = int(record[rows[0]]), schema.CATEGORIES["parameter"][one % 64]
        order, ordered = limits.order_of(at), limits.lines(at, parameter)
        family = family_of(order.standard)
        for lower in family[: family.index(order.grade)] if order.grade in family else ():
            for slot, configuration in enumerate((order.configuration,) if order.configuration else UNSTATED):
                lines = limits.lines_of(order._replace(grade=lower, configuration=configuration), parameter)
                with np.errstate(invalid="ignore"):  # where no margin counts and no gap is known, nothing is proven
                    proven = margin[rows] + gap(ordered, lines).least >= -ZERO_MARGIN
                proven |= np.isposinf(margin[rows])
                out.proves[rows] |= np.where(proven, bit_of(lower, slot), 0)


def _once_more(file: OneFile, some: np.ndarray, out: Proved, job: Job, values: Values) -> None:
    """Judge the tests of some records by every grade that they may be told of."""
    facts, records = file.facts, _as_loaded(file.records, file.facts)
    here = np.flatnonzero(some[file.scalars["record"].to_numpy()])
    scalars = file.scalars.iloc[here].reset_index(drop=True)
    swept = len(file.curves) > 0 and bool(some[file.curves["record"].to_numpy()].any())
    standard = facts["standard"].astype("object").fillna("TIA").to_numpy()
    rank = _rank_of_ordered(facts, standard)
    open_configuration = facts["configuration"].isna().to_numpy()
    for slot in (0, 1) if open_configuration[some].any() else (0,):
        for place in range(int(rank[some].max())):
            grade = np.array([dict(enumerate(family_of(one))).get(place) for one in schema.CATEGORIES["standard"]])
            names = grade[(standard == "ISO").astype(int)]
            tried = facts.assign(
                grade=pd.Series(names, index=facts.index, dtype="object").astype(facts["grade"].dtype),
                configuration=facts["configuration"].fillna(UNSTATED[slot]),
            )
            wanted = some & (place < rank) & (open_configuration | (slot == 0))
            bits = np.array([0 if one is None else bit_of(one, slot) for one in names], dtype=np.int64) * wanted
            limits = limits_of_pairs(tried, records, job, values)
            _of_numbers(scalars, here, records, tried, limits, bits, out, job, values)
            if swept:
                added = join_curves(file.curves, file.points, records, tried, limits)
                _of_curves(added, bits, out, len(file.scalars))


def _rank_of_ordered(facts: pd.DataFrame, standard: np.ndarray) -> np.ndarray:
    """Place of each record's grade in its family; the size of the family where none is stated."""
    grade = facts["grade"].astype("object").fillna("").to_numpy()
    rank = np.empty(len(facts), dtype=np.int64)
    for name in schema.CATEGORIES["standard"]:
        family = family_of(name)
        of_family = {one: place for place, one in enumerate(family)} | {"": len(family)}
        here = standard == name
        rank[here] = pd.Series(grade[here]).map(of_family).fillna(0).to_numpy(dtype=np.int64)
    return rank


def _of_numbers(
    scalars: pd.DataFrame, places: np.ndarray, records: pd.DataFrame, facts: pd.DataFrame, limits: PairLimits,
    bits: np.ndarray, out: Proved, job: Job, values: Values,
) -> None:  # fmt: skip
    """Add the bit of each record's grade to single readings; what is exempt or for information stands in no one's way."""
    done = judge_pairs(scalars, records, facts, limits, job, values)
    if not len(done.at):
        return
    rows, verdict = done.columns, done.columns["verdict"]
    own, at = bits[rows["record"]], places[done.at]
    good = np.isin(verdict, (PASS, MARGINAL_PASS)) | (rows["exempt"] == EXEMPT) | rows["informs"]
    bad = np.isin(verdict, (FAIL, MARGINAL_FAIL)) & rows["counts"]
    out.proves[at] |= np.where(good, own, 0)
    out.refutes[at] |= np.where(bad, own, 0)


def _of_curves(added: CurveTables, bits: np.ndarray, out: Proved, first: int) -> None:
    """The same for curves, whose readings stand after `first` single ones."""
    own = bits[added.readings["record"].to_numpy()]
    counts = added.judged["counts"].to_numpy()
    out.proves[first:] |= np.where(added.judged["verdict"].isin(_PASSES).to_numpy() | ~counts, own, 0)
    out.refutes[first:] |= np.where(added.judged["verdict"].isin(_FAILS).to_numpy() & counts, own, 0)


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
