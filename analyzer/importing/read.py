"""The whole way of one file: grid, blocks, headings, cells, records."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from analyzer.errors import FileUnreadable
from analyzer.importing.assemble import Part, assemble
from analyzer.importing.blocks import Block, find_blocks
from analyzer.importing.cable_names import names_link
from analyzer.importing.column_map import heading_rows, overrule, overrule_decisions
from analyzer.importing.columns import Use, settle_columns
from analyzer.importing.event_rows import event_votes, read_events
from analyzer.importing.events import EVENT_ROLES, event_columns, event_part
from analyzer.importing.forms import (
    LASTING,
    Pair,
    add_facts_above,
    lines_not_known,
    name_as_label,
    pairs_in,
    turned,
)
from analyzer.importing.grid import Sheet, read_sheets
from analyzer.importing.headings import could_be_heading, understand
from analyzer.importing.length_unit import settle_length_unit
from analyzer.importing.pair_colors import settle_colors
from analyzer.importing.pair_forms import abreast, as_form, whole
from analyzer.importing.source import HeadingsOnly, Imported, NoTable, ReadContext, Source, Tallies
from analyzer.importing.sweep_points import read_sweep, sweep_votes
from analyzer.importing.sweep_tables import find_sweeps
from analyzer.importing.sweeps import Surroundings, last_filled, sweep_part
from analyzer.importing.table import read_table
from analyzer.importing.touchstone import is_touchstone, read_touchstone
from analyzer.importing.votes import settle, votes_of


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
    return assemble(source, sheets, parts, results, tallies)


_VOTES = {"sweep": sweep_votes, "events": event_votes}
_READERS = {"sweep": read_sweep, "events": read_events}


def understood(source: Source, context: ReadContext) -> tuple[list[Sheet], list[Part]]:
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


def _tables(source: Source, sheets: list[Sheet], context: ReadContext) -> tuple[list[Part], list[str]]:
    """Tables that hold readings, and where headings stood without rows."""
    parts: list[Part] = []
    bare: list[str] = []
    around = Surroundings(source.name, names_link)
    for sheet in sheets:
        found: list[Part] = []
        for view in _views(sheet):
            found = _tables_of(source, view, context, bare if view is sheet else [], around)
            if found:
                break
        else:
            around.hear(pairs_in(sheet, range(min(len(sheet.rows), 60))))
        parts += found
    return parts, bare


def _views(sheet: Sheet) -> Iterator[Sheet]:
    """Forms and nothing else, the sheet as it stands, on its side, lines among others.

    The first that gives a table is taken.
    """
    forms = abreast(sheet)
    if forms is not None:
        yield forms
    yield sheet
    for view in (turned, as_form):
        other = view(sheet)
        if other is not None:
            yield other


def _tables_of(source: Source, sheet: Sheet, context: ReadContext, bare: list[str], around: Surroundings) -> list[Part]:
    parts: list[Part] = []
    lasting: dict[str, Pair] = {}
    sweeps, rest = find_sweeps(sheet, context.medium) if sheet.kind != "form" else ([], sheet)
    columns = {id(block): uses for block, uses in sweeps}
    upright = [whole(sheet)] if sheet.kind == "form" else find_blocks(rest, known=heading_rows(context.maps))
    found_blocks = sorted([*upright, *(block for block, _ in sweeps)], key=lambda block: block.heading_rows[0])
    last_row = -1
    for found in found_blocks:
        if id(found) in columns:
            block, uses = sweep_part(found, columns[id(found)], around, last_row)
            parts.append((block, settle_colors(block, uses)))
            last_row = int(found.data_rows[-1])
            continue
        uses = settle_columns(found, context.medium)
        uses = [use.because(sheet.unused[use.col], role="ignored") if use.col in sheet.unused else use for use in uses]
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


def _refuse_torn_numbers(source: Source, parts: list[Part]) -> None:
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
