"""Spellings of cells: decimal marks, units, feet and kilometers, gain, dates, bounds, words for what was not tested."""

from __future__ import annotations

from corpus import files
from corpus.layout import FACTS, Pen, layout, long, register, wide, without
from corpus.truth import fiber_links, fiber_links_with_bounds

FAMILY = "cells"


def _pen(name, what, pen, *, delimiter=",", **declared):
    def write():
        return {f"{name}.csv": files.text(wide(pen, fiber_links()), delimiter=delimiter)}

    register(name, FAMILY, what, write, **declared)


_pen("thousands_point", "decimal comma, `1.905,00`", Pen(decimal=",", thousands="."), delimiter=";")
_pen("thousands_comma", "decimal point, `1,905.00`", Pen(thousands=","))
_pen("thousands_blank", "decimal comma, `1 905,00`", Pen(decimal=",", thousands=" "), delimiter=";")
_pen("thousands_narrow_blank", "decimal comma and a narrow blank", Pen(decimal=",", thousands="\u202f"), delimiter=";")
_pen("thousands_apostrophe", "`1'905.00` as in Switzerland", Pen(thousands="'"), delimiter=";")
_pen("units_in_cells", "`0.42 dB` and `76.20 m` in the cells", Pen(unit_in_cell=True))
_pen("units_in_cells_decimal_comma", "`0,42 dB` in the cells", Pen(unit_in_cell=True, decimal=","), delimiter=";")
_pen("lengths_in_feet", "lengths in feet", Pen(length_unit="ft"))
_pen("lengths_in_feet_in_cells", "`250 ft` in the cells", Pen(length_unit="ft", unit_in_cell=True))
_pen("lengths_in_kilometers", "lengths in kilometers", Pen(length_unit="km"))
_pen("gain_notation", "loss written as negative gain", Pen(gain=True))
_pen("dates_day_first", "dates `27/03/2026`", Pen(date="%d/%m/%Y"))
_pen("dates_month_first", "dates `03/27/2026`, times `01:22 PM`", Pen(date="%m/%d/%Y", time="%I:%M %p"))
_pen("dates_points_short_year", "dates `27.03.26`", Pen(date="%d.%m.%y", time="%H:%M:%S"))
_pen("dates_compact", "dates `20260327`", Pen(date="%Y%m%d"))
_pen("dates_month_names", "dates `27 Mar 2026`", Pen(date="%d %b %Y"))
_pen("dates_month_names_american", "dates `March 27, 2026`", Pen(date="%B %d, %Y", time="%I:%M:%S %p"))


def _stamp(name, what, spelling):
    def write():
        facts = (*without("date", "time"), "stamp")
        return {f"{name}.csv": files.text(wide(Pen(stamp=spelling), fiber_links(), facts=facts))}

    register(name, FAMILY, what, write)


_stamp("stamps_iso_t", "one column `2026-03-27T13:22:00`", "%Y-%m-%dT%H:%M:%S")
_stamp("stamps_day_first", "one column `27.03.2026 13:22`", "%d.%m.%Y %H:%M")
_stamp("stamps_month_first", "one column `3/27/2026 1:22 PM`", "%m/%d/%Y %I:%M %p")


@layout(FAMILY, "workbook on the 1904 base of dates")
def dates_1904():
    return {"base.xlsx": files.workbook([files.Sheet("Loss", wide(Pen(typed=True), fiber_links()))], date_1904=True)}


@layout(FAMILY, "units in the number formats of a workbook, none in headings or cells")
def units_in_number_formats():
    rows = wide(Pen(typed=True), fiber_links(), heading=lambda nm, way: f"Loss {nm} nm {way}")
    length = rows[0].index("Length (m)")
    rows[0][length] = "Length"
    formats = {length: '0.00" m"'} | {c: '0.000" dB"' for c, name in enumerate(rows[0]) if name.startswith("Loss")}
    return {"formats.xlsx": files.workbook([files.Sheet("Loss", rows, formats=formats)])}


@layout(FAMILY, "feet in the number format of a workbook")
def feet_in_number_format():
    rows = wide(Pen(typed=True, length_unit="ft"), fiber_links())
    length = rows[0].index("Length (ft)")
    rows[0][length] = "Length"
    return {"feet.xlsx": files.workbook([files.Sheet("Loss", rows, formats={length: '0" ft"'})])}


@layout(FAMILY, "numbers and dates stored as text in a workbook")
def numbers_as_text():
    return {"text.xlsx": files.workbook([files.Sheet("Loss", wide(Pen(), fiber_links()))])}


@layout(FAMILY, "numbers as text with decimal comma in a workbook")
def numbers_as_text_comma():
    rows = wide(Pen(decimal=",", thousands="."), fiber_links())
    return {"text_comma.xlsx": files.workbook([files.Sheet("Loss", rows)])}


@layout(FAMILY, "columns for tests that were not made: `n/a`, `---`, `not tested`, blank", may_set_aside=True)
def untested_extras():
    head, *body = wide(Pen(), fiber_links())
    rows = [[*head, "Optical return loss 1310 nm (dB)", "Loss 1625 nm A-B (dB)", "Loss 1625 nm B-A (dB)"]]
    rows += [[*row, "n/a", "---", ("", "not tested", "N/A")[n % 3]] for n, row in enumerate(body)]
    return {"untested.csv": files.text(rows)}


@layout(FAMILY, "cells of the other fiber type filled with `n/a` or `-`", may_set_aside=True)
def other_type_filled():
    head, *body = wide(Pen(), fiber_links())
    first = 1 + len(FACTS)
    rows = [
        [*row[:first], *(("n/a", "-")[n % 2] if cell is None else cell for cell in row[first:])]
        for n, row in enumerate(body)
    ]
    return {"filled.csv": files.text([head, *rows])}


@layout(FAMILY, "readings known only to be below a value: `<0.95`", links=fiber_links_with_bounds)
def bounds_below():
    return {"bounds.csv": files.text(wide(Pen(), fiber_links_with_bounds()))}


@layout(FAMILY, "bounds with a blank, a unit and a decimal comma: `< 0,95 dB`", links=fiber_links_with_bounds)
def bounds_below_comma():
    pen = Pen(below="< ", decimal=",", unit_in_cell=True)
    return {"bounds_comma.csv": files.text(wide(pen, fiber_links_with_bounds()), delimiter=";")}


def _over_range(name, word):
    def write():
        rows = [[word if cell == "OL" else cell for cell in row] for row in wide(Pen(), fiber_links())]
        return {f"{name}.csv": files.text(rows)}

    register(name, FAMILY, f"over range written as `{word}`", write)


_over_range("over_range_words", "out of range")
_over_range("over_range_no_light", "no light")
_over_range("over_range_sign", "∞")


def _verdicts(name, passes, fails):
    def write():
        swap = {"PASS": passes, "FAIL": fails}
        rows = [[swap.get(cell, cell) for cell in row] for row in wide(Pen(), fiber_links())]
        return {f"{name}.csv": files.text(rows)}

    register(name, FAMILY, f"verdicts written as `{passes}` and `{fails}`", write)


_verdicts("verdict_ticks", "✓", "✗")
_verdicts("verdict_letters", "P", "F")
_verdicts("verdict_ok", "OK", "not OK")
_verdicts("verdict_passed", "Passed", "Failed")


@layout(FAMILY, "scientific notation: `4.6E-1`")
def scientific_notation():
    pen = Pen()
    head, *body = wide(pen, fiber_links())
    first = 1 + len(FACTS)
    rows = [[*row[:first], *(_scientific(cell) for cell in row[first:])] for row in body]
    return {"scientific.csv": files.text([head, *rows])}


def _scientific(cell):
    if cell is None or not cell.replace(".", "").isdigit():
        return cell
    digits = len(cell.replace(".", "").lstrip("0")) - 1
    return f"{float(cell):.{digits}E}".replace("E-0", "E-").replace("E+0", "E+")


@layout(FAMILY, "text that looks like a formula beside the results stays text")
def formula_looking_text():
    rows = [
        [*row, "Remark" if n == 0 else "=1+1" if n % 2 else "+cleaned"]
        for n, row in enumerate(wide(Pen(), fiber_links()))
    ]
    return {"formulas.csv": files.text(rows)}


@layout(FAMILY, "long table with units in all cells and the wavelength as `850nm`", prints=("limit", "margin"))
def long_units_in_cells():
    pen = Pen(unit_in_cell=True)
    rows = long(pen, fiber_links(), extras=("limit", "margin", "verdict"), wavelength=lambda nm: f"{nm}nm")
    rows[0] = [name.replace(" (dB)", "").replace(" (nm)", "") for name in rows[0]]
    return {"long_units.csv": files.text(rows)}
