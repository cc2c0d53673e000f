"""What goes in and what comes out: one file's bytes, the decisions that hold for its headings, the tables made from it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from analyzer import schema
from analyzer.errors import FileUnreadable, NothingToJudge
from analyzer.points import Points

if TYPE_CHECKING:
    import pandas as pd

    from analyzer.importing.column_map import TableMap


class EmptyFile(FileUnreadable):
    """The file holds nothing."""

    status = "empty"


class NoTable(FileUnreadable):
    """The file can be opened, but no table of results stands in it."""

    status = "not a table"


class OwnOutput(FileUnreadable):
    """The file was written by this program: it is an answer, not evidence."""

    status = "own output"


class HeadingsOnly(FileUnreadable, NothingToJudge):
    """Headings were found, and no row under them."""

    status = "empty"


@dataclass(frozen=True)
class Source:
    """One file: its name as told to the user (relative, `/` between folders, `a.zip!b.csv` in a ZIP) and its bytes."""

    name: str
    data: bytes = field(repr=False)

    @cached_property
    def sha256(self) -> str:
        """Hash of the bytes, 64 hexadecimal digits."""
        return hashlib.sha256(self.data).hexdigest()

    @property
    def suffix(self) -> str:
        """Ending of the name in small letters, with its dot; empty where there is none."""
        base = self.name.rsplit("!", 1)[-1].rsplit("/", 1)[-1]
        return "." + base.rsplit(".", 1)[-1].lower() if "." in base else ""


@dataclass(frozen=True)
class Tallies:
    """What one file tells about decisions that hold for every file with the same headings.

    Each item is (heading fingerprint, question, answer, votes); questions are `decimal mark` (answers `.`, `,`),
    `sign 3` (column 3; answers `negative`, `positive`, `large` for a loss below -0.2), `date order 3` (column 3)
    and `date order` (the whole table; answers `day first`, `month first`).
    """

    votes: tuple[tuple[int, str, str, int], ...] = ()

    @property
    def fingerprints(self) -> frozenset[int]:
        """The heading fingerprints this file voted for."""
        return frozenset(vote[0] for vote in self.votes)


@dataclass(frozen=True)
class Decisions:
    """Answers to those questions: (heading fingerprint, question, answer), sorted, so that equal decisions are equal."""

    answers: tuple[tuple[int, str, str], ...] = ()

    @cached_property
    def _by_question(self) -> dict[tuple[int, str], str]:
        return {(fingerprint, question): answer for fingerprint, question, answer in self.answers}

    def __hash__(self) -> int:
        return hash(self.answers)

    def get(self, fingerprint: int, question: str) -> str | None:
        """The answer for headings with this fingerprint, or None where nothing was decided."""
        return self._by_question.get((fingerprint, question))

    def decimal_mark(self, fingerprint: int) -> str | None:
        """`.` or `,`, or None where nothing was decided."""
        return self.get(fingerprint, "decimal mark")

    def date_order(self, fingerprint: int, col: int) -> str | None:
        """`day first` or `month first`: what the column itself proves, else what the table does, else None."""
        return self.get(fingerprint, f"date order {col}") or self.get(fingerprint, "date order")

    def gain_notation(self, fingerprint: int, col: int) -> bool:
        """Whether the losses of this column are written as negative gain."""
        return self.get(fingerprint, f"sign {col}") == "gain"

    def only(self, fingerprints: frozenset[int]) -> Decisions:
        """The decisions about these headings: what one file depends on."""
        return Decisions(tuple(answer for answer in self.answers if answer[0] in fingerprints))


@dataclass(frozen=True)
class ReadContext:
    """What reading depends on besides the bytes.

    `decisions` come from `settle` over all files; `None` lets each file decide alone.
    `medium` says what a column headed `insertion loss` measures where the file itself does not tell.
    `maps` say what the columns of some shapes of table mean; the first of a shape counts.
    """

    decisions: Decisions | None = None
    medium: str = "fiber"
    maps: tuple[TableMap, ...] = ()


def _no_curves() -> pd.DataFrame:
    return schema.empty("curves")


def _no_events() -> pd.DataFrame:
    return schema.empty("events")


@dataclass
class Imported:
    """The tables of one file, ids from 0; each frame follows `analyzer.schema.TABLES`."""

    file: dict[str, Any]
    blocks: pd.DataFrame
    columns: pd.DataFrame
    records: pd.DataFrame
    readings: pd.DataFrame
    set_aside: pd.DataFrame
    seeds: pd.DataFrame
    """code (text), record (int32, -1 for the whole file), text: what the reader wants to be known."""
    tallies: Tallies
    curves: pd.DataFrame = field(default_factory=_no_curves)
    """Schema `curves`: one row for each curve of a sweep table."""
    points: Points = field(default_factory=Points)
    """The points of those curves."""
    events: pd.DataFrame = field(default_factory=_no_events)
    """Schema `events`: one row for each event of a trace."""
