"""What is judged of twisted pair beside limits over frequency: wire maps, unbalance between pairs, remote power.

`limits_of_pairs` gives the limits of every record, moved to its temperature where the job asks for that;
`with_pair_facts` lays what each special judge says over the verdicts of the file.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.budget.overlay import lay_over
from analyzer.budget.pair_limits import PairLimits
from analyzer.budget.pair_resistance import judge_remote_power, judge_unbalance_between_pairs
from analyzer.budget.temperature import WarmLimits, tell_temperature
from analyzer.budget.wire_map import judge_wire_maps
from analyzer.job import Job
from analyzer.standards import Values


def limits_of_pairs(facts: pd.DataFrame, records: pd.DataFrame, job: Job, values: Values) -> PairLimits:
    """The twisted-pair limits of every record of a file."""
    if not job.twisted_pair.correct_to_20_c or records["temperature_c"].isna().all():
        return PairLimits(facts, job, values)
    return WarmLimits(facts, job, values, records["temperature_c"].to_numpy(), job.twisted_pair.screened)


def with_pair_facts(
    judged: pd.DataFrame, reasons: pd.DataFrame, readings: pd.DataFrame, records: pd.DataFrame, limits: PairLimits,
    job: Job, values: Values, *, first_limit: int,
) -> tuple[pd.DataFrame, pd.DataFrame]:  # fmt: skip
    """Tables `judged` and `reasons` of a file's readings with wire maps, unbalance and remote power judged.

    Args:
        judged: schema `judged` so far, in the order of the readings.
        reasons: schema `reasons`.
        readings: schema `readings`; `record` is the position of the record.
        records: schema `records`.
        limits: which lines govern each record.
        job: ordered pairs, screen, remote power.
        values: contacts, and what remote power allows.
        first_limit: number that the first of `limits` has in the table of the file.
    """
    own = job.twisted_pair
    wire_maps = judge_wire_maps(readings, records, values, ordered=own.pairs, screened=own.screened)
    judged, reasons = lay_over(judged, reasons, wire_maps)
    unbalance = judge_unbalance_between_pairs(readings, records, limits)
    numbers = unbalance.columns["limit_id"]
    unbalance.columns["limit_id"] = np.where(numbers >= 0, numbers + first_limit, -1)
    judged, reasons = lay_over(judged, reasons, unbalance)
    if own.remote_power:
        power = judge_remote_power(readings, records, judged, values, own.remote_power)
        judged, reasons = lay_over(judged, reasons, power)
    return judged, reasons


def tell_moved_limits(
    judged: pd.DataFrame, reasons: pd.DataFrame, readings: pd.DataFrame, limits: PairLimits
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Tables `judged` and `reasons` in which every reading says where its limit was moved to another temperature."""
    return tell_temperature(judged, reasons, readings, limits) if isinstance(limits, WarmLimits) else (judged, reasons)
