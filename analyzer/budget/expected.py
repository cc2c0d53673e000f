"""What a link done well should lose: the median, the line that 97 of 100 such links stay under, and a reading's place.

    expected = typical attenuation x length + the sum of what matings and splices lose, each varying as its grade says

Cable is taken at its typical attenuation (fiber_typical_attenuation.csv), matings and splices by published mean and
97 % values (component_loss_spread.csv). Where there is no sourced value nothing is expected, and the reason is told.
The accuracy of the reading is not part of the line: whoever accuses a link leaves it that much room.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from analyzer import standards
from analyzer.budget.loss_spread import LINE, Spread, sum_curve
from analyzer.errors import OptionError
from analyzer.job import Job
from analyzer.schema import CATEGORIES
from analyzer.standards.describe import HOW_KNOWN_WORDS, subject, value_text
from analyzer.standards.tables import Row

if TYPE_CHECKING:
    import pandas as pd

WHY_NONE = (
    "",
    "a fact is missing: type, length, matings or splices",
    "no typical attenuation of this cable at this wavelength has a source here",
    "no spread of the loss of array connections has a source here; give the mean and the 97 % value of the product",
    "nothing in this reading varies: no mating and no splice stands in it",
)
"""Why nothing is expected, by code; 0 where something is. With code 4 the cable alone is expected, without a place."""
EXPECTED, FACT_MISSING, NO_TYPICAL, NO_ARRAY_SPREAD, NOTHING_VARIES = range(len(WHY_NONE))


@dataclass(frozen=True)
class Workmanship:
    """What "done well" means: the spread of one mating, one array mating and one splice, by medium."""

    mated_pair: Mapping[str, Spread]
    splice: Mapping[str, Spread]
    array_pair: Spread | None
    rows: Mapping[tuple[str, str], Row]
    """(component, medium) -> the value row that it rests on"""

    def parts(self, medium: str, matings: int, array_matings: int, splices: int) -> tuple[tuple[Spread, int], ...]:
        """What `loss_spread.sum_curve` takes; `matings` counts the array matings as well."""
        arrays = ((self.array_pair, array_matings),) if self.array_pair is not None else ()
        return ((self.mated_pair[medium], matings - array_matings), *arrays, (self.splice[medium], splices))


def workmanship(
    values: standards.Values | None = None,
    connection_grade: str | None = None,
    splice: str | None = None,
    array_pair: Spread | None = None,
) -> Workmanship:
    """The grades that were ordered, or those taken where none was.

    Args:
        values: values in force.
        connection_grade: A, B, C, D (single-mode, IEC 61755-1) or Bm, Cm (multimode); it holds for its own medium, the
            other keeps the row marked as taken. B and C mean Bm and Cm as well.
        splice: "fusion" or "mechanical" (single-mode only).
        array_pair: mean and 97 % value of one array mating [dB]; none of the values files has one.

    Raises:
        OptionError: no row has this grade.
    """
    return _workmanship(values or standards.load(), connection_grade, splice, array_pair)


def array_spread(job: Job) -> Spread | None:
    """The spread of one array mating that the job states; None where it states none."""
    mean_db, q97_db = job.expected.array_mean_db, job.expected.array_97_db
    return None if mean_db is None or q97_db is None else Spread(mean_db, q97_db)


def ordered_workmanship(job: Job, values: standards.Values) -> Workmanship:
    """What "done well" means on this job: the grades of `[expected]`, else those taken where none is stated."""
    return workmanship(values, job.expected.connection_grade, job.expected.splice, array_spread(job))


def typical_row(values: standards.Values, fiber: str | None, wavelength_nm: int | None) -> Row | None:
    """The row with the typical attenuation of this type at this nominal wavelength; None where none is known."""
    return next(
        (
            row
            for row in values.rows("typical_attenuation")
            if row["wavelength_nm"] == wavelength_nm and fiber in row["types"].split()
        ),
        None,
    )


def expect(
    readings: pd.DataFrame, values: standards.Values | None = None, done_well: Workmanship | None = None
) -> pd.DataFrame:
    """Expected loss of many readings at once.

    Args:
        readings: one row each, with `type`, `wavelength_nm` (nominal), `length_m`, `matings` (those in the reading),
            `array_matings` (how many of them are arrays), `splices`, and, where measured, `value` [dB].
        values: values in force.
        done_well: the grades; None for those taken where none was ordered.

    Returns:
        A frame of the same index: `typical_cable_db`, `expected_db` (median), `expected_97_db` (97 of 100 such links
        lose less), `place` (share of such links that lose less than `value`, 0 to 1), `why_none` (code into WHY_NONE).
        NaN where nothing is expected.
    """
    import pandas as pd

    values = values or standards.load()
    done_well = done_well or workmanship(values)
    wanted = {
        name: readings[name].to_numpy(dtype=float) for name in ("length_m", "matings", "array_matings", "splices")
    }
    value = readings["value"].to_numpy(dtype=float) if "value" in readings else np.full(len(readings), np.nan)
    counts = np.column_stack([wanted[name] for name in ("matings", "array_matings", "splices")])
    types = pd.Index(list(CATEGORIES["type"])).get_indexer(pd.Index(readings["type"].astype("object")))
    cable_db = _typical(types, readings["wavelength_nm"].to_numpy(), values) * wanted["length_m"] / 1000
    why = _why_none(types, cable_db, wanted, done_well)
    median, line, place = (np.full(len(readings), np.nan) for _ in range(3))
    single_mode = np.isin(types, _codes_of("single-mode"))
    known = np.flatnonzero((why == EXPECTED) | (why == NOTHING_VARIES))
    for inside, (is_single, *numbers) in _combinations(known, single_mode, counts):
        medium = "single-mode" if is_single else "multimode"
        curve = sum_curve(done_well.parts(medium, *numbers))
        base = cable_db[inside]
        median[inside] = base + (0.0 if curve is None else curve.loss_at(0.5))
        line[inside] = base + (0.0 if curve is None else curve.loss_at(LINE))
        if curve is not None:
            place[inside] = curve.share_below(value[inside] - base)
    return pd.DataFrame(
        {"typical_cable_db": cable_db, "expected_db": median, "expected_97_db": line, "place": place, "why_none": why},
        index=readings.index,
    )


def worse_than_done_well(value_db: Any, expected_97_db: Any, accuracy_db: Any = 0.0) -> Any:
    """Whether a reading loses more than 97 of 100 such links done well, by more than its accuracy (unknown: none).

    False where either number is missing. It is no fail: whoever tells it says that the link passes.
    """
    room = np.nan_to_num(np.asarray(accuracy_db, dtype=float), nan=0.0)
    return np.asarray(value_db, dtype=float) - room > np.asarray(expected_97_db, dtype=float)


@dataclass(frozen=True)
class ExpectedLoss:
    """Expected loss of one link at one wavelength; None where nothing is expected, `why_none` says why."""

    expected_db: float | None
    expected_97_db: float | None
    rows: tuple[Row, ...]
    """The value rows it rests on."""
    why_none: str

    @property
    def in_doubt(self) -> bool:
        """Some row is marked as doubtful."""
        return any(row["in_doubt"] for row in self.rows)


def expected_loss(
    values: standards.Values,
    fiber: str | None,
    wavelength_nm: int | None,
    length_m: float | None,
    matings: int,
    array_matings: int,
    splices: int,
    done_well: Workmanship,
) -> ExpectedLoss:
    """The same for one link, without pandas. `wavelength_nm` is nominal, `matings` are those in the reading."""
    if fiber not in CATEGORIES["type"] or length_m is None:
        return ExpectedLoss(None, None, (), WHY_NONE[FACT_MISSING])
    typical = typical_row(values, fiber, wavelength_nm)
    if typical is None:
        return ExpectedLoss(None, None, (), WHY_NONE[NO_TYPICAL])
    arrays = min(array_matings, matings)
    if arrays and done_well.array_pair is None:
        return ExpectedLoss(None, None, (), WHY_NONE[NO_ARRAY_SPREAD])
    medium = standards.medium_of(fiber)
    base = float(typical["typical_db_per_km"]) * length_m / 1000
    used = [typical]
    used += [done_well.rows["mated pair", medium]] if matings > arrays else []
    used += [done_well.rows["splice", medium]] if splices else []
    curve = sum_curve(done_well.parts(medium, matings, arrays, splices))
    if curve is None:
        return ExpectedLoss(base, base, tuple(used), WHY_NONE[NOTHING_VARIES])
    return ExpectedLoss(base + float(curve.loss_at(0.5)), base + float(curve.loss_at(LINE)), tuple(used), "")


def describe_row(row: Row) -> str:
    """A row of the spread or typical values in words."""
    where = ", ".join(word for word in (row["document"], row["clause"]) if word)
    doubt = "; doubtful" if row["in_doubt"] else ""
    known = f"{where}; {HOW_KNOWN_WORDS[row['how_known']]}{doubt}"
    cable = "cable " if "typical_db_per_km" in row else ""
    return f"{cable}{subject(row)}: {value_text(row)} ({known})"


@lru_cache(maxsize=64)
def _workmanship(
    values: standards.Values, connection_grade: str | None, splice: str | None, array_pair: Spread | None
) -> Workmanship:
    rows = {
        (component, medium): _spread_row(values, component, medium, grade)
        for component, grade in (("mated pair", connection_grade), ("splice", splice))
        for medium in ("multimode", "single-mode")
    }
    by_component = {
        component: {
            medium: Spread(row["mean_db"], row["q97_db"]) for (name, medium), row in rows.items() if name == component
        }
        for component in ("mated pair", "splice")
    }
    return Workmanship(by_component["mated pair"], by_component["splice"], array_pair, rows)


def _spread_row(values: standards.Values, component: str, medium: str, grade: str | None) -> Row:
    rows = [row for row in values.rows("component_spread") if row["component"] == component]
    if grade is not None:
        plain = grade.strip().casefold()
        names = {plain, f"{plain}m"} if medium == "multimode" else {plain}
        if plain not in {row["grade"].casefold() for row in rows}:
            what = "connection grade" if component == "mated pair" else "kind of splice"
            known = ", ".join(dict.fromkeys(row["grade"] for row in rows))
            raise OptionError(f"{what} {grade!r} has no spread here; known are {known}")
        for row in rows:
            if row["medium"] == medium and row["grade"].casefold() in names:
                return row
    return next(row for row in rows if row["medium"] == medium and row["taken"])


def _codes_of(medium: str) -> list[int]:
    return [code for code, name in enumerate(CATEGORIES["type"]) if standards.medium_of(name) == medium]


def _typical(type_codes: Any, wavelengths_nm: Any, values: standards.Values) -> Any:
    """Typical attenuation of each reading [dB/km], NaN where none is known."""
    out = np.full(len(type_codes), np.nan)
    code_of = {name: code for code, name in enumerate(CATEGORIES["type"])}
    for row in values.rows("typical_attenuation"):
        codes = [code_of[name] for name in row["types"].split()]
        inside = np.isin(type_codes, codes) & (wavelengths_nm == row["wavelength_nm"])
        out[inside] = row["typical_db_per_km"]
    return out


def _combinations(known: Any, single_mode: Any, counts: Any) -> Iterator[tuple[Any, tuple[int, ...]]]:
    """Positions of the readings that share medium and counts, and these; one number per row sorts faster than four."""
    table = np.column_stack([single_mode[known], counts[known]]).astype(np.int64)
    key = np.zeros(len(known), dtype=np.int64)
    for column in table.T:
        # an absurd count must not run over: numbered by rank the key stays small
        _, rank = np.unique(column, return_inverse=True)
        key = np.unique(key * (rank.max(initial=0) + 1) + rank, return_inverse=True)[1]
    order = np.argsort(key, kind="stable")
    starts = np.flatnonzero(np.diff(key[order], prepend=-1))
    for inside in np.split(order, starts[1:]) if len(order) else ():
        yield known[inside], tuple(int(number) for number in table[inside[0]])


def _why_none(type_codes: Any, cable_db: Any, wanted: Mapping[str, Any], done_well: Workmanship) -> Any:
    """The first reason that holds; a type, length or count that is missing or makes no sense counts as missing."""
    matings, arrays, splices, length_m = (wanted[name] for name in ("matings", "array_matings", "splices", "length_m"))
    counted = (matings >= 0) & (arrays >= 0) & (arrays <= matings) & (splices >= 0)
    whole = (matings % 1 == 0) & (arrays % 1 == 0) & (splices % 1 == 0)
    missing = (type_codes < 0) | ~(counted & whole & (length_m >= 0) & np.isfinite(length_m))
    no_spread = (arrays > 0) & (done_well.array_pair is None)
    return np.select(
        [missing, np.isnan(cable_db), no_spread, (matings == 0) & (splices == 0)],
        [FACT_MISSING, NO_TYPICAL, NO_ARRAY_SPREAD, NOTHING_VARIES],
        EXPECTED,
    ).astype(np.int8)
