"""All of one file's records judged: schedule looked up, facts settled, worlds opened, readings judged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analyzer.budget.declared_counts import fill_declared_counts
from analyzer.budget.facts import count_matings, join_seeds, settle_facts
from analyzer.budget.glass import implied_glass
from analyzer.budget.impossible import impossible_facts
from analyzer.budget.judge import judge
from analyzer.budget.scheduled import ScheduleIndex
from analyzer.budget.worlds import make_worlds
from analyzer.job import CommandLine, Job
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
    judged: pd.DataFrame
    limits: pd.DataFrame
    reasons: pd.DataFrame
    seeds: pd.DataFrame


def judge_file(
    records: pd.DataFrame,
    readings: pd.DataFrame,
    schedule: ScheduleIndex,
    job: Job,
    given: CommandLine,
    values: Values,
) -> FileVerdicts:
    """Judge the records and readings of one file; pure.

    Args:
        records: schema `records`, ids from 0.
        readings: schema `readings`; `record` is the position of the record.
        schedule: exact index of the schedule.
        job: orders, facts and rules.
        given: facts of the command line.
        values: the published values.
    """
    at = schedule.rows_of(records["key"])
    rows = schedule.take(at)
    records = records.assign(
        schedule_row=at, scheduled_label=rows["label"], key=rows["key"].where(at >= 0, records["key"])
    )
    records["own_places"] = _own_places(records)
    for name in FROM_SCHEDULE:
        records[name] = records[name].where(records[name].notna(), rows[name])
    settled = settle_facts(records, rows, implied_glass(records, readings, values), job, given, values)
    facts = settled.facts
    declared = fill_declared_counts(facts, records, readings, job, values)
    count_matings(facts)
    worlds, missing = make_worlds(facts, records, settled.disputed_type, job, values)
    done = judge(readings, facts, worlds, missing, job, values)
    facts["worlds"] = np.bincount(worlds["at"].to_numpy(), minlength=len(facts)).astype("int16")
    facts["missing"] = missing.to_numpy()
    facts["fails_in_every_world"] = done.fails_in_every_world
    strange = impossible_facts(facts, records, rows, readings, values)
    seeds = join_seeds([settled.seeds, declared, strange])
    return FileVerdicts(records, facts, done.judged, done.limits, done.reasons, seeds)


def _own_places(records: pd.DataFrame) -> pd.Series:
    """Both places in an order that does not depend on the end the crew worked from."""
    place_a, place_b = (records[name].str.strip().str.casefold() for name in ("place_a", "place_b"))
    swapped = (place_a > place_b).fillna(value=False).astype(bool)
    return place_a.where(~swapped, place_b) + " | " + place_b.where(~swapped, place_a)
