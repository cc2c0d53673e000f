"""The charts of the PDF, drawn with lines and boxes: shares of verdicts, distribution of margins, loss against length."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import numpy as np

from analyzer.report.pdf.sheet import COLORS, INK, PLAIN, RULE, SOFT
from analyzer.schema import Analysis

Drawing = Callable[[Any, float, float, float], None]
VERDICTS: Final = ("pass", "marginal", "fail", "incomplete")
_MOST_DOTS: Final = 3000
_BINS: Final = 40


def shares(totals: dict[str, int]) -> Drawing:
    """One bar whose parts are the true shares, each with its word and count below."""

    def draw(pen: Any, left: float, bottom: float, width: float) -> None:
        count = sum(totals[name] for name in VERDICTS) or 1
        x = left
        for name in VERDICTS:
            span = width * totals[name] / count
            pen.setFillColorRGB(*COLORS[name])
            pen.rect(x, bottom + 18, span, 12, stroke=0, fill=1)
            x += span
        pen.setFont(PLAIN, 8)
        for number, name in enumerate(VERDICTS):
            at = left + number * width / len(VERDICTS)
            pen.setFillColorRGB(*COLORS[name])
            pen.rect(at, bottom + 2, 7, 7, stroke=0, fill=1)
            pen.setFillColorRGB(*INK)
            pen.drawString(at + 11, bottom + 2, f"{name}: {totals[name]:,}")

    return draw


def margins(analysis: Analysis) -> Drawing | None:
    """How many links have which least margin [dB]; None where none has one."""
    values = analysis.links["margin_db"].to_numpy(float)
    values = values[np.isfinite(values)]
    if not len(values):
        return None
    low, high = np.percentile(values, [0.5, 99.5])
    low, high = min(low, 0.0), max(high, low + 0.1, 0.1)
    counts, edges = np.histogram(np.clip(values, low, high), bins=_BINS, range=(low, high))

    def draw(pen: Any, left: float, bottom: float, width: float) -> None:
        height, base = 92.0, bottom + 24
        step, tallest = width / _BINS, max(int(counts.max()), 1)
        for number, count in enumerate(counts.tolist()):
            pen.setFillColorRGB(*COLORS["fail" if edges[number + 1] <= 0 else "pass"])
            pen.rect(left + number * step, base, step - 0.8, height * count / tallest, stroke=0, fill=1)
        _axis(pen, left, base, width, low, high, "least margin of a link [dB]")
        zero = left + width * (0 - low) / (high - low)
        pen.setStrokeColorRGB(*INK)
        pen.line(zero, base, zero, base + height)
        pen.setFont(PLAIN, 7)
        pen.drawString(zero + 3, base + height - 6, "limit")
        pen.drawRightString(left + width, base + height - 6, f"tallest bar: {tallest:,} links")

    return draw


def loss_against_length(analysis: Analysis) -> Drawing | None:
    """Losses in force over length with what is allowed above each; None where there is no fiber."""
    readings, judged = analysis.readings, analysis.judged
    length = analysis.facts.set_index("record")["length_m"].reindex(readings["record"].to_numpy()).to_numpy(float)
    value, limit = readings["value"].to_numpy(float), judged["limit"].to_numpy(float)
    keep = (readings["parameter"] == "loss").to_numpy() & judged["in_force"].to_numpy()
    keep &= np.isfinite(length) & np.isfinite(value) & readings["bound"].isna().to_numpy()
    at = np.flatnonzero(keep)
    if not len(at):
        return None
    fails = judged["verdict"].isin(["fail", "marginal fail"]).to_numpy()
    if len(at) > _MOST_DOTS:  # every failure, and an even share of the rest
        rest = at[~fails[at]]
        at = np.concatenate([at[fails[at]], rest[:: max(len(rest) // _MOST_DOTS, 1)]])
    most_m = float(np.max(length[at])) or 1.0
    most_db = float(np.nanmax(np.concatenate([value[at], limit[at]]))) or 1.0

    def draw(pen: Any, left: float, bottom: float, width: float) -> None:
        height, base = 130.0, bottom + 24
        _axis(pen, left, base, width, 0.0, most_m, "length [m]")
        for db in np.linspace(0, most_db, 5)[1:].tolist():
            y = base + height * db / most_db
            pen.setStrokeColorRGB(*RULE)
            pen.setLineWidth(0.4)
            pen.line(left, y, left + width, y)
            pen.setFillColorRGB(*SOFT)
            pen.drawString(left + 2, y + 2, f"{db:.1f} dB")
        for i in at.tolist():
            x = left + width * length[i] / most_m
            pen.setFillColorRGB(*SOFT)
            if np.isfinite(limit[i]):
                pen.rect(x - 1.6, base + height * limit[i] / most_db, 3.2, 0.6, stroke=0, fill=1)
            pen.setFillColorRGB(*COLORS["fail" if fails[i] else "pass"])
            y = base + height * max(value[i], 0.0) / most_db
            if fails[i]:
                pen.rect(x - 1.8, y - 1.8, 3.6, 3.6, stroke=0, fill=1)
            else:
                pen.circle(x, y, 1.3, stroke=0, fill=1)

    return draw


def _axis(pen: Any, left: float, base: float, width: float, low: float, high: float, name: str) -> None:
    pen.setStrokeColorRGB(*INK)
    pen.setLineWidth(0.6)
    pen.line(left, base, left + width, base)
    pen.setFillColorRGB(*SOFT)
    pen.setFont(PLAIN, 7)
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        text = f"{low + share * (high - low):.4g}"
        x = left + width * share
        (pen.drawString if share == 0 else pen.drawRightString if share == 1 else pen.drawCentredString)(
            x, base - 9, text
        )
    pen.drawCentredString(left + width / 2, base - 19, name)
