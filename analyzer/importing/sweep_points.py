"""The cells of one sweep table become curves: every filled cell of a curve column is a point, or is set aside."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd

from analyzer.importing import facts, wire_maps
from analyzer.importing.blocks import Block
from analyzer.importing.cells import NO_BOUND, OVER_RANGE, mark_vote
from analyzer.importing.columns import Use
from analyzer.importing.curve_order import holes, rising
from analyzer.importing.fact_columns import read_facts
from analyzer.importing.grid import CellColumn
from analyzer.importing.headings import understand
from analyzer.importing.pair_colors import color_names, colors_in
from analyzer.importing.parsed import PROBLEMS, Parsed, category_codes, factors, parse_column, unit_inside
from analyzer.importing.row_labels import texts_at
from analyzer.importing.rows import classify
from analyzer.importing.source import Decisions, Tallies
from analyzer.importing.sweep_constants import OF_THE_LINK, constants_of, fact_once
from analyzer.importing.sweep_lines import ALONE, WITHOUT_FREQUENCY, wire_map_reading
from analyzer.importing.sweeps import KEY_ROLES, named_parameter
from analyzer.importing.table import TableResult, identity
from analyzer.importing.words import plain, set_aside_codes, units, word
from analyzer.points import CEILINGS, Points, curve_hash
from analyzer.schema import CATEGORIES

_GAIN = frozenset({"insertion loss", "NEXT", "PSNEXT", "return loss"})
_LARGE_DB = 0.2
HIGHEST_MHZ = 10_000.0
"""Five times the top of any category or class: nothing beyond is a frequency of cabling in MHz."""
LOWEST_TOP_MHZ = 1.0
"""A sweep that ends below its usual begin is not in MHz."""
_BELIEVABLE_TOP_MHZ = (16.0, 3_000.0)
"""Tops of sweeps, from the lowest class to beyond the highest: settles a unit that nobody states."""
_PLAIN_DIGITS = frozenset("0123456789.-+eE")
_ENOUGH_VOTES = 100
"""A column of plain digits and points has one opinion on the decimal mark: so many of its texts are asked."""
_NOT_LOST = frozenset({"repeated-frequency", "repeated-curve"})
_CODES = (
    *PROBLEMS, "no-frequency-cell", "repeated-frequency", "falling-frequency", "impossible-frequency",
    "pair-named-twice", "repeated-curve", "bound-in-curve",
)  # fmt: skip
_CODE = {name: number for number, name in enumerate(_CODES)}


@dataclass
class SweepResult(TableResult):
    """What one sweep table gave: curves, and readings of what stands in every row and is no curve."""

    curves: pd.DataFrame = field(default_factory=pd.DataFrame)
    points: Points = field(default_factory=Points)


@dataclass
class _Curve:
    """One curve on its way: rows are positions in the sheet, rising in frequency; `lost` cells count against it."""

    use: Use
    record: int
    parameter: str
    pair: str
    end: str
    rows: np.ndarray
    frequency: np.ndarray
    value: np.ndarray
    lost: int
    limit: np.ndarray | None = None


def sweep_votes(block: Block, uses: list[Use]) -> Tallies:
    """What the cells tell about decimal mark and sign; the sign is asked for each parameter by itself.

    Tables of one heading but other titles share a fingerprint, so the parameter stands in the question.
    """
    votes: Counter[tuple[int, str, str]] = Counter()
    fingerprint = block.fingerprint
    for use in uses:
        if use.role not in {"value", "limit", "frequency", "length"}:
            continue
        column = block.sheet.columns[use.col]
        distinct, texts, is_plain = _distinct(column, block.data_rows)
        counts = np.bincount(column.codes[block.data_rows], minlength=len(column.texts))[distinct]
        if column.kinds is not None:
            texts = ["" if column.kinds[code] else text for code, text in zip(distinct.tolist(), texts, strict=True)]
        most = _ENOUGH_VOTES if is_plain else len(texts)
        for text, count in zip(texts[:most], counts[:most].tolist(), strict=True):
            vote = mark_vote(text) if text else None
            if vote:
                votes[fingerprint, "decimal mark", vote] += count
        if use.role == "value" and use.parameter in _GAIN:
            value = _numbers(column, block.data_rows, ".").value
            for answer, mask in (("negative", value < 0), ("positive", value > 0), ("large", value < -_LARGE_DB)):
                votes[fingerprint, f"sign {use.col} {use.parameter}", answer] += int(mask.sum())
    return Tallies(tuple(sorted((*key, count) for key, count in votes.items() if count)))


def read_sweep(block: Block, uses: list[Use], decisions: Decisions) -> SweepResult:
    """Records, curves and what was set aside of one sweep table; ids from 0."""
    return _Reader(block, uses, decisions).read()


def _distinct(column: CellColumn, rows: np.ndarray) -> tuple[np.ndarray, list[str], bool]:
    """Codes that occur in some rows, their texts, and whether all are made of the signs of a plain decimal number."""
    codes = np.unique(column.codes[rows])
    texts = [column.texts[code] for code in codes.tolist()]
    return codes, texts, set("".join(texts)) <= _PLAIN_DIGITS


def _numbers(column: CellColumn, rows: np.ndarray, mark: str | None) -> Parsed:
    """As `parse_column`; columns of plain decimal numbers are cast as a whole."""
    distinct, texts, is_plain = _distinct(column, rows)
    if mark == "," or not is_plain:
        return parse_column(column, rows, mark)
    values = np.full(len(column.texts), math.nan)
    try:
        values[distinct] = np.asarray([text or "nan" for text in texts], dtype=np.float64)
    except ValueError:
        return parse_column(column, rows, mark)
    if (np.abs(values) > 1e12).any():
        return parse_column(column, rows, mark)
    codes = column.codes[rows]
    size = len(codes)
    return Parsed(
        codes != 0, values[codes], np.full(size, NO_BOUND, np.int8), np.full(size, -1, np.int8),
        np.full(size, "", dtype=object), np.zeros(size, np.int8), np.full(size, -1, np.int8),
    )  # fmt: skip


class _Reader:
    """Carries what the steps of one table share, and the growing list of what was set aside."""

    def __init__(self, block: Block, uses: list[Use], decisions: Decisions) -> None:
        self.block, self.uses, self.decisions = block, uses, decisions
        self.mark = decisions.decimal_mark(block.fingerprint)
        measured = [use for use in uses if use.role == "value"]
        self.above = [use for use in measured if block.sheet.columns[use.col].stands is not None]
        self.once = [use for use in measured if use.parameter in OF_THE_LINK and use not in self.above]
        self.values = [use for use in measured if use not in self.above and use not in self.once]
        self.aside: list[dict[str, Any]] = []
        self.seeds: list[tuple[str, int, str]] = []
        self._read: dict[int, Parsed] = {}
        self.rows, self.axis = self._data_rows()
        self.cells_read = 0

    def read(self) -> SweepResult:
        """The whole way."""
        records, record_of = self._records()
        found: list[_Curve] = []
        frequencies = {use.col: self._frequency(use) for use in self.axis}
        for use in self.values:
            frequency, problem = frequencies[self._axis_of(use)]
            found += self._curves_of(use, frequency, problem, record_of)
        found = self._told_twice(found)
        readings = self._told_once(records, record_of)
        self._tell_unknown_columns()
        self._lose_rows(record_of)
        points = Points.of([(one.frequency, one.value) for one in found], [one.limit for one in found])
        return SweepResult(
            records, readings, self.aside, self.seeds, len(self.rows), self._rows_lost, self.cells_read, self.mark,
            self.rows, self._frame(found, points), points,
        )  # fmt: skip

    def _data_rows(self) -> tuple[np.ndarray, list[Use]]:
        """Rows that are data, and the frequency columns; blank lines, statistics and notes are furniture."""
        rows, sheet = self.block.data_rows, self.block.sheet
        axis = [use for use in self.uses if use.role == "frequency"]
        has_axis = np.zeros(len(rows), dtype=bool)
        is_word = np.zeros(len(rows), dtype=bool)
        for use in axis:
            parsed = _numbers(sheet.columns[use.col], rows, self.mark)
            has_axis |= np.isfinite(parsed.value)
        for col in self.block.columns[:1]:
            each = np.asarray([_begins_statistics(text) for text in sheet.columns[col].texts], dtype=np.bool_)
            is_word |= each[sheet.columns[col].codes[rows]]
        doubtful = rows[~has_axis & ~is_word]
        has_number = np.zeros(len(doubtful), dtype=bool)
        for use in self.values if len(doubtful) else []:
            has_number |= np.isfinite(_numbers(sheet.columns[use.col], doubtful, self.mark).value)
        return np.union1d(rows[has_axis], doubtful[has_number]), axis

    def _parsed(self, use: Use) -> Parsed:
        """A column at all data rows, parsed once."""
        if use.col not in self._read:
            self._read[use.col] = _numbers(self.block.sheet.columns[use.col], self.rows, self.mark)
        return self._read[use.col]

    def _axis_of(self, use: Use) -> int:
        """The frequency column of a curve column: the nearest on its left, else the first."""
        left = [axis.col for axis in self.axis if axis.col < use.col]
        return max(left) if left else self.axis[0].col

    def _frequency(self, use: Use) -> tuple[np.ndarray, np.ndarray]:
        """Frequencies of the data rows [MHz], NaN where none stands; code of what is wrong with each."""
        column = self.block.sheet.columns[use.col]
        parsed = self._parsed(use)
        problem = np.zeros(len(self.rows), dtype=np.int8)
        stated = use.unit or units().get(plain(column.unit), column.unit)
        top = float(np.nanmax(parsed.value)) if np.isfinite(parsed.value).any() else math.nan
        default = stated or self._unit_by_size(use, top if not (parsed.unit != "").any() else math.nan)
        mhz = parsed.value * factors(parsed.unit, default, "MHz")
        mhz = np.where((mhz > 0) & (parsed.bound == NO_BOUND), mhz, math.nan)
        problem[np.isnan(mhz)] = _CODE["no-frequency-cell"]
        highest = float(np.nanmax(mhz)) if np.isfinite(mhz).any() else math.nan
        if highest > HIGHEST_MHZ or highest < LOWEST_TOP_MHZ:
            problem[np.isfinite(mhz)] = _CODE["impossible-frequency"]
            self._tell(
                "impossible-frequency",
                f"{use.heading!r} goes up to {highest:g} MHz, and no cabling is measured there: its unit is wrong; "
                "correct the heading",
            )
        return mhz, problem

    def _unit_by_size(self, use: Use, top: float) -> str:
        """Unit of frequencies that state none: the only one in which the sweep ends where sweeps of cabling end."""
        fits = [
            name
            for name, factor in (("MHz", 1.0), ("Hz", 1e-6), ("kHz", 1e-3), ("GHz", 1e3))
            if _BELIEVABLE_TOP_MHZ[0] <= top * factor <= _BELIEVABLE_TOP_MHZ[1]
        ]
        if fits:
            self._tell(
                "frequency-unit-by-size",
                f"{use.heading!r} states no unit: read as {fits[0]}, the only unit in which {top:g} is the end of a sweep",
            )
        return fits[0] if fits else "MHz"

    def _records(self) -> tuple[pd.DataFrame, np.ndarray]:
        """One record for each link of the table, and the record of each data row; -1 where no link is named."""
        if not len(self.rows):
            return pd.DataFrame(), np.empty(0, dtype=np.int64)
        naming = [use for use in self.uses if use.role not in {"pair", "parameter", "end", "frequency"}]
        labels = classify(replace(self.block, data_rows=self.rows), naming)
        known = np.full(len(self.rows), "", dtype=object)
        known[np.searchsorted(self.rows, labels.data)] = labels.labels
        self.seeds += [(code, -1, text) for code, text in labels.seeds]
        codes, texts = pd.factorize(known)
        blank = np.flatnonzero(np.asarray([text == "" for text in texts], dtype=np.bool_))
        number = np.cumsum([text != "" for text in texts]) - 1
        record_of = np.where(np.isin(codes, blank), -1, number[codes])
        firsts = np.unique(record_of[record_of >= 0], return_index=True)[1]
        first = np.flatnonzero(record_of >= 0)[firsts]
        return self._record_frame(first, known, record_of), record_of

    def _record_frame(self, first: np.ndarray, labels: np.ndarray, record_of: np.ndarray) -> pd.DataFrame:
        fingerprint, sheet = self.block.fingerprint, self.block.sheet

        def column_of(use: Use) -> CellColumn:
            if use.role != "length" or use.col >= sheet.origin_width:
                return sheet.columns[use.col]
            column, differ = fact_once(sheet.columns[use.col], self.rows, record_of)
            self._lose(self.rows[differ], use, "length-varies")
            return column

        found = read_facts(
            column_of, self.uses, self.rows[first], self.mark,
            lambda use: self.decisions.date_order(fingerprint, use.col),
        )  # fmt: skip
        for at, use, code in found.rejected:
            self._lose(self.rows[first[at]], use, code)
        self.seeds += [(code, -1, text) for code, text in found.seeds]
        row, _ = sheet.place(self.rows[first], np.zeros(len(first), dtype=np.int64))
        copper = np.full(len(first), CATEGORIES["medium"].index("twisted pair"), dtype=np.int16)
        columns: dict[str, Any] = {
            "row": row, "col": np.full(len(first), -1), "label": labels[first], "key": identity(labels[first]),
            "strands": np.ones(len(first), dtype=np.int16), **found.arrays, "medium": copper,
        }  # fmt: skip
        return pd.DataFrame(columns)

    def _told_once(self, records: pd.DataFrame, record_of: np.ndarray) -> pd.DataFrame:
        """Readings of the columns that say the same in every row of a link, and of the lines above its curves."""
        frames = [self._constant(use, record_of) for use in self.once]
        frames += [self._line_above(use, records, record_of) for use in self.above]
        frames = [frame for frame in frames if len(frame)]
        return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame()

    def _constant(self, use: Use, record_of: np.ndarray) -> pd.DataFrame:
        column = self.block.sheet.columns[use.col]
        frame, aside, count = constants_of(use, column, self._parsed(use), self.rows, record_of)
        if column.stands is not None:  # one cell for all rows: it is read once, or set aside once
            count, aside = 1, {code: at[:1] for code, at in aside.items()}
        self.cells_read += count
        for code, at in aside.items():
            self._lose(self.rows[at], use, code)
        row, col = self._place(frame.pop("line").to_numpy(), use)
        return frame.assign(row=row, col=col)

    def _line_above(self, use: Use, records: pd.DataFrame, record_of: np.ndarray) -> pd.DataFrame:
        if len(records) != 1 or use.parameter not in WITHOUT_FREQUENCY:
            self.cells_read += 1
            self._lose(self.rows[:1], use, ALONE)
            return pd.DataFrame()
        if use.parameter != "wire map":
            return self._constant(use, record_of)
        self.cells_read += 1
        column = self.block.sheet.columns[use.col]
        frame = wire_map_reading(column, int(self.rows[0]))
        if frame.empty:
            self._lose(self.rows[:1], use, "not-a-number")
            return frame
        told = wire_maps.record_columns([(column, np.ones(1, dtype=bool))], self.rows[:1])
        for name, texts in told.items():
            records[name] = texts
        row, col = self._place(frame.pop("line").to_numpy(), use)
        return frame.assign(row=row, col=col)

    def _place(self, rows: np.ndarray, use: Use) -> tuple[np.ndarray, np.ndarray]:
        """Row and column shown of cells of a column; those of a line above stand in one place."""
        stands = self.block.sheet.columns[use.col].stands
        if stands is not None:
            return np.full(len(rows), stands[0]), np.full(len(rows), stands[1])
        return self.block.sheet.place(rows, np.full(len(rows), use.col))

    def _curves_of(self, use: Use, frequency: np.ndarray, bad_axis: np.ndarray, record_of: np.ndarray) -> list[_Curve]:
        """The curves of one column: one for each link, parameter, pair and end that its rows name."""
        parsed = self._parsed(use)
        self.cells_read += int(parsed.filled.sum())
        parameter, pair, end = (self._attribute(use, name) for name in ("parameter", "pair", "end"))
        key = record_of
        for part in (parameter, pair, end):
            key = key * 64 + part + 1
        found = []
        for one in pd.unique(key):
            at = np.flatnonzero((key == one) & parsed.filled)
            if not len(at):
                continue
            first = at[0]
            names = [
                "" if codes[first] < 0 else CATEGORIES[name][codes[first]]
                for name, codes in (("parameter", parameter), ("pair", pair), ("end", end))
            ]
            curve = self._one_curve(use, names, int(record_of[first]), at, parsed, frequency, bad_axis)
            if curve is not None:
                curve.lost += holes(curve.frequency, frequency[(key == one) & ~parsed.filled])
                found.append(curve)
        return found

    def _attribute(self, use: Use, name: str) -> np.ndarray:
        """Codes of parameter, pair or end for every data row, from the column's heading, else from a column of its own."""
        own = category_codes(name, [getattr(use, name)])[0]
        key = next((key for key in self.uses if key.role == name), None)
        if own >= 0 or key is None:
            return np.full(len(self.rows), own, dtype=np.int64)
        column = self.block.sheet.columns[key.col]
        parsers: dict[str, Callable[[str], str]] = {"parameter": _parameter_in, "pair": _pair_in, "end": facts.end}
        parse = parsers[name]
        codes = category_codes(name, [parse(text) if text else "" for text in column.texts])
        return np.asarray(codes[column.codes[self.rows]], dtype=np.int64)

    def _named_by_color(self, use: Use, row: int) -> bool:
        """Whether only a color names the pair, and the wiring scheme is not known."""
        key = next((key for key in self.uses if key.role == "pair"), None)
        cell = self.block.sheet.text(int(self.rows[row]), key.col) if key is not None else ""
        return use.pair in color_names() or bool(colors_in(cell))

    def _one_curve(
        self, use: Use, names: list[str], record: int, at: np.ndarray, parsed: Parsed, frequency: np.ndarray,
        bad_axis: np.ndarray,
    ) -> _Curve | None:  # fmt: skip
        parameter, pair, end = names
        value, problem = self._values(use, parameter, at, parsed)
        problem = np.where(problem == 0, bad_axis[at], problem)
        if not parameter:
            problem[:] = _CODE["unknown-parameter"]
        elif not pair and self._named_by_color(use, int(at[0])):
            problem[:] = _CODE["pair-by-color"]
        if record < 0:
            problem[:] = _CODE["no-label-cell"]
        good = np.flatnonzero(problem == 0)
        order, wrong, falls = rising(frequency[at[good]], value[good], ceiling=parameter in CEILINGS)
        problem[good] = np.array([0, _CODE["falling-frequency"], _CODE["repeated-frequency"]])[wrong]
        if falls:
            self._tell("frequencies-fall", f"{use.heading!r}: the frequencies fall; read from the bottom up")
        self._lose_cells(at, use, problem)
        if not len(order):
            return None
        kept = at[good[order]]
        lost = int(sum(_CODES[code] not in _NOT_LOST for code in problem[problem > 0]))
        return _Curve(
            use, record, parameter, pair, end, self.rows[kept], frequency[kept], value[good[order]] + 0.0, lost,
            self._printed_limit(use, parameter, kept),
        )  # fmt: skip

    def _values(self, use: Use, parameter: str, at: np.ndarray, parsed: Parsed) -> tuple[np.ndarray, np.ndarray]:
        """Values in the unit inside, and the code of what is wrong with each."""
        problem = parsed.problem[at].astype(np.int64)
        column = self.block.sheet.columns[use.col]
        inside = unit_inside(parameter)
        default = units().get(plain(use.unit or column.unit), use.unit or column.unit) or inside
        value = parsed.value[at] * factors(parsed.unit[at], default, inside)
        problem[(problem == 0) & (parsed.bound[at] != NO_BOUND)] = _CODE["bound-in-curve"]
        problem[(problem == 0) & (parsed.bound[at] == OVER_RANGE)] = _CODE["not-a-number"]
        problem[(problem == 0) & np.isnan(value)] = _CODE["wrong-unit"]
        if inside == "dB":
            problem[(problem == 0) & (np.abs(value) > 200)] = _CODE["impossible-value"]
        if self.decisions.get(self.block.fingerprint, f"sign {use.col} {use.parameter}") == "gain":
            value = np.abs(value)
            self._tell(
                "gain-notation",
                f"{use.heading!r}: every value is negative, so loss is written as gain: the magnitude is used",
            )
        return value, problem

    def _printed_limit(self, use: Use, parameter: str, kept: np.ndarray) -> np.ndarray | None:
        limit = limit_of(use, parameter, self.uses)
        if limit is None:
            return None
        parsed = self._parsed(limit)
        inside = unit_inside(parameter)
        scale = factors(parsed.unit[kept], units().get(plain(limit.unit), limit.unit) or inside, inside)
        values = np.where(parsed.problem[kept] == 0, parsed.value[kept] * scale, math.nan)
        return values if np.isfinite(values).any() else None

    def _told_twice(self, found: list[_Curve]) -> list[_Curve]:
        """Curves of which each stands once; two that name the same and differ are both set aside."""
        places: dict[tuple[Any, ...], list[_Curve]] = {}
        for curve in found:
            if curve.pair:
                key = (curve.record, curve.parameter, curve.pair, curve.end, _turned_round(curve))
                places.setdefault(key, []).append(curve)
        gone: set[int] = set()
        for same in places.values():
            hashes = {curve_hash(curve.frequency, curve.value) for curve in same}
            if len(same) == 1:
                continue
            code = "repeated-curve" if len(hashes) == 1 else "pair-named-twice"
            for curve in same[1:] if len(hashes) == 1 else same:
                self._lose(curve.rows, curve.use, code)
                gone.add(id(curve))
            if len(hashes) > 1:
                told = " and ".join(repr(curve.use.heading) for curve in same)
                self._tell(code, f"{told} name the same pair {same[0].pair} and hold different values: neither is used")
        return [curve for curve in found if id(curve) not in gone]

    def _lose_cells(self, at: np.ndarray, use: Use, problem: np.ndarray) -> None:
        for code in np.unique(problem[problem > 0]):
            self._lose(self.rows[at[problem == code]], use, _CODES[code])

    def _lose(self, rows: np.ndarray, use: Use, code: str) -> None:
        if not len(rows):
            return
        counts_as, reason = set_aside_codes()[code]
        row, col = self._place(rows, use)
        texts = texts_at(self.block.sheet.columns[use.col], rows)
        said = reason if counts_as == "reading cell" else f"{reason} ({use.heading}, taken for {use.role})"
        self.aside.append(
            {
                "row": row, "col": col, "counts_as": counts_as, "code": code, "reason": said,
                "text": np.asarray([text[:200] for text in texts], dtype=object),
            }
        )  # fmt: skip

    def _lose_rows(self, record_of: np.ndarray) -> None:
        """Rows without a frequency, and rows of a long table that name no link."""
        has_axis = np.zeros(len(self.rows), dtype=bool)
        for use in self.axis:
            has_axis |= np.isfinite(self._parsed(use).value)
        self._rows_lost = int((~has_axis | (record_of < 0)).sum())
        for code, mask in (("no-frequency", ~has_axis), ("no-label", has_axis & (record_of < 0))):
            rows = self.rows[mask]
            if not len(rows):
                continue
            counts_as, reason = set_aside_codes()[code]
            row, col = self.block.sheet.place(rows, np.full(len(rows), -1))
            texts = [" | ".join(filter(None, self.block.sheet.row_texts(int(one))))[:200] for one in rows]
            self.aside.append(
                {
                    "row": row, "col": col, "counts_as": counts_as, "code": code, "reason": reason,
                    "text": np.asarray(texts, dtype=object),
                }
            )  # fmt: skip

    def _frame(self, found: list[_Curve], points: Points) -> pd.DataFrame:
        place = [self.block.sheet.place(one.rows[:1], np.asarray([one.use.col])) for one in found]
        return pd.DataFrame(
            {
                "record": [one.record for one in found],
                "row": [int(row[0]) for row, _ in place], "col": [int(col[0]) for _, col in place],
                "parameter": category_codes("parameter", [one.parameter for one in found]),
                "pair": category_codes("pair", [one.pair for one in found]),
                "end": category_codes("end", [one.end for one in found]),
                "n": [len(one.value) for one in found], "lost": [one.lost for one in found],
                "f_min_mhz": [one.frequency[0] for one in found], "f_max_mhz": [one.frequency[-1] for one in found],
                "grid": points.grid,
                "hash": np.asarray([curve_hash(one.frequency, one.value) for one in found], dtype=np.uint64),
                "has_limit": points.limit_at >= 0,
            }
        )  # fmt: skip

    def _tell_unknown_columns(self) -> None:
        """Columns of numbers that no word of their heading places: they could be curves, so they are told."""
        for use in self.uses:
            if use.role != "ignored" or use.col >= self.block.sheet.origin_width:
                continue
            count = int(np.isfinite(self._parsed(use).value).sum())
            if count > len(self.rows) // 2:
                self._tell(
                    "column-not-understood",
                    f"{use.heading!r} holds {count} numbers and was left out: its heading names no pair and no parameter",
                )

    def _tell(self, code: str, text: str) -> None:
        sheet = self.block.sheet.name
        self.seeds.append((code, -1, f"sheet {sheet!r}: {text}" if sheet else text))


def limit_of(use: Use, parameter: str, uses: list[Use]) -> Use | None:
    """The limit column of a curve column: same words, else the next on its right before curves of another parameter."""
    fits = [
        other
        for other in uses
        if other.role == "limit"
        and other.parameter in {"", parameter}
        and other.pair in {"", use.pair}
        and other.end in {"", use.end}
    ]
    if not fits:
        return None
    best = max(bool(other.parameter) + 2 * bool(other.pair) + bool(other.end) for other in fits)
    fits = [other for other in fits if bool(other.parameter) + 2 * bool(other.pair) + bool(other.end) == best]
    named = [other for other in fits if other.parameter or other.pair]
    if named:
        return min(named, key=lambda other: (other.col < use.col, abs(other.col - use.col)))
    values = [other for other in uses if other.role == "value"]
    if len({other.parameter for other in values}) == 1:
        return min(fits, key=lambda other: (other.col < use.col, abs(other.col - use.col)))
    right = min((other for other in fits if other.col > use.col), key=lambda other: other.col, default=None)
    if right is None or any(use.col < other.col < right.col and other.parameter != parameter for other in values):
        return None
    return right


def _turned_round(curve: _Curve) -> bool:
    """Whether the heading names the pairs in the other order: 36-12 is measured from the other pair."""
    match = re.search(r"([1-8])\D?([1-8])\D{0,3}[1-8]\D?[1-8]", curve.use.heading)
    first = "/".join(sorted(match.groups())).replace("/", "-") if match else ""
    return bool(first) and "/" in curve.pair and not curve.pair.startswith(first)


def _parameter_in(text: str) -> str:
    return named_parameter((text,))


def _pair_in(text: str) -> str:
    return facts.pair(text) or understand((text,)).pair


def _begins_statistics(text: str) -> bool:
    bare = plain(text).strip(" :=.")
    return (
        bool(bare)
        and not any(letter.isdigit() for letter in bare[:1])
        and bool(word("total", bare) or word("note", bare) or word("total", bare.split(" ", maxsplit=1)[0]))
    )


__all__ = ["KEY_ROLES", "SweepResult", "limit_of", "read_sweep", "sweep_votes"]
