"""What one edition allows to cable, matings and splices."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Final

from analyzer.schema import MULTIMODE_TYPES
from analyzer.standards.editions import edition_row, editions_in_force, resolve_edition
from analyzer.standards.tables import Row
from analyzer.standards.values import Values, categorical

if TYPE_CHECKING:
    import pandas as pd

COMPONENTS: Final = ("mated pair", "array mated pair", "splice")


@dataclass(frozen=True, eq=False)
class Allowances:
    """Allowances of one edition, its base edition included where it amends one.

    `coefficient_rows`, `component_rows` are dicts; `coefficients`, `components` are the same as frames.
    """

    standard: str
    edition: str
    document: str
    coefficient_rows: tuple[Row, ...]
    """type, construction (None: any), wavelength_nm, coefficient_db_per_km, and the proof of the row"""
    component_rows: tuple[Row, ...]
    """component, medium, max_loss_db, and the proof of the row; only what every component must meet"""

    @cached_property
    def coefficients(self) -> pd.DataFrame:
        """One row per type, construction and wavelength: coefficient_db_per_km, row_id, how_known, ...

        A row of the values that governs several types stands once for each. Construction NaN: any.
        """
        return _frame(
            self.coefficient_rows,
            categories=("type", "construction", "how_known"),
            numbers={"wavelength_nm": "int16", "coefficient_db_per_km": "float64"},
            texts=("row_id", "document", "edition", "clause"),
        )

    @cached_property
    def components(self) -> pd.DataFrame:
        """One row per component and medium: max_loss_db, row_id, how_known, ..."""
        return _frame(
            self.component_rows,
            categories=("how_known",),
            numbers={"max_loss_db": "float64"},
            texts=("component", "medium", "row_id", "document", "edition", "clause"),
        )

    def cable(self, fiber: str, wavelength_nm: int, construction: str | None = None) -> tuple[Row, ...]:
        """Rows for this type at this nominal wavelength; several where the construction is not said."""
        return tuple(
            row
            for row in self.coefficient_rows
            if row["type"] == fiber
            and row["wavelength_nm"] == wavelength_nm
            and (construction is None or row["construction"] in {None, construction})
        )

    def component(self, component: str, medium: str) -> Row | None:
        """Row of "mated pair", "array mated pair" or "splice"; None where the edition has no sourced value."""
        found = (row for row in self.component_rows if row["component"] == component and row["medium"] == medium)
        return next(found, None)


def _frame(
    rows: tuple[Row, ...], categories: tuple[str, ...], numbers: Mapping[str, str], texts: tuple[str, ...]
) -> pd.DataFrame:
    import numpy as np
    import pandas as pd

    return pd.DataFrame(
        {
            **{name: categorical([row[name] for row in rows], name) for name in categories},
            **{name: np.array([row[name] for row in rows], dtype=kind) for name, kind in numbers.items()},
            **{name: pd.array(np.array([row[name] for row in rows], dtype=object), dtype="str") for name in texts},
        }
    )


@lru_cache(maxsize=32)
def allowances(values: Values, standard: str = "TIA", edition: str | None = None) -> Allowances:
    """Allowances of one edition (None: the newest of the family).

    Raises:
        StandardsError: unknown family or edition.
    """
    name = resolve_edition(values, standard, edition)
    chain = editions_in_force(values, name)
    coefficients = tuple(
        {**row, "type": fiber, "coefficient_db_per_km": row["max_attenuation_db_per_km"]}
        for part in chain
        for row in values.rows("attenuation")
        if row["edition"] == part
        for fiber in row["types"].split()
    )
    components = tuple(
        row
        for part in chain
        for row in values.rows("components")
        if row["edition"] == part and row["component"] in COMPONENTS and row["percentile"] == "100"
    )
    return Allowances(standard, name, str(edition_row(values, name)["document"]), coefficients, components)


def medium_of(fiber: str) -> str:
    """Multimode or single-mode, from a fiber type or a name of its glass."""
    return "multimode" if fiber in {*MULTIMODE_TYPES, "multimode", "50/125", "62.5/125"} else "single-mode"
