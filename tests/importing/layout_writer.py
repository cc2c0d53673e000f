"""One invented truth written in many layouts. Shares no code with the reader.

`LAYOUTS` maps a name to a function that gives (file name, bytes, what the layout tells). The truth: twelve strands of
the invented cable TB-03, loss at 850 and 1300 nm in both directions, length and type.
"""

import csv
import io
import random

random.seed(20260306)
CABLE = "TB-03"
WAVES = (850, 1300)
WAYS = ("A-B", "B-A")
LINKS = [f"{CABLE}-{n}" for n in range(1, 13)]
LENGTH = {link: round(random.uniform(30, 280), 1) for link in LINKS}
LOSS = {(link, w, d): round(random.uniform(0.21, 1.49), 2) for link in LINKS for w in WAVES for d in WAYS}
TYPE = "OM4"
EVERYTHING = frozenset({"direction", "length", "type"})


def strand(link):
    return link.rsplit("-", 1)[1]


def losses(link, text=lambda value: f"{value:.2f}"):
    return [text(LOSS[link, w, d]) for w in WAVES for d in WAYS]


def comma(value):
    return f"{value:.2f}".replace(".", ",")


def as_csv(rows, delimiter=",", encoding="utf-8", end="\n", head=""):
    buffer = io.StringIO()
    csv.writer(buffer, delimiter=delimiter, lineterminator=end).writerows(rows)
    return (head + buffer.getvalue()).encode(encoding)


def as_xlsx(fill):
    import xlsxwriter

    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer)
    fill(book)
    book.close()
    return buffer.getvalue()


def put(sheet, rows, top=0, left=0):
    for r, row in enumerate(rows):
        for c, cell in enumerate(row):
            if cell not in {"", None}:
                sheet.write(top + r, left + c, cell)


LAYOUTS = {}


def layout(*tells, name="results.csv"):
    def keep(function):
        LAYOUTS[function.__name__] = (name, function, frozenset(tells) if tells != ("all",) else EVERYTHING)
        return function

    return keep


HEAD = ["Link ID", "Fiber Type", "Length (m)", *(f"{w} nm {d} (dB)" for w in WAVES for d in WAYS)]


def wide_rows():
    return [[link, TYPE, LENGTH[link], *losses(link)] for link in LINKS]


@layout("all")
def wide():
    return as_csv([HEAD, *wide_rows()])


@layout("all")
def wide_titles_notes_totals():
    rows = [["Hall of echoes, invented"], ["Printed 2026-03-06"], [], HEAD, *wide_rows(), []]
    rows += [
        ["Average", "", "", "0.71", "0.72", "0.73", "0.74"],
        ["Maximum", "", "280", "1.4", "1.4", "1.4", "1.4"],
        ["All measured with one cord"],
    ]
    return as_csv(rows)


@layout("all")
def german_semicolon():
    head = [
        "Kabel",
        "Faser Nr.",
        "Fasertyp",
        "Länge [m]",
        *(f"Dämpfung {w} nm {d} [dB]" for w in WAVES for d in ("A → B", "B → A")),
    ]
    rows = [[CABLE, strand(k), TYPE, str(LENGTH[k]).replace(".", ","), *losses(k, comma)] for k in LINKS]
    return as_csv([head, *rows], ";")


@layout("all")
def french_cp1252():
    head = [
        "Liaison",
        "Type de fibre",
        "Longueur (m)",
        *(f"Affaiblissement {w} nm sens {d} (dB)" for w in WAVES for d in ("A vers B", "B vers A")),
    ]
    rows = [[k, TYPE, str(LENGTH[k]).replace(".", ","), *losses(k, comma)] for k in LINKS]
    return as_csv([["Résultats inventés"], head, *rows], ";", "cp1252", "\r\n")


@layout("all")
def spanish_utf16():
    head = ["Enlace", "Tipo de fibra", "Longitud (m)", *(f"Atenuación {w} nm {d}" for w in WAVES for d in WAYS)]
    return as_csv([head, *wide_rows()], "\t", "utf-16")


@layout("all")
def italian_utf16_without_mark():
    head = [
        "Collegamento",
        "Tipo di fibra",
        "Lunghezza (m)",
        *(f"Attenuazione {w} nm {d}" for w in WAVES for d in WAYS),
    ]
    return as_csv([head, *wide_rows()], ";", "utf-16-le")


@layout("all")
def dutch_pipe_mac_lines():
    head = [
        "Verbinding",
        "Vezeltype",
        "Lengte (m)",
        *(f"Demping {w}nm {d} dB" for w in WAVES for d in ("heen", "terug")),
    ]
    return as_csv([head, *wide_rows()], "|", end="\r")


@layout("all")
def portuguese_bom():
    head = [
        "Ligação",
        "Tipo de fibra",
        "Comprimento (m)",
        *(f"Perda de inserção {w} nm {d}" for w in WAVES for d in WAYS),
    ]
    return as_csv([head, *wide_rows()], encoding="utf-8-sig")


@layout("all")
def long_one_reading_per_row():
    rows = [[k, TYPE, LENGTH[k], w, d, LOSS[k, w, d]] for k in LINKS for w in WAVES for d in WAYS]
    return as_csv([["Link", "Fiber type", "Length (m)", "Wavelength (nm)", "Direction", "Loss (dB)"], *rows])


@layout("all")
def long_with_limit_margin_verdict():
    rows = [
        [k, strand(k), TYPE, w, {"A-B": "near to far", "B-A": "far to near"}[d], f"{LOSS[k, w, d]} dB", "1.90 dB", round(1.9 - LOSS[k, w, d], 2), "PASS", LENGTH[k]]
        for k in LINKS for w in WAVES for d in WAYS
    ]  # fmt: skip
    return as_csv([["Label", "Port", "Type", "Lambda", "Dir", "Value", "Limit", "Margin", "Result", "Length m"], *rows])


@layout("all")
def long_directions_side_by_side():
    rows = [
        [CABLE, strand(k), TYPE, f"{LENGTH[k]} m", f"{w} nm", LOSS[k, w, "A-B"], LOSS[k, w, "B-A"]]
        for k in LINKS
        for w in WAVES
    ]
    return as_csv(
        [["Cable ID", "Strand #", "Fibre class", "Length", "Wavelength", "Loss end 1 (dB)", "Loss end 2 (dB)"], *rows]
    )


@layout("all")
def long_label_written_once():
    rows = []
    for k in LINKS:
        first = True
        for w in WAVES:
            for d in WAYS:
                rows.append(
                    [k if first else "", TYPE if first else "", LENGTH[k] if first else "", w, d, LOSS[k, w, d]]
                )
                first = False
    return as_csv([["Link", "Fiber type", "Length (m)", "Wavelength", "Direction", "Loss (dB)"], *rows])


@layout("all")
def long_parameter_column():
    rows = []
    for k in LINKS:
        rows.append([k, TYPE, "Length", "", "", LENGTH[k], "m"])
        rows += [[k, TYPE, "Attenuation", w, d, LOSS[k, w, d], "dB"] for w in WAVES for d in WAYS]
    return as_csv([["Link", "Fiber type", "Parameter", "Wavelength", "Direction", "Measured", "Unit"], *rows])


@layout("all")
def two_levels_blank_filled():
    rows = [["Cable", "Fiber", "Type", "Length (m)", "850 nm", "", "1300 nm", ""], ["", "", "", "", *WAYS, *WAYS]]
    return as_csv([*rows, *([CABLE, strand(k), TYPE, LENGTH[k], *losses(k)] for k in LINKS)])


@layout("all")
def three_levels_units_row():
    rows = [
        ["", "", "", "Loss", "", "", ""],
        ["Link", "Fiber type", "Length", "850 nm", "", "1300 nm", ""],
        ["", "", "", *WAYS, *WAYS],
        ["", "", "m", "dB", "dB", "dB", "dB"],
    ]
    return as_csv([*rows, *([k, TYPE, LENGTH[k], *losses(k)] for k in LINKS)])


@layout("all")
def limits_between_values():
    head = ["Link", "Type", "Length (m)"]
    for w in WAVES:
        for d in WAYS:
            head += [f"Loss {w} {d}", "Limit", "Margin"]
    rows = [
        [
            k,
            TYPE,
            LENGTH[k],
            *(x for w in WAVES for d in WAYS for x in (LOSS[k, w, d], 1.9, round(1.9 - LOSS[k, w, d], 2))),
        ]
        for k in LINKS
    ]
    return as_csv([head, *rows])


@layout("all")
def with_means_and_maxima():
    head = [*HEAD, "Average 850 nm", "Mean loss 1300 nm", "Worst 850 nm"]
    rows = [[*row, 0.5, 0.6, 0.9] for row in wide_rows()]
    return as_csv([head, *rows])


@layout("all")
def repeated_headings():
    rows = wide_rows()
    return as_csv(
        [HEAD, *rows[:5], ["Subtotal", "", "700", "", "", "", ""], [], HEAD, *rows[5:], [], ["Note: one cord"]]
    )


@layout("all")
def columns_in_another_order_with_blanks():
    head = ["", HEAD[5], HEAD[2], "", HEAD[6], HEAD[0], HEAD[3], "Remarks", HEAD[1], HEAD[4]]
    rows = [["", r[5], r[2], "", r[6], r[0], r[3], "seen", r[1], r[4]] for r in wide_rows()]
    return as_csv([[], [], head, *rows])


@layout("all")
def units_in_cells():
    rows = [[k, TYPE + " 50/125", f"{LENGTH[k]} m", *(f"{v} dB" for v in losses(k))] for k in LINKS]
    return as_csv([["Link", "Fiber", "Length", *(f"{w} {d}" for w in WAVES for d in WAYS)], *rows])


@layout("all")
def quoted_newlines_and_sep():
    head = [text.replace(" ", "\n", 1) for text in HEAD]
    return as_csv([head, *wide_rows()], ";", head="sep=;\n")


@layout("all")
def gain_notation():
    rows = [[k, TYPE, LENGTH[k], *(f"-{v}" for v in losses(k))] for k in LINKS]
    return as_csv([HEAD, *rows])


@layout("all")
def machine_names():
    head = [
        "link_id",
        "fiber_type",
        "length_m",
        *(f"loss_{w}nm_{d.replace('-', '').lower()}_db" for w in WAVES for d in WAYS),
    ]
    return as_csv([head, *wide_rows()])


@layout("all")
def misspelt():
    head = ["Link ID", "Fiber Tpye", "Lenght (m)", *(f"Attenuaton {w} nm {d}" for w in WAVES for d in WAYS)]
    return as_csv([head, *wide_rows()])


@layout("all")
def transposed():
    rows = [["Link", *LINKS], ["Fiber type", *[TYPE] * 12], ["Length (m)", *(LENGTH[k] for k in LINKS)]]
    rows += [[f"Loss {w} nm {d} (dB)", *(LOSS[k, w, d] for k in LINKS)] for w in WAVES for d in WAYS]
    return as_csv([["Invented results"], [], *rows])


@layout("direction", "length", "type")
def form_above_table():
    rows = [
        ["Cable:", CABLE],
        ["Fiber type:", TYPE],
        ["Operator", "A. Nonesuch"],
        [],
        ["Fiber", "Length (m)", *HEAD[3:]],
    ]
    return as_csv([*rows, *([strand(k), LENGTH[k], *losses(k)] for k in LINKS)])


@layout("all")
def tables_under_each_other():
    rows = []
    for w in WAVES:
        rows += [[f"Results at {w} nm"], ["Link", "Type", "Length (m)", f"{w} nm A-B", f"{w} nm B-A"]]
        rows += [[k, TYPE, LENGTH[k], LOSS[k, w, "A-B"], LOSS[k, w, "B-A"]] for k in LINKS]
        rows += [[]]
    return as_csv(rows)


@layout("all", name="results.xlsx")
def sheet_for_each_wavelength():
    def fill(book):
        book.add_worksheet("Cover").write(0, 0, "Invented")
        for w in WAVES:
            sheet = book.add_worksheet(f"{w} nm")
            put(sheet, [["Link", "Type", "Length (m)", "Loss A-B (dB)", "Loss B-A (dB)"]], 2)
            put(sheet, [[k, TYPE, LENGTH[k], LOSS[k, w, "A-B"], LOSS[k, w, "B-A"]] for k in LINKS], 3)

    return as_xlsx(fill)


@layout("all", name="results.xlsx")
def merged_headings_and_cable():
    def fill(book):
        sheet = book.add_worksheet("Export")
        for col, text in enumerate(["Cable", "Core", "Type", "Length (m)"]):
            sheet.merge_range(3, col + 1, 4, col + 1, text)
        sheet.merge_range(3, 5, 3, 6, "Loss 850 nm [dB]")
        sheet.merge_range(3, 7, 3, 8, "Loss 1300 nm [dB]")
        put(sheet, [[*WAYS, *WAYS]], 4, 5)
        sheet.merge_range(5, 1, 16, 1, CABLE)
        put(
            sheet,
            [[int(strand(k)), TYPE, LENGTH[k], *(LOSS[k, w, d] for w in WAVES for d in WAYS)] for k in LINKS],
            5,
            2,
        )

    return as_xlsx(fill)


@layout("all", name="results.xlsx")
def form_sheet_for_each_link():
    def fill(book):
        for k in LINKS:
            sheet = book.add_worksheet(k)
            put(sheet, [["Link", k], ["Fiber type", TYPE], ["Length", f"{LENGTH[k]} m"], ["Date", "2026-03-06"]])
            put(sheet, [["Wavelength (nm)", "Direction", "Loss (dB)", "Limit (dB)", "Result"]], 6)
            put(sheet, [[w, d, LOSS[k, w, d], 1.9, "PASS"] for w in WAVES for d in WAYS], 7)

    return as_xlsx(fill)


@layout("all", name="results.xlsx")
def table_for_each_link_named_by_sheet():
    def fill(book):
        for k in LINKS:
            sheet = book.add_worksheet(k)
            put(sheet, [["Wavelength (nm)", "Direction", "Loss (dB)", "Length (m)", "Fiber type"]], 1)
            put(sheet, [[w, d, LOSS[k, w, d], LENGTH[k], TYPE] for w in WAVES for d in WAYS], 2)

    return as_xlsx(fill)


@layout("all")
def forms_one_after_the_other():
    rows = []
    for k in LINKS:
        rows += [["Link:", k, "", "Fiber type:", TYPE], ["Length:", f"{LENGTH[k]} m"]]
        rows += [[f"Loss {w} nm {d}:", f"{LOSS[k, w, d]} dB"] for w in WAVES for d in WAYS]
        rows += [[]]
    return as_csv(rows)


@layout("all")
def forms_with_tables_one_after_the_other():
    rows = []
    for k in LINKS:
        rows += [["Link", k], ["Fiber type", TYPE], ["Length (m)", LENGTH[k]], []]
        rows += [["Wavelength", "Direction", "Loss (dB)"]]
        rows += [[f"{w} nm", d, LOSS[k, w, d]] for w in WAVES for d in WAYS]
        rows += [[]]
    return as_csv(rows)


@layout("all")
def feet():
    head = [*HEAD]
    head[2] = "Length (ft)"
    return as_csv([head, *([k, TYPE, LENGTH[k] / 0.3048, *losses(k)] for k in LINKS)])


@layout("all", name="results.parquet")
def parquet():
    import pandas as pd

    frame = pd.DataFrame(
        {"Link": LINKS, "Fiber type": TYPE, "Length (m)": [LENGTH[k] for k in LINKS],
         **{f"Loss {w} nm {d} (dB)": [LOSS[k, w, d] for k in LINKS] for w in WAVES for d in WAYS}}
    )  # fmt: skip
    buffer = io.BytesIO()
    frame.to_parquet(buffer)
    return buffer.getvalue()


@layout("all")
def strand_already_names_the_cable():
    rows = [[CABLE, k, TYPE, LENGTH[k], *losses(k)] for k in LINKS]
    return as_csv([["Cable", "Fiber ID", "Fiber Type", "Length (m)", *HEAD[3:]], *rows])
