"""What stands where in the PDF: cover, summary with charts, exceptions first, then every link."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Literal

from analyzer.report.package.cover import exceptions, summary_sentence
from analyzer.report.page_data import CAUTIONS
from analyzer.report.pdf import charts
from analyzer.report.pdf.link_blocks import blocks, print_compact, print_page
from analyzer.report.pdf.sheet import BOLD, SOFT, Sheet
from analyzer.report.project import project_lines
from analyzer.report.wording import counted
from analyzer.schema import STANDING_LINE, Analysis


def pdf_bytes(
    analysis: Analysis, *, draft: Sequence[str], made: dt.datetime, layout: Literal["compact", "page"] = "compact"
) -> bytes:
    """The report; the same analysis and time give the same bytes.

    Args:
        analysis: a judged run.
        draft: what keeps it from being final; every page says draft where there is something.
        made: time that every page states (UTC).
        layout: one block or one page for each link.
    """
    about = analysis.job.job if analysis.job is not None else None
    name = (about.name if about is not None else None) or "Results of cabling tests"
    sheet = Sheet(name, "DRAFT: this package is not final" if draft else "", made, summary_sentence(analysis))
    _cover(sheet, analysis, name, draft)
    _summary(sheet, analysis)
    _exceptions(sheet, analysis)
    if layout == "compact":
        sheet.new_page()
        sheet.heading("Every link")
    else:
        sheet.heading("Every link")
        sheet.text("One page for each link follows, in the order of the evidence.", color=SOFT)
    for block in blocks(analysis):
        (print_compact if layout == "compact" else print_page)(sheet, block)
    return sheet.finished()


def _cover(sheet: Sheet, analysis: Analysis, name: str, draft: Sequence[str]) -> None:
    sheet.y -= 60
    sheet.bookmark("Cover", 0)
    sheet.text(name, font=BOLD, size=20)
    sheet.text(summary_sentence(analysis), size=12)
    sheet.text(STANDING_LINE, size=9, color=SOFT)
    sheet.y -= 10
    for word, said in project_lines(analysis):
        if word != "job":  # the title says it
            sheet.text(f"{word.capitalize()}: {said}", size=10)
    if draft:
        sheet.heading("This package is a draft")
        sheet.text("What keeps it from being final:")
        for part in draft:
            sheet.text(f"- {part}", indent=10)
    sheet.heading("Rules in force")
    for rule in analysis.rules:
        sheet.text(f"- {rule}", indent=10)
    sheet.heading("Looser than the standard")
    for item in analysis.looser:
        who = ", ".join(str(item[key]) for key in ("granted_by", "date", "reference") if item.get(key))
        sheet.text(f"- {item['what']}: {who or 'granted by nobody'}", indent=10)
    if not analysis.looser:
        sheet.text("Nothing.")
    sheet.heading("Cautions")
    for text in CAUTIONS:
        sheet.text(f"- {text}", indent=10)


def _summary(sheet: Sheet, analysis: Analysis) -> None:
    sheet.new_page()
    sheet.heading("Summary")
    sheet.draw(40, charts.shares(analysis.totals))
    drawn = charts.margins(analysis)
    if drawn is not None:
        sheet.text("Least margin of each link", font=BOLD)
        sheet.draw(124, drawn)
    drawn = charts.loss_against_length(analysis)
    if drawn is not None:
        sheet.text(
            "Loss against length: a dot is a reading, a square one that fails, a dash what that reading is allowed",
            font=BOLD,
        )
        sheet.draw(160, drawn)
    if analysis.findings:
        sheet.heading("Findings")
        rows = [(found.severity, found.message, found.next_step) for found in analysis.findings]
        sheet.table((10, 55, 35), ("", "finding", "next step"), rows)


def _exceptions(sheet: Sheet, analysis: Analysis) -> None:
    rows = exceptions(analysis)
    sheet.heading("Exceptions")
    if not rows:
        sheet.text("None: every link passes.")
        return
    sheet.text(counted(len(rows), "link is", "links are") + " not a plain pass.")
    sheet.table((20, 14, 66), ("link", "verdict", "reason"), rows)
