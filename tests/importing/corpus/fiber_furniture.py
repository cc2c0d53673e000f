"""Everything that stands around the results: titles, page breaks, totals, notes, blanks, hidden cells, several tables."""

from __future__ import annotations

from decimal import Decimal

from corpus import files
from corpus.layout import FACTS, Pen, layout, wide, without
from corpus.truth import cables, fiber_links

FAMILY = "furniture"
PEN = Pen()
TITLE = "Results of optical loss tests (invented site)"


@layout(FAMILY, "title lines above, notes and a legend below")
def titles_and_footnotes():
    rows = [[TITLE], ["Building: Example Hall"], ["Printed: see cover"], [], *wide(PEN, fiber_links()), []]
    rows += [["Note: OL means that no light arrived."], ["All values were rounded once."], ["End of list"]]
    return {"titles.csv": files.text(rows)}


@layout(FAMILY, "headings again after each page, page numbers between")
def repeated_headings():
    head, *body = wide(PEN, fiber_links())
    rows, pages = [], (13, 13, 14)
    for number, size in enumerate(pages, start=1):
        rows += [[TITLE], head, *body[:size], [f"Page {number} of {len(pages)}"], []]
        body = body[size:]
    return {"pages.csv": files.text(rows)}


def _summary(word, links, pick, width):
    """A row of the least, the mean or the most of each column of losses."""
    row = [word] + [None] * len(FACTS)
    for key in [(nm, way) for nm in (850, 1300, 1310, 1550) for way in ("A-B", "B-A")]:
        found = [dict(link.losses).get(key) for link in links]
        values = [loss.value_db for loss in found if loss is not None and loss.value_db is not None]
        row.append(f"{pick(values):.2f}" if values else None)
    return row + [None] * (width - len(row))


def _mean(values):
    return sum(values, Decimal(0)) / len(values)


@layout(FAMILY, "averages after each cable, minimum, maximum and number of strands at the end")
def subtotals_and_totals():
    head, *body = wide(PEN, fiber_links())
    rows = [head]
    for links in cables().values():
        labels = {link.label for link in links}
        rows += [row for row in body if row[0] in labels]
        rows.append(_summary("Average", links, _mean, len(head)))
    everything = fiber_links()
    rows += [_summary("Minimum", everything, min, len(head)), _summary("Maximum", everything, max, len(head))]
    rows.append(["Total", f"{len(everything)} strands"])
    return {"totals.csv": files.text(rows)}


@layout(FAMILY, "blank columns between groups and blank rows between strands")
def blank_columns_and_rows():
    rows = []
    for number, row in enumerate(wide(PEN, fiber_links())):
        rows.append([None, None, *row[:4], None, *row[4:9], None, None, *row[9:], None])
        if number % 5 == 0:
            rows.append([])
    return {"blanks.csv": files.text([[], *rows, [], []])}


@layout(FAMILY, "hidden rows and columns hold results all the same")
def hidden_rows_and_columns():
    rows = wide(Pen(typed=True), fiber_links())
    sheet = files.Sheet("Loss", rows, hidden_rows=(3, 4, 20), hidden_columns=(5, 12, 13))
    return {"hidden.xlsx": files.workbook([sheet])}


@layout(FAMILY, "one table below the other, a title before each")
def tables_stacked():
    rows = []
    for cable, links in cables().items():
        rows += [[f"Trunk {cable}"], *wide(PEN, links), [], []]
    return {"stacked.csv": files.text(rows)}


@layout(FAMILY, "one table below the other, with different columns")
def tables_stacked_of_two_shapes():
    multimode = [link for link in fiber_links() if link.type == "OM4"]
    single_mode = [link for link in fiber_links() if link.type == "OS2"]
    first = wide(PEN, multimode, facts=without("construction"))
    second = [row[::-1] for row in wide(PEN, single_mode)]
    return {"shapes.csv": files.text([["Multimode"], *first, [], ["Single-mode"], *second])}


@layout(FAMILY, "two tables side by side on one sheet, a blank column between")
def tables_side_by_side():
    multimode = [link for link in fiber_links() if link.type == "OM4"]
    single_mode = [link for link in fiber_links() if link.type == "OS2"]
    left, right = wide(Pen(typed=True), multimode), wide(Pen(typed=True), single_mode)
    width = len(left[0])
    left += [[None] * width] * (len(right) - len(left))
    right += [[]] * (len(left) - len(right))
    rows = [[*a, None, *b] for a, b in zip(left, right, strict=True)]
    return {"abreast.xlsx": files.workbook([files.Sheet("Loss", rows)])}


def _cover(book_of):
    cover = files.Sheet("Cover", [["Invented site"], ["Handed over by", "crew K"], ["Pages", 4]])
    legend = files.Sheet("Legend", [["Mark", "Meaning"], ["OL", "over range"], ["A", "north rack"], ["B", "other end"]])
    return [cover, *book_of, legend]


@layout(FAMILY, "sheets that are no results: cover, legend, bill of material")
def irrelevant_sheets():
    material = files.Sheet(
        "Material", [["Item", "Count", "Remark"], ["Trunk cable 12 strands", 3, ""], ["Panel", 8, "1 U"]]
    )
    results = files.Sheet("Loss", wide(Pen(typed=True), fiber_links()))
    return {"cover.xlsx": files.workbook(_cover([results, material]))}


@layout(FAMILY, "one sheet for each cable")
def sheet_per_cable():
    pen = Pen(typed=True)
    return {"cables.xlsx": files.workbook([files.Sheet(name, wide(pen, links)) for name, links in cables().items()])}


@layout(FAMILY, "the cable stands in the title above each table, only strands in the rows", absent=("label",))
def cable_in_title():
    rows = []
    for cable, links in cables().items():
        rows += [[f"Cable: {cable}"], [], *wide(PEN, links, label="strand"), []]
    return {"title.csv": files.text(rows)}


@layout(FAMILY, "the cable is the name of the sheet, only strands in the rows", absent=("label",))
def cable_in_sheet_name():
    pen = Pen(typed=True)
    sheets = [files.Sheet(cable, wide(pen, links, label="strand")) for cable, links in cables().items()]
    return {"sheet_names.xlsx": files.workbook(sheets)}


@layout(FAMILY, "facts that all links share stand in lines above the table")
def shared_facts_above():
    facts = without("reference", "operator", "date", "time", "tester")
    rows = []
    for links in cables().values():
        first = links[0]
        rows += [["Reference method", "one-cord"], ["Tester", first.tester], ["Operator", first.operator]]
        rows += [["Date", PEN.fact(first, "date")], [], *wide(PEN, links, facts=(*facts, "time")), []]
    return {"shared.csv": files.text(rows)}


@layout(FAMILY, "wavelength in a title above each table, directions in the columns", absent=("verdict",))
def wavelength_in_title():
    rows = []
    for nm in (850, 1300, 1310, 1550):
        rows += [
            [f"Wavelength: {nm} nm"],
            [PEN.heading(n) for n in ("label", *FACTS)] + ["Loss A-B (dB)", "Loss B-A (dB)"],
        ]
        for link in fiber_links():
            if nm in link.wavelengths_nm:
                losses = [PEN.loss(link.loss(nm, way)) for way in ("A-B", "B-A")]
                rows.append([PEN.fact(link, n) for n in ("label", *FACTS)] + losses)
        rows.append([])
    return {"wavelengths.csv": files.text(rows)}


@layout(FAMILY, "wavelength in the name of the sheet", absent=("verdict",))
def wavelength_in_sheet_name():
    pen, sheets = Pen(typed=True), []
    for nm in (850, 1300, 1310, 1550):
        rows = [[pen.heading(n) for n in ("label", *FACTS)] + ["Loss A-B (dB)", "Loss B-A (dB)"]]
        for link in fiber_links():
            if nm in link.wavelengths_nm:
                losses = [pen.loss(link.loss(nm, way)) for way in ("A-B", "B-A")]
                rows.append([pen.fact(link, n) for n in ("label", *FACTS)] + losses)
        sheets.append(files.Sheet(f"{nm} nm", rows))
    return {"wavelength_sheets.xlsx": files.workbook(sheets)}
