"""Planned links as files: a CSV that spreadsheets open without harm, and one page that needs no network."""

from __future__ import annotations

import base64
import csv
import hashlib
import html
import importlib.resources
import io
import math
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final

from analyzer import __version__
from analyzer.report.labels import ranges
from analyzer.report.plan_table import CAUTIONS, EXPECTED, UNCONFIRMED, link_words, plan_notes, power_lines
from analyzer.report.wording import counted, number
from analyzer.schema import OWN_MARK

if TYPE_CHECKING:
    import pandas as pd

    from analyzer.budget.planned import PlannedLink, PlannedWavelength

STANDING: Final = f"{OWN_MARK} from what is planned; nothing here was measured."
"""Last line of the CSV and second of the page; it keeps a plan from being read as evidence."""
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
"""First characters that make a spreadsheet compute a text."""
DECIMALS: Final = 4
PAGE_COLUMNS: Final = {
    "label": "Link", "type": "Type", "length_m": "Length, m", "wavelength_nm": "nm", "reference": "Reference",
    "matings_in_reading": "Matings in the reading", "splices": "Splices", "allowed_db": "At most, dB",
    "expected_db": "Done well: middle, dB", "expected_97_db": "97 of 100, dB", "service_db": "In service, dB",
    "power_margin_db": "Power left, dB", "longest_length_m": "Longest, m", "problem": "Problem",
}  # fmt: skip
_WHOLE: Final = frozenset({"wavelength_nm", "matings_in_reading", "splices"})


def plan_csv(planned: pd.DataFrame) -> str:
    """What `planned_many.plan_links` returned, as CSV text: numbers with at most 4 decimals, missing ones empty.

    A text that a spreadsheet would take for a formula gets an apostrophe in front. The last line is the standing line.
    """
    table = planned.drop(columns="row").round(DECIMALS)
    for name in table.columns:
        if table[name].dtype == "str" or table[name].dtype == object:
            table[name] = [safe(text) for text in table[name].tolist()]
    out = io.StringIO()
    table.to_csv(out, index=False, lineterminator="\n")
    csv.writer(out, lineterminator="\n").writerow([STANDING])
    return out.getvalue()


def safe(text: Any) -> str:
    """A text that no spreadsheet computes; missing is empty."""
    if not isinstance(text, str):
        return ""
    return f"'{text}" if text.startswith(_FORMULA) else text


def links_page(planned: pd.DataFrame) -> str:
    """The page of many planned links: a table, the cautions, what it rests on."""
    rows = int(planned["label"].nunique())
    problems = int((planned["problem"] != "").sum())
    head = f"Plan of {counted(rows, 'link')}" + (f": {counted(problems, 'line')} with a problem" if problems else "")
    has_power = bool(planned["power_margin_db"].notna().any())
    hidden = set() if has_power else {"power_margin_db", "longest_length_m"}
    hidden |= set() if problems else {"problem"}
    shown = {name: words for name, words in PAGE_COLUMNS.items() if name not in hidden}
    cells = [[_cell(name, value) for value in column] for name, column in _folded(planned, list(shown)).items()]
    table = _table(list(shown.values()), zip(*cells, strict=True), numeric=_numeric(shown))
    limits = dict.fromkeys(text for text in planned["limit"].tolist() if text)
    reasons = dict.fromkeys(text for text in planned["not_expected"].tolist() if text)
    notes = [EXPECTED, *(f"Nothing is expected: {text}" for text in reasons)]
    unconfirmed = [UNCONFIRMED] if any("unconfirmed" in text for text in limits) else []
    return _page(head, [("Links", table), ("Notes", _list([*notes, *unconfirmed])), ("Rests on", _list(limits))])


def _folded(planned: pd.DataFrame, names: list[str]) -> dict[str, list[Any]]:
    """The columns shown, with lines that differ in nothing but their label folded to one that names them all."""
    others = [name for name in names if name != "label"]
    groups = planned.groupby(others, sort=False, dropna=False)["label"]
    first = planned.drop_duplicates(others)
    folded = {name: first[name].tolist() for name in others}
    labels = [", ".join(ranges([str(label) for label in some])) for _, some in groups]
    return {name: labels if name == "label" else folded[name] for name in names}


def link_page(planned: PlannedLink) -> str:
    """The page of one planned link: per wavelength the sum as a bar and as numbers, and what to read on the day."""
    sections = [(f"{each.wavelength_nm} nm", _wavelength(each, planned)) for each in planned.wavelengths]
    sections.append(("Notes", _list([*plan_notes(planned), *([] if planned.confirmed else [UNCONFIRMED])])))
    sections.append(("Rests on", _list(f"{source.row_id} {source.text}" for source in planned.sources)))
    return _page(f"Plan: {link_words(planned)}", sections)


def _wavelength(each: PlannedWavelength, planned: PlannedLink) -> str:
    service = each.service
    parts = [
        ("cable", service.cable_db), ("matings", service.matings_db), ("splices", service.splices_db),
        ("other", service.other_db),
    ]  # fmt: skip
    there = [(word, value) for word, value in parts if value > 0]
    words = " + ".join(f"{word} {number(value)}" for word, value in there)
    lines = [f"<p>{html.escape(words)} = {number(service.allowed_db)} dB allowed in service</p>"]
    if service.allowed_db > 0:
        lines.append(_bar(there, service.allowed_db, service.expected_97_db))
    if service.expected_db is not None and service.expected_97_db is not None:
        lines.append(
            f"<p>Done well it loses {number(service.expected_db)} dB in the middle; 97 of 100 such links stay under "
            f"{number(service.expected_97_db)} dB (dotted).</p>"
        )
    lines += [f"<p>{html.escape(line.strip())}.</p>" for line in power_lines(each, planned)]
    rows = [
        (reading.reference, str(reading.budget.matings_in_reading), number(reading.budget.allowed_db),
         _or_unknown(reading.budget.expected_db), _or_unknown(reading.budget.expected_97_db), "")
        if reading.budget is not None
        else (reading.reference, "", "", "", "", reading.problem)
        for reading in each.readings
    ]  # fmt: skip
    heads = ["Reference", "Matings in it", "At most, dB", "Done well: middle, dB", "97 of 100, dB", "Problem"]
    return "".join(lines) + "<p>On the day the tester should read:</p>" + _table(heads, rows, numeric={1, 2, 3, 4})


def _or_unknown(value: float | None) -> str:
    return "no source" if value is None else number(value)


def _bar(parts: Sequence[tuple[str, float]], whole: float, line: float | None) -> str:
    """The allowed loss as a bar of its parts, drawn by an inline picture, so that no style stands in the markup."""
    x, drawn = 0.0, []
    for word, value in parts:
        width = 600 * value / whole
        drawn.append(f'<rect class="{word}" x="{x:.1f}" y="2" width="{max(width - 1, 0.5):.1f}" height="18"/>')
        x += width
    if line is not None and line <= whole:
        at = 600 * line / whole
        drawn.append(f'<line class="expected" x1="{at:.1f}" x2="{at:.1f}" y1="0" y2="22"/>')
    words = ", ".join(f"{word} {number(value)} dB" for word, value in parts)
    return (
        f'<svg class="plan" viewBox="0 0 600 22" preserveAspectRatio="none" role="img" aria-label="{html.escape(words)}"><title>'
        f"{html.escape(words)}</title>{''.join(drawn)}</svg>"
    )


def _cell(name: str, value: Any) -> str:
    if isinstance(value, str):
        return value
    if value is None or math.isnan(value):
        return ""
    if name in _WHOLE:
        return f"{value:.0f}"
    return number(float(value), 0 if name.endswith("_m") else 2)


def _numeric(shown: Iterable[str]) -> set[int]:
    return {at for at, name in enumerate(shown) if name.endswith(("_db", "_m", "_nm", "reading", "splices"))}


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]], numeric: set[int]) -> str:
    def line(tag: str, cells: Sequence[str]) -> Iterator[str]:
        for at, text in enumerate(cells):
            kind = ' class="number"' if at in numeric else ""
            yield f"<{tag}{kind}>{html.escape(text)}</{tag}>"

    head = "".join(line("th", heads))
    body = "".join(f"<tr>{''.join(line('td', row))}</tr>" for row in rows)
    return f'<div class="wide"><table class="sheet"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'


def _list(texts: Iterable[str]) -> str:
    return "<ul>" + "".join(f"<li>{html.escape(text)}</li>" for text in texts) + "</ul>"


def _page(title: str, sections: Sequence[tuple[str, str]]) -> str:
    style = _template("page.css") + _template("plan.css")
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode("ascii")
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    body = "".join(f"<section><h2>{html.escape(name)}</h2>{inside}</section>" for name, inside in sections)
    cautions = _list(CAUTIONS)
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{html.escape(policy)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n<meta name="referrer" content="no-referrer">\n'
        f"<title>{html.escape(f'cableproof: {title}')}</title>\n<style>{style}</style>\n</head>\n<body>\n<main>\n"
        f'<header><h1>{html.escape(title)}</h1><p class="standing">{html.escape(STANDING)}</p></header>\n'
        f"{body}<section><h2>Cautions</h2>{cautions}</section>\n</main>\n"
        f"<footer><p>cableproof {html.escape(__version__)}. This file needs no network and sends nothing.</p></footer>\n"
        "</body>\n</html>\n"
    )


def _template(name: str) -> str:
    text = (importlib.resources.files("analyzer.report") / "templates" / name).read_text(encoding="utf-8")
    return text.replace("\r\n", "\n")
