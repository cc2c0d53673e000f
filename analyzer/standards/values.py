"""Loading the values files: rows and typed frames, each file read only when it is asked for."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from analyzer.errors import StandardsError
from analyzer.schema import CATEGORIES
from analyzer.standards.tables import TABLES, Row, Table, read_table

if TYPE_CHECKING:
    import pandas as pd

FOLDER: Final = Path(__file__).with_name("values")
"""The values files that come with the package."""

_CATEGORY_COLUMNS: Final = ("standard", "construction", "how_known", "reference", "end_type")


@dataclass(frozen=True, eq=False)
class Values:
    """The published values in force: every table as rows and as a frame, with a job's overrides applied.

    An overridden row carries the job's number, how_known "own", and in its rows the printed number as `published`.
    Text columns of the frames are `str`, counts int16, values float64; columns that `analyzer.schema` closes
    (standard, construction, how_known, reference, end_type) are its categoricals. Missing is NaN.
    """

    folder: Path = FOLDER
    overrides: Mapping[str, float] = field(default_factory=dict)
    _read: dict[str, tuple[Row, ...]] = field(default_factory=dict, repr=False)

    def rows(self, table: str) -> tuple[Row, ...]:
        """Rows of one table as dicts, None where a cell is empty; no pandas needed."""
        if table not in self._read:
            known = None if table == "sources" else frozenset(row["source_id"] for row in self.rows("sources"))
            self._read[table] = tuple(
                _overridden(row, TABLES[table], self.overrides) for row in read_table(self.folder, table, known)
            )
        return self._read[table]

    def row(self, row_id: str) -> Row:
        """The row with this id, whatever table it stands in.

        Raises:
            StandardsError: there is no such row; the nearest ids are named.
        """
        name = _table_of(row_id)
        found = next((row for row in self.rows(name) if row["row_id"] == row_id), None) if name else None
        if found is None:
            raise StandardsError(f"no value row {row_id!r}{self._nearest(row_id)}")
        return found

    def source(self, source_id: str) -> Row:
        """Title, publisher and kind of a source."""
        return next(row for row in self.rows("sources") if row["source_id"] == source_id)

    @cached_property
    def attenuation(self) -> pd.DataFrame:
        """Governing attenuation of cabled fiber [dB/km]."""
        return self._frame("attenuation")

    @cached_property
    def attenuation_evidence(self) -> pd.DataFrame:
        """Second sources, bare fiber, typical values [dB/km]; governs nothing."""
        return self._frame("attenuation_evidence")

    @cached_property
    def components(self) -> pd.DataFrame:
        """Loss of matings and splices that standards print [dB]."""
        return self._frame("components")

    @cached_property
    def components_evidence(self) -> pd.DataFrame:
        """Loss of components as owners, makers and grades print it [dB]; governs nothing."""
        return self._frame("components_evidence")

    @cached_property
    def optical_return_loss(self) -> pd.DataFrame:
        """Return loss of components [dB]."""
        return self._frame("optical_return_loss")

    @cached_property
    def group_index(self) -> pd.DataFrame:
        """Group index of fibers."""
        return self._frame("group_index")

    @cached_property
    def references(self) -> pd.DataFrame:
        """Reference methods, their old names, and the cords each subtracts."""
        return self._frame("references")

    @cached_property
    def ends(self) -> pd.DataFrame:
        """What one end adds to the counts."""
        return self._frame("ends")

    @cached_property
    def admissible(self) -> pd.DataFrame:
        """What a fact may be where nobody said it."""
        return self._frame("admissible")

    @cached_property
    def wavelengths(self) -> pd.DataFrame:
        """Nominal wavelengths per medium."""
        return self._frame("wavelengths")

    @cached_property
    def component_spread(self) -> pd.DataFrame:
        """Mean and 97 % value of the loss of one component [dB]; governs nothing."""
        return self._frame("component_spread")

    @cached_property
    def typical_attenuation(self) -> pd.DataFrame:
        """Typical attenuation of cabled fiber [dB/km]; governs nothing."""
        return self._frame("typical_attenuation")

    @cached_property
    def array_polarity(self) -> pd.DataFrame:
        """Polarities of arrays and duplex links, and how each maps positions; governs nothing."""
        return self._frame("array_polarity")

    @cached_property
    def decision_rules(self) -> pd.DataFrame:
        """Decision rules: guard bands in units of the expanded uncertainty, and their risk."""
        return self._frame("decision_rules")

    @cached_property
    def editions(self) -> pd.DataFrame:
        """Editions whose values stand here."""
        return self._frame("editions")

    @cached_property
    def copper_limits(self) -> pd.DataFrame:
        """Equations of the limits of twisted pair, one row for each piece."""
        return self._frame("copper_limits")

    @cached_property
    def copper_editions(self) -> pd.DataFrame:
        """Editions whose twisted-pair values stand here."""
        return self._frame("copper_editions")

    @cached_property
    def copper_exemptions(self) -> pd.DataFrame:
        """Rules that take a reading of twisted pair out of the verdict, and where limits stop."""
        return self._frame("copper_exemptions")

    @cached_property
    def copper_accuracy(self) -> pd.DataFrame:
        """Field-tester accuracy by level: fixed part [unit of the row] and percent of the reading."""
        return self._frame("copper_accuracy")

    @cached_property
    def copper_cable(self) -> pd.DataFrame:
        """Loss, delay, resistance and temperature coefficients of cable, cords, connections and conductors."""
        return self._frame("copper_cable")

    @cached_property
    def copper_lengths(self) -> pd.DataFrame:
        """Longest links and cords of twisted pair [m]."""
        return self._frame("copper_lengths")

    @cached_property
    def copper_configurations(self) -> pd.DataFrame:
        """Plug-ended configurations of twisted pair, and the one whose limits are used for each."""
        return self._frame("copper_configurations")

    @cached_property
    def copper_wiring(self) -> pd.DataFrame:
        """Contacts, pairs and colors of the modular connector, and kinds of wire-map fault."""
        return self._frame("copper_wiring")

    @cached_property
    def copper_power(self) -> pd.DataFrame:
        """Remote power: currents, voltages and what the resistance of a channel may be."""
        return self._frame("copper_power")

    @cached_property
    def copper_causes(self) -> pd.DataFrame:
        """What a reading of twisted pair suggests, and the next step."""
        return self._frame("copper_causes")

    @cached_property
    def sources(self) -> pd.DataFrame:
        """Titles of the sources."""
        return self._frame("sources")

    def _frame(self, table: str) -> pd.DataFrame:
        return frame(self.rows(table), TABLES[table])

    def _nearest(self, row_id: str) -> str:
        known = [row["row_id"] for name, table in TABLES.items() if table.prefix for row in self.rows(name)]
        near = difflib.get_close_matches(row_id, known, n=3, cutoff=0.5)
        return f"; the nearest known are {', '.join(near)}" if near else "; `cableproof limits` lists them"


def frame(rows: tuple[Row, ...], table: Table) -> pd.DataFrame:
    """Rows as a typed frame with the columns of the table."""
    import pandas as pd

    return pd.DataFrame({name: _column([row[name] for row in rows], name, table) for name in table.columns}, copy=False)


def _column(cells: list[Any], name: str, table: Table) -> Any:
    """One column as an array of its type; plain arrays because a Series each would cost most of the loading."""
    import numpy as np
    import pandas as pd

    if name in table.numbers:
        return np.array([np.nan if cell is None else cell for cell in cells], dtype="float64")
    if name in table.counts:
        return np.array(cells, dtype="int16")
    if name in table.flags:
        return np.array(cells, dtype="bool")
    if name in _CATEGORY_COLUMNS:
        return categorical(cells, name)
    return pd.array(np.array(cells, dtype=object), dtype="str")


def categorical(words: list[str | None], name: str) -> pd.Categorical[Any]:
    """Words as the closed categorical `name` of `analyzer.schema`; None is missing."""
    import pandas as pd

    codes = {word: code for code, word in enumerate(CATEGORIES[name])}
    numbers = [-1 if word is None else codes[word] for word in words]
    return pd.Categorical.from_codes(numbers, dtype=pd.CategoricalDtype(list(CATEGORIES[name])))


def load(folder: Path | str | None = None, overrides: Mapping[str, float] | None = None) -> Values:
    """The values in force.

    Args:
        folder: another folder of values files; None for those that come with the package.
        overrides: row id -> number [unit of the row]; such a row is known as "own".

    Raises:
        StandardsError: an override names no row that governs a limit, or is no number of zero or more.
    """
    if folder is None and not overrides:
        return _default()
    values = Values(FOLDER if folder is None else Path(folder), MappingProxyType(dict(overrides or {})))
    for row_id, number in values.overrides.items():
        name = _table_of(row_id)
        if name and "expression" in TABLES[name].columns:
            raise StandardsError(f"row {row_id} cannot be overridden by a number: it is an equation; give an own limit")
        if name and not TABLES[name].value:
            raise StandardsError(f"row {row_id} cannot be overridden: it governs no limit")
        values.row(row_id)
        if not math.isfinite(number) or number < 0:
            raise StandardsError(f"the override of row {row_id} must be a number of zero or more, not {number}")
    return values


@cache
def _default() -> Values:
    return Values()


def _table_of(row_id: str) -> str | None:
    prefix = row_id.partition("-")[0]
    return next((name for name, table in TABLES.items() if table.prefix == prefix), None) if prefix else None


def _overridden(row: Row, table: Table, overrides: Mapping[str, float]) -> Row:
    if not table.value:
        return row
    published = row[table.value]
    if row["row_id"] not in overrides:
        return {**row, "published": published}
    own = float(overrides[row["row_id"]])
    return {**row, "published": published, table.value: own, "how_known": "own"}
