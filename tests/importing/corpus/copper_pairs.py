"""Twisted-pair layouts: worst points, and every pair; one row, one column, one form or one sheet for each."""

from __future__ import annotations

from dataclasses import replace

from corpus import files
from corpus.copper_table import (
    ALL_KEYS,
    COPPER,
    HEAD,
    NAMES,
    VALUES_ONLY,
    each_pair,
    head_cells,
    heading,
    long_rows,
    unit,
)
from corpus.copper_truth import (
    COMBINATIONS,
    ENDS,
    KEYS,
    PAIRS,
    copper_links,
    over_frequency_only,
    pair_by_pair,
    worst_of_each_end,
)
from corpus.layout import Pen, layout

WORST, EACH = "pairs: worst points", "pairs: each pair"


@layout(
    WORST,
    "one row per worst reading: parameter, pair, end, frequency, value, limit, margin",
    view=worst_of_each_end,
    **COPPER,
)
def pairs_long_worst():
    return {"worst.csv": files.text(long_rows(Pen(), worst_of_each_end))}


@layout(EACH, "one row per reading of each pair", view=pair_by_pair, **COPPER)
def pairs_long_each():
    return {"each.csv": files.text(long_rows(Pen(), pair_by_pair))}


@layout(EACH, "one row per reading in a workbook, columns in an order drawn by lot", view=pair_by_pair, **COPPER)
def pairs_long_by_lot(rng):
    rows = long_rows(Pen(typed=True), pair_by_pair)
    order = rng.sample(range(len(rows[0])), len(rows[0]))
    return {"lot.xlsx": files.workbook([files.Sheet("Copper", [[row[c] for c in order] for row in rows])])}


@layout(
    EACH,
    "one row per link, one column for each parameter, pair and end",
    view=pair_by_pair,
    absent=VALUES_ONLY,
    **COPPER,
)
def pairs_wide_each():
    return {"wide.csv": files.text(each_pair(Pen(), copper_links()))}


@layout(EACH, "the same transposed: links as columns", view=pair_by_pair, absent=VALUES_ONLY, **COPPER)
def pairs_transposed():
    rows = each_pair(Pen(typed=True), copper_links())
    return {
        "turned.xlsx": files.workbook([files.Sheet("Copper", [list(column) for column in zip(*rows, strict=True)])])
    }


@layout(EACH, "two heading rows: parameter above, pair below, merged", view=pair_by_pair, absent=VALUES_ONLY, **COPPER)
def pairs_two_rows_merged():
    above, below, merges = [None] * len(HEAD), list(HEAD), []
    for parameter, pair, end in ALL_KEYS:
        group = heading(parameter, None, end)
        start = next((c for c, name in enumerate(above) if name == group), None)
        if start is None:
            merges.append([len(above), len(above)])
            above.append(group)
        else:
            above.append(None)
            merges[-1][1] = len(above) - 1
        below.append(pair)
    body = each_pair(Pen(typed=True), copper_links())[1:]
    spans = [(0, first, 0, last) for first, last in merges if last > first]
    return {"two.xlsx": files.workbook([files.Sheet("Copper", [above, below, *body], spans)])}


@layout(
    EACH, "three heading rows as text: parameter, end, pair", view=over_frequency_only, absent=VALUES_ONLY, **COPPER
)
def pairs_three_rows_text():
    tops, ends, pairs, last = [None] * len(HEAD), [None] * len(HEAD), list(HEAD), (None, None)
    for parameter, pair, end in KEYS:
        tops.append(None if parameter == last[0] else f"{NAMES[parameter]} (dB)")
        ends.append(None if (parameter, end) == last or end is None else f"End {end}")
        pairs.append(pair)
        last = parameter, end
    body = each_pair(Pen(), copper_links(), keys=KEYS)[1:]
    return {"three.csv": files.text([tops, ends, pairs, *body])}


@layout(
    WORST,
    "one row per link: worst value, its limit, margin, frequency and pair for each parameter and end",
    view=worst_of_each_end,
    **COPPER,
)
def pairs_wide_worst():
    pen = Pen()
    keys = [(r.parameter, r.end) for r in worst_of_each_end(copper_links()[0])]
    rows = [list(HEAD)]
    for parameter, end in keys:
        stem = " ".join(filter(None, (NAMES[parameter], end)))
        rows[0] += [
            f"{stem} ({unit(parameter)})",
            f"{stem} limit ({unit(parameter)})",
            f"{stem} margin ({unit(parameter)})",
        ]
        if parameter != "delay skew":
            rows[0].append(f"{stem} pair")
        if unit(parameter) == "dB":
            rows[0].append(f"{stem} frequency (MHz)")
    for link in copper_links():
        found = {(r.parameter, r.end): r for r in worst_of_each_end(link)}
        row = head_cells(pen, link)
        for parameter, end in keys:
            r = found[parameter, end]
            row += [pen.number(r.value), pen.number(r.limit), pen.number(r.margin)]
            row += [r.pair] if parameter != "delay skew" else []
            row += [pen.number(r.frequency_mhz)] if unit(parameter) == "dB" else []
        rows.append(row)
    return {"worst_wide.csv": files.text(rows)}


_MARGINS = ("NEXT", "PSNEXT", "return loss")


def _margins_of_ends(link):
    """Least margin of each end, whatever its pair."""
    worst = [r for r in worst_of_each_end(link) if r.parameter in _MARGINS]
    return tuple(replace(reading, pair=None) for reading in worst)


@layout(WORST, "margins alone: `NEXT margin A (dB)` without values", view=_margins_of_ends,
        absent=("value", "limits", "frequency_mhz"), **COPPER)  # fmt: skip
def pairs_margins_alone():
    pen = Pen()
    rows = [[*HEAD, *(f"{NAMES[p]} margin {e} (dB)" for p in _MARGINS for e in ENDS)]]
    for link in copper_links():
        found = {(r.parameter, r.end): r for r in _margins_of_ends(link)}
        rows.append(head_cells(pen, link) + [pen.number(found[p, e].margin) for p in _MARGINS for e in ENDS])
    return {"margins.csv": files.text(rows)}


def _single_pairs(link):
    return tuple(r for r in link.readings if r.pair in PAIRS)


@layout(
    EACH,
    "one row per link and pair, ends side by side",
    view=_single_pairs,
    absent=(*VALUES_ONLY, "wire map"),
    **COPPER,
)
def pairs_row_per_pair():
    pen = Pen()
    keys = [(p, e) for p, pair, e in ALL_KEYS if pair == "1-2"]
    rows = [["Link", "Grade", "Configuration", "Length (m)", "Pair", *(heading(p, None, e) for p, e in keys)]]
    for link in copper_links():
        for pair in PAIRS:
            known = [link.label, link.grade, "permanent link", pen.number(link.length_m), pair]
            rows.append(known + [pen.number(link.of(p, pair, e).value) for p, e in keys])
    return {"per_pair.csv": files.text(rows)}


@layout(
    EACH,
    "one sheet for each parameter, pairs as columns, an `End` column",
    view=over_frequency_only,
    absent=(*VALUES_ONLY, "wire map"),
    **COPPER,
)
def pairs_sheet_per_parameter():
    pen, sheets = Pen(typed=True), []
    for parameter in dict.fromkeys(p for p, _, _ in KEYS):
        pairs = COMBINATIONS if parameter in {"NEXT", "ACR-F"} else PAIRS
        ends = (None,) if parameter == "insertion loss" else ENDS
        rows = [
            ["Link", "Grade", "Length (m)", *(["End"] if ends != (None,) else []), *(f"{pair} (dB)" for pair in pairs)]
        ]
        for link in copper_links():
            for end in ends:
                known = [link.label, link.grade, pen.number(link.length_m), *([end] if end else [])]
                rows.append(known + [pen.number(link.of(parameter, pair, end).value) for pair in pairs])
        sheets.append(files.Sheet(NAMES[parameter], rows))
    return {"parameters.xlsx": files.workbook(sheets)}


@layout(
    EACH,
    "one form sheet per link: facts, then parameters as rows and pairs as columns",
    view=_single_pairs,
    absent=VALUES_ONLY,
    **COPPER,
)
def pairs_form_sheets():
    pen, sheets = Pen(typed=True), []
    for link in copper_links():
        rows = [
            ["Record of a permanent link"],
            [],
            *([name, cell] for name, cell in zip(HEAD, head_cells(pen, link), strict=True)),
            [],
        ]
        rows.append(["Parameter", "End", *PAIRS, "Unit"])
        for parameter, end in [(p, e) for p, pair, e in ALL_KEYS if pair == "1-2"]:
            rows.append(
                [
                    NAMES[parameter],
                    end,
                    *(pen.number(link.of(parameter, pair, end).value) for pair in PAIRS),
                    unit(parameter),
                ]
            )
        sheets.append(files.Sheet(link.label, rows))
    return {"forms.xlsx": files.workbook(sheets)}


@layout(EACH, "one file per link with decimal comma: facts, then one row per reading", view=pair_by_pair, **COPPER)
def pairs_form_files():
    pen, made = Pen(decimal=",", date="%d.%m.%Y"), {}
    head, *body = long_rows(pen, pair_by_pair)
    known = len(HEAD) - 1
    for link in copper_links():
        facts = [[name, cell] for name, cell in zip(HEAD, head_cells(pen, link), strict=True)]
        rows = [row[known:] for row in body if row[0] == link.label]
        made[f"{link.label}.csv"] = files.text([*facts, [], head[known:], *rows], delimiter=";")
    return made
