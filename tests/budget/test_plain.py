"""Columns as plain arrays, compared with pandas' own ways."""

import numpy as np
import pandas as pd
import pytest

from analyzer.budget.plain import distinct_rows, texts_of, texts_where

WORDS = ["b", None, "a", "b", ""]


@pytest.mark.parametrize("dtype", ["str", "object", pd.CategoricalDtype(["a", "b", ""])])
def test_texts_are_those_of_the_column_with_missing_ones_filled(dtype):
    column = pd.Series(WORDS, dtype=dtype)
    assert texts_of(column, "?").tolist() == column.astype("object").fillna("?").tolist()
    assert column.isna().tolist() == [False, True, False, False, False]  # the column itself is as it was


def test_texts_elsewhere_are_none():
    assert texts_where(np.array([True, False]), np.array(["a", "b"], dtype=object)).tolist() == ["a", None]


def test_distinct_rows_are_numbered_as_pandas_groups_them():
    chance = np.random.default_rng(1)
    frame = pd.DataFrame(
        {
            "word": pd.Categorical(chance.choice(["x", "y", "z"], 400), ["x", "y", "z", "unused"]).set_categories(["y", "x"]),
            "number": np.where(chance.random(400) < 0.2, np.nan, chance.integers(0, 4, 400)),
            "time": pd.Series(chance.integers(0, 3, 400)).astype("datetime64[s]"),
            "text": pd.Series(chance.choice(["p", "q", None], 400), dtype="str"),
        }
    )  # fmt: skip
    number, first = distinct_rows(*(frame[name] for name in frame))
    wanted = frame.groupby(list(frame), sort=False, dropna=False, observed=True).ngroup().to_numpy()
    assert number.tolist() == wanted.tolist()
    assert first.tolist() == [int(np.flatnonzero(wanted == group)[0]) for group in range(wanted.max() + 1)]


def test_no_rows_have_no_numbers():
    number, first = distinct_rows(np.array([], dtype=object), np.array([], dtype=float))
    assert (len(number), len(first)) == (0, 0)
