"""Forms: label/value pairs, alone or several abreast, one form for each link, below or beside each other.

Every pair becomes a cell of an upright table with one row for each link, so that one reader serves all. A pair that
means nothing becomes a column as well: the list of columns then accounts for it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from analyzer.importing import facts
from analyzer.importing.blocks import Block
from analyzer.importing.form_lines import FormLine, is_label, lines_of
from analyzer.importing.forms import FACT_ROLES, Pair, fact_role, pairs_in
from analyzer.importing.grid import TEXT, Sheet, column_of
from analyzer.importing.words import folded

_MOST_FORM_ROWS = 5000
_MOST_LABELS = 500
"""Labels of all forms of a sheet; what has more is a table whose cells happen to be words of headings, and no form."""
_NAMING = frozenset({"label", "cable", "strand"})
_APART = frozenset({"wavelength", "direction", "pair", "parameter", "end"})
"""Roles that tell several readings of one form apart."""
_NO_READING = "it comes several times in one form, and nothing says which reading each goes with"
_NO_LABEL = "no label stands beside it"


@dataclass
class _Form:
    """The pairs of one link: `rows` of the table it gives, each with its own cells beside those that all share."""

    pairs: list[Pair]
    shared: list[Pair] = field(default_factory=list)

    @property
    def first_row(self) -> int:
        return min(pair.row for pair in self.pairs)


def abreast(sheet: Sheet) -> Sheet | None:
    """A sheet of nothing but forms, with pairs abreast or several forms, as an upright table; None for other sheets.

    A table on its side has one column of headings and its links beside it; here labels stand in a second column too,
    or the label that names the link, or a wavelength, comes again further down.
    """
    if sheet.shape[0] > _MOST_FORM_ROWS:
        return None
    lines = lines_of(sheet)
    if lines is None:
        return None
    pairs = [pair for line in lines for pair in line.pairs]
    named = [pair for pair in pairs if pair.text and pair.heading.role in _NAMING and pair.heading.sure >= 0.9]
    if not named or not _measures(pairs) or not _mostly_known(pairs):
        return None
    counts = Counter(_key(pair) for pair in named)
    key = max(counts, key=lambda name: counts[name])  # of `Cable` once and `Fiber` in each form, the fiber
    repeated = _repeated(pairs) - {""}
    again = key in repeated or any(pair.heading.role in _APART and _key(pair) in repeated for pair in pairs)
    in_cells = all(pair.label_col == pair.col for pair in pairs)  # `Length: 120 m`
    if not again and not in_cells and not any(len(line.pairs) > 1 for line in lines):
        return None
    if any(_heads_a_table(line) for line in lines):
        return None
    return _table_of(sheet, _forms(sheet, lines, key))


def as_form(sheet: Sheet) -> Sheet | None:
    """The label/value lines of a sheet as an upright table with one row for each link; None where it is no form."""
    if sheet.shape[0] > _MOST_FORM_ROWS:
        return None
    pairs = [pair for pair in pairs_in(sheet, range(sheet.shape[0])) if pair.heading.role != "ignored"]
    if not any(pair.heading.role == "value" for pair in pairs):
        return None
    naming = next((_key(pair) for pair in pairs if pair.heading.role in _NAMING), None)
    groups: list[list[Pair]] = []
    for pair in pairs:
        if not groups or (_key(pair) == naming and any(_key(other) == naming for other in groups[-1])):
            groups.append([])
        groups[-1].append(pair)
    return _table_of(sheet, [_Form(group) for group in groups])


def whole(sheet: Sheet) -> Block:
    """The one table that a form gives: its first row heads it."""
    columns = list(range(len(sheet.columns)))
    heads: list[tuple[str, ...]] = [(sheet.text(0, col),) for col in columns]
    return Block(sheet, [0], np.arange(1, len(sheet.rows)), columns, heads, [], sheet.kind)


def _key(pair: Pair) -> str:
    """What makes the labels of two pairs the same."""
    return folded(pair.heading.text) or pair.heading.text


def _measures(pairs: list[Pair]) -> bool:
    return any(pair.text and pair.heading.role == "value" and pair.heading.parameter for pair in pairs)


def _mostly_known(pairs: list[Pair]) -> bool:
    return 2 * sum(pair.heading.known for pair in pairs) >= len(pairs)


def _heads_a_table(line: FormLine) -> bool:
    """Whether the values of a line are headings themselves: `Parameter | Value | Parameter | Value`."""
    return len(line.pairs) > 1 and all(pair.text and is_label(pair.text) for pair in line.pairs)


def _forms(sheet: Sheet, lines: list[FormLine], key: str) -> list[_Form]:
    """The forms of a sheet: beside each other where the naming label stands twice on a line, else below each other."""
    forms: list[_Form] = []
    for panel in _panels(lines, key):
        forms += _stacked(panel, key)
    forms.sort(key=lambda form: (form.first_row, form.pairs[0].label_col))
    return _with_preface(sheet, forms, key)


def _panels(lines: list[FormLine], key: str) -> list[list[Pair]]:
    """Pairs of each column of forms, in reading order."""
    starts: set[int] = set()
    cols = sorted({pair.label_col for line in lines for pair in line.pairs})
    for line in lines:
        at = [pair.label_col for pair in line.pairs if _key(pair) == key]
        if len(at) > 1:
            before = sum(pair.label_col < at[0] for pair in line.pairs)
            order = [pair.label_col for pair in line.pairs]
            starts |= {order[order.index(col) - before] for col in at[1:] if order.index(col) >= before}
    edges = [cols[0] if cols else 0, *sorted(starts)]
    panels: list[list[Pair]] = [[] for _ in edges]
    for line in lines:
        for pair in line.pairs:
            panels[sum(pair.label_col >= edge for edge in edges[1:])].append(pair)
    return [panel for panel in panels if panel]


def _stacked(pairs: list[Pair], key: str) -> list[_Form]:
    """Forms below each other: each naming label after the first begins one.

    Labels above the first naming label that come again above later ones belong to what they stand above; blank rows say
    nothing, for forms have them inside as well.
    """
    anchors = [number for number, pair in enumerate(pairs) if _key(pair) == key]
    leading = {_key(pair) for pair in pairs[: anchors[0]]} if anchors else set()
    starts = [0]
    for before, anchor in pairwise(anchors):
        start = anchor
        while start - 1 > before and _key(pairs[start - 1]) in leading:
            start -= 1
        starts.append(start)
    return [_Form(pairs[start:end]) for start, end in zip(starts, [*starts[1:], len(pairs)], strict=True)]


def _with_preface(sheet: Sheet, forms: list[_Form], key: str) -> list[_Form]:
    """Facts above the first of several forms, which no form tells, hold for all of them."""
    if len(forms) < 2:
        return forms
    first = forms[0]
    anchor = next((pair.row for pair in first.pairs if _key(pair) == key), 0)
    gap = max((row for row in range(anchor) if not any(sheet.row_texts(row))), default=-1)
    told = {_key(pair) for form in forms[1:] for pair in form.pairs}
    preface = [
        pair for pair in first.pairs if pair.row < gap and fact_role(pair) in FACT_ROLES and _key(pair) not in told
    ]
    if preface:
        first.pairs = [pair for pair in first.pairs if pair not in preface]
        for form in forms:
            form.shared = preface
    return forms


def _table_of(sheet: Sheet, forms: list[_Form]) -> Sheet | None:
    """One row for each form, several where a form holds readings at several wavelengths; one column for each label."""
    rows: list[tuple[int, list[tuple[str, Pair]]]] = []
    for form in forms:
        rows += [(form.first_row, cells) for cells in _rows_of(form)]
    columns: dict[str, Pair] = {}
    for _, cells in rows:
        for name, pair in cells:
            columns.setdefault(name, pair)
    # the cell that names the link stands first: the row of a record is where it is named
    names = sorted(columns, key=lambda name: columns[name].heading.role not in _NAMING)
    if not 0 < len(names) <= _MOST_LABELS:
        return None
    at = {name: number for number, name in enumerate(names)}
    shape = (len(rows) + 1, len(names))
    origin_rows, origin_cols = np.full(shape, -1), np.full(shape, -1)
    texts = [["" for _ in rows] for _ in names]
    kinds = [[TEXT for _ in rows] for _ in names]
    for name, pair in columns.items():
        origin_rows[0, at[name]], origin_cols[0, at[name]] = sheet.rows[pair.row], max(pair.label_col, 0)
    for number, (first_row, cells) in enumerate(rows):
        origin_rows[number + 1] = sheet.rows[first_row]
        for name, pair in cells:
            place = at[name]
            texts[place][number], kinds[place][number] = pair.text, pair.kind
            origin_rows[number + 1, place], origin_cols[number + 1, place] = sheet.rows[pair.row], pair.col
    made = [
        column_of([columns[name].heading.text, *cells], [TEXT, *kind])
        for name, cells, kind in zip(names, texts, kinds, strict=True)
    ]
    return Sheet(
        sheet.name, made, np.arange(1, len(rows) + 2), visible=sheet.visible, encoding=sheet.encoding,
        delimiter=sheet.delimiter, remarks=sheet.remarks, origin=(origin_rows, origin_cols), kind="form", file=sheet.file,
        unused={
            at[name]: _NO_READING if _OPEN in name else _NO_LABEL
            for name in names if _OPEN in name or not columns[name].heading.text
        },
    )  # fmt: skip


def _rows_of(form: _Form) -> list[list[tuple[str, Pair]]]:
    """The rows of one form, each as (name of the column, pair); a label that comes again gets a column of its own."""
    pairs = [pair for pair in form.pairs if pair.text]
    repeated = _repeated(pairs) - {""}
    apart = [pair for pair in pairs if _key(pair) in repeated and pair.heading.role in _APART]
    groups = _readings_apart(pairs, apart, repeated)
    if not groups:
        return [_named([*pairs, *form.shared], open_=apart)]
    alone = [pair for pair in pairs if _key(pair) not in repeated]
    measured = [pair for pair in alone if pair.heading.role in {"value", "limit", "margin"} and not _says_verdict(pair)]
    facts_of_form = [*(pair for pair in alone if pair not in measured), *form.shared]
    return [_named([*facts_of_form, *group]) for group in (*groups, *([measured] if measured else []))]


def _says_verdict(pair: Pair) -> bool:
    return bool(facts.verdict(pair.text))


def _repeated(pairs: Iterable[Pair]) -> set[str]:
    seen: set[str] = set()
    again: set[str] = set()
    for pair in pairs:
        (again if _key(pair) in seen else seen).add(_key(pair))
    return again


def _readings_apart(pairs: list[Pair], apart: list[Pair], repeated: set[str]) -> list[list[Pair]]:
    """Repeated pairs by the `Wavelength` pair they go with; empty where there is none, or two ways to see it differ.

    The ways: each follows its wavelength as one reads; each stands on its line or below it. Only where neither can be:
    each stands above it.
    """
    if not apart:
        return []
    again = [pair for pair in pairs if _key(pair) in repeated]
    leading = [pair for pair in apart if _key(pair) == _key(apart[0])]
    ways = [way for way in (_as_read(again, leading), _by_place(again, leading, below=True)) if _even(way)]
    ways = ways or [way for way in [_by_place(again, leading, below=False)] if _even(way)]
    return ways[0] if ways and all(_same(way, ways[0]) for way in ways) else []


def _even(way: list[list[Pair]]) -> bool:
    """Whether every group holds the same labels, each once, and something beside the wavelength."""
    labels = [sorted(map(_key, group)) for group in way]
    return len(labels[0]) > 1 and all(one == labels[0] for one in labels) and not _repeated(way[0])


def _same(one: list[list[Pair]], other: list[list[Pair]]) -> bool:
    return all({id(pair) for pair in a} == {id(pair) for pair in b} for a, b in zip(one, other, strict=True))


def _as_read(pairs: list[Pair], leading: list[Pair]) -> list[list[Pair]]:
    groups: list[list[Pair]] = [[]]
    for pair in pairs:
        if any(pair is lead for lead in leading):
            groups.append([])
        groups[-1].append(pair)
    return groups if groups[0] else groups[1:]


def _by_place(pairs: list[Pair], leading: list[Pair], *, below: bool) -> list[list[Pair]]:
    groups = [[lead] for lead in leading]
    for pair in pairs:
        if not any(pair is lead for lead in leading):
            groups[_leader(pair, leading, below=below)].append(pair)
    return groups


def _leader(pair: Pair, leading: list[Pair], *, below: bool) -> int:
    rows = [lead.row for lead in leading]
    near = [row for row in rows if (row <= pair.row if below else row >= pair.row)] or rows
    row = max(near) if below else min(near)
    on_row = [number for number, lead in enumerate(leading) if lead.row == row]
    left = [number for number in on_row if leading[number].label_col <= pair.label_col]
    return left[-1] if left else on_row[0]


_OPEN = "\x1fopen"


def _named(pairs: list[Pair], open_: list[Pair] | None = None) -> list[tuple[str, Pair]]:
    """Pairs with the name of their column; those that are `open_` go with no reading."""
    counts: dict[str, int] = {}
    out = []
    for pair in pairs:
        key = _key(pair) + (_OPEN if any(pair is other for other in open_ or ()) else "")
        counts[key] = counts.get(key, 0) + 1
        out.append((key if counts[key] == 1 else f"{key}\x1f{counts[key]}", pair))
    return out
