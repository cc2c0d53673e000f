"""Tables in the cells of a sheet: where headings stand, how many rows they take, which rows are data.

A heading row holds words of the vocabulary and no numbers. Rows above it that only group columns, and rows under it
that only name directions or units, belong to it. The same headings again (after a page break) continue the table;
other headings begin a new one.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise

import numpy as np

from analyzer.importing.cells import looks_like_number
from analyzer.importing.distinct import where
from analyzer.importing.grid import NUMBER, Sheet
from analyzer.importing.headings import Heading, could_be_heading, understand
from analyzer.importing.row_of_table import is_row_of
from analyzer.importing.words import event_phrases, folded, phrases, plain, units, word

_AS_HEADING = {"850", "1300", "1310", "1383", "1490", "1550", "1577", "1625", "1650", "12", "36", "45", "78"}
"""Bare numbers that head columns: wavelengths and pairs."""
_MOST_CANDIDATES = 4000
_MOST_FORM_CELLS = 8
"""Filled cells of the widest label/value line: four pairs abreast."""
_VERDICT_HEADINGS = {"p", "f", "pass", "passed", "ok", "bestanden", "conforme", "apto", "idoneo"}
"""Verdict words that also head columns."""


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


@dataclass
class _Look:
    """Counts of each row: filled cells, cells that are numbers."""

    filled: np.ndarray
    numbers: np.ndarray


def find_blocks(
    sheet: Sheet, *, least_headings: float = 1.5, known: frozenset[tuple[str, ...]] = frozenset()
) -> list[Block]:
    """Every table of a sheet, from top to bottom; rows whose filled cells are `known` (folded) head one in any case."""
    look = _look(sheet)
    scored = _scored_rows(sheet, look, least_headings)
    named = set(_known_rows(sheet, look, known)) if known else set()
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


_PERHAPS_NUMBER = r"^[^A-Za-z:/][^:/]*$"
_PERHAPS_HEADING = r"^(\d+|.*m)$"


_PERHAPS_FREQUENCY = r"^\d.*[Hh][Zz]$"
_FREQUENCIES_IN_A_HEAD = 3
"""So many cells such as `100 MHz` in one row are headings; fewer can be where readings were taken."""


def _is_frequency(text: str) -> bool:
    if text.isascii() and "hz" not in text.lower():
        return False  # most cells are plain numbers, which need no reader of headings
    return understand((text,)).frequency_mhz > 0


def _heads_column(text: str) -> bool:
    return text in _AS_HEADING or text.endswith(("nm", "µm", "μm", "um"))


def _look(sheet: Sheet) -> _Look:
    height, _ = sheet.shape
    filled = np.zeros(height, dtype=np.int32)
    numbers = np.zeros(height, dtype=np.int32)
    frequencies = np.zeros(height, dtype=np.int32)
    for column in sheet.columns:
        has_text = column.codes != 0
        typed = np.asarray(column.kinds, dtype=np.int8) == NUMBER if column.kinds else False
        is_number = where(column.texts, _PERHAPS_NUMBER, looks_like_number, otherwise=False, dtype=bool) | typed
        is_number &= ~where(column.texts, _PERHAPS_HEADING, _heads_column, otherwise=False, dtype=bool)
        is_number[0] = False
        with_unit = where(column.texts, _PERHAPS_FREQUENCY, _is_frequency, otherwise=False, dtype=bool) & is_number
        if with_unit.any():
            frequencies += with_unit[column.codes]
        filled += has_text
        if is_number.any():
            numbers += is_number[column.codes]
    return _Look(filled, np.where(frequencies >= _FREQUENCIES_IN_A_HEAD, numbers - frequencies, numbers))


def _weight(text: str) -> float:
    """How much one cell speaks for a heading row."""
    if _is_event_heading(text):
        return 0.8
    if not could_be_heading(text) or (text.isupper() and word("verdict", text)):
        return 0.0
    heading = understand((text,))
    if heading.sure < 0.6:
        return 0.0
    if heading.role != "ignored":
        return 0.6 if heading.role == "value" and not heading.why.startswith("every") else 1.0
    return 0.5 if heading.statistic or heading.direction or heading.end or heading.pair or heading.unit else 0.0


_EVENT_UNIT = re.compile(r"[(\[][^)\]]*[)\]]\s*$")


def _is_event_heading(text: str) -> bool:
    """Words that head columns of events and nothing else, such as `Splice loss (dB)` in each language."""
    bare = folded(_EVENT_UNIT.sub(" ", text)) if len(text) < 40 else ""
    return len(bare) > 5 and bare in event_phrases() and bare not in phrases()


@lru_cache(maxsize=65536)
def _is_data_word(text: str) -> bool:
    """Words that only cells hold: a verdict with a shape of its own, over range, a fiber type."""
    if len(text) > 24:
        return False
    bare = plain(text)
    return (
        (bool(word("verdict", text)) and bare not in _VERDICT_HEADINGS)
        or bool(word("over range", text))
        or bool(re.fullmatch(r"om[1-5]|os1a?|os2", bare))
    )


_LEAST_REPEATED = 3
"""So many pairs or directions in one row are sub-headings; a row of data holds one or two."""


@lru_cache(maxsize=65536)
def _tells_apart(text: str) -> bool:
    """Sub-headings that come again under each group: a pair, a direction, an end, and no other word."""
    if len(text) > 24 or not any(letter.isalnum() for letter in text):
        return False
    heading = understand((text,))
    alone = heading.sure >= 0.8 and not heading.parameter and heading.wavelength_nm < 0
    return alone and bool(heading.pair or heading.direction or (heading.end and heading.role != "end"))


def _scored_rows(sheet: Sheet, look: _Look, least: float) -> list[int]:
    wide = 1 if sheet.shape[1] == 1 or least <= 1 else 2
    candidates = np.flatnonzero((look.numbers == 0) & (look.filled >= wide))[:_MOST_CANDIDATES]
    weights: dict[str, float] = {}
    found = []
    for row in candidates:
        texts = [text for text in sheet.row_texts(int(row)) if text]
        score = 0.0
        for text in texts:
            if text not in weights:
                weights[text] = _weight(text)
            score += weights[text]
        if score < 0.7 * len(texts) and any(_is_data_word(text) for text in texts):
            continue
        enough = score >= (least if len(texts) > 1 else 1.0)
        whole = [text for text in texts if not _tells_apart(text)]
        if len(texts) - len(whole) >= _LEAST_REPEATED and whole:
            score += sum(0.5 for text in texts if weights[text] == 0.0 and _tells_apart(text))
        else:
            whole = texts
        distinct = len(set(whole)) >= 0.34 * len(whole)
        if enough and score >= 0.4 * len(texts) and distinct and not _is_form_line(sheet, look, int(row)):
            found.append(int(row))
    return found


def _is_form_line(sheet: Sheet, look: _Look, row: int) -> bool:
    """Whether a row of words is a label/value line, though its value holds words that head columns elsewhere.

    `Operator | crew K` is one by itself: no headings of a table all say the same. `Medium | Fiber` is one by what
    stands around it: lines of labels and values in the same columns.
    """
    if _says_which_way(sheet, row):
        return True
    here = _label_columns(sheet, look, row)
    if not here:
        return False
    said = [heading for heading in (understand((text,)) for text in sheet.row_texts(row) if text) if heading.known]
    measured = [heading for heading in said if heading.role in {"value", "limit", "margin"} and heading.sure >= 0.9]
    if any(heading.role != "value" or heading.parameter or heading.unit for heading in measured):
        return False
    roles = {"verdict" if heading.role == "value" else heading.role for heading in said}
    if len(here) == 1 and look.filled[row] == 2 and len(roles) == 1:
        return True
    if here <= _label_columns(sheet, look, row + 1):
        return True
    ends = row + 1 >= len(look.filled) or not look.filled[row + 1]
    return ends and here <= _label_columns(sheet, look, row - 1)


def _says_which_way(sheet: Sheet, row: int) -> bool:
    """`Wavelength | 1310 nm` and `Direction | A-B`: a label and its value, though the value heads columns elsewhere."""
    texts = [text for text in sheet.row_texts(row) if text]
    if len(texts) != 2:
        return False
    role, said = understand((texts[0].rstrip(":"),)).role, understand((texts[1],))
    return (role == "wavelength" and said.wavelength_nm > 0) or (role == "direction" and bool(said.direction))


def _label_columns(sheet: Sheet, look: _Look, row: int) -> frozenset[int]:
    """Columns of the labels of a row that is nothing but labels of facts with their values; empty for other rows."""
    from analyzer.importing.forms import FACT_ROLES, fact_role, pairs_in

    if not 0 <= row < len(look.filled) or not look.filled[row] or look.filled[row] > _MOST_FORM_CELLS:
        return frozenset()
    pairs = pairs_in(sheet, [row])
    if not pairs or any(fact_role(pair) not in FACT_ROLES for pair in pairs):
        return frozenset()
    covered = {col for pair in pairs for col in (pair.label_col, pair.col)}
    bare = {col: text for col, text in enumerate(sheet.row_texts(row)) if text and col not in covered}
    said = [understand((text,)) if could_be_heading(text) else Heading(text) for text in bare.values()]
    if any(heading.role not in FACT_ROLES or heading.sure < 0.9 for heading in said):
        return frozenset()
    return frozenset({*bare, *(pair.label_col for pair in pairs)})


def _known_rows(sheet: Sheet, look: _Look, known: frozenset[tuple[str, ...]]) -> list[int]:
    """Rows that hold exactly the headings which a column map names."""
    widths = [len(headings) for headings in known]
    candidates = np.flatnonzero(np.isin(look.filled, widths))[:_MOST_CANDIDATES]
    return [
        int(row) for row in candidates
        if tuple(folded(text) or text for text in sheet.row_texts(int(row)) if text) in known
    ]  # fmt: skip


def _band(sheet: Sheet, look: _Look, row: int, last_used: int) -> list[int]:
    """The heading rows around a row that scored: group rows above, sub-headings and units below."""
    band = [row]
    while len(band) < 4 and band[0] - 1 > last_used and _is_group_row(sheet, look, band[0] - 1, band[0]):
        band.insert(0, band[0] - 1)
    height = sheet.shape[0]
    while len(band) < 5 and band[-1] + 1 < height and _is_sub_row(sheet, look, band[-1] + 1, band[-1]):
        band.append(band[-1] + 1)
    return band


def _only_groups(sheet: Sheet, look: _Look, band: list[int], row: int) -> bool:
    """Whether headings without a row of data under them group those of the next row: each stands over one of them."""
    if band[-1] != row - 1 or not _is_group_row(sheet, look, row - 1, row):
        return False
    upper, lower = sheet.row_texts(row - 1), sheet.row_texts(row)
    over = [col for col, text in enumerate(upper) if text]
    again = any(lower[col] == upper[col] for col in over)
    headed = sum(1 for col in over if lower[col])
    return not again and 2 * headed > len(over) and len(over) < sum(map(bool, lower))


def _is_group_row(sheet: Sheet, look: _Look, row: int, below: int) -> bool:
    texts = sheet.row_texts(row)
    filled = [col for col, text in enumerate(texts) if text]
    if not filled or look.numbers[row] or any(":" in texts[col].rstrip(":") for col in filled):
        return False
    if any(not _groups(texts[col]) for col in filled) or _is_form_line(sheet, look, row):
        return False
    spans = any(r0 <= row <= r1 and c1 > c0 for r0, c0, r1, c1 in sheet.merged if c0 in filled)
    under = [col for col, text in enumerate(sheet.row_texts(below)) if text]
    if len(filled) == 1:
        return (
            bool(under) and (filled[0] > under[0] or spans) and filled[0] <= under[-1] and _weight(texts[filled[0]]) > 0
        )
    return True


def _groups(text: str) -> bool:
    heading = understand((text,))
    return (heading.sure >= 0.6 and (heading.known or bool(_attributes(heading)))) or len(text) <= 2


def _attributes(heading: Heading) -> str:
    return heading.direction or heading.end or heading.pair or heading.unit or heading.statistic


def _is_sub_row(sheet: Sheet, look: _Look, row: int, above: int) -> bool:
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


def _to_blocks(sheet: Sheet, look: _Look, bands: list[list[int]]) -> list[Block]:
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


def _end_of_table(sheet: Sheet, look: _Look, start: int, end: int) -> int:
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
