"""How accurate a reading of twisted pair is: stated in the record, else by the accuracy level of the field tester."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.job import Job
from analyzer.standards import Values


def accuracy_of(readings: pd.DataFrame, facts: pd.DataFrame, at: np.ndarray, job: Job, values: Values) -> np.ndarray:
    """Measurement accuracy [unit of the parameter] of each reading, n; NaN where nothing states one.

    Args:
        readings: n rows with `parameter` (text), `value`.
        facts: schema `facts`; its `accuracy_level`, where it is there, stands above the level of the job.
        at: position in facts of the record of each reading, n.
        job: the accuracy level of the field tester.
        values: accuracy by level; each is a fixed part and a percentage of the reading.
    """
    parameter = readings["parameter"].to_numpy(dtype=object)
    level = np.full(len(at), job.rules.accuracy_level or "", dtype=object)
    if "accuracy_level" in facts:
        own = facts["accuracy_level"].astype("object").fillna("").to_numpy(dtype=object)[at]
        level = np.where(own != "", own, level)
    rows = {
        (row["level"], row["parameter"]): row for row in values.rows("copper_accuracy") if row["kind"] == "accuracy"
    }
    codes, distinct = pd.factorize(pd.MultiIndex.from_arrays([level, parameter]))
    found = [rows.get(key) for key in distinct]
    fixed = np.array([row["fixed"] if row else np.nan for row in found], dtype=float)
    share = np.array([(row["percent_of_reading"] or 0.0) / 100 if row else 0.0 for row in found], dtype=float)
    size = np.nan_to_num(np.abs(readings["value"].to_numpy(float)))
    by_level = fixed[codes] + share[codes] * size if len(codes) else np.full(len(at), np.nan)
    # a job speaks of the loss of fiber with its accuracy in dB
    stated = np.where((facts["accuracy_db_from"] == "file").to_numpy(), facts["accuracy_db"].to_numpy(float), np.nan)
    in_db = np.array([name not in schema.UNIT_OF_PARAMETER for name in parameter], dtype=bool)
    return np.where(in_db & ~np.isnan(stated[at]), stated[at], by_level)
