"""What is known of the glass where the type is not stated: the file, the schedule, the measured wavelengths."""

from __future__ import annotations

import numpy as np
import pandas as pd

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
    known = {row["written_nm"]: row["implies"] for row in values.rows("wavelengths") if row["implies"]}
    at = readings["record"].to_numpy()
    told = pd.DataFrame({"record": at, "glass": readings["wavelength_nm"].map(known).astype("object")})
    told["key"] = records["key"].astype("object").to_numpy()[at]
    told = told.dropna(subset="glass")
    own = pd.Series(np.arange(len(records))).map(_unanimous(told, "record")).astype("object").fillna("")
    key = records["key"].astype("object")
    shared = key.map(_unanimous(told.dropna(subset="key"), "key")).astype("object").fillna("")
    silent = ~np.isin(np.arange(len(records)), told["record"].to_numpy())
    return np.where(silent, shared.to_numpy(dtype=object), own.to_numpy(dtype=object))


def settle_glass(facts: pd.DataFrame, records: pd.DataFrame, schedule_rows: pd.DataFrame, implied: np.ndarray) -> None:
    """Fill `glass` of facts: from the type, else the file, else the schedule, else the wavelengths."""
    glass = facts["type"].astype("object").map(KIND_OF).astype("object")
    for words in (records["glass"], schedule_rows["glass"]):
        glass = glass.where(glass.notna(), words.astype("object"))
    implied_words = pd.Series(implied, index=facts.index, dtype="object").where(implied != "", None)
    facts["glass"] = pd.Categorical(glass.where(glass.notna(), implied_words), list(CATEGORIES["glass"]))


def _unanimous(told: pd.DataFrame, by: str) -> pd.Series:
    """The one glass that every wavelength of a group implies."""
    distinct = told.drop_duplicates([by, "glass"])
    return distinct[~distinct[by].duplicated(keep=False)].set_index(by)["glass"].astype("object")
