"""The cells of one table of events: every row with a distance becomes an event, or is set aside.

Reflectance is kept as it is defined, zero or negative (-45 dB). A column of positive numbers is the same written as
return loss (45 dB): no reflection is stronger than the light, so the sign can mean nothing else. It is told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd

from analyzer.importing.blocks import Block
from analyzer.importing.cells import ABOVE, BELOW, NO_BOUND
from analyzer.importing.columns import Use
from analyzer.importing.events import CORD_ROLES, VALUE_ROLES, stated_lengths
from analyzer.importing.fact_columns import read_facts
from analyzer.importing.parsed import PROBLEMS, Parsed, category_codes, factors, parse_column
from analyzer.importing.row_attributes import row_attributes
from analyzer.importing.row_labels import texts_at
from analyzer.importing.rows import classify
from analyzer.importing.source import Decisions, Tallies
from analyzer.importing.table import TableResult, identity
from analyzer.importing.votes import votes_of
from analyzer.importing.words import plain, set_aside_codes, units, word
from analyzer.schema import CATEGORIES

_COLUMN = {"event loss": "loss_db", "event reflectance": "reflectance_db", "event cumulative loss": "cumulative_db"}
_UNBELIEVABLE_DB = {"loss_db": 60.0, "cumulative_db": 90.0, "reflectance_db": 100.0}
"""Beyond the range of any instrument: a decimal mark was lost."""
_CODES = (*PROBLEMS, "no-distance-cell", "bound-in-event", "no-label-cell")
_CODE = {name: number for number, name in enumerate(_CODES)}


@dataclass
class EventResult(TableResult):
    """What one table of events gave; `readings` is empty, the cells used are losses and reflectances of events."""

    events: pd.DataFrame = field(default_factory=pd.DataFrame)
    cells_used: int = 0


def event_votes(block: Block, uses: list[Use]) -> Tallies:
    """What the cells tell about decimal mark and order of dates; signs are no question here."""
    numbers = {*VALUE_ROLES, *CORD_ROLES, "event position"}
    asked = [replace(use, role="limit") if use.role in numbers else use for use in uses]
    return votes_of(block, asked)


def read_events(block: Block, uses: list[Use], decisions: Decisions) -> EventResult:
    """Records, events and what was set aside of one table of events; ids from 0."""
    return _Reader(block, uses, decisions).read()


class _Reader:
    """Carries what the steps of one table share, and the growing list of what was set aside."""

    def __init__(self, block: Block, uses: list[Use], decisions: Decisions) -> None:
        self.block, self.uses, self.decisions = block, uses, decisions
        self.mark = decisions.decimal_mark(block.fingerprint)
        self.aside: list[dict[str, Any]] = []
        self.seeds: list[tuple[str, int, str]] = []
        naming = [replace(use, role="value") if use.role in {*VALUE_ROLES, "event position"} else use for use in uses]
        self.rows = classify(block, naming)
        self.seeds += [(code, -1, text) for code, text in self.rows.seeds]
        self.named = self.rows.labels != ""
        self.cells_read = 0

    def read(self) -> EventResult:
        """The whole way."""
        data = self.rows.data
        distance = self._distance()
        kind = self._kinds()
        has_place = np.isfinite(distance) | (kind == _KIND["end to end"])
        read = [(use, *self._values(use, has_place)) for use in self.uses if use.role in VALUE_ROLES]
        used = sum(int(good.sum()) for *_, good in read)
        good = self.named & has_place
        self._lose_rows(~self.named, "no-label")
        self._lose_rows(self.named & ~has_place, "no-distance")
        records, record_of = self._records(good)
        waves = sorted({use.wavelength_nm for use, *_ in read if use.wavelength_nm > 0}) or [-1]
        parts = []
        for wave in waves:
            columns = {name: np.full(len(data), math.nan) for name in _COLUMN.values()}
            bound = np.full(len(data), NO_BOUND, dtype=np.int8)
            for use, values, bounds, _ in read:
                if use.wavelength_nm in {-1, wave}:
                    columns[_COLUMN[use.role]] = values
                    bound = bounds if use.role == "event reflectance" else bound
            parts.append(self._events(good, record_of, distance, kind, columns, bound, wave))
        events = pd.concat(parts, ignore_index=True)
        for role, name in zip(CORD_ROLES, ("launch_m", "tail_m"), strict=True):
            events[name] = self._cord(role, events)
        told = self._from_lines_above(records, events)
        return EventResult(
            records, pd.DataFrame(), self.aside, self.seeds, len(data), int((~good).sum()),
            self.cells_read + len(told), self.mark, data, pd.concat([events, told], ignore_index=True) if len(told) else events,
            used + len(told),
        )  # fmt: skip

    def _use(self, role: str) -> Use | None:
        return next((use for use in self.uses if use.role == role), None)

    def _distance(self) -> np.ndarray:
        """Distances [m] of the data rows; NaN where none can be read."""
        use = self._use("event position")
        assert use is not None
        column = self.block.sheet.columns[use.col]
        parsed = parse_column(column, self.rows.data, self.mark)
        default = use.unit or units().get(plain(column.unit), "")
        factor = factors(parsed.unit, default or "m", "m")
        if not default and not (parsed.unit != "").all():
            self._tell("event-distance-unit", f"{use.heading!r} states no unit: taken as metres")
        usable = (parsed.problem == 0) & (parsed.bound == NO_BOUND) & (parsed.value >= 0)
        return np.asarray(np.where(usable, parsed.value * factor, math.nan))

    def _kinds(self) -> np.ndarray:
        use = self._use("event kind")
        if use is None:
            return np.full(len(self.rows.data), -1, dtype=np.int16)
        column = self.block.sheet.columns[use.col]
        said = [word("event", text) or _kind_of_words(text) if text else "" for text in column.texts]
        codes = column.codes[self.rows.data]
        unknown = sorted({column.texts[code] for code in np.unique(codes) if code and not said[code]})
        if unknown:
            self._tell("event-kind-unknown", f"{use.heading!r}: no known kind of event: {', '.join(unknown[:5])}")
        return np.asarray(category_codes("event_kind", said)[codes])

    def _values(self, use: Use, has_place: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Values [dB], bounds, and which cells were used."""
        column = self.block.sheet.columns[use.col]
        parsed = parse_column(column, self.rows.data, self.mark)
        name = _COLUMN[use.role]
        problem = parsed.problem.astype(np.int64)
        value = parsed.value * factors(parsed.unit, "dB", "dB")
        problem[(problem == 0) & np.isnan(value) & (parsed.unit != "")] = _CODE["wrong-unit"]
        problem[(problem == 0) & (np.abs(value) > _UNBELIEVABLE_DB[name])] = _CODE["impossible-value"]
        if name == "reflectance_db":
            value, bound = self._reflectance(use, value, parsed, problem)
        else:
            bound = np.full(len(value), NO_BOUND, dtype=np.int8)
            problem[(problem == 0) & (parsed.bound != NO_BOUND)] = _CODE["bound-in-event"]
        problem[(problem == 0) & np.isnan(value)] = _CODE["not-a-number"]
        problem[(problem == 0) & ~has_place] = _CODE["no-distance-cell"]
        problem[(problem == 0) & ~self.named] = _CODE["no-label-cell"]
        self.cells_read += int(parsed.filled.sum())
        self._lose_cells(use, np.where(parsed.filled, problem, 0))
        good = parsed.filled & (problem == 0)
        return np.where(good, value + 0.0, math.nan), np.where(good, bound, NO_BOUND).astype(np.int8), good

    def _reflectance(
        self, use: Use, value: np.ndarray, parsed: Parsed, problem: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """Zero or negative values, whatever the sign they were written with; a bound turns over with its value."""
        positive = (value > 0) & (problem == 0)
        if positive.any():
            negative = int(((value < 0) & (problem == 0)).sum())
            beside = f", beside {negative} negative ones" if negative else ""
            self._tell(
                "reflectance-sign",
                f"{use.heading!r}: {int(positive.sum())} positive values{beside}: return loss, kept as reflectance with a minus",
            )
        turned = {BELOW: ABOVE, ABOVE: BELOW}
        bound = np.where(positive, [turned.get(int(one), int(one)) for one in parsed.bound], parsed.bound)
        problem[(bound != BELOW) & (bound != ABOVE) & (bound != NO_BOUND)] = _CODE["bound-in-event"]
        return np.where(positive, -value, value), bound.astype(np.int8)

    def _records(self, good: np.ndarray) -> tuple[pd.DataFrame, np.ndarray]:
        """One record for each link of the table, and the record of each data row; -1 where none."""
        labels = np.where(good, self.rows.labels, "").astype(object)
        codes, texts = pd.factorize(labels)
        number = np.cumsum([text != "" for text in texts]) - 1
        blank = np.asarray([text == "" for text in texts], dtype=np.bool_)
        record_of = np.where(blank[codes], -1, number[codes]) if len(codes) else codes
        first = np.unique(record_of, return_index=True)[1][(1 if blank.any() else 0) :]
        sheet, data = self.block.sheet, self.rows.data
        found = read_facts(
            lambda use: sheet.columns[use.col], self.uses, data[first], self.mark,
            lambda use: self.decisions.date_order(self.block.fingerprint, use.col),
        )  # fmt: skip
        for at, use, code in found.rejected:
            self._lose(first[at], use, code)
        self.seeds += [(code, -1, text) for code, text in found.seeds]
        row, _ = sheet.place(data[first], np.zeros(len(first), dtype=np.int64))
        fiber = np.full(len(first), CATEGORIES["medium"].index("fiber"), dtype=np.int16)
        columns: dict[str, Any] = {
            "row": row, "col": np.full(len(first), -1), "label": labels[first], "key": identity(labels[first]),
            "strands": np.ones(len(first), dtype=np.int16), **found.arrays, "medium": fiber,
        }  # fmt: skip
        for name, cells in (("cable", self.rows.cable), ("strand", self.rows.strand)):
            if cells is not None:
                columns[name] = cells[first]
        return pd.DataFrame(columns), record_of

    def _events(
        self, good: np.ndarray, record_of: np.ndarray, distance: np.ndarray, kind: np.ndarray,
        columns: dict[str, np.ndarray], bound: np.ndarray, wave: int,
    ) -> pd.DataFrame:  # fmt: skip
        sheet, data = self.block.sheet, self.rows.data
        position = self._use("event position")
        row, col = sheet.place(data, np.full(len(data), position.col if position else -1))
        about = row_attributes(self.block, self.uses, data, self.mark)
        frame = pd.DataFrame(
            {
                "record": record_of, "row": row, "col": col, "wavelength_nm": about.wavelength if wave < 0 else wave,
                "direction": about.direction, "distance_m": distance, "kind": kind, **columns,
                "reflectance_bound": bound, "line": np.arange(len(data)),
            }
        )[good]  # fmt: skip
        counted = frame.groupby(["record", "wavelength_nm", "direction"]).cumcount() + 1
        return frame.assign(number=self._numbers(good, counted)).reset_index(drop=True)

    def _cord(self, role: str, events: pd.DataFrame) -> np.ndarray:
        """Length [m] of launch or tail cord that a column states for each event of a trace; NaN where it states none.

        Cells that contradict each other, and those without a unit, are set aside.
        """
        use = self._use(role)
        if use is None or not len(events):
            return np.full(len(events), math.nan)
        column = self.block.sheet.columns[use.col]
        parsed = parse_column(column, self.rows.data, self.mark)
        unit = use.unit or units().get(plain(column.unit), "")
        bare = parsed.filled & (parsed.unit == "") & (not unit) & (parsed.problem == 0)
        metres = np.where(parsed.problem == 0, parsed.value * factors(parsed.unit, unit or "m", "m"), math.nan)
        metres[bare] = math.nan
        self._lose(np.flatnonzero(bare), use, "unit-not-stated")
        self._lose(np.flatnonzero(parsed.filled & (parsed.problem > PROBLEMS.index("not-measured"))), use, "not-a-fact")
        line = events["line"].to_numpy()
        trace = events.assign(cord=metres[line]).groupby(["record", "wavelength_nm", "direction"])["cord"]
        varies = (trace.transform("nunique") > 1).to_numpy() & np.isfinite(metres[line])
        self._lose(np.unique(line[varies]), use, "cord-varies")
        return np.where((trace.transform("nunique") == 1).to_numpy(), trace.transform("max").to_numpy(), math.nan)

    def _numbers(self, good: np.ndarray, counted: pd.Series) -> np.ndarray:
        """Numbers of the events as written, where every row has a whole one; else counted."""
        use = self._use("event number")
        if use is None:
            return counted.to_numpy()
        value = parse_column(self.block.sheet.columns[use.col], self.rows.data, self.mark).value[good]
        whole = np.isfinite(value) & (value == np.round(value)) & (value >= 0) & (value < 10_000)
        return np.where(whole, np.nan_to_num(value, nan=0.0), counted).astype(np.int64)

    def _from_lines_above(self, records: pd.DataFrame, events: pd.DataFrame) -> pd.DataFrame:
        """Launch and tail cord written over the events; the loss from end to end as one row more."""
        sheet = self.block.sheet
        if sheet.kind != "upright" or not len(events):
            return events.iloc[:0]
        lengths, whole = stated_lengths(sheet, self.block.above, self.mark)
        events["launch_m"] = events["launch_m"].fillna(lengths.get("launch cord", math.nan))
        events["tail_m"] = events["tail_m"].fillna(lengths.get("tail cord", math.nan))
        one_trace = len(events[["record", "wavelength_nm", "direction"]].drop_duplicates()) == 1
        if whole is None or not one_trace or len(records) != 1:
            return events.iloc[:0]
        value = parse_column(sheet.columns[whole.col], np.asarray([whole.row]), self.mark).value
        if not np.isfinite(value).all():
            return events.iloc[:0]
        row, col = sheet.place(np.asarray([whole.row]), np.asarray([whole.col]))
        return events.iloc[:1].assign(
            row=row, col=col, distance_m=math.nan, kind=_KIND["end to end"], loss_db=value, reflectance_db=math.nan,
            cumulative_db=math.nan, reflectance_bound=NO_BOUND, number=0,
        )  # fmt: skip

    def _tell(self, code: str, text: str) -> None:
        self.seeds.append((code, -1, text))

    def _lose_cells(self, use: Use, problem: np.ndarray) -> None:
        for number in np.unique(problem[problem > 0]).tolist():
            self._lose(np.flatnonzero(problem == number), use, _CODES[number])

    def _lose(self, at: np.ndarray, use: Use, code: str) -> None:
        if not len(at):
            return
        counts_as, reason = set_aside_codes()[code]
        row, col = self.block.sheet.place(self.rows.data[at], np.full(len(at), use.col))
        texts = texts_at(self.block.sheet.columns[use.col], self.rows.data[at])
        self.aside.append(
            {
                "row": row, "col": col, "counts_as": counts_as, "code": code,
                "reason": reason if counts_as == "reading cell" else f"{reason} ({use.heading}, taken for {use.role})",
                "text": np.asarray([text[:200] for text in texts], dtype=object),
            }
        )  # fmt: skip

    def _lose_rows(self, lost: np.ndarray, code: str) -> None:
        at = np.flatnonzero(lost)
        if not len(at):
            return
        counts_as, reason = set_aside_codes()[code]
        row, col = self.block.sheet.place(self.rows.data[at], np.full(len(at), -1))
        lines = [self.block.sheet.row_texts(int(one)) for one in self.rows.data[at]]
        texts = [" | ".join(text for text in line if text)[:200] for line in lines]
        self.aside.append(
            {"row": row, "col": col, "counts_as": counts_as, "code": code, "reason": reason, "text": np.asarray(texts, dtype=object)}
        )  # fmt: skip


_KIND = {name: number for number, name in enumerate(CATEGORIES["event_kind"])}
_MARKED = (
    ("start", ("start", "launch")),
    ("end", ("end of",)),
    ("gain", ("gain",)),
    ("splice", ("splice",)),
    ("bend", ("bend",)),
)


def _kind_of_words(text: str) -> str:
    """Kind of a text of several words, such as `Splice (fusion), 2 of 4`; empty where no word is known."""
    bare = plain(text)
    for kind, marks in _MARKED:
        if any(mark in bare for mark in marks):
            return kind
    parts = [word("event", part.strip("()[],;. ")) for part in bare.replace("/", " ").split() if len(part) > 2]
    return next((part for part in parts if part), "")
