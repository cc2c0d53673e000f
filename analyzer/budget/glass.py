"""What is known of the glass where the type is not stated: the file, the schedule, the measured wavelengths."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.budget.plain import texts_of, texts_where
from analyzer.schema import CATEGORIES, MULTIMODE_TYPES, SINGLE_MODE_TYPES
from analyzer.standards import Values

MULTIMODE_GLASS = ("multimode", "50/125", "62.5/125")
SINGLE_MODE_GLASS = ("single-mode", "9/125")

KIND_OF = {
    **dict.fromkeys((*MULTIMODE_TYPES, *MULTIMODE_GLASS), "multimode"),
    **dict.fromkeys((*SINGLE_MODE_TYPES, *SINGLE_MODE_GLASS), "single-mode"),
}
"""Multimode or single-mode for every fiber type and every name of the glass."""


def implied_glass(records: pd.DataFrame, readings: pd.DataFrame, values: Values) -> np.ndarray:
    """Glass that the measured wavelengths of a link imply, one text per record ("" where they imply nothing).

    A record speaks for itself first; where it implies nothing, the other records of its label in the file do: 850 nm
    beside 1300 nm makes both multimode.
    """
    implies = {row["written_nm"]: row["implies"] for row in values.rows("wavelengths") if row["implies"]}
    names = list(dict.fromkeys(implies.values()))
    waves, written = pd.factorize(readings["wavelength_nm"].to_numpy())
    glass = np.array([names.index(implies[nm]) if nm in implies else -1 for nm in written], dtype=np.int64)[waves]
    at = readings["record"].to_numpy()
    of_record = np.zeros((len(records), len(names)), dtype=bool)
    of_record[at[glass >= 0], glass[glass >= 0]] = True
    key, keys = pd.factorize(records["key"])
    of_key = np.zeros((len(keys) + 1, len(names)), dtype=bool)  # the last row: no label, which shares nothing
    np.logical_or.at(of_key, key[key >= 0], of_record[key >= 0])
    silent = ~of_record.any(axis=1)
    return np.where(silent, _unanimous(of_key, names)[key], _unanimous(of_record, names))


def settle_glass(facts: pd.DataFrame, records: pd.DataFrame, schedule_rows: pd.DataFrame, implied: np.ndarray) -> None:
    """Fill `glass` of facts: from the type, else the file, else the schedule, else the wavelengths."""
    types = facts["type"].array
    kinds = np.array([*(KIND_OF.get(name, "") for name in types.categories), ""], dtype=object)[types.codes]
    glass = np.full(len(facts), "", dtype=object)
    for words in (kinds, texts_of(records["glass"]), texts_of(schedule_rows["glass"]), implied):
        glass = np.where(glass == "", words, glass)
    facts["glass"] = pd.Categorical(texts_where(glass != "", glass), list(CATEGORIES["glass"]))


def _unanimous(implied: np.ndarray, names: list[str]) -> np.ndarray:
    """The one glass that all wavelengths of a row imply, "" where they imply none or several; `implied`: rows x names."""
    words = np.array([*names, ""], dtype=object)
    found: np.ndarray = words[np.where(implied.sum(axis=1) == 1, implied.argmax(axis=1), len(names))]
    return found
