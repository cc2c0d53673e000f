"""What the tables of one file gave, put together: tables of the schema, accounts, what is told of the file."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.importing.blocks import Block
from analyzer.importing.column_map import shown_col
from analyzer.importing.columns import Use
from analyzer.importing.distinct import present
from analyzer.importing.event_rows import EventResult
from analyzer.importing.grid import Sheet
from analyzer.importing.source import Imported, Source, Tallies
from analyzer.importing.sweep_points import SweepResult
from analyzer.importing.table import TableResult
from analyzer.points import Points

Part = tuple[Block, list[Use]]
"""One table of a file and what its columns were taken for."""


def assemble(
    source: Source, sheets: list[Sheet], parts: list[Part], results: list[TableResult], tallies: Tallies
) -> Imported:
    """The tables of one file from what each of its tables gave, numbered from 0, with the accounts of rows and cells."""
    records, readings, curves, events, first = [], [], [], [], 0
    for number, result in enumerate(results):
        frame = result.records.assign(block=number)
        records.append(frame)
        if len(result.readings):
            readings.append(result.readings.assign(block=number, record=result.readings["record"] + first))
        if isinstance(result, SweepResult):
            curves.append(result.curves.assign(block=number, record=result.curves["record"] + first))
        if isinstance(result, EventResult):
            events.append(result.events.assign(block=number, record=result.events["record"] + first))
        result.seeds = [(code, at + first if at >= 0 else -1, text) for code, at, text in result.seeds]
        first += len(frame)
    record_table = conform_codes("records", _stack(records))
    record_table["record"] = np.arange(len(record_table), dtype=np.int32)
    reading_table = conform_codes("readings", _stack(readings))
    reading_table["reading"] = np.arange(len(reading_table), dtype=np.int32)
    _mark_medium(record_table, reading_table)
    points = Points.joined([result.points for result in results if isinstance(result, SweepResult)])
    curve_table = conform_codes("curves", _stack(curves).assign(grid=points.grid, curve=np.arange(len(points))))
    event_table = conform_codes("events", _stack(events))
    event_table["event"] = np.arange(len(event_table), dtype=np.int32)
    in_events = sum(result.cells_used for result in results if isinstance(result, EventResult))
    aside = _aside(parts, results)
    used = len(reading_table) + len(points.value) + in_events
    return Imported(
        _file_row(source, sheets, parts, results, used), _block_table(parts),
        _column_table(parts), record_table, reading_table, aside, _seed_table(sheets, parts, results), tallies,
        curve_table, points, event_table,
    )  # fmt: skip


def _stack(frames: list[pd.DataFrame]) -> pd.DataFrame:
    frames = [frame for frame in frames if len(frame)]
    if len(frames) == 1:
        return frames[0]
    return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame()


def conform_codes(table: str, frame: pd.DataFrame) -> pd.DataFrame:
    """Codes become categories of the closed sets, empty texts become missing, then the table takes its form."""
    columns: dict[str, Any] = {}
    for name, spec in schema.TABLES[table].items():
        if name not in frame.columns:
            continue
        values = frame[name]
        if spec.dtype.startswith("c:"):
            codes = values.to_numpy() if values.dtype.kind == "i" else values.fillna(-1).to_numpy()
            columns[name] = schema.categorical(spec.dtype[2:], codes)
        elif spec.dtype == "s" and values.dtype == object:
            columns[name] = values.where(values.notna() & (values != ""), None)
        else:
            columns[name] = values
    return schema.conform(table, pd.DataFrame(columns, index=pd.RangeIndex(len(frame)), copy=False))


def _mark_medium(records: pd.DataFrame, readings: pd.DataFrame) -> None:
    """A record with fiber readings or facts is fiber, one with copper readings or a grade is twisted pair."""
    count = len(records)
    fiber = np.zeros(count, dtype=bool)
    copper = np.zeros(count, dtype=bool)
    if len(readings):
        codes = readings["parameter"].cat.codes.to_numpy()
        is_fiber = np.isin(
            codes, [schema.CATEGORIES["parameter"].index(name) for name in ("loss", "optical return loss")]
        )
        fiber[readings["record"].to_numpy()[is_fiber]] = True
        copper[readings["record"].to_numpy()[~is_fiber]] = True
    fiber |= (records["type"].notna() | records["glass"].notna()).to_numpy()
    copper |= records["grade"].notna().to_numpy()
    medium = records["medium"].cat.codes.to_numpy(copy=True)
    missing = medium < 0
    medium[missing & fiber & ~copper] = 0
    medium[missing & copper & ~fiber] = 1
    for block in present(records["block"].to_numpy()):
        inside = (records["block"] == block).to_numpy()
        known = present(medium[inside])
        if len(known[known >= 0]) == 1:
            medium[inside] = known[-1]
    records["medium"] = schema.categorical("medium", medium)


def _aside(parts: list[Part], results: list[TableResult]) -> pd.DataFrame:
    frames = [
        pd.DataFrame(one).assign(file=0, sheet=block.sheet.name)
        for (block, _), result in zip(parts, results, strict=True)
        for one in result.aside
    ]
    if not frames:
        return schema.empty("set_aside")
    whole = pd.concat([frame.astype({"sheet": object, "text": object}) for frame in frames], ignore_index=True)
    whole = (
        whole.sort_values(["row", "col"], kind="stable")
        if len({block.sheet.name for block, _ in parts}) == 1
        else whole
    )
    return schema.conform("set_aside", whole)


def _file_row(
    source: Source, sheets: list[Sheet], parts: list[Part], results: list[TableResult], used: int
) -> dict[str, Any]:
    read = sum(result.rows_read for result in results)
    aside = sum(result.rows_aside for result in results)
    cells = sum(result.cells_read for result in results)
    marks = sorted({result.mark for result in results if result.mark})
    return {
        "file": 0, "name": source.name, "sha256": source.sha256, "bytes": len(source.data), "status": "read", "reason": None,
        "rows_read": read, "rows_used": read - aside, "rows_set_aside": aside, "cells_read": cells,
        "cells_used": used, "cells_set_aside": cells - used, "furniture_rows": _furniture(parts, results),
        "encoding": sheets[0].encoding, "delimiter": sheets[0].delimiter, "decimal_mark": marks[0] if len(marks) == 1 else None,
    }  # fmt: skip


def _furniture(parts: list[Part], results: list[TableResult]) -> int:
    """Lines of the sheets read that are no data rows: titles, headings, blank lines, units, totals, notes."""
    lines: dict[str | None, np.ndarray] = {}
    for (block, _), result in zip(parts, results, strict=True):
        furniture = lines.setdefault(block.sheet.name, np.ones(len(block.sheet.rows), dtype=bool))
        furniture[result.lines] = False
    return sum(int(furniture.sum()) for furniture in lines.values())


def _block_table(parts: list[Part]) -> pd.DataFrame:
    rows = [
        {
            "block": number, "file": 0, "sheet": block.sheet.name, "kind": block.kind,
            "first_row": extent(block)[0], "last_row": extent(block)[1],
            "fingerprint": block.fingerprint,
        }
        for number, (block, _) in enumerate(parts)
    ]  # fmt: skip
    frame = pd.DataFrame(rows)
    frame["fingerprint"] = np.asarray([row["fingerprint"] for row in rows], dtype=np.uint64)
    return schema.conform("blocks", frame)


def extent(block: Block) -> tuple[int, int]:
    """First and last row of a block as a spreadsheet shows them."""
    rows = np.asarray([*block.heading_rows, *block.data_rows[-1:]])
    if block.sheet.origin is None:
        return int(block.sheet.rows[rows[0]]), int(block.sheet.rows[rows[-1]])
    shown = block.sheet.origin[0]
    return int(shown[shown >= 0].min()), int(shown.max())


def _column_table(parts: list[Part]) -> pd.DataFrame:
    roles = schema.CATEGORIES["role"]
    rows = [
        {
            "block": number, "col": shown_col(block, use.col), "heading": use.heading or None, "role": use.role if use.role in roles else "ignored",
            "parameter": use.parameter if use.parameter in schema.CATEGORIES["parameter"] else None,
            "wavelength_nm": use.wavelength_nm, "pair": use.pair if use.pair in schema.CATEGORIES["pair"] else None, "end": use.end or None,
            "frequency_mhz": use.frequency_mhz if use.frequency_mhz > 0 else np.nan,
            "direction": use.direction or None, "unit": use.unit or None, "sure": use.sure, "why": use.why,
        }
        for number, (block, uses) in enumerate(parts)
        for use in uses
    ]  # fmt: skip
    return schema.conform("columns", pd.DataFrame(rows))


def _seed_table(sheets: list[Sheet], parts: list[Part], results: list[TableResult]) -> pd.DataFrame:
    seeds = [seed for result in results for seed in result.seeds]
    for sheet in sheets:
        seeds += [(code, -1, text) for code, text in sheet.remarks]
    for block, uses in parts:
        seeds += _told_of_block(block, uses)
    read = {block.sheet.name for block, _ in parts}
    seeds += [
        ("sheet-not-read", -1, f"sheet {sheet.name!r} holds no table of results")
        for sheet in sheets
        if sheet.name not in read
    ]
    return seed_frame(seeds)


def _told_of_block(block: Block, uses: list[Use]) -> list[tuple[str, int, str]]:
    told = []
    sheet = block.sheet
    where = f"sheet {sheet.name!r}: " if sheet.name else ""
    hidden = np.isin(sheet.hidden_rows, sheet.rows[block.data_rows]).sum() if len(sheet.hidden_rows) else 0
    if hidden:
        told.append(("hidden-rows-read", -1, f"{where}{hidden} hidden rows were read like the others"))
    if not sheet.visible:
        told.append(("hidden-sheet-read", -1, f"{where}the sheet is hidden, and was read"))
    told += [
        ("guessed-heading", -1, f"{where}{use.heading!r} taken for {use.role}: {use.why}")
        for use in uses
        if use.role != "ignored" and "near miss" in use.why
    ]
    told += [
        ("unit-from-physics", -1, f"{where}{use.heading!r}: {use.why}") for use in uses if "no unit stated: " in use.why
    ]
    seen: dict[tuple[object, ...], Use] = {}
    long = block.kind == "sweep" or any(use.role in {"wavelength", "parameter", "direction", "pair"} for use in uses)
    for use in uses:
        key = (use.parameter, use.wavelength_nm, use.pair, use.end, use.direction, use.frequency_mhz)
        if use.role == "value" and use.parameter and not long:
            if key in seen:
                told.append(
                    (
                        "same-heading-twice",
                        -1,
                        f"{where}{seen[key].heading!r} and {use.heading!r} mean the same: both are kept as readings",
                    )
                )
            seen.setdefault(key, use)
    return told


def seed_frame(seeds: list[tuple[str, int, str]]) -> pd.DataFrame:
    """Seeds as a frame: code, record, text; each told once."""
    distinct = list(dict.fromkeys(seeds))
    return pd.DataFrame(
        {
            "code": pd.Series([seed[0] for seed in distinct], dtype="str"),
            "record": pd.Series([seed[1] for seed in distinct], dtype="int32"),
            "text": pd.Series([seed[2] for seed in distinct], dtype="str"),
        }
    )
