"""Form sheets: label and value pairs, then a table of the readings; and tables with the links as columns."""

from __future__ import annotations

from corpus import files
from corpus.layout import FACTS, Pen, layout, wide
from corpus.truth import cables, fiber_links

FAMILY = "forms"
BOTH = ("limit", "margin")


def form(pen, link, *, table_extras=True, facts=FACTS):
    """Rows of one link's form: title, facts as pairs, the readings below."""
    rows = [[pen.word("title")], []]
    rows += [[pen.heading(name), pen.fact(link, name)] for name in ("label", *facts)]
    rows += [[pen.word("verdict"), pen.fact(link, "verdict")], []]
    head = [f"{pen.word('wavelength')} (nm)", pen.word("direction"), f"{pen.word('loss')} (dB)"]
    rows.append([*head, f"{pen.word('limit')} (dB)", f"{pen.word('margin')} (dB)"] if table_extras else head)
    for (nm, way), loss in link.losses:
        cells = [nm if pen.typed else str(nm), pen.direction(way), pen.loss(loss)]
        if table_extras:
            margin = link.margin_db(nm, way)
            cells += [pen.number(link.limit_db(nm), "dB"), None if margin is None else pen.number(margin, "dB")]
        rows.append(cells)
    return rows


@layout(FAMILY, "one sheet for each link: facts as pairs, then the readings", prints=BOTH)
def form_sheet_per_link():
    pen = Pen(typed=True)
    return {"forms.xlsx": files.workbook([files.Sheet(link.label, form(pen, link)) for link in fiber_links()])}


@layout(FAMILY, "one text file for each link", prints=BOTH)
def form_file_per_link():
    return {f"{link.label}.csv": files.text(form(Pen(), link)) for link in fiber_links()}


@layout(FAMILY, "one workbook for each link", prints=BOTH)
def form_workbook_per_link():
    pen = Pen(typed=True)
    return {f"{link.label}.xlsx": files.workbook([files.Sheet("Test", form(pen, link))]) for link in fiber_links()}


@layout(FAMILY, "one German file for each link in a ZIP: decimal comma and date order are settled by all of them",
        absent=("construction",), prints=BOTH)  # fmt: skip
def form_files_in_zip_german():
    facts = tuple(name for name in FACTS if name != "construction")
    pen = Pen(language="de", decimal=",", thousands=".", date="%d.%m.%Y")
    made = {f"{link.label}.csv": files.text(form(pen, link, facts=facts), delimiter=";", encoding="cp1252")
            for link in fiber_links()}  # fmt: skip
    return {"strecken.zip": files.packed(made)}


@layout(FAMILY, "month-first dates, one file for each link: the order is settled by all files together", prints=BOTH)
def form_files_dates_settled():
    pen = Pen(date="%m/%d/%Y")
    return {f"{link.label}.txt": files.text(form(pen, link), delimiter="\t") for link in fiber_links()}


@layout(FAMILY, "forms one below the other on one sheet", prints=BOTH)
def forms_stacked():
    pen = Pen(typed=True)
    rows = [row for link in fiber_links() for row in [*form(pen, link), [], []]]
    return {"stacked_forms.xlsx": files.workbook([files.Sheet("All", rows)])}


@layout(FAMILY, "two pairs of label and value abreast", absent=("verdict",), prints=BOTH)
def form_pairs_abreast():
    pen, sheets = Pen(typed=True), []
    for link in fiber_links():
        pairs = [[pen.heading(name), pen.fact(link, name)] for name in ("label", *FACTS)]
        half = (len(pairs) + 1) // 2
        pairs += [[None, None]] * (2 * half - len(pairs))
        abreast = [[*left, None, *right] for left, right in zip(pairs[:half], pairs[half:], strict=True)]
        table = form(pen, link)[2 + len(FACTS) + 1 + 1 + 1 :]
        sheets.append(files.Sheet(link.label, [["Test record"], [], *abreast, [], *table]))
    return {"abreast_forms.xlsx": files.workbook(sheets)}


@layout(FAMILY, "label and value in one cell: `Length: 76.20 m`", absent=("verdict",), prints=BOTH)
def form_colon_lines():
    pen, made = Pen(), {}
    for link in fiber_links():
        facts = [name for name in FACTS if link.type == "OS2" or name != "construction"]
        lines = [[f"{pen.word(name.replace('length_m', 'length'))}: {pen.fact(link, name)}{' m' * (name == 'length_m')}"]
                 for name in ("label", *facts)]  # fmt: skip
        made[f"{link.label}.txt"] = files.text([*lines, [], *form(pen, link)[-5:]], delimiter="\t")
    return made


@layout(FAMILY, "form alone: every reading is a line with its label", absent=("verdict",))
def form_readings_as_lines():
    pen, sheets = Pen(typed=True), []
    for link in fiber_links():
        rows = [[pen.heading(name), pen.fact(link, name)] for name in ("label", *FACTS)]
        rows += [[f"Loss {nm} nm {way} (dB)", pen.loss(loss)] for (nm, way), loss in link.losses]
        sheets.append(files.Sheet(link.label, rows))
    return {"lines.xlsx": files.workbook(sheets)}


def _turned(rows):
    return [list(column) for column in zip(*rows, strict=True)]


@layout(FAMILY, "links as columns, as text")
def transposed_text():
    return {"turned.csv": files.text(_turned(wide(Pen(), fiber_links())))}


@layout(FAMILY, "links as columns, one sheet for each cable")
def transposed_sheets():
    pen = Pen(typed=True)
    sheets = [files.Sheet(name, _turned(wide(pen, links))) for name, links in cables().items()]
    return {"turned.xlsx": files.workbook(sheets)}


@layout(FAMILY, "links as columns, the wavelength merged beside its directions")
def transposed_merged_groups():
    pen, links = Pen(typed=True), fiber_links()
    head, *body = wide(pen, links)
    first, groups = 1 + len(FACTS), (850, 1300, 1310, 1550)
    above = head[:first] + [cell for nm in groups for cell in (f"Loss {nm} nm (dB)", None)] + [head[-1]]
    below = [None] * first + ["A-B", "B-A"] * len(groups) + [None]
    merges = [(first + 2 * g, 0, first + 2 * g + 1, 0) for g in range(len(groups))]
    return {"turned_groups.xlsx": files.workbook([files.Sheet("Loss", _turned([above, below, *body]), merges)])}


@layout(FAMILY, "links as columns, units in a column of their own, title above")
def transposed_units_column():
    pen = Pen()
    head, *body = wide(pen, fiber_links(), heading=lambda nm, way: f"Loss {nm} nm {way}")
    units = ["dB" if name.startswith("Loss") else "m" if name.startswith("Length") else None for name in head]
    head = [name.replace(" (m)", "") for name in head]
    return {"turned_units.csv": files.text([["Invented site"], [], *_turned([head, units, *body])])}
