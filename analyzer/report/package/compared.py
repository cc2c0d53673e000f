"""Tables of a package against tables judged again: cell by cell, each difference sorted by what it concerns."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Final

import numpy as np
import pandas as pd

from analyzer.report.package.opened import Difference
from analyzer.report.package.tables import as_csv

TOLERANCE: Final = 1e-9
_SHOWN: Final = 20

_LIMITS: Final = frozenset(
    {"limit", "limit_id", "limit_source", "cable_db", "matings_db", "splices_db", "accuracy", "rows", "how_known",
     "confirmed", "coefficient_db_per_km", "mated_pair_db", "splice_db", "text", "document", "edition"}
)  # fmt: skip
_RULES: Final = frozenset(
    {"verdict", "basis", "reason", "world", "in_force", "counts", "margin", "margin_db", "decided_by",
     "decided_by_reading", "attempts", "missing", "sentence", "severity", "code", "message", "next_step", "links"}
)  # fmt: skip


def kind_of_column(table: str, column: str) -> str:
    """limits, rules or reading: what a difference in this column concerns."""
    if table == "limits" or (table == "readings" and column in _LIMITS):
        return "limits"
    if table in {"links", "findings"} or (table.startswith("readings") and column in _RULES):
        return "rules"
    return "reading"


def table_differences(name: str, told: bytes, again: pd.DataFrame, source: str) -> list[Difference]:
    """Differences between a CSV of the package and the table judged again.

    Args:
        name: name of the table.
        told: bytes of the CSV.
        again: the table judged again.
        source: what the differences are to be called after, for example `tables/links.csv`.
    """
    try:
        old, new = _texts(told), _texts(as_csv(again))
    except (ValueError, UnicodeDecodeError) as error:
        return [Difference("reading", f"{source}: cannot be read ({' '.join(str(error).split())})")]
    return _frames(name, old, new, again, source)


def parquet_differences(name: str, told: bytes, again: pd.DataFrame, source: str) -> list[Difference]:
    """The same for a Parquet file."""
    import pyarrow as pa  # type: ignore[import-untyped]  # pyarrow carries no types

    try:
        frame = pd.read_parquet(io.BytesIO(told))
    except (ValueError, OSError, pa.ArrowException) as error:
        return [Difference("reading", f"{source}: cannot be read ({' '.join(str(error).split())})")]
    return _frames(name, _texts(as_csv(frame)), _texts(as_csv(again)), again, source)


def _texts(content: bytes) -> pd.DataFrame:
    return pd.read_csv(io.BytesIO(content), dtype="str", keep_default_na=False, encoding="utf-8-sig")


def _frames(name: str, old: pd.DataFrame, new: pd.DataFrame, again: pd.DataFrame, source: str) -> list[Difference]:
    out = []
    gone = [column for column in new.columns if column not in old.columns]
    more = [column for column in old.columns if column not in new.columns]
    if gone or more:
        said = "; ".join(
            [f"column {column} is not there" for column in gone] + [f"column {column} is not known" for column in more]
        )
        out.append(Difference("reading", f"{source}: {said}"))
    if len(old) != len(new):
        out.append(Difference("reading", f"{source}: {len(old)} rows; judged again there are {len(new)}"))
    rows = min(len(old), len(new))
    shared = [column for column in new.columns if column in old.columns]
    unlike = {column: _unlike(old[column].iloc[:rows], new[column].iloc[:rows], again[column]) for column in shared}
    label = new["link"] if "link" in new and name != "links" else new.get("label", new.get("code"))
    for column, marks in unlike.items():
        kind = kind_of_column(name, column)
        if column in {"margin", "margin_db"} and any(other in unlike and unlike[other].any() for other in ("limit",)):
            kind = "limits"
        at = np.flatnonzero(marks)
        for row in at[:_SHOWN]:
            who = f" ({label.iloc[row]})" if label is not None else ""
            out.append(
                Difference(
                    kind,
                    f"{source}, row {row + 2}{who}, {column}: says {_shown(old[column].iloc[row])}, judged again {_shown(new[column].iloc[row])}",
                )
            )
        if len(at) > _SHOWN:
            out.append(Difference(kind, f"{source}, {column}: and {len(at) - _SHOWN} more rows"))
    return out


def _unlike(old: pd.Series, new: pd.Series, again: pd.Series) -> np.ndarray:
    marks = (old != new).to_numpy(copy=True)
    if again.dtype == np.float64 and marks.any():
        at = np.flatnonzero(marks)
        numbers = [pd.to_numeric(texts.iloc[at], errors="coerce").to_numpy(float) for texts in (old, new)]
        with np.errstate(invalid="ignore"):
            marks[at] = ~(np.abs(numbers[0] - numbers[1]) <= TOLERANCE)
    result: np.ndarray = marks
    return result


def _shown(text: str) -> str:
    return text or "nothing"


def all_differences(told: Mapping[str, bytes], again: Mapping[str, pd.DataFrame], folder: str) -> list[Difference]:
    """Differences of all tables of a package; `told` holds its files by name (`links.csv`, `links.parquet`, …)."""
    out = []
    for name, frame in again.items():
        for suffix, differences in ((".csv", table_differences), (".parquet", parquet_differences)):
            file = name + suffix
            if file not in told:
                out.append(Difference("reading", f"{folder}{file}: is missing"))
            else:
                out += differences(name, told[file], frame, f"{folder}{file}")
    return out
