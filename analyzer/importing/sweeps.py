"""What the columns of a sweep table are about: frequencies in the rows, pairs in the columns.

What a column does not say itself (parameter, end, pair) is taken from the title lines above the table, then from the
name of the sheet, then from the name of the file. `sweep_tables` finds the tables, `sweep_points` reads their cells.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from analyzer.importing import facts
from analyzer.importing.blocks import Block
from analyzer.importing.cells import looks_like_number
from analyzer.importing.columns import Use
from analyzer.importing.forms import FACT_ROLES, Pair, add_facts_above, name_as_label, pairs_in
from analyzer.importing.headings import Heading, could_be_heading, understand
from analyzer.importing.sweep_constants import OF_THE_LINK
from analyzer.importing.sweep_lines import add_readings_above, is_reading

LEAST_POINTS = 4
"""Fewer rows are no sweep."""
LEAST_POINTS_NAMED = 8
"""The same where columns name links or pairs row by row, as tables of worst points do too."""
KEY_ROLES = frozenset({"label", "cable", "strand", "end A label", "pair", "parameter", "end"})
FREQUENCY_UNITS = frozenset({"Hz", "kHz", "MHz", "GHz"})
_LABELS = frozenset({"label", "cable", "strand", "end A label"})
_BETWEEN_PAIRS = re.compile(r"(?i)(?<=[1-8])\s*(?:vs\.?|versus|to|and|&|on|→|->)\s*(?=[1-8])")
_ON_COPPER = {"loss": "insertion loss", "optical return loss": "return loss"}


@dataclass(frozen=True)
class Said:
    """What a title or name says about the curves under it; empty where it does not."""

    parameter: str = ""
    end: str = ""
    pair: str = ""
    rest: str = ""
    why: str = ""


@dataclass
class Surroundings:
    """What lies around the tables of one file: facts that earlier lines told, and the names of file and sheet."""

    file_name: str
    is_link_name: Callable[[str], bool]
    told: dict[str, Pair] = field(default_factory=dict)
    """Label/value lines that hold until another link is named; by role."""
    titles: tuple[tuple[str | None, tuple[int, ...]], list[Said]] = (("", ()), [])
    """Sheet and heading rows of the last sweep table, and what its titles said: points under the same headings go on."""

    def hear(self, pairs: Sequence[Pair]) -> None:
        """Take in label/value lines; a label makes the facts of the link before it worthless."""
        if any(pair.heading.role in _LABELS for pair in pairs):
            self.told = {}
        self.told.update({pair.heading.role: pair for pair in pairs if pair.heading.role in FACT_ROLES})

    @property
    def stem(self) -> str:
        """Name of the file without folders and ending."""
        return self.file_name.rsplit("!", 1)[-1].rsplit("/", 1)[-1].rsplit(".", 1)[0]


def sweep_part(block: Block, columns: list[Use], around: Surroundings, last_row: int) -> tuple[Block, list[Use]]:
    """A sweep table with what titles, names and label/value lines say of it.

    Args:
        block: the table; `above` holds every line since the sweep before it.
        columns: its columns, as `find_sweeps` took them.
        around: what the file says besides; hears the lines above this table.
        last_row: last row of the table before, of whatever kind: lines up to there belong to it.
    """
    block = replace(block, above=[row for row in block.above if row > last_row])
    return _with_facts(block, _from_titles(block, columns, around), around)


def last_filled(block: Block) -> int:
    """Position of the last data row of a table in which some cell is filled; -1 where none is."""
    filled = np.zeros(len(block.data_rows), dtype=bool)
    for col in block.columns:
        filled |= block.sheet.columns[col].codes[block.data_rows] != 0
    return int(block.data_rows[filled].max(initial=-1))


def sweep_columns(block: Block, uses: list[Use]) -> list[Use]:
    """Columns as a sweep uses them; none where the table is no sweep."""
    columns = _as_curves(block, uses)
    frequencies = [use for use in columns if use.role == "frequency"]
    if not frequencies or not any(use.role == "value" and use.parameter not in OF_THE_LINK for use in columns):
        return []
    keys = _keys(block, columns, frequencies[0])
    if keys is None:
        return []
    return [
        use if use.role not in KEY_ROLES or use in keys else use.because("row numbers", role="ignored")
        for use in columns
    ]


def _as_curves(block: Block, uses: list[Use]) -> list[Use]:
    """The same before it is known whether the rows are points; a table that speaks of wavelengths has none of it."""
    out: list[Use] = []
    for use, parts in zip(uses, block.headings, strict=True):
        heading = understand(parts)
        if use.wavelength_nm > 0 or use.role == "wavelength":
            return []
        parameter, pair = named_parameter(parts), named_pair(parts)
        if _is_frequency(block, use, heading):
            out.append(replace(use, role="frequency", parameter=""))
        elif use.role in {"limit", "margin", "verdict", "limit name"} or (use.role in KEY_ROLES and not pair):
            role = "limit" if use.role == "limit name" and _share_of_numbers(block, use.col) > 0.5 else use.role
            out.append(replace(use, role=role, parameter=parameter if role not in KEY_ROLES else use.parameter))
        elif _is_curve(heading, parameter, pair) and _share_of_numbers(block, use.col) > 0.2:
            why = "every word is known" if use.role != "value" or not use.parameter else use.why
            sure = heading.sure if parameter else min(heading.sure, 0.9)
            out.append(Use(use.col, use.heading, "value", parameter, -1, pair, _end_of(heading), "", heading.unit, sure, why))  # fmt: skip
        else:
            fact = use.role == "length" or (use.role in FACT_ROLES and not use.parameter)
            once = use.role == "value" and use.parameter in OF_THE_LINK
            out.append(use if fact or once else replace(use, role="ignored"))
    return out


def named_parameter(parts: tuple[str, ...]) -> str:
    """Parameter that the words of a heading name, a bare dB left out of account; empty where none is."""
    bare = tuple(re.sub(r"(?i)[\[(]?\s*(?<![a-z])db(?![a-z])\s*[\])]?", " ", part).strip() for part in parts)
    found = understand(tuple(part for part in bare if part)).parameter
    return "" if found == "power" else _ON_COPPER.get(found, found)


def named_pair(parts: tuple[str, ...]) -> str:
    """Pair or combination that a heading names, `1-2 vs 3-6` and bare colors too; empty where none is."""
    joined = tuple(_BETWEEN_PAIRS.sub("-", part) for part in parts)
    return understand(joined).pair or next(filter(None, (facts.pair(part) for part in reversed(parts))), "")


def _is_frequency(block: Block, use: Use, heading: Heading) -> bool:
    by_word = heading.role == "frequency"
    by_unit = heading.unit in FREQUENCY_UNITS and not heading.parameter and not heading.pair
    return (by_word or by_unit) and _share_of_numbers(block, use.col) > 0.5


def _is_curve(heading: Heading, parameter: str, pair: str) -> bool:
    if heading.statistic or heading.unit in FREQUENCY_UNITS | {"m", "ft", "km", "dBm"}:
        return False
    if parameter:
        return parameter not in {"length", "wire map", *OF_THE_LINK}
    return bool(pair) or (heading.role == "value" and heading.unit in {"dB", ""})


def _end_of(heading: Heading) -> str:
    """End of a curve. A direction says which end was driven: A-B is measured from end A."""
    return heading.end or {"A-B": "A", "B-A": "B"}.get(heading.direction, "")


def _share_of_numbers(block: Block, col: int) -> float:
    column = block.sheet.columns[col]
    codes = column.codes[block.data_rows[:500]]
    filled = codes[codes != 0]
    if not len(filled):
        return 0.0
    each = np.fromiter((looks_like_number(column.texts[code]) for code in np.unique(filled)), np.bool_)
    return float(each[np.searchsorted(np.unique(filled), filled)].mean())


def _keys(block: Block, columns: list[Use], frequency: Use) -> list[Use] | None:
    """Columns that tell the curves of a long sweep apart; None where the rows are too few to be a sweep."""
    column = block.sheet.columns[frequency.col]
    rows = block.data_rows[column.codes[block.data_rows] != 0]
    codes = column.codes[rows]
    if len(np.unique(codes)) < LEAST_POINTS:
        return None
    keys = [use for use in columns if use.role in KEY_ROLES and (block.sheet.columns[use.col].codes[rows] != 0).any()]
    if not keys:
        return []
    group = np.zeros(len(rows), dtype=np.int64)
    for use in keys:
        cells = block.sheet.columns[use.col]
        group = group * len(cells.texts) + cells.codes[rows]
    points = np.unique(np.stack([group, codes.astype(np.int64)]), axis=1)
    sizes = np.unique(points[0], return_counts=True)[1]
    if np.median(sizes) >= LEAST_POINTS_NAMED or _one_grid(points[1], sizes, [column.texts[code] for code in codes]):
        return keys
    numbered = len(keys) == 1 and keys[0].role == "strand" and len(sizes) == len(rows)
    return [] if numbered and _monotone([column.texts[code] for code in codes]) else None


def _one_grid(frequency: np.ndarray, sizes: np.ndarray, texts: list[str]) -> bool:
    """Whether few points for each curve stand at the same frequencies for all, which worst points never do.

    Args:
        frequency: codes of the frequencies of all curves.
        sizes: points of each curve.
        texts: frequencies of all rows; of a single curve they must rise or fall.
    """
    if np.median(sizes) < LEAST_POINTS:
        return False
    return len(np.unique(frequency)) == sizes.max() and (len(sizes) > 1 or _monotone(texts))


def _monotone(texts: list[str]) -> bool:
    try:
        steps = np.diff(np.asarray([text.replace(",", ".") for text in texts], dtype=np.float64))
    except ValueError:
        return False
    return bool((steps > 0).all() or (steps < 0).all())


def said_by_title(text: str) -> Said:
    """What one title line says about the curves under it; nothing where it is no title of a sweep."""
    if not could_be_heading(text) or looks_like_number(text):
        return Said()
    heading = understand((text,))
    parameter = named_parameter((text,))
    if heading.role in {"limit", "margin", "verdict"} or (heading.role != "value" and not heading.end):
        return Said()
    return Said(parameter, _end_of(heading), heading.pair, why=f"the line {text!r} above the table says it")


def _titles(block: Block) -> Iterable[Said]:
    """What the lines above say, the nearest first; label/value lines count only where they name parameter, end or pair."""
    for row in reversed(block.above):
        if row >= len(block.sheet.rows):
            continue
        facts_told = [pair for pair in pairs_in(block.sheet, [row]) if _tells_fact(pair)]
        for pair in facts_told:
            why = f"the line {pair.heading.text!r} above the table says it"
            if pair.heading.role in {"parameter", "record number"}:  # `Test: NEXT` says as much
                yield replace(said_by_title(pair.text), why=why)
            elif pair.heading.role == "end":
                yield Said(end=facts.end(pair.text), why=why)
            elif pair.heading.role == "pair":
                yield Said(pair=facts.pair(pair.text), why=why)
        if not facts_told:
            yield from (said_by_title(text) for text in block.sheet.row_texts(row) if text)


def _tells_fact(pair: Pair) -> bool:
    """Whether a label/value line is a fact, or a single value such as `NEXT: 40.1 dB`; `NEXT | end A` is neither."""
    role = pair.heading.role
    if pair.heading.parameter == "wire map":
        return True
    if role == "value":
        return looks_like_number(pair.text) or bool(facts.verdict(pair.text))
    return role in FACT_ROLES or role in {"parameter", "end", "pair"}


def said_by_name(name: str) -> Said:
    """Parameter and end in the name of a sheet or file, and what is left of the name: `C-01 NEXT` gives `C-01`."""
    words = list(re.finditer(r"[^_\s]+", name))
    for size in range(len(words), 0, -1):
        for first in {0, len(words) - size}:
            span = name[words[first].start() : words[first + size - 1].end()]
            text = span.replace("_", " ")
            heading = understand((text,)) if could_be_heading(text) else Heading(text)
            parameter = named_parameter((text,))
            if parameter and heading.role == "value" and heading.sure >= 0.9:
                rest = (name[: words[first].start()] + name[words[first + size - 1].end() :]).strip(" _-")
                return Said(parameter, _end_of(heading), heading.pair, rest, f"the name {name!r} says it")
    return Said(rest=name)


def _from_titles(block: Block, columns: list[Use], around: Surroundings) -> list[Use]:
    """Parameter, end and pair that a column leaves open, from the nearest line or name that says it."""
    names = [said_by_name(name) for name in (block.sheet.name or "", around.stem) if name]
    said = list(_titles(block))
    place = (block.sheet.name, tuple(block.heading_rows))
    said += around.titles[1] if around.titles[0] == place else []
    around.titles = (place, said)
    said = [*said, *names]
    has_key = {use.role for use in columns}
    out = []
    for use in columns:
        new = use
        if use.role in {"value", "limit"}:
            for name in ("parameter", "end", "pair"):
                if getattr(new, name) or name in has_key or (use.role == "limit" and name != "parameter"):
                    continue
                source = next((one for one in said if getattr(one, name)), None)
                if source is not None and (name != "pair" or not _several_pairs(columns)):
                    new = new.because(source.why, **{name: getattr(source, name)})
        out.append(new)
    return out


def _several_pairs(columns: list[Use]) -> bool:
    return len([use for use in columns if use.role == "value" and use.parameter not in OF_THE_LINK]) > 1


def _with_facts(block: Block, uses: list[Use], around: Surroundings) -> tuple[Block, list[Use]]:
    """Label and facts from the lines above, earlier lines of the file, the name of the sheet, the name of the file."""
    lines: list[Pair] = []
    if block.sheet.kind == "upright":
        lines = pairs_in(block.sheet, [row for row in block.above if row < len(block.sheet.rows)])
        around.hear(lines)
    measured = [pair for role, pair in around.told.items() if role not in {"verdict", "wavelength", "direction"}]
    block, uses = add_facts_above(block, uses, measured)
    block, uses = add_readings_above(block, uses, [line for line in lines if is_reading(line)])
    if any(use.role in _LABELS for use in uses):
        return block, uses
    for name in (block.sheet.name or "", around.stem):
        rest = said_by_name(name).rest
        if around.is_link_name(rest):
            return name_as_label(block, uses, rest)
    return block, uses
