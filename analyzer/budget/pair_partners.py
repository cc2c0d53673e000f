"""Exempted readings: what is known of the insertion loss that decides whether a rule of exemption holds.

A scalar export seldom gives insertion loss at the frequency of the crosstalk. What it gives at another frequency bounds
it: attenuation rises with frequency and, between the square root (conductor) and the first power (dielectric) of it,
never faster than in proportion (transmission-line theory). So a loss a at frequency g says of frequency f

    f below g:  a f / g <= loss <= a          f above g:  a <= loss <= a f / g
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from analyzer.budget.curve_points import is_mask
from analyzer.standards.tables import Row

PAIRS_ALIKE = 0.8
"""Least share of the worst pair's loss that any pair of the cable has; common practice, no source."""

NONE, EXEMPT, UNKNOWN = range(3)
"""No rule holds; one does; nobody can say."""

_PAIRS = ("1-2", "3-6", "4-5", "7-8")


class Losses:
    """Bounds on the insertion loss of every pair of every test, from the points that the export gives."""

    def __init__(self, tests: np.ndarray, readings: pd.DataFrame) -> None:
        """`tests`: number of the test of each reading, n; `readings`: parameter, pair (texts), frequency_mhz, value."""
        pair = readings["pair"].to_numpy(dtype=object)
        is_loss = (readings["parameter"] == "insertion loss").to_numpy() & (readings["value"] > 0).to_numpy()
        is_loss &= (readings["frequency_mhz"] > 0).to_numpy() & (readings["bound"].to_numpy() < 0)
        self.table = pd.DataFrame(
            {
                "test": tests[is_loss],
                "pair": np.array([_PAIRS.index(name) if name in _PAIRS else -1 for name in pair[is_loss]], dtype=int),
                "mhz": readings["frequency_mhz"].to_numpy(float)[is_loss],
                "db": readings["value"].to_numpy(float)[is_loss],
            }
        )

    def bounds(self, tests: np.ndarray, pair: np.ndarray, mhz: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Least and greatest insertion loss [dB] of one pair at one frequency, k each; 0 and inf where nothing tells."""
        ask = pd.DataFrame({"ask": np.arange(len(tests)), "test": tests, "pair": pair, "f": mhz}).dropna(subset="f")
        own = ask.merge(self.table, on=["test", "pair"])
        any_pair = ask.merge(self.table[self.table["pair"] < 0].drop(columns="pair"), on="test")
        low, high = np.zeros(len(tests)), np.full(len(tests), np.inf)
        for found, share in ((own, 1.0), (any_pair, PAIRS_ALIKE)):
            ratio = (found["f"] / found["mhz"]).to_numpy()
            at, loss = found["ask"].to_numpy(), found["db"].to_numpy()
            np.maximum.at(low, at, loss * np.minimum(ratio, 1.0) * share)
            np.minimum.at(high, at, loss * np.maximum(ratio, 1.0))
        return low, high


def exemption_of(
    rules: Sequence[Row], losses: Losses, tests: np.ndarray, pair: np.ndarray, mhz: np.ndarray, value: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """State of each of k readings of one parameter, and the number in `rules` of the rule that holds or may hold.

    Args:
        rules: rules of exemption that hold for the parameter.
        losses: what is known of insertion loss.
        tests: number of the test of each reading.
        pair: pair or combination, "" where none is stated.
        mhz: frequency, NaN where none is stated.
        value: the reading [dB].
    """
    state, which = np.full(len(tests), NONE), np.full(len(tests), -1)
    sides = _sides(pair)
    least, most = [], []
    for side in sides:
        low, high = losses.bounds(tests, side, mhz)
        least.append(low)
        most.append(high)
    for number, rule in enumerate(rules):
        if not is_mask(rule):
            continue
        holds, may_hold = _holds(rule, value, least, most)
        state = np.where(holds, EXEMPT, np.where(may_hold & (state == NONE), UNKNOWN, state))
        which = np.where((holds | may_hold) & (which < 0), number, which)
    return state, which


def _holds(
    rule: Row, value: np.ndarray, least: list[np.ndarray], most: list[np.ndarray]
) -> tuple[np.ndarray, np.ndarray]:
    """Where a rule holds for certain, and where it may.

    As with curves: a combination counts as losing little where both its pairs do, and crosstalk at the far end is
    reckoned with the pair that loses less.
    """
    threshold = float(rule["threshold"])
    own = 0.0 if rule["partner"] == "insertion loss" else np.nan_to_num(value)
    if rule["side"] == "below":
        low, high = own + np.maximum(*least), own + np.maximum(*most)
        return high < threshold, low < threshold
    low, high = own + np.minimum(*least), own + np.minimum(*most)
    return low > threshold, high > threshold


def _sides(pair: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Numbers of the one or two pairs of a pair or combination; -1 where none is stated."""
    codes, names = pd.factorize(pair)
    parts = [name.split("/") if isinstance(name, str) else [] for name in names]
    numbers = np.array(
        [[_PAIRS.index(part[at]) if part and part[0] in _PAIRS else -1 for at in (0, -1)] for part in parts]
    ).reshape(-1, 2)
    return (numbers[codes, 0], numbers[codes, 1]) if len(numbers) else (codes, codes)
