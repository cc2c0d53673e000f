"""Exports of twisted-pair links as imaginary crews would make them; no layout is taken from any tester or program."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from scene_campus import SITE
from scene_layouts import new_workbook, number, text_table
from scene_pair_readings import COLUMNS, WORST, Tested, Worst
from scene_pairs import delays_ns

UNIT = {"propagation delay": "ns", "delay skew": "ns"}
NAME = {
    "insertion loss": "Insertion loss", "return loss": "Return loss", "propagation delay": "Propagation delay",
    "delay skew": "Delay skew",
}  # fmt: skip


def _unit(parameter: str) -> str:
    return UNIT.get(parameter, "dB")


def _value(worst: Worst, value: float, mark: str = ".") -> str:
    return number(value, 0 if _unit(worst.parameter) == "ns" else 1, mark)


def _headings() -> list[str]:
    """Value, limit and margin of each worst reading, its pair unless it is named already, its frequency if it has one."""
    found: list[str] = []
    for parameter, pair, end in WORST:
        name, unit = NAME.get(parameter, parameter), _unit(parameter)
        of_all = not pair and parameter != "delay skew"
        stem = " ".join(filter(None, (name, pair, end)))
        found += [f"{'Worst ' if of_all else ''}{stem} ({unit})", f"{stem} limit ({unit})", f"{stem} margin ({unit})"]
        found += [f"{stem} pair"] if of_all else []
        found += [f"{stem} frequency (MHz)"] if unit == "dB" else []
    return found


def _cells(one: Tested) -> list[Any]:
    """Cells under `_headings`: numbers as numbers, nothing where nothing was measured."""
    made = {
        (worst.parameter, worst.pair if worst.parameter == "insertion loss" else "", worst.end): worst
        for worst in one.worst
    }
    found: list[Any] = []
    for key in WORST:
        worst, (parameter, pair, _) = made.get(key), key
        found += [worst.value, worst.limit, worst.margin] if worst else [None] * 3
        found += [worst and worst.pair] if not pair and parameter != "delay skew" else []
        found += [worst and worst.frequency_mhz] if _unit(parameter) == "dB" else []
    return found


def worst_by_link_xlsx(path: Path, made: Sequence[Tested]) -> None:
    """A title line, then one row per link."""
    book = new_workbook(path)
    sheet = book.add_worksheet("Data points")
    bold, day = book.add_format({"bold": True}), book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    sheet.write(0, 0, f"Twisted-pair results, {SITE}", bold)
    head = ["Link", "Grade", "Configuration", "Length (m)", "Wire map", "Tested at"]
    sheet.write_row(2, 0, [*head, *_headings(), "Tester", "Operator"], bold)
    for row, one in enumerate(made, start=3):
        facts = [one.link.label, one.grade, one.link.configuration, one.link.length_m, one.link.wire_map]
        sheet.write_row(row, 0, facts)
        sheet.write_datetime(row, 5, one.tested_at, day)
        sheet.write_row(row, 6, [*_cells(one), "T-11", "crew E"])
    book.close()


def worst_by_link_csv(made: Sequence[Tested]) -> bytes:
    """One row per link, semicolons and decimal commas; the limit that the tester had loaded by name."""
    head = ["Link", "Test limit", "Length (m)", "Wire map", "Date"]
    rows: list[Sequence[Any]] = [[*head, *_headings()]]
    for one in made:
        cells = [number(cell, 1, ",") if isinstance(cell, float) else cell for cell in _cells(one)]
        facts = [one.link.label, f"TIA Cat {one.grade} {one.link.configuration}", number(one.link.length_m, 1, ",")]
        rows.append([*facts, one.link.wire_map, f"{one.tested_at:%d.%m.%Y}", *cells])
    return text_table(rows, ";", "utf-8-sig")


def worst_by_reading_csv(made: Sequence[Tested]) -> bytes:
    """One row per worst reading."""
    head = ["Link", "Grade", "Configuration", "Length (m)", "Wire map", "Tested at", "Parameter", "Pair", "End"]
    rows: list[Sequence[Any]] = [[*head, "Frequency (MHz)", "Worst value", "Limit", "Margin", "Unit", "Result"]]
    for one in made:
        facts = [one.link.label, one.grade, one.link.configuration, number(one.link.length_m, 1), one.link.wire_map]
        for worst in one.worst:
            place = [NAME.get(worst.parameter, worst.parameter), worst.pair, worst.end]
            f_mhz = "" if math.isnan(worst.frequency_mhz) else number(worst.frequency_mhz, 1)
            value, limit, margin = (_value(worst, x) for x in (worst.value, worst.limit, worst.margin))
            said = ["PASS" if worst.margin >= 0 else "FAIL"]
            when = f"{one.tested_at:%Y-%m-%d %H:%M}"
            rows.append([*facts, when, *place, f_mhz, value, limit, margin, _unit(worst.parameter), *said])
    return text_table(rows, ",", "utf-8")


def wiring_csv(made: Sequence[Tested]) -> bytes:
    """What has no sweep: length, wire map, delay of each pair, skew."""
    pairs = list(delays_ns(made[0].link))
    head = ["Link", "Grade", "Configuration", "Length (m)", "Wire map", "Tested at", "Delay skew (ns)"]
    rows: list[Sequence[Any]] = [[*head, *(f"Propagation delay {pair} (ns)" for pair in pairs)]]
    for one in made:
        facts = [one.link.label, one.grade, one.link.configuration, number(one.link.length_m, 1), one.link.wire_map]
        delays = list(delays_ns(one.link).values())
        rows.append([*facts, f"{one.tested_at:%Y-%m-%d %H:%M}", max(delays) - min(delays), *delays])
    return text_table(rows, ",", "utf-8")


def sweep_csv(made: Sequence[Tested]) -> bytes:
    """The link and what it was tested as above; one row per frequency, one column per parameter, pair and end."""
    (one,) = made
    head = [" ".join(filter(None, (NAME.get(name, name), pair, end, "(dB)"))) for name, pair, end in COLUMNS]
    about = [["Link", one.link.label], ["Grade", one.grade], ["Configuration", one.link.configuration]]
    rows: list[Sequence[Any]] = [
        *about,
        ["Tested at", f"{one.tested_at:%Y-%m-%d %H:%M}"],
        [],
        ["Frequency (MHz)", *head],
    ]
    for at, f_mhz in enumerate(one.f_mhz):
        rows.append([number(float(f_mhz), 1), *(number(float(one.sweep[key][at]), 1) for key in COLUMNS)])
    return text_table(rows, ",", "utf-8")


def accounts(layout: str, made: Sequence[Tested]) -> dict[str, int]:
    """Data rows of a file and its reading cells that are not empty; length and wire map are readings too."""
    worst = sum(len(one.worst) for one in made)
    if layout == "worst_by_reading_csv":
        return {"data_rows": worst, "reading_cells": 3 * worst}
    if layout == "wiring_csv":
        return {"data_rows": len(made), "reading_cells": 7 * len(made)}
    if layout == "sweep_csv":
        points = len(made[0].f_mhz)
        return {"data_rows": points, "reading_cells": points * len(made[0].sweep)}
    return {"data_rows": len(made), "reading_cells": worst + 2 * len(made)}
