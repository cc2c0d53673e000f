"""Positions of an array that were counted from the other end: mapped by the scheduled polarity before readings join.

An array cable may be numbered from either end. Where a record was measured from end B, or states its position at that
end alone, the polarity of the schedule tells which position of end A it is, and so which strand. Where the schedule
states none, nothing is guessed: the record stays a link of its own, called `TB-1-B12`, and that is told.

A record whose label names the strand itself is that strand, whichever end it was measured from.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from analyzer.budget.scheduled import ScheduleIndex
from analyzer.standards import Values
from analyzer.standards.array_polarity import polarities_of_arrays, position_at_other_end

_BY_END_B = r"B[0-9]{1,4}"
_NUMBERED = r"B?[0-9]{1,4}"


@dataclass(frozen=True)
class Placed:
    """Records called by their position at end A, and seeds (code, record, text)."""

    records: pd.DataFrame
    seeds: pd.DataFrame


@dataclass(frozen=True)
class ArrayRecords:
    """The records of a file as it writes them, with what the schedule says of their cables."""

    records: pd.DataFrame
    columns: pd.DataFrame
    """Schema `columns`: tell which records have a label, and which a strand, in a column of its own."""
    schedule: ScheduleIndex

    @cached_property
    def by_end_b(self) -> np.ndarray:
        """Records that the file calls by their position at end B; n booleans."""
        stated: np.ndarray = self.records["position_b"].notna().to_numpy(dtype=bool)
        return _is(self.records["strand"], _BY_END_B) & stated if stated.any() else stated

    @cached_property
    def row(self) -> np.ndarray:
        """Row of the schedule for each record; one of position `B12` gets that of a strand of its cable; -1: none."""
        keys = self.records["key"]
        if self.by_end_b.any():
            keys = keys.where(~self.by_end_b, keys.str.replace(r"b([0-9]{1,4})$", r"\1", regex=True))
        return self.schedule.rows_of(keys)

    def at_end_a(self, turned_records: pd.DataFrame, turned: np.ndarray, values: Values) -> Placed:
        """Records called by their position at end A.

        Args:
            turned_records: the records with their ends where the schedule has them.
            turned: which of them were measured from the schedule's end B.
            values: the values in force; they hold the mappings.
        """
        other_end = turned | self.by_end_b
        at = np.flatnonzero(other_end & self._numbered()) if other_end.any() else np.zeros(0, dtype=np.int64)
        if not len(at):
            return Placed(turned_records, _seed("array-positions-mapped", at, np.zeros(0, dtype=object)))
        table = self._places(at, turned_records.take(at), turned[at], values)
        moved, open_ = (table[table[name].to_numpy(dtype=bool)] for name in ("moved", "open"))
        records = _renamed(turned_records, moved, open_)
        told = [
            _seed("array-positions-mapped", moved.index.to_numpy(), _words_of_moved(moved)),
            _seed("array-position-open", open_.index.to_numpy(), _words_of_open(open_)),
        ]
        return Placed(records, pd.concat(told, ignore_index=True))

    def _numbered(self) -> np.ndarray:
        """Records that are called by a cable and a number, not by a label of their own."""
        own = self.columns.loc[self.columns["role"] == "label", "block"]
        number = _is(self.records["strand"], _NUMBERED)
        labeled = self.records["block"].isin(own).to_numpy(dtype=bool) & ~self._from_positions()
        found: np.ndarray = number & ~labeled & self.records["cable"].notna().to_numpy(dtype=bool)
        return found

    def _from_positions(self) -> np.ndarray:
        """Records whose strand stands in no column of its own, but in that of a position at one end."""
        own = self.columns.loc[self.columns["role"] == "strand", "block"]
        stated = self.records[["position_a", "position_b"]].notna().any(axis=1)
        found: np.ndarray = (stated & ~self.records["block"].isin(own)).to_numpy(dtype=bool)
        return found

    def _places(self, at: np.ndarray, records: pd.DataFrame, turned: np.ndarray, values: Values) -> pd.DataFrame:
        """For each record `at`: position as counted and at end A, what it is now called, and why not."""
        schedule = self.schedule.table
        rows = self.schedule.take(self.row[at]).set_axis(at)
        most = schedule["strand"].groupby(schedule["cable_key"]).max()
        by_position = self._from_positions()[at]
        counted = records["strand"].str.removeprefix("B").astype("float64").to_numpy()
        # both ends may be stated: then nothing has to be mapped
        position_a, position_b = (records[name].to_numpy() for name in ("position_a", "position_b"))
        stated = by_position & np.isfinite(position_a)
        at_b = np.where(by_position, ~stated, turned)
        counted = np.where(by_position, np.where(stated, position_a, position_b), counted).astype(np.int64)
        polarity = rows["polarity"].astype("object")
        arrays = polarities_of_arrays(values)
        array = polarity.isin(arrays).to_numpy()
        said = records["polarity"].astype("object").isin(arrays).to_numpy() & polarity.isna().to_numpy()
        count = rows["cable_key"].map(most).fillna(0).to_numpy(dtype=np.int64)
        other = position_at_other_end(values, polarity.where(array, None).to_numpy(), counted, count)
        wanted = np.where(at_b, other, counted)
        found = _row_of_strand(schedule, rows["cable_key"], wanted)
        needed = by_position | array | said  # strands of other cables have one number at both ends
        table = pd.DataFrame({"counted": counted, "polarity": polarity, "cable": records["cable"].to_numpy()}, index=at)
        target = self.schedule.take(found)
        changes = (target["key"].to_numpy(dtype=object) != records["key"].to_numpy(dtype=object)) | at_b
        return table.assign(
            wanted=wanted, at_b=at_b, label=target["label"].to_numpy(), key=target["key"].to_numpy(),
            moved=needed & (found >= 0) & changes, open=needed & (found < 0) & at_b,
            scheduled=self.row[at] >= 0, count=count,
        )  # fmt: skip


def _is(texts: pd.Series, pattern: str) -> np.ndarray:
    """Which texts are of this form; a missing one is not."""
    found: np.ndarray = texts.fillna("").str.fullmatch(pattern).to_numpy(dtype=bool)
    return found


def _row_of_strand(schedule: pd.DataFrame, cable_key: pd.Series, strand: np.ndarray) -> np.ndarray:
    """Row of the schedule that holds a strand of a cable; -1: none."""
    keys = pd.MultiIndex.from_arrays([schedule["cable_key"].astype("object"), schedule["strand"].astype("int64")])
    first = np.flatnonzero(~keys.duplicated())
    found = keys.take(first).get_indexer(pd.MultiIndex.from_arrays([cable_key.astype("object"), strand]))
    return np.where(found >= 0, np.append(first, -1)[found], -1)


def _renamed(records: pd.DataFrame, moved: pd.DataFrame, open_: pd.DataFrame) -> pd.DataFrame:
    """Records that moved are called as the schedule calls their strand; open ones by their position at end B."""
    out = records.copy(deep=False)
    texts = {name: records[name].to_numpy(dtype=object, copy=True) for name in ("label", "key", "strand")}
    texts["label"][moved.index], texts["key"][moved.index] = moved["label"], moved["key"]
    texts["strand"][moved.index] = moved["wanted"].astype("str")
    called = open_["counted"].astype("str").radd("B")
    texts["strand"][open_.index] = called
    label = open_["cable"].astype("str") + "-" + called
    texts["label"][open_.index] = label
    stem = pd.Series(records["key"].to_numpy(dtype=object)[open_.index], dtype="str")
    texts["key"][open_.index] = stem.str.replace(r"b?[0-9]{1,4}$", "", regex=True) + called.str.lower().to_numpy(
        dtype=object
    )
    for name, values in texts.items():
        out[name] = pd.Series(values, index=records.index, dtype="str")
    return out


def _words_of_moved(moved: pd.DataFrame) -> np.ndarray:
    number, wanted = moved["counted"].astype("str"), moved["wanted"].astype("str")
    mapped = "position of end B mapped to end A by " + moved["polarity"].astype("str") + ": " + number + " is " + wanted
    return mapped.where(moved["at_b"], "position of end A as the record states it: " + wanted).to_numpy(dtype=object)


def _words_of_open(open_: pd.DataFrame) -> np.ndarray:
    cable = open_["cable"].astype("str")
    why = np.select(
        [
            ~open_["scheduled"].to_numpy(),
            open_["polarity"].isna().to_numpy(),
            (open_["wanted"] < 0).to_numpy(),
        ],
        [
            "no schedule names this position of " + cable,
            "the schedule states no polarity of " + cable,
            "polarity " + open_["polarity"].astype("str") + " maps none of " + open_["count"].astype("str")
            + " strands of " + cable + " to it",
        ],
        "the schedule has no such strand of " + cable,
    )  # fmt: skip
    head = "position counted from end B, not joined with the strand of end A: "
    return (head + pd.Series(why, index=open_.index).astype("str")).to_numpy(dtype=object)


def _seed(code: str, at: np.ndarray, text: np.ndarray) -> pd.DataFrame:
    """Seeds: code, record, text."""
    return pd.DataFrame({"code": code, "record": at.astype("int32"), "text": text}, index=range(len(at)))
