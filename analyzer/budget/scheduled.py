"""The exact index of the schedule: from the identity of a tested link to what was scheduled for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd


@dataclass(frozen=True)
class ScheduleIndex:
    """Schema `schedule`, found by exact identity (the spellings of a strand's number that the expansion defines)."""

    table: pd.DataFrame
    aliases: Mapping[str, int] = field(default_factory=dict)
    """identity -> row of the table"""

    def rows_of(self, keys: pd.Series) -> np.ndarray:
        """Row of the table for each identity; -1 where the link is not scheduled."""
        if self.table.empty:
            return np.full(len(keys), -1)
        codes, distinct = pd.factorize(keys)
        found = [self.aliases.get(key, -1) for key in distinct]
        return np.array([*found, -1], dtype=np.int64)[codes]

    def take(self, at: np.ndarray) -> pd.DataFrame:
        """Rows of the table; all missing where `at` is -1."""
        return self.table.reindex(at).reset_index(drop=True)
