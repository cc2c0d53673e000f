"""Twisted-pair readings as plain columns, and what readings of one test tell about each other."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.pair_limits import PairLimits
from analyzer.budget.pair_partners import Losses
from analyzer.budget.plain import distinct_rows

Columns = dict[str, np.ndarray]
"""Plain arrays of one length by name: a frame would cost more than the judging."""

SWEPT = (
    "insertion loss", "NEXT", "PSNEXT", "ACR-F", "PSACR-F", "ACR-N", "PSACR-N", "return loss", "TCL", "ELTCTL",
    "PSANEXT", "PSAACR-F", "FEXT", "PSFEXT",
)  # fmt: skip
"""Measured over frequency: a single number is the worst point of a sweep."""

PARAMETERS = schema.CATEGORIES["parameter"]


def groups_of(number: np.ndarray) -> list[np.ndarray]:
    """Positions of equal numbers."""
    order = np.argsort(number, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(number[order])) + 1) if len(order) else []


def met_of(readings: pd.DataFrame, at: np.ndarray, records: pd.DataFrame, limits: PairLimits) -> Columns:
    """The readings with what judging needs of them; closed words as numbers of the schema, -1 where nothing is said."""
    record = readings["record"].to_numpy()[at].astype(np.int64)
    met = {"record": record, "order": limits.order_numbers[record].astype(np.int64)}
    for name in ("parameter", "pair", "end", "declared_verdict", "bound"):
        met[name] = readings[name].cat.codes.to_numpy()[at].astype(np.int64)
    for name in ("frequency_mhz", "value", "declared_limit", "declared_margin"):
        met[name] = readings[name].to_numpy(float)[at]
    failed = np.isin(met["declared_verdict"], _CALLED_FAILED)
    met["called_failed"] = failed | records["declared_verdict"].isin(["marginal fail", "fail"]).to_numpy()[record]
    met["decimals"] = readings["decimals"].to_numpy()[at].astype(float)
    key = pd.factorize(records["key"])[0]
    key = np.where(
        key < 0, len(records) + np.arange(len(records)), key
    )  # a record without a label is a test of its own
    met["test"] = distinct_rows(key, records["tested_at"])[0][record]
    _add_sweeps(met)
    return met


def _add_sweeps(met: Columns) -> None:
    """How many points each sweep gives, and its least margin for those of its points that name no frequency."""
    like = ((met["test"] * len(PARAMETERS) + met["parameter"]) * 16 + met["pair"] + 1) * 4 + met["end"] + 1
    _, sweep = np.unique(like, return_inverse=True)
    mhz = met["frequency_mhz"]
    named = ~np.isnan(mhz)
    points = np.unique(np.column_stack([sweep[named], mhz[named]]), axis=0)[:, 0].astype(np.int64)
    met["points"] = np.bincount(points, minlength=int(sweep.max()) + 1 if len(sweep) else 0)[sweep]
    least = np.full(len(mhz), np.inf)
    np.fmin.at(least, sweep, np.nan_to_num(met["declared_margin"], nan=np.inf))
    # the least margin of a sweep holds for every point of it, so also for one whose frequency is not stated
    nowhere = ~named & np.isin(met["parameter"], _SWEPT) & np.isnan(met["declared_limit"])
    fill = nowhere & np.isnan(met["declared_margin"]) & np.isfinite(least[sweep])
    met["declared_margin"] = np.where(fill, least[sweep], met["declared_margin"])


_CALLED_FAILED = [schema.CATEGORIES["declared_verdict"].index(name) for name in ("marginal fail", "fail")]
_SWEPT = [PARAMETERS.index(name) for name in SWEPT]


class Partners:
    """Other readings of the same test that a verdict depends on: insertion loss, loop resistance."""

    def __init__(self, met: Columns) -> None:
        loss = (met["parameter"] == PARAMETERS.index("insertion loss")) & (met["bound"] < 0)
        self.losses = Losses(*(met[name][loss] for name in ("test", "pair", "frequency_mhz", "value")))
        loop = (met["parameter"] == PARAMETERS.index("loop resistance")) & (met["value"] > 0)
        index = pd.MultiIndex.from_arrays([met["test"][loop], met["pair"][loop]])
        loops = pd.Series(met["value"][loop], index=index)
        self.loops = loops[~index.duplicated()]

    def loop_ohm(self, met: Columns) -> np.ndarray:
        """Loop resistance of the pair of each reading [ohm]; NaN where it was not measured."""
        asked = pd.MultiIndex.from_arrays([met["test"], met["pair"]])
        return self.loops.reindex(asked).to_numpy(float)
