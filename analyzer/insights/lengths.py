"""What lengths tell: strands of one sheath that differ, links that are too alike, feet among meters, a bent index."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from analyzer.insights.chances import at_least, threshold
from analyzer.insights.joined import Joined, chance_evidence, chance_words, counted, counted_words, group_numbers
from analyzer.insights.register import finding
from analyzer.schema import CATEGORIES, Evidence, Finding

SHEATH_PERCENT = 3.0
SHEATH_M = 3.0
"""Strands of one sheath differ by their stranding and by the ends, hardly by more (common practice, no source)."""

FEWEST_STRANDS = 4
MOST_DIFFER = 0.5
"""Share of the strands from which nothing is a sheath any more; a choice of ours, no source."""

FOOT_M = 0.3048
"""International yard and pound agreement of 1959: exact."""

UNIT_PERCENT = 4.0
"""How near a ratio must lie to that of feet and meters (practice note P09 has 3 % by delay, 8 % by schedule)."""

ALIKE_FEWEST = 4
"""Links of one length, each in a sheath of its own, that are told."""

FEWEST_LENGTHS = 20
"""Fewest lengths among which equal ones are counted; a choice of ours, no source."""

BINS = 10
"""Steps of the last digit over which honest lengths are taken to be even."""

INDEX_PERCENT = 0.5
"""Difference of a group index from the usual of its fiber type: makers of one type differ by 0.1 to 0.4 % (note in
values/fiber_group_index.csv, recalled)."""

_LENGTH = CATEGORIES["parameter"].index("length")


def lengths(job: Joined) -> pd.DataFrame:
    """One row per link whose length a file states: record, length_m, cable, medium, scheduled_m, file."""
    return job.once("lengths", _lengths)


def _lengths(job: Joined) -> pd.DataFrame:
    stated, links = job.analysis.records["length_m"], job.links
    rows = np.flatnonzero(stated.notna().to_numpy() & job.records["in_use"].to_numpy())
    found = pd.DataFrame({"record": rows, "link": job.link_of_record[rows], "length_m": stated.to_numpy()[rows]})
    read = job.readings[job.readings["in_force"] & (job.readings["parameter"] == _LENGTH)]
    more = (
        read[~read["link"].isin(found["link"])]
        .groupby("link", as_index=False)
        .agg(record=("record", "first"), length_m=("value", "min"))
    )
    found = pd.concat([found, more], ignore_index=True).drop_duplicates("link").sort_values("link", kind="stable")
    found = found.dropna(subset="length_m").reset_index(drop=True)
    at = found["link"].to_numpy()
    schedule = job.analysis.schedule.dropna(subset="length_m").drop_duplicates("key").set_index("key")["length_m"]
    return found.assign(
        cable=links["cable"].to_numpy()[at],
        medium=links["medium"].to_numpy()[at],
        scheduled_m=schedule.reindex(job.analysis.links["key"].to_numpy()[at]).to_numpy(),
        file=job.records["file"].to_numpy()[found["record"].to_numpy()],
    )


def differ_in_sheath(job: Joined) -> list[Finding]:
    """Strands whose length is not that of the other strands of their cable: crossed, of another cable, or broken."""
    if len(job.links) < FEWEST_STRANDS:
        return []
    rows = lengths(job)
    rows = rows[(rows["medium"] != "twisted pair") & rows["cable"].notna()]
    if rows.empty:
        return []
    grouped = rows["length_m"].groupby(rows["cable"])
    usual, strands = _usual(rows), grouped.transform("size")
    apart = (rows["length_m"] - usual).abs()
    odd = (strands >= FEWEST_STRANDS) & (apart > np.maximum(SHEATH_M, SHEATH_PERCENT / 100 * usual))
    # links that mostly differ are lines of their own under one name, not strands of a sheath
    odd &= odd.groupby(rows["cable"]).transform("mean") < MOST_DIFFER
    odd &= ~_by_feet(rows["length_m"] / usual)  # told as mixed units
    rows = rows.assign(usual=usual)[odd]
    found = []
    for cable, some in rows.groupby("cable", sort=True):
        message = (
            f"{counted_words(len(some), 'strand')} of {cable} {'has' if len(some) == 1 else 'have'} another length than the "
            f"rest of the sheath: {some['length_m'].iloc[0]:.1f} m, the others {some['usual'].iloc[0]:.1f} m"
        )
        found.append(_told(job, "lengths-differ", message, some))
    return found


def too_alike(job: Joined) -> list[Finding]:
    """Links in sheaths of their own whose lengths are equal to the digit more often than chance makes them."""
    if len(job.links) < FEWEST_LENGTHS:
        return []
    rows = lengths(job)
    copper = rows[rows["medium"] == "twisted pair"]
    cables = rows[(rows["medium"] != "twisted pair") & rows["cable"].notna()]
    found = []
    for name, some in (("links", copper), ("cables", cables.groupby("cable", as_index=False).first())):
        if len(some) < FEWEST_LENGTHS:
            continue
        step = _step(some["length_m"].to_numpy())
        written = pd.Series(np.round(some["length_m"].to_numpy() / step).astype(np.int64), index=some.index)
        counts, around = written.value_counts(), (written // BINS).value_counts()
        # of the lengths within ten steps each should be as frequent as the others
        together = around.reindex(counts.index // BINS).to_numpy()
        usual = together / BINS
        chance = at_least(counts, together, 1 / BINS)
        hit = (chance < threshold(len(counts))) & (counts.to_numpy() >= ALIKE_FEWEST)
        for length, expected in zip(counts.index[hit], usual[hit], strict=True):
            rows_here = some[written == length]
            message = (
                f"{counted_words(len(rows_here), name[:-1])} in sheaths of their own are {length * step:g} m long to the last digit; "
                f"{chance_words(len(rows_here), float(expected), f'of this length among {len(some)} {name}')}"
            )
            counts_told = chance_evidence(len(rows_here), float(expected))
            found.append(_told(job, "lengths-alike", message, rows_here, first=counts_told))
    return found


def units_mixed(job: Joined) -> list[Finding]:
    """Files in which some lengths stand to the others, or to the schedule, as feet stand to meters."""
    if len(job.links) < FEWEST_STRANDS:
        return []
    rows = lengths(job)
    if rows.empty:
        return []
    sheath = _usual(rows).where(rows["cable"].notna())
    fiber = rows["medium"] != "twisted pair"
    usual = rows["scheduled_m"].fillna(sheath.where(fiber))
    ratio = rows["length_m"] / usual
    feet = _by_feet(ratio)
    plain = (ratio - 1).abs() < 0.25
    found = []
    for _, some in rows.assign(feet=feet, plain=plain, usual=usual).groupby("file", sort=True):
        odd = some[some["feet"]]
        if odd.empty or len(odd) + int(some["plain"].sum()) < FEWEST_STRANDS:
            continue
        whole = "all lengths of the file" if len(odd) == len(some) else counted_words(len(odd), "length")
        message = (
            f"{whole} stand to the schedule or to the rest of the sheath as feet to meters: "
            f"{odd['length_m'].iloc[0]:.1f} where {odd['usual'].iloc[0]:.1f} m is usual"
        )
        found.append(_told(job, "units-mixed", message, odd, called="length as read"))
    return found


def _told(
    job: Joined, code: str, message: str, rows: pd.DataFrame, *, called: str = "length", first: Sequence[Evidence] = ()
) -> Finding:
    """The finding of some rows of `lengths`: their links, and the length of each record after what is told `first`."""
    read = job.of_records(rows["record"].to_numpy(), called, rows["length_m"].to_numpy(), "m")
    return finding(code, message, job.labels(rows["link"]), evidence=[*first, *read])


def index_bent(job: Joined) -> list[Finding]:
    """Records whose group index is not that of the other records of their fiber type."""
    stated = job.analysis.records["group_index"]
    if stated.isna().all():
        return []
    at = np.flatnonzero(stated.notna().to_numpy())
    rows = pd.DataFrame({"record": at, "link": job.link_of_record[at], "index": stated.to_numpy()[at]})
    rows["type"] = job.links["type"].to_numpy()[rows["link"]]
    rows["length_m"] = job.analysis.facts["length_m"].to_numpy()[at]
    usual = rows.groupby("type", dropna=False)["index"].transform("median")
    odd = rows.assign(usual=usual)[(rows["index"] / usual - 1).abs() > INDEX_PERCENT / 100]
    found = []
    for (kind, index), some in odd.groupby(["type", "index"], sort=True, dropna=False):
        usual_here = float(some["usual"].iloc[0])
        length = some["length_m"].iloc[0]
        other = f": {length:.1f} m would be {length * index / usual_here:.1f} m" if np.isfinite(length) else ""
        named = kind if isinstance(kind, str) else "this job"
        message = (
            f"{counted_words(len(some), 'record')} with a group index of {index:g} where {usual_here:g} is usual for {named}"
            f"{other}; the length is worked out from it"
        )
        places = job.of_records(some["record"].to_numpy(), "group index", some["index"].to_numpy())
        evidence = [counted(f"usual group index of {named}", usual_here), *places]
        found.append(finding("group-index-odd", message, job.labels(some["link"]), evidence=evidence))
    return found


def _usual(rows: pd.DataFrame) -> pd.Series:
    """The middle length of each cable that a strand has: between two halves of a sheath lies a length of neither."""
    cable = group_numbers(rows, ["cable"])
    middle = rows["length_m"].groupby(cable).quantile(0.5, interpolation="lower").to_numpy()
    return pd.Series(middle[cable], rows.index)


def _by_feet(ratio: pd.Series) -> pd.Series:
    near = pd.Series(data=False, index=ratio.index)
    for factor in (FOOT_M, 1 / FOOT_M):
        near |= (ratio / factor - 1).abs() < UNIT_PERCENT / 100
    return near


def _step(values: np.ndarray) -> float:
    """Last-place step that nearly all of the values are written with."""
    for step in (1.0, 0.1, 0.01):
        if (np.abs(values / step - np.round(values / step)) < 1e-6).mean() > 0.98:
            return step
    return 0.01
