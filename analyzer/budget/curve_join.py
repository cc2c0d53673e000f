"""Curves in the run: each becomes a reading and its judgement, and leaves a picture; its points end here.

The readings stand after the scalar ones of the file, measured curves first, computed ones after them. `frequency_mhz`
and `value` are those of the worst margin; of a curve that no limit speaks of, those of its worst value.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.curve_points import ZERO_MARGIN
from analyzer.budget.curve_sums import same_test
from analyzer.budget.curves import CurveRules, JudgedCurves, judge_curves
from analyzer.budget.pair_accuracy import accuracy_of
from analyzer.budget.pair_judge import is_for_information
from analyzer.budget.pair_limits import PairLimits
from analyzer.budget.pair_open import what_is_open
from analyzer.points import Points
from analyzer.standards.lines import LimitLine

_FAILS = ("fail", "marginal fail")


@dataclass(frozen=True)
class CurveTables:
    """What the curves of one file add to its tables; every number begins at 0."""

    readings: pd.DataFrame
    """Schema `readings`: one for each curve."""
    judged: pd.DataFrame
    """Schema `judged`, same order; `limit_id` as `PairLimits` numbers them."""
    reasons: pd.DataFrame
    curves: pd.DataFrame
    """Schema `curves`, same order: as given, and after them those that were computed."""
    pictures: np.ndarray
    seeds: pd.DataFrame
    """code, record, text."""


def no_curve_tables() -> CurveTables:
    """Of a file without curves."""
    readings, judged, reasons, curves = map(schema.empty, ("readings", "judged", "reasons", "curves"))
    return CurveTables(readings, judged, reasons, curves, schema.empty_pictures(), _seeds([], []))


def join_curves(
    curves: pd.DataFrame,
    points: Points,
    records: pd.DataFrame,
    facts: pd.DataFrame,
    limits: PairLimits,
    rules: CurveRules | None = None,
) -> CurveTables:
    """Judge the curves of one file.

    Args:
        curves: schema `curves`, n rows; `record` is the position of the record.
        points: their points.
        records: schema `records`, m rows.
        facts: schema `facts`, m rows.
        limits: which limits and exemptions govern each record.
        rules: settings of the judging of curves; None takes the defaults.
    """
    if not len(curves):
        return no_curve_tables()
    sets = same_test(records)

    def why_none(record: int) -> tuple[str, dict[str, str]]:
        return ("no-sourced-limit" if limits.order_of(record).grade else "no-grade"), {}

    done = judge_curves(
        curves, points, limits.lines, sets=sets[curves["record"].to_numpy()], exemptions_for=limits.exemptions,
        own_for=limits.own_lines, why_none=why_none, rules=rules,
    )  # fmt: skip
    judged = _judged(done, records, facts, limits)
    drawn = {name: done.readings[name].to_numpy() for name in ("picture", "limit_min_mhz", "limit_max_mhz")}
    told = done.curves.assign(reading=np.arange(len(done.curves)), **drawn)
    return CurveTables(
        _readings(done), judged, done.reasons, schema.conform("curves", told), done.pictures, _differences(done, sets)
    )


def _readings(done: JudgedCurves) -> pd.DataFrame:
    rows = done.readings
    worst = rows["value"].isna()
    frame = rows.assign(
        reading=np.arange(len(rows)),
        value=rows["value"].where(~worst, rows["worst_value"]),
        frequency_mhz=rows["frequency_mhz"].where(~worst, rows["worst_value_mhz"]),
    )
    return schema.conform("readings", frame)


def _judged(done: JudgedCurves, records: pd.DataFrame, facts: pd.DataFrame, limits: PairLimits) -> pd.DataFrame:
    """Schema `judged` of the curves: accuracy, limits and what the run besides says of them."""
    rows, record = done.readings, done.readings["record"].to_numpy()
    parameter, value = rows["parameter"].cat.codes.to_numpy(), rows["value"].to_numpy()
    verdict, accuracy = _with_accuracy(rows, accuracy_of(parameter, value, facts, record, limits.job, limits.values))
    told = verdict != "not judged"
    line = _deciding_line(done)
    several = np.asarray([bool(sum(map(bool, what_is_open(lines)))) for lines in done.lines] + [False])[
        rows["line"].to_numpy()
    ]
    numbers = np.asarray([limits.limit_id(one) for one in line.distinct] + [-1], dtype=np.int64)
    informs = rows["parameter"].map(lambda name: is_for_information(name, limits.job)).to_numpy(dtype=bool)
    own = np.asarray(["own" in one.rows[0] for one in line.distinct] + [False])[line.at]
    informs = informs & ~_has_own(rows, limits)
    _say(done, records, limits, told.to_numpy(), informs, own)
    all_exempt = (done.readings["reason"].map(done.reasons.set_index("reason")["code"]) == "all-exempt").to_numpy()
    return schema.conform(
        "judged",
        pd.DataFrame(
            {
                "reading": np.arange(len(rows)),
                "judged_wavelength_nm": -1,
                "basis": rows["basis"],
                "limit": rows["limit"].where(told),
                "margin": rows["margin"].where(told),
                "accuracy": accuracy,
                "verdict": verdict,
                "reason": done.why.number,
                "limit_id": np.where(told, numbers[line.at], -1),
                "world": np.select([~told | ~several, verdict.isin(_FAILS)], ["certain", "most generous"], "strictest"),
                "worst_value": rows["worst_value"],
                "worst_value_mhz": rows["worst_value_mhz"],
                "in_force": True,
                # points that are for information only never set a verdict
                "counts": ~informs & ~all_exempt,
            }
        ),
    )


def _with_accuracy(rows: pd.DataFrame, accuracy: np.ndarray) -> tuple[pd.Series, np.ndarray]:
    """Verdicts, marginal where the worst margin lies within the accuracy."""
    verdict, margin = rows["verdict"].astype("object"), rows["margin"].to_numpy()
    with np.errstate(invalid="ignore"):
        near = (np.abs(margin) <= accuracy + ZERO_MARGIN) & (accuracy > 0)
    return verdict.where(~near | (verdict == "not judged"), "marginal " + verdict), accuracy


def _has_own(rows: pd.DataFrame, limits: PairLimits) -> np.ndarray:
    """Curves of parameters that the owner limits: his limit governs where the standard's would only inform."""
    return rows["parameter"].map(lambda name: bool(limits.own_lines(name))).to_numpy(dtype=bool)


def _say(
    done: JudgedCurves,
    records: pd.DataFrame,
    limits: PairLimits,
    told: np.ndarray,
    informs: np.ndarray,
    own: np.ndarray,
) -> None:
    """What facts and job add to the reasons: nearest limits, own limits, parameters that only inform."""
    record = done.readings["record"].to_numpy()
    done.why.say(np.flatnonzero(told & informs), "for-information")
    done.why.say(np.flatnonzero(told & own), "own-limit")
    tested = records["configuration"].astype("object").fillna("").to_numpy()[record]
    order_at = limits.order_numbers[record]
    for number, order in enumerate(limits.orders):
        governing = limits.governing_order(order)
        here = told & (order_at == number)
        if governing.nearest is None or not here.any():
            continue
        words = {
            "ordered": order.configuration, "used": " or ".join(governing.configurations), "nearest": governing.nearest["basis"],
        }  # fmt: skip
        done.why.say(np.flatnonzero(here), "nearest-limits", **words)
        for other in set(tested[here]) - {"", order.configuration}:
            rows = np.flatnonzero(here & (tested == other))
            done.why.say(rows, "plug-not-told", ordered=order.configuration, tested=other)


@dataclass(frozen=True)
class _Deciding:
    """Of each curve the line whose limit is shown: its number in `distinct`; -1 where none is."""

    distinct: list[LimitLine]
    at: np.ndarray


def _deciding_line(done: JudgedCurves) -> _Deciding:
    rows = done.readings
    limit, frequency = rows["limit"].to_numpy(), rows["frequency_mhz"].to_numpy()
    distinct: dict[LimitLine, int] = {}
    at = np.full(len(rows), -1, dtype=np.int64)
    for number, lines in enumerate(done.lines):
        here = np.flatnonzero((rows["line"] == number).to_numpy() & np.isfinite(limit))
        for line in lines:
            open_ = here[at[here] < 0]
            same = np.isclose(line.at(frequency[open_]), limit[open_], rtol=0, atol=ZERO_MARGIN)
            if same.any():
                at[open_[same]] = distinct.setdefault(line, len(distinct))
    return _Deciding(list(distinct), at)


def _differences(done: JudgedCurves, sets: np.ndarray) -> pd.DataFrame:
    """Power sums and ratios of the export that are not those of its own pair curves."""
    told = done.differences
    pairs = np.asarray(schema.CATEGORIES["pair"], dtype=object)
    ends = np.asarray([*(f", end {end}" for end in schema.CATEGORIES["end"]), ""], dtype=object)
    first = np.unique(sets, return_index=True)[1]
    records = first[np.searchsorted(np.unique(sets), told["set"].to_numpy(dtype=np.int64))]
    where = zip(
        told["parameter"].astype("str"), pairs[told["pair"].to_numpy(dtype=np.int64)],
        ends[told["end"].to_numpy(dtype=np.int64)], told["difference_db"], strict=True,
    )  # fmt: skip
    texts = [
        f"power sums or ratios of the export: {parameter} {pair}{end} lies up to {apart:.2f} dB from what its own curves give"
        for parameter, pair, end, apart in where
    ]
    return _seeds(records.tolist(), texts)


def _seeds(records: list[int], texts: list[str]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "code": pd.Series(["power-sum-differs"] * len(texts), dtype="str"),
            "record": pd.Series(records, dtype="int32"), "text": pd.Series(texts, dtype="str"),
        }
    )  # fmt: skip
