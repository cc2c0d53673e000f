"""The budget before the cable is pulled: one planned link at its wavelengths, with every reference method.

In service a link loses its cable, its matings and its splices. A tester's reading differs from that by what its
reference takes out and by the matings that its cords make with plugs, so that the number to be read on the day depends
on the method. `planned_many` does the same for a schedule of links.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from analyzer import standards
from analyzer.budget.end_connections import NO_ALLOWANCE, missing_sentence, own_end_db
from analyzer.budget.expected import array_spread
from analyzer.budget.fiber import expand_ends, longest_length_m
from analyzer.budget.one_link import FiberBudget, SourceText, fiber_budget
from analyzer.errors import OptionError, StandardsError
from analyzer.job import Job
from analyzer.schema import CATEGORIES


@dataclass(frozen=True)
class PlannedReading:
    """What the tester should read with one reference method; `problem` where the method does not fit the ends."""

    reference: str
    budget: FiberBudget | None
    problem: str


@dataclass(frozen=True)
class PlannedWavelength:
    """One wavelength of a planned link."""

    wavelength_nm: int
    service: FiberBudget
    """Loss in service: all matings of the link, none of the test cords; of the lossiest cable where not said which."""
    coefficient_db_per_km: float
    readings: tuple[PlannedReading, ...]
    power_margin_db: float | None
    """Power budget less the loss allowed in service; None without a power budget."""
    longest_length_m: float | None
    """Longest length that fits the power budget with these connections; NaN where they alone exceed it."""
    most_mated_pairs: int | None
    """Most mated pairs that fit at this length; -1 where the rest alone exceeds the power budget."""


@dataclass(frozen=True)
class PlannedLink:
    """A planned link, its counts, and what holds at each wavelength."""

    fiber: str
    length_m: float
    ends: tuple[str, str] | None
    mated_pairs: int
    array_pairs: int
    splices: int
    plug_ends: int
    power_budget_db: float | None
    wavelengths: tuple[PlannedWavelength, ...]
    notes: tuple[str, ...]
    sources: tuple[SourceText, ...]
    confirmed: bool


def plan_link(
    *,
    fiber: str | None,
    length_m: float | None,
    mated_pairs: int | None = None,
    array_pairs: int | None = None,
    splices: int | None = None,
    plug_ends: int = 0,
    ends: tuple[str, str] | None = None,
    standard: str = "TIA",
    edition: str | None = None,
    construction: str | None = None,
    connection_grade: str | None = None,
    power_budget_db: float | None = None,
    other_db: float = 0.0,
    wavelengths_nm: tuple[int, ...] = (),
    references: tuple[str, ...] = (),
    job: Job | None = None,
    values: standards.Values | None = None,
) -> PlannedLink:
    """Allowed and expected loss of one planned link.

    Args:
        fiber: OM1 ... OM5, OS1, OS1a, OS2.
        length_m: length [m].
        mated_pairs, array_pairs, splices, plug_ends, ends: as for `fiber_budget`.
        standard, edition, construction: whose allowances govern.
        connection_grade: for the expected loss.
        power_budget_db: what the light may lose between sender and receiver [dB].
        other_db: any other loss to allow in service, aging for example [dB]; no tester reads it.
        wavelengths_nm: nominal wavelengths; none for those that the job requires of this glass.
        references: reference methods to tell; none for all.
        job: its own allowances and overrides take the place of the standard's.
        values: values in force; None for those of the package with the job's overrides.

    Raises:
        OptionError: something is missing or makes no sense.
    """
    job = job or Job()
    values = values or standards.load(overrides=dict(job.overrides))
    if fiber not in CATEGORIES["type"]:
        raise OptionError(f"fiber {fiber!r} is no type to plan with; known are {', '.join(CATEGORIES['type'])}")
    if length_m is None:
        raise OptionError("no length; a plan needs one")
    if unknown := [name for name in references if name not in CATEGORIES["reference"]]:
        raise OptionError(f"reference {unknown[0]!r} is not known; known are {', '.join(CATEGORIES['reference'])}")
    for name, number in (("power budget", power_budget_db), ("other loss", other_db)):
        if number is not None and not (math.isfinite(number) and number >= 0):
            raise OptionError(f"the {name} must be a number of decibels, zero or more, not {number}")
    single_mode = standards.medium_of(fiber) == "single-mode"
    wavelengths_nm = wavelengths_nm or tuple(job.required.single_mode if single_mode else job.required.multimode)
    counts = _counts(values, ends, mated_pairs, array_pairs, splices, plug_ends)
    shared: dict[str, Any] = {
        "fiber": fiber, "standard": standard, "edition": edition, "construction": construction,
        "connection_grade": connection_grade or job.expected.connection_grade, "splice_kind": job.expected.splice,
        "array_spread": array_spread(job), "values": values,
        "end_pair_db": own_end_db(job.allowances.end_pair_db, standards.medium_of(fiber)), "mated_pair_db": job.allowances.mated_pair_db,
        "array_pair_db": job.allowances.array_pair_db, "splice_db": job.allowances.splice_db,
    }  # fmt: skip
    own = (job.allowances.attenuation_db_per_km or {}).get(fiber, {})
    planned = tuple(
        _wavelength(
            {**shared, **counts, "wavelength_nm": wavelength_nm, "coefficient_db_per_km": own.get(wavelength_nm)},
            length_m, power_budget_db, other_db, references or CATEGORIES["reference"],
        )
        for wavelength_nm in wavelengths_nm
    )  # fmt: skip
    readings = [reading.budget for each in planned for reading in each.readings if reading.budget is not None]
    budgets = [*readings, *(each.service for each in planned)]
    return PlannedLink(
        fiber, length_m, ends, **counts, power_budget_db=power_budget_db, wavelengths=planned,
        notes=_once(_notes(budgets, planned, values)),
        sources=_once(source for budget in budgets for source in (*budget.sources, *budget.expected_sources)),
        confirmed=all(budget.confirmed for budget in budgets),
    )  # fmt: skip


def _notes(
    budgets: list[FiberBudget], planned: tuple[PlannedWavelength, ...], values: standards.Values
) -> Iterator[str]:
    if any(reading.problem == NO_ALLOWANCE for each in planned for reading in each.readings):
        yield missing_sentence(values)
    for budget in budgets:
        yield from budget.notes
        yield from (note for note in budget.expected_notes if not note.startswith("no spread:"))
    for each in planned:
        limited = {reading.budget.construction for reading in each.readings if reading.budget is not None}
        if limited and limited != {each.service.construction}:
            yield (
                f"in service the cable may be {each.service.construction}, {each.coefficient_db_per_km:g} dB/km: the "
                "power budget must hold for it as well"
            )


def _wavelength(
    given: dict[str, Any],
    length_m: float,
    power_budget_db: float | None,
    other_db: float,
    references: tuple[str, ...],
) -> PlannedWavelength:
    # in service no test cord is mated: every mating is one of the link's own
    in_service = {**given, "plug_ends": 0, "reference": "one-cord", "end_connections": 0, "other_db": other_db}
    in_service["construction"] = _lossiest_construction(given)
    service = fiber_budget(**in_service, length_m=length_m)
    per_km = fiber_budget(**in_service, length_m=1000).cable_db
    readings = []
    for reference in references:
        try:
            readings.append(
                PlannedReading(reference, fiber_budget(**given, reference=reference, length_m=length_m), "")
            )
        except OptionError as error:
            readings.append(PlannedReading(reference, None, str(error)))
    margin = longest = most = None
    if power_budget_db is not None:
        margin = power_budget_db - service.allowed_db
        longest = float(longest_length_m(power_budget_db, per_km, other_db=service.allowed_db - service.cable_db))
        most = _most_mated_pairs(in_service, margin)
    return PlannedWavelength(given["wavelength_nm"], service, per_km, tuple(readings), margin, longest, most)


def _lossiest_construction(given: dict[str, Any]) -> str | None:
    """The construction as said; where it is not, the one that may lose most: a power budget must hold for any cable."""
    if given["construction"] is not None or given["coefficient_db_per_km"] is not None:
        return None if given["construction"] is None else str(given["construction"])
    try:
        book = standards.allowances(given["values"], given["standard"], given["edition"])
    except StandardsError as error:
        raise OptionError(str(error)) from error
    nominal_nm = standards.nominal_wavelength_nm(
        given["values"], given["wavelength_nm"], standards.medium_of(given["fiber"])
    )
    rows = book.cable(given["fiber"], nominal_nm, None) if nominal_nm is not None else ()
    worst = max(rows, key=lambda row: float(row["coefficient_db_per_km"]), default=None)
    return None if worst is None else worst["construction"]


def _most_mated_pairs(in_service: dict[str, Any], margin: float) -> int:
    """Single mated pairs added or taken away until the power budget is used up; array pairs stay."""
    pairs, arrays = in_service["mated_pairs"], in_service["array_pairs"]
    one = fiber_budget(**{**in_service, "mated_pairs": 1, "array_pairs": 0, "splices": 0, "other_db": 0}, length_m=0)
    if one.allowed_db == 0:
        return pairs if margin >= 0 else -1
    most = pairs + math.floor(margin / one.allowed_db + 1e-9)
    return most if most >= arrays else -1


def _counts(
    values: standards.Values,
    ends: tuple[str, str] | None,
    mated_pairs: int | None,
    array_pairs: int | None,
    splices: int | None,
    plug_ends: int,
) -> dict[str, int]:
    """Counts as given, those not given from the ends; contradictions are left to `fiber_budget`."""
    if ends is None:
        if mated_pairs is None or splices is None:
            raise OptionError("say both ends, for example panel,panel, or the mated pairs and the splices (0 for none)")
        return {"mated_pairs": mated_pairs, "array_pairs": array_pairs or 0, "splices": splices, "plug_ends": plug_ends}
    # this also refuses ends that are not known and counts below those of the ends
    fiber_budget(
        length_m=0, coefficient_db_per_km=0, mated_pair_db=0, array_pair_db=0, splice_db=0, end_pair_db=0, ends=ends,
        mated_pairs=mated_pairs, array_pairs=array_pairs, splices=splices, plug_ends=plug_ends, values=values,
    )  # fmt: skip
    there = expand_ends(ends[0].strip().casefold(), ends[1].strip().casefold(), values)
    return {
        "mated_pairs": int(there.mated_pairs) if mated_pairs is None else mated_pairs,
        "array_pairs": int(there.array_pairs) if array_pairs is None else array_pairs,
        "splices": int(there.splices) if splices is None else splices,
        "plug_ends": int(there.plug_ends),
    }


def _once(items: Any) -> Any:
    return tuple(dict.fromkeys(items))
