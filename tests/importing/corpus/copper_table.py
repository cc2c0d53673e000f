"""Tables of twisted-pair results: headings and cells that every family of layouts shares."""

from __future__ import annotations

from corpus.copper_truth import KEYS, PAIRS, UNITS, copper_links

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


VALUES_ONLY = ("margin", "limits", "frequency_mhz")
"""Facts that a table of plain values does not carry."""
