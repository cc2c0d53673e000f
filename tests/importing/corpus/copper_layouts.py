"""Layouts of twisted-pair results: worst points, pair by pair, sweeps; many spellings of pairs, ends and parameters."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from corpus import files
from corpus.copper_truth import (
    COMBINATIONS,
    ENDS,
    KEYS,
    PAIRS,
    SWEEP_MHZ,
    UNITS,
    copper_links,
    over_frequency_only,
    pair_by_pair,
    sweep,
    worst_of_each_end,
)
from corpus.layout import Pen, layout, register
from corpus.truth import METERS_PER_FOOT

WORST, EACH, SWEEP, SPELL = "pairs: worst points", "pairs: each pair", "pairs: sweeps", "pairs: spellings"
COPPER = {"medium": "twisted pair", "links": copper_links}
NAMES = {
    "insertion loss": "Insertion loss", "NEXT": "NEXT", "PSNEXT": "PSNEXT", "ACR-F": "ACR-F", "PSACR-F": "PSACR-F",
    "return loss": "Return loss", "propagation delay": "Propagation delay", "delay skew": "Delay skew",
    "loop resistance": "Loop resistance",
}  # fmt: skip
HEAD = ("Link", "Grade", "Configuration", "Length (m)", "Wire map", "Date", "Result")
ALL_KEYS = (*KEYS, *(("propagation delay", p, None) for p in PAIRS), ("delay skew", None, None),
            *(("loop resistance", p, None) for p in PAIRS))  # fmt: skip


def unit(parameter):
    return UNITS.get(parameter, "dB")


def head_cells(pen, link, *, length=None):
    """Cells of HEAD."""
    day = link.tested_at.date() if pen.typed else link.tested_at.strftime(pen.date)
    wired = pen.verdict(link.wired_well)
    return [
        link.label,
        link.grade,
        "permanent link",
        pen.number(length or link.length_m),
        wired,
        day,
        pen.verdict(link.passes),
    ]


def heading(parameter, pair, end, *, names=NAMES, spell=str):
    """`NEXT 1-2/3-6 A (dB)`."""
    return " ".join(str(part) for part in (names[parameter], pair and spell(pair), end, f"({unit(parameter)})") if part)


def each_pair(pen, links, *, keys=ALL_KEYS, head=heading):
    """Rows of a table with one column for each parameter, pair and end."""
    rows = [[*HEAD, *(head(*key) for key in keys)]]
    return rows + [[*head_cells(pen, link), *(pen.number(link.of(*key).value) for key in keys)] for link in links]


def long_rows(pen, view, *, columns=("parameter", "pair", "end", "frequency", "value", "limit", "margin", "unit", "verdict"),
              words=None, names=NAMES, spell=str, mhz=lambda mhz: mhz):  # fmt: skip
    """One row for each reading of the view."""
    words = words or {
        "parameter": "Parameter", "pair": "Pair", "end": "End", "frequency": "Frequency (MHz)", "value": "Value",
        "limit": "Limit", "margin": "Margin", "unit": "Unit", "verdict": "Verdict",
    }  # fmt: skip
    rows = [[*HEAD[:-1], *(words[name] for name in columns)]]
    for link in copper_links():
        for reading in view(link):
            cells = {
                "parameter": names[reading.parameter], "pair": reading.pair and spell(reading.pair), "end": reading.end,
                "frequency": None if reading.frequency_mhz is None else pen.number(mhz(reading.frequency_mhz)),
                "value": pen.number(reading.value), "limit": pen.number(reading.limit),
                "margin": pen.number(reading.margin), "unit": unit(reading.parameter),
                "verdict": pen.verdict(reading.margin >= 0),
            }  # fmt: skip
            rows.append([*head_cells(pen, link)[:-1], *(cells[name] for name in columns)])
    return rows


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


VALUES_ONLY = ("margin", "limits", "frequency_mhz")


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


# ------------------------------------------------------------------ sweeps: frequency by pair


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


# ------------------------------------------------------------------ spellings


def _spelled(name, what, spell, *, pen=None, names=NAMES, **declared):
    def write():
        rows = each_pair(
            pen or Pen(), copper_links(), head=lambda p, pair, end: heading(p, pair, end, names=names, spell=spell)
        )
        return {f"{name}.csv": files.text(rows)}

    register(name, SPELL, what, write, view=pair_by_pair, absent=VALUES_ONLY, **COPPER, **declared)


_T568B = {"1-2": "orange", "3-6": "green", "4-5": "blue", "7-8": "brown"}
_T568A = {"1-2": "green", "3-6": "orange", "4-5": "blue", "7-8": "brown"}
"""Colors of the pairs as ANSI/TIA-568 assigns them to the pins in its two ways."""


def _colors(of):
    return lambda pair: "/".join(of[part] for part in pair.split("/"))


_spelled("pairs_without_dashes", "pairs as `12` and `12-36`", lambda pair: pair.replace("-", "").replace("/", "-"))
_spelled("pairs_with_commas", "pairs as `1,2` and `1,2/3,6`", lambda pair: pair.replace("-", ","))
_spelled("pairs_commas_and_dash", "pairs as `1,2-3,6`", lambda pair: pair.replace("-", ",").replace("/", "-"))
_spelled("pairs_slash_and_dash", "pairs as `1/2` and `1/2-3/6`",
         lambda pair: pair.replace("/", "_").replace("-", "/").replace("_", "-"))  # fmt: skip
_spelled("pairs_in_brackets", "pairs as `(1,2)` and `(1,2)-(3,6)`",
         lambda pair: "-".join(f"({part.replace('-', ',')})" for part in pair.split("/")))  # fmt: skip
_spelled("pairs_word_pair", "pairs as `pair 3-6`", lambda pair: f"pair {pair}")
_OLD = NAMES | {
    "insertion loss": "Attenuation", "ACR-F": "ELFEXT", "PSACR-F": "PSELFEXT", "PSNEXT": "Power sum NEXT",
    "propagation delay": "Prop. delay", "loop resistance": "DC loop resistance",
}  # fmt: skip
_spelled("pairs_old_names", "old names: attenuation, ELFEXT, power sum", str, names=_OLD)
_FULL = NAMES | {
    "NEXT": "Near-end crosstalk", "PSNEXT": "Power sum near-end crosstalk",
    "ACR-F": "Attenuation to crosstalk ratio far-end", "PSACR-F": "Power sum attenuation to crosstalk ratio far-end",
    "insertion loss": "Insertion Loss", "loop resistance": "Direct current loop resistance",
}  # fmt: skip
_spelled("pairs_full_names", "names written out: near-end crosstalk", str, names=_FULL)
_SHORT = NAMES | {
    "insertion loss": "IL", "return loss": "RL", "PSNEXT": "PS-NEXT", "ACR-F": "ACRF", "PSACR-F": "PS-ACRF",
    "propagation delay": "Delay", "delay skew": "Skew", "loop resistance": "Resistance",
}  # fmt: skip
_spelled("pairs_short_names", "short names: IL, RL, PS-NEXT, Skew", str, names=_SHORT)


def _colored(name, what, of, wiring):
    def write():
        head, *body = each_pair(
            Pen(), copper_links(), head=lambda p, pair, end: heading(p, pair, end, spell=_colors(of))
        )
        return {f"{name}.csv": files.text([["Wiring", *head], *([wiring, *row] for row in body)])}

    register(name, SPELL, what, write, view=pair_by_pair, absent=VALUES_ONLY, **COPPER)


_colored("pairs_colors_t568b", "pairs by color, wiring T568B in a column", _T568B, "T568B")
_colored("pairs_colors_t568a", "pairs by color, wiring T568A in a column", _T568A, "T568A")


@layout(
    SPELL,
    "pair headings that a spreadsheet turned into dates",
    view=lambda link: tuple(r for r in link.readings if r.parameter == "insertion loss"),
    absent=(*VALUES_ONLY, "wire map"),
    **COPPER,
)
def pairs_damaged_into_dates():
    pen = Pen(typed=True)
    days = {"1-2": date(2026, 2, 1), "3-6": date(2026, 6, 3), "4-5": date(2026, 5, 4), "7-8": date(2026, 8, 7)}
    above = [None, None, None, "Insertion loss (dB)", None, None, None]
    rows = [above, ["Link", "Grade", "Length (m)", *days.values()]]
    rows += [
        [x.label, x.grade, pen.number(x.length_m), *(pen.number(x.of("insertion loss", p).value) for p in PAIRS)]
        for x in copper_links()
    ]
    formats = {(1, 3 + n): "d-m" for n in range(4)}
    return {"dates.xlsx": files.workbook([files.Sheet("IL", rows, [(0, 3, 0, 6)], cell_formats=formats)])}


_GAIN = ("Insertion loss", "NEXT", "PSNEXT", "Return loss")


@layout(
    SPELL, "insertion loss, crosstalk and return loss as negative gain", view=pair_by_pair, absent=VALUES_ONLY, **COPPER
)
def pairs_gain_notation():
    head, *body = each_pair(Pen(), copper_links())
    rows = [
        ["-" + cell if name.startswith(_GAIN) else cell for name, cell in zip(head, row, strict=True)] for row in body
    ]
    return {"gain.csv": files.text([head, *rows])}


@layout(SPELL, "feet, kilohertz, microseconds, kiloohm", view=pair_by_pair, **COPPER)
def pairs_other_units():
    pen = Pen()
    rows = [
        [
            "Link",
            "Grade",
            "Configuration",
            "Length (ft)",
            "Wire map",
            "Date",
            "Parameter",
            "Pair",
            "End",
            "Frequency (kHz)",
            "Value",
            "Limit",
            "Margin",
            "Unit",
            "Verdict",
        ]
    ]
    scale = {"ns": ("µs", Decimal(1000)), "Ω": ("kΩ", Decimal(1000)), "dB": ("dB", Decimal(1))}
    for link in copper_links():
        feet = (link.length_m / METERS_PER_FOOT).quantize(Decimal(1))
        for r in link.readings:
            shown, by = scale[unit(r.parameter)]
            mhz = None if r.frequency_mhz is None else pen.number((r.frequency_mhz * 1000).quantize(Decimal(1)))
            numbers = [pen.number(x / by) for x in (r.value, r.limit, r.margin)]
            rows.append(
                [
                    *head_cells(pen, link, length=feet)[:-1],
                    NAMES[r.parameter],
                    r.pair,
                    r.end,
                    mhz,
                    *numbers,
                    shown,
                    pen.verdict(r.margin >= 0),
                ]
            )
    return {"units.csv": files.text(rows)}


@layout(SPELL, "values, frequencies and margins with units in the cells", view=pair_by_pair, **COPPER)
def pairs_units_in_cells():
    head, *body = long_rows(Pen(decimal=","), pair_by_pair)
    place = {name: n for n, name in enumerate(head)}
    rows = [[name.replace(" (MHz)", "") for name in head if name != "Unit"]]
    for row in body:
        own = list(row)
        for name in ("Value", "Limit", "Margin"):
            own[place[name]] += f" {row[place['Unit']]}"
        if own[place["Frequency (MHz)"]]:
            own[place["Frequency (MHz)"]] += " MHz"
        del own[place["Unit"]]
        rows.append(own)
    return {"cells.csv": files.text(rows, delimiter=";")}


_LANGUAGES = {
    "german": ({"parameter": "Messgröße", "pair": "Paar", "end": "Seite", "frequency": "Frequenz (MHz)", "value": "Messwert", "limit": "Grenzwert",
                "margin": "Reserve", "unit": "Einheit", "verdict": "Bewertung"},
               ["Bezeichnung", "Kategorie", "Konfiguration", "Länge (m)", "Verdrahtung", "Datum"],
               {"insertion loss": "Einfügedämpfung", "NEXT": "NEXT", "PSNEXT": "PSNEXT", "ACR-F": "ACR-F", "PSACR-F": "PSACR-F",
                "return loss": "Rückflussdämpfung", "propagation delay": "Laufzeit", "delay skew": "Laufzeitdifferenz",
                "loop resistance": "Schleifenwiderstand"}, "de", "Installationsstrecke"),
    "french": ({"parameter": "Paramètre", "pair": "Paire", "end": "Extrémité", "frequency": "Fréquence (MHz)", "value": "Valeur", "limit": "Limite",
                "margin": "Marge", "unit": "Unité", "verdict": "Résultat"},
               ["Repère", "Catégorie", "Configuration", "Longueur (m)", "Schéma de câblage", "Date"],
               {"insertion loss": "Perte d'insertion", "NEXT": "Paradiaphonie", "PSNEXT": "PSNEXT", "ACR-F": "ACR-F", "PSACR-F": "PSACR-F",
                "return loss": "Affaiblissement de réflexion", "propagation delay": "Temps de propagation", "delay skew": "Écart de propagation",
                "loop resistance": "Résistance de boucle"}, "fr", "lien permanent"),
    "spanish": ({"parameter": "Parámetro", "pair": "Par", "end": "Extremo", "frequency": "Frecuencia (MHz)", "value": "Valor", "limit": "Límite",
                 "margin": "Margen", "unit": "Unidad", "verdict": "Resultado"},
                ["Enlace", "Categoría", "Configuración", "Longitud (m)", "Mapa de cableado", "Fecha"],
                {"insertion loss": "Pérdida de inserción", "NEXT": "Paradiafonía", "PSNEXT": "PSNEXT", "ACR-F": "ACR-F", "PSACR-F": "PSACR-F",
                 "return loss": "Pérdida de retorno", "propagation delay": "Retardo de propagación", "delay skew": "Diferencia de retardo",
                 "loop resistance": "Resistencia de bucle"}, "es", "enlace permanente"),
}  # fmt: skip


def _language(name, words, heads, names, code, configuration):
    def write():
        pen = Pen(code, decimal=",", date="%d.%m.%Y" if code == "de" else "%d/%m/%Y")
        rows = long_rows(pen, pair_by_pair, words=words, names=names)
        rows = [[*heads, *rows[0][len(heads) :]], *([*row[:2], configuration, *row[3:]] for row in rows[1:])]
        rows = [["Ohm" if cell == "Ω" else cell for cell in row] for row in rows]
        return {f"{name}.csv": files.text(rows, delimiter=";", encoding="cp1252")}

    register(f"pairs_{name}", SPELL, f"{name.title()}, one row per reading, `Ohm` written out", write,
             view=pair_by_pair, **COPPER)  # fmt: skip


WIRE_MAPS = {
    "wire_map_pins": ("12345678/12345678", "12345678/12365478"),
    "wire_map_list": ("1-1 2-2 3-3 4-4 5-5 6-6 7-7 8-8", "1-1 2-2 3-5 4-4 5-3 6-6 7-7 8-8"),
    "wire_map_open": ("ok", "open 4,5 @ 32 m"),
    "wire_map_short": ("pass", "short 1-2"),
    "wire_map_split": ("correct", "split 3,6-4,5"),
}


def _wire_map(name, good, bad):
    def write():
        rows = each_pair(Pen(), copper_links())
        place = HEAD.index("Wire map")
        rows = [
            [
                good if cell == "PASS" and c == place else bad if cell == "FAIL" and c == place else cell
                for c, cell in enumerate(row)
            ]
            for row in rows
        ]
        return {f"{name}.csv": files.text(rows)}

    register(name, SPELL, f"wire map as `{good}` or `{bad}`", write, view=pair_by_pair, absent=VALUES_ONLY, **COPPER)


for _name, (_good, _bad) in WIRE_MAPS.items():
    _wire_map(_name, _good, _bad)
for _name, _parts in _LANGUAGES.items():
    _language(_name, *_parts)
