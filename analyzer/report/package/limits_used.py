"""The limits of a package: the values files as they were used, and which rows of them decided."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import pandas as pd

from analyzer.errors import StandardsError
from analyzer.report.package.bag import BagWriter
from analyzer.report.package.tables import as_csv
from analyzer.schema import Analysis
from analyzer.standards import Values, load

LIMITS: Final = "limits/"
VALUES: Final = "limits/values/"
USED: Final = "limits/used.csv"


def copy_limits(bag: BagWriter, analysis: Analysis, folder: Path) -> None:
    """Copy every values file as it is, so that the package can be judged again by itself, and list the rows used."""
    for path in sorted(folder.glob("*.csv")):
        bag.add_file(VALUES + path.name, path)
    bag.add(USED, as_csv(used_rows(analysis)))


def used_rows(analysis: Analysis) -> pd.DataFrame:
    """One row for every values row that some limit rests on: id, document, edition, clause, how known, confirmed by whom."""
    job = analysis.job
    values = load(overrides=job.overrides if job is not None else None)
    ids = sorted({row_id for text in analysis.limits["rows"].dropna() for row_id in text.split()})
    confirmed = job.confirmed if job is not None else {}
    rows = []
    for row_id in ids:
        row = _row(values, row_id)
        note = confirmed.get(row_id)
        rows.append(
            {
                "row_id": row_id,
                **{name: row.get(name) for name in ("document", "edition", "clause", "how_known", "source_id")},
                "confirmed": f"{note.by}, {note.date}, {note.document}" if note else "",
            }
        )
    return pd.DataFrame(
        rows, columns=["row_id", "document", "edition", "clause", "how_known", "source_id", "confirmed"], dtype="str"
    )


def _row(values: Values, row_id: str) -> Mapping[str, Any]:
    """The row; an own limit of the job stands in no values file."""
    try:
        return values.row(row_id)
    except StandardsError:
        return {"document": "job.toml", "how_known": "own"}
