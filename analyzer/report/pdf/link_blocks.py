"""One link in the PDF: a compact block, or a page of its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from analyzer.report.package.tables import reading_names
from analyzer.report.pdf.sheet import BOLD, COLORS, PLAIN, SOFT, Sheet
from analyzer.report.wording import allowed, margin, measured
from analyzer.schema import Analysis

_COMPACT: Final = 4
"""Readings of a compact block: those nearest to their limit."""
_WORD: Final = {"pass": "pass", "marginal": "pass within uncertainty", "fail": "fail", "incomplete": "incomplete"}


@dataclass(frozen=True)
class Block:
    """What is printed of one link."""

    label: str
    verdict: str
    about: str
    sentence: str
    rows: list[tuple[str, str, str, str, str]]
    """Reading, measured, limit, margin, verdict; nearest to its limit first."""
    source: str


def blocks(analysis: Analysis) -> Iterator[Block]:
    """Every link in the order of the table."""
    readings, judged = analysis.readings, analysis.judged
    by_record = pd.Series(analysis.records["link"].to_numpy(), index=analysis.records["record"].to_numpy())
    link = by_record.reindex(readings["record"].to_numpy()).to_numpy()
    names = reading_names(analysis).to_numpy(dtype=object)
    limits = analysis.limits.set_index("limit_id")["text"]
    text = judged["limit_id"].map(limits).to_numpy(dtype=object)
    files = analysis.blocks.set_index("block")["file"].map(analysis.files.set_index("file")["name"])
    place = readings["block"].map(files).astype("str").to_numpy(dtype=object)
    force = judged["in_force"].to_numpy()
    near = np.nan_to_num(judged["margin"].to_numpy(float), nan=np.inf)
    failed = judged["verdict"].isin(["fail", "marginal fail"]).to_numpy()
    order = np.lexsort((near, ~failed, ~force, link))
    starts = np.searchsorted(link[order], np.arange(len(analysis.links) + 1))
    columns = {
        "parameter": readings["parameter"].astype("str").to_numpy(dtype=object),
        "value": readings["value"].to_numpy(float), "bound": readings["bound"].astype("object").to_numpy(),
        "limit": judged["limit"].to_numpy(float), "margin": judged["margin"].to_numpy(float),
        "verdict": judged["verdict"].astype("str").to_numpy(dtype=object),
        "mhz": readings["frequency_mhz"].to_numpy(float), "row": readings["row"].to_numpy(),
    }  # fmt: skip
    for number, (label, verdict, about, said) in enumerate(_heads(analysis)):
        mine = order[starts[number] : starts[number + 1]]
        rows = [_row(names, columns, i, in_force=bool(force[i])) for i in mine.tolist()]
        sources = sorted({str(text[i]) for i in mine.tolist() if isinstance(text[i], str)})
        places = sorted({f"{place[i]}, row {columns['row'][i]}" for i in mine.tolist()})
        yield Block(
            label,
            verdict,
            about,
            said,
            rows,
            "; ".join(
                [*sources, "from " + ", ".join(places[:3]) + (" ..." if len(places) > 3 else "")] if places else sources
            ),
        )


def _heads(analysis: Analysis) -> Iterator[tuple[str, str, str, str]]:
    links = analysis.links
    told = {
        name: links[name].astype("object").where(links[name].notna(), None).tolist()
        for name in ("label", "verdict", "type", "configuration", "length_m", "place_a", "place_b", "sentence")
    }
    for label, verdict, kind, configuration, length_m, place_a, place_b, said in zip(*told.values(), strict=True):
        places = f"{place_a or '?'} to {place_b or '?'}" if place_a or place_b else None
        parts = [kind, configuration, None if length_m is None else f"{length_m:.1f} m", places]
        yield str(label), str(verdict), ", ".join(str(part) for part in parts if part), said or ""


def _row(names: np.ndarray, columns: dict[str, Any], i: int, *, in_force: bool) -> tuple[str, str, str, str, str]:
    parameter, value, mhz = columns["parameter"][i], columns["value"][i], columns["mhz"][i]
    name = str(names[i]) + ("" if np.isnan(mhz) else f", {mhz:g} MHz") + ("" if in_force else " (replaced)")
    bound = columns["bound"][i]
    seen = "-" if np.isnan(value) and not isinstance(bound, str) else measured(value, bound, parameter)
    return (
        name,
        seen,
        allowed(columns["limit"][i], parameter),
        margin(columns["margin"][i], parameter),
        str(columns["verdict"][i]),
    )


def print_compact(sheet: Sheet, block: Block) -> None:
    """A few lines: the head, the readings nearest to their limit, how many more there are."""
    rows = block.rows[:_COMPACT]
    sheet.room(34 + 10 * len(rows))
    _head(sheet, block, 9)
    for row in rows:
        sheet.text("   ".join(part for part in row if part), size=7, indent=12)
    if len(block.rows) > len(rows):
        sheet.text(
            f"and {len(block.rows) - len(rows)} more readings, farther from their limits; results.xlsx holds them",
            size=7,
            color=SOFT,
            indent=12,
        )


def print_page(sheet: Sheet, block: Block) -> None:
    """A page (more where the readings need more) with every reading and its source."""
    sheet.new_page()
    _head(sheet, block, 13)
    if block.rows:
        sheet.table((34, 18, 20, 18, 14), ("reading", "measured", "limit", "margin", "verdict"), block.rows)
    if block.source:
        sheet.text(f"Limits and source: {block.source}", size=7, color=SOFT)


def _head(sheet: Sheet, block: Block, size: float) -> None:
    sheet.y -= 4
    sheet.bookmark(block.label, 1)
    sheet.text(
        f"{block.label}: {_WORD.get(block.verdict, block.verdict)}", font=BOLD, size=size, color=_dark(block.verdict)
    )
    if block.about:
        sheet.text(block.about, font=PLAIN, size=7.5)
    if block.sentence and block.verdict != "pass":
        sheet.text(block.sentence, size=7.5)


def _dark(verdict: str) -> tuple[float, float, float]:
    red, green, blue = COLORS.get(verdict, (0.0, 0.0, 0.0))
    return red * 0.75, green * 0.75, blue * 0.75
