"""Twisted-pair layouts over frequency: one row for each frequency, one column for each pair."""

from __future__ import annotations

from decimal import Decimal

from corpus import files
from corpus.copper_table import NAMES, heading
from corpus.copper_truth import KEYS, SWEEP_MHZ, copper_links, sweep
from corpus.layout import Pen, layout

SWEEP = "pairs: sweeps"


def _pair_and_end(_parameter, pair, end, **_):
    return f"{pair} end {end} (dB)"


def _swept():
    return copper_links()[:4]


def _sweep_view(*parameters):
    def view(link):
        return tuple(
            r for (p, _, _), curve in sweep(link.label).items() if not parameters or p in parameters for r in curve
        )

    return view


SWEPT = {"medium": "twisted pair", "links": _swept}
SWEPT_ABSENT = ("margin", "limits", "length_m", "verdict", "date", "wire map", "grade")


def _sweep_table(pen, label, keys, *, spell=str, frequency="Frequency (MHz)", head=heading):
    curves = sweep(label)
    rows = [[frequency, *(head(*key, spell=spell) for key in keys)]]
    return rows + [
        [pen.number(mhz), *(pen.number(curves[key][n].value) for key in keys)] for n, mhz in enumerate(SWEEP_MHZ)
    ]


@layout(
    SWEEP, "one sheet per link: frequency by pair, many parameters", view=_sweep_view(), absent=SWEPT_ABSENT, **SWEPT
)
def sweep_sheet_per_link():
    pen = Pen(typed=True)
    sheets = [files.Sheet(x.label, [["Link", x.label], [], *_sweep_table(pen, x.label, KEYS)]) for x in _swept()]
    return {"sweeps.xlsx": files.workbook(sheets)}


@layout(
    SWEEP, "one text file per link: label above, frequency by pair", view=_sweep_view(), absent=SWEPT_ABSENT, **SWEPT
)
def sweep_file_per_link():
    return {
        f"{x.label}.csv": files.text([["Link", x.label], [], *_sweep_table(Pen(), x.label, KEYS)]) for x in _swept()
    }


@layout(
    SWEEP,
    "one sheet per link and parameter: the sheet says both",
    view=_sweep_view("NEXT", "return loss"),
    absent=SWEPT_ABSENT,
    **SWEPT,
)
def sweep_sheet_per_parameter():
    pen, sheets = Pen(typed=True), []
    for x in _swept():
        for parameter in ("NEXT", "return loss"):
            keys = [key for key in KEYS if key[0] == parameter]
            rows = _sweep_table(pen, x.label, keys, head=_pair_and_end)
            sheets.append(
                files.Sheet(
                    f"{x.label} {NAMES[parameter]}", [["Link", x.label], ["Parameter", NAMES[parameter]], [], *rows]
                )
            )
    return {"sweeps.xlsx": files.workbook(sheets)}


@layout(
    SWEEP,
    "link in a column, frequency by pair",
    view=_sweep_view("insertion loss", "NEXT"),
    absent=SWEPT_ABSENT,
    **SWEPT,
)
def sweep_link_column():
    keys = [key for key in KEYS if key[0] in {"insertion loss", "NEXT"}]
    tables = [(x.label, _sweep_table(Pen(), x.label, keys)) for x in _swept()]
    rows = [["Link", *tables[0][1][0]]] + [[label, *row] for label, table in tables for row in table[1:]]
    return {"sweeps.csv": files.text(rows)}


@layout(SWEEP, "one row per frequency, parameter, pair and end", view=_sweep_view(), absent=SWEPT_ABSENT, **SWEPT)
def sweep_long():
    pen, rows = Pen(), [["Link", "Parameter", "Pair", "End", "Frequency (MHz)", "Value (dB)"]]
    for x in _swept():
        for (parameter, pair, end), curve in sweep(x.label).items():
            rows += [
                [x.label, NAMES[parameter], pair, end, pen.number(r.frequency_mhz), pen.number(r.value)] for r in curve
            ]
    return {"points.csv": files.text(rows)}


@layout(
    SWEEP,
    "two heading rows: parameter and end above, pair below, merged; frequencies in kHz",
    view=_sweep_view(),
    absent=SWEPT_ABSENT,
    **SWEPT,
)
def sweep_two_rows_khz():
    pen, sheets = Pen(typed=True), []
    for x in _swept():
        above, below, merges, last = ["Frequency"], ["kHz"], [], None
        for parameter, pair, end in KEYS:
            group = heading(parameter, None, end)
            if group == last:
                merges[-1][1] += 1
                above.append(None)
            else:
                merges.append([len(above), len(above)])
                above.append(group)
            last = group
            below.append(pair)
        body = [[float(Decimal(str(row[0])) * 1000), *row[1:]] for row in _sweep_table(pen, x.label, KEYS)[1:]]
        rows = [["Link", x.label], [], above, below, *body]
        sheets.append(files.Sheet(x.label, rows, [(2, first, 2, end) for first, end in merges if end > first]))
    return {"khz.xlsx": files.workbook(sheets)}


@layout(SWEEP, "one row per link, the frequency in the headings: `NEXT 1-2/3-6 A @ 100 MHz (dB)`",
        view=_sweep_view("NEXT", "return loss"), absent=SWEPT_ABSENT, **SWEPT)  # fmt: skip
def sweep_frequency_in_headings():
    pen, keys = Pen(), [key for key in KEYS if key[0] in {"NEXT", "return loss"}]
    heads = [f"{NAMES[p]} {pair} {end} @ {mhz} MHz (dB)" for p, pair, end in keys for mhz in SWEEP_MHZ]
    rows = [["Link", *heads]]
    for link in _swept():
        curves = sweep(link.label)
        rows.append([link.label, *(pen.number(reading.value) for key in keys for reading in curves[key])])
    return {"headings.csv": files.text(rows)}


@layout(
    SWEEP,
    "one row per parameter, pair and end, frequencies as columns",
    view=_sweep_view(),
    absent=SWEPT_ABSENT,
    **SWEPT,
)
def sweep_frequencies_as_columns():
    pen, rows = Pen(typed=True), [["Link", "Parameter", "Pair", "End", "Unit", *(f"{mhz} MHz" for mhz in SWEEP_MHZ)]]
    for link in _swept():
        for (parameter, pair, end), curve in sweep(link.label).items():
            rows.append([link.label, NAMES[parameter], pair, end, "dB", *(pen.number(r.value) for r in curve)])
    return {"columns.xlsx": files.workbook([files.Sheet("Sweep", rows)])}
