"""The paper: a canvas with a cursor that runs down the page, head and foot on every page, wrapped text, tables.

The typeface is the one that reportlab carries, so that the same report is the same bytes on every machine. Signs that
it lacks are written by their code, `[U+05D0]`: a label is never silently changed.
"""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Callable, Sequence
from functools import cache
from typing import Any, Final

from analyzer.schema import STANDING_LINE

PLAIN: Final = "Vera"
BOLD: Final = "VeraBd"
INK: Final = (0.11, 0.13, 0.16)
SOFT: Final = (0.34, 0.37, 0.41)
RULE: Final = (0.83, 0.81, 0.77)
COLORS: Final = {
    "pass": (0.0, 0.447, 0.698),
    "marginal": (0.722, 0.471, 0.0),
    "fail": (0.835, 0.369, 0.0),
    "incomplete": (0.702, 0.376, 0.549),
}
"""Okabe and Ito's, as the page has them; the word stands beside every one."""
_MARGIN: Final = 48.0


class Sheet:
    """A4 pages; `y` is how far down the next line stands, in points from the bottom."""

    def __init__(self, title: str, notice: str, made: dt.datetime, subject: str) -> None:
        from reportlab.lib.pagesizes import A4  # type: ignore[import-untyped]  # reportlab carries no types
        from reportlab.pdfgen.canvas import Canvas  # type: ignore[import-untyped]

        _register()
        self._sink = io.BytesIO()
        self._canvas = Canvas(self._sink, pagesize=A4, invariant=1, pageCompression=1)
        self.width, self.height = A4
        self.left, self.right = _MARGIN, self.width - _MARGIN
        self.title, self.notice, self.made = title, notice, made
        self._canvas.setTitle(printable(title))
        self._canvas.setSubject(printable(subject))
        self._canvas.setAuthor("cableproof")
        self._canvas.setCreator(STANDING_LINE)
        self._pages = 0
        self._begin()

    def _begin(self) -> None:
        self._pages += 1
        self.y = self.height - _MARGIN - 14
        pen = self._canvas
        pen.setFillColorRGB(*SOFT)
        pen.setFont(PLAIN, 7)
        pen.drawString(self.left, self.height - 34, cut(self.title, PLAIN, 7, self.right - self.left - 60))
        pen.drawRightString(self.right, self.height - 34, f"page {self._pages}")
        pen.drawString(
            self.left, 28, cut(f"{self.made:%Y-%m-%d %H:%M} UTC. {STANDING_LINE}", PLAIN, 7, self.right - self.left)
        )
        if self.notice:
            pen.setFillColorRGB(*COLORS["marginal"])
            pen.setFont(BOLD, 8)
            pen.drawCentredString(self.width / 2, 40, self.notice)
        pen.setFillColorRGB(*INK)

    def new_page(self) -> None:
        """Begin the next page."""
        self._canvas.showPage()
        self._begin()

    def room(self, height: float) -> None:
        """Go to the next page unless so much room is left."""
        if self.y - height < _MARGIN + 8:
            self.new_page()

    @property
    def left_over(self) -> float:
        """Room that is left on this page."""
        return float(self.y - _MARGIN - 8)

    def bookmark(self, text: str, level: int) -> None:
        """A bookmark to where the cursor stands."""
        key = f"b{self._pages}-{self.y:.1f}-{level}-{len(text)}"
        self._canvas.bookmarkHorizontal(key, 0, self.y + 14)
        self._canvas.addOutlineEntry(printable(text)[:120], key, level, closed=level > 0)

    def heading(self, text: str, size: float = 12, level: int = 0) -> None:
        """A heading with its bookmark and a rule above."""
        self.room(size + 40)
        self.y -= 10
        self._canvas.setStrokeColorRGB(*INK)
        self._canvas.setLineWidth(1.2)
        self._canvas.line(self.left, self.y, self.right, self.y)
        self.y -= size + 5
        self.bookmark(text, level)
        self._canvas.setFont(BOLD, size)
        self._canvas.drawString(self.left, self.y, cut(text, BOLD, size, self.right - self.left))
        self.y -= 8

    def text(
        self, text: str, *, font: str = PLAIN, size: float = 8.5, color: Sequence[float] = INK, indent: float = 0.0
    ) -> None:
        """A paragraph, wrapped."""
        for line in wrapped(text, font, size, self.right - self.left - indent):
            self.room(size + 4)
            self.y -= size + 3.5
            self._canvas.setFillColorRGB(*color)
            self._canvas.setFont(font, size)
            self._canvas.drawString(self.left + indent, self.y, line)
        self._canvas.setFillColorRGB(*INK)
        self.y -= 2

    def table(
        self, widths: Sequence[float], head: Sequence[str], rows: Sequence[Sequence[str]], size: float = 7.5
    ) -> None:
        """A table; `widths` are shares of the width. Cells wrap; the head stands again on every page."""
        room = self.right - self.left
        spans = [share / sum(widths) * room for share in widths]
        self._row(head, spans, BOLD, size)
        for row in rows:
            lines = [wrapped(cell, PLAIN, size, span - 6) for cell, span in zip(row, spans, strict=True)]
            height = max(map(len, lines)) * (size + 2.5) + 4
            if self.y - height < _MARGIN + 8:
                self.new_page()
                self._row(head, spans, BOLD, size)
            self._cells(lines, spans, PLAIN, size)

    def _row(self, cells: Sequence[str], spans: Sequence[float], font: str, size: float) -> None:
        lines = [wrapped(cell, font, size, span - 6) for cell, span in zip(cells, spans, strict=True)]
        self.room(max(map(len, lines)) * (size + 2.5) + 20)
        self._cells(lines, spans, font, size)

    def _cells(self, lines: Sequence[Sequence[str]], spans: Sequence[float], font: str, size: float) -> None:
        pen = self._canvas
        pen.setFont(font, size)
        x = self.left
        for cell, span in zip(lines, spans, strict=True):
            for number, line in enumerate(cell):
                pen.drawString(x, self.y - (number + 1) * (size + 2.5), line)
            x += span
        self.y -= max(map(len, lines)) * (size + 2.5) + 4
        pen.setStrokeColorRGB(*RULE)
        pen.setLineWidth(0.4)
        pen.line(self.left, self.y + 1, self.right, self.y + 1)

    def draw(self, height: float, what: Callable[[Any, float, float, float], None]) -> None:
        """Room for a drawing: `what(canvas, left, bottom, width)`."""
        self.room(height)
        self.y -= height
        self._canvas.saveState()
        what(self._canvas, self.left, self.y, self.right - self.left)
        self._canvas.restoreState()

    def finished(self) -> bytes:
        """The whole file."""
        self._canvas.save()
        return self._sink.getvalue()


@cache
def _register() -> frozenset[int]:
    """Make the typeface known; the signs that it has."""
    from reportlab.pdfbase import pdfmetrics  # type: ignore[import-untyped]
    from reportlab.pdfbase.ttfonts import TTFont  # type: ignore[import-untyped]

    for name in (PLAIN, BOLD):
        pdfmetrics.registerFont(TTFont(name, f"{name}.ttf"))
    return frozenset(pdfmetrics.getFont(PLAIN).face.charToGlyph)


@cache
def _shown(sign: str) -> str:
    known = _register()
    if sign.isprintable() and ord(sign) in known:
        return sign
    return _LIKE.get(sign) or (" " if sign.isspace() else f"[U+{ord(sign):04X}]")


_LIKE: Final = {"…": "...", "−": "-", "–": "-", "\u2011": "-", "“": '"', "”": '"', "’": "'", "→": "->"}


def printable(text: str) -> str:
    """The text in signs that the typeface has."""
    return "".join(map(_shown, text))


@cache
def _width(sign: str, font: str) -> float:
    from reportlab.pdfbase import pdfmetrics

    return float(pdfmetrics.stringWidth(sign, font, 1.0))


def width_of(text: str, font: str, size: float) -> float:
    """Width of printable text in points."""
    return sum(_width(sign, font) for sign in text) * size


def cut(text: str, font: str, size: float, room: float) -> str:
    """One line that fits; what does not fit ends in three dots."""
    text = printable(text)
    if width_of(text, font, size) <= room:
        return text
    while text and width_of(text + "...", font, size) > room:
        text = text[:-1]
    return text + "..."


def wrapped(text: str, font: str, size: float, room: float) -> list[str]:
    """Lines that fit; a word longer than a line is broken."""
    lines: list[str] = []
    line, used = "", 0.0
    for word in printable(text).split(" "):
        width = width_of(word, font, size)
        space = _width(" ", font) * size if line else 0.0
        if used + space + width <= room:
            line, used = f"{line} {word}" if line else word, used + space + width
            continue
        if line:
            lines.append(line)
        *whole, line = _broken(word, font, size, room)
        lines += whole
        used = width_of(line, font, size)
    return [*lines, line] if line or not lines else lines


def _broken(word: str, font: str, size: float, room: float) -> list[str]:
    """A word in parts that fit."""
    parts = []
    while len(word) > 1 and width_of(word, font, size) > room:
        fits = len(word)
        while fits > 1 and width_of(word[:fits], font, size) > room:
            fits = max(fits * 3 // 4, 1)
        parts.append(word[:fits])
        word = word[fits:]
    return [*parts, word]
