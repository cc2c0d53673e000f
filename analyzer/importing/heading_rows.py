"""Which rows of a sheet head a table: rows of words of the vocabulary without numbers, that are no label/value lines."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from analyzer.importing.cells import looks_like_number
from analyzer.importing.distinct import where
from analyzer.importing.grid import NUMBER, Sheet
from analyzer.importing.headings import Heading, could_be_heading, understand
from analyzer.importing.words import event_phrases, folded, phrases, plain, word

_AS_HEADING = {"850", "1300", "1310", "1383", "1490", "1550", "1577", "1625", "1650", "12", "36", "45", "78"}
"""Bare numbers that head columns: wavelengths and pairs."""


_MOST_CANDIDATES = 4000


_MOST_FORM_CELLS = 8
"""Filled cells of the widest label/value line: four pairs abreast."""


_VERDICT_HEADINGS = {"p", "f", "pass", "passed", "ok", "bestanden", "conforme", "apto", "idoneo"}
"""Verdict words that also head columns."""


@dataclass
class Look:
    """Counts of each row: filled cells, cells that are numbers."""

    filled: np.ndarray
    numbers: np.ndarray


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


def look_at(sheet: Sheet) -> Look:
    """Count filled cells and numbers of each row; many frequencies in one row are headings."""
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
    return Look(filled, np.where(frequencies >= _FREQUENCIES_IN_A_HEAD, numbers - frequencies, numbers))


def weight(text: str) -> float:
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


def scored_rows(sheet: Sheet, look: Look, least: float) -> list[int]:
    """Rows whose words speak enough for a row of headings."""
    wide = 1 if sheet.shape[1] == 1 or least <= 1 else 2
    candidates = np.flatnonzero((look.numbers == 0) & (look.filled >= wide))[:_MOST_CANDIDATES]
    weights: dict[str, float] = {}
    found = []
    for row in candidates:
        texts = [text for text in sheet.row_texts(int(row)) if text]
        score = 0.0
        for text in texts:
            if text not in weights:
                weights[text] = weight(text)
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
        if enough and score >= 0.4 * len(texts) and distinct and not is_form_line(sheet, look, int(row)):
            found.append(int(row))
    return found


def is_form_line(sheet: Sheet, look: Look, row: int) -> bool:
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


def _label_columns(sheet: Sheet, look: Look, row: int) -> frozenset[int]:
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


def known_rows(sheet: Sheet, look: Look, known: frozenset[tuple[str, ...]]) -> list[int]:
    """Rows that hold exactly the headings which a column map names."""
    widths = [len(headings) for headings in known]
    candidates = np.flatnonzero(np.isin(look.filled, widths))[:_MOST_CANDIDATES]
    return [
        int(row) for row in candidates
        if tuple(folded(text) or text for text in sheet.row_texts(int(row)) if text) in known
    ]  # fmt: skip
