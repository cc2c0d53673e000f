"""Label/value lines: facts that stand above a table, and tables that lie on their side.

Each is turned into columns of an upright table, so that one reader serves all; every cell remembers where it stood.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from analyzer.importing.blocks import Block, find_blocks
from analyzer.importing.columns import Use, role_of_fact
from analyzer.importing.grid import TEXT, CellColumn, Sheet, column_of
from analyzer.importing.headings import Heading, could_be_heading, understand
from analyzer.importing.pair_colors import scheme_in

FACT_ROLES = frozenset(
    {
        "label", "cable", "strand", "type", "type or grade", "grade", "reference", "tested at", "date", "time", "operator",
        "tester", "calibrated on", "configuration", "limit name", "edition", "standard", "length", "mated pairs", "splices",
        "end types", "place A", "place B", "end A label", "end B label", "area", "construction", "segment", "medium",
        "accuracy", "wavelength", "direction", "polarity", "record number", "reference power", "verdict", "velocity",
        "temperature", "accuracy level", "wiring scheme", "screen", "software version", "firmware version",
        "limit table version", "project",
    }
)  # fmt: skip
LASTING = frozenset(
    {
        "reference",
        "operator",
        "tester",
        "calibrated on",
        "limit name",
        "edition",
        "standard",
        "configuration",
        "accuracy",
        "accuracy level",
        "velocity",
        "temperature",
        "wiring scheme",
        "software version",
        "firmware version",
        "limit table version",
        "project",
    }
)
"""Facts above the first table of a sheet that hold for the later tables too."""
_MOST_TURNED_ROWS = 400


@dataclass(frozen=True)
class Pair:
    """One label/value line: what the label means, the value, and where it stands (positions in the sheet)."""

    heading: Heading
    text: str
    kind: int
    row: int
    col: int
    label_col: int = -1


def pairs_in(sheet: Sheet, rows: Iterable[int], *, only: int = -1) -> list[Pair]:
    """Label/value lines in some rows: `Label | value`, `Label: value`, several on a line; `only` looks at one column."""
    found: list[Pair] = []
    for row in rows:
        texts = sheet.row_texts(row)
        if only >= 0:
            texts = [text if col == only else "" for col, text in enumerate(texts)]
        col = 0
        while col < len(texts):
            text = texts[col]
            if not text:
                col += 1
                continue
            several = _several_in(text, row, col)
            pair, used = (None, col + 1) if several else _pair_at(sheet, row, col, texts)
            found += several or ([pair] if pair else [])
            col = used
    return found


def _several_in(text: str, row: int, col: int) -> list[Pair]:
    """`Fiber type: OM4; Length: 120 m` in one cell."""
    parts = re.split(r"\s*[;|\n]\s*", text)
    if len(parts) < 2 or not all(":" in part for part in parts):
        return []
    found = []
    for part in parts:
        name, value = (side.strip() for side in part.split(":", 1))
        heading = understand((name,)) if could_be_heading(name) else Heading(name)
        if heading.known and heading.sure >= 0.9 and value:
            found.append(_pair(heading, value, TEXT, row, col, col))
    return found


def _pair(heading: Heading, text: str, kind: int, row: int, col: int, label_col: int) -> Pair:
    return scheme_named(Pair(heading, text, kind, row, col, label_col))


def scheme_named(pair: Pair) -> Pair:
    """A line as it is meant: `Wiring: T568B` names a scheme, where `Wiring: pass` is a wire map."""
    if pair.heading.parameter == "wire map" and scheme_in(pair.text):
        return replace(pair, heading=replace(pair.heading, role="wiring scheme", parameter=""))
    return pair


def _pair_at(sheet: Sheet, row: int, col: int, texts: list[str]) -> tuple[Pair | None, int]:
    text = texts[col]
    colon = re.match(r"^([^:=]{2,60}?)\s*[:=]\s*(\S.*)$", text, re.DOTALL)
    if colon and could_be_heading(colon[1]):
        heading = understand((colon[1],))
        if heading.known and heading.sure >= 0.9:
            return _pair(heading, colon[2].strip(), TEXT, row, col, col), col + 1
    label = text.rstrip(":= ")
    if not could_be_heading(label):
        return None, col + 1
    heading = understand((label,))
    if not heading.known or heading.sure < 0.9:
        return None, col + 1
    for other in range(col + 1, min(col + 4, len(texts))):
        if texts[other]:
            if other > col + 1 and _is_label(texts[other]) and any(texts[other + 1 : other + 3]):
                return None, other
            return _pair(heading, texts[other], sheet.kind_at(row, other), row, other, col), other + 1
    return None, col + 1


def lines_not_known(sheet: Sheet, rows: Iterable[int], pairs: list[Pair]) -> list[Pair]:
    """Lines in the columns of labels and values whose label is no known word: told, and not used."""
    places = {(pair.label_col, pair.col) for pair in pairs if pair.label_col < pair.col}
    known = {(pair.row, col) for pair in pairs for col in (pair.label_col, pair.col)}
    return [
        Pair(Heading(sheet.text(row, label)), sheet.text(row, col), sheet.kind_at(row, col), row, col, label)
        for row in rows
        for label, col in sorted(places)
        if sheet.text(row, label) and sheet.text(row, col) and not {(row, label), (row, col)} & known
    ]


def _is_label(text: str) -> bool:
    """Whether a cell after a blank one is the label of the next pair, and the blank cell the value of the one before."""
    heading = understand((text.rstrip(":= "),)) if could_be_heading(text) else Heading(text)
    return heading.role in FACT_ROLES and heading.sure >= 0.9


def add_facts_above(block: Block, uses: list[Use], pairs: list[Pair]) -> tuple[Block, list[Use]]:
    """The block with one more column for each fact above it that no column of its own tells.

    Lines that are not used become ignored columns, so that the list of columns accounts for every line.
    """
    told = {use.role for use in uses}
    if "label" in told or ("cable" in told and "strand" in told):
        told |= {"label", "cable", "strand"}
    if "tested at" in told:
        told |= {"date", "time"}
    if any(use.wavelength_nm > 0 for use in uses):
        told.add("wavelength")
    if any(use.direction for use in uses if use.role == "value"):
        told.add("direction")
    columns = list(block.sheet.columns)
    extra: list[Use] = []
    one_link = "label" not in told and any(pair.heading.role == "label" for pair in pairs)
    for pair in pairs:
        role = fact_role(pair)
        why = f"stands above the table in row {block.sheet.rows[pair.row]}"
        wire_map = role == "value" and not any(use.parameter == "wire map" for use in [*uses, *extra])
        if not wire_map and role not in FACT_ROLES:
            why += ": no known word" if pair.heading.role == "ignored" else ": no fact of a link"
            role = "ignored"
        elif not wire_map and role in told:
            why += f": another line or the table itself tells the {role}"
            role = "ignored"
        told.add("" if wire_map else role)
        codes = np.ones(len(block.sheet.rows), dtype=np.int32)
        if wire_map and one_link:
            codes[block.data_rows[1:]] = 0
        columns.append(CellColumn(codes, ["", pair.text], [TEXT, pair.kind], stands=_place(block.sheet, pair)))
        heading = pair.heading
        extra.append(
            Use(
                len(columns) - 1, heading.text, role, heading.parameter, -1, "", heading.end, "", heading.unit, heading.sure,
                why,
            )
        )  # fmt: skip
    if not extra:
        return block, uses
    sheet = Sheet(**{**block.sheet.__dict__, "columns": columns, "width": block.sheet.origin_width})
    return Block(sheet, block.heading_rows, block.data_rows, block.columns, block.headings, block.above, block.kind), [*uses, *extra]  # fmt: skip


def _place(sheet: Sheet, pair: Pair) -> tuple[int, int] | None:
    """Where the value of a line stands; None for the name of a sheet or file."""
    if pair.col < 0:
        return None
    row, col = sheet.place(np.asarray([pair.row]), np.asarray([pair.col]))
    return int(row[0]), int(col[0])


def fact_role(pair: Pair) -> str:
    """What a line tells of its link: the meaning of its label, settled by its value."""
    from analyzer.importing import facts

    role = role_of_fact(pair.heading, pair.text)
    if role == "limit":
        return "limit name"
    if pair.heading.parameter == "wire map":  # its value is a word, which settles nothing
        return "value" if pair.heading.role in {"value", "verdict"} else "ignored"
    if role == "verdict" or (role == "value" and facts.verdict(pair.text)):
        return "verdict" if facts.verdict(pair.text) else "ignored"
    return "ignored" if role == "value" else role


def name_as_label(block: Block, uses: list[Use], name: str) -> tuple[Block, list[Use]]:
    """The block with the name of its sheet or file as label of all its rows."""
    heading = understand(("Link",))
    pair = Pair(heading, name, TEXT, block.heading_rows[0], -1)
    block, uses = add_facts_above(block, [use for use in uses if use.role not in {"cable", "strand"}], [pair])
    last = uses[-1]
    return block, [*uses[:-1], last.because("the name of the sheet or file is the only name there is", sure=0.6)]


def turned(sheet: Sheet) -> Sheet | None:
    """The sheet on its side: links that stand in columns become rows. None for sheets too long to be such."""
    height, width = sheet.shape
    if height > _MOST_TURNED_ROWS or width < 2:
        return None
    cells = [[sheet.text(row, col) for col in range(width)] for row in range(height)]
    kinds = [[sheet.kind_at(row, col) for col in range(width)] for row in range(height)]
    columns = [column_of(cells[row], kinds[row] if sheet.columns[0].kinds else None) for row in range(height)]
    merged = [(c0, r0, c1, r1) for r0, c0, r1, c1 in sheet.merged]
    shape = (width, height)
    origin = (
        np.broadcast_to(sheet.rows[None, :], shape),
        np.broadcast_to(np.arange(width)[:, None], shape),
    )
    return Sheet(
        sheet.name, columns, np.arange(width), merged=merged, visible=sheet.visible, encoding=sheet.encoding,
        delimiter=sheet.delimiter, remarks=sheet.remarks, origin=origin, kind="transposed", file=sheet.file,
    )  # fmt: skip


__all__ = ["FACT_ROLES", "LASTING", "Pair", "add_facts_above", "fact_role", "find_blocks", "lines_not_known", "name_as_label", "pairs_in", "scheme_named", "turned"]  # fmt: skip
