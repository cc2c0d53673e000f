"""All of one file's records judged: schedule looked up, facts settled, worlds opened, readings judged."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.curve_join import join_curves, no_curve_tables
from analyzer.budget.curve_sketches import sketches_of
from analyzer.budget.declared_counts import fill_declared_counts
from analyzer.budget.facts import count_matings, join_seeds, settle_facts
from analyzer.budget.glass import implied_glass
from analyzer.budget.grades_proved import OneFile, grades_proved
from analyzer.budget.impossible import impossible_facts
from analyzer.budget.judge import judge
from analyzer.budget.pair_facts import limits_of_pairs, tell_moved_limits, with_pair_facts
from analyzer.budget.pair_join import printed_limit_seeds
from analyzer.budget.pair_judge import judge_pairs
from analyzer.budget.pair_physics import derive_lengths
from analyzer.budget.scheduled import ScheduleIndex
from analyzer.budget.worlds import make_worlds
from analyzer.job import CommandLine, Job
from analyzer.points import Points
from analyzer.standards import Values

FROM_SCHEDULE = ("cable", "place_a", "place_b", "area", "label_a", "label_b")
"""What the schedule supplies to a record that does not say it."""


@dataclass(frozen=True)
class FileVerdicts:
    """Tables of one file; ids start at 0.

    `records` carries what the schedule supplied, and three more columns: `schedule_row` (-1: none), `scheduled_label`,
    and `own_places` (both places as the file says them; missing where it does not say both).
    """

    records: pd.DataFrame
    facts: pd.DataFrame
    readings: pd.DataFrame
    """As read, and after them one for each curve."""
    judged: pd.DataFrame
    limits: pd.DataFrame
    reasons: pd.DataFrame
    seeds: pd.DataFrame
    curves: pd.DataFrame
    pictures: np.ndarray
    sketches: np.ndarray


def judge_file(
    records: pd.DataFrame,
    readings: pd.DataFrame,
    schedule: ScheduleIndex,
    job: Job,
    given: CommandLine,
    values: Values,
    curves: pd.DataFrame | None = None,
    points: Points | None = None,
) -> FileVerdicts:
    """Judge the records and readings of one file; pure.

    Args:
        records: schema `records`, ids from 0.
        readings: schema `readings`; `record` is the position of the record.
        schedule: exact index of the schedule.
        job: orders, facts and rules.
        given: facts of the command line.
        values: the published values.
        curves: schema `curves`; None where the file has none.
        points: the points of the curves.
    """
    at = schedule.rows_of(records["key"])
    rows = schedule.take(at)
    records = records.assign(
        schedule_row=at, scheduled_label=rows["label"], key=rows["key"].where(at >= 0, records["key"])
    )
    records["own_places"] = _own_places(records)
    for name in FROM_SCHEDULE if (at >= 0).any() else ():
        records[name] = records[name].where(records[name].notna(), rows[name])
    settled = settle_facts(records, rows, implied_glass(records, readings, values), job, given, values)
    facts = settled.facts
    declared = fill_declared_counts(facts, records, readings, job, values)
    derived = derive_lengths(facts, records, readings)
    count_matings(facts)
    worlds, missing = make_worlds(facts, records, settled.disputed_type, job, values)
    pairs = limits_of_pairs(facts, records, job, values)
    scalars = judge_pairs(readings, records, facts, pairs, job, values)
    done = judge(readings, facts, worlds, missing, job, values, scalars)
    first = len(done.limits) - len(pairs.limits())  # those of twisted pair are numbered after those of fiber
    facts["worlds"] = np.bincount(worlds["at"].to_numpy(), minlength=len(facts)).astype("int16")
    facts["missing"] = missing.to_numpy()
    facts["fails_in_every_world"] = done.fails_in_every_world
    strange = impossible_facts(facts, records, rows, readings, values)
    added, sketches = no_curve_tables(), schema.empty_sketches()
    if curves is not None and points is not None and len(curves):
        sketches, number = sketches_of(curves, points)
        added = join_curves(curves, points, records, facts, pairs)
        computed = np.full(len(added.curves) - len(number), -1)
        added = replace(added, curves=added.curves.assign(sketch=np.r_[number, computed]))
    own, reasons = with_pair_facts(done.judged, done.reasons, readings, records, pairs, job, values, first_limit=first)
    limits = _after("limits", done.limits.iloc[:first], pairs.limits(), limit_id=first)
    judged = _after("judged", own, added.judged, reading=len(readings), reason=len(reasons), limit_id=first)
    reasons = _after("reasons", reasons, added.reasons, reason=len(reasons))
    whole = _after("readings", readings, added.readings, reading=len(readings))
    judged, reasons = tell_moved_limits(judged, reasons, whole, pairs)
    swept = schema.empty("curves") if curves is None else curves
    file = OneFile(readings, whole, judged, records, facts, swept, Points() if points is None else points)
    judged["proves"], judged["refutes"] = grades_proved(file, pairs, job, values)
    return FileVerdicts(
        records, facts, whole, judged, limits, reasons,
        join_seeds([settled.seeds, declared, derived, strange, printed_limit_seeds(scalars, records), added.seeds]),
        _after("curves", schema.empty("curves"), added.curves, reading=len(readings)), added.pictures, sketches,
    )  # fmt: skip


def _after(name: str, table: pd.DataFrame, more: pd.DataFrame, **shift: int) -> pd.DataFrame:
    """A table of schema `name` and what comes after it, the numbers of the latter shifted; -1 stays."""
    if not len(more):
        return table
    moved = {key: more[key].where(more[key] < 0, more[key] + by) for key, by in shift.items()}
    return schema.conform(name, pd.concat([table, more.assign(**moved)], ignore_index=True))


def _own_places(records: pd.DataFrame) -> pd.Series:
    """Both places in an order that does not depend on the end the crew worked from."""
    if records["place_a"].isna().all() or records["place_b"].isna().all():
        return pd.Series(np.nan, index=records.index, dtype="str")
    place_a, place_b = (records[name].str.strip().str.casefold() for name in ("place_a", "place_b"))
    swapped = (place_a > place_b).fillna(value=False).astype(bool)
    return place_a.where(~swapped, place_b) + " | " + place_b.where(~swapped, place_a)
