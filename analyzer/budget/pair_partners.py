"""Exempted readings: what is known of the insertion loss that decides whether a rule of exemption holds.

A scalar export seldom gives insertion loss at the frequency of the crosstalk. What it gives at another frequency bounds
it: attenuation rises with frequency and, between the square root (conductor) and the first power (dielectric) of it,
never faster than in proportion (transmission-line theory). So a loss a at frequency g says of frequency f

    f below g:  a f / g <= loss <= a          f above g:  a <= loss <= a f / g
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyzer.budget.curve_points import is_mask
from analyzer.schema import CATEGORIES
from analyzer.standards.tables import Row

PAIRS_ALIKE = 0.8
"""Least share of the worst pair's loss that any pair of the cable has; common practice, no source."""

NONE, EXEMPT, UNKNOWN = range(3)
"""No rule holds; one does; nobody can say."""

_SINGLE_PAIRS = 4
_SIDES = np.array(
    [
        [CATEGORIES["pair"].index(part) for part in (name.split("/")[0], name.split("/")[-1])]
        for name in CATEGORIES["pair"]
    ]
    + [[-1, -1]]
)
"""Numbers of the one or two pairs of each pair or combination; the last row is for "not stated"."""


class Losses:
    """Bounds on the insertion loss of every pair of every test, from the points that the export gives."""

    def __init__(self, tests: np.ndarray, pair: np.ndarray, mhz: np.ndarray, db: np.ndarray) -> None:
        """Points of insertion loss: number of the test, number of the pair (-1 not stated), frequency, loss [dB]."""
        good = (db > 0) & (mhz > 0)
        key = _key(tests[good], np.where(pair[good] < _SINGLE_PAIRS, pair[good], -1))
        order = np.argsort(key, kind="stable")
        self.key, self.mhz, self.db = key[order], mhz[good][order], db[good][order]

    def bounds(self, tests: np.ndarray, pair: np.ndarray, mhz: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Least and greatest insertion loss [dB] of one pair at one frequency, k each; 0 and inf where nothing tells."""
        low, high = np.zeros(len(tests)), np.full(len(tests), np.inf)
        for key, share in ((_key(tests, pair), 1.0), (_key(tests, np.full(len(pair), -1)), PAIRS_ALIKE)):
            first, last = np.searchsorted(self.key, key), np.searchsorted(self.key, key, side="right")
            sizes = np.where(np.isnan(mhz), 0, last - first)
            at = np.repeat(np.arange(len(key)), sizes)
            found = np.arange(len(at)) - np.repeat(np.cumsum(sizes) - sizes, sizes) + first[at]
            ratio, loss = mhz[at] / self.mhz[found], self.db[found]
            np.maximum.at(low, at, loss * np.minimum(ratio, 1.0) * share)
            np.minimum.at(high, at, loss * np.maximum(ratio, 1.0))
        return low, high


def _key(tests: np.ndarray, pair: np.ndarray) -> np.ndarray:
    """Test and pair in one number."""
    return np.asarray(tests.astype(np.int64) * (_SINGLE_PAIRS + 1) + pair + 1)


def exemption_of(
    rules: Sequence[Row], losses: Losses, tests: np.ndarray, pair: np.ndarray, mhz: np.ndarray, value: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """State of each of k readings of one parameter, and the number in `rules` of the rule that holds or may hold.

    Args:
        rules: rules of exemption that hold for the parameter.
        losses: what is known of insertion loss.
        tests: number of the test of each reading.
        pair: number of the pair or combination in the schema, -1 where none is stated.
        mhz: frequency, NaN where none is stated.
        value: the reading [dB].
    """
    state, which = np.full(len(tests), NONE), np.full(len(tests), -1)
    one, other = (losses.bounds(tests, _SIDES[pair, side], mhz) for side in (0, 1))
    least, most = (one[0], other[0]), (one[1], other[1])
    for number, rule in enumerate(rules):
        if not is_mask(rule):
            continue
        holds, may_hold = _holds(rule, value, least, most)
        state = np.where(holds, EXEMPT, np.where(may_hold & (state == NONE), UNKNOWN, state))
        which = np.where((holds | may_hold) & (which < 0), number, which)
    return state, which


def _holds(
    rule: Row, value: np.ndarray, least: tuple[np.ndarray, np.ndarray], most: tuple[np.ndarray, np.ndarray]
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
