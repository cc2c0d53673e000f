"""The cable that strands belong to where no column says it: a title, the name of the sheet, the name of the file."""

from __future__ import annotations

import re

import numpy as np

from analyzer.importing import facts
from analyzer.importing.blocks import Block
from analyzer.importing.grid import TEXT
from analyzer.importing.headings import understand
from analyzer.importing.words import folded, heading_words


def cable_in_titles(block: Block, rows: np.ndarray, seeds: list[tuple[str, str]]) -> np.ndarray | None:
    """Cables named by titles above the table or by lines between its rows: `Cable TB-01 OM4`; None where none is."""
    sheet = block.sheet
    now = ""
    for row in block.above:
        now = _cable_named([text for text in sheet.row_texts(row) if text]) or now
    filled = np.zeros(len(rows), dtype=np.int32)
    for col in block.columns:
        filled += sheet.columns[col].codes[rows] != 0
    starts = {
        int(at): _cable_named([text for text in sheet.row_texts(int(rows[at])) if text])
        for at in np.flatnonzero(filled == 1)
    }
    starts = {at: name for at, name in starts.items() if name}
    if not now and not starts:
        return None
    names = np.full(len(rows), now, dtype=object)
    for at, name in sorted(starts.items()):
        names[at:] = name
    seeds.append(("cable-from-title", f"the cable of the strands is named by a title: {names[-1]}"))
    return names


_GENERIC = re.compile(
    r"^(sheet|tabelle|feuil|hoja|foglio|blad|planilha|table|results?|export|data)[ _-]*\d*$", re.IGNORECASE
)


def names_link(name: str) -> bool:
    """Whether the name of a sheet or file can be that of a link."""
    return any(letter.isdigit() for letter in name) and not _GENERIC.match(name) and not understand((name,)).known


_NO_NAMES = frozenset(
    {
        "final", "report", "copy", "new", "old", "file", "raw", "book", "sheet", "table", "run", "day", "retest",
        "retests", "again", "first", "second", "third", "stdin",
    }
)  # fmt: skip


def cable_in_file_name(file: str) -> str:
    """The cable that a file is named by: `MX-01`, or `TB-205` in `plant_house_TB-205.txt`; empty where none is.

    Words of headings, fiber types and dates name no cable. One word with a digit in it is the cable, else all the rest.
    """
    stem = file.rsplit("!", 1)[-1].rsplit("/", 1)[-1].rsplit(".", 1)[0]
    stem = re.sub(r"(?<!\d)(19|20)\d{2}[-_.]?\d{2}[-_.]?\d{2}(?!\d)", " ", stem)
    words = [part.strip("-.,()") for part in re.split(r"[\s_()]+", stem)]
    words = [word for word in words if word and not _GENERIC.match(word) and not facts.fiber_type(word)]
    words = [word for word in words if not word.isdigit() and folded(word) not in heading_words() | _NO_NAMES]
    numbered = [word for word in words if any(letter.isdigit() for letter in word)]
    return numbered[0] if len(numbered) == 1 else " ".join(words)


def cable_of_sheet(name: str) -> str:
    """The cable that the name of a sheet is or names; empty for dates, fiber types and words such as `Test 2`."""
    named = _cable_named([name])
    if named or not names_link(name) or facts.fiber_type(name):
        return named
    dated = re.search(r"(?<!\d)(19|20)\d{2}(?!\d)", name) and facts.parse_date(name, TEXT, "day first")[0]
    worded = any(len(part) > 2 and part in heading_words() for part in folded(name).split())
    return "" if dated or worded else name.strip()


def _cable_named(texts: list[str]) -> str:
    """The cable that a line of one cell names, empty where it names none."""
    if len(texts) != 1 or len(texts[0]) > 120:
        return ""
    match = re.search(
        r"(?i)\b(?:cables?|trunk|bundle|kabel|câble|cavo|cabo|manguera)\s*(?:no\.?|nr\.?|id|#|:)?\s*([\w./-]*\d[\w./-]*)",
        texts[0],
    )
    return match[1].rstrip(".,-/") if match else ""
