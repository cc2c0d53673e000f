"""Small tables of results with damage of many kinds, and where each of their cells must be found again.

Every number of a table is another one, so a cell that was read can be told by its number. Invented throughout.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field

from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.importing import Source, read_source

TOTALS = ("Average", "Total", "Maximum", "Worst case")
NOTES = ("Note: cleaned twice", "Approved by the office", "* tested again", "End of report")


@dataclass
class Cell:
    """A cell that must be found again: its text, and what it is."""

    text: str
    kind: str


@dataclass
class Grid:
    """Rows of cells; a text alone is furniture, of which nothing is asked."""

    rows: list[list[object]] = field(default_factory=list)

    def data(self, delimiter):
        buffer = io.StringIO()
        rows = [[cell.text if isinstance(cell, Cell) else cell for cell in row] for row in self.rows]
        csv.writer(buffer, delimiter=delimiter, lineterminator="\n").writerows(rows)
        return buffer.getvalue().encode()


class _Numbers:
    """Numbers that never come again."""

    def __init__(self):
        self.last = 100

    def next(self, whole):
        self.last += 1
        return f"{whole}.{self.last}"


FIBER_WIDE = [
    ("Link", "label"), ("Fiber type", "type"), ("Length (m)", "length"), ("Loss 850 nm (dB)", "value"), ("Limit 850 nm (dB)", "limit"),
    ("Margin 850 nm (dB)", "margin"), ("Result 850 nm", "verdict"), ("Loss 1300 nm (dB)", "value"), ("Limit 1300 nm (dB)", "limit"),
    ("Margin 1300 nm (dB)", "margin"), ("Tested on", "date"), ("Operator", "operator"), ("Result", "whole verdict"),
]  # fmt: skip
FIBER_LONG = [
    ("Link", "label"), ("Wavelength (nm)", "wavelength"), ("Direction", "direction"), ("Length (m)", "length"), ("Loss (dB)", "value"),
    ("Limit (dB)", "limit"), ("Margin (dB)", "margin"), ("Result", "whole verdict"), ("Operator", "operator"),
]  # fmt: skip
PAIRS_LONG = [
    ("Link", "label"), ("Parameter", "parameter"), ("Pair", "pair"), ("End", "end"), ("Frequency (MHz)", "frequency"),
    ("Value (dB)", "value"), ("Limit (dB)", "limit"), ("Margin (dB)", "margin"), ("Result", "whole verdict"),
]  # fmt: skip
PAIRS_WIDE = [
    ("Link", "label"), ("Category", "grade"), ("Length (m)", "length"), ("NEXT 12-36 (dB)", "value"), ("NEXT 12-36 margin (dB)", "margin"),
    ("NEXT 12-36 limit (dB)", "limit"), ("Return loss 12 (dB)", "value"), ("Return loss 12 margin (dB)", "margin"),
    ("Insertion loss 45 (dB)", "value"), ("Insertion loss 45 limit (dB)", "limit"), ("Result", "whole verdict"),
]  # fmt: skip
TABLES = (FIBER_WIDE, FIBER_LONG, PAIRS_LONG, PAIRS_WIDE)
EXTRA = [
    ("Margin (dB)", "margin"), ("Headroom (dB)", "margin"), ("Limit (dB)", "limit"), ("Pass/Fail", "whole verdict"), ("Remark", "note"),
    ("Loss 850 nm (dB)", "value"), ("Margin 850 nm (dB)", "margin"), ("NEXT 12-36 (dB)", "value"), ("", "value"), ("Budget", "limit"),
]  # fmt: skip
_WHOLE = {"value": 1, "limit": 2, "margin": 0}
_CHOICES = {
    "type": ("OM4", "OM3"), "wavelength": ("850", "1300"), "direction": ("A-B", "B-A"), "grade": ("6A",), "parameter": ("NEXT", "return loss"),
    "pair": ("12-36", "36-45"), "end": ("A", "B"), "verdict": ("PASS", "FAIL"), "whole verdict": ("PASS", "FAIL"), "date": ("2026-03-04",),
    "operator": ("crew one",), "note": ("cleaned",), "frequency": ("100", "31.25"),
}  # fmt: skip


@st.composite
def damaged(draw):
    """A grid of one or two tables with damage."""
    grid, numbers = Grid(), _Numbers()
    for _ in range(draw(st.integers(1, 2))):
        _table(draw, grid, numbers)
        grid.rows += [[] for _ in range(draw(st.integers(0, 2)))]
    return grid


def _table(draw, grid, numbers):
    columns = list(draw(st.sampled_from(TABLES)))
    for extra in draw(st.lists(st.sampled_from(EXTRA), max_size=2)):
        columns.insert(draw(st.integers(1, len(columns))), extra)
    gone = draw(st.sets(st.integers(1, len(columns) - 1), max_size=3))
    columns = [column for number, column in enumerate(columns) if number not in gone]
    blank_rate = draw(st.sampled_from([0, 0, 1, 3, 6]))
    prefix = draw(st.sampled_from(["TB-01-", "C", "Flur "]))
    grid.rows += [
        [title] for title in draw(st.lists(st.sampled_from(["Results of the north wing", "Cable test"]), max_size=1))
    ]
    head = [heading for heading, _ in columns]
    grid.rows.append(list(head))
    again = draw(st.integers(0, 12))
    once = draw(st.booleans()) and draw(st.booleans())
    for number in range(draw(st.integers(1, 5))):
        if number and number == again:
            grid.rows.append(list(head))
        row: list[object] = []
        for _, kind in columns:
            if draw(st.integers(0, 9)) < blank_rate or (kind == "label" and once and number % 2):
                row.append("")
                continue
            text = f"{prefix}{number // 2 + 1:02d}" if kind == "label" else _text(draw, kind, numbers)
            row.append(Cell(text, kind))
        grid.rows.append(row)
        if draw(st.integers(0, 15)) == 0:
            grid.rows.append([])
    if draw(st.integers(0, 3)) == 0:
        summary = [draw(st.sampled_from(TOTALS))]
        grid.rows.append(summary + [numbers.next(1) if kind in _WHOLE else "" for _, kind in columns[1:]])
    grid.rows += [[note] for note in draw(st.lists(st.sampled_from(NOTES), max_size=1))]


def _text(draw, kind, numbers):
    if kind in _WHOLE:
        odd = draw(st.integers(0, 19))
        return ("n/a", "<0.05", "see note")[odd] if odd < 3 and kind == "value" else numbers.next(_WHOLE[kind])
    if kind == "length":
        return numbers.next(90)
    return draw(st.sampled_from(_CHOICES[kind]))


def lost(grid, delimiter=","):
    """Cells of a grid that were neither used nor told, as (row, column, text, kind); none of a file that is refused."""
    try:
        imported = read_source(Source("damaged.csv", grid.data(delimiter)))
    except InputError:
        return []
    return [
        (row, col, cell.text, cell.kind)
        for row, cells in enumerate(grid.rows, 1)
        for col, cell in enumerate(cells)
        if isinstance(cell, Cell) and _says_something(cells) and not _told(imported, row, col, cell)
    ]


def _says_something(cells):
    """Whether a row names its link, or holds a value or what is printed beside one; all else is no result."""
    kinds = {cell.kind for cell in cells if isinstance(cell, Cell)}
    return bool(kinds & {"label", "value", "limit", "margin", "verdict", "whole verdict"})


def _told(imported, row, col, cell):
    aside, readings, records = imported.set_aside, imported.readings, imported.records
    here = aside[aside["row"] == row]
    if (here["col"] == -1).any() or (here["col"] == col).any():
        return True
    if ((readings["row"] == row) & (readings["col"] == col)).any():
        return True
    block = [
        number for number, first, last in zip(imported.blocks["block"], imported.blocks["first_row"], imported.blocks["last_row"], strict=True)
        if first <= row <= last
    ]  # fmt: skip
    columns = imported.columns[imported.columns["block"].isin(block) & (imported.columns["col"] == col)]
    if (columns["role"] == "ignored").any():
        return True
    if any(repr(heading) in text for heading in columns["heading"].dropna() for text in imported.seeds["text"]):
        return True
    mine = records[records["row"] == row]
    its = readings[readings["record"].isin(mine["record"])]
    return _used(cell, mine, its, here)


def _used(cell, mine, its, here):
    """Whether what a cell says stands in its record or beside one of its readings."""
    if cell.kind in {"limit", "margin", "value", "length"}:
        number = float(cell.text) if cell.text.replace(".", "").isdigit() else None
        names = {"limit": "declared_limit", "margin": "declared_margin"}
        if cell.kind == "length":
            return bool((mine["length_m"] == number).any())
        if cell.kind == "value":
            return bool((its["value"] == number).any())
        beside_lost = bool((here["counts_as"] == "reading cell").any())
        return (
            beside_lost
            or bool((its[names[cell.kind]] == number).any())
            or bool((mine["declared_margin_db"] == number).any())
        )
    word = cell.text.lower()
    if cell.kind in {"verdict", "whole verdict"}:
        beside = here["counts_as"].eq("reading cell").any()
        return (
            beside
            or bool((its["declared_verdict"] == word).any())
            or bool(mine["declared_verdict"].isin([word, "fail"]).any())
        )
    if cell.kind == "label":
        return bool(mine["label"].str.contains(cell.text, regex=False).any())
    names = {"type": "type", "grade": "grade", "operator": "operator"}
    if cell.kind in names:
        return bool((mine[names[cell.kind]] == cell.text).any())
    return bool(len(mine))
