"""Columns as plain arrays: on the small tables of one file pandas' own ways cost far more than the work itself."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd


def texts_of(column: pd.Series, missing: Any = "") -> np.ndarray:
    """Texts of a column as objects, `missing` where nothing stands."""
    values = column.array
    if isinstance(values, pd.Categorical):
        words: np.ndarray = np.array([*values.categories, missing], dtype=object)[values.codes]
        return words
    texts = column.to_numpy(dtype=object, copy=True)
    texts[pd.isna(texts)] = missing
    return texts


def texts_where(mask: np.ndarray, texts: np.ndarray) -> np.ndarray:
    """The texts where the mask holds, None elsewhere."""
    out = np.full(len(texts), None, dtype=object)
    out[mask] = texts[mask]
    return out


def distinct_rows(*columns: np.ndarray | pd.Series) -> tuple[np.ndarray, np.ndarray]:
    """Rows that agree in every column have one number, counted as they first appear; a missing value agrees with itself.

    Returns:
        Number of each row, n integers; position of the first row of each number.
    """
    number = np.zeros(len(columns[0]), dtype=np.int64)
    for column in columns:
        values = column.array if isinstance(column, pd.Series) else column
        codes = values.codes.astype(np.int64) if isinstance(values, pd.Categorical) else pd.factorize(values)[0]
        number = pd.factorize(number * (codes.max(initial=0) + 2) + codes)[0]
    return number, np.unique(number, return_index=True)[1]
