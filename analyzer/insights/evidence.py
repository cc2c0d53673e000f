"""Where findings stand: each that names links and no place in a file gets the records of these links."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pandas as pd

from analyzer.insights.joined import Joined
from analyzer.schema import Analysis, Evidence, Finding

RECORDS_SHOWN = 4
"""Records that are added where a finding rests on numbers that were counted over links."""

_ROW = re.compile(r"\brow (\d+)")
THE_SCHEDULE = "the schedule"


def with_places(job: Joined, findings: Iterable[Finding]) -> list[Finding]:
    """The findings, each with a place in a file if it names a link that was tested.

    What a finding rests on was counted over its links in some; then the first records of these links are where a
    reader begins to look.
    """
    first = dict(
        zip(job.links["label"].to_numpy()[::-1], job.analysis.links["first_record"].to_numpy()[::-1], strict=True)
    )
    out = []
    for found in findings:
        if found.links and not any(piece.file for piece in found.evidence):
            at = [first[label] for label in found.links[:RECORDS_SHOWN] if first.get(label, -1) >= 0]
            found = replace(found, evidence=(*found.evidence, *job.of_records(at, "its record")))  # noqa: PLW2901
        out.append(found)
    return out


def of_texts(analysis: Analysis, texts: Iterable[str]) -> list[Evidence]:
    """What was noticed of whole files or of the schedule: the sentence, with the file and the row that it begins with."""
    names = sorted(analysis.files["name"].dropna().astype(str), key=len, reverse=True)
    out = []
    for text in texts:
        name = next((name for name in names if text.startswith(f"{name}:")), None)
        if name is None and text.startswith("schedule"):
            name = THE_SCHEDULE
        row = _ROW.search(text)
        out.append(Evidence(text, None, "", name, None, int(row[1]) if row and name else None))
    return out


def of_set_aside(analysis: Analysis, rows: pd.DataFrame) -> list[Evidence]:
    """Rows and cells that were set aside, as they are written."""
    names = dict(zip(analysis.files["file"], analysis.files["name"], strict=True))
    return [
        Evidence(
            f'set aside: "{row["text"]}"' if isinstance(row["text"], str) and row["text"] else "set aside",
            None, "", names.get(row["file"]), row["sheet"] if isinstance(row["sheet"], str) else None,
            int(row["row"]), int(row["col"]) if row["col"] >= 0 else None,
        )
        for row in rows.to_dict("records")
    ]  # fmt: skip


def records_of_links(job: Joined, links: np.ndarray | pd.Series) -> np.ndarray:
    """The first record of each link."""
    return job.analysis.links["first_record"].to_numpy()[np.asarray(links, dtype=np.int64)]
