"""Headings over two and three rows, units rows, merged cells."""

from __future__ import annotations

from corpus import files
from corpus.layout import FACTS, Pen, all_wavelengths, layout, wide
from corpus.truth import DIRECTIONS, fiber_links

FAMILY = "headings"


def _body(pen):
    return wide(pen, fiber_links())[1:]


def _fact_heads(pen):
    return [pen.heading(name) for name in ("label", *FACTS)]


def _two_rows(pen):
    """Wavelength above, direction below; the body; where the groups begin."""
    nms = all_wavelengths(fiber_links())
    above = [None] * (1 + len(FACTS)) + [cell for nm in nms for cell in (f"Loss {nm} nm (dB)", None)] + [None]
    below = _fact_heads(pen) + [pen.direction(way) for _ in nms for way in DIRECTIONS] + ["Result"]
    return [above, below, *_body(pen)]


def _three_rows(pen):
    nms = all_wavelengths(fiber_links())
    first = 1 + len(FACTS)
    top = ["Link data"] + [None] * (first - 1) + ["Insertion loss (dB)"] + [None] * (2 * len(nms) - 1) + [None]
    middle = [None] * first + [cell for nm in nms for cell in (f"{nm} nm", None)] + [None]
    bottom = _fact_heads(pen) + [way for _ in nms for way in DIRECTIONS] + ["Result"]
    return [top, middle, bottom, *_body(pen)]


def _group_merges(row):
    first = 1 + len(FACTS)
    return [(row, first + 2 * group, row, first + 2 * group + 1) for group in range(4)]


@layout(FAMILY, "two rows: wavelength merged over both directions, in a workbook")
def two_rows_merged():
    return {"two.xlsx": files.workbook([files.Sheet("Loss", _two_rows(Pen(typed=True)), _group_merges(0))])}


@layout(FAMILY, "two rows with the fact headings merged downward")
def two_rows_merged_both_ways():
    above, below, *body = _two_rows(Pen(typed=True))
    first = 1 + len(FACTS)
    above, below = below[:first] + above[first:], [None] * first + below[first:]
    merges = _group_merges(0) + [(0, c, 1, c) for c in range(first)]
    return {"both.xlsx": files.workbook([files.Sheet("Loss", [above, below, *body], merges)])}


@layout(FAMILY, "two rows as text: the group written once, blanks beside it")
def two_rows_blanks_text():
    return {"two.csv": files.text(_two_rows(Pen()))}


@layout(FAMILY, "two rows as text: the group repeated over each of its columns")
def two_rows_repeated_text():
    above, *rest = _two_rows(Pen())
    filled, last = [], None
    for cell in above[:-1]:
        last = cell or last
        filled.append(last)
    return {"repeated.csv": files.text([[*filled, None], *rest])}


@layout(FAMILY, "two rows: direction above, wavelength below")
def two_rows_direction_above():
    pen, links = Pen(), fiber_links()
    nms = all_wavelengths(links)
    above = [None] * (1 + len(FACTS))
    for way in DIRECTIONS:
        above += [f"Attenuation {way} [dB]"] + [None] * (len(nms) - 1)
    below = _fact_heads(pen) + [f"{nm} nm" for _ in DIRECTIONS for nm in nms]
    rows = [[*above, None], [*below, "Result"]]
    for link in links:
        losses = dict(link.losses)
        cells = [pen.loss(losses[nm, way]) if (nm, way) in losses else None for way in DIRECTIONS for nm in nms]
        rows.append([pen.fact(link, name) for name in ("label", *FACTS)] + cells + [pen.fact(link, "verdict")])
    return {"direction_above.csv": files.text(rows)}


@layout(FAMILY, "three rows: quantity, wavelength, direction, merged in a workbook")
def three_rows_merged():
    rows, first = _three_rows(Pen(typed=True)), 1 + len(FACTS)
    merges = [(0, 0, 0, first - 1), (0, first, 0, first + 7), *_group_merges(1)]
    return {"three.xlsx": files.workbook([files.Sheet("Loss", rows, merges)])}


@layout(FAMILY, "three rows as text with blanks")
def three_rows_blanks_text():
    return {"three.csv": files.text(_three_rows(Pen()))}


def _with_units_row(pen):
    nms = all_wavelengths(fiber_links())
    head = [name.replace(" (m)", "") for name in _fact_heads(pen)] + [
        f"Loss {nm} {way}" for nm in nms for way in DIRECTIONS
    ]
    units = [None] * (1 + len(FACTS)) + ["dB"] * 8 + [None]
    units[head.index("Length")] = "m"
    return [[*head, "Result"], units, *_body(pen)]


@layout(FAMILY, "units in a row below the headings")
def units_row_text():
    return {"units.csv": files.text(_with_units_row(Pen()))}


@layout(FAMILY, "units in brackets in a row below the headings, title above, in a workbook")
def units_row_and_title_workbook():
    head, units, *body = _with_units_row(Pen(typed=True))
    bracketed = [cell and f"[{cell}]" for cell in units]
    rows = [["Optical loss, invented site"], [], head, bracketed, *body]
    return {"units.xlsx": files.workbook([files.Sheet("Loss", rows)])}


@layout(FAMILY, "headings of one cell with line breaks: `Loss / 850 nm / A-B`")
def headings_with_line_breaks():
    rows = wide(Pen(), fiber_links(), heading=lambda nm, way: f"Loss\n{nm} nm\n{way}\n(dB)")
    return {"breaks.csv": files.text(rows)}
