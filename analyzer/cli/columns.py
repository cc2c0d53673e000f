"""`cableproof columns`: how the headings of one file were understood."""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyzer.errors import FileMissing, FileUnreadable

if TYPE_CHECKING:
    from analyzer.importing import Imported, Source

SAMPLES = 3
SAMPLE_LENGTH = 24
CERTAIN = 0.995


def columns(file: Path) -> int:
    """Show each sheet and column of a file: what it was taken for, why, how sure, and sample values.

    Parameters
    ----------
    file
        One export, or the schedule.
    """
    from analyzer.importing import ReadContext, Source, read_source
    from analyzer.report.console import Console

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


def _lines(source: Source, imported: Imported) -> Iterator[Any]:
    from analyzer.report.console import Line
    from analyzer.report.wording import counted

    samples = _Samples(source)
    first_rows = imported.records.groupby("block")["row"].min()
    yield Line(f"{source.name}: {counted(len(imported.blocks), 'table')} found", style="strong")
    for block in imported.blocks.to_dict("records"):
        number = block["block"]
        mine = imported.columns[(imported.columns["block"] == number).to_numpy()]
        sheet = f"Sheet {block['sheet']}" if isinstance(block["sheet"], str) else "Table"
        yield Line()
        rows = f"rows {block['first_row']} to {block['last_row']}"
        yield Line(f"{sheet}, {rows}, {block['kind']}: {counted(len(mine), 'column')}", style="strong")
        start = int(first_rows.get(number, block["first_row"]))
        for column in mine.to_dict("records"):
            shown = samples.of(block["sheet"], column["col"], start, block["last_row"])
            yield from _column(column, shown)


def _column(column: dict[str, Any], shown: str) -> Iterator[Any]:
    from analyzer.report.console import Line
    from analyzer.report.labels import column_letter

    heading = column["heading"] if isinstance(column["heading"], str) else "(no heading)"
    yield Line(f'{column_letter(column["col"])}  "{heading}": {_taken_for(column)}', indent=2, hanging=3)
    why = f" {column['why']}" if isinstance(column["why"], str) and column["why"] else ""
    sure = _sure(column)
    told = ". ".join(text for text in (f"{sure}{':' if why and sure else ''}{why}".strip(), shown) if text)
    if told:
        yield Line(told[0].upper() + told[1:], style="", indent=5, hanging=2)


def _taken_for(column: dict[str, Any]) -> str:
    role = column["role"]
    if not isinstance(role, str) or role == "ignored":
        return "IGNORED"
    wavelength = column["wavelength_nm"]
    parts = [
        role,
        *(column[name] for name in ("parameter", "pair") if isinstance(column[name], str)),
        f"at {wavelength} nm" if wavelength > 0 else "",
        *(f"{name} {column[name]}" for name in ("direction", "end") if isinstance(column[name], str)),
        f"in {column['unit']}" if isinstance(column["unit"], str) and column["unit"] else "",
    ]
    return " ".join(part for part in parts if part)


def _sure(column: dict[str, Any]) -> str:
    sure = column["sure"]
    if column["role"] == "ignored" or math.isnan(sure):
        return ""
    return "sure" if sure >= CERTAIN else f"A GUESS, {sure:.0%} sure, look at it"


class _Samples:
    """The first different texts of a column, as they stand in the file."""

    def __init__(self, source: Source) -> None:
        from analyzer.importing.grid import read_sheets

        self._sheets = read_sheets(source)

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
