"""D.c. resistance of pairs: unbalance between pairs judged, and the pairsets of remote power.

The limit on the unbalance between two pairs is a share of the sum of their parallel resistances, with a floor. So it
needs the loop resistances of the same test; where they are missing, the floor still proves a pass.

The two conductors of a pair in parallel have a quarter of its loop resistance. A pairset of remote power is two pairs
in series, each of two conductors in parallel: (loop + loop) / 4, so pairs of 25 ohm make a pairset of 12.5 ohm.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.curve_sums import same_test
from analyzer.budget.overlay import Overlay
from analyzer.budget.pair_limits import PairLimits
from analyzer.budget.uncertainty import ZERO_MARGIN
from analyzer.standards import Values, strictest

PAIRSETS = (("1-2", "3-6"), ("4-5", "7-8"))
"""Pairs that carry one pairset of remote power (IEEE 802.3 alternatives A and B, from memory)."""

_SINGLE = schema.CATEGORIES["pair"][:4]
_MENDS = {
    "unbalance-without-loop": "export the loop resistance of the same test",
    "no-sourced-limit": "give the owner's own limit under [[limits]] in job.toml",
}


def loop_ohm(records: pd.DataFrame, readings: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Loop resistance of the four pairs of each test (t, 4) [ohm], NaN where not measured; and the test of each record.

    Of several readings of one pair in one test the highest counts.
    """
    test = same_test(records)
    use = _measured_loops(readings)
    out = np.full((int(test.max()) + 1 if len(test) else 0, 4), -np.inf)
    at = test[readings["record"].to_numpy()[use]], readings["pair"].cat.codes.to_numpy()[use]
    np.maximum.at(out, at, readings["value"].to_numpy()[use])
    return np.where(np.isinf(out), np.nan, out), test


def _measured_loops(readings: pd.DataFrame) -> np.ndarray:
    use = (readings["parameter"] == "loop resistance") & readings["bound"].isna() & readings["value"].notna()
    return np.asarray(use & readings["pair"].isin(_SINGLE))


def pairset_ohm(loops: np.ndarray) -> np.ndarray:
    """Loop resistance of the pairsets (t, 2) [ohm] from that of the four pairs (t, 4) [ohm]."""
    columns = [[_SINGLE.index(pair) for pair in pairset] for pairset in PAIRSETS]
    return np.stack([loops[:, pairs].sum(axis=1) / 4 for pairs in columns], axis=1)


def judge_unbalance_between_pairs(readings: pd.DataFrame, records: pd.DataFrame, limits: PairLimits) -> Overlay:
    """Judge the resistance unbalance between two pairs; it is for information and decides nothing.

    Args:
        readings: schema `readings`; `record` is the position of the record.
        records: schema `records`.
        limits: which lines govern each record.
    """
    pair = readings["pair"].cat.codes.to_numpy()
    at = np.flatnonzero((readings["parameter"] == "resistance unbalance").to_numpy() & (pair >= len(_SINGLE)))
    record = readings["record"].to_numpy()[at]
    loops, test = loop_ohm(records, readings) if len(at) else (np.empty((0, 4)), record)
    first, last = _both_pairs()
    r_pairs = (loops[test[record], first[pair[at]]] + loops[test[record], last[pair[at]]]) / 4
    out = _Columns(len(at))
    order = limits.order_numbers[record]
    for one in np.unique(order).tolist():
        where = np.flatnonzero(order == one)
        lines = limits.lines(int(record[where[0]]), "resistance unbalance pair to pair")
        limit = strictest(lines, r_pairs_ohm=np.nan_to_num(r_pairs[where])) if lines else np.full(len(where), np.nan)
        value = readings["value"].to_numpy()[at[where]]
        out.put(where, value, np.broadcast_to(np.asarray(limit), where.shape), np.isfinite(r_pairs[where]))
        out.limit_id[where] = limits.limit_id(lines[0]) if lines else -1
    return out.overlay(at, readings["bound"].notna().to_numpy()[at])


def _both_pairs() -> tuple[np.ndarray, np.ndarray]:
    """Numbers of the first and the second pair of each pair or combination of the schema."""
    parts = [[_SINGLE.index(one) for one in name.split("/")] for name in schema.CATEGORIES["pair"]]
    return np.asarray([part[0] for part in parts]), np.asarray([part[-1] for part in parts])


class _Columns:
    """Growing columns of the overlay."""

    def __init__(self, size: int) -> None:
        self.limit = np.full(size, np.nan)
        self.margin = np.full(size, np.nan)
        self.limit_id = np.full(size, -1)
        self.verdict = np.full(size, "not judged", dtype=object)
        self.code = np.full(size, "no-sourced-limit", dtype=object)

    def put(self, where: np.ndarray, value: np.ndarray, limit: np.ndarray, known: np.ndarray) -> None:
        """Judge some readings; without the resistance they belong to, `limit` is the floor and only proves a pass."""
        with np.errstate(invalid="ignore"):
            margin = limit - np.abs(value)
        margin = np.where(np.abs(margin) <= ZERO_MARGIN, 0.0, margin)
        has = np.isfinite(limit) & np.isfinite(value)
        passes, fails = has & (margin >= 0), has & (margin < 0) & known
        self.verdict[where] = np.select([passes, fails], ["pass", "fail"], "not judged")
        self.code[where] = np.select([passes | fails, has], ["", "unbalance-without-loop"], "no-sourced-limit")
        told = passes | fails
        self.limit[where], self.margin[where] = np.where(told, limit, np.nan), np.where(told, margin, np.nan)

    def overlay(self, at: np.ndarray, is_bound: np.ndarray) -> Overlay:
        """The judged readings; a bound is not judged."""
        texts = {
            "unbalance-without-loop": "above the floor of its limit, and the loop resistances that the limit is a share of are missing",
            "no-sourced-limit": "no sourced limit",
            "bound-undecided": "only a bound of the unbalance is told",
        }  # fmt: skip
        code = np.where(is_bound, "bound-undecided", self.code)
        codes = list(texts)
        number = {name: place for place, name in enumerate(codes)} | {"": -1}
        reasons = pd.DataFrame({
            "reason": range(len(codes)), "code": codes, "text": list(texts.values()),
            "mend": [_MENDS.get(name, "export the value") for name in codes],
        })  # fmt: skip
        told = ~is_bound & (self.verdict != "not judged")
        columns = {
            "verdict": np.where(is_bound, "not judged", self.verdict), "basis": np.full(len(at), "value", dtype=object),
            "limit": np.where(told, self.limit, np.nan), "margin": np.where(told, self.margin, np.nan),
            "limit_id": np.where(told, self.limit_id, -1), "counts": np.zeros(len(at), dtype=bool),
            "reason": np.asarray([number[name] for name in code], dtype=np.int64),
        }  # fmt: skip
        return Overlay(at, columns, schema.conform("reasons", reasons))


def judge_remote_power(
    readings: pd.DataFrame, records: pd.DataFrame, judged: pd.DataFrame, values: Values, remote_power: str
) -> Overlay:
    """Loop resistance against what an ordered type of remote power allows to its pairset; the stricter decides.

    Only readings that fail it are in the overlay, with what their pair may have beside its partner as their limit.

    Args:
        readings: schema `readings`; `record` is the position of the record.
        records: schema `records`.
        judged: schema `judged` so far, in the order of the readings.
        values: the standards' values.
        remote_power: "type 1" to "type 4".
    """
    allowed = pairset_limit_ohm(values, remote_power)
    loops, test = loop_ohm(records, readings)
    at = np.flatnonzero(_measured_loops(readings) & ~judged["verdict"].isin(["fail", "marginal fail"]).to_numpy())
    pair = readings["pair"].cat.codes.to_numpy()[at]
    partner = np.asarray([_partner(name) for name in _SINGLE])[pair]
    beside = loops[test[readings["record"].to_numpy()[at]], partner] if len(at) else np.empty(0)
    limit = 4 * allowed - beside
    margin = limit - readings["value"].to_numpy()[at]
    over = np.isfinite(margin) & (margin < -ZERO_MARGIN)
    text = f"the pairset has more than the {allowed:g} ohm that remote power {remote_power} allows to a channel"
    mend = "find the bad contact, or shorten the link; bundles that carry power grow warm: local codes limit their size"
    reasons = pd.DataFrame({"reason": [0], "code": ["remote-power-resistance"], "text": [text], "mend": [mend]})
    count = int(over.sum())
    columns = {
        "verdict": np.full(count, "fail", dtype=object), "basis": np.full(count, "value", dtype=object),
        "limit": limit[over], "margin": margin[over], "limit_id": np.full(count, -1),
        "counts": np.ones(count, dtype=bool), "reason": np.zeros(count, dtype=np.int64),
    }  # fmt: skip
    return Overlay(at[over], columns, schema.conform("reasons", reasons))


def pairset_limit_ohm(values: Values, remote_power: str) -> float:
    """Highest loop resistance of a pairset [ohm] for a type of remote power."""
    return float(
        next(
            row["value"]
            for row in values.rows("copper_power")
            if row["type"] == remote_power and row["what"] == "loop resistance of a pairset"
        )
    )


def _partner(pair: str) -> int:
    pairset = next(pairs for pairs in PAIRSETS if pair in pairs)
    return _SINGLE.index(pairset[1 - pairset.index(pair)])
