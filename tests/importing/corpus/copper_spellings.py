"""Spellings of pairs, parameters, units, wire maps and languages in twisted-pair tables."""

from __future__ import annotations

import tomllib
from datetime import date
from decimal import Decimal
from pathlib import Path

from corpus import files
from corpus.copper_table import COPPER, HEAD, NAMES, VALUES_ONLY, each_pair, head_cells, heading, long_rows, unit
from corpus.copper_truth import PAIRS, copper_links, pair_by_pair
from corpus.layout import Pen, layout, register
from corpus.truth import METERS_PER_FOOT

SPELL = "pairs: spellings"


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


_LANGUAGES = tomllib.loads(Path(__file__).with_name("copper_words.toml").read_text(encoding="utf-8"))


def _language(name, words):
    def write():
        code, heads, configuration = words["code"], words["heads"], words["configuration"]
        pen = Pen(code, decimal=",", date="%d.%m.%Y" if code == "de" else "%d/%m/%Y")
        rows = long_rows(pen, pair_by_pair, words=words["columns"], names=words["parameters"])
        rows = [[*heads, *rows[0][len(heads) :]], *([*row[:2], configuration, *row[3:]] for row in rows[1:])]
        rows = [["Ohm" if cell == "Ω" else cell for cell in row] for row in rows]
        return {f"{name}.csv": files.text(rows, delimiter=";", encoding="cp1252")}

    register(f"pairs_{name}", SPELL, f"{name.title()}, one row per reading, `Ohm` written out", write,
             view=pair_by_pair, **COPPER)  # fmt: skip


GRADES = {"grade_cat_6a": "Cat 6A", "grade_category_6a": "Category 6A", "grade_cat6a": "CAT6A", "grade_c6a": "CAT.6A"}


def _grade(name, spelled):
    def write():
        rows = each_pair(Pen(), copper_links())
        place = HEAD.index("Grade")
        return {
            f"{name}.csv": files.text(
                [[spelled if c == place and n else cell for c, cell in enumerate(row)] for n, row in enumerate(rows)]
            )
        }

    register(name, SPELL, f"grade as `{spelled}`", write, view=pair_by_pair, absent=VALUES_ONLY, **COPPER)


for _name, _spelled_grade in GRADES.items():
    _grade(_name, _spelled_grade)


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
for _name, _words in _LANGUAGES.items():
    _language(_name, _words)
