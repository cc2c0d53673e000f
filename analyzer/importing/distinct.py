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
    """Which texts match a pattern somewhere (RE2); all of them where they are few, which only means more care."""
    if len(texts) < FEW:
        return np.ones(len(texts), dtype=bool)
    import pyarrow as pa  # type: ignore[import-untyped]
    import pyarrow.compute as pc  # type: ignore[import-untyped]

    found = pc.match_substring_regex(pa.array(texts, pa.large_string()), pattern)
    return np.asarray(found.to_numpy(zero_copy_only=False), dtype=bool)


def where(texts: Sequence[str], pattern: str, test: Callable[[str], Any], otherwise: Any, dtype: Any) -> np.ndarray:
    """`test(text)` for the texts that match, `otherwise` for the others."""
    out = np.full(len(texts), otherwise, dtype=dtype)
    for at in np.flatnonzero(matching(texts, pattern)).tolist():
        out[at] = test(texts[at])
    return out


def folded_labels(texts: Sequence[str]) -> list[str] | None:
    """Identities of plain ASCII texts without blanks to collapse; None where one needs more care."""
    if len(texts) < FEW or not all(map(str.isascii, texts)) or matching(texts, r"[\s\x1c-\x1f]").any():
        return None
    return [text.lower() for text in texts]


def iso_times(texts: Sequence[str]) -> tuple[np.ndarray, np.ndarray]:
    """Times written `2026-01-31`, `2026-01-31 08:00` or `2026-01-31T08:00:05`, and for which texts that holds."""
    none = np.full(len(texts), np.datetime64("NaT"), dtype="datetime64[s]")
    if len(texts) < FEW:
        return none, np.zeros(len(texts), dtype=bool)
    import pandas as pd

    shaped = matching(
        texts,
        r"^(19|20)[0-9]{2}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])([ T]([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?)?$",
    )
    at = np.flatnonzero(shaped)
    some = pd.to_datetime(np.asarray(texts, dtype=object)[at], format="ISO8601", errors="coerce")
    none[at] = np.asarray(some, dtype="datetime64[s]")
    return none, ~np.isnat(none)


def present(codes: np.ndarray) -> np.ndarray:
    """The codes that occur, in order; small whole numbers from -1 on."""
    return np.flatnonzero(np.bincount(codes.astype(np.int64) + 1)) - 1
