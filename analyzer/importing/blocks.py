"""Tables in the cells of a sheet: where headings stand, how many rows they take, which rows are data.

A heading row holds words of the vocabulary and no numbers. Rows above it that only group columns, and rows under it
that only name directions or units, belong to it. The same headings again (after a page break) continue the table;
other headings begin a new one.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from analyzer.importing.grid import Sheet
from analyzer.importing.heading_rows import Look, is_form_line, known_rows, look_at, scored_rows, weight
from analyzer.importing.headings import Heading, understand
from analyzer.importing.row_of_table import is_row_of
from analyzer.importing.words import folded, plain, units


@dataclass
class Block:
    """One table: its heading rows and data rows as positions in the sheet's cells, headings per column."""

    sheet: Sheet
    heading_rows: list[int]
    data_rows: np.ndarray
    columns: list[int]
    headings: list[tuple[str, ...]]
    above: list[int] = field(default_factory=list)
    """Rows between the table before and this one's headings: titles and facts."""
    kind: str = "upright"

    @property
    def fingerprint(self) -> int:
        """Hash of the headings in their order; tables of one shape share it."""
        text = "\x1f".join(folded(" ".join(parts)) or " ".join(parts) for parts in self.headings)
        return int.from_bytes(hashlib.blake2b(text.encode("utf-8"), digest_size=8).digest(), "little")


def find_blocks(
    sheet: Sheet, *, least_headings: float = 1.5, known: frozenset[tuple[str, ...]] = frozenset()
) -> list[Block]:
    """Every table of a sheet, from top to bottom; rows whose filled cells are `known` (folded) head one in any case."""
    look = look_at(sheet)
    scored = scored_rows(sheet, look, least_headings)
    named = set(known_rows(sheet, look, known)) if known else set()
    scored = sorted({*scored, *named})
    bands: list[list[int]] = []
    for row in scored:
        if bands and row <= bands[-1][-1]:
            continue
        if bands and row not in named and is_row_of(sheet, bands[-1], row):
            continue
        if bands and _only_groups(sheet, look, bands[-1], row):
            bands.pop()
        bands.append(_band(sheet, look, row, bands[-1][-1] if bands else -1))
    bands = [band for band in bands if band]
    return _to_blocks(sheet, look, bands)


def _band(sheet: Sheet, look: Look, row: int, last_used: int) -> list[int]:
    """The heading rows around a row that scored: group rows above, sub-headings and units below."""
    band = [row]
    while len(band) < 4 and band[0] - 1 > last_used and _is_group_row(sheet, look, band[0] - 1, band[0]):
        band.insert(0, band[0] - 1)
    height = sheet.shape[0]
    while len(band) < 5 and band[-1] + 1 < height and _is_sub_row(sheet, look, band[-1] + 1, band[-1]):
        band.append(band[-1] + 1)
    return band


def _only_groups(sheet: Sheet, look: Look, band: list[int], row: int) -> bool:
    """Whether headings without a row of data under them group those of the next row: each stands over one of them."""
    if band[-1] != row - 1 or not _is_group_row(sheet, look, row - 1, row):
        return False
    upper, lower = sheet.row_texts(row - 1), sheet.row_texts(row)
    over = [col for col, text in enumerate(upper) if text]
    again = any(lower[col] == upper[col] for col in over)
    headed = sum(1 for col in over if lower[col])
    return not again and 2 * headed > len(over) and len(over) < sum(map(bool, lower))


def _is_group_row(sheet: Sheet, look: Look, row: int, below: int) -> bool:
    texts = sheet.row_texts(row)
    filled = [col for col, text in enumerate(texts) if text]
    if not filled or look.numbers[row] or any(":" in texts[col].rstrip(":") for col in filled):
        return False
    if any(not _groups(texts[col]) for col in filled) or is_form_line(sheet, look, row):
        return False
    spans = any(r0 <= row <= r1 and c1 > c0 for r0, c0, r1, c1 in sheet.merged if c0 in filled)
    under = [col for col, text in enumerate(sheet.row_texts(below)) if text]
    if len(filled) == 1:
        return (
            bool(under) and (filled[0] > under[0] or spans) and filled[0] <= under[-1] and weight(texts[filled[0]]) > 0
        )
    return True


def _groups(text: str) -> bool:
    heading = understand((text,))
    return (heading.sure >= 0.6 and (heading.known or bool(_attributes(heading)))) or len(text) <= 2


def _attributes(heading: Heading) -> str:
    return heading.direction or heading.end or heading.pair or heading.unit or heading.statistic


def _is_sub_row(sheet: Sheet, look: Look, row: int, above: int) -> bool:
    texts = sheet.row_texts(row)
    filled = [text for text in texts if text]
    if not filled or look.numbers[row]:
        return False
    if all(_is_unit(text) for text in filled):
        return any(text.strip("-–—[]() ") for text in filled)
    upper = sheet.row_texts(above)
    if any(texts[col] and texts[col] == upper[col] for col in range(len(texts))):
        return False
    return len(filled) >= 2 and all(_narrows(text) or _is_unit(text) for text in filled)


def _is_unit(text: str) -> bool:
    bare = plain(text).strip("[]() ")
    return bare in units() or bare in {
        "",
        "-",
        "–",
        "—",
        "date",
        "text",
        "yyyy-mm-dd",
        "dd.mm.yyyy",
        "dd/mm/yyyy",
        "mm/dd/yyyy",
    }


def _narrows(text: str) -> bool:
    """A sub-heading: a word that says which of several like columns this is."""
    heading = understand((text,))
    if heading.sure < 0.75 or text in {"OM1", "OM2"}:
        return False
    return heading.role in {"limit", "margin", "limit name", "value", "length", "frequency", "strand", "cable"} or bool(
        heading.direction or heading.statistic or heading.end
    )


def _to_blocks(sheet: Sheet, look: Look, bands: list[list[int]]) -> list[Block]:
    height = sheet.shape[0]
    blocks: list[Block] = []
    texts_of: list[list[list[str]]] = []
    sides_of: list[int] = []
    after = 0
    for number, band in enumerate(bands):
        end = bands[number + 1][0] if number + 1 < len(bands) else height
        stop = end if number + 1 == len(bands) else _end_of_table(sheet, look, band[-1] + 1, end)
        rows = np.arange(band[-1] + 1, stop)
        texts = [sheet.row_texts(row) for row in band]
        if blocks and texts == texts_of[-1] and not _names_something(sheet, range(after, band[0])):
            for block in blocks[-sides_of[-1] :]:
                block.data_rows = np.concatenate([block.data_rows, rows])
            after = stop
            continue
        columns = [
            col for col in range(len(sheet.columns))
            if any(line[col] for line in texts) or _any_filled(sheet, col, rows)
        ]  # fmt: skip
        headings = _headings(sheet, band, texts, columns)
        sides = _side_by_side(sheet, columns, headings, rows)
        above = list(range(after, band[0]))
        blocks += [
            Block(sheet, band, rows, [columns[i] for i in side], [headings[i] for i in side], above, sheet.kind)
            for side in sides
        ]
        texts_of.append(texts)
        sides_of.append(len(sides))
        after = stop
    return blocks


def _side_by_side(
    sheet: Sheet, columns: list[int], headings: list[tuple[str, ...]], rows: np.ndarray
) -> list[list[int]]:
    """Tables that stand side by side: the first heading comes again, after a blank column or in a regular rhythm."""
    whole = [list(range(len(columns)))]
    named = [i for i, parts in enumerate(headings) if parts]
    if not named:
        return whole
    again = [i for i in named if headings[i] == headings[named[0]]]
    if len(again) < 2 or understand(headings[named[0]]).role not in {"label", "cable", "strand"}:
        return whole
    sides = list(pairwise([*again, len(headings)]))
    rhythm = [[headings[i] for i in named if start <= i < stop] for start, stop in sides]
    gap = all(columns[i] - 1 not in columns or not _any_filled(sheet, columns[i] - 1, rows) for i in again[1:])
    if not gap and any(part != rhythm[0] for part in rhythm):
        return whole
    return [list(range(0 if start == again[0] else start, stop)) for start, stop in sides]


def _end_of_table(sheet: Sheet, look: Look, start: int, end: int) -> int:
    """Where a table ends and the titles of the next begin: at the first blank row that only sparse rows follow."""
    from analyzer.importing.forms import FACT_ROLES, pairs_in

    widest = int(look.filled[start:end].max(initial=0))
    row = end
    while row > start:
        sparse = look.filled[row - 1] < max(2, 0.6 * widest)
        if not sparse:
            pairs = [pair for pair in pairs_in(sheet, [row - 1]) if pair.heading.role in FACT_ROLES]
            sparse = bool(pairs) and look.filled[row - 1] <= 2 * len(pairs)
        if not sparse:
            break
        row -= 1
    blank = np.flatnonzero(look.filled[row:end] == 0)
    return row + int(blank[0]) if len(blank) else end


def _names_something(sheet: Sheet, rows: range) -> bool:
    """Whether label/value lines between two tables name another link, so that equal headings begin a new table."""
    from analyzer.importing.forms import FACT_ROLES, pairs_in

    return any(pair.heading.role in FACT_ROLES for pair in pairs_in(sheet, rows))


def _any_filled(sheet: Sheet, col: int, rows: np.ndarray) -> bool:
    return bool(len(rows)) and bool((sheet.columns[col].codes[rows] != 0).any())


def _headings(sheet: Sheet, band: list[int], texts: list[list[str]], columns: list[int]) -> list[tuple[str, ...]]:
    levels = [list(texts[-1])]
    for level in range(len(band) - 2, -1, -1):
        under = [line for line in texts[level + 1 :] if not all(_is_unit(text) for text in line)]
        over = texts[:level]
        lower = [
            any(line[col] for line in under) and not any(line[col] for line in over)
            for col in range(len(sheet.columns))
        ]
        inner = levels[0] if len(levels) > 1 else []
        levels.insert(0, _fill_right(sheet, band[level], texts[level], lower, inner))
    out = []
    for col in columns:
        parts: list[str] = []
        for line in levels:
            if line[col] and line[col] not in parts:
                parts.append(line[col])
        out.append(tuple(parts))
    return out


def _fill_right(sheet: Sheet, row: int, texts: list[str], lower: list[bool], inner: list[str]) -> list[str]:
    """Group headings spread over the columns they head: by merged range, else over blanks that have a sub-heading.

    A group of groups ends where the `inner` ones end, and a group written over each of its columns is not spread.
    """
    filled = list(texts)
    merged = {c0: c1 for r0, c0, r1, c1 in sheet.merged if r0 <= row <= r1 and c1 > c0}
    heads = [col for col, text in enumerate(texts) if text]
    spans: dict[int, int] = {}
    for col in heads:
        stop = col + 1
        grouped = bool(inner) and bool(inner[col])
        while stop < len(texts) and not texts[stop] and lower[stop] and (inner[stop] if grouped else True):
            stop += 1
        spans[col] = merged.get(col, stop - 1) - col + 1 if col in merged or not sheet.merged else stop - col
    ordered = [spans[col] for col in heads]
    if len(ordered) >= 2 and heads[-1] not in merged:
        usual = max(ordered[:-1])
        repeated = any(text and text == after for text, after in pairwise(texts))
        if usual > 1 or repeated:
            spans[heads[-1]] = min(spans[heads[-1]], usual)
    for col in heads:
        for other in range(col + 1, min(col + spans[col], len(texts))):
            if not filled[other]:
                filled[other] = texts[col]
    return filled


spread_headings = _headings
"""Headings of some columns from heading rows that are known: group headings spread over the columns they head."""
