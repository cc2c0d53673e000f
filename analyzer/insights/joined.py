"""The tables of one run joined once, so that all insights look at the same rows, and evidence taken from them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
import pandas as pd

from analyzer.budget.plain import distinct_rows
from analyzer.budget.wording import what_was_read
from analyzer.schema import CATEGORIES, UNIT_OF_PARAMETER, Analysis, Evidence

Made = TypeVar("Made")

EVIDENCE_SHOWN = 12
"""Pieces of evidence that a finding carries at the most; its links are always complete."""

FAILS = ("fail", "marginal fail")

_CODED = ("parameter", "pair", "end", "direction")
_DAY_S = 86_400
_TIMELESS = np.iinfo(np.int64).min


class Joined:
    """One analysis, its tables joined when first asked for. Positions of rows stand for record and reading numbers."""

    def __init__(self, analysis: Analysis) -> None:
        self.analysis = analysis
        self._made: dict[str, Any] = {}

    def once(self, name: str, make: Callable[[Joined], Made]) -> Made:
        """What several insights of one room look at, made when first asked for."""
        if name not in self._made:
            self._made[name] = make(self)
        made: Made = self._made[name]
        return made

    @property
    def job(self) -> Any:
        """The job in force."""
        return self.analysis.job

    @cached_property
    def link_of_record(self) -> np.ndarray:
        """Link of each record."""
        return self.analysis.records["link"].to_numpy(dtype=np.int64)

    @cached_property
    def links(self) -> pd.DataFrame:
        """One row per link: label, cable, strand (number, -1 unknown), places, area, medium, type, verdict.

        A cable that is one link, as in twisted pair, says nothing of neighbors: there the label without its last number
        stands for the cable, which is the panel, outlet or room that crews label and test as one.
        """
        links = self.analysis.links
        numbers = _last_number(links["strand"].where(links["strand"].notna(), links["key"]))
        return pd.DataFrame(
            {
                "label": links["label"].to_numpy(dtype=object),
                "cable": bundles(links),
                "strand": numbers,
                **{name: links[name].to_numpy(dtype=object) for name in ("place_a", "place_b", "area")},
                "medium": links["medium"].astype("object").to_numpy(),
                "type": links["type"].to_numpy(dtype=object),
                "verdict": links["verdict"].astype("object").to_numpy(),
            }
        )

    @cached_property
    def cables(self) -> np.ndarray:
        """Cable of each link as schedule or file name it, else its label without the last number; None where none."""
        return cable_of(self.analysis.links).to_numpy(dtype=object)

    @cached_property
    def records(self) -> pd.DataFrame:
        """One row per record: link, tester, operator, tested_s (seconds; least int64 where no time), has_clock, file."""
        records = self.analysis.records
        timeless = records["tested_at"].isna().to_numpy()
        seconds = records["tested_at"].to_numpy().astype("datetime64[s]").astype(np.int64)
        return pd.DataFrame(
            {
                "link": self.link_of_record,
                "tester": _text(records["tester"]),
                "operator": _text(records["operator"]),
                "tested_s": np.where(timeless, _TIMELESS, seconds),
                "dated": ~timeless,
                "has_clock": ~timeless & (seconds % _DAY_S != 0),
                "record_no": records["record_no"].to_numpy(dtype=object),
                "file": self._file_of_block(records["block"]),
                "row": records["row"].to_numpy(),
                "in_use": self._in_use,
            }
        )

    @cached_property
    def _in_use(self) -> np.ndarray:
        """Records of which some reading is in force, or that have no reading."""
        at = self.analysis.readings["record"].to_numpy()
        live = self.analysis.judged["in_force"].to_numpy()
        count = len(self.analysis.records)
        return np.asarray((np.bincount(at, live, count) > 0) | (np.bincount(at, minlength=count) == 0))

    @cached_property
    def measured(self) -> pd.DataFrame:
        """One row per reading, bounds too: codes of what was read, value, decimals, whether in force, verdicts."""
        readings, judged = self.analysis.readings, self.analysis.judged
        record = readings["record"].to_numpy()
        codes = {name: readings[name].cat.codes.to_numpy().astype(np.int64) for name in _CODED}
        return pd.DataFrame(
            {
                "reading": np.arange(len(readings)),
                "record": record,
                "link": self.link_of_record[record],
                **codes,
                "wavelength_nm": readings["wavelength_nm"].to_numpy().astype(np.int64),
                "value": readings["value"].to_numpy(),
                "decimals": self._decimals,
                "in_force": judged["in_force"].to_numpy(),
                "margin": judged["margin"].to_numpy(),
            }
        )

    @cached_property
    def _decimals(self) -> np.ndarray:
        """Decimals of each reading; those that no number format tells, from the numbers of their file and parameter."""
        readings = self.analysis.readings
        decimals = readings["decimals"].to_numpy().astype(np.int64)
        unknown = np.flatnonzero((decimals < 0) & readings["value"].notna().to_numpy())
        if len(unknown):
            file = self.records["file"].to_numpy()[readings["record"].to_numpy()[unknown]]
            group = distinct_rows(pd.Series(file), readings["parameter"].iloc[unknown])[0]
            decimals[unknown] = _decimals_of(readings["value"].to_numpy()[unknown], group)[group]
        return decimals

    @cached_property
    def readings(self) -> pd.DataFrame:
        """The rows of `measured` that are numbers and no bounds."""
        number = (self.analysis.readings["bound"].isna() & self.analysis.readings["value"].notna()).to_numpy()
        return self.measured[number].reset_index(drop=True)

    @cached_property
    def kinds(self) -> pd.DataFrame:
        """What a reading in force is of, as one number `kind`, and as `swapped` with the ends exchanged."""
        live = self.readings[self.readings["in_force"]].reset_index(drop=True)
        live["kind"] = _kind(live, swapped=False)
        live["swapped"] = _kind(live, swapped=True)
        return live

    @cached_property
    def losses(self) -> pd.DataFrame:
        """Losses of fiber in force with cable, strand, time, tester and operator, n rows."""
        live = self.readings[self.readings["in_force"] & (self.readings["parameter"] == LOSS)]
        records = self.records.take(live["record"].to_numpy()).reset_index(drop=True)
        links = self.links.take(live["link"].to_numpy()).reset_index(drop=True)
        facts = self.analysis.facts["length_m"].to_numpy()[live["record"].to_numpy()]
        return live.reset_index(drop=True).assign(
            cable=links["cable"], strand=links["strand"], type=links["type"], length_m=facts,
            tester=records["tester"], operator=records["operator"], tested_s=records["tested_s"],
            dated=records["dated"],
        )  # fmt: skip

    @cached_property
    def first_failed(self) -> np.ndarray:
        """For every link: some test of it failed, whether or not a later one passed."""
        failed = np.zeros(len(self.links), dtype=bool)
        failed[self.link_of_record[self._failing_records]] = True
        return failed | (self.links["verdict"] == "fail").to_numpy()

    @cached_property
    def _failing_records(self) -> np.ndarray:
        hit = self.analysis.judged["verdict"].isin(FAILS).to_numpy()
        return np.unique(self.analysis.readings["record"].to_numpy()[hit])

    def _file_of_block(self, blocks: pd.Series) -> np.ndarray:
        known = dict(zip(self.analysis.blocks["block"], self.analysis.blocks["file"], strict=True))
        codes, distinct = pd.factorize(blocks)
        files = np.array([*(known.get(block, -1) for block in distinct), -1], dtype=np.int64)
        return files[codes]

    def labels(self, links: Iterable[int] | np.ndarray) -> list[str]:
        """Labels of links, each once, in the order of the links table."""
        distinct = np.unique(np.asarray(list(links), dtype=np.int64))
        return [str(label) for label in self.links["label"].to_numpy()[distinct]]

    def of_readings(self, readings: Sequence[int] | np.ndarray) -> tuple[Evidence, ...]:
        """Readings by number, with where they stand; the first few."""
        at = np.asarray(readings, dtype=np.int64)[:EVIDENCE_SHOWN]
        rows = self.analysis.readings.take(at)
        labels = self.links["label"].to_numpy()[self.link_of_record[rows["record"].to_numpy()]]
        words = what_was_read(rows).to_numpy(dtype=object)
        found = []
        for what, label, value, parameter, (file, sheet, row), col in zip(
            words, labels, rows["value"], rows["parameter"], self.places(rows), rows["col"].tolist(), strict=True
        ):
            unit = UNIT_OF_PARAMETER.get(parameter, "dB") if isinstance(parameter, str) else ""
            number = None if np.isnan(value) else float(value)
            found.append(Evidence(f"{label}: {what}", number, unit, file, sheet, row, col if col >= 0 else None))
        return tuple(found)

    def of_records(
        self, records: Sequence[int] | np.ndarray, what: Sequence[str] | str, values: Any = None, unit: str = ""
    ) -> tuple[Evidence, ...]:
        """Records by number, each with what it says and, where `values` are given, a number; the first few."""
        at = np.asarray(records, dtype=np.int64)[:EVIDENCE_SHOWN]
        words = [what] * len(at) if isinstance(what, str) else list(what)[: len(at)]
        numbers = [None] * len(at) if values is None else [float(value) for value in values[: len(at)]]
        labels = self.links["label"].to_numpy()[self.link_of_record[at]]
        where = self.places(self.analysis.records.take(at))
        return tuple(
            Evidence(f"{label}: {word}", number, unit if number is not None else "", *place)
            for label, word, number, place in zip(labels, words, numbers, where, strict=True)
        )

    def places(self, rows: pd.DataFrame) -> list[tuple[str | None, str | None, int | None]]:
        """File, sheet and row of each row of records or readings."""
        blocks = self.analysis.blocks
        files = dict(zip(self.analysis.files["file"], self.analysis.files["name"], strict=True))
        places = {
            block: (files.get(file), sheet if isinstance(sheet, str) else None)
            for block, file, sheet in zip(blocks["block"], blocks["file"], blocks["sheet"], strict=True)
        }
        numbers = rows["row"].tolist()
        return [
            (*places.get(block, (None, None)), row if row >= 0 else None)
            for block, row in zip(rows["block"].tolist(), numbers, strict=True)
        ]


LOSS = CATEGORIES["parameter"].index("loss")


MOST_DECIMALS, ALIKE_WRITTEN = 6, 0.9
"""Decimals beyond which numbers of a workbook were worked out; share of a group that its decimals must do for."""


def _decimals_of(values: np.ndarray, group: np.ndarray) -> np.ndarray:
    """The fewest decimals that nine of ten numbers of each group are whole in: a workbook drops the last zeros."""
    size = np.bincount(group)
    found = np.full(len(size), MOST_DECIMALS, dtype=np.int64)
    for decimals in range(MOST_DECIMALS - 1, -1, -1):
        whole = np.isclose(np.round(values, decimals), values, rtol=0, atol=1e-9)
        found[np.bincount(group, whole) >= ALIKE_WRITTEN * size] = decimals
    return found


def counted(what: str, value: float, unit: str = "") -> Evidence:
    """A number that was counted or computed and stands in no file."""
    return Evidence(what, float(value), unit)


def chance_words(seen: int, expected: float, looked: str) -> str:
    """The sentence that every screening ends with: what was looked at, what chance gives, what was seen."""
    usual = "fewer than 0.001" if expected < 0.001 else f"about {expected:.2g}"
    return f"{looked}: chance alone would give {usual}, {seen} seen"


def chance_evidence(seen: int, expected: float) -> tuple[Evidence, Evidence]:
    """The same two numbers as evidence."""
    return counted("seen", seen), counted("expected by chance alone", expected)


def counted_words(count: int, one: str, many: str | None = None) -> str:
    """A count with its noun, for example `1 link` or `3 links`."""
    return f"{count} {one}" if count == 1 else f"{count} {many or one + 's'}"


def group_numbers(frame: pd.DataFrame, names: Sequence[str]) -> np.ndarray:
    """Number of the group of each row; missing values are a group of their own."""
    return distinct_rows(*(frame[name] for name in names))[0]


def within(values: pd.Series, groups: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Distance of each value from the median of its group, and the size of its group."""
    grouped = values.groupby(groups)
    return (values - grouped.transform("median")).to_numpy(), grouped.transform("size").to_numpy()


def cable_of(links: pd.DataFrame) -> pd.Series:
    """Cable of every link: as schedule or file say, else the label without its last number."""
    stem = links["key"].str.extract(r"^(.*[^\W_])[\W_]+\d+$", expand=False)
    return links["cable"].where(links["cable"].notna(), stem)


def bundles(links: pd.DataFrame) -> np.ndarray:
    """Cable of each link, or of each row of a schedule; of a cable with one link, its label without the last number, if others share that."""
    stem = links["label"].str.extract(r"^(.*[^\W_])[\W_]+\d+$", expand=False).astype("object")
    cable = cable_of(links).astype("object")
    # a cable that only the labels name is told as they write it
    written = stem.groupby(cable).transform("first")
    cable = cable.where(links["cable"].notna() | written.isna(), written)
    single = cable.map(cable.value_counts()).fillna(1) == 1
    shared = stem.map(stem[single].value_counts()) > 1
    return np.asarray(cable.where(~(single & shared), stem).to_numpy(dtype=object))


def _kind(live: pd.DataFrame, *, swapped: bool) -> np.ndarray:
    """Parameter, wavelength, pair, end and direction in one number."""
    end, direction = live["end"].to_numpy(), live["direction"].to_numpy()
    if swapped:
        end, direction = np.where(end >= 0, 1 - end, end), np.where(direction >= 0, 1 - direction, direction)
    number = live["parameter"].to_numpy() + 1
    for part, room in (
        (live["wavelength_nm"].to_numpy(), 4096),
        (live["pair"].to_numpy(), 16),
        (end, 4),
        (direction, 4),
    ):
        number = number * room + part + 1
    return np.asarray(number)


def _text(values: pd.Series) -> np.ndarray:
    """Texts, "" where missing."""
    return values.astype("object").fillna("").to_numpy(dtype=object)


def _last_number(texts: pd.Series) -> np.ndarray:
    """The number that a text ends with; -1 where it ends with none or with one of more than six digits."""
    # a spreadsheet may have turned 7 into 7.0
    whole = texts.astype("str").str.replace(r"^(\d+)\.0+$", r"\1", regex=True)
    digits = whole.str.extract(r"(?<!\d)(\d{1,6})$", expand=False)
    return pd.to_numeric(digits, errors="coerce").fillna(-1).to_numpy(dtype=np.int64)
