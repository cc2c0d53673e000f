"""Who said what about a link: every fact of every record, each with who said it.

In: records as imported, the schedule row of each, the job, the command line.
Out: one row of facts per record, and seeds of findings where file and schedule differ.

Of a built fact on which file and schedule differ the stricter is taken and a finding says so; where "stricter" depends
on the wavelength (the fiber type) both statements are kept as alternatives and `worlds` judges both.
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
from analyzer.errors import StandardsError
from analyzer.job import CommandLine, Job
from analyzer.schema import CATEGORIES
from analyzer.standards import Values, medium_of, resolve_edition

BUILT = (
    "medium", "type", "construction", "length_m", "mated_pairs", "array_pairs", "splices", "end_type_a", "end_type_b",
    "reference", "accuracy_db",
)  # fmt: skip
"""Measured or built: command line, else file, else schedule, else job."""

ORDERED = ("grade", "configuration", "standard", "edition", "segment")
"""Ordered: command line, else schedule, else job, else what the export says it was tested to."""

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
    from_line, from_job = said_on_command_line(given), said_by_job(job)
    columns: dict[str, Any] = {"record": records["record"]}
    seeds = []
    disputed_type = pd.Series(None, index=records.index, dtype="object")
    for name in (*BUILT, *ORDERED):
        said = {
            "command line": _everywhere(records.index, name, from_line.get(name)),
            "file": records[name],
            "schedule": schedule_rows[name],
            "job": _everywhere(records.index, name, from_job.get(name)),
        }
        built = name in BUILT
        order = ("command line", "file", "schedule", "job") if built else ("command line", "schedule", "job", "file")
        chosen, said_by = _first_said(name, said, order)
        if built and from_line.get(name) is None:
            differs = _differs(name, said["file"], said["schedule"], job.rules.length_difference_percent / 100)
            if differs.any():
                seeds.append(_conflict_seeds(records, name, said, differs))
                if name == "type":
                    disputed_type = said["schedule"].astype("object").where(differs, None)
                else:
                    takes_schedule = differs & _schedule_is_stricter(name, said, values)
                    chosen = chosen.mask(takes_schedule, said["schedule"])
                    said_by = said_by.mask(takes_schedule, "schedule")
        columns[name], columns[f"{name}_from"] = chosen, said_by
    frame = pd.DataFrame(columns)
    seeds.append(_settle_editions(frame, records, values))
    facts = schema.conform("facts", frame)
    _expand_ends(facts, values)
    _settle_glass(facts, records, schedule_rows, implied_glass)
    _assume_reference(facts)
    return Settled(facts, disputed_type, join_seeds(seeds))


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
    if not seeds:
        return pd.DataFrame({"code": pd.Series(dtype="str"), "record": pd.Series(dtype="int32"),
                             "text": pd.Series(dtype="str")})  # fmt: skip
    return pd.concat(seeds, ignore_index=True)


def implied_glass(records: pd.DataFrame, readings: pd.DataFrame, values: Values) -> np.ndarray:
    """Glass that the measured wavelengths of a link imply, one text per record ("" where they imply nothing).

    All records of one label in the file speak together: 850 nm beside 1300 nm makes both multimode.
    """
    known = {row["written_nm"]: row["implies"] for row in values.rows("wavelengths") if row["implies"]}
    said = readings["wavelength_nm"].map(known)
    at = readings["record"].to_numpy()
    keys = records["key"].fillna("").to_numpy(dtype=object)
    told = pd.DataFrame({"key": keys[at], "glass": said.to_numpy(dtype=object)}).dropna()
    one = told.groupby("key")["glass"].agg(["first", "nunique"])
    one = one.loc[one["nunique"] == 1, "first"]
    return pd.Series(keys).map(one).fillna("").to_numpy(dtype=object)


def _settle_glass(facts: pd.DataFrame, records: pd.DataFrame, schedule_rows: pd.DataFrame, implied: np.ndarray) -> None:
    """What is known of the glass: from the type, else the file, else the schedule, else the wavelengths."""
    types = facts["type"].astype("object")
    glass = types.map({name: medium_of(name) for name in CATEGORIES["type"]}).astype("object")
    for words in (records["glass"], schedule_rows["glass"]):
        glass = glass.where(glass.notna(), words.astype("object"))
    implied_words = pd.Series(implied, index=facts.index, dtype="object").where(implied != "", None)
    facts["glass"] = pd.Categorical(glass.where(glass.notna(), implied_words), list(CATEGORIES["glass"]))


def _settle_editions(frame: pd.DataFrame, records: pd.DataFrame, values: Values) -> pd.DataFrame:
    """Family and edition of every record; nothing ordered and nothing declared means the newest edition of TIA.

    An edition that a file names and that is not known here is left out, with a seed of a finding.
    """
    declared = records["declared_limit"].map(
        {text: declared_edition(text, values) for text in records["declared_limit"].dropna().unique()}
    )
    silent = frame["standard"].isna() & frame["edition"].isna() & declared.notna()
    for place, name in enumerate(("standard", "edition")):
        words = declared.map(lambda pair, place=place: pair[place], na_action="ignore")
        frame[name] = frame[name].where(~silent, words)
        frame[f"{name}_from"] = frame[f"{name}_from"].where(~silent, "file")
    pairs = pd.DataFrame({"standard": frame["standard"].fillna(""), "edition": frame["edition"].fillna("")})
    which = pairs.groupby(["standard", "edition"], sort=False).ngroup().to_numpy()
    distinct = pairs.drop_duplicates().to_numpy().tolist()
    found = [_family_and_edition(standard, edition, values) for standard, edition in distinct]
    unknown = np.array(
        [edition != "" and not known for (_, edition), (*_, known) in zip(distinct, found, strict=True)], dtype=bool
    )
    for place, name in enumerate(("standard", "edition")):
        assumed = frame[name].isna() | (unknown[which] if len(which) else False)
        frame[name] = np.array([pair[place] for pair in found] or [""], dtype=object)[which]
        frame[f"{name}_from"] = frame[f"{name}_from"].mask(assumed, "assumed")
    hit = unknown[which] if len(which) else np.zeros(len(frame), dtype=bool)
    text = "the edition " + pairs.loc[hit, "edition"] + " is not known here"
    return pd.DataFrame({"code": "edition-unknown", "record": records.loc[hit, "record"], "text": text})


def _family_and_edition(standard: str, edition: str, values: Values) -> tuple[str, str, bool]:
    """Resolved family and edition, and whether the edition as said is known."""
    for family in (standard,) if standard else CATEGORIES["standard"]:
        try:
            return family, resolve_edition(values, family, edition or None), True
        except StandardsError:
            continue
    family = standard or "TIA"
    return family, resolve_edition(values, family), False


def declared_edition(text: str, values: Values) -> tuple[str, str] | None:
    """Family and edition that the name of a loaded limit states, for example "TIA-568.3-D multimode"."""
    plain = text.casefold().replace(" ", "")
    best: tuple[str, str] | None = None
    for row in values.rows("editions"):
        edition = row["edition"]
        if edition.casefold() in plain and (best is None or len(edition) > len(best[1])):
            best = (row["standard"], edition)
    return best


def _medium_of(fiber: str | None, grade: str | None) -> str | None:
    if fiber:
        return "fiber"
    return "twisted pair" if grade else None


def _everywhere(index: pd.Index, name: str, value: Any) -> pd.Series:
    kind = schema.TABLES["facts"][name].dtype
    if kind == "f8":
        return pd.Series(np.nan if value is None else float(value), index=index, dtype="float64")
    return pd.Series(value, index=index, dtype="object")


def _first_said(name: str, said: Mapping[str, pd.Series], order: Sequence[str]) -> tuple[pd.Series, pd.Series]:
    numeric = schema.TABLES["facts"][name].dtype == "f8"
    index = said["file"].index
    chosen = pd.Series(np.nan, index=index) if numeric else pd.Series(None, index=index, dtype="object")
    said_by = pd.Series("missing", index=index, dtype="object")
    for speaker in order:
        words = said[speaker] if numeric else said[speaker].astype("object")
        fresh = chosen.isna() & words.notna()
        if fresh.any():
            chosen = chosen.mask(fresh, words)
            said_by = said_by.mask(fresh, speaker)
    return chosen, said_by


def _differs(name: str, file: pd.Series, schedule: pd.Series, length_share: float) -> pd.Series:
    both = file.notna() & schedule.notna()
    if name == "accuracy_db" or not both.any():
        return pd.Series(data=False, index=file.index)
    if name == "length_m":
        apart = (file - schedule).abs()
        tolerance = np.maximum(length_share * np.maximum(file, schedule), LENGTH_DIFFERENCE_FLOOR_M)
        return both & (apart > tolerance)
    if schema.TABLES["facts"][name].dtype == "f8":
        return both & ((file - schedule).abs() > 1e-9)
    return both & (file.astype("object") != schedule.astype("object"))


def _schedule_is_stricter(name: str, said: Mapping[str, pd.Series], values: Values) -> pd.Series:
    """Whether the schedule's statement allows less loss than the file's."""
    file, schedule = said["file"], said["schedule"]
    if name in {"length_m", "mated_pairs", "splices"}:
        return schedule < file
    if name == "array_pairs":
        return pd.Series(data=False, index=file.index)
    if name == "reference":
        rank = {"one-cord": 2, "two-cord": 1, "three-cord": 0}
    elif name in {"end_type_a", "end_type_b"}:
        ends = values.ends
        rank = dict(zip(ends["end_type"].astype("object"), ends["mated_pairs"] + ends["plug_ends"], strict=True))
    elif name == "construction":
        rank = {"outside plant": 0, "indoor-outdoor": 1, "inside plant": 2}
    else:
        return pd.Series(data=False, index=file.index)
    return schedule.astype("object").map(rank) < file.astype("object").map(rank)


def _conflict_seeds(
    records: pd.DataFrame, name: str, said: Mapping[str, pd.Series], differs: pd.Series
) -> pd.DataFrame:
    unit = schema.TABLES["facts"][name].unit
    what = name.removesuffix("_m").removesuffix("_db").replace("_", " ")
    file, schedule = said["file"][differs], said["schedule"][differs]
    if schema.TABLES["facts"][name].dtype == "f8":
        file, schedule = file.round(3), schedule.round(3)
    suffix = f" {unit}" if unit else ""
    text = f"{what}: the file says " + file.astype("str") + suffix + ", the schedule " + schedule.astype("str") + suffix
    return pd.DataFrame({"code": "fact-differs", "record": records.loc[differs, "record"], "text": text})


def _expand_ends(facts: pd.DataFrame, values: Values) -> None:
    """Ends given instead of counts become counts; a plug end is counted wherever it is named."""
    sides = [facts[name].astype("object").to_numpy() for name in ("end_type_a", "end_type_b")]
    counts = expand_ends(*sides, values)
    facts["plug_ends"] = np.where(
        np.isnan(counts.plug_ends), sum((side == "plug").astype(float) for side in sides), counts.plug_ends
    )
    for fact in ("mated_pairs", "splices", "array_pairs"):
        total = getattr(counts, fact)
        fill = facts[fact].isna() & ~np.isnan(total)
        facts[fact] = facts[fact].mask(fill, total)
        facts[f"{fact}_from"] = facts[f"{fact}_from"].mask(fill, "derived")
    facts["array_pairs"] = np.minimum(facts["array_pairs"].fillna(0.0), facts["mated_pairs"].fillna(np.inf))


def _assume_reference(facts: pd.DataFrame) -> None:
    """The only stated assumption: no reference method given means one-cord."""
    silent = facts["reference"].isna()
    facts["reference"] = facts["reference"].mask(silent, "one-cord")
    facts["reference_from"] = facts["reference_from"].mask(silent, "assumed")
