"""Many planned links of a schedule at once: allowed and expected loss per link and wavelength, whole columns."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from analyzer import standards
from analyzer.budget.allowances import NO_LINE, Book, Line
from analyzer.budget.end_connections import KEY, end_matings
from analyzer.budget.expected import WHY_NONE, Workmanship, array_spread, expect, workmanship
from analyzer.budget.fiber import expand_ends, longest_length_m, loss_parts_db, matings_in_reading
from analyzer.errors import StandardsError
from analyzer.job import Job
from analyzer.schema import CATEGORIES

if TYPE_CHECKING:
    import pandas as pd

PROBLEMS: Final = (
    "",
    "the fiber type is missing; give it in the schedule or the job",
    "the edition of the standard is not known here; `cableproof limits` lists those that are",
    "the length is missing; give it in the schedule or the job",
    "mated pairs and splices are missing; give them, or both ends, in the schedule or the job",
    "this reference method takes more end matings out than such ends have; choose another",
    "no sourced allowance for this cable or its connections; give it in the job",
    f"no sourced allowance for the end connections against reference-grade cords; give {KEY} in the job",
)
FINE, NO_TYPE, NO_EDITION, NO_LENGTH, NO_COUNTS, NO_METHOD, NO_ALLOWANCE, NO_END_ALLOWANCE = range(len(PROBLEMS))


def plan_links(
    schedule: pd.DataFrame,
    job: Job | None = None,
    values: standards.Values | None = None,
    reference: str = "one-cord",
    power_budget_db: float | None = None,
    connection_grade: str | None = None,
) -> pd.DataFrame:
    """The budget of every fiber link of a schedule at its wavelengths.

    Args:
        schedule: schema `schedule`, any number of rows; twisted pair is left out.
        job: fills what the schedule leaves open; its own allowances govern.
        values: values in force; None for those of the package with the job's overrides.
        reference: method where neither schedule nor job names one.
        power_budget_db: what the light may lose [dB]; None: the three columns about it are NaN.
        connection_grade: for the expected loss.

    Returns:
        One row per link and wavelength, in the order of the schedule: `row` (position in `schedule`), `label`, `type`,
        `construction` (whose coefficient was used: the strictest where not said), `length_m`, `wavelength_nm`,
        `mated_pairs`, `array_pairs`, `splices`, `reference`, `matings_in_reading`; of the reading: `cable_db`,
        `matings_db`, `splices_db`, `allowed_db`, `expected_db`, `expected_97_db`; `service_db` (allowed in service;
        the lossiest construction where it is not said),
        `power_margin_db`, `longest_length_m`, `most_mated_pairs` (NaN: does not fit), `limit` (its sources in words),
        `problem`, `not_expected` (sentences, "" where all is well). NaN where something is missing.
    """
    import pandas as pd

    job = job or Job()
    values = values or standards.load(overrides=dict(job.overrides))
    links = _facts(schedule, job, values, reference)
    table = _by_wavelength(links, job)
    table["edition_known"] = _known_editions(table, values)
    book = Book(job, values)
    allowances = _allowances(table, book)
    table = table.assign(**allowances)
    limit_ids = table.pop("limit_id").to_numpy()
    known = table.pop("edition_known").to_numpy()
    table["matings_in_reading"] = matings_in_reading(
        table["mated_pairs"], table["plug_ends"], table["reference"].to_numpy(dtype=object)
    )
    table["problem"] = _problems(table, known)
    fine = (table["problem"] == FINE).to_numpy()
    done_well = workmanship(
        values, connection_grade or job.expected.connection_grade, job.expected.splice, array_spread(job)
    )
    table = _losses(table, fine, done_well, values)
    table = _against_power(table, fine, np.nan if power_budget_db is None else power_budget_db)
    text = book.limits()["text"].to_numpy(dtype=object)
    limit = np.full(len(table), "", dtype=object)
    limit[limit_ids >= 0] = text[limit_ids[limit_ids >= 0]]
    table["limit"] = pd.array(limit, dtype="str")
    table["problem"] = _sentences(PROBLEMS, table["problem"])
    return table[list(COLUMNS)]


COLUMNS: Final = (
    "row", "label", "type", "construction", "length_m", "wavelength_nm", "mated_pairs", "array_pairs", "splices",
    "reference", "matings_in_reading", "cable_db", "matings_db", "splices_db", "allowed_db", "expected_db",
    "expected_97_db", "service_db", "power_margin_db", "longest_length_m", "most_mated_pairs", "limit", "problem",
    "not_expected",
)  # fmt: skip


def _facts(schedule: pd.DataFrame, job: Job, values: standards.Values, reference: str) -> pd.DataFrame:
    """Facts of every fiber link; the job fills what the schedule leaves open, ends fill counts."""
    import pandas as pd

    fiber = schedule[(schedule["medium"] != "twisted pair").to_numpy()]
    ends = job.facts.ends or (None, None)
    words = {
        "type": job.order.fiber or job.facts.fiber,
        "construction": job.order.construction or job.facts.construction,
        "standard": job.order.standard or "TIA",
        "edition": job.order.edition,
        "reference": job.facts.reference or reference,
        "end_type_a": ends[0],
        "end_type_b": ends[1],
    }
    numbers = {
        "length_m": job.facts.length_m, "mated_pairs": job.facts.mated_pairs, "splices": job.facts.splices,
        "array_pairs": None,
    }  # fmt: skip
    out = pd.DataFrame({"row": np.flatnonzero((schedule["medium"] != "twisted pair").to_numpy())})
    out["label"] = fiber["label"].to_numpy()
    for name, standing_in in words.items():
        column = fiber[name].astype("object").reset_index(drop=True)
        out[name] = column.where(column.notna(), standing_in if standing_in is not None else "")
    for name, number in numbers.items():
        known = fiber[name].to_numpy(dtype=float)
        out[name] = np.where(np.isnan(known), np.nan if number is None else float(number), known)
    there = expand_ends(out.pop("end_type_a").to_numpy(), out.pop("end_type_b").to_numpy(), values)
    for name in ("mated_pairs", "splices", "array_pairs"):
        out[name] = np.where(np.isnan(out[name]), getattr(there, name), out[name])
    out["array_pairs"] = np.nan_to_num(out["array_pairs"].to_numpy())
    out["plug_ends"] = np.nan_to_num(np.asarray(there.plug_ends, dtype=float))
    return out


def _by_wavelength(links: pd.DataFrame, job: Job) -> pd.DataFrame:
    """Each link once per wavelength that its glass must be tested at; -1 where the type is not known."""
    asked = {name: _asked(name, job) for name in links["type"].unique()}
    times = links["type"].map({name: len(found) for name, found in asked.items()}).to_numpy(dtype=np.int64)
    table = links.loc[links.index.repeat(times)].reset_index(drop=True)
    which = np.arange(len(table)) - np.repeat(np.cumsum(times) - times, times)
    longest = max((len(found) for found in asked.values()), default=1)
    padded = {name: (*found, *(-1,) * (longest - len(found))) for name, found in asked.items()}
    grid = np.array(list(padded.values()), dtype=np.int64).reshape(-1, longest)
    of_type = table["type"].map({name: number for number, name in enumerate(padded)}).to_numpy(dtype=np.int64)
    table["wavelength_nm"] = grid[of_type, which] if len(table) else np.zeros(0, dtype=np.int64)
    return table


def _asked(fiber: str, job: Job) -> tuple[int, ...]:
    if fiber not in CATEGORIES["type"]:
        return (-1,)
    multimode = standards.medium_of(fiber) == "multimode"
    return tuple(job.required.multimode if multimode else job.required.single_mode)


def _known_editions(table: pd.DataFrame, values: standards.Values) -> Any:
    combination = table.groupby(["standard", "edition"], sort=False).ngroup().to_numpy()
    first = np.unique(combination, return_index=True)[1]
    known = []
    for standard, edition in zip(table["standard"].to_numpy()[first], table["edition"].to_numpy()[first], strict=True):
        try:
            standards.resolve_edition(values, standard, edition or None)
        except StandardsError:
            known.append(False)
        else:
            known.append(True)
    return np.array(known, dtype=bool)[combination]


_ALLOWANCES: Final = (
    "coefficient", "mated_pair_db", "array_pair_db", "splice_db", "limit_id", "ends_apart", "end_pair_db",
)  # fmt: skip


def _allowances(table: pd.DataFrame, book: Book) -> dict[str, Any]:
    """Coefficient, allowances and number of the limit of each row: looked up once per distinct combination."""
    has_arrays = table["array_pairs"].to_numpy(dtype=float) > 0
    keys = ["standard", "edition", "type", "construction", "wavelength_nm"]
    combination = table.assign(has_arrays=has_arrays).groupby([*keys, "has_arrays"], sort=False).ngroup().to_numpy()
    first = np.unique(combination, return_index=True)[1]
    rows = table[[*keys, "edition_known"]].assign(has_arrays=has_arrays).take(first).to_dict("records")
    found = [_line(row, book) for row in rows]
    out: dict[str, Any] = {
        name: np.array([getattr(line, name) for line, _, _ in found], dtype=float)[combination] for name in _ALLOWANCES
    }
    out["limit_id"] = out["limit_id"].astype(np.int64)
    out["construction"] = np.array([word for _, word, _ in found], dtype=object)[combination]
    out["lossiest"] = np.array([most for _, _, most in found], dtype=float)[combination]
    return out


def _line(row: dict[Any, Any], book: Book) -> tuple[Line, str, float]:
    """Allowances of one combination, the construction whose coefficient it is, and the coefficient in service [dB/km].

    Where the construction is not said the reading has the strictest coefficient and the service the largest one.
    """
    nothing = NO_LINE
    if not row["edition_known"] or row["wavelength_nm"] < 0:
        return nothing, row["construction"], np.nan
    edition = standards.resolve_edition(book.values, row["standard"], row["edition"] or None)

    def of(word: str) -> Line:
        return book.line(row["standard"], edition, row["type"], word, row["wavelength_nm"], row["has_arrays"])

    plain = of(row["construction"])
    if row["construction"] or not np.isnan(plain.coefficient):
        return plain, row["construction"], plain.coefficient
    lines = [(of(word), word) for word in CATEGORIES["construction"]]
    known = sorted((each for each in lines if not np.isnan(each[0].coefficient)), key=lambda each: each[0].coefficient)
    return (*known[0], known[-1][0].coefficient) if known else (plain, "", np.nan)


def _problems(table: pd.DataFrame, edition_known: Any) -> Any:
    """The first problem of each row, as a code into PROBLEMS."""
    counts = table[["mated_pairs", "splices"]].isna().any(axis=1).to_numpy()
    matings = table["matings_in_reading"].to_numpy(dtype=float)
    arrays = np.minimum(table["array_pairs"].to_numpy(dtype=float), table["mated_pairs"].to_numpy(dtype=float))
    ends = _ends(table)
    no_end = (np.fmin(ends, matings) > 0) & table["end_pair_db"].isna().to_numpy()
    lacking = np.isnan(table["coefficient"].to_numpy(dtype=float))
    lacking |= (table["mated_pairs"].to_numpy(dtype=float) > arrays) & table["mated_pair_db"].isna().to_numpy()
    lacking |= (arrays > 0) & table["array_pair_db"].isna().to_numpy()
    lacking |= (table["splices"].to_numpy(dtype=float) > 0) & table["splice_db"].isna().to_numpy()
    return np.select(
        [(table["wavelength_nm"] < 0).to_numpy(), ~edition_known, table["length_m"].isna().to_numpy(), counts,
         ~(matings >= 0), lacking, no_end],
        [NO_TYPE, NO_EDITION, NO_LENGTH, NO_COUNTS, NO_METHOD, NO_ALLOWANCE, NO_END_ALLOWANCE],
        FINE,
    )  # fmt: skip


def _ends(table: pd.DataFrame) -> Any:
    """End connections of each reading that have an allowance of their own."""
    left = end_matings(table["reference"].to_numpy(dtype=object))
    return np.where(table["ends_apart"].to_numpy(dtype=float) == 1, left, 0.0)


def _losses(table: pd.DataFrame, fine: Any, done_well: Workmanship, values: standards.Values) -> pd.DataFrame:
    matings = np.where(fine, table["matings_in_reading"], np.nan)
    parts = loss_parts_db(
        np.where(fine, table["length_m"], np.nan), table["coefficient"], matings, table["mated_pair_db"],
        table["array_pairs"], table["array_pair_db"], np.where(fine, table["splices"], np.nan), table["splice_db"],
        _ends(table), table["end_pair_db"],
    )  # fmt: skip
    reading = table[["type", "wavelength_nm", "length_m", "splices"]].assign(
        matings=matings, array_matings=np.fmin(table["array_pairs"], matings)
    )
    expected = expect(reading, values, done_well)
    none = np.where(fine, expected["why_none"], 0)
    return table.assign(
        cable_db=parts.cable_db,
        matings_db=parts.matings_db,
        splices_db=parts.splices_db,
        allowed_db=parts.cable_db + parts.matings_db + parts.splices_db,
        expected_db=np.where(fine, expected["expected_db"], np.nan),
        expected_97_db=np.where(fine, expected["expected_97_db"], np.nan),
        not_expected=_sentences(WHY_NONE, none),
    )


def _against_power(table: pd.DataFrame, fine: Any, power_budget_db: float) -> pd.DataFrame:
    """Loss in service, and what still fits the power budget; see `planned` for one link."""
    pairs = np.where(fine, table["mated_pairs"], np.nan)
    arrays = np.fmin(table["array_pairs"].to_numpy(dtype=float), pairs)
    service = loss_parts_db(
        np.where(fine, table["length_m"], np.nan), table["lossiest"], pairs, table["mated_pair_db"],
        arrays, table["array_pair_db"], np.where(fine, table["splices"], np.nan), table["splice_db"],
    )  # fmt: skip
    rest = np.asarray(service.matings_db + service.splices_db)
    total = service.cable_db + rest
    each = table["mated_pair_db"].to_numpy(dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        most = pairs + np.floor((power_budget_db - total) / each + 1e-9)
    most = np.where(each > 0, most, np.where(power_budget_db >= total, pairs, np.nan))
    return table.assign(
        service_db=total,
        power_margin_db=power_budget_db - total,
        longest_length_m=longest_length_m(power_budget_db, table["lossiest"], other_db=rest),
        most_mated_pairs=np.where(most >= arrays, most, np.nan),
    )


def _sentences(texts: tuple[str, ...], codes: Any) -> Any:
    import pandas as pd

    return pd.array(np.array(texts, dtype=object)[np.asarray(codes, dtype=np.int64)], dtype="str")
