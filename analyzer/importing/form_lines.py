"""The lines of a sheet that is nothing but a form: labels, the value right of each, several such pairs abreast."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from analyzer.importing import facts
from analyzer.importing.cells import looks_like_number
from analyzer.importing.forms import Pair, pairs_in, scheme_named
from analyzer.importing.grid import TEXT, Sheet
from analyzer.importing.headings import GUESSED_LOSS, Heading, could_be_heading, understand
from analyzer.importing.words import plain, units, word

_LOOKED_AT = 60
"""So many rows show where labels stand."""
_MOSTLY = 0.5
_INSIDE = re.compile(r"^([^:=]{2,60}?)\s*[:=]\s*(\S.*)$", re.DOTALL)


@dataclass
class FormLine:
    """One line of pairs; a value that is missing has an empty text."""

    row: int
    pairs: list[Pair]


def lines_of(sheet: Sheet) -> list[FormLine] | None:
    """Every line of a sheet that holds labels and values alone; None where anything else but titles stands in it."""
    labels = _label_columns(sheet)
    if not labels:
        return None
    first = min(labels)
    wholes = any(_is_whole(text) for text in sheet.columns[first].texts)
    lines = []
    for row in range(sheet.shape[0]):
        texts = sheet.row_texts(row)
        filled = [col for col, text in enumerate(texts) if text]
        if not filled:
            continue
        pairs = _pairs_on(sheet, row, texts, filled, labels, wholes=wholes)
        if pairs is None and len(filled) > 1:
            return None
        if pairs:
            lines.append(FormLine(row, pairs))
    noted = sum(any(not pair.heading.text for pair in line.pairs) for line in lines)
    return lines if 3 * noted <= len(lines) else None


@lru_cache(maxsize=65536)
def is_label(text: str) -> bool:
    """Whether a text stands left of a value: it ends in a colon, or is a known heading that no cell would hold."""
    bare = text.rstrip(":= ")
    if not bare or looks_like_number(bare):
        return False
    if text.rstrip().endswith(":"):
        return True
    if not could_be_heading(bare):
        return False
    heading = understand((bare,))
    measured = heading.role == "value" and heading.parameter and GUESSED_LOSS not in heading.why
    return heading.known and heading.sure >= 0.9 and (bool(measured) or not _is_value(bare))


def _is_value(text: str) -> bool:
    """Words of cells that head columns elsewhere: a unit, a verdict, a wavelength, a direction, a kind of cable."""
    if _is_unit(text) or facts.verdict(text) or facts.direction(text) or facts.end(text):
        return True
    if facts.wavelength_nm(text) > 0 or facts.pair(text) or facts.reference(text):
        return True
    if facts.fiber_type(text).type or facts.copper_grade(text):
        return True
    return any(
        word(kind, text) for kind in ("medium", "construction", "configuration", "polarity", "standard", "segment")
    )


def _is_whole(text: str) -> bool:
    """`Length: 120 m` in one cell."""
    return bool(_INSIDE.match(text)) and is_label(_INSIDE.split(text)[1])


def _label_columns(sheet: Sheet) -> frozenset[int]:
    """Columns of which half the cells or more are labels; the first column filled must be one."""
    height, width = sheet.shape
    seen, said = [0] * width, [0] * width
    rows = 0
    for row in range(height):
        texts = sheet.row_texts(row)
        filled = [col for col, text in enumerate(texts) if text]
        if len(filled) < 2 and not (filled and _is_whole(texts[filled[0]])):
            continue  # a title tells nothing of the columns
        rows += 1
        for col in filled:
            seen[col] += 1
            said[col] += is_label(texts[col]) or _is_whole(texts[col])
        if rows >= _LOOKED_AT:
            break
    used = [col for col in range(width) if seen[col]]
    labels = frozenset(col for col in used if said[col] >= _MOSTLY * seen[col])
    return labels if used and used[0] in labels else frozenset()


def _pairs_on(
    sheet: Sheet, row: int, texts: list[str], filled: list[int], labels: frozenset[int], *, wholes: bool
) -> list[Pair] | None:
    """The pairs of one line; None where it holds cells that are neither label nor value."""
    pairs: list[Pair] = []
    at = -1
    values: list[int] = []
    colons = texts[filled[0]].rstrip().endswith(":")
    for col in [*filled, -1]:
        free = col >= 0 and (at < 0 or bool(values) or (wholes and col in labels and _is_whole(texts[col])))
        whole = free and (_is_whole(texts[col]) or (wholes and col in labels and bool(_INSIDE.match(texts[col]))))
        if col >= 0 and not whole and not _begins(texts[col], col, at, values, labels, colons=colons):
            if at < 0:
                return None
            values.append(col)
            continue
        if at >= 0:
            bare = _beside(texts, values)
            if any(is_label(texts[other]) or looks_like_number(texts[other]) for other in bare):
                return None
            pairs.append(_pair(sheet, row, texts, at, values))
            pairs += [Pair(Heading(""), texts[other], sheet.kind_at(row, other), row, other, other) for other in bare]
        at, values = col, []
        if whole:
            pairs += pairs_in(sheet, [row], only=col) or [_inside(texts[col], row, col)]
            at = -1
    return pairs


def _inside(text: str, row: int, col: int) -> Pair:
    """The pair that one cell holds."""
    _, name, value, _ = _INSIDE.split(text)
    return Pair(_meaning(name), value.strip(), TEXT, row, col, col)


def _meaning(label: str) -> Heading:
    """What a label means; one that is hardly known means nothing."""
    heading = understand((label,)) if could_be_heading(label) else Heading(label)
    return heading if heading.sure >= 0.6 else replace(heading, role="ignored", parameter="")


def _begins(text: str, col: int, at: int, values: list[int], labels: frozenset[int], *, colons: bool) -> bool:
    """Whether a cell is a label: it says so by its colon, or stands where labels stand.

    Among labels with colons it must also be a known heading, and the label before it have its value.
    """
    if text.rstrip().endswith(":") and is_label(text):
        return True
    if col not in labels:
        return False
    return not colons or (is_label(text) and (at < 0 or bool(values)))


def _beside(texts: list[str], values: list[int]) -> list[int]:
    """Cells right of a value and its unit: notes, which no label names."""
    return values[2:] if len(values) > 1 and _is_unit(texts[values[1]]) else values[1:]


def _is_unit(text: str) -> bool:
    return plain(text).strip("[]() ") in units()


def _pair(sheet: Sheet, row: int, texts: list[str], at: int, values: list[int]) -> Pair:
    label = texts[at].rstrip(":= ")
    if len(values) > 1 and _is_unit(texts[values[1]]):
        label = f"{label} ({plain(texts[values[1]]).strip('[]() ')})"
    heading = _meaning(label)
    if not values:
        return Pair(heading, "", TEXT, row, at, at)
    return scheme_named(Pair(heading, texts[values[0]], sheet.kind_at(row, values[0]), row, values[0], at))
