"""The workbook: the judged tables in cells that compute, for a reader who trusts arithmetic and not programs.

The allowance of every fiber reading stands as a formula over its own cells (coefficient times length, matings, splices),
margins and totals likewise, so that whoever changes a cell sees what follows. Text stays text whatever it looks like.
Where a part of the limit does not follow from the cells beside it (an own limit decides, a fact is missing), the number
stands as a number, and the column `limit source` says where it comes from.
"""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from analyzer.report.package.cover import summary_sentence
from analyzer.report.package.tables import dictionary, package_tables
from analyzer.report.page_data import CAUTIONS
from analyzer.report.project import project_lines
from analyzer.report.wording import CEILINGS
from analyzer.schema import STANDING_LINE, Analysis

MOST_ROWS: Final = 1_000_000
"""Rows of readings on one sheet; more go to further sheets. A spreadsheet holds 1,048,576."""
_LONGEST_TEXT: Final = 32_000
_AGREE: Final = 1e-9

_LINKS: Final = (
    "label", "verdict", "medium", "type", "configuration", "length_m", "margin_db", "decided_by", "missing", "attempts",
    "cable", "strand", "place_a", "place_b", "area", "scheduled", "sentence",
)  # fmt: skip
_READINGS: Final = (
    "link", "parameter", "wavelength_nm", "pair", "end", "direction", "frequency_mhz", "value", "bound", "unit",
    "coefficient_db_per_km", "length_m", "matings_in_reading", "mated_pair_db", "splices", "splice_db",
    "cable_db", "matings_db", "splices_db", "limit", "margin", "margin_says", "verdict", "basis", "counts", "in_force",
    "reason", "limit_source", "file", "sheet", "row", "column",
)  # fmt: skip
_WIDTH: Final = {
    "sentence": 60,
    "reason": 40,
    "limit_source": 60,
    "message": 90,
    "next_step": 60,
    "meaning": 60,
    "text": 60,
    "link": 18,
    "label": 18,
    "file": 30,
    "decided_by": 34,
    "links": 40,
}
_MEANING: Final = {
    "link": "label of the link",
    "coefficient_db_per_km": "attenuation allowed to the cable [dB/km]",
    "length_m": "length of the link [m]",
    "matings_in_reading": "matings in the reading: mated pairs + plug ends - cords that the reference subtracts",
    "mated_pair_db": "allowed for one mating [dB]",
    "splices": "splices in the link",
    "splice_db": "allowed for one splice [dB]",
    "cable_db": "formula: coefficient x length / 1000",
    "matings_db": "formula: matings x allowance for one",
    "splices_db": "formula: splices x allowance for one",
    "limit": "formula where the three parts are known: their sum",
    "margin": "formula: limit - value for what may not be exceeded, value - limit for what must be reached",
    "margin_says": "formula: pass where the margin is not negative",
}


def workbook_bytes(analysis: Analysis, *, draft: Sequence[str], made: dt.datetime) -> bytes:
    """The workbook; the same analysis and time give the same bytes.

    Args:
        analysis: a judged run.
        draft: what keeps it from being final; every sheet says so where there is something.
        made: time that its properties state.
    """
    import xlsxwriter  # type: ignore[import-untyped]  # no types are published

    sink = io.BytesIO()
    options = {
        "in_memory": True, "constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False,
        "strings_to_numbers": False, "nan_inf_to_errors": False, "default_date_format": "yyyy-mm-dd hh:mm",
    }  # fmt: skip
    with xlsxwriter.Workbook(sink, options) as book:
        book.set_properties({"title": "Results of cabling tests", "comments": STANDING_LINE, "created": made})
        writer = _Writer(book, draft)
        tables = package_tables(analysis)
        links = analysis.links.assign(decided_by=tables["links"]["decided_by"])[list(_LINKS)]
        _summary(writer, analysis, len(links), made)
        writer.table("Links", links)
        _readings(writer, analysis, tables["readings"])
        writer.table("Findings", tables["findings"])
        writer.table("Set aside", tables["set_aside"])
        writer.table("Limits", tables["limits"])
        writer.table("Records", tables["records"])
        writer.table("Dictionary", _dictionary(tables))
    return sink.getvalue()


@dataclass
class _Writer:
    """Writes sheets from frames: a bold frozen head, a filter, real numbers and dates."""

    book: Any
    draft: Sequence[str]

    def __post_init__(self) -> None:
        self.bold = self.book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 2})
        self.title = self.book.add_format({"bold": True, "font_size": 14})
        self.wrap = self.book.add_format({"text_wrap": True, "valign": "top"})
        self.plain = self.book.add_format({"valign": "top"})
        self.notice = "DRAFT. " if self.draft else ""

    def sheet(self, name: str) -> Any:
        sheet = self.book.add_worksheet(name)
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        sheet.set_paper(9)
        sheet.repeat_rows(0)
        sheet.set_footer(f"&L{self.notice}{STANDING_LINE.replace('&', '&&')}&R&A &P / &N")
        if self.draft:
            sheet.set_header("&CDRAFT")
        return sheet

    def table(self, name: str, frame: pd.DataFrame) -> None:
        sheet = self.head(name, list(frame.columns), len(frame))
        for row, cells in enumerate(_rows(frame), start=1):
            sheet.write_row(row, 0, cells)

    def head(self, name: str, columns: Sequence[str], rows: int) -> Any:
        sheet = self.sheet(name)
        for at, column in enumerate(columns):
            sheet.set_column(at, at, _WIDTH.get(column, 13))
        sheet.set_row(0, 32)
        sheet.write_row(0, 0, [column.replace("_", " ") for column in columns], self.bold)
        sheet.freeze_panes(1, 1)
        if columns:
            sheet.autofilter(0, 0, max(rows, 1), len(columns) - 1)
        return sheet


def _rows(frame: pd.DataFrame) -> Iterable[tuple[Any, ...]]:
    """Rows as plain Python cells; missing is an empty cell."""
    columns = [_cells(frame[name]) for name in frame.columns]
    return zip(*columns, strict=True) if columns else ()


def _cells(values: pd.Series) -> list[Any]:
    kind = values.dtype
    if isinstance(kind, pd.CategoricalDtype):
        values = values.astype("object")
    if str(kind).startswith("datetime64"):
        return [None if pd.isna(moment) else moment.to_pydatetime() for moment in values]
    if kind == np.float64:
        numbers = values.to_numpy()
        return [
            number if ok else None for number, ok in zip(numbers.tolist(), np.isfinite(numbers).tolist(), strict=True)
        ]
    if kind == np.bool_:
        return ["yes" if mark else "no" for mark in values.tolist()]
    if values.dtype.kind in "iu":
        return [number if number >= 0 else None for number in values.tolist()]
    return [text[:_LONGEST_TEXT] if isinstance(text, str) else None for text in values.astype("object").tolist()]


def _summary(writer: _Writer, analysis: Analysis, links: int, made: dt.datetime) -> None:
    sheet = writer.sheet("Summary")
    sheet.set_column(0, 0, 34)
    sheet.set_column(1, 1, 80)
    lines: list[tuple[Any, Any]] = [
        (f"{writer.notice}{summary_sentence(analysis)}", None),
        (STANDING_LINE, None),
        ("", None),
    ]
    lines += (
        [
            ("This workbook belongs to a draft. What keeps it from being final:", None),
            *(("", part) for part in writer.draft),
        ]
        if writer.draft
        else []
    )
    lines += project_lines(analysis)
    lines += [("made (UTC)", f"{made:%Y-%m-%d %H:%M}"), ("", None), ("Totals, counted from the sheet Links", None)]
    span = f"Links!$B$2:$B${max(links, 1) + 1}"
    totals = analysis.totals
    lines += [("links", (f"=COUNTA(Links!$A$2:$A${max(links, 1) + 1})", totals["links"]))]
    lines += [
        (name, (f'=COUNTIF({span},"{name}")', totals[name])) for name in ("pass", "marginal", "fail", "incomplete")
    ]
    lines += [("", None), ("Rules in force", None), *(("", rule) for rule in analysis.rules)]
    lines += [("", None), ("Looser than the standard", None if analysis.looser else "nothing")]
    lines += [("", f"{item['what']}: {item.get('granted_by') or 'granted by nobody'}") for item in analysis.looser]
    lines += [("", None), ("Cautions", None), *(("", text) for text in CAUTIONS)]
    for row, (word, said) in enumerate(lines):
        sheet.write(
            row, 0, word, writer.title if row == 0 else (writer.bold if said is None and word else writer.plain)
        )
        if isinstance(said, tuple):
            sheet.write_formula(row, 1, said[0], writer.plain, said[1])
        elif said is not None:
            sheet.write(row, 1, str(said), writer.wrap)


def _readings(writer: _Writer, analysis: Analysis, readings: pd.DataFrame) -> None:
    frame, live = _with_parts(analysis, readings)
    for number, first in enumerate(range(0, max(len(frame), 1), MOST_ROWS), start=1):
        part = frame.iloc[first : first + MOST_ROWS]
        sheet = writer.head("Readings" if number == 1 else f"Readings {number}", list(_READINGS), len(part))
        marks = [live[name][first : first + MOST_ROWS].tolist() for name in _LIVE]
        for row, (cells, made) in enumerate(zip(_rows(part), zip(*marks, strict=True), strict=True), start=1):
            sheet.write_row(row, 0, cells)
            for at, formula in enumerate(_formulas(row + 1, made)):
                if formula:
                    column = _LIVE_AT[at]
                    sheet.write_formula(row, column, formula, None, "" if cells[column] is None else cells[column])


_LIVE: Final = ("cable", "matings", "splices", "sum", "ceiling", "floor")
_LIVE_AT: Final = tuple(
    _READINGS.index(name) for name in ("cable_db", "matings_db", "splices_db", "limit", "margin", "margin_says")
)


def _formulas(row: int, made: Sequence[bool]) -> list[str]:
    """Formulas of one row (as a spreadsheet counts), empty where a number stands."""
    cable, matings, splices, total, ceiling, floor = made
    return [
        f"=K{row}*L{row}/1000" if cable else "",
        f"=M{row}*N{row}" if matings else "",
        f"=O{row}*P{row}" if splices else "",
        f"=Q{row}+R{row}+S{row}" if total else "",
        (f"=T{row}-H{row}" if ceiling else f"=H{row}-T{row}") if ceiling or floor else "",
        f'=IF(U{row}>=-0.000000001,"pass","fail")' if ceiling or floor else "",
    ]


def _with_parts(analysis: Analysis, readings: pd.DataFrame) -> tuple[pd.DataFrame, dict[str, np.ndarray]]:
    """The readings with the parts of their limit, and which cells follow from the cells beside them."""
    facts = analysis.facts.set_index("record").reindex(readings["record"].to_numpy())
    limit_of = analysis.judged.set_index("reading")["limit_id"].reindex(readings["reading"].to_numpy())
    limits = analysis.limits.set_index("limit_id").reindex(limit_of.to_numpy())
    frame = readings.assign(
        **{name: limits[name].to_numpy() for name in ("coefficient_db_per_km", "mated_pair_db", "splice_db")},
        **{name: facts[name].to_numpy() for name in ("length_m", "matings_in_reading", "splices")},
    )
    number = {
        name: frame[name].to_numpy(float) for name in _READINGS if name in frame and frame[name].dtype == np.float64
    }
    with np.errstate(invalid="ignore"):
        live = {
            "cable": np.abs(number["coefficient_db_per_km"] * number["length_m"] / 1000 - number["cable_db"]) <= _AGREE,
            "matings": np.abs(number["matings_in_reading"] * number["mated_pair_db"] - number["matings_db"]) <= _AGREE,
            "splices": np.abs(number["splices"] * number["splice_db"] - number["splices_db"]) <= _AGREE,
            "sum": np.abs(number["cable_db"] + number["matings_db"] + number["splices_db"] - number["limit"]) <= _AGREE,
        }
        below = frame["parameter"].isin(list(CEILINGS)).to_numpy()
        difference = np.where(below, number["limit"] - number["value"], number["value"] - number["limit"])
        told = np.abs(difference - number["margin"]) <= _AGREE
    live |= {"ceiling": told & below, "floor": told & ~below}
    # parts of a limit that is not shown would only puzzle
    shown = ~np.isnan(number["limit"])
    for name in ("coefficient_db_per_km", "matings_in_reading", "mated_pair_db", "splice_db", "splices", "length_m"):
        frame[name] = frame[name].where(shown & (frame["parameter"] == "loss").to_numpy())
    frame["margin_says"] = pd.Series(
        np.where(told, np.where(number["margin"] >= -_AGREE, "pass", "fail"), ""), index=frame.index, dtype="str"
    ).replace("", np.nan)
    return frame[list(_READINGS)], live


def _dictionary(tables: dict[str, pd.DataFrame]) -> pd.DataFrame:
    own = pd.DataFrame(
        [("Readings", name.replace("_", " "), "", "", text) for name, text in _MEANING.items()],
        columns=["table", "column", "type", "unit", "meaning"],
    )
    return pd.concat([own, dictionary(tables)], ignore_index=True)
