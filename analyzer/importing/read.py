"""The whole way of one file: grid, blocks, headings, cells, records."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.errors import FileUnreadable
from analyzer.importing.blocks import Block, find_blocks
from analyzer.importing.cable_names import names_link
from analyzer.importing.column_map import heading_rows, overrule, overrule_decisions, shown_col
from analyzer.importing.columns import Use, settle_columns
from analyzer.importing.distinct import present
from analyzer.importing.event_rows import EventResult, event_votes, read_events
from analyzer.importing.events import EVENT_ROLES, event_columns, event_part
from analyzer.importing.fact_columns import category_of
from analyzer.importing.forms import (
    LASTING,
    Pair,
    add_facts_above,
    as_form,
    lines_not_known,
    name_as_label,
    pairs_in,
    turned,
)
from analyzer.importing.grid import Sheet, read_sheets
from analyzer.importing.headings import could_be_heading, understand
from analyzer.importing.length_unit import settle_length_unit
from analyzer.importing.pair_colors import settle_colors
from analyzer.importing.source import HeadingsOnly, Imported, NoTable, ReadContext, Source, Tallies
from analyzer.importing.sweep_points import SweepResult, read_sweep, sweep_votes
from analyzer.importing.sweep_tables import find_sweeps
from analyzer.importing.sweeps import Surroundings, last_filled, sweep_part
from analyzer.importing.table import TableResult, identity, read_table
from analyzer.importing.touchstone import is_touchstone, read_touchstone
from analyzer.importing.votes import settle, votes_of
from analyzer.points import Points

_Part = tuple[Block, list[Use]]


def read_source(source: Source, context: ReadContext | None = None) -> Imported:
    """Read one file into the tables of `analyzer.schema`, ids from 0.

    Raises:
        FileUnreadable: broken, locked, no text; and its kinds `EmptyFile`, `NoTable`, `HeadingsOnly`, `OwnOutput`.
    """
    context = context or ReadContext()
    if is_touchstone(source):
        return read_touchstone(source)
    sheets, parts = understood(source, context)
    tallies = _add_up([_VOTES.get(block.kind, votes_of)(block, uses) for block, uses in parts])
    decisions = context.decisions if context.decisions is not None else settle([tallies])
    decisions = overrule_decisions(decisions, [block for block, _ in parts], context.maps)
    results = [_READERS.get(block.kind, read_table)(block, uses, decisions) for block, uses in parts]
    return _assemble(source, sheets, parts, results, tallies)


_VOTES = {"sweep": sweep_votes, "events": event_votes}
_READERS = {"sweep": read_sweep, "events": read_events}


def understood(source: Source, context: ReadContext) -> tuple[list[Sheet], list[_Part]]:
    """Every sheet of a file, and its tables with what each column was taken for.

    Raises:
        FileUnreadable: as `read_source`.
    """
    sheets = read_sheets(source)
    parts, headings_only = _tables(source, sheets, context)
    if not parts:
        raise _nothing(source, sheets, headings_only)
    _refuse_torn_numbers(source, parts)
    return sheets, parts


def explain(source: Source, context: ReadContext | None = None) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Tables `blocks` and `columns` of a file: each sheet and column, what it was taken for, why and how sure."""
    imported = read_source(source, context)
    return imported.blocks, imported.columns


def _tables(source: Source, sheets: list[Sheet], context: ReadContext) -> tuple[list[_Part], list[str]]:
    """Tables that hold readings, and where headings stood without rows."""
    parts: list[_Part] = []
    bare: list[str] = []
    around = Surroundings(source.name, names_link)
    for sheet in sheets:
        found: list[_Part] = []
        for view in _views(sheet):
            found = _tables_of(source, view, context, bare if view is sheet else [], around)
            if found:
                break
        else:
            around.hear(pairs_in(sheet, range(min(len(sheet.rows), 60))))
        parts += found
    return parts, bare


def _views(sheet: Sheet) -> Iterator[Sheet]:
    """The sheet as it stands, on its side, and as a form: the first that gives a table is taken."""
    yield sheet
    for view in (turned, as_form):
        other = view(sheet)
        if other is not None:
            yield other


def _tables_of(
    source: Source, sheet: Sheet, context: ReadContext, bare: list[str], around: Surroundings
) -> list[_Part]:
    parts: list[_Part] = []
    lasting: dict[str, Pair] = {}
    sweeps, rest = find_sweeps(sheet, context.medium)
    columns = {id(block): uses for block, uses in sweeps}
    found_blocks = sorted(
        [*find_blocks(rest, known=heading_rows(context.maps)), *(block for block, _ in sweeps)],
        key=lambda block: block.heading_rows[0],
    )
    last_row = -1
    for found in found_blocks:
        if id(found) in columns:
            block, uses = sweep_part(found, columns[id(found)], around, last_row)
            parts.append((block, settle_colors(block, uses)))
            last_row = int(found.data_rows[-1])
            continue
        uses = settle_columns(found, context.medium)
        uses = overrule(found, event_columns(found, uses) or uses, context.maps)
        if any(use.role in EVENT_ROLES for use in uses):
            found.kind = "events"
            part = event_part(found, uses, around)
            if any(use.role in _NAMING for use in part[1]):
                parts.append(part)
                last_row = last_filled(found)
            continue
        uses = settle_length_unit(found, uses)
        pairs = pairs_in(sheet, found.above) if sheet.kind == "upright" else []
        if not any(use.role in {"value", "verdict", "margin"} for use in uses):
            continue
        around.hear(pairs)
        unknown = lines_not_known(sheet, found.above, pairs)
        block, uses = add_facts_above(found, uses, [*pairs, *unknown, *lasting.values()])
        lasting.update({pair.heading.role: pair for pair in pairs if pair.heading.role in LASTING})
        if not any(use.role in _NAMING for use in uses):
            name = _name_for(source, block, uses)
            if not name:
                continue
            block, uses = name_as_label(block, uses, name)
        if sheet.kind == "transposed" and _headings_as_labels(block, uses):
            continue
        uses = settle_colors(block, uses)
        if any((sheet.columns[col].codes[block.data_rows] != 0).any() for col in block.columns):
            parts.append((block, uses))
            last_row = last_filled(found)
        else:
            bare.append(f"row {sheet.rows[block.heading_rows[0]]}")
    return parts


def _headings_as_labels(block: Block, uses: list[Use]) -> bool:
    """Whether a table on its side would take headings for labels: then it does not lie on its side."""
    labels = [use for use in uses if use.role in _NAMING]
    cells = {block.sheet.text(int(row), use.col) for use in labels for row in block.data_rows}
    return any(could_be_heading(text) and understand((text,)).role in _MEASURED for text in cells)


_MEASURED = {"value", "limit", "margin", "length", "wavelength", "direction", "strand", "type", "verdict"}
_NAMING = {"label", "cable", "strand", "end A label", "end B label"}


def _name_for(source: Source, block: Block, uses: list[Use]) -> str:
    """The name of the sheet, else of the file, for a table about one link; empty where it is no such table."""
    tells = any(use.role in {"wavelength", "direction", "pair", "parameter", "end"} for use in uses)
    if not tells and len(block.data_rows) > 2:
        return ""
    stem = source.name.rsplit("!", 1)[-1].rsplit("/", 1)[-1].rsplit(".", 1)[0]
    return next((name for name in (block.sheet.name or "", stem) if names_link(name)), "")


def _refuse_torn_numbers(source: Source, parts: list[_Part]) -> None:
    """Refuse a table whose numbers were torn apart at their decimal commas: no column of it can be trusted.

    The sign: commas part the fields, and most rows go on beyond the last heading with bare digits.
    """
    for block, uses in parts:
        last = max((use.col for use in uses if use.heading), default=-1)
        beyond = [use for use in uses if not use.heading and last < use.col < block.sheet.origin_width]
        if block.sheet.delimiter != "comma" or not beyond or not len(block.data_rows):
            continue
        torn = np.zeros(len(block.data_rows), dtype=bool)
        for use in beyond:
            column = block.sheet.columns[use.col]
            digits = np.asarray([text.isdigit() for text in column.texts], dtype=np.bool_)
            torn |= digits[column.codes[block.data_rows]]
        if torn.mean() > 0.5:
            raise FileUnreadable(
                source.name,
                f"most rows under the headings in row {block.sheet.rows[block.heading_rows[-1]]} have more fields than headings, "
                "as when decimal commas stand between fields parted by commas",
                "export it again with semicolons or tabs between the fields",
            )


def _nothing(source: Source, sheets: list[Sheet], headings_only: list[str]) -> Exception:
    if headings_only:
        return HeadingsOnly(
            source.name,
            f"headings stand in {headings_only[0]}, and no row under them",
            "export it again with the results",
        )
    where = "no table of results was found"
    if len(sheets) > 1:
        where += f" on its {len(sheets)} sheets"
    return NoTable(
        source.name,
        where,
        "one row must hold headings such as Link, Length (m), Loss 850 nm (dB), with results under it; if its words are "
        "others, say what they mean in a map: cableproof columns FILE --write NAME.columns.toml",
    )


def _add_up(tallies: list[Tallies]) -> Tallies:
    votes: dict[tuple[int, str, str], int] = {}
    for tally in tallies:
        for fingerprint, question, answer, count in tally.votes:
            votes[fingerprint, question, answer] = votes.get((fingerprint, question, answer), 0) + count
    return Tallies(tuple(sorted((*key, count) for key, count in votes.items())))


def _assemble(
    source: Source, sheets: list[Sheet], parts: list[_Part], results: list[TableResult], tallies: Tallies
) -> Imported:
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
    record_table = _conform("records", _stack(records))
    record_table["record"] = np.arange(len(record_table), dtype=np.int32)
    reading_table = _conform("readings", _stack(readings))
    reading_table["reading"] = np.arange(len(reading_table), dtype=np.int32)
    _mark_medium(record_table, reading_table)
    points = Points.joined([result.points for result in results if isinstance(result, SweepResult)])
    curve_table = _conform("curves", _stack(curves).assign(grid=points.grid, curve=np.arange(len(points))))
    event_table = _conform("events", _stack(events))
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


def _conform(table: str, frame: pd.DataFrame) -> pd.DataFrame:
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


def _aside(parts: list[_Part], results: list[TableResult]) -> pd.DataFrame:
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
    source: Source, sheets: list[Sheet], parts: list[_Part], results: list[TableResult], used: int
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


def _furniture(parts: list[_Part], results: list[TableResult]) -> int:
    """Lines of the sheets read that are no data rows: titles, headings, blank lines, units, totals, notes."""
    lines: dict[str | None, np.ndarray] = {}
    for (block, _), result in zip(parts, results, strict=True):
        furniture = lines.setdefault(block.sheet.name, np.ones(len(block.sheet.rows), dtype=bool))
        furniture[result.lines] = False
    return sum(int(furniture.sum()) for furniture in lines.values())


def _block_table(parts: list[_Part]) -> pd.DataFrame:
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


def _column_table(parts: list[_Part]) -> pd.DataFrame:
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


def _seed_table(sheets: list[Sheet], parts: list[_Part], results: list[TableResult]) -> pd.DataFrame:
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


__all__ = ["category_of", "explain", "identity", "read_source", "seed_frame"]
