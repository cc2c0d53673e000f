"""The budget of one fiber link at one wavelength: allowances looked up, the sum, its sources and its notes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from analyzer import standards
from analyzer.budget.end_connections import NO_ALLOWANCE, end_allowance, end_matings
from analyzer.budget.expected import ExpectedLoss, Workmanship, describe_row, expected_loss, workmanship
from analyzer.budget.fiber import EndCounts, expand_ends, loss_parts_db, reference_cords
from analyzer.budget.loss_spread import Spread
from analyzer.errors import OptionError, StandardsError
from analyzer.schema import CATEGORIES
from analyzer.standards.tables import Row


class SourceText(NamedTuple):
    """A value row that a sum rests on, and what it says."""

    row_id: str
    text: str


@dataclass(frozen=True)
class FiberBudget:
    """What one link is allowed at one wavelength, its parts and where they come from."""

    allowed_db: float
    """Largest loss allowed [dB]: cable + matings + splices + other."""
    cable_db: float
    matings_db: float
    splices_db: float
    other_db: float
    matings_in_reading: int
    """mated pairs + plug ends - cords that the reference takes out"""
    standard: str
    edition: str | None
    """Edition whose values were used; None where every figure was given."""
    construction: str | None
    """Cable construction whose coefficient was used; None where the row holds for any."""
    sources: tuple[SourceText, ...]
    notes: tuple[str, ...]
    """What was chosen or assumed, one sentence each."""
    confirmed: bool
    """Nothing recalled or derived in it."""
    expected_db: float | None = None
    """Median loss of such links done well [dB], without `other_db`; None where it has no source."""
    expected_97_db: float | None = None
    """Loss that 97 of 100 such links done well stay under [dB]."""
    expected_sources: tuple[SourceText, ...] = ()
    expected_notes: tuple[str, ...] = ()
    """Why nothing is expected, or what is doubtful in it."""


def fiber_budget(
    *,
    fiber: str | None = None,
    length_m: float | None = None,
    wavelength_nm: int | None = None,
    mated_pairs: int | None = None,
    splices: int | None = None,
    reference: str = "one-cord",
    standard: str = "TIA",
    edition: str | None = None,
    coefficient_db_per_km: float | None = None,
    mated_pair_db: float | None = None,
    splice_db: float | None = None,
    other_db: float = 0,
    sections: Sequence[tuple[float, float]] | None = None,
    construction: str | None = None,
    ends: tuple[str, str] | None = None,
    plug_ends: int = 0,
    array_pairs: int | None = None,
    array_pair_db: float | None = None,
    end_pair_db: float | None = None,
    end_connections: int | None = None,
    connection_grade: str | None = None,
    splice_kind: str | None = None,
    array_spread: Spread | None = None,
    values: standards.Values | None = None,
) -> FiberBudget:
    """Largest loss that one fiber link may show at one wavelength.

    Args:
        fiber: OM1 ... OM5, OS1, OS1a, OS2; with an own coefficient also the glass ("multimode", "50/125", ...).
        length_m: length [m]; not needed with `sections`.
        wavelength_nm: nominal wavelength [nm]; 1310 on multimode counts as 1300. Not needed with own figures.
        mated_pairs: matings of the link, those at panel and jack ends included; or give `ends`.
        splices: splices of the link; or give `ends`.
        reference: one-cord, two-cord or three-cord.
        standard: family, TIA or ISO.
        edition: edition of the family; None for the newest here, which the answer names.
        coefficient_db_per_km: own attenuation of the cable [dB/km].
        mated_pair_db: own allowance for one mating [dB]; without an `array_pair_db` the standard's holds for arrays.
        splice_db: own allowance for one splice [dB].
        other_db: anything else to allow [dB].
        sections: (length_m, coefficient_db_per_km) of each piece, for links of unlike fiber.
        construction: inside plant, indoor-outdoor or outside plant; not said, the strictest coefficient is used.
        ends: types of both ends (panel, pigtail, cassette, plug, jack); fill counts that are not given.
        plug_ends: ends that are plugs, where `ends` is not given.
        array_pairs: how many of the mated pairs are array connections.
        array_pair_db: own allowance for one array mating [dB].
        end_pair_db: own allowance for one end connection against a reference-grade cord [dB]. ISO needs it where such
            connections stand in the reading (or `mated_pair_db` for all alike); TIA allows them what any mating has.
        end_connections: how many of the matings in the reading are such end connections; None: as many as the
            reference method leaves in it.
        connection_grade, splice_kind, array_spread: for the expected loss, see `expected.workmanship`.
        values: values in force; None for those of the package.

    Returns:
        The sum, its parts, its sources.

    Raises:
        OptionError: an argument is missing, unknown or makes no sense; the sentence lists what is known.

    Check values: every sum of tests/budget/test_worked_examples.py.
    """
    values = values or standards.load()
    counts = _counts(values, ends, mated_pairs, array_pairs, splices, plug_ends)
    matings = _matings(values, counts, reference)
    given = {"coefficient_db_per_km": coefficient_db_per_km, "mated_pair_db": mated_pair_db, "splice_db": splice_db,
             "array_pair_db": array_pair_db, "end_pair_db": end_pair_db, "other_db": other_db}  # fmt: skip
    for name, number in given.items():
        if number is not None:
            _check_number(name, number)

    book = _Book(values, standard, edition, fiber, wavelength_nm, construction)
    cable_db = _cable_db(book, length_m, coefficient_db_per_km, sections)
    arrays = min(counts.array_pairs, matings)
    left = int(end_matings(reference, values)) if end_connections is None else end_connections
    apart, end_db = book.ends(min(left, matings), end_pair_db, mated_pair_db)
    arrays_inside = arrays - (apart - min(apart, matings - arrays))
    parts = loss_parts_db(
        0, 0, matings,
        book.component("mated pair", mated_pair_db, "mated_pair_db", matings - apart - arrays_inside),
        arrays, book.component("array mated pair", array_pair_db, "array_pair_db", arrays_inside),
        counts.splices, book.component("splice", splice_db, "splice_db", counts.splices),
        apart, end_db,
    )  # fmt: skip
    matings_db, splices_db = float(parts.matings_db), float(parts.splices_db)
    done_well = workmanship(values, connection_grade, splice_kind, array_spread)
    expected = _expected(book, None if sections else length_m, matings, arrays, int(counts.splices), done_well)
    return FiberBudget(
        allowed_db=cable_db + matings_db + splices_db + other_db,
        cable_db=cable_db,
        matings_db=matings_db,
        splices_db=splices_db,
        other_db=float(other_db),
        matings_in_reading=matings,
        standard=standard,
        edition=book.edition_used,
        construction=book.construction_used,
        sources=tuple(SourceText(row["row_id"], standards.describe(row)) for row in book.rows),
        notes=tuple(book.notes),
        confirmed=not any(standards.is_unconfirmed(row) for row in book.rows),
        expected_db=expected.expected_db,
        expected_97_db=expected.expected_97_db,
        expected_sources=tuple(SourceText(row["row_id"], describe_row(row)) for row in expected.rows),
        expected_notes=_expected_notes(expected),
    )


def _expected(
    book: _Book, length_m: float | None, matings: int, arrays: int, splices: int, done_well: Workmanship
) -> ExpectedLoss:
    wavelength_nm = book.wavelength_nm
    if book.fiber is not None and wavelength_nm is not None:
        medium = standards.medium_of(book.fiber)
        wavelength_nm = standards.nominal_wavelength_nm(book.values, wavelength_nm, medium)
    return expected_loss(book.values, book.fiber, wavelength_nm, length_m, matings, arrays, splices, done_well)


def _expected_notes(expected: ExpectedLoss) -> tuple[str, ...]:
    doubtful = [row["row_id"] for row in expected.rows if row["in_doubt"]]
    notes = [f"no spread: {expected.why_none}" if expected.rows else f"nothing is expected: {expected.why_none}"]
    notes = notes if expected.why_none else []
    if doubtful:
        notes.append(f"the expected loss rests on doubtful figures: {', '.join(doubtful)}")
    return tuple(notes)


class _Book:
    """Looks allowances up for one link and remembers the rows and choices that were made."""

    def __init__(
        self,
        values: standards.Values,
        standard: str,
        edition: str | None,
        fiber: str | None,
        wavelength_nm: int | None,
        construction: str | None,
    ) -> None:
        try:
            self.allowed = standards.allowances(values, standard, edition)
        except StandardsError as error:
            raise OptionError(str(error)) from error
        self.values = values
        self.newest = edition is None
        self.fiber = _known_fiber(fiber)
        self.wavelength_nm = wavelength_nm
        self.construction = _known("construction", construction, CATEGORIES["construction"])
        self.construction_used = self.construction
        self.edition_used: str | None = None
        self.rows: list[Row] = []
        self.notes: list[str] = []

    def use(self, row: Row) -> None:
        """Remember a row of the edition."""
        if self.edition_used is None and self.newest:
            self.notes.append(f"no edition given: {self.allowed.document}, the newest {self.allowed.standard} one here")
        self.edition_used = self.allowed.edition
        self.rows.append(row)

    def coefficient(self) -> float:
        """Attenuation allowed to the cable [dB/km]; the strictest where the construction is not said."""
        fiber = self.fiber
        if fiber not in CATEGORIES["type"]:
            known = ", ".join(CATEGORIES["type"])
            raise OptionError(f"fiber {fiber!r} has no coefficient of its own; say which of {known}")
        if self.wavelength_nm is None:
            raise OptionError("no wavelength_nm; give it, or coefficient_db_per_km")
        medium = standards.medium_of(fiber)
        nominal_nm = standards.nominal_wavelength_nm(self.values, self.wavelength_nm, medium)
        if nominal_nm is None:
            known = ", ".join(
                str(row["written_nm"]) for row in self.values.rows("wavelengths") if row["medium"] == medium
            )
            raise OptionError(f"{self.wavelength_nm} nm is no wavelength of {medium} here; known are {known} nm")
        if nominal_nm != self.wavelength_nm:
            self.notes.append(f"{self.wavelength_nm} nm on {medium} counts as {nominal_nm} nm")
        row = self._strictest(fiber, nominal_nm)
        self.use(row)
        return float(row["coefficient_db_per_km"])

    def _strictest(self, fiber: str, nominal_nm: int) -> Row:
        rows = self.allowed.cable(fiber, nominal_nm, self.construction)
        if not rows:
            raise OptionError(self._no_row(fiber, nominal_nm))
        row = min(rows, key=lambda row: float(row["coefficient_db_per_km"]))
        if len({row["coefficient_db_per_km"] for row in rows}) > 1:
            choice = ", ".join(f"{row['construction']} {row['coefficient_db_per_km']}" for row in rows)
            self.notes.append(
                f"construction of the {fiber} cable not said ({choice} dB/km): the strictest, "
                f"{row['construction']}, is used"
            )
        self.construction_used = row["construction"]
        return row

    def _no_row(self, fiber: str, nominal_nm: int) -> str:
        rows = [row for row in self.allowed.coefficient_rows if row["type"] == fiber]
        known = ", ".join(dict.fromkeys(row["type"] for row in self.allowed.coefficient_rows))
        if not rows:
            return f"{self.allowed.document} has no sourced coefficient for {fiber} here; known are {known}"
        there = "; ".join(
            f"{row['wavelength_nm']} nm" + (f" {row['construction']}" if row["construction"] else "") for row in rows
        )
        what = f"{fiber} {self.construction}" if self.construction else fiber
        return (
            f"{self.allowed.document} has no sourced coefficient for {what} at {nominal_nm} nm here; "
            f"for {fiber} known are {there}; or give coefficient_db_per_km"
        )

    def component(self, component: str, own_db: float | None, option: str, count: int) -> float:
        """Allowance for one component [dB]; NaN where none of it is in the reading."""
        if own_db is not None:
            return own_db
        if count == 0:
            return math.nan
        if self.fiber is None:
            raise OptionError(f"no fiber; give it, or {option}")
        medium = standards.medium_of(self.fiber)
        row = self.allowed.component(component, medium)
        if row is None or row["max_loss_db"] is None:
            raise OptionError(
                f"{self.allowed.document} has no sourced allowance for one {component} on {medium} here; give {option}"
            )
        self.use(row)
        return float(row["max_loss_db"])

    def ends(self, count: int, own_db: float | None, own_pair_db: float | None) -> tuple[int, float]:
        """How many end connections have an allowance of their own, and that allowance [dB]."""
        if count == 0:
            return 0, math.nan
        medium = "multimode" if self.fiber is None else standards.medium_of(self.fiber)
        found = end_allowance(self.values, self.allowed.standard, medium, own_db, own_pair_db)
        if not found.apart:
            return 0, math.nan
        if math.isnan(found.value_db):
            raise OptionError(NO_ALLOWANCE)
        if found.row is not None:
            self.use(found.row)
        return count, found.value_db


def _cable_db(
    book: _Book,
    length_m: float | None,
    coefficient_db_per_km: float | None,
    sections: Sequence[tuple[float, float]] | None,
) -> float:
    """Loss allowed to the cable [dB], from one length or from sections of unlike fiber."""
    if sections is None:
        if length_m is None:
            raise OptionError("no length_m; give it, or sections")
        _check_number("length_m", length_m)
        coefficient = book.coefficient() if coefficient_db_per_km is None else coefficient_db_per_km
        return float(coefficient * length_m / 1000)
    if coefficient_db_per_km is not None:
        raise OptionError("coefficient_db_per_km and sections exclude each other; each section has its own coefficient")
    for section_m, section_db_per_km in sections:
        _check_number("length of a section", section_m)
        _check_number("coefficient of a section", section_db_per_km)
    total_m = sum(section_m for section_m, _ in sections)
    if length_m is not None and not math.isclose(total_m, length_m, abs_tol=0.5):
        raise OptionError(f"length_m is {length_m} but the sections add up to {total_m}; leave length_m out")
    return float(sum(section_m * section_db_per_km / 1000 for section_m, section_db_per_km in sections))


def _counts(
    values: standards.Values,
    ends: tuple[str, str] | None,
    mated_pairs: int | None,
    array_pairs: int | None,
    splices: int | None,
    plug_ends: int,
) -> EndCounts:
    """Counts as given, those not given from the ends."""
    for name, count in (("mated_pairs", mated_pairs), ("array_pairs", array_pairs), ("splices", splices),
                        ("plug_ends", plug_ends)):  # fmt: skip
        if count is not None:
            _check_count(name, count)
    if ends is None:
        if mated_pairs is None or splices is None:
            missing = "mated_pairs" if mated_pairs is None else "splices"
            raise OptionError(f"no {missing}; give the count, or ends=(..., ...)")
        counts = EndCounts(int(mated_pairs), int(array_pairs or 0), int(splices), int(plug_ends))
    else:
        counts = _counts_with_ends(values, ends, mated_pairs, array_pairs, splices, plug_ends)
    if counts.array_pairs > counts.mated_pairs:
        raise OptionError(
            f"{counts.array_pairs} array_pairs among {counts.mated_pairs} mated_pairs; count them in both"
        )
    if counts.plug_ends > 2:
        raise OptionError(f"plug_ends is {counts.plug_ends}, but a link has two ends")
    return counts


def _counts_with_ends(
    values: standards.Values,
    ends: tuple[str, str],
    mated_pairs: int | None,
    array_pairs: int | None,
    splices: int | None,
    plug_ends: int,
) -> EndCounts:
    if len(ends) != 2:
        raise OptionError("ends needs two end types, for example panel,plug")
    known = tuple(row["end_type"] for row in values.rows("ends"))
    end_a, end_b = (_known("ends", end, known) for end in ends)
    from_ends = EndCounts(*(int(count) for count in expand_ends(end_a, end_b, values)))
    if mated_pairs is not None and mated_pairs < from_ends.mated_pairs:
        raise OptionError(
            f"ends {', '.join(ends)} have {from_ends.mated_pairs} mated pairs, but mated_pairs is {mated_pairs}; "
            "give all matings of the link, or leave mated_pairs out"
        )
    if plug_ends not in {0, from_ends.plug_ends}:
        raise OptionError(f"plug_ends is {plug_ends}, but ends {', '.join(ends)} have {from_ends.plug_ends}")
    return EndCounts(
        from_ends.mated_pairs if mated_pairs is None else int(mated_pairs),
        from_ends.array_pairs if array_pairs is None else int(array_pairs),
        from_ends.splices if splices is None else int(splices),
        from_ends.plug_ends,
    )


def _matings(values: standards.Values, counts: EndCounts, reference: str) -> int:
    cords = reference_cords(values)
    _known("reference", reference, tuple(cords))
    matings = int(counts.mated_pairs + counts.plug_ends - cords[reference])
    if matings < 0:
        raise OptionError(
            f"a {reference} reference cannot be used on {counts.mated_pairs} mated pairs and {counts.plug_ends} plug "
            f"ends: it takes {cords[reference]} end matings out of the reading; say the method that was used"
        )
    return matings


def _known_fiber(fiber: str | None) -> str | None:
    return _known("fiber", fiber, (*CATEGORIES["type"], *CATEGORIES["glass"]))


def _known(what: str, text: str | None, known: Sequence[str]) -> str | None:
    """The word as `known` writes it, case aside."""
    if text is None:
        return None
    for word in known:
        if word.casefold() == text.strip().casefold():
            return word
    raise OptionError(f"{what} {text!r} is not known; known are {', '.join(known)}")


def _check_number(name: str, number: float) -> None:
    if not math.isfinite(number) or number < 0:
        raise OptionError(f"{name} must be a number of zero or more, not {number}")


def _check_count(name: str, count: float) -> None:
    if count < 0 or count != int(count):
        raise OptionError(f"{name} must be a whole number of zero or more, not {count}")
