"""Column maps: what a person said about the columns of one shape of table, and how it stands above what was understood.

A map is bound to a shape by the fingerprint of the headings, so the next export of the same shape needs nothing.
`map_text` reads and writes the file; here is what it says, and what that changes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from analyzer.importing.source import Decisions
from analyzer.importing.words import folded

if TYPE_CHECKING:
    from analyzer.importing.blocks import Block
    from analyzer.importing.columns import Use

ONE_OF_A_KIND = frozenset(
    {
        "label", "cable", "strand", "strands", "length", "wavelength", "parameter", "direction", "end", "pair", "unit",
        "type", "grade", "tested at", "date", "time", "frequency", "reference power",
    }
)  # fmt: skip
"""Roles that one column of a table has: a map that gives one takes it from the column that was guessed."""


@dataclass(frozen=True)
class ColumnRule:
    """What the map says about one column; empty texts and -1 where it says nothing."""

    heading: str
    place: str
    """Letter of the column, or `row 5` in a form or a table on its side; tells equal headings apart."""
    role: str
    parameter: str = ""
    wavelength_nm: int = -1
    pair: str = ""
    end: str = ""
    direction: str = ""
    unit: str = ""


@dataclass(frozen=True)
class TableMap:
    """What a map says about the tables of one shape."""

    source: str
    """Name of the map, as told to the user."""
    fingerprint: int
    headings: tuple[str, ...]
    rules: tuple[ColumnRule, ...]
    sheet: str = ""
    decimal_mark: str = ""
    date_order: str = ""


def heading_key(heading: str) -> str:
    """The form in which headings of a map and of a table are compared."""
    return folded(heading) or heading


def heading_of(parts: Sequence[str]) -> str:
    """One heading as a map writes it: outermost group first."""
    return " / ".join(part for part in parts if part)


def heading_rows(maps: Iterable[TableMap]) -> frozenset[tuple[str, ...]]:
    """The heading rows that maps know, blanks left out: they head a table even where no word of them is known."""
    return frozenset(tuple(heading_key(text) for text in one.headings if text) for one in maps)


def map_for(block: Block, maps: Sequence[TableMap]) -> TableMap | None:
    """The map for a table: the first of its shape, one for a sheet of this name before others."""
    fitting = [one for one in maps if one.fingerprint == block.fingerprint]
    if not fitting:
        return None
    first = [one for one in fitting if one.source == fitting[0].source]
    return next((one for one in first if one.sheet and one.sheet == block.sheet.name), first[0])


def overrule(block: Block, uses: list[Use], maps: Sequence[TableMap]) -> list[Use]:
    """The uses of the columns with what a map says in place of what was understood."""
    found = map_for(block, maps)
    if found is None:
        return uses
    said: dict[int, Use] = {}
    for rule in found.rules:
        use = _column_of(block, uses, rule, said)
        if use is not None:
            power = rule.role == "value" and rule.unit == "dBm" and not rule.parameter
            said[use.col] = replace(
                use, role=rule.role, parameter="power" if power else rule.parameter, wavelength_nm=rule.wavelength_nm, pair=rule.pair,
                end=rule.end, direction=rule.direction, unit=rule.unit, sure=1.0, why=f"said by {found.source}",
            )  # fmt: skip
    taken = {use.role for use in said.values()} & ONE_OF_A_KIND
    return [
        said.get(use.col)
        or (use.because(f"{found.source} names another column", role="ignored") if use.role in taken else use)
        for use in uses
    ]


def _column_of(block: Block, uses: list[Use], rule: ColumnRule, said: dict[int, Use]) -> Use | None:
    alike = [use for use in uses if heading_key(use.heading) == heading_key(rule.heading) and use.col not in said]
    if len(alike) > 1 and rule.place:
        return next((use for use in alike if place_of(block, use.col) == rule.place), alike[0])
    return alike[0] if alike else None


def shown_col(block: Block, col: int) -> int:
    """Column of the table `columns`; the row, counted from 0, in a form or a table on its side; -1 for a fact above."""
    if col >= block.sheet.origin_width:
        return -1
    if block.sheet.origin is None:
        return col
    return int(block.sheet.origin[0][block.heading_rows[-1], col]) - 1


def place_of(block: Block, col: int) -> str:
    """Where a column stands, as a person finds it: `D`, or `row 5`."""
    at = shown_col(block, col)
    return f"row {at + 1}" if block.sheet.origin is not None else letters(at)


def letters(col: int) -> str:
    """0 is `A`, 25 is `Z`, 26 is `AA`."""
    text = ""
    while col >= 0:
        text = chr(65 + col % 26) + text
        col = col // 26 - 1
    return text


def overrule_decisions(decisions: Decisions, blocks: Iterable[Block], maps: Sequence[TableMap]) -> Decisions:
    """Decimal mark and order of dates that maps state stand above what the cells tell."""
    answers = {(fingerprint, question): answer for fingerprint, question, answer in decisions.answers}
    for block in blocks:
        found = map_for(block, maps)
        if found is None:
            continue
        if found.date_order:
            answers = {
                key: said
                for key, said in answers.items()
                if not (key[0] == block.fingerprint and key[1].startswith("date order"))
            }
        for question, answer in (("decimal mark", found.decimal_mark), ("date order", found.date_order)):
            if answer:
                answers[block.fingerprint, question] = answer
    return Decisions(tuple(sorted((*key, answer) for key, answer in answers.items())))
