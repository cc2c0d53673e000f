"""The values files as checked rows: which columns each has, and what may stand in them.

A values file is a CSV with comment lines (#) at its head. Nothing loads that has no source, no row id or a word outside
the closed sets of `analyzer.schema`; the error names the file and the line. pandas is not needed here.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from analyzer.errors import StandardsError
from analyzer.schema import CATEGORIES

Row = dict[str, Any]
"""One row of a values file: text, number, or None where the cell is empty; `line` is its line in the file."""

MEDIA: Final = ("multimode", "single-mode")


@dataclass(frozen=True)
class Table:
    """How one values file is built."""

    file: str
    prefix: str
    """How every row id of the file begins; it tells the table of a row id."""
    columns: tuple[str, ...]
    numbers: tuple[str, ...] = ()
    counts: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()
    closed: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    needed: tuple[str, ...] = ()
    """Columns that may not be empty, beside row_id, how_known and source_id."""
    value: str = ""
    """The column that a job may override; empty where the table governs no limit."""
    unit: str = ""
    key: str = "row_id"


_PROOF: Final = ("standard", "document", "edition", "clause", "how_known", "source_id", "second_source", "note")
_STANDARD: Final = {"standard": CATEGORIES["standard"]}
_MEDIUM: Final = {"medium": MEDIA}

PAIR_PARAMETERS: Final = (
    "insertion loss", "NEXT", "PSNEXT", "ACR-F", "PSACR-F", "ACR-N", "PSACR-N", "return loss", "propagation delay",
    "delay skew", "loop resistance", "resistance unbalance", "resistance unbalance pair to pair", "TCL", "ELTCTL",
    "PSANEXT", "average PSANEXT", "PSAACR-F", "average PSAACR-F", "coupling attenuation",
)  # fmt: skip
"""What twisted pair has limits for."""
REMOTE_POWER: Final = ("type 1", "type 2", "type 3", "type 4")
"""Types of remote power of IEEE 802.3."""
CONDITIONS: Final = (
    ("without consolidation point", "with consolidation point"),
    ("environment E1", "environment E2", "environment E3"),
)
"""Under which a limit of twisted pair may hold alone; within each group exactly one is true of a link."""
_GRADE: Final = {"grade": CATEGORIES["grade"], "configuration": CATEGORIES["configuration"]}
_ORIGIN: Final = ("document", "clause", "how_known", "source_id", "note")

TABLES: Final[Mapping[str, Table]] = {
    "attenuation": Table(
        "fiber_attenuation.csv",
        "FA",
        ("row_id", "types", "construction", "wavelength_nm", "max_attenuation_db_per_km", *_PROOF),
        numbers=("max_attenuation_db_per_km",),
        counts=("wavelength_nm",),
        closed={**_STANDARD, "construction": CATEGORIES["construction"]},
        needed=("types", "wavelength_nm", "max_attenuation_db_per_km", "standard", "document", "edition"),
        value="max_attenuation_db_per_km",
        unit="dB/km",
    ),
    "attenuation_evidence": Table(
        "fiber_attenuation_evidence.csv",
        "FE",
        ("row_id", "fiber", "variant", "wavelength_nm", "attenuation_db_per_km", "kind", "standard", "document",
         "edition", "clause", "how_known", "source_id", "note"),
        numbers=("attenuation_db_per_km",),
        counts=("wavelength_nm",),
        closed={"kind": ("maximum", "typical", "bare fiber")},
        needed=("fiber", "wavelength_nm", "attenuation_db_per_km", "kind", "document"),
        unit="dB/km",
    ),
    "components": Table(
        "fiber_components.csv",
        "FC",
        ("row_id", "component", "medium", "max_loss_db", "percentile", *_PROOF),
        numbers=("max_loss_db",),
        closed={**_STANDARD, **_MEDIUM, "percentile": ("100", "97", "mean")},
        needed=("component", "medium", "percentile", "standard", "document", "edition"),
        value="max_loss_db",
        unit="dB",
    ),
    "components_evidence": Table(
        "fiber_components_evidence.csv",
        "FCE",
        ("row_id", "component", "what", "medium", "loss_db", "percentile", "document", "clause", "how_known",
         "source_id", "note"),
        numbers=("loss_db",),
        needed=("component", "medium", "loss_db", "document"),
        unit="dB",
    ),
    "optical_return_loss": Table(
        "optical_return_loss.csv",
        "RL",
        ("row_id", "component", "medium", "min_return_loss_db", "kind", "standard", "document", "edition", "clause",
         "how_known", "source_id", "note"),
        numbers=("min_return_loss_db",),
        closed={**_STANDARD, **_MEDIUM, "kind": ("floor", "grade", "evidence")},
        needed=("component", "medium", "min_return_loss_db", "kind", "document"),
        value="min_return_loss_db",
        unit="dB",
    ),
    "group_index": Table(
        "fiber_group_index.csv",
        "GI",
        ("row_id", "types", "fiber", "wavelength_nm", "group_index", "product_class", "document", "clause", "how_known",
         "source_id", "note"),
        numbers=("group_index",),
        counts=("wavelength_nm",),
        needed=("types", "wavelength_nm", "group_index"),
        value="group_index",
    ),
    "references": Table(
        "reference_methods.csv",
        "RM",
        ("row_id", "name", "document", "medium", "reference", "cords_subtracted", "in_doubt", "how_known", "source_id",
         "note"),
        counts=("cords_subtracted",),
        flags=("in_doubt",),
        closed={**_MEDIUM, "reference": CATEGORIES["reference"]},
        needed=("name", "reference", "cords_subtracted"),
    ),
    "ends": Table(
        "end_types.csv",
        "ET",
        ("row_id", "end_type", "mated_pairs", "array_pairs", "splices", "plug_ends", "how_known", "source_id", "note"),
        counts=("mated_pairs", "array_pairs", "splices", "plug_ends"),
        closed={"end_type": CATEGORIES["end_type"]},
        needed=("end_type", "mated_pairs", "array_pairs", "splices", "plug_ends"),
    ),
    "admissible": Table(
        "admissible.csv",
        "AD",
        ("row_id", "fact", "given", "standard", "values", "how_known", "source_id", "note"),
        closed={**_STANDARD, "fact": ("type", "construction", "mated pairs", "splices")},
        needed=("fact", "values"),
    ),
    "wavelengths": Table(
        "wavelengths.csv",
        "WL",
        ("row_id", "medium", "written_nm", "nominal_nm", "implies", "required_test", "how_known", "source_id", "note"),
        counts=("written_nm", "nominal_nm"),
        flags=("required_test",),
        closed={**_MEDIUM, "implies": MEDIA},
        needed=("medium", "written_nm", "nominal_nm"),
    ),
    "component_spread": Table(
        "component_loss_spread.csv",
        "FS",
        ("row_id", "component", "medium", "grade", "mean_db", "q97_db", "taken", "in_doubt", "document", "clause",
         "how_known", "source_id", "second_source", "note"),
        numbers=("mean_db", "q97_db"),
        flags=("taken", "in_doubt"),
        closed=_MEDIUM,
        needed=("component", "medium", "grade", "mean_db", "q97_db", "document"),
        unit="dB",
    ),
    "typical_attenuation": Table(
        "fiber_typical_attenuation.csv",
        "FT",
        ("row_id", "types", "wavelength_nm", "typical_db_per_km", "in_doubt", "document", "clause", "how_known",
         "source_id", "second_source", "note"),
        numbers=("typical_db_per_km",),
        counts=("wavelength_nm",),
        flags=("in_doubt",),
        needed=("types", "wavelength_nm", "typical_db_per_km", "document"),
        unit="dB/km",
    ),
    "decision_rules": Table(
        "decision_rules.csv",
        "DR",
        ("row_id", "rule", "accept_guard", "reject_guard", "accepts", "words", "risk", "document", "clause",
         "how_known", "source_id", "note"),
        numbers=("accept_guard", "reject_guard"),
        needed=("rule", "accept_guard", "reject_guard", "accepts", "words", "risk", "document"),
    ),
    "array_polarity": Table(
        "array_polarity.csv",
        "AP",
        ("row_id", "polarity", "kind", "counts_in", "mapping", "document", "clause", "how_known", "source_id", "note"),
        counts=("counts_in",),
        closed={
            "polarity": CATEGORIES["polarity"], "kind": ("array", "duplex"),
            "mapping": ("straight", "reversed", "pairs exchanged"),
        },
        needed=("polarity", "kind", "counts_in", "mapping", "document"),
    ),
    "editions": Table(
        "editions.csv",
        "ED",
        ("row_id", "standard", "edition", "document", "title", "year", "amends", "aliases", "how_known", "source_id"),
        counts=("year",),
        closed=_STANDARD,
        needed=("standard", "edition", "document", "year"),
    ),
    "copper_limits": Table(
        "copper_limits.csv",
        "CL",
        ("row_id", "candidate", "standard", "document", "edition", "clause", "grade", "configuration", "parameter",
         "freq_min_mhz", "freq_max_mhz", "expression", "sense", "unit", "cap", "condition", "holds_for", "governs",
         "about", "how_known", "source_id", "note"),
        numbers=("freq_min_mhz", "freq_max_mhz", "cap"),
        flags=("governs",),
        closed={
            **_STANDARD, **_GRADE, "parameter": PAIR_PARAMETERS, "sense": ("max", "min"), "unit": ("dB", "ns", "ohm"),
            "candidate": ("a", "b", "c", "d"), "condition": tuple(word for group in CONDITIONS for word in group),
            "holds_for": ("screened", "unscreened"),
        },
        needed=("standard", "document", "edition", "grade", "configuration", "parameter", "freq_min_mhz",
                "freq_max_mhz", "expression", "sense", "unit"),
    ),
    "copper_editions": Table(
        "copper_editions.csv",
        "CD",
        ("row_id", "standard", "edition", "document", "title", "year", "grades", "otherwise", "without", "aliases",
         "how_known", "source_id"),
        counts=("year",),
        closed=_STANDARD,
        needed=("standard", "edition", "document", "year", "grades"),
    ),
    "copper_exemptions": Table(
        "copper_exemptions.csv",
        "CX",
        ("row_id", "standard", "document", "edition", "clause", "grades", "parameter", "rule", "partner", "side",
         "threshold", "threshold_unit", "setting", "effect", "how_known", "source_id", "note"),
        numbers=("threshold",),
        closed={
            **_STANDARD, "parameter": PAIR_PARAMETERS, "side": ("above", "below"), "threshold_unit": ("dB",),
            "rule": ("reading is for information", "limit stops there", "met by design"),
            "partner": ("insertion loss", "FEXT loss", "power sum FEXT loss", "limit",
                        "coupling attenuation beyond its limit"),
        },
        needed=("document", "grades", "parameter", "rule", "partner", "side", "threshold", "threshold_unit", "effect"),
    ),
    "copper_accuracy": Table(
        "copper_accuracy.csv",
        "CA",
        ("row_id", "level", "kind", "grades", "parameter", "fixed", "percent_of_reading", "unit", "freq_min_mhz",
         "freq_max_mhz", "about", *_ORIGIN),
        numbers=("fixed", "percent_of_reading", "freq_min_mhz", "freq_max_mhz"),
        closed={
            "kind": ("range", "accuracy", "rule"), "unit": ("dB", "m", "ns", "ohm"),
            "parameter": (*PAIR_PARAMETERS, "length"),
        },
        needed=("level", "kind", "document"),
    ),
    "copper_cable": Table(
        "copper_cable.csv",
        "CC",
        ("row_id", "property", "part", "applies_to", "low_c", "high_c", "value", "up_to", "expression", "rule", "unit",
         "evidence", "about", "standard", *_ORIGIN),
        numbers=("low_c", "high_c", "value", "up_to"),
        flags=("evidence",),
        closed={**_STANDARD, "part": ("cable", "cable 100 m", "connection", "conductor", "cord", "channel")},
        needed=("property", "part", "applies_to"),
    ),
    "copper_lengths": Table(
        "copper_lengths.csv",
        "CM",
        ("row_id", "standard", "grades", "configuration", "what", "max_length_m", "evidence", "about", *_ORIGIN),
        numbers=("max_length_m",),
        flags=("evidence",),
        closed={
            **_STANDARD, "configuration": CATEGORIES["configuration"],
            "what": ("channel", "permanent link", "cords together", "work area cord"),
        },
        needed=("standard", "grades", "what", "max_length_m", "document"),
        value="max_length_m",
        unit="m",
    ),
    "copper_configurations": Table(
        "copper_configurations.csv",
        "CN",
        ("row_id", "configuration", "nearest", "basis", *_ORIGIN),
        closed={"configuration": CATEGORIES["configuration"], "nearest": CATEGORIES["configuration"]},
        needed=("configuration", "nearest", "basis", "document"),
    ),
    "copper_wiring": Table(
        "copper_wiring.csv",
        "CW",
        ("row_id", "kind", "item", "t568a_pair", "t568a_side", "t568a", "t568b_pair", "t568b_side", "t568b", "meaning",
         *_ORIGIN),
        closed={
            "kind": ("pin", "contact pair", "wire map fault"), "t568a_side": ("tip", "ring"),
            "t568b_side": ("tip", "ring"), "t568a_pair": ("1", "2", "3", "4"), "t568b_pair": ("1", "2", "3", "4"),
        },
        needed=("kind", "item", "meaning"),
    ),
    "copper_power": Table(
        "copper_power.csv",
        "CP",
        ("row_id", "type", "what", "value", "unit", "floor_ohm", *_ORIGIN),
        numbers=("value", "floor_ohm"),
        closed={"type": REMOTE_POWER, "unit": ("ohm", "%", "A", "V")},
        needed=("type", "what", "value", "unit", "document"),
    ),
    "copper_causes": Table(
        "copper_causes.csv",
        "CQ",
        ("row_id", "parameter", "signature", "likely_cause", "next_step", *_ORIGIN),
        needed=("parameter", "signature", "likely_cause", "next_step"),
    ),
    "sources": Table(
        "sources.csv",
        "",
        ("source_id", "title", "publisher", "edition", "year", "url", "what_it_is"),
        needed=("title", "what_it_is"),
        key="source_id",
    ),
}  # fmt: skip
"""Every values file by the name of its frame in `Values`."""


def read_table(folder: Path, name: str, source_ids: frozenset[str] | None = None) -> tuple[Row, ...]:
    """The checked rows of table `name`; `source_ids` are the sources that exist (None: the table is `sources`).

    Raises:
        StandardsError: the file is missing, a column is missing or unknown, or a row breaks a rule.
    """
    table = TABLES[name]
    path = folder / table.file
    seen: set[str] = set()
    rows = []
    for line, cells in _cells(path, table):
        row = _row(path, line, table, cells)
        identity = row[table.key]
        if identity in seen:
            raise _damaged(path, line, f"{table.key} {identity!r} stands twice; give the new row an id of its own")
        seen.add(identity)
        if source_ids is not None and row["source_id"] not in source_ids:
            raise _damaged(path, line, f"source {row['source_id']!r} does not stand in sources.csv; add it there")
        rows.append(row)
    return tuple(rows)


def _cells(path: Path, table: Table) -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of each data row, after the header was compared with the table's columns."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise StandardsError(f"{path.name}: the values file cannot be read ({error}); restore it") from error
    lines = text.splitlines(keepends=True)
    head = next((number for number, line in enumerate(lines) if not line.startswith("#")), len(lines))
    reader = csv.reader(lines[head:])
    header = next(reader, [])
    if tuple(header) != table.columns:
        raise _damaged(path, head + 1, f"the columns must be {', '.join(table.columns)}")
    for cells in reader:
        line = head + reader.line_num
        if len(cells) != len(table.columns):
            raise _damaged(path, line, f"{len(cells)} cells where {len(table.columns)} belong; check the commas")
        yield line, cells


def _row(path: Path, line: int, table: Table, cells: list[str]) -> Row:
    row: Row = {column: cell.strip() or None for column, cell in zip(table.columns, cells, strict=True)}
    proof = () if table.key == "source_id" else ("how_known", "source_id")
    for column in (table.key, *table.needed, *proof):
        if row[column] is None:
            what = "a value without a source does not load" if column == "source_id" else "the cell may not be empty"
            raise _damaged(path, line, f"no {column}; {what}")
    if table.prefix and not row["row_id"].startswith(table.prefix + "-"):
        raise _damaged(path, line, f"row_id {row['row_id']!r} must begin with {table.prefix}-")
    closed = {**table.closed, "how_known": CATEGORIES["how_known"]} if proof else table.closed
    for column, words in closed.items():
        if row[column] is not None and row[column] not in words:
            raise _damaged(path, line, f"{column} {row[column]!r} is none of {', '.join(words)}")
    for column in table.numbers:
        row[column] = _number(path, line, column, row[column])
    for column in table.counts:
        row[column] = _count(path, line, column, row[column])
    for column in table.flags:
        if row[column] not in {"yes", "no"}:
            raise _damaged(path, line, f"{column} must be yes or no")
        row[column] = row[column] == "yes"
    row["line"] = line
    return row


def _number(path: Path, line: int, column: str, text: str | None) -> float | None:
    if text is None:
        return None
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not math.isfinite(number) or number < 0:
        raise _damaged(path, line, f"{column} {text!r} is no number of zero or more")
    return number


def _count(path: Path, line: int, column: str, text: str | None) -> int | None:
    if text is None or not text.isdecimal():
        raise _damaged(path, line, f"{column} {text!r} is no whole number")
    return int(text)


def _damaged(path: Path, line: int, what: str) -> StandardsError:
    return StandardsError(f"{path.name}, line {line}: {what}")
