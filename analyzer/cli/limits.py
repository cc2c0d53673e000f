"""`cableproof limits`: the value rows that limits rest on, each with its document and how it is known."""

from __future__ import annotations

import math
import sys
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from pathlib import Path
from typing import Any, Final

from analyzer import standards
from analyzer.errors import CableproofError, OptionError, StandardsError
from analyzer.schema import CATEGORIES
from analyzer.standards.describe import HOW_KNOWN_WORDS, subject, value_text
from analyzer.standards.tables import PAIR_PARAMETERS, TABLES, Row

_GOVERNING: Final = {
    "loss": ("attenuation", "components"),
    "optical return loss": ("optical_return_loss",),
}
_PAIRS: Final = "copper_limits"
_EVIDENCE: Final = {
    "loss": ("attenuation_evidence", "components_evidence", "component_spread", "typical_attenuation"),
    "optical return loss": (),
    "decision rule": ("decision_rules",),
}
_CABLE: Final = "cable"
_FOOTNOTE: Final = (
    "* unconfirmed: recalled or derived, not yet compared with the document. "
    "Compare it, then name the row under [confirmed] in job.toml."
)


@dataclass(frozen=True)
class Wanted:
    """Which rows are asked for; None means all."""

    fiber: str | None = None
    standard: str | None = None
    edition: str | None = None
    parameter: str | None = None
    component: str | None = None
    unconfirmed: bool = False
    evidence: bool = False
    row_ids: Collection[str] | None = None
    """Only these, for example the rows that one run used."""
    confirmed: Mapping[str, Any] = field(default_factory=dict)
    """Row id -> by, document, date: what somebody compared with the document."""
    grade: str | None = None
    configuration: str | None = None
    frequency_mhz: float | None = None
    pair_edition: str | None = None
    """Edition of the twisted-pair standard, where it is ordered apart from that of fiber."""


def limits(
    *,
    fiber: str | None = None,
    standard: str | None = None,
    edition: str | None = None,
    parameter: str | None = None,
    component: str | None = None,
    grade: str | None = None,
    configuration: str | None = None,
    frequency: float | None = None,
    unconfirmed: bool = False,
    evidence: bool = False,
    job: Path | None = None,
    json: bool = False,
) -> int:
    """List limit values with document, edition, clause and how each is known.

    Args:
        fiber: only what holds for this fiber type, for example OM4.
        standard: only this family, TIA or ISO.
        edition: only this edition, for example 568.3-E.
        parameter: "loss" or "optical return loss"; for twisted pair "NEXT", "insertion loss" ...; with --evidence also
            "decision rule".
        component: "cable", "mated pair", "array mated pair", "splice" ...
        grade: only twisted pair of this category or class, for example 6A or EA.
        configuration: only "channel" or "permanent link".
        frequency: twisted pair at this frequency [MHz], with the limit that the equations give there.
        unconfirmed: only rows that are recalled or derived and that nobody has confirmed.
        evidence: the second sources, bare-fiber values, what the expected loss rests on (typical attenuation, mean and
            97 % values of components) and the decision rules, instead of the rows that govern limits.
        job: job.toml whose overrides and confirmations count; its ordered edition, fiber and grade are listed. With
            --unconfirmed only the rows that the verdicts of its folder rest on.
        json: write the rows as JSON.

    Returns:
        Exit code: 0, or 2 where an option or the job cannot be used.
    """
    try:
        values, wanted = _from_job(job, fiber, standard, edition, grade)
        wanted = replace(
            wanted, parameter=parameter, component=component, unconfirmed=unconfirmed, evidence=evidence,
            grade=grade or wanted.grade, configuration=configuration or wanted.configuration, frequency_mhz=frequency,
        )  # fmt: skip
        if grade or configuration or frequency is not None:
            wanted = replace(wanted, fiber=fiber)
        if job is not None and unconfirmed:
            used = _rows_used(job)
            wanted = wanted if used is None else replace(wanted, row_ids=used)
        text = limits_json(values, wanted) if json else limits_text(values, wanted)
    except CableproofError as error:
        print(error, file=sys.stderr)
        return 2
    print(text)
    return 0


def limits_text(values: standards.Values, wanted: Wanted) -> str:
    """The rows as aligned text, grouped by document and clause.

    Raises:
        OptionError: a filter names nothing that is known.
        StandardsError: an edition that is not known.
    """
    rows = select(values, wanted)
    if not rows:
        return "no value row matches" + (": nothing is unconfirmed there" if wanted.unconfirmed else "")
    widths = [
        max((len(cell) for cell in cells if len(cell) <= _WIDEST), default=_WIDEST)
        for cells in zip(*(_cells(row, wanted) for row in rows), strict=True)
    ]
    lines: list[str] = []
    for heading, group in groupby(rows, key=_heading):
        members = list(group)
        lines += ["", heading] if lines else [heading]
        lines += [_line(_cells(row, wanted), widths) for row in members]
        lines += _notes(members)
    open_rows = sum(standards.is_unconfirmed(row, wanted.confirmed) for row in rows)
    lines += ["", f"{len(rows)} rows, {open_rows} unconfirmed"]
    if any(row.get("candidate") for row in rows):
        lines.append(
            "Candidates contradict each other: until a job settles which holds, a verdict must hold under each."
        )
    if not all(row.get("governs", True) for row in rows):
        lines.append("~ too weakly known for a verdict.")
    if open_rows:
        lines.append(_FOOTNOTE)
    return "\n".join(lines)


def limits_json(values: standards.Values, wanted: Wanted) -> str:
    """The rows as JSON: {"format": "cableproof-limits/1", "rows": [...]}; what is not known is null."""
    import json

    rows = [_plain(row, wanted) for row in select(values, wanted)]
    return json.dumps({"format": "cableproof-limits/1", "rows": rows}, ensure_ascii=False, indent=1)


def select(values: standards.Values, wanted: Wanted) -> list[Row]:
    """The rows that are asked for, in the order of the values files, each document together."""
    names = _known("fiber", wanted.fiber, CATEGORIES["type"])
    family = _known("standard", wanted.standard, CATEGORIES["standard"])
    editions, of_pairs = _editions(values, family, wanted)
    tables = _tables(wanted)
    rows = [row for table in tables for row in values.rows(table)]
    component = _component(rows, wanted.component)
    chosen = [
        row
        for row in rows
        if (names is None or _holds_for(row, names))
        and (family is None or row.get("standard") == family)
        and (editions is None or _is_in_force(row, editions, of_pairs))
        and (component is None or _component_of(row) == component)
        and (wanted.row_ids is None or row["row_id"] in wanted.row_ids)
        and (not wanted.unconfirmed or standards.is_unconfirmed(row, wanted.confirmed))
    ]
    if _PAIRS in tables:
        chosen = _of_pairs(chosen, wanted)
    documents = _ranks(row["document"] for row in chosen)
    headings = _ranks(_heading(row) for row in chosen)
    return sorted(chosen, key=lambda row: (documents[row["document"]], headings[_heading(row)]))


def _of_pairs(rows: Sequence[Row], wanted: Wanted) -> list[Row]:
    """The rows for the grade, configuration, parameter and frequency that are asked for; other tables stay."""
    grade = _known("grade", wanted.grade, CATEGORIES["grade"])
    known = tuple(dict.fromkeys(row["configuration"] for row in rows if "configuration" in row))
    configuration = _known("configuration", wanted.configuration, known or CATEGORIES["configuration"])
    parameter = _known("parameter", wanted.parameter, (*_GOVERNING, *PAIR_PARAMETERS))
    frequency = wanted.frequency_mhz
    return [
        row
        for row in rows
        if "expression" not in row
        or (
            (grade is None or row["grade"] == grade)
            and (configuration is None or row["configuration"] == configuration)
            and (parameter is None or row["parameter"] == parameter)
            and (frequency is None or _reaches(row, frequency))
        )
    ]


def _reaches(row: Row, frequency_mhz: float) -> bool:
    """A resistance belongs to no frequency and is listed only where none is asked for."""
    return bool(row["freq_max_mhz"] > 0 and math.isfinite(standards.piece_at(row, frequency_mhz)))


def _from_job(
    path: Path | None, fiber: str | None, standard: str | None, edition: str | None, grade: str | None
) -> tuple[standards.Values, Wanted]:
    """Values with the job's overrides, and what the job orders where no option says otherwise."""
    if path is None:
        return standards.load(), Wanted(fiber, standard, edition)
    from analyzer.job import load_job

    job = load_job(path)
    values = standards.load(overrides=dict(job.overrides))
    for row_id in job.confirmed:
        values.row(row_id)  # a misspelled id would confirm nothing, silently
    if standard is None and edition is None:
        standard = job.order.standard or _family_of(values, grade or job.order.grade)
        edition, pair_edition = _ordered_editions(values, standard, job.order.edition)
    else:
        pair_edition = None
    return values, Wanted(
        fiber or job.order.fiber or job.facts.fiber, standard, edition, confirmed=job.confirmed,
        grade=job.order.grade, configuration=job.order.configuration, pair_edition=pair_edition,
    )  # fmt: skip


def _rows_used(path: Path) -> frozenset[str] | None:
    """Rows that the verdicts of the job's folder rest on; None where there is no evidence to judge yet."""
    from analyzer.errors import InputError
    from analyzer.pipeline import analyze

    try:
        analysis = analyze(path.resolve().parent, path)
    except InputError:
        return None
    told = analysis.judged[(analysis.judged["verdict"] != "not judged") & (analysis.judged["limit_id"] >= 0)]
    used = analysis.limits.iloc[told["limit_id"].unique()]
    return frozenset(row for rows in used["rows"] for row in rows.split())


def _family_of(values: standards.Values, grade: str | None) -> str:
    """TIA unless the grade is one that only ISO knows."""
    known = {row["standard"] for row in values.rows("copper_editions") if grade in row["grades"].split()}
    return "ISO" if known == {"ISO"} else "TIA"


def _ordered_editions(values: standards.Values, family: str, edition: str | None) -> tuple[str | None, str | None]:
    """The edition for fiber and that for twisted pair; an order names one of them, the other is then the newest."""
    fiber, pair = (_resolved(values, family, edition, table) for table in ("editions", "copper_editions"))
    if fiber is None and pair is None:
        standards.resolve_edition(values, family, edition)  # raises, and lists the known ones
    newest = (
        standards.resolve_edition(values, family),
        standards.resolve_edition(values, family, None, "copper_editions"),
    )
    return fiber or newest[0], pair or newest[1]


def _resolved(values: standards.Values, family: str, edition: str | None, table: str) -> str | None:
    try:
        return standards.resolve_edition(values, family, edition, table)
    except StandardsError:
        return None


def _tables(wanted: Wanted) -> tuple[str, ...]:
    """Fiber tables, the table of twisted pair, or both, by what the filters can mean."""
    by_parameter = _EVIDENCE if wanted.evidence else {**_GOVERNING, **dict.fromkeys(PAIR_PARAMETERS, (_PAIRS,))}
    parameter = _known("parameter", wanted.parameter, tuple(by_parameter))
    names = dict.fromkeys(by_parameter[parameter] if parameter else (t for some in by_parameter.values() for t in some))
    of_fiber = wanted.fiber is not None or wanted.component is not None
    of_pairs = wanted.grade is not None or wanted.configuration is not None or wanted.frequency_mhz is not None
    if of_pairs and not of_fiber:
        names = dict.fromkeys(name for name in names if name == _PAIRS)
    if of_fiber and not of_pairs:
        names = dict.fromkeys(name for name in names if name != _PAIRS)
    return tuple(names)


def _editions(
    values: standards.Values, family: str | None, wanted: Wanted
) -> tuple[tuple[str, ...] | None, frozenset[str]]:
    """Editions of fiber in force under the one that is asked for, and row ids of twisted pair in force under it.

    An amendment leaves its base standing, and 568-C.2 most of 568.2-D.
    """
    if wanted.edition is None:
        return None, frozenset()
    found: tuple[str, ...] = ()
    of_pairs: set[str] = set()
    problems = []
    for name in (family,) if family else CATEGORIES["standard"]:
        try:
            found += standards.editions_in_force(values, standards.resolve_edition(values, name, wanted.edition))
        except StandardsError as error:
            problems.append(str(error))
        pair = _resolved(values, name, wanted.pair_edition or wanted.edition, "copper_editions")
        of_pairs |= {row["row_id"] for row in standards.pair_rows(values, name, pair)} if pair else set()
    if not found and not of_pairs:
        raise OptionError("; ".join([*problems, _known_pair_editions(values, family)]))
    return found, frozenset(of_pairs)


def _is_in_force(row: Row, editions: Collection[str], of_pairs: Collection[str]) -> bool:
    return row["row_id"] in of_pairs if "expression" in row else row.get("edition") in editions


def _known_pair_editions(values: standards.Values, family: str | None) -> str:
    known = [row["edition"] for row in values.rows("copper_editions") if family in {None, row["standard"]}]
    return f"for twisted pair known are {', '.join(known)}"


def _holds_for(row: Row, fiber: str) -> bool:
    if "expression" in row:
        return True
    if "rule" in row:
        return False
    if "types" in row:
        return fiber in row["types"].split()
    if "medium" in row:
        return standards.medium_of(fiber) in row["medium"]
    return fiber in row["fiber"]


def _component_of(row: Row) -> str:
    if "rule" in row:
        return "decision rule"
    return str(row["component"]).partition(",")[0] if "component" in row else _CABLE


def _component(rows: Sequence[Row], component: str | None) -> str | None:
    return _known("component", component, tuple(dict.fromkeys(_component_of(row) for row in rows)))


def _known(what: str, text: str | None, known: Sequence[str]) -> str | None:
    if text is None:
        return None
    for word in known:
        if word.casefold() == text.strip().casefold():
            return word
    raise OptionError(f"{what} {text!r} is not known; known are {', '.join(known)}")


def _ranks(words: Iterable[str]) -> dict[str, int]:
    return {word: rank for rank, word in enumerate(dict.fromkeys(words))}


def _heading(row: Row) -> str:
    edition = f", edition {row['edition']}" if row.get("edition") else ""
    return f"{row['document']}{edition}: {row['clause'] or 'clause not known'}"


def _cells(row: Row, wanted: Wanted) -> tuple[str, str, str, str]:
    mark = " *" if standards.is_unconfirmed(row, wanted.confirmed) else ""
    mark += "" if row.get("governs", True) else " ~"
    return row["row_id"], subject(row), value_text(row, wanted.frequency_mhz) + mark, _known_how(row, wanted)


def _known_how(row: Row, wanted: Wanted) -> str:
    words = [HOW_KNOWN_WORDS[row["how_known"]]]
    if row["how_known"] == "own":
        words.append(f"published {row['published'] if row['published'] is not None else 'value not known'}")
    if row["row_id"] in wanted.confirmed:
        by = wanted.confirmed[row["row_id"]]
        words.append(f"confirmed by {by.by} against {by.document} on {by.date}")
    if row.get("in_doubt") is True:
        words.append("doubtful")
    if row.get("second_source"):
        words.append(f"{'chosen from' if 'in_doubt' in row else 'agrees with'} {row['second_source']}")
    return ", ".join(words)


_WIDEST = 48
"""A longer cell, such as an equation, does not widen its column for all the others."""


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    return "  " + "  ".join(cell.ljust(width) for cell, width in zip(cells, widths, strict=True)).rstrip()


def _notes(rows: Sequence[Row]) -> Iterator[str]:
    """Each distinct note once, with the rows it is about unless it is about all."""
    for note in dict.fromkeys(row["note"] for row in rows if row.get("note")):
        about = [row["row_id"] for row in rows if row["note"] == note]
        named = ", ".join(about) if len(about) <= 3 else f"{about[0]} and {len(about) - 1} more"
        which = "" if len(about) == len(rows) else f" ({named})"
        yield f"  note{which}: {note}"


def _plain(row: Row, wanted: Wanted) -> dict[str, Any]:
    if "expression" in row:
        return _plain_line(row, wanted)
    table = next(table for table in TABLES.values() if table.prefix == row["row_id"].partition("-")[0])
    column = table.value or table.numbers[0]
    by = wanted.confirmed.get(row["row_id"])
    keys = ("standard", "document", "edition", "clause", "how_known", "source_id", "second_source", "note")
    return {
        "row_id": row["row_id"],
        "subject": subject(row),
        "value": row[column],
        "unit": table.unit,
        "figures": {name: row[name] for name in table.numbers},
        **{key: row.get(key) for key in keys},
        "published": row.get("published"),
        "unconfirmed": standards.is_unconfirmed(row, wanted.confirmed),
        "confirmed": None if by is None else {"by": by.by, "document": by.document, "date": str(by.date)},
    }


def _plain_line(row: Row, wanted: Wanted) -> dict[str, Any]:
    by = wanted.confirmed.get(row["row_id"])
    at = wanted.frequency_mhz
    keys = (
        "grade", "configuration", "parameter", "freq_min_mhz", "freq_max_mhz", "expression", "sense", "cap", "candidate",
        "condition", "holds_for", "governs", "about", "standard", "document", "edition", "clause", "how_known",
        "source_id", "note",
    )  # fmt: skip
    return {
        "row_id": row["row_id"],
        "subject": subject(row),
        "value": None if at is None else standards.piece_at(row, at),
        "unit": row["unit"],
        "frequency_mhz": at,
        **{key: row[key] for key in keys},
        "unconfirmed": standards.is_unconfirmed(row, wanted.confirmed),
        "confirmed": None if by is None else {"by": by.by, "document": by.document, "date": str(by.date)},
    }
