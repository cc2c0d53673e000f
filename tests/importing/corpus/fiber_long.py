"""Long fiber tables: one row for each reading, or for each strand and one of its keys."""

from __future__ import annotations

from corpus import files
from corpus.layout import FACTS, Pen, all_wavelengths, layout, long
from corpus.truth import DIRECTIONS, fiber_links

FAMILY = "long"
PEN = Pen()


@layout(FAMILY, "one row per strand, wavelength and direction")
def long_plain():
    return {"long.csv": files.text(long(PEN, fiber_links()))}


@layout(FAMILY, "one row per reading with limit, margin and verdict", prints=("limit", "margin"))
def long_limits_and_margins():
    return {"long_margins.csv": files.text(long(PEN, fiber_links(), extras=("limit", "margin", "verdict")))}


@layout(FAMILY, "one row per reading, `850 nm` in the cells")
def long_unit_with_wavelength():
    return {"long_nm.csv": files.text(long(PEN, fiber_links(), wavelength=lambda nm: f"{nm} nm"))}


@layout(FAMILY, "one row per reading, cable and strand instead of a label", absent=("label",))
def long_cable_and_strand():
    return {"long_strands.csv": files.text(long(PEN, fiber_links(), label=("cable", "strand")))}


@layout(FAMILY, "rows in an order drawn by lot")
def long_rows_by_lot(rng):
    head, *body = long(PEN, fiber_links())
    return {"by_lot.csv": files.text([head, *rng.sample(body, len(body))])}


@layout(FAMILY, "one row per strand and wavelength, directions side by side", absent=("verdict",), prints=("limit",))
def long_row_per_wavelength():
    rows = [
        [PEN.heading(n) for n in ("label", *FACTS)]
        + ["Wavelength (nm)", "Loss A-B (dB)", "Loss B-A (dB)", "Limit (dB)"]
    ]
    for link in fiber_links():
        for nm in link.wavelengths_nm:
            losses = [PEN.loss(link.loss(nm, way)) for way in DIRECTIONS]
            rows.append(
                [PEN.fact(link, n) for n in ("label", *FACTS)] + [str(nm), *losses, PEN.number(link.limit_db(nm))]
            )
    return {"per_wavelength.csv": files.text(rows)}


@layout(FAMILY, "one row per strand and direction, wavelengths side by side", absent=("verdict",))
def long_row_per_direction():
    wavelengths = all_wavelengths(fiber_links())
    rows = [[PEN.heading(n) for n in ("label", *FACTS)] + ["Direction", *(f"{nm} nm (dB)" for nm in wavelengths)]]
    for link in fiber_links():
        losses = dict(link.losses)
        for way in DIRECTIONS:
            cells = [PEN.loss(losses[nm, way]) if (nm, way) in losses else None for nm in wavelengths]
            rows.append([PEN.fact(link, n) for n in ("label", *FACTS)] + [PEN.direction(way), *cells])
    return {"per_direction.csv": files.text(rows)}


@layout(FAMILY, "parameter, value and unit in columns; the length is a row of its own")
def long_parameter_and_unit():
    facts = ("type", "construction", "mated_pairs", "splices", "reference", "date", "time", "tester", "operator")
    head = [PEN.heading(n) for n in ("label", *facts)] + [
        "Parameter",
        "Wavelength (nm)",
        "Direction",
        "Value",
        "Unit",
        "Result",
    ]
    rows = [head]
    for link in fiber_links():
        known = [PEN.fact(link, n) for n in ("label", *facts)]
        rows.append([*known, "Length", "", "", PEN.length(link), "m", ""])
        for (nm, way), loss in link.losses:
            rows.append(
                [*known, "Loss", str(nm), PEN.direction(way), PEN.loss(loss), "dB", PEN.verdict(link.passes(nm, way))]
            )
    return {"parameters.csv": files.text(rows)}


@layout(FAMILY, "label written once, the rows of the same strand below it blank")
def long_label_written_once():
    head, *body = long(PEN, fiber_links())
    blank = 1 + len(FACTS)
    made = [row if number % 4 == 0 else [None] * blank + row[blank:] for number, row in enumerate(body)]
    return {"once.csv": files.text([head, *made])}


@layout(FAMILY, "label in a merged cell beside its four rows, in a workbook")
def long_label_merged():
    pen = Pen(typed=True)
    rows = long(pen, fiber_links())
    merges = [
        (first, c, first + 3, c)
        for first in range(1, len(rows), 4)
        for c in range(1 + len(FACTS))
        if rows[first][c] is not None
    ]
    return {"merged.xlsx": files.workbook([files.Sheet("Results", rows, merges)])}
