"""The allowances that govern a reading: of the ordered standard and edition, or the owner's own.

`Book` answers one question per distinct combination of standard, edition, fiber type, construction and wavelength, and
numbers every limit that was used, with the values rows it rests on.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.end_connections import KEY, EndAllowance, end_allowance, own_end_db
from analyzer.job import Job
from analyzer.standards import Values, allowances, medium_of
from analyzer.standards.tables import Row

WEAKEST_LAST = ("own", "read", "secondary", "derived", "memory")
UNCONFIRMED = ("derived", "memory")


@dataclass(frozen=True)
class Line:
    """What one combination is allowed: coefficient [dB/km], mated pair, array pair and splice [dB]; NaN unknown.

    `ends_apart` (0 or 1): end connections have an allowance of their own, `end_pair_db`; see `end_connections`.
    """

    coefficient: float
    mated_pair_db: float
    array_pair_db: float
    splice_db: float
    own_max_db: float
    limit_id: int
    own_limit_id: int
    ends_apart: int = 0
    end_pair_db: float = np.nan


NO_LINE = Line(np.nan, np.nan, np.nan, np.nan, np.inf, -1, -1)
"""Nothing is known of such a combination."""


@dataclass
class Book:
    """All limits that one run used."""

    job: Job
    values: Values
    _rows: list[dict[str, object]] = field(default_factory=list)
    _lines: dict[tuple[str, str, str, str, int, bool], Line] = field(default_factory=dict)

    def line(
        self, standard: str, edition: str, fiber: str, construction: str, wavelength_nm: int, has_arrays: bool
    ) -> Line:
        """The allowances of one combination; texts are "" where nothing is said."""
        key = (standard, edition, fiber, construction, wavelength_nm, has_arrays)
        if key not in self._lines:
            self._lines[key] = self._make(*key)
        return self._lines[key]

    def add(self, row: dict[str, object]) -> int:
        """Number of one more limit, given as columns of schema `limits`."""
        self._rows.append({**row, "limit_id": len(self._rows)})
        return len(self._rows) - 1

    def limits(self) -> pd.DataFrame:
        """Schema `limits`: every limit that was asked for, in the order of asking."""
        return schema.conform("limits", pd.DataFrame(self._rows))

    def _make(
        self, standard: str, edition: str, fiber: str, construction: str, wavelength_nm: int, has_arrays: bool
    ) -> Line:
        coefficient = self._coefficient(standard, edition, fiber, construction, wavelength_nm)
        glass = medium_of(fiber)
        parts = {
            "mated_pair_db": self._component(standard, edition, "mated pair", glass, self.job.allowances.mated_pair_db),
            "array_pair_db": self._component(
                standard, edition, "array mated pair", glass, self.job.allowances.array_pair_db
            ),
            "splice_db": self._component(standard, edition, "splice", glass, self.job.allowances.splice_db),
        }
        end, end_value = self._end(standard, edition, glass)
        parts["end_pair_db"] = end_value
        limit_id = -1
        if coefficient is not None and not np.isnan(coefficient.value):
            used = [coefficient]
            used += [part for name, part in parts.items() if part and (has_arrays or name != "array_pair_db")]
            limit_id = self._add(standard, edition, used, coefficient, parts)
        own_max, own_id = self._own_limit(fiber, wavelength_nm)
        number = {name: part.value if part else np.nan for name, part in parts.items()}
        return Line(
            coefficient=coefficient.value if coefficient else np.nan,
            mated_pair_db=number["mated_pair_db"],
            array_pair_db=number["array_pair_db"],
            splice_db=number["splice_db"],
            own_max_db=own_max,
            limit_id=limit_id,
            own_limit_id=own_id,
            ends_apart=int(end.apart),
            end_pair_db=end.value_db,
        )

    def _end(self, standard: str, edition: str, glass: str) -> tuple[EndAllowance, _Value | None]:
        own = own_end_db(self.job.allowances.end_pair_db, glass)
        found = end_allowance(self.values, standard, glass, own, self.job.allowances.mated_pair_db)
        if found.row is not None:
            return found, _value_of(found.row, "max_loss_db")
        known = found.apart and not np.isnan(found.value_db)
        return found, _Value(f"job.toml:{KEY}", found.value_db, "own", "job.toml", edition) if known else None

    def _coefficient(
        self, standard: str, edition: str, fiber: str, construction: str, wavelength_nm: int
    ) -> _Value | None:
        own = (self.job.allowances.attenuation_db_per_km or {}).get(fiber, {}).get(wavelength_nm)
        if own is not None:
            key = f"allowances.attenuation_db_per_km.{fiber}.{wavelength_nm}"
            return _Value(f"job.toml:{key}", float(own), "own", "job.toml", edition)
        rows = allowances(self.values, standard, edition).cable(fiber, wavelength_nm, construction or None)
        exact = [row for row in rows if construction and row["construction"] == construction]
        anywhere = [row for row in rows if row["construction"] is None]
        chosen = (exact or anywhere or (rows if len(rows) == 1 else []))[:1]
        return _value_of(chosen[0], "coefficient_db_per_km") if chosen else None

    def _component(self, standard: str, edition: str, component: str, glass: str, own: float | None) -> _Value | None:
        if own is not None:
            key = component.replace("array mated pair", "array_pair").replace("mated pair", "mated_pair")
            return _Value(f"job.toml:allowances.{key}_db", float(own), "own", "job.toml", edition)
        row = allowances(self.values, standard, edition).component(component, glass)
        return _value_of(row, "max_loss_db") if row is not None and row["max_loss_db"] is not None else None

    def _own_limit(self, fiber: str, wavelength_nm: int) -> tuple[float, int]:
        best: tuple[float, str, str] | None = None
        for own in self.job.limits:
            applies = (
                own.parameter == "loss" and own.fiber in {None, fiber} and own.wavelength_nm in {None, wavelength_nm}
            )
            if applies and own.max_db is not None and (best is None or own.max_db < best[0]):
                best = (float(own.max_db), own.name, own.source)
        if best is None:
            return np.inf, -1
        text = f"{best[1]}: at most {best[0]:g} dB ({best[2]})"
        self._rows.append(
            {"limit_id": len(self._rows), "rows": "job.toml:limits", "document": best[2], "how_known": "own",
             "confirmed": True, "text": text}
        )  # fmt: skip
        return best[0], len(self._rows) - 1

    def _add(
        self, standard: str, edition: str, used: list[_Value], coefficient: _Value, parts: dict[str, _Value | None]
    ) -> int:
        weakest = max((value.how_known for value in used), key=WEAKEST_LAST.index)
        confirmed = all(v.how_known not in UNCONFIRMED or v.row_id in self.job.confirmed for v in used)
        pair, splice = parts["mated_pair_db"], parts["splice_db"]
        words = [f"{coefficient.value:g} dB/km"]
        words += [f"{pair.value:g} dB a mated pair"] if pair else []
        array = parts["array_pair_db"]
        words += [f"{array.value:g} dB an array pair"] if array in used else []
        words += [f"{splice.value:g} dB a splice"] if splice else []
        end = parts["end_pair_db"]
        words += [f"{end.value:g} dB an end connection"] if end else []
        documents = " and ".join(dict.fromkeys(value.document for value in used))
        rows = " ".join(dict.fromkeys(value.row_id for value in used))
        mark = "" if confirmed else ", unconfirmed"
        self._rows.append(
            {
                "limit_id": len(self._rows), "rows": rows, "standard": standard, "document": documents,
                "edition": edition, "how_known": weakest, "confirmed": confirmed,
                "coefficient_db_per_km": coefficient.value, "mated_pair_db": pair.value if pair else np.nan,
                "splice_db": splice.value if splice else np.nan, "end_pair_db": end.value if end else np.nan,
                "text": f"{documents}: {', '.join(words)} ({weakest}{mark}) [{rows}]",
            }
        )  # fmt: skip
        return len(self._rows) - 1


@dataclass(frozen=True)
class _Value:
    row_id: str
    value: float
    how_known: str
    document: str
    edition: str


def _value_of(row: Row, column: str) -> _Value:
    return _Value(row["row_id"], float(row[column]), row["how_known"], row["document"], row["edition"])
