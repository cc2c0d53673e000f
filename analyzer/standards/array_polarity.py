"""Positions of array and duplex links: which position of one end arrives at which position of the other."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd

from analyzer.standards.values import Values


def position_at_other_end(
    values: Values, polarity: np.ndarray, position: np.ndarray, positions: np.ndarray
) -> np.ndarray:
    """Position at the other end of the link, by its polarity.

    Every mapping is its own inverse, so it does not matter which end the position is of. A polarity holds within one
    row of the connector: 24 positions are two rows of 12. Reversed positions need full rows; where the link has others,
    nobody can tell which position of the connector is left empty.

    Args:
        values: the values in force; the mappings are those of `array_polarity.csv` (TIA-568.3, recalled).
        polarity: word of `schema.CATEGORIES["polarity"]` for each position, missing where not stated; n objects.
        position: position counted from 1; n whole numbers.
        positions: how many positions the link has; n whole numbers.

    Returns:
        n positions counted from 1; -1 where nothing can be told.
    """
    known = pd.DataFrame(values.rows("array_polarity")).set_index("polarity")
    at = known.index.get_indexer(pd.Index(np.asarray(polarity, dtype=object)))
    row = known["counts_in"].to_numpy(dtype=np.int64)[at]
    mapping = known["mapping"].to_numpy(dtype=object)[at]
    number, count = np.asarray(position, dtype=np.int64), np.asarray(positions, dtype=np.int64)
    inside = (number - 1) % row
    reverse = np.where(count % row == 0, number - inside + row - 1 - inside, -1)
    found = np.select(
        [mapping == "straight", mapping == "reversed", mapping == "pairs exchanged"],
        [number, reverse, number + np.where(number % 2 == 1, 1, -1)],
        -1,
    )
    fits = (at >= 0) & (number >= 1) & (number <= count) & (found >= 1) & (found <= count)
    return np.where(fits, found, -1)


@cache
def polarities_of_arrays(values: Values) -> tuple[str, ...]:
    """The words that say a link is an array."""
    return tuple(row["polarity"] for row in values.rows("array_polarity") if row["kind"] == "array")
