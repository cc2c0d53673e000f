"""`cableproof columns`: how the headings of one file were understood."""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyzer.errors import FileMissing, FileUnreadable
from analyzer.report.console import Console, Line
from analyzer.report.labels import column_letter
from analyzer.report.wording import counted, reading_name

if TYPE_CHECKING:
    from analyzer.importing import Imported, Source

SAMPLES = 3
SAMPLE_LENGTH = 24
CERTAIN = 0.995
READING_ROLES = frozenset({"value", "limit", "margin", "verdict", "frequency"})


def columns(file: Path) -> int:
    """Show each sheet and column of a file: what it was taken for, why, how sure, and sample values.

    Parameters
    ----------
    file
        One export, or the schedule.
    """
    from analyzer.importing import ReadContext, Source, read_source

    source = Source(file.name, _bytes_of(file))
    imported = read_source(source, ReadContext())
    Console(sys.stdout).write(_lines(source, imported))
    return 0


def _bytes_of(file: Path) -> bytes:
    if file.is_dir():
        raise FileUnreadable(str(file), "is a folder", "name one file in it")
    try:
        return file.read_bytes()
    except FileNotFoundError as error:
        raise FileMissing(f"{file}: no such file; check the path") from error
    except OSError as error:
        why = f"cannot be opened ({error.strerror or error})"
        raise FileUnreadable(str(file), why, "close it in other programs, or copy it and name the copy") from error


def _lines(source: Source, imported: Imported) -> Iterator[Line]:
    samples = _Samples(source)
    first_rows = imported.records.groupby("block")["row"].min()
    blocks = imported.blocks.to_dict("records")
    yield Line(f"{source.name}: {counted(len(blocks), 'table')} found", style="strong")
    for block in blocks:
        mine = imported.columns[(imported.columns["block"] == block["block"]).to_numpy()]
        sheet = f"Sheet {block['sheet']}" if isinstance(block["sheet"], str) else "Table"
        rows = f"rows {block['first_row']} to {block['last_row']}"
        yield Line()
        yield Line(f"{sheet}, {rows}, {block['kind']}: {counted(len(mine), 'column')}", style="strong")
        start = int(first_rows.get(block["block"], block["first_row"]))
        for column in mine.to_dict("records"):
            heading = column["heading"] if isinstance(column["heading"], str) else "(no heading)"
            text = f'{column_letter(column["col"])}  "{heading}": {_taken_for(column)}{_sure(column)}'
            yield Line(text, indent=2, hanging=3)
            yield Line(samples.of(block["sheet"], column["col"], start, block["last_row"]), indent=5, hanging=2)
    for name in samples.sheets_without_table({block["sheet"] for block in blocks}):
        yield Line()
        yield Line(f"Sheet {name}: IGNORED, no table of results in it", style="strong")
    yield Line()
    for what in ("rows", "cells"):
        read, used, aside = (imported.file[f"{what}_{which}"] for which in ("read", "used", "set_aside"))
        yield Line(f"{what.capitalize()}: {read:,} read = {used:,} used + {aside:,} set aside")


def _taken_for(column: dict[str, Any]) -> str:
    """What a column was taken for: `loss at 1550 nm A-B, value in dB`, `length in m`, `label`."""
    role = column["role"]
    if not isinstance(role, str) or role == "ignored":
        return "IGNORED"
    unit = f" in {column['unit']}" if isinstance(column["unit"], str) and column["unit"] else ""
    if role not in READING_ROLES:
        return role + unit
    known = isinstance(column["parameter"], str)
    of_what = [column[key] for key in ("wavelength_nm", "pair", "end", "direction")]
    name = reading_name(column["parameter"] if known else role, *of_what)
    return f"{name}, {role}{unit}" if known else f"{name}{unit}"


def _sure(column: dict[str, Any]) -> str:
    """How sure, and why; a guess stands out."""
    sure, why = column["sure"], column["why"]
    because = f": {why}" if isinstance(why, str) and why else ""
    if column["role"] == "ignored":
        return because
    if math.isnan(sure):
        return ""
    return f" - sure{because}" if sure >= CERTAIN else f" - A GUESS, {sure:.0%} sure, look at it{because}"


class _Samples:
    """The first different texts of a column, as they stand in the file."""

    def __init__(self, source: Source) -> None:
        from analyzer.importing.grid import read_sheets

        self._sheets = read_sheets(source)

    def sheets_without_table(self, with_table: set[object]) -> list[str]:
        """Names of the sheets in which no table was found."""
        names = [grid.name for grid in self._sheets]
        return [name for name in names if name is not None and name not in with_table]

    def of(self, sheet: object, col: int, first_row: int, last_row: int) -> str:
        name = sheet if isinstance(sheet, str) else None
        grid = next((grid for grid in self._sheets if name is None or grid.name == name), None)
        if grid is None or not 0 <= col < len(grid.columns):
            return ""
        inside = (grid.rows >= first_row) & (grid.rows <= last_row)
        column = grid.columns[col]
        texts = dict.fromkeys(column.texts[code] for code in column.codes[inside][:200] if code)
        shown = ", ".join(f'"{_short(text)}"' for text in list(texts)[:SAMPLES])
        return f"For example {shown}" if shown else "No values"


def _short(text: str) -> str:
    return text if len(text) <= SAMPLE_LENGTH else text[: SAMPLE_LENGTH - 1] + "…"
