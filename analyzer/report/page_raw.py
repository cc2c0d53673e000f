"""The rows of the files behind each link, for the page: every cell as it stands there, read again when the page is made.

All links bring their rows as long as these fit; beyond that those do which somebody must look at (they do not plainly
pass, bear a mark, or a finding names them), the nearest to their limit first. The page says how many are left out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from analyzer.errors import FileUnreadable
from analyzer.importing.raw_rows import RawTable, raw_tables
from analyzer.importing.source import Source
from analyzer.report.page_data import column
from analyzer.report.page_pack import pack
from analyzer.report.taken_for import taken_for

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analyzer.schema import Analysis

MOST_PACKED = 3_500_000
"""Bytes of the page that the rows may take, measured as they are packed."""
MOST_CELLS = 1_500_000
"""Cells of all rows together: more are never worth reading, for so many take two megabytes and more."""
MOST_BYTES = 400 << 20
"""Of the files that are read again."""
MOST_ROWS = 60
"""Rows of one link."""
MOST_TEXT = 400
"""Letters of one cell."""
SCARCE = ("sweep", "network")
"""Tables whose points are only counted."""


class RawRows(NamedTuple):
    """The rows of the files, packed for the page."""

    packed: str
    links: int
    """Links that bring their rows."""
    of: int
    """Links that have any."""


def raw_rows(analysis: Analysis) -> RawRows:
    """The rows behind the links of a run, as many as `MOST_PACKED` bytes hold."""
    asked = _asked(analysis)
    most = MOST_CELLS
    while True:
        cells, chosen = _chosen(analysis, asked, most)
        data = raw_data(analysis, chosen)
        packed = pack(data)
        if len(packed) <= MOST_PACKED or not data["table"]:
            return RawRows(packed, int((np.diff(data["start"]) > 0).sum()), int(asked["link"].nunique()))
        most = int(0.9 * cells * MOST_PACKED / len(packed))


def raw_data(analysis: Analysis, chosen: pd.DataFrame) -> dict[str, Any]:
    """Rows of the files by link.

    Args:
        analysis: a whole run.
        chosen: places to be read: columns link, block, row, col.

    Returns:
        ``tables``: dicts with ``block``, ``kind``, ``trouble`` (why the file could not be read again, else ``None``),
        ``headings``, ``places``, ``taken`` (what each column was taken for), ``heading_rows``, ``above`` (lines above
        the table: row and texts), ``rows``, ``cells`` (one column of the page for each heading), ``points``,
        ``last_row`` and ``is_text``. ``table`` and ``at``: for each piece the table and the row in it, -1 for what
        stands around its points; ``start``: the first piece of each link; ``more``: rows of each link beyond the
        most.
    """
    tables, found = _read(analysis, chosen)
    found = found.sort_values(["link", "block", "at"], kind="stable").drop_duplicates(ignore_index=True)
    count = found.groupby("link").cumcount().to_numpy()
    more = np.bincount(found["link"].to_numpy()[count >= MOST_ROWS], minlength=len(analysis.links))
    found = found[count < MOST_ROWS]
    numbers = {block: number for number, block in enumerate(sorted(tables))}
    starts = np.concatenate([[0], np.cumsum(np.bincount(found["link"].to_numpy(), minlength=len(analysis.links)))])
    return {
        "tables": [tables[block] for block in sorted(tables)],
        "table": [numbers[block] for block in found["block"].tolist()],
        "at": found["at"].tolist(),
        "start": starts.tolist(),
        "more": {str(link): int(more[link]) for link in np.flatnonzero(more)},
    }


def _asked(analysis: Analysis) -> pd.DataFrame:
    """Places behind each link: columns link, block, row, col (-1 where they do not matter), each once."""
    if analysis.read_again is None or not len(analysis.records):
        return pd.DataFrame({name: np.empty(0, dtype=np.int64) for name in ("link", "block", "row", "col")})
    records = analysis.records
    parts = [records[["record", "block", "row", "col"]]]
    parts += [
        frame[["record", "block", "row", "col"]]
        for frame in (analysis.readings, analysis.curves, analysis.events)
        if frame is not None and len(frame)
    ]
    asked = pd.concat(parts, ignore_index=True).astype("int64")
    asked = asked[~asked["record"].isin(analysis.read_again.left_out)]
    at = pd.Index(records["record"]).get_indexer(pd.Index(asked["record"]))
    asked["link"] = pd.Index(analysis.links["link"]).get_indexer(pd.Index(records["link"].to_numpy()[at]))
    kind = analysis.blocks.set_index("block")["kind"].reindex(asked["block"]).astype("object").to_numpy()
    asked["row"] = np.where(np.isin(kind, [*SCARCE, "transposed"]), -1, asked["row"])
    asked["col"] = np.where(np.isin(kind, ["transposed", "form"]), asked["col"], -1)
    return asked[["link", "block", "row", "col"]].drop_duplicates(ignore_index=True)


def _need(analysis: Analysis) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
    """Whether somebody must look at a link, and the links in order: those first, the nearest to its limit first."""
    links = analysis.links
    verdict, margin = links["verdict"].astype("object").to_numpy(), links["margin_db"].to_numpy()
    near = np.where(np.isnan(margin), np.where(verdict == "fail", -np.inf, np.inf), margin)
    named = links["label"].isin({label for finding in analysis.findings for label in finding.links}).to_numpy()
    marked = links["link"].isin(analysis.marks["link"]).to_numpy()
    looked_at = (verdict != "pass") | named | marked
    return looked_at, np.lexsort((near, verdict != "fail", ~looked_at))


def _chosen(analysis: Analysis, asked: pd.DataFrame, most: int) -> tuple[float, pd.DataFrame]:
    """How many cells the rows have, and the places of all links, or of those to be looked at as far as they fit."""
    width = analysis.columns.groupby("block").size().reindex(asked["block"]).fillna(1).to_numpy()
    cells = np.bincount(asked["link"].to_numpy(), width, minlength=len(analysis.links))
    total = float(cells.sum())
    if total <= most:
        return total, asked
    looked_at, order = _need(analysis)
    keep = np.zeros(len(cells), dtype=bool)
    keep[order] = np.cumsum(np.where(looked_at, cells, 0)[order]) <= most
    keep &= looked_at
    return float(cells[keep].sum()), asked[keep[asked["link"].to_numpy()]]


def _read(analysis: Analysis, chosen: pd.DataFrame) -> tuple[dict[int, dict[str, Any]], pd.DataFrame]:
    """The tables concerned, by block, and for each link the rows in them: columns link, block, at."""
    tables: dict[int, dict[str, Any]] = {}
    found = [pd.DataFrame({name: np.empty(0, dtype=np.int64) for name in ("link", "block", "at")})]
    blocks = analysis.blocks
    file_of = blocks.set_index("block")["file"]
    first_block = blocks.groupby("file")["block"].min()
    files = analysis.files.set_index("file")
    file = file_of.reindex(chosen["block"]).to_numpy()
    spent = 0
    for number in np.unique(file):
        mine = chosen[file == number]
        spent += int(files["bytes"].loc[number])
        by_block = {int(str(block)): some for block, some in mine.groupby("block")}
        trouble = (
            f"more than {MOST_BYTES >> 20} MB of files would have to be read again" if spent > MOST_BYTES else None
        )
        raw, trouble = ({}, trouble) if trouble else _raw(analysis, int(number), int(first_block.loc[number]), by_block)
        for block, some in by_block.items():
            table = raw.get(block)
            if table is None:
                tables[block] = _table(block, RawTable("upright"), trouble)
                at = of = np.zeros(0, dtype=np.int64)
            else:
                tables[block] = _table(block, table, None)
                at, of = table.at, table.of
            lone = table is None or table.kind in SCARCE
            rows = some.assign(at=-1) if lone else some.iloc[of].assign(at=at)
            found.append(rows[["link", "block", "at"]])
    return tables, pd.concat(found, ignore_index=True)


def _raw(
    analysis: Analysis, file: int, first_block: int, by_block: dict[int, pd.DataFrame]
) -> tuple[dict[int, RawTable], str | None]:
    """Tables of one file by block, or why it cannot be read again."""
    name = str(analysis.files.set_index("file")["name"].loc[file])
    again = analysis.read_again
    try:
        source = Source(name, again.found[file].read())
        if source.sha256 != analysis.files.set_index("file")["sha256"].loc[file]:
            return {}, "the file has changed since it was judged"
        places = {
            block - first_block: (some["row"].to_numpy(), some["col"].to_numpy()) for block, some in by_block.items()
        }
        raw = raw_tables(source, again.context, places)
    except FileUnreadable as error:
        return {}, str(error)
    tables = {number + first_block: table for number, table in raw.items()}
    for block, table in tables.items():
        if table.kind == "network":
            table.points = int(analysis.curves.loc[analysis.curves["block"] == block, "n"].max())
    return tables, None


def _table(block: int, table: RawTable, trouble: str | None) -> dict[str, Any]:
    return {
        "block": block,
        "kind": table.kind,
        "trouble": trouble,
        "headings": [_cut(text) for text in table.headings],
        "places": table.places,
        "taken": [taken_for(use) if use is not None else "" for use in table.uses],
        "heading_rows": table.heading_rows,
        "above": [[row, [_cut(text) for text in texts]] for row, texts in table.above],
        "rows": table.rows.tolist(),
        "cells": [column(pd.Series(_texts(codes, texts), dtype="str")) for codes, texts in table.cells],
        "points": table.points,
        "last_row": table.last_row,
        "is_text": table.is_text,
    }


def _texts(codes: NDArray[np.int32], texts: list[str]) -> NDArray[np.object_]:
    """Texts of the rows; an empty cell is missing."""
    cut = np.empty(len(texts), dtype=object)
    cut[:] = [_cut(text) or None for text in texts]
    of_rows: NDArray[np.object_] = cut[codes]
    return of_rows


def _cut(text: str) -> str:
    return text if len(text) <= MOST_TEXT else f"{text[:MOST_TEXT]} … ({len(text) - MOST_TEXT:,} more letters)"
