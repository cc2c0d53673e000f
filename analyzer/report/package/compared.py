"""Tables of a package against tables judged again: cell by cell, each difference sorted by what it concerns."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import pandas as pd

from analyzer.report.package.opened import Difference
from analyzer.report.package.tables import as_csv

TOLERANCE: Final = 1e-9
_SHOWN: Final = 5
_NUMBERS: Final = frozenset({"reading", "record", "limit_id", "decided_by_reading", "schedule_row"})
"""Numbers of rows, which mean nothing outside one run."""
_SAME: Final = {
    "links": ("label",),
    "readings": ("link", "parameter", "wavelength_nm", "pair", "end", "direction", "file", "sheet", "row", "column"),
    "readings_replaced": ("link", "parameter", "wavelength_nm", "pair", "end", "direction", "file", "sheet", "row", "column"),
    "records": ("link", "written_label", "tested_at"), "findings": ("code", "message"), "files": ("name",),
    "limits": ("rows",), "schedule": ("key",), "set_aside": ("file", "sheet", "row", "col"),
}  # fmt: skip
"""Columns that make a row of a table the same thing in two runs."""
_NAMED: Final = ("label", "link", "name", "code", "rows")

_LIMITS: Final = frozenset(
    {"limit", "limit_source", "cable_db", "matings_db", "splices_db", "accuracy", "rows", "how_known",
     "confirmed", "coefficient_db_per_km", "mated_pair_db", "splice_db", "text", "document", "edition"}
)  # fmt: skip
_RULES: Final = frozenset(
    {"verdict", "basis", "reason", "world", "in_force", "counts", "margin", "margin_db", "decided_by",
     "decided_by_reading", "attempts", "missing", "sentence", "severity", "code", "message", "next_step", "links"}
)  # fmt: skip


def kind_of_column(table: str, column: str) -> str:
    """evidence, limits, rules or reading: what a difference in this column concerns."""
    if table == "files":
        return "evidence"
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
    now = as_csv(again)
    if told == now:
        return []
    try:
        old, new = _texts(told), _texts(now)
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
    return table_differences(name, as_csv(frame), again, source)


def _texts(content: bytes) -> pd.DataFrame:
    return pd.read_csv(io.BytesIO(content), dtype="str", keep_default_na=False, encoding="utf-8-sig")


def _frames(name: str, old: pd.DataFrame, new: pd.DataFrame, again: pd.DataFrame, source: str) -> list[Difference]:
    out = []
    gone = [column for column in new.columns if column not in old.columns]
    more = [column for column in old.columns if column not in new.columns]
    if gone or more:
        said = [f"column {column} is not there" for column in gone] + [
            f"column {column} is not known" for column in more
        ]
        out.append(Difference("reading", f"{source}: {'; '.join(said)}"))
    shared = [column for column in new.columns if column in old.columns and column not in _NUMBERS]
    before, after, out_of = _paired(name, old, new, shared)
    sides = (
        (out_of[0], old, "stands there, and not when judged again"),
        (out_of[1], new, "is not there; judged again it is"),
    )
    for rows, frame, text in sides:
        kind = "rules" if name in {"findings", "links"} else "limits" if name == "limits" else "reading"
        out += [Difference(kind, f"{source}{_who(name, frame, row)}: {text}") for row in rows[:_SHOWN].tolist()]
        if len(rows) > _SHOWN:
            out.append(Difference(kind, f"{source}: and {len(rows) - _SHOWN} more such rows"))
    unlike = {
        column: _unlike(old[column].iloc[before], new[column].iloc[after], again[column].dtype) for column in shared
    }
    limit_too = "limit" in unlike and bool(unlike["limit"].any())
    for column, marks in unlike.items():
        at = np.flatnonzero(marks)
        kind = "limits" if limit_too and column in {"margin", "margin_db"} else kind_of_column(name, column)
        for row in at[:_SHOWN].tolist():
            told, now = _shown(old[column].iloc[before[row]]), _shown(new[column].iloc[after[row]])
            who = _who(name, old, before[row])
            out.append(Difference(kind, f"{source}{who}, {column}: says {told}, judged again {now}"))
        if len(at) > _SHOWN:
            out.append(Difference(kind, f"{source}, {column}: and {len(at) - _SHOWN} more rows"))
    return out


def _paired(
    name: str, old: pd.DataFrame, new: pd.DataFrame, shared: list[str]
) -> tuple[np.ndarray, np.ndarray, tuple[np.ndarray, np.ndarray]]:
    """Rows that are the same thing in both tables, and the rows that only one of them has."""
    keys = [column for column in _SAME.get(name, ()) if column in shared]
    sides = []
    for number, frame in enumerate((old, new)):
        side = frame[keys].assign(at=np.arange(len(frame)), side=number)
        side["copy"] = frame.groupby(keys).cumcount().to_numpy() if keys and len(frame) else np.arange(len(frame))
        sides.append(side)
    joined = sides[0].merge(sides[1], on=[*keys, "copy"], how="outer", suffixes=("_old", "_new"), sort=False)
    both = joined.dropna(subset=["at_old", "at_new"]).sort_values("at_old")
    only = [
        np.sort(joined.loc[joined[other].isna(), mine].to_numpy().astype(np.int64))
        for mine, other in (("at_old", "at_new"), ("at_new", "at_old"))
    ]
    return both["at_old"].to_numpy().astype(np.int64), both["at_new"].to_numpy().astype(np.int64), (only[0], only[1])


def _who(name: str, frame: pd.DataFrame, row: int) -> str:
    """Where a row stands, as a spreadsheet counts, and what it is about."""
    named = next((column for column in _NAMED if column in frame and not (name == "links" and column == "link")), None)
    about = f" ({frame[named].iloc[row]})" if named else ""
    return f", row {row + 2}{about}"


def _unlike(old: pd.Series, new: pd.Series, kind: Any) -> np.ndarray:
    marks = old.to_numpy(dtype=object) != new.to_numpy(dtype=object)
    if kind == np.float64 and marks.any():
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
        found = []
        for suffix, differences in ((".csv", table_differences), (".parquet", parquet_differences)):
            file = name + suffix
            if file not in told:
                found.append([Difference("reading", f"{folder}{file}: is missing")])
            else:
                found.append(differences(name, told[file], frame, f"{folder}{file}"))
        # both files hold one table: what both tell is told once
        plain = {(one.kind, one.text.replace(".csv", "", 1)) for one in found[0]}
        out += found[0]
        out += [one for one in found[1] if (one.kind, one.text.replace(".parquet", "", 1)) not in plain]
    return out
