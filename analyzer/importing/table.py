"""One table of a sheet becomes records, readings and what was set aside: plain arrays, ids from 0."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from analyzer.importing import wire_maps
from analyzer.importing.beside import Beside, StandIn
from analyzer.importing.blocks import Block
from analyzer.importing.cells import ABOVE, BELOW, NO_BOUND
from analyzer.importing.columns import COPPER_PARAMETERS, Use
from analyzer.importing.companions import companion
from analyzer.importing.distinct import codes_at, constant, folded_labels, present, text_array
from analyzer.importing.fact_columns import read_facts
from analyzer.importing.parsed import PARAMETERS, PROBLEMS, factors, parse_column
from analyzer.importing.ranges import group_sizes, sizes_of, split_ranges, strands_of
from analyzer.importing.readings import Readings, read_value_column, reference_power
from analyzer.importing.row_attributes import RowAttributes, attributes_of
from analyzer.importing.row_labels import identity_of, joined, texts_at
from analyzer.importing.rows import Rows, classify, facts_filled_down
from analyzer.importing.source import Decisions
from analyzer.importing.words import set_aside_codes
from analyzer.schema import TABLES

_WHOLE_ROW = Use(-1, "", "value")
"""Stands for a value column whose parameter the rows tell."""
_LONG_ROLES = {"wavelength", "parameter", "direction", "pair", "end"}


@dataclass
class TableResult:
    """What one block gave."""

    records: pd.DataFrame
    readings: pd.DataFrame
    aside: list[dict[str, Any]]
    seeds: list[tuple[str, int, str]]
    rows_read: int
    rows_aside: int
    cells_read: int
    mark: str | None
    lines: np.ndarray
    """Positions of the data rows in the sheet."""


def read_table(block: Block, uses: list[Use], decisions: Decisions) -> TableResult:
    """Records, readings and cells set aside of one block."""
    rows = classify(block, uses)
    mark = decisions.decimal_mark(block.fingerprint)
    if block.kind == "upright":
        block.kind = "long" if any(use.role in _LONG_ROLES for use in uses) else "upright"
    named = rows.label.codes != 0
    reader = _Reader(block, uses, rows, named, mark)
    known: dict[tuple[Use, ...], RowAttributes] = {}
    attributes = attributes_of(block, uses, _WHOLE_ROW, rows.data, mark, known)
    frames = []
    cells_read = 0
    for use in [*reader.measured, *copper_lengths(uses)]:
        own = attributes_of(block, uses, use, rows.data, mark, known)
        reference = reference_power(block, use, uses, rows.data, mark)
        readings, problem, counted = read_value_column(block, use, rows.data, own, mark, reference)
        cells_read += int(counted.sum())
        reader.lose_cells(use, problem, counted)
        frames.append(reader.reading_frame(readings, decisions))
        if use.col in reader.value_cols:
            for stand_in in reader.beside.stand_ins(use, reader.no_value(use, problem)):
                cells_read += len(stand_in.at)
                frames.append(reader.stand_in_frame(stand_in, decisions))
    records = reader.record_frame(decisions, attributes)
    records, readings_frame, split = split_ranges(records, _ordered(frames), reader.strands_of_record, identity)
    if split:
        reader.seeds.append(("range-split", -1, f"{split} rows hold one reading for each strand of their range: split into strands"))  # fmt: skip
    reader.lose_rows()
    reader.lose_beyond_headings()
    reader.beside.leftovers(named)
    reader.tell_unclaimed()
    return TableResult(
        records, readings_frame, reader.aside, reader.seeds, len(rows.data), int((~named).sum()), cells_read,
        mark, rows.data,
    )  # fmt: skip


def copper_lengths(uses: list[Use]) -> list[Use]:
    """Length of balanced cabling is a fact and a reading too."""
    copper = any(
        use.parameter in COPPER_PARAMETERS or use.role == "grade" for use in uses if use.role in {"value", "grade"}
    )
    return [replace(use, role="value") for use in uses if copper and use.role == "length"]


_OF_THE_LINK = ("wire map", "length")
"""Value columns that speak of the link, whatever parameter the row names."""


def lone_margins(uses: list[Use], values: list[Use]) -> list[Use]:
    """Margin columns that know their parameter and stand beside no value: they are all that is told of a reading.

    So does the worst margin of a value that was read at another frequency.
    """
    # nothing else holds the value of the parameter that the row names: the margin is all that is told of it
    by_rows = any(use.role == "parameter" for use in uses) and all(use.parameter in _OF_THE_LINK for use in values)
    margins = [use for use in uses if use.role == "margin" and (use.parameter or use.wavelength_nm > 0 or by_rows)]
    claimed = {companion(value, margins, values) for value in values}
    return [
        replace(use, role="value", parameter=use.parameter or ("loss" if use.wavelength_nm > 0 else ""), about="margin")
        for use in margins
        if use not in claimed or (by_rows and not use.parameter) or _is_another_point(use, uses)
    ]


def _is_another_point(margin: Use, uses: list[Use]) -> bool:
    """Whether columns tell that the worst margin lies at another frequency than the value beside it."""
    places = {
        "margin" if use.about == "margin" else "value"
        for use in uses
        if use.role == "frequency" and use.parameter == margin.parameter != "" and use.about != "limit"
        and use.end in {"", margin.end} and use.pair in {"", margin.pair}
    }  # fmt: skip
    return len(places) == 2


def _ordered(frames: list[pd.DataFrame]) -> pd.DataFrame:
    frames = [frame for frame in frames if len(frame)]
    if not frames:
        return pd.DataFrame()
    if len(frames) == 1:
        return frames[0]  # the rows of one column stand in the order of the records
    whole = pd.concat(frames, ignore_index=True)
    return whole.iloc[np.lexsort((whole["col"].to_numpy(), whole["record"].to_numpy()))].reset_index(drop=True)


class _Reader:
    """Carries what the steps of one block share: rows, names of rows, and the growing list of things set aside."""

    def __init__(self, block: Block, uses: list[Use], rows: Rows, named: np.ndarray, mark: str | None) -> None:
        self.block, self.uses, self.rows, self.named, self.mark = block, uses, rows, named, mark
        self.measured = [use for use in uses if use.role == "value"]
        self.value_cols = {use.col for use in self.measured if use.parameter != "wire map"}
        self.lone_margins = lone_margins(uses, self.measured)
        self.measured += self.lone_margins
        self.record_of = np.cumsum(named) - 1
        self.aside: list[dict[str, Any]] = []
        self.seeds: list[tuple[str, int, str]] = [(code, -1, text) for code, text in rows.seeds]
        self.beside = Beside(block, uses, self.measured, rows.data, mark, self._lose)

    def _place(self, at: np.ndarray, col: int) -> dict[str, np.ndarray]:
        row, column = self.block.sheet.place(codes_at(self.rows.data, at), np.full(len(at), col, dtype=np.int16))
        return {"row": row, "col": column}

    def _cell_place(self, at: np.ndarray, col: int) -> dict[str, np.ndarray]:
        """The same for cells; that of a line above the table is one cell for every row."""
        stands = self.block.sheet.columns[col].stands
        if stands is None:
            return self._place(at, col)
        return {"row": np.full(len(at), stands[0]), "col": np.full(len(at), stands[1], dtype=np.int16)}

    def _lose(self, at: np.ndarray, use: Use, code: str) -> None:
        if not len(at):
            return
        counts_as, reason = set_aside_codes()[code]
        if counts_as == "fact cell" and self.block.sheet.columns[use.col].stands is not None:
            at = at[:1]  # one line above the table, though it speaks of every row
        texts = texts_at(self.block.sheet.columns[use.col], self.rows.data[at])
        self.aside.append(
            {
                **self._cell_place(at, use.col), "counts_as": counts_as, "code": code,
                "reason": reason if counts_as == "reading cell" else f"{reason} ({use.heading}, taken for {use.role})",
                "text": np.asarray([text[:200] for text in texts], dtype=object),
            }
        )  # fmt: skip

    def lose_cells(self, use: Use, problem: np.ndarray, counted: np.ndarray) -> None:
        """Cells of a value column that gave no reading."""
        self._lose(np.flatnonzero(counted & ~self.named), use, "no-label-cell")
        for number in present(problem[counted & self.named]):
            if number:
                self._lose(np.flatnonzero(counted & self.named & (problem == number)), use, PROBLEMS[number])

    def lose_rows(self) -> None:
        """Rows without a label."""
        at = np.flatnonzero(~self.named)
        if not len(at):
            return
        counts_as, reason = set_aside_codes()["no-label"]
        texts = [
            " | ".join(text for text in self.block.sheet.row_texts(int(row)) if text)[:200]
            for row in self.rows.data[at]
        ]
        self.aside.append(
            {
                **self._place(at, -1), "counts_as": counts_as, "code": "no-label",
                "reason": reason, "text": np.asarray(texts, dtype=object),
            }
        )  # fmt: skip

    def tell_unclaimed(self) -> None:
        """Limits, margins and verdicts that belong to no value column."""
        for use in self.beside.unclaimed():
            count = int((self.block.sheet.columns[use.col].codes[self.rows.data] != 0).sum())
            if count:
                text = f"{use.heading!r} was left out, {count} of its cells hold something: nothing says which value its {use.role}s belong to"
                self.seeds.append(("belongs-to-no-value", -1, text))

    def lose_beyond_headings(self) -> None:
        """Cells of rows that are longer than the headings."""
        for use in self.uses:
            if not use.heading and use.role == "ignored":
                filled = self.block.sheet.columns[use.col].codes[self.rows.data] != 0
                self._lose(np.flatnonzero(filled), use, "beyond-headings")

    def no_value(self, use: Use, problem: np.ndarray) -> np.ndarray:
        """Data rows with a label whose cell of a value column is blank or says that nothing was measured."""
        blank = self.block.sheet.columns[use.col].at(self.rows.data) == 0
        return np.asarray(self.named & (blank | (problem == PROBLEMS.index("not-measured"))))

    def stand_in_frame(self, stand_in: StandIn, decisions: Decisions) -> pd.DataFrame:
        """The table `readings` of margins or verdicts beside blank values."""
        use, at = stand_in.use, stand_in.at
        of_margin = replace(stand_in.of, about="margin" if stand_in.parsed is None else "")
        own = attributes_of(self.block, self.uses, of_margin, self.rows.data[at], self.mark, {})
        found = read_value_column(self.block, use, self.rows.data[at], own, self.mark, None, stand_in.parsed)
        readings, problem, counted = found
        for number in present(problem[counted]):
            if number:
                self._lose(at[counted & (problem == number)], use, PROBLEMS[number])
        readings.rows = at[readings.rows]
        return self.reading_frame(readings, decisions, of=stand_in.of)

    def reading_frame(self, readings: Readings, decisions: Decisions, of: Use | None = None) -> pd.DataFrame:
        """The table `readings` of one value column, rows without a label left out.

        `of`: the value column for whose blank cells these margins or verdicts stand.
        """
        named = codes_at(self.named, readings.rows)
        keep = slice(None) if named.all() else named
        use, at = readings.use, readings.rows[keep]
        value = readings.value[keep]
        lone = use in self.lone_margins or of is not None
        value, bound = self._return_loss(use, readings.parameter[keep], value, readings.bound[keep])
        gain = not lone and decisions.gain_notation(self.block.fingerprint, use.col)
        if gain and (value < 0).any():
            value = np.where(value < 0, -value, value)
            self.seeds.append(
                (
                    "gain-notation",
                    -1,
                    f"{use.heading!r}: every value is negative, so loss is written as gain: the magnitude is used",
                )
            )
        parameter, row_unit, own_column = readings.parameter[keep], readings.row_unit[keep], of or use
        limit = self.beside.numbers(own_column, "limit", at, parameter, row_unit)
        margin = value if lone else self.beside.numbers(own_column, "margin", at, parameter, row_unit)
        verdict = self.beside.verdicts(own_column, at)
        if lone:
            value = np.full(len(at), math.nan)
        own = readings.verdict[keep]
        if use.parameter == "wire map" and self._own_verdict_column(use):
            own = np.where(verdict >= 0, verdict, own)  # what contacts amount to is not what the export declares
        return pd.DataFrame(
            {
                "record": codes_at(self.record_of, at), **self._cell_place(at, use.col), "parameter": readings.parameter[keep],
                "wavelength_nm": readings.wavelength[keep], "pair": readings.pair[keep], "end": readings.end[keep],
                "direction": readings.direction[keep], "frequency_mhz": readings.frequency[keep], "value": value + 0.0,
                "bound": constant(NO_BOUND, len(at), np.int8) if lone else bound,
                "decimals": readings.decimals[keep], "declared_limit": limit,
                "declared_margin": margin, "declared_verdict": np.where(own >= 0, own, verdict),
                "worst": use.worst,
            },
            copy=False,
        )  # fmt: skip

    def _own_verdict_column(self, use: Use) -> bool:
        """Whether a column declares the verdict of this parameter alone."""
        return any(other.role == "verdict" and other.parameter == use.parameter for other in self.uses)

    def _return_loss(
        self, use: Use, parameter: np.ndarray, value: np.ndarray, bound: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """Optical return loss written as reflectance, -45 dB for 45 dB: kept positive, a bound turned over; told."""
        minus = (parameter == PARAMETERS.index("optical return loss")) & (value < 0)
        if not minus.any():
            return value, bound
        text = (
            f"{use.heading!r}: {int(minus.sum())} negative values: reflectance, kept as return loss without the minus"
        )
        self.seeds.append(("reflectance-sign", -1, text))
        turned = np.select([bound == BELOW, bound == ABOVE], [ABOVE, BELOW], bound)
        return np.where(minus, -value, value), np.where(minus, turned, bound)

    def record_frame(self, decisions: Decisions, attributes: Any) -> pd.DataFrame:
        """The table `records` of the block: one for each data row with a label."""
        whole = bool(self.named.all())
        data = self.rows.data if whole else self.rows.data[self.named]
        fingerprint = self.block.fingerprint
        found = read_facts(
            facts_filled_down(self.block, self.rows), self.uses, data, self.mark,
            lambda use: decisions.date_order(fingerprint, use.col),
        )  # fmt: skip
        positions = np.flatnonzero(self.named)
        for at, use, code in found.rejected:
            written = self.block.sheet.columns[use.col].codes[data[at]] != 0
            self._lose(positions[at[written]], use, code)
        self.seeds += [(code, -1, text) for code, text in found.seeds]
        label = self.rows.label
        codes = label.codes if whole else label.codes[self.named]
        sizes = sizes_of(label.texts)[codes] if self.rows.strand is None else group_sizes(self.rows.strand[self.named])
        columns: dict[str, Any] = {
            **self._place(np.flatnonzero(self.named), self._label_col()), "label": text_array(label.texts, codes),
            "key": text_array(keys_of(label.texts), codes), "cable": None if self.rows.cable is None else self.rows.cable[self.named],
            "strand": None if self.rows.strand is None else self.rows.strand[self.named],
            "strands": sizes, **found.arrays,
        }  # fmt: skip
        columns |= wire_maps.record_columns(self._wire_map_cells(attributes), data)
        self._margin_of_record(columns, data)
        self._long_length(columns, attributes)
        return pool(pd.DataFrame({name: values for name, values in columns.items() if values is not None}, copy=False))

    def strands_of_record(self, record: int) -> list[str]:
        """Names of the strands that a record speaks for."""
        at = int(np.flatnonzero(self.named)[record])
        if self.rows.strand is None:
            return strands_of(self.rows.label.texts[self.rows.label.codes[at]])
        numbers = strands_of(str(self.rows.strand[at]))
        if self.rows.cable is None:
            return numbers
        names = joined(np.full(len(numbers), self.rows.cable[at], dtype=object), np.asarray([str(int(one)) if one.isdigit() else one for one in numbers], dtype=object))  # fmt: skip
        return [str(name) for name in names]

    def _label_col(self) -> int:
        for role in ("label", "strand", "cable"):
            for use in self.uses:
                if use.role == role:
                    return use.col
        return -1

    def _wire_map_cells(self, attributes: RowAttributes) -> list[tuple[Any, np.ndarray]]:
        """Columns that hold wire maps, with the rows where they do: all, or those that name it as their parameter."""
        by_row = (attributes.parameter == PARAMETERS.index("wire map"))[self.named]
        all_rows = np.ones(len(by_row), dtype=bool)
        return [
            (self.block.sheet.columns[use.col], by_row if use.parameter == "" else all_rows)
            for use in self.measured
            if use.parameter == "wire map" or (use.parameter == "" and by_row.any())
        ]

    def _margin_of_record(self, columns: dict[str, Any], data: np.ndarray) -> None:
        for use in self.beside.unclaimed():
            if use.role == "margin" and not any(companion(value, [use], self.measured) for value in self.measured):
                parsed = parse_column(self.block.sheet.columns[use.col], data, self.mark)
                columns["declared_margin_db"] = np.where(parsed.problem == 0, parsed.value, math.nan)
                self.beside.claimed.add(use.col)
                at = np.flatnonzero(self.named)[parsed.filled & (parsed.problem > PROBLEMS.index("not-measured"))]
                self._lose(at, use, "not-a-fact")
                return

    def _long_length(self, columns: dict[str, Any], attributes: Any) -> None:
        """Length rows of a long fiber table are facts of their link."""
        at = (attributes.parameter == PARAMETERS.index("length"))[self.named]
        values = [use for use in self.uses if use.role == "value" and not use.parameter]
        if not at.any() or not values or "length_m" in columns:
            return
        use = values[0]
        parsed = parse_column(self.block.sheet.columns[use.col], self.rows.data[self.named], self.mark)
        written = np.where(parsed.unit != "", parsed.unit, attributes.unit[self.named])
        stated = (written != "") | bool(use.unit)
        metres = parsed.value * factors(written, use.unit or "m", "m")
        columns["length_m"] = np.where(at & stated, metres, math.nan)
        columns["length_unstated"] = np.where(at & ~stated, parsed.value, math.nan)


def identity(labels: Any) -> Any:
    """Keys of labels: NFC, trimmed, inner spaces collapsed, case folded; each distinct label once.

    A series gives a series, anything else an array of objects.
    """
    codes, distinct = pd.factorize(np.asarray(labels, dtype=object))
    keys = np.asarray([*keys_of([str(text) for text in distinct]), None], dtype=object)[codes]
    return pd.Series(keys, index=labels.index, dtype="str") if isinstance(labels, pd.Series) else keys


def keys_of(texts: Sequence[str]) -> Sequence[str]:
    """The keys of distinct labels."""
    return folded_labels(texts) or [identity_of(text) for text in texts]


POOLED = (
    "type", "construction", "grade", "configuration", "mated_pairs", "splices", "end_type_a", "end_type_b",
    "reference", "segment", "glass", "medium", "length_m", "length_unstated", "accuracy_db", "wiring_scheme_a",
    "wiring_scheme_b", "screen", "nvp_percent", "temperature_c", "accuracy_level",
)  # fmt: skip


def pool(records: pd.DataFrame) -> pd.DataFrame:
    """Facts missing on a record are taken from other records of the same label in the same table, where they agree."""
    keys: pd.Series | None = None
    for name in POOLED:
        if name not in records.columns:
            continue
        values = records[name].astype("float64")
        if TABLES["records"][name].dtype != "f8":
            values = values.where(values >= 0)
        if not values.isna().any() or values.isna().all():
            continue
        if keys is None:
            keys = records["key"]
            if not keys.duplicated().any():
                return records
        groups = values.groupby(keys)
        agree = groups.transform("nunique") == 1
        filled = values.where(values.notna() | ~agree, groups.transform("max"))
        records[name] = filled if TABLES["records"][name].dtype == "f8" else filled.fillna(-1).astype("int16")
    return records


__all__ = ["TableResult", "identity", "pool", "read_table"]
