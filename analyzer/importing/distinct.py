"""Tests over many distinct texts at once, so that the careful parser of one text sees only those that need it.

Every function gives what the careful one would give, or says for which texts to ask it; the tests compare the two.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

FEW = 2000
"""Fewer texts than this are not worth the detour."""


def matching(texts: Sequence[str], pattern: str) -> np.ndarray:
    """Which texts match a pattern somewhere (RE2); all of them where they are few, which only means more care.

    The pattern must not tell one ASCII digit from another: see `Texts.shapes`.
    """
    if len(texts) < FEW:
        return np.ones(len(texts), dtype=bool)
    from analyzer.importing.texts import Texts

    return Texts.of(texts).matching(pattern)


def where(texts: Sequence[str], pattern: str, test: Callable[[str], Any], otherwise: Any, dtype: Any) -> np.ndarray:
    """`test(text)` for the texts that match, `otherwise` for the others."""
    out = np.full(len(texts), otherwise, dtype=dtype)
    for at in np.flatnonzero(matching(texts, pattern)).tolist():
        out[at] = test(texts[at])
    return out


def folded_labels(texts: Sequence[str]) -> Sequence[str] | None:
    """Identities of plain ASCII texts without blanks to collapse; None where one needs more care."""
    if len(texts) < FEW:
        return None
    from analyzer.importing.texts import Texts

    held = Texts.of(texts)
    return None if held.matching(r"[\s\x1c-\x1f]").any() else held.lowered()


def iso_times(texts: Sequence[str]) -> tuple[np.ndarray, np.ndarray]:
    """Times written `2026-01-31`, `2026-01-31 08:00` or `2026-01-31T08:00:05`, and for which texts that holds."""
    none = np.full(len(texts), np.datetime64("NaT"), dtype="datetime64[s]")
    if len(texts) < FEW:
        return none, np.zeros(len(texts), dtype=bool)
    import pyarrow as pa  # type: ignore[import-untyped]

    from analyzer.importing.texts import Texts

    held = Texts.of(texts)
    at = np.flatnonzero(held.matching(r"^[0-9]{4}-[0-9]{2}-[0-9]{2}([ T][0-9]{2}:[0-9]{2}(:[0-9]{2})?)?$"))
    shaped = held.array.take(pa.array(at))
    try:
        some = shaped.cast(pa.timestamp("s")).to_numpy(zero_copy_only=False)
    except pa.ArrowInvalid:  # some text has only the shape of a time
        import pandas as pd

        each = pd.to_datetime(np.asarray(shaped.to_pylist(), dtype=object), format="ISO8601", errors="coerce")
        some = np.asarray(each, dtype="datetime64[s]")
    none[at] = np.where((some >= _FIRST_YEAR) & (some < _AFTER_LAST_YEAR), some, none[at])
    return none, ~np.isnat(none)


_FIRST_YEAR, _AFTER_LAST_YEAR = np.datetime64("1900-01-01"), np.datetime64("2100-01-01")


def text_array(texts: Sequence[str], codes: np.ndarray) -> Any:
    """`texts[codes]` as an array of the dtype `str`, with empty texts as missing ones."""
    import pandas as pd
    import pyarrow as pa  # type: ignore[import-untyped]
    import pyarrow.compute as pc  # type: ignore[import-untyped]

    from analyzer.importing.texts import Texts

    array = Texts.of(texts).array
    filled = pc.if_else(pc.equal(array, ""), None, array)
    return pd.array(filled.take(pa.array(codes)), dtype="str")


def constant(value: Any, count: int, dtype: Any) -> np.ndarray:
    """A column of one value, which takes no memory of its length; not to be written to."""
    return np.broadcast_to(np.asarray(value, dtype=dtype), count)


def is_constant(column: np.ndarray) -> bool:
    """Whether it is a column of `constant`: its first entry tells all."""
    return len(column) > 1 and column.strides == (0,)


def spread(values: Sequence[Any], codes: np.ndarray, dtype: Any) -> np.ndarray:
    """`values[codes]`, as a `constant` where all values are the same; not to be written to."""
    if len(values) and all(value == values[0] for value in values):
        return constant(values[0], len(codes), dtype)
    return np.asarray(np.asarray(values, dtype=dtype)[codes])


def codes_at(codes: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """`codes[rows]` for rising rows, each once; no copy where they follow each other without a gap."""
    if len(rows) and rows[-1] - rows[0] == len(rows) - 1:
        return codes[rows[0] : rows[-1] + 1]
    return np.asarray(codes[rows])


def present(codes: np.ndarray) -> np.ndarray:
    """The codes that occur, in order; small whole numbers from -1 on."""
    return np.flatnonzero(np.bincount(codes.astype(np.int64) + 1)) - 1
