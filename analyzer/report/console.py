"""What a terminal can show: its width, whether it takes color, which signs it has. Lines in, text out."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TextIO

SIGNS = {
    "−": "-", "–": "-", "—": "-", "…": "..", "±": "+/-", "×": "x", "·": "-", "µ": "u", "Ω": "ohm", "§": "clause ",
    "≤": "<=", "≥": ">=", "²": "2", "“": '"', "”": '"', "\N{LEFT SINGLE QUOTATION MARK}": "'", "’": "'", "→": "->", "°": " deg ", "\xa0": " ",
}  # fmt: skip
"""Our own signs in plain ASCII, for consoles that have no others."""

STYLES = {
    "fail": "1;38;2;213;94;0", "incomplete": "1;38;2;204;121;167", "marginal": "1;38;2;240;228;66",
    "pass": "1;38;2;86;180;233", "strong": "1", "quiet": "2",
}  # fmt: skip
"""Terminal styles; the colors are those of Okabe and Ito (2008), told apart with any color vision on black."""

_BREAK = re.compile(
    r"(?<!\d)(?<!\bmargin)(?<!\ballowed)(?<!\bneeded)(?<!\bleast)(?<! …)(?<! \.\.) (?!(?:…|\.\.) )"
    r"|(?<=\d) (?!(?:dB|nm|ns|ohm|m|MHz)\b|(?:…|\.\.) )"
)
"""Blanks where a row may end: not within a range, between a number and its unit, or before a margin or a limit."""

NARROWEST, WIDEST, UNKNOWN_WIDTH = 40, 140, 100


@dataclass(frozen=True)
class Line:
    """One paragraph: a leading word with a style, the text, and how far its further lines are indented."""

    text: str = ""
    word: str = ""
    style: str = ""
    indent: int = 0
    hanging: int = 0
    unbroken: bool = False
    """Not wrapped unless a person watches: whoever reads the output by program finds the sentence on one line."""


class Console:
    """Writes lines to a stream within its means.

    `width` in columns, `color` and `ascii_only` are found out from the stream and the environment where they are None.
    """

    def __init__(
        self,
        stream: TextIO,
        width: int | None = None,
        *,
        color: bool | None = None,
        ascii_only: bool | None = None,
    ) -> None:
        self._stream = stream
        self._watched = bool(getattr(stream, "isatty", lambda: False)())
        self.width = width or _width(watched=self._watched)
        self._color = self._watched and _wants_color() if color is None else color
        self._ascii = not _has_signs(stream) if ascii_only is None else ascii_only
        self._encoding = "ascii" if ascii_only else getattr(stream, "encoding", None) or "utf-8"

    def write(self, lines: Iterable[Line]) -> None:
        """Wrap, style and write the lines in one go."""
        self._stream.write("".join(f"{text}\n" for line in lines for text in self._rendered(line)))

    def _rendered(self, line: Line) -> list[str]:
        word = self.plain(line.word)
        text = self.plain(f"{line.word} {line.text}".strip() if word else line.text)
        if not text:
            return [""]
        width = 10**6 if line.unbroken and not self._watched else self.width
        rows = wrapped(text, width, line.indent, line.indent + line.hanging)
        if self._color and line.style:
            painted = word or rows[0].strip()
            rows[0] = rows[0].replace(painted, f"\x1b[{STYLES[line.style]}m{painted}\x1b[0m", 1)
        return rows

    def plain(self, text: str) -> str:
        """The text without control characters (a label must not steer the terminal) and with signs that exist here."""
        text = "".join(sign if sign.isprintable() else "?" for sign in text.replace("\t", " "))
        if self._ascii:
            text = "".join(SIGNS.get(sign, sign) for sign in text)
        return text.encode(self._encoding, errors="backslashreplace").decode(self._encoding)


def wrapped(text: str, width: int, first: int, further: int) -> list[str]:
    """The text in rows of at most `width` columns, broken at blanks only; wide characters count two columns.

    `first` and `further` are the indents of the first row and of those after it. A word longer than the width stays
    whole: a path must remain copyable.
    """
    rows: list[str] = []
    row, used = " " * first, first
    for word in _words(text):
        size = columns(word)
        begun = row.strip() != ""
        if begun and used + 1 + size > width:
            rows.append(row.rstrip())
            row, used, begun = " " * further, further, False
        row += f" {word}" if begun else word
        used += size + (1 if begun else 0)
    return [*rows, row.rstrip()]


def _words(text: str) -> Sequence[str]:
    """The words of a text; a number and its unit are one word."""
    return _BREAK.split(text)


def columns(text: str) -> int:
    """How many columns a text takes on a terminal."""
    if text.isascii():
        return len(text)
    from rich.cells import cell_len

    return cell_len(text)


def padded(text: str, width: int) -> str:
    """The text filled up with blanks to a number of columns."""
    return text + " " * max(0, width - columns(text))


def _width(*, watched: bool) -> int:
    if not watched and not os.environ.get("COLUMNS"):
        return UNKNOWN_WIDTH
    return min(WIDEST, max(NARROWEST, shutil.get_terminal_size((UNKNOWN_WIDTH, 24)).columns))


def _wants_color() -> bool:
    return not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def _has_signs(stream: TextIO) -> bool:
    try:
        "−…±".encode(getattr(stream, "encoding", None) or "utf-8")
    except (UnicodeEncodeError, LookupError):
        return False
    return True
