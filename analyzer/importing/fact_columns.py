"""Fact columns become columns of the table `records`: one array per fact, cells that cannot be read set aside."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from analyzer.importing import facts, pair_facts
from analyzer.importing.cells import FACTORS, NO_BOUND
from analyzer.importing.columns import Use
from analyzer.importing.distinct import iso_times, text_array, where
from analyzer.importing.end_positions import numbers_positions, position_numbers
from analyzer.importing.grid import NUMBER, TEXT, CellColumn
from analyzer.importing.parsed import category_codes, factors, parse_column
from analyzer.importing.words import plain, units, word
from analyzer.schema import CATEGORIES


@dataclass
class Facts:
    """Facts of the data rows of one block: name of the record column -> array (codes for categories)."""

    arrays: dict[str, np.ndarray] = field(default_factory=dict)
    rejected: list[tuple[np.ndarray, Use, str]] = field(default_factory=list)
    """(positions among the rows, column, set-aside code)."""
    seeds: list[tuple[str, str]] = field(default_factory=list)


_TEXT_FACTS = {
    "end A label": "label_a", "end B label": "label_b", "place A": "place_a", "place B": "place_b", "area": "area",
    "tester": "tester", "operator": "operator", "record number": "record_no", "limit name": "declared_limit",
    "edition": "edition", "software version": "software_version", "firmware version": "firmware_version",
    "limit table version": "limit_table_version", "project": "project",
}  # fmt: skip
_CATEGORY_FACTS: dict[str, tuple[str, Callable[[str], str]]] = {
    "grade": ("grade", facts.copper_grade),
    "configuration": ("configuration", lambda text: word("configuration", text) or ""),
    "reference": ("reference", facts.reference),
    "segment": ("segment", lambda text: word("segment", text) or ""),
    "medium": ("medium", lambda text: word("medium", text) or ""),
    "construction": ("construction", lambda text: word("construction", text) or ""),
    "polarity": ("polarity", lambda text: word("polarity", text) or ""),
    "standard": ("standard", lambda text: word("standard", text) or ""),
    "accuracy level": ("accuracy_level", pair_facts.accuracy_level),
    "screen": ("screen", pair_facts.screen),
}
_COUNTS = {"mated pairs": "mated_pairs", "splices": "splices", "accuracy": "accuracy_db", "group index": "group_index"}


def category_of(column: str) -> str:
    """Name of the closed set of a categorical record column."""
    return {name + end: name for name in ("end_type", "wiring_scheme") for end in ("_a", "_b")}.get(column, column)


def is_of_record(use: Use) -> bool:
    """Whether a column holds verdicts of whole records: it names no reading."""
    return use.role == "verdict" and use.wavelength_nm < 0 and not use.direction and not use.parameter and not use.pair


def read_facts(
    column_of_use: Any, uses: list[Use], rows: np.ndarray, mark: str | None, date_order: Callable[[Use], str | None]
) -> Facts:
    """Facts from every fact column; `column_of_use(use)` gives its cells, `date_order(use)` what its dates mean."""
    result = Facts()
    for use in uses:
        column: CellColumn = column_of_use(use)
        codes = column.at(rows)
        if use.role in _TEXT_FACTS:
            result.arrays.setdefault(_TEXT_FACTS[use.role], text_array(column.texts, codes))
            if numbers_positions(use):
                end = use.role.split()[1].lower()
                result.arrays.setdefault(f"position_{end}", position_numbers(column.texts)[codes])
        elif use.role in _CATEGORY_FACTS:
            name, parse = _CATEGORY_FACTS[use.role]
            _category(result, use, name, column.map(lambda text, _: parse(text) if text else ""), codes, column)  # noqa: B023 (used at once)
        elif use.role == "type":
            _fiber_type(result, use, column, codes)
        elif use.role == "end types":
            _end_types(result, use, column, codes)
        elif use.role == "wiring scheme":
            _wiring_scheme(result, use, column, codes)
        elif use.role == "velocity":
            _velocity(result, use, column, codes)
        elif use.role == "temperature":
            _temperature(result, use, column, codes)
        elif use.role in _COUNTS:
            _count(result, use, column, rows, mark)
        elif use.role == "length":
            _length(result, use, column, rows, mark)
        elif is_of_record(use):
            _verdict_of_record(result, use, column, codes)
    _dates(result, column_of_use, uses, rows, date_order)
    return result


def _not_told(column: CellColumn) -> np.ndarray:
    # No such word has a digit in it.
    return where(
        column.texts,
        r"^[^0-9]*$",
        lambda text: not text or bool(word("not measured", text)),
        otherwise=False,
        dtype=bool,
    )


def _category(result: Facts, use: Use, name: str, values: list[str], codes: np.ndarray, column: CellColumn) -> None:
    found = category_codes(category_of(name), values)
    if name not in result.arrays:
        result.arrays[name] = found[codes]
    _reject(result, use, ((found < 0) & ~_not_told(column))[codes])


def tells_no_verdict(texts: Sequence[str]) -> np.ndarray:
    """Texts that say that there is no verdict: blank, not measured, for information."""
    return np.asarray([not text or bool(word("not measured", text) or word("no verdict", text)) for text in texts])


def _verdict_of_record(result: Facts, use: Use, column: CellColumn, codes: np.ndarray) -> None:
    """What the export calls the record; of several columns that speak of all of it, the worst."""
    before = result.arrays.pop("declared_verdict", None)
    said = category_codes("declared_verdict", column.map(lambda text, _: facts.verdict(text)))
    result.arrays["declared_verdict"] = said[codes]
    _reject(result, use, ((said < 0) & ~tells_no_verdict(column.texts))[codes], "unclear-verdict")
    if before is not None:
        result.arrays["declared_verdict"] = np.maximum(before, result.arrays["declared_verdict"])


def _reject(result: Facts, use: Use, bad: np.ndarray, code: str = "not-a-fact") -> None:
    if bad.any():
        result.rejected.append((np.flatnonzero(bad), use, code))


def _fiber_type(result: Facts, use: Use, column: CellColumn, codes: np.ndarray) -> None:
    said = [facts.fiber_type(text) for text in column.texts]
    grades = [facts.copper_grade(text) for text in column.texts]
    for name, values in (
        ("type", [one.type for one in said]),
        ("glass", [one.glass for one in said]),
        ("construction", [one.construction for one in said]),
        ("grade", grades),
    ):
        found = category_codes(name, values)
        if (found >= 0).any() and (name not in result.arrays or name == "type"):
            result.arrays[name] = found[codes]
    unknown = np.fromiter((not one and not grade for one, grade in zip(said, grades, strict=True)), bool, len(said))
    _reject(result, use, (unknown & ~_not_told(column))[codes])


def _end_types(result: Facts, use: Use, column: CellColumn, codes: np.ndarray) -> None:
    import re

    def both(text: str) -> tuple[str, str]:
        parts = [word("end_type", part) or "" for part in re.split(r"[/,;+]| - | to ", text) if part.strip()]
        if not parts:
            return "", ""
        return (parts[0], parts[1]) if len(parts) == 2 else (parts[0], parts[0])

    said = [both(text) for text in column.texts]
    if use.end in {"", "A"}:
        result.arrays.setdefault("end_type_a", category_codes("end_type", [one[0] for one in said])[codes])
    if use.end in {"", "B"}:
        result.arrays.setdefault("end_type_b", category_codes("end_type", [one[-1] for one in said])[codes])
    unknown = np.fromiter((not all(one) for one in said), bool, len(said))
    _reject(result, use, (unknown & ~_not_told(column))[codes])


def _wiring_scheme(result: Facts, use: Use, column: CellColumn, codes: np.ndarray) -> None:
    said = [pair_facts.wiring_scheme(text) for text in column.texts]
    for end, place in (("a", 0), ("b", 1)):
        if use.end in {"", end.upper()}:
            values = category_codes("wiring_scheme", [one[place] for one in said])
            result.arrays.setdefault(f"wiring_scheme_{end}", values[codes])
    unknown = np.fromiter((not one[0] for one in said), bool, len(said))
    _reject(result, use, (unknown & ~_not_told(column))[codes])


def _velocity(result: Facts, use: Use, column: CellColumn, codes: np.ndarray) -> None:
    said = np.asarray([pair_facts.nvp_percent(text) for text in column.texts])
    result.arrays.setdefault("nvp_percent", said[codes])
    _reject(result, use, (np.isnan(said) & ~_not_told(column))[codes])


def _temperature(result: Facts, use: Use, column: CellColumn, codes: np.ndarray) -> None:
    said = [pair_facts.temperature(text, use.heading) for text in column.texts]
    result.arrays.setdefault("temperature_c", np.asarray([one[0] for one in said])[codes])
    for code in ("not-a-fact", "no-temperature-unit"):
        bad = np.asarray([one[1] == code for one in said])
        _reject(result, use, (bad & ~_not_told(column))[codes], code)


def _count(result: Facts, use: Use, column: CellColumn, rows: np.ndarray, mark: str | None) -> None:
    parsed = parse_column(column, rows, mark)
    whole = use.role not in {"accuracy", "group index"}
    good = parsed.filled & (parsed.problem == 0) & (parsed.bound == NO_BOUND) & (parsed.value >= 0)
    if whole:
        good &= (parsed.value == np.round(parsed.value)) & (parsed.value < 1000) & (parsed.unit == "")
    result.arrays.setdefault(_COUNTS[use.role], np.where(good, parsed.value, math.nan))
    bad = parsed.filled & ~good
    _reject(result, use, bad & ~_not_told(column)[column.at(rows)] if bad.any() else bad)


def _length(result: Facts, use: Use, column: CellColumn, rows: np.ndarray, mark: str | None) -> None:
    parsed = parse_column(column, rows, mark)
    good = parsed.filled & (parsed.problem == 0) & (parsed.bound == NO_BOUND) & (parsed.value >= 0)
    shown = units().get(plain(column.unit), "")
    default = use.unit or shown
    stated = (parsed.unit != "") if not default else np.ones(len(rows), dtype=bool)
    fits = np.isfinite(factors(parsed.unit, default or "m", "m"))
    good &= fits
    metres = parsed.value * factors(parsed.unit, default or "m", "m")
    result.arrays["length_m"] = np.where(good & stated, metres, math.nan)
    result.arrays["length_unstated"] = np.where(good & ~stated, parsed.value, math.nan)
    if (good & ~stated).any():
        count = int((good & ~stated).sum())
        result.seeds.append(
            ("unit-not-stated", f"{use.heading!r}: {count} lengths without a unit: write m or ft into the heading")
        )
    elif not use.unit and shown and good.any():
        result.seeds.append(("unit-from-format", f"{use.heading!r}: unit {shown} taken from the number format"))
    bad = parsed.filled & ~good
    _reject(result, use, bad & ~_not_told(column)[column.at(rows)] if bad.any() else bad)


def _dates(
    result: Facts, column_of_use: Any, uses: list[Use], rows: np.ndarray, order: Callable[[Use], str | None]
) -> None:
    by_role = {use.role: use for use in reversed(uses)}
    for role, name in (("tested at", "tested_at"), ("date", "tested_at"), ("calibrated on", "calibrated_on")):
        if role not in by_role or name in result.arrays:
            continue
        use = by_role[role]
        column: CellColumn = column_of_use(use)
        codes = column.at(rows)
        stamped, problems = _stamps(column, order(use))
        stamps = stamped[codes]
        if role == "date" and "time" in by_role:
            stamps = stamps + _clock(result, column_of_use(by_role["time"]), by_role["time"], rows)
        result.arrays[name] = stamps
        missing = _not_told(column)
        for code in ("not-a-fact", "ambiguous-date"):
            bad = (problems == code) & ~missing
            if bad.any():
                _reject(result, use, bad[codes], code)


def _stamps(column: CellColumn, order: str | None) -> tuple[np.ndarray, np.ndarray]:
    """Time and set-aside code of each distinct text."""
    kinds = column.kinds or [TEXT] * len(column.texts)
    stamps, known = iso_times(column.texts)
    problems = np.full(len(column.texts), "", dtype=object)
    for at in np.flatnonzero(~known).tolist():
        if column.texts[at]:
            stamps[at], problems[at] = facts.parse_date(column.texts[at], kinds[at], order)
    return stamps, problems


def _clock(result: Facts, column: CellColumn, use: Use, rows: np.ndarray) -> np.ndarray:
    seconds = np.asarray(column.map(facts.parse_clock), dtype=np.int64)[column.at(rows)]
    _reject(result, use, (seconds < 0) & (column.at(rows) != 0))
    return np.asarray(np.maximum(seconds, 0).astype("timedelta64[s]"))


__all__ = ["CATEGORIES", "FACTORS", "NUMBER", "Facts", "category_of", "read_facts"]
