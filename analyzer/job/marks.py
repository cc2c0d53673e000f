"""Marks that reviewers made: small JSON files beside the job, read and merged; every mistake is one sentence.

    {"format": "cableproof-marks/1", "marks": [
      {"link": "TB-101-07", "mark": "accept", "note": "as agreed on site", "name": "A. Reviewer",
       "at": "2026-11-25T10:00:00", "fingerprint": "0123456789abcdef"}]}

A mark is tied to the fingerprint of the link's readings and of the files that they come from. It changes no verdict.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final, NamedTuple

from analyzer.errors import FileUnreadable
from analyzer.schema import CATEGORIES

FORMAT: Final = "cableproof-marks/1"
SUFFIX: Final = ".marks.json"
_MEND: Final = "save the marks again from the page, or remove the file"
_TEXTS: Final = ("link", "mark", "note", "name", "at", "fingerprint")


class Mark(NamedTuple):
    """One mark as a file holds it."""

    link: str
    mark: str
    note: str
    name: str
    at: str
    fingerprint: str
    file: str


def load_marks(paths: Sequence[Path]) -> list[Mark]:
    """Marks of all files, in their order; the same mark in two files is one.

    Raises:
        FileUnreadable: a file is no marks file, or an entry of it makes no sense.
    """
    marks = [mark for path in paths for mark in parse_marks(_read(path), path.name)]
    return list({mark._replace(file=""): mark for mark in reversed(marks)}.values())[::-1]


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise FileUnreadable(path.name, f"cannot be read ({error.strerror})", _MEND) from error


def parse_marks(content: bytes, name: str) -> list[Mark]:
    """Marks of one file.

    Raises:
        FileUnreadable: it is no marks file, or an entry of it makes no sense.
    """
    try:
        data = json.loads(content.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise FileUnreadable(name, "is no JSON", _MEND) from error
    entries = data.get("marks") if isinstance(data, dict) and data.get("format") == FORMAT else None
    if not isinstance(entries, list):
        raise FileUnreadable(name, f"is no file of marks (format {FORMAT})", _MEND)
    return [_mark(entry, number, name) for number, entry in enumerate(entries, start=1)]


def _mark(entry: Any, number: int, name: str) -> Mark:
    told = {key: entry.get(key, "") for key in _TEXTS} if isinstance(entry, dict) else {"link": None}
    if not all(isinstance(text, str) for text in told.values()) or not told["link"] or not told["name"]:
        raise FileUnreadable(name, f"mark {number} does not name a link and who marked it", _MEND)
    if told["mark"] not in CATEGORIES["mark"]:
        known = ", ".join(CATEGORIES["mark"])
        raise FileUnreadable(name, f"mark {number} ({told['link']}) is {told['mark']!r} and not one of {known}", _MEND)
    return Mark(**told, file=name)
