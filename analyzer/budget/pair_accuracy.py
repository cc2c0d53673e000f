"""How accurate a reading of twisted pair is: stated in the record, else by the accuracy level of the field tester."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.job import Job
from analyzer.standards import Values


def accuracy_of(
    parameter: np.ndarray, value: np.ndarray, facts: pd.DataFrame, at: np.ndarray, job: Job, values: Values
) -> np.ndarray:
    """Measurement accuracy [unit of the parameter] of each reading, n; NaN where nothing states one.

    Args:
        parameter: number of the parameter in the schema, n.
        value: the readings, n.
        facts: schema `facts`; its `accuracy_level`, where it is there, stands above the level of the job.
        at: position in facts of the record of each reading, n.
        job: the accuracy level of the field tester.
        values: accuracy by level; each is a fixed part and a percentage of the reading. The decibel figures are those
            at the top frequency of the level; no formula over frequency is known, so they stand for all of it.
    """
    names = schema.CATEGORIES["parameter"]
    level = pd.Series(job.rules.accuracy_level, index=facts.index, dtype="object")
    if "accuracy_level" in facts:
        level = facts["accuracy_level"].astype("object").fillna(level)
    codes, levels = pd.factorize(level.fillna(""))
    fixed, share = np.full((len(levels), len(names)), np.nan), np.zeros((len(levels), len(names)))
    for row in values.rows("copper_accuracy"):
        if row["kind"] == "accuracy" and row["level"] in levels and row["parameter"] in names:
            place = list(levels).index(row["level"]), names.index(row["parameter"])
            fixed[place], share[place] = row["fixed"], (row["percent_of_reading"] or 0.0) / 100
    by_level = fixed[codes[at], parameter] + share[codes[at], parameter] * np.nan_to_num(np.abs(value))
    # a job speaks of the loss of fiber with its accuracy in dB
    stated = np.where((facts["accuracy_db_from"] == "file").to_numpy(), facts["accuracy_db"].to_numpy(float), np.nan)
    in_db = np.array([name not in schema.UNIT_OF_PARAMETER for name in names])[parameter]
    return np.asarray(np.where(in_db & ~np.isnan(stated[at]), stated[at], by_level))
