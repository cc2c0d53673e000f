"""Who said what about a link: every fact of every record, each with who said it.

In: records as imported, the schedule row of each, the job, the command line.
Out: one row of facts per record, and seeds of findings where file and schedule differ.

Of a built fact on which file and schedule differ the stricter is taken and a finding says so; where "stricter" depends
on the wavelength (the fiber type) both statements are kept as alternatives and `worlds` judges both. Standard and
edition are settled in `orders`, what is known of the glass in `glass`.
The rules are told to users in docs/verdicts.md.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.fiber import expand_ends, matings_in_reading
from analyzer.budget.glass import settle_glass
from analyzer.budget.limit_names import read_limit_name
from analyzer.budget.orders import SPEAKERS, no_seeds, order_seeds, settle_editions
from analyzer.budget.plain import texts_of, texts_where
from analyzer.job import CommandLine, Job
from analyzer.standards import Values

BUILT = (
    "medium", "type", "construction", "length_m", "mated_pairs", "array_pairs", "splices", "end_type_a", "end_type_b",
    "reference", "segment", "accuracy_db",
)  # fmt: skip
"""Measured or built: command line, else file, else schedule, else job."""

ORDERED = ("grade", "configuration")
"""Ordered: command line, else schedule, else job, else what the export says; standard and edition: see `orders`."""

FEET_IN_M = 0.3048
"""International foot in metres, exact by definition (yard and pound agreement of 1959)."""

LENGTH_DIFFERENCE_FLOOR_M = 2.0
"""Lengths that differ by less than this are one length: cords and slack; common practice, no source."""


@dataclass(frozen=True)
class Settled:
    """Facts of every record (schema `facts`), the second statement of a disputed type, and seeds of findings."""

    facts: pd.DataFrame
    disputed_type: pd.Series
    """What the schedule says where it differs from the file; missing elsewhere; one per record."""
    seeds: pd.DataFrame
    """code, record, text"""


def settle_facts(
    records: pd.DataFrame,
    schedule_rows: pd.DataFrame,
    implied_glass: np.ndarray,
    job: Job,
    given: CommandLine,
    values: Values,
) -> Settled:
    """Settle every fact of every record.

    Args:
        records: schema `records`, n rows.
        schedule_rows: schema `schedule`, n rows in the same order; all missing where a record is not scheduled.
        implied_glass: "multimode", "single-mode" or "" as the measured wavelengths imply, n texts.
        job: the job.
        given: facts from the command line.
        values: the standards' values, for end types and editions.
    """
    said = _all_said(records, schedule_rows, job, given)
    columns: dict[str, Any] = {"record": records["record"], "accuracy_level": records["accuracy_level"]}
    seeds = []
    disputed_type = np.full(len(records), None, dtype=object)
    for name in BUILT:
        chosen, said_by = _first_said(said[name], ("command line", "file", "schedule", "job"))
        file, schedule = said[name]["file"], said[name]["schedule"]
        differs = _differs(name, file, schedule, job.rules.length_difference_percent / 100)
        differs &= said_by != "command line"
        if differs.any():
            seeds.append(_conflict_seeds(records, name, said[name], differs))
            if name == "type":
                disputed_type = texts_where(differs, schedule)
            else:
                stricter = differs & _schedule_is_stricter(name, file, schedule, columns, job, values)
                chosen, said_by = np.where(stricter, schedule, chosen), np.where(stricter, "schedule", said_by)
        columns[name], columns[f"{name}_from"] = chosen, said_by
    said = _with_limit_names(said, records, columns, values)
    for name in ORDERED:
        chosen, said_by = _first_said(said[name], SPEAKERS)
        columns[name], columns[f"{name}_from"] = chosen, said_by
        seeds.append(order_seeds(name, said[name]["file"], chosen, records))
    _configuration_from_ends(columns)
    if job.order.fiber and not job.facts.fiber:
        ordered = np.where(columns["type_from"] == "job", columns["type"], job.order.fiber)
        seeds.append(order_seeds("fiber type", said["type"]["file"], ordered, records))
    pairs = {speaker: (said["standard"][speaker], said["edition"][speaker]) for speaker in SPEAKERS}
    _medium_from_type(columns)
    editions, told = _editions_by_medium(pairs, records, columns, values)
    settled = {name: pd.Series(values, index=records.index, dtype=values.dtype) for name, values in columns.items()}
    facts = schema.conform("facts", pd.DataFrame(settled | dict(editions.items())))
    _expand_ends(facts, values)
    settle_glass(facts, records, schedule_rows, implied_glass)
    _assume_reference(facts)
    return Settled(facts, pd.Series(disputed_type, index=records.index, dtype="object"), join_seeds([*seeds, *told]))


def _with_limit_names(
    said: dict[str, dict[str, np.ndarray]], records: pd.DataFrame, settled: Mapping[str, Any], values: Values
) -> dict[str, dict[str, np.ndarray]]:
    """What is said, with grade and configuration that the name of a loaded limit states where the file is silent."""
    place, limits = pd.factorize(texts_where(settled["medium"] != "fiber", texts_of(records["declared_limit"], None)))
    if not len(limits):
        return said
    names = [read_limit_name(text, values) for text in limits]
    out = dict(said)
    for name in ORDERED:
        told = np.array([*(getattr(found, name) or None for found in names), None], dtype=object)[place]
        file = said[name]["file"]
        out[name] = {**said[name], "file": np.where(pd.isna(file), told, file)}
    return out


def _editions_by_medium(
    said: Mapping[str, tuple[np.ndarray, np.ndarray]],
    records: pd.DataFrame,
    settled: Mapping[str, Any],
    values: Values,
) -> tuple[pd.DataFrame, list[pd.DataFrame]]:
    """Family and edition of every record: twisted pair by its own editions and the grade, the rest by those of fiber."""
    pair = settled["medium"] == "twisted pair"
    asked = records[["record", "declared_limit"]]
    frames, seeds = [], []
    for mask, grade in ((~pair, None), (pair, settled["grade"])):
        if mask.any() or not len(mask):
            part = {speaker: (family[mask], edition[mask]) for speaker, (family, edition) in said.items()}
            frame, told = settle_editions(part, asked[mask], values, None if grade is None else grade[mask])
            frames.append(frame)
            seeds += told
    return frames[0] if len(frames) == 1 else pd.concat(frames).sort_index(), seeds


def _all_said(
    records: pd.DataFrame, schedule_rows: pd.DataFrame, job: Job, given: CommandLine
) -> dict[str, dict[str, np.ndarray]]:
    """For every fact what each speaker says, one text (None: nothing) or number (NaN: nothing) per record."""
    from_line, from_job = said_on_command_line(given), said_by_job(job)
    return {
        name: {
            "command line": _everywhere(name, from_line.get(name), len(records)),
            "file": _plain(name, records[name]),
            "schedule": _plain(name, schedule_rows[name]),
            "job": _everywhere(name, from_job.get(name), len(records)),
        }
        for name in (*BUILT, *ORDERED, "standard", "edition")
    }


def count_matings(facts: pd.DataFrame) -> None:
    """Fill `matings_in_reading` from the counts and the reference method."""
    facts["matings_in_reading"] = matings_in_reading(
        facts["mated_pairs"].to_numpy(float),
        facts["plug_ends"].to_numpy(float),
        facts["reference"].astype("object").fillna("one-cord").to_numpy(),
    )


def said_on_command_line(given: CommandLine) -> dict[str, Any]:
    """The command line's facts under the names of the schema."""
    ends = given.ends or (None, None)
    return {
        "medium": _medium_of(given.fiber, given.grade), "type": given.fiber, "construction": given.construction,
        "length_m": given.length_m, "mated_pairs": given.mated_pairs, "splices": given.splices,
        "end_type_a": ends[0], "end_type_b": ends[1], "reference": given.reference, "grade": given.grade,
        "configuration": given.configuration, "standard": given.standard, "edition": given.edition,
        "segment": given.segment,
    }  # fmt: skip


def said_by_job(job: Job) -> dict[str, Any]:
    """The job's facts and orders under the names of the schema."""
    facts, order = job.facts, job.order
    ends = facts.ends or (None, None)
    return {
        "type": facts.fiber or order.fiber, "construction": facts.construction or order.construction,
        "length_m": facts.length_m, "mated_pairs": facts.mated_pairs, "splices": facts.splices,
        "end_type_a": ends[0], "end_type_b": ends[1], "reference": facts.reference, "segment": facts.segment,
        "accuracy_db": job.rules.accuracy_db, "grade": order.grade, "configuration": order.configuration,
        "standard": order.standard, "edition": order.edition,
    }  # fmt: skip


def join_seeds(seeds: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Seeds of findings under each other."""
    seeds = [seed for seed in seeds if len(seed)]
    if not seeds:
        return no_seeds()
    return pd.concat(seeds, ignore_index=True)


def _medium_of(fiber: str | None, grade: str | None) -> str | None:
    if fiber:
        return "fiber"
    return "twisted pair" if grade else None


def _is_number(name: str) -> bool:
    return schema.TABLES["facts"][name].dtype == "f8"


def _plain(name: str, column: pd.Series) -> np.ndarray:
    return column.to_numpy(dtype=np.float64) if _is_number(name) else texts_of(column, None)


def _everywhere(name: str, value: Any, rows: int) -> np.ndarray:
    nothing, kind = (np.nan, np.float64) if _is_number(name) else (None, object)
    return np.full(rows, nothing if value is None else value, dtype=kind)


def _first_said(said: Mapping[str, np.ndarray], order: Sequence[str]) -> tuple[np.ndarray, np.ndarray]:
    """What the first speaker says who says anything, and who that is."""
    chosen = said[order[-1]].copy()
    said_by = np.full(len(chosen), "missing", dtype=object)
    silent = np.ones(len(chosen), dtype=bool)
    for speaker in order:
        fresh = silent & ~pd.isna(said[speaker])
        chosen[fresh], said_by[fresh] = said[speaker][fresh], speaker
        silent &= ~fresh
    return chosen, said_by


def _differs(name: str, file: np.ndarray, schedule: np.ndarray, length_share: float) -> np.ndarray:
    both: np.ndarray = ~(pd.isna(file) | pd.isna(schedule))
    if name == "accuracy_db" or not both.any():
        return np.zeros(len(file), dtype=bool)
    if name == "length_m":
        tolerance = np.maximum(length_share * np.maximum(file, schedule), LENGTH_DIFFERENCE_FLOOR_M)
        both &= np.abs(file - schedule) > tolerance
    elif _is_number(name):
        both &= np.abs(file - schedule) > 1e-9
    else:
        both &= file != schedule
    return both


def _schedule_is_stricter(
    name: str,
    file: np.ndarray,
    schedule: np.ndarray,
    settled: Mapping[str, Any],
    job: Job,
    values: Values,
) -> np.ndarray:
    """Whether the schedule's statement allows less loss than the file's; `settled`: the facts that are settled."""
    if name in {"length_m", "mated_pairs", "splices"}:
        return schedule < file
    if name == "array_pairs":
        array_db, single_db = (
            _USUAL_PAIR_DB if own is None else own
            for own in (job.allowances.array_pair_db, job.allowances.mated_pair_db)
        )
        return schedule > file if array_db < single_db else schedule < file
    if name in {"end_type_a", "end_type_b"}:
        return _allowed_to_end(schedule, settled, values) < _allowed_to_end(file, settled, values) - 1e-9
    rank = _STRICTEST_FIRST.get(name, {})
    return _mapped(schedule, rank) < _mapped(file, rank)


_USUAL_PAIR_DB = 0.75
"""What every TIA edition allows to a mating, single or array (rows FC-TIA-E-PAIR-MM, FC-TIA-E-ARRAY-MM)."""

_USUAL_SPLICE_DB = 0.3
"""What every TIA edition allows to a splice (row FC-TIA-E-SPLICE-MM); here it only puts end types in order."""

_STRICTEST_FIRST = {
    "reference": {"three-cord": 0, "two-cord": 1, "one-cord": 2},
    "segment": {"backbone": 0, "horizontal": 1},
    "construction": {"outside plant": 0, "indoor-outdoor": 1, "inside plant": 2},
}


def _mapped(words: np.ndarray, number_of: Mapping[str, float]) -> np.ndarray:
    """The number of each word; NaN where it has none."""
    return pd.Series(words, dtype="object").map(dict(number_of)).to_numpy(dtype=np.float64)


def _allowed_to_end(end: np.ndarray, settled: Mapping[str, Any], values: Values) -> np.ndarray:
    """What an end adds to the allowed loss [dB]: counts that are stated hide its pairs and splices, never its plug."""
    rows = {row["end_type"]: row for row in values.rows("ends")}
    pairs, splices, plugs = (
        _mapped(end, {name: float(row[column]) for name, row in rows.items()})
        for column in ("mated_pairs", "splices", "plug_ends")
    )
    pairs = np.where(~np.isnan(settled["mated_pairs"]) & (settled["mated_pairs_from"] != "job"), 0.0, pairs)
    splices = np.where(~np.isnan(settled["splices"]) & (settled["splices_from"] != "job"), 0.0, splices)
    allowed_db: np.ndarray = (pairs + plugs) * _USUAL_PAIR_DB + splices * _USUAL_SPLICE_DB
    return allowed_db


def _conflict_seeds(
    records: pd.DataFrame, name: str, said: Mapping[str, np.ndarray], differs: np.ndarray
) -> pd.DataFrame:
    unit = schema.TABLES["facts"][name].unit
    what = name.removesuffix("_m").removesuffix("_db").replace("_", " ")
    at = records.index[differs]
    file, schedule = (pd.Series(said[speaker][differs], index=at) for speaker in ("file", "schedule"))
    if _is_number(name):
        file, schedule = file.round(3), schedule.round(3)
    suffix = f" {unit}" if unit else ""
    text = f"{what}: the file says " + file.astype("str") + suffix + ", the schedule " + schedule.astype("str") + suffix
    return pd.DataFrame({"code": "fact-differs", "record": records.loc[differs, "record"], "text": text})


def _configuration_from_ends(settled: dict[str, Any]) -> None:
    """A plug at one end makes a twisted-pair link plug-ended, plugs at both an end-to-end link, where nobody says it."""
    plugs = (settled["end_type_a"] == "plug").astype(int) + (settled["end_type_b"] == "plug").astype(int)
    silent = pd.isna(settled["configuration"]) & (plugs > 0)
    silent &= (settled["medium"] == "twisted pair") | ~pd.isna(settled["grade"])
    told = np.array([None, "modular plug terminated link", "end-to-end link"], dtype=object)[plugs]
    settled["configuration"] = np.where(silent, told, settled["configuration"])
    settled["configuration_from"] = np.where(silent, "derived", settled["configuration_from"])


def _medium_from_type(facts: dict[str, Any]) -> None:
    """A fiber type is fiber, a grade is twisted pair, where nothing states the medium."""
    for source, medium in (("type", "fiber"), ("grade", "twisted pair")):
        fill = pd.isna(facts["medium"]) & ~pd.isna(facts[source])
        facts["medium"] = np.where(fill, medium, facts["medium"])
        facts["medium_from"] = np.where(fill, "derived", facts["medium_from"])


def _expand_ends(facts: pd.DataFrame, values: Values) -> None:
    """Ends given instead of counts become counts; a plug end is counted wherever it is named.

    A count of the same rank stands above what the ends imply (there may be matings in between); a count that only the
    job states for all links does not stand above ends that file, schedule or command line name.
    """
    end_a, end_b = (facts[name].astype("object").to_numpy() for name in ("end_type_a", "end_type_b"))
    counts = expand_ends(end_a, end_b, values)
    plugs = (end_a == "plug").astype(float) + (end_b == "plug").astype(float)
    facts["plug_ends"] = np.where(np.isnan(counts.plug_ends), plugs, counts.plug_ends)
    rank_of_ends = np.maximum(_rank(facts["end_type_a_from"]), _rank(facts["end_type_b_from"]))
    for fact in ("mated_pairs", "splices", "array_pairs"):
        total = getattr(counts, fact)
        fill = (rank_of_ends < _rank(facts[f"{fact}_from"])) & ~np.isnan(total)
        facts[fact] = facts[fact].mask(fill, total)
        facts[f"{fact}_from"] = facts[f"{fact}_from"].mask(fill, "derived")
    facts["array_pairs"] = np.minimum(facts["array_pairs"].fillna(0.0), facts["mated_pairs"].fillna(np.inf))


def _rank(said_by: pd.Series) -> np.ndarray:
    """How far down in the order of belief somebody stands; file and schedule are judged both ways and share a rank."""
    ranks = [_BELIEF.get(speaker, _UNBELIEVED) for speaker in said_by.cat.categories]
    return np.array([*ranks, _UNBELIEVED])[said_by.cat.codes.to_numpy()]


_BELIEF = {"command line": 0, "file": 1, "schedule": 1, "job": 2}
_UNBELIEVED = 3


def _assume_reference(facts: pd.DataFrame) -> None:
    """The only stated assumption: no reference method given means one-cord. Twisted pair has no such reference."""
    silent = facts["reference"].isna() & (facts["medium"] != "twisted pair")
    facts["reference"] = facts["reference"].mask(silent, "one-cord")
    facts["reference_from"] = facts["reference_from"].mask(silent, "assumed")
