"""`cableproof columns`: how the headings of one file were understood, and a map of them to edit."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from analyzer.errors import FileMissing, FileUnreadable, OptionError
from analyzer.report.console import Console, Line
from analyzer.report.taken_for import taken_for
from analyzer.report.wording import counted

if TYPE_CHECKING:
    from analyzer.importing import ReadContext, Source
    from analyzer.importing.blocks import Block
    from analyzer.importing.columns import Use
    from analyzer.importing.explain import Explained

SAMPLE_LENGTH = 24
MOST_CAUSES = 12
CERTAIN = 0.995


def columns(
    file: Path,
    *,
    write: Annotated[Path | None, Parameter(show_default=False)] = None,
    columns: Annotated[Path | None, Parameter(show_default=False)] = None,
    schedule: Annotated[bool, Parameter(negative="", show_default=False)] = False,
) -> int:
    """Show each sheet and column of a file: what it was taken for, why, how sure, and sample values.

    Parameters
    ----------
    file
        One export, or the schedule.
    write
        Write a column map under this name, to be edited; a name that ends in .columns.toml is found again by itself.
    columns
        Read the file by this column map.
    schedule
        The file is a cable schedule.
    """
    from analyzer.importing import HeadingsOnly, NoTable, ReadContext, Source
    from analyzer.importing.explain import explain_file, unknown_tables
    from analyzer.importing.gather import maps_near
    from analyzer.importing.map_text import load_maps

    source = Source(file.name, _bytes_of(file))
    if write is not None and write.exists():
        raise OptionError(
            f"--write: {write} exists, and may hold what somebody decided; give another name or delete it"
        )
    context = ReadContext(maps=load_maps(columns, maps_near([file])))
    is_schedule, sheet = (True, None) if schedule else _schedule_of_job(file)
    try:
        explained = explain_file(source, context, schedule=is_schedule, sheet=sheet)
    except (NoTable, HeadingsOnly):
        tables = unknown_tables(source) if write is not None else []
        if not tables or write is None:
            raise
        _write_map(write, source, tables)
        text = f"No table of results was understood in {source.name}: {write} lists its headings. Give each a role, then try it with --columns {write}"  # fmt: skip
        Console(sys.stdout).write([Line(text)])
        return 0
    if columns is not None:
        _check_used(columns, context, explained)
    if write is not None:
        _write_map(write, source, explained.tables)
    Console(sys.stdout).write(_lines(source, explained, file, write))
    return 0


def _bytes_of(file: Path) -> bytes:
    if str(file) == "-":
        return sys.stdin.buffer.read()
    if file.is_dir():
        raise FileUnreadable(str(file), "is a folder", "name one file in it")
    try:
        return file.read_bytes()
    except FileNotFoundError as error:
        raise FileMissing(f"{file}: no such file; check the path") from error
    except OSError as error:
        why = f"cannot be opened ({error.strerror or error})"
        raise FileUnreadable(str(file), why, "close it in other programs, or copy it and name the copy") from error


def _schedule_of_job(file: Path) -> tuple[bool, str | None]:
    """Whether the file is the schedule of the job beside it, and on which sheet."""
    from analyzer.job import load_job

    job_file = file.parent / "job.toml"
    if job_file.is_file():
        said = load_job(job_file).schedule
        if said.file:
            return (job_file.parent / said.file).resolve() == file.resolve(), said.sheet
    return file.stem.casefold() == "schedule", None


def _check_used(path: Path, context: ReadContext, explained: Explained) -> None:
    import numpy as np
    import pandas as pd

    from analyzer.importing.map_text import check_used

    read = np.asarray([block.fingerprint for block, _ in explained.tables], dtype=np.uint64)
    check_used(path, context.maps, [pd.DataFrame({"fingerprint": read})])


def _write_map(path: Path, source: Source, tables: list[tuple[Block, list[Use]]]) -> None:
    from analyzer.importing.explain import samples
    from analyzer.importing.map_text import map_text

    shown = {
        (number, use.col): ", ".join(_short(text) for text in samples(block, use))
        for number, (block, uses) in enumerate(tables)
        for use in uses
    }
    try:
        path.write_text(map_text(tables, source.name, path.name, shown), encoding="utf-8", newline="\n")
    except OSError as error:
        raise OptionError(f"--write: {path} cannot be written ({error.strerror or error})") from error


def _written(path: Path) -> Iterator[Line]:
    yield Line(f"{path} written. Edit what is wrong, then try it: cableproof columns FILE --columns {path}")
    if path.name.endswith(".columns.toml"):
        yield Line("Lying in the job folder, or beside the exports, it is used for every table with the same headings.")
    else:
        yield Line("It is used only with --columns: a name that ends in .columns.toml would be found by itself.")


def _lines(source: Source, explained: Explained, file: Path, written: Path | None) -> Iterator[Line]:
    kind = "table found" if explained.schedule is None else "schedule found"
    yield Line(f"{source.name}: {counted(len(explained.tables), kind, kind.replace(' ', 's '))}", style="strong")
    for block, uses in explained.tables:
        yield Line()
        yield Line(_title(block, uses), style="strong")
        for use in uses:
            yield from _column(block, use, named_by=_named_by(uses))
    for name in explained.sheets_left_out:
        yield Line()
        what = "no table of results in it" if explained.schedule is None else "not the schedule"
        yield Line(f"Sheet {name}: IGNORED, {what}", style="strong")
    yield from _told(explained)
    yield from _set_aside(explained)
    yield Line()
    if written is not None:
        yield from _written(written)
    elif not any("said by" in use.why for _, uses in explained.tables for use in uses):
        yield Line(f"Something wrong? cableproof columns {file.name} --write NAME.columns.toml writes a map to edit.", style="quiet")  # fmt: skip
    yield from _accounts(explained)


def _title(block: Block, uses: list[Use]) -> str:
    from analyzer.importing.assemble import extent

    first, last = extent(block)
    sheet = f"Sheet {block.sheet.name}" if block.sheet.name is not None else "Table"
    lying = {"transposed": ", links in columns", "form": ", a form"}.get(block.kind, "")
    inside = sum(use.col < block.sheet.origin_width for use in uses)
    return f"{sheet}, rows {first} to {last}{lying}: {counted(inside, 'column' if not lying else 'line')}"


def _named_by(uses: list[Use]) -> Use | None:
    """The column of strands or cables that alone names the link."""
    naming = [use for use in uses if use.role in {"label", "cable", "strand"}]
    return naming[0] if len(naming) == 1 and naming[0].role != "label" else None


def _column(block: Block, use: Use, named_by: Use | None) -> Iterator[Line]:
    from analyzer.importing.column_map import place_of
    from analyzer.importing.explain import filled_cells, samples

    place = place_of(block, use.col) if use.col < block.sheet.origin_width else "above"
    heading = use.heading or "(no heading)"
    yield Line(
        f'{place}  "{heading}": {taken_for(use) or "IGNORED"}{", and the name of the link" if use is named_by else ""}{_sure(use)}',
        indent=2,
        hanging=3,
    )
    shown = ", ".join(f'"{_short(text)}"' for text in samples(block, use))
    count = f" ({counted(filled_cells(block, use), 'cell')} not used)" if use.role == "ignored" and shown else ""
    yield Line(f"For example {shown}{count}" if shown else "No values", indent=5, hanging=2)


def _sure(use: Use) -> str:
    """How sure, and why; a guess stands out."""
    if use.role == "ignored":
        return f": {use.why}" if use.why else ""
    why = "" if use.why == "every word is known" else use.why
    because = f": {why}" if why else ""
    return f" - sure{because}" if use.sure >= CERTAIN else f" - A GUESS, {use.sure:.0%} sure, look at it{because}"


def _told(explained: Explained) -> Iterator[Line]:
    if explained.told:
        yield Line()
        yield Line("Noticed while reading", style="strong")
        yield from (Line(f"{text[:1].upper()}{text[1:]}", indent=2, hanging=2) for text in explained.told)


def _set_aside(explained: Explained) -> Iterator[Line]:
    aside = explained.set_aside
    if aside is not None and len(aside):
        yield Line()
        yield Line("Set aside", style="strong")
        causes = aside.groupby(["code", "reason"], sort=False, observed=True)
        for (code, reason), rows in list(causes)[:MOST_CAUSES]:
            first = rows.iloc[0]
            text = f"{counted(len(rows), 'row' if code == 'no-label' else 'cell')}, first in row {first['row']} ({_short(str(first['text']))}): {reason}"  # fmt: skip
            yield Line(text, indent=2, hanging=2)
        if causes.ngroups > MOST_CAUSES:
            yield Line(f"and {counted(causes.ngroups - MOST_CAUSES, 'more cause')}", indent=2)


def _accounts(explained: Explained) -> Iterator[Line]:
    if explained.imported is not None:
        for what in ("rows", "cells"):
            read, used, lost = (explained.imported.file[f"{what}_{which}"] for which in ("read", "used", "set_aside"))
            yield Line(f"{what.capitalize()}: {read:,} read = {used:,} used + {lost:,} set aside")
    elif explained.schedule is not None:
        cables = explained.schedule["cable_key"].nunique()
        yield Line(f"{counted(len(explained.schedule), 'link')} scheduled in {counted(cables, 'cable')}")


def _short(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= SAMPLE_LENGTH else text[: SAMPLE_LENGTH - 1] + "…"
