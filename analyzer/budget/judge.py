"""Verdicts of readings: measured against allowed, in every admissible world.

The steps, top to bottom in `judge`: every reading meets every world of its record; each meeting gets a limit, a margin
and a verdict; of alternatives (file and schedule differ) the stricter stays; worlds that agree give the verdict, shown
with the limit that least supports it; worlds that do not agree give `not judged` and name the missing facts.

Only the loss of fiber is judged here, and by `return_loss` its optical return loss. Twisted pair is judged in
`pair_judge`; `pair_join` writes it beside.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.allowances import NO_LINE, Book, Line
from analyzer.budget.end_connections import end_matings
from analyzer.budget.expected import expect, ordered_workmanship
from analyzer.budget.fiber import loss_parts_db
from analyzer.budget.pair_join import no_words, pair_limits_after, write_pairs
from analyzer.budget.pair_judge import PairVerdicts
from analyzer.budget.plain import distinct_rows, texts_of
from analyzer.budget.reasons import reason_table
from analyzer.budget.return_loss import judge_return_loss
from analyzer.budget.uncertainty import ZERO_MARGIN, conformance, decide_margin, decision_rules
from analyzer.job import Job
from analyzer.standards import Values, admissible, medium_of, nominal_wavelength_nm

PASS, MARGINAL_PASS, NOT_JUDGED, MARGINAL_FAIL, FAIL = range(5)
VERDICT_NAMES = np.array(["pass", "marginal pass", "not judged", "marginal fail", "fail"], dtype=object)

_OF_DECISION = np.array([FAIL, MARGINAL_FAIL, MARGINAL_PASS, PASS, NOT_JUDGED])
"""Verdict by the code of `uncertainty.VERDICTS`; what that leaves open, -1, is the last."""

WORLD_NAMES = np.array(["certain", "strictest", "most generous", "tried at 0 m"], dtype=object)


@dataclass(frozen=True)
class Judged:
    """Tables `judged`, `limits`, `reasons` of the schema, and which records fail in every world."""

    judged: pd.DataFrame
    limits: pd.DataFrame
    reasons: pd.DataFrame
    fails_in_every_world: np.ndarray


def judge(
    readings: pd.DataFrame,
    facts: pd.DataFrame,
    worlds: pd.DataFrame,
    missing: pd.Series,
    job: Job,
    values: Values,
    pairs: PairVerdicts | None = None,
) -> Judged:
    """Judge every reading of one file.

    Args:
        readings: schema `readings`, n rows; `record` is the position of the record in facts.
        facts: schema `facts`, m rows.
        worlds: what `worlds.make_worlds` returned for them.
        missing: names of the missing facts, m texts.
        job: own limits, allowances, confirmed rows.
        values: the standards' values.
        pairs: verdicts of its twisted-pair readings.
    """
    book = Book(job, values)
    met = _meet(readings, facts, worlds, values)
    _set_limits(met, facts, book)
    _set_verdicts(met, job, values)
    strict = _stricter_alternative(met)
    shown, agreed = _over_worlds(strict)
    judged = _assemble(readings, strict, shown, agreed)
    judged["p_conform"] = _conformance(readings, judged, job)
    judged = judged.assign(**_expected(readings, facts, worlds, judged, job, values))
    flags = _flags(readings, facts, strict, shown, agreed, judged)
    of_return_loss = judge_return_loss(readings, facts, judged, book)
    told = np.logical_or.reduce(list(of_return_loss.values()))
    flags["no-sourced-limit"] &= ~told
    flags |= {code: flags.get(code, False) | mask for code, mask in of_return_loss.items()}
    names = missing.to_numpy(dtype=object)[readings["record"].to_numpy()] if len(readings) else np.array([], object)
    told, limits = {"missing": names, **no_words(len(readings))}, book.limits()
    if pairs is not None:
        write_pairs(judged, flags, told, pairs, len(limits))
        limits = pair_limits_after(limits, pairs)
    judged["reason"], reasons = reason_table(flags, told, _most_admissible(job, values))
    return Judged(schema.conform("judged", judged), limits, reasons, _fails_in_every_world(strict, len(facts), job))


def _most_admissible(job: Job, values: Values) -> dict[str, str]:
    """The most mated pairs and splices that are tried where they are not stated, as text."""
    said = {
        "most_pairs": (job.admissible.mated_pairs, "mated pairs"),
        "most_splices": (job.admissible.splices, "splices"),
    }
    return {
        name: str(max(own or [int(number) for number in admissible(values, fact)]))
        for name, (own, fact) in said.items()
    }


def _meet(readings: pd.DataFrame, facts: pd.DataFrame, worlds: pd.DataFrame, values: Values) -> pd.DataFrame:
    """One row for every loss reading in every world of its record."""
    loss = (readings["parameter"] == "loss").to_numpy()
    at = readings["record"].to_numpy()[loss]
    # the worlds of a record stand together, so a reading takes a run of rows of `worlds`
    first = np.searchsorted(worlds["at"].to_numpy(), at)
    sizes = np.searchsorted(worlds["at"].to_numpy(), at, side="right") - first
    of_reading = np.repeat(np.arange(len(at)), sizes)
    rows = np.arange(len(of_reading)) - np.repeat(np.cumsum(sizes) - sizes, sizes) + first[of_reading]
    met = worlds.take(rows).reset_index(drop=True)
    met["reading"] = np.flatnonzero(loss)[of_reading]
    met["wavelength_nm"] = readings["wavelength_nm"].to_numpy()[loss].astype(np.int64)[of_reading]
    met["value"] = readings["value"].to_numpy()[loss][of_reading]
    met["bound"] = readings["bound"].cat.codes.to_numpy()[loss][of_reading]
    met["accuracy"] = facts["accuracy_db"].to_numpy()[met["at"]]
    nominal = _nominal(met, values)
    met["not_carried"] = (nominal < 0) & (met["wavelength_nm"].to_numpy() >= 0) & (met["type"] != "").to_numpy()
    met["judged_nm"] = np.where(nominal < 0, met["wavelength_nm"], nominal)
    return met


def _nominal(met: pd.DataFrame, values: Values) -> np.ndarray:
    """Wavelength whose limit holds, by what the type makes of the wavelength as written; -1 where it carries none."""
    types, names = pd.factorize(met["type"])
    waves, written = pd.factorize(met["wavelength_nm"])
    table = np.array(
        [[nominal_wavelength_nm(values, int(wave), medium_of(name)) or -1 for wave in written] for name in names]
        + [[-1 for _ in written]],
        dtype=np.int64,
    )
    return table[types, waves] if len(met) else np.array([], dtype=np.int64)


def _set_limits(met: pd.DataFrame, facts: pd.DataFrame, book: Book) -> None:
    """Parts, sum and number of the limit of every meeting; NaN where no limit is sourced."""
    at = met["at"].to_numpy()
    said = (
        *(texts_of(facts[name])[at] for name in ("standard", "edition")),
        *(met[name].to_numpy(dtype=object) for name in ("type", "construction", "judged_nm")),
        (met["array_matings"].to_numpy() > 0).astype(object),
    )
    which, first = distinct_rows(*said)
    lines = [book.line(*key) for key in zip(*(column[first] for column in said), strict=True)] or [NO_LINE]
    column = {name: np.array([getattr(line, name) for line in lines])[which] for name in Line.__dataclass_fields__}
    in_reading = end_matings(facts["reference"].astype("object").to_numpy(), book.values)[at]
    ends = np.where(column["ends_apart"] == 1, in_reading, 0.0)
    # a cable that may lose nothing loses nothing at any length, an unbounded one too
    length_m = np.where(column["coefficient"] == 0, 0.0, met["length_m"].to_numpy())
    parts = loss_parts_db(
        length_m, column["coefficient"], met["matings"].to_numpy(), column["mated_pair_db"],
        met["array_matings"].to_numpy(), column["array_pair_db"], met["splices"].to_numpy(), column["splice_db"],
        ends=ends, end_pair_db=column["end_pair_db"],
    )  # fmt: skip
    met["cable_db"], met["matings_db"], met["splices_db"] = parts.cable_db, parts.matings_db, parts.splices_db
    total = parts.cable_db + parts.matings_db + parts.splices_db
    met["impossible"] = met["matings"].to_numpy() < 0
    met["no_end_allowance"] = (
        (ends > 0)
        & (met["matings"].to_numpy() > 0)
        & np.isnan(column["end_pair_db"])
        & ~np.isnan(column["coefficient"])
    )
    total = np.where(met["impossible"], np.nan, total)
    own = np.where(np.isinf(column["own_max_db"]), np.nan, column["own_max_db"])
    met["own_decides"] = ~np.isnan(own) & ~met["impossible"] & ~(total <= own)
    met["limit"] = np.where(met["own_decides"], own, total)
    met["has_ceiling"] = ~np.isnan(column["coefficient"]) | ~np.isnan(own)
    met["limit_id"] = np.where(met["own_decides"], column["own_limit_id"], column["limit_id"])


def _set_verdicts(met: pd.DataFrame, job: Job, values: Values) -> None:
    """Margin and verdict of every meeting."""
    value, limit = met["value"].to_numpy(), met["limit"].to_numpy()
    stated = met["accuracy"].to_numpy(float)
    accuracy = np.nan_to_num(stated, nan=0.0)
    below, above, over = (met["bound"].to_numpy() == code for code in _BOUND_CODES)
    with np.errstate(invalid="ignore"):
        margin = limit - value
    margin = np.where(np.abs(margin) <= ZERO_MARGIN, 0.0, margin)
    verdict = _OF_DECISION[decide_margin(margin, stated, job.rules.decision, values)]
    met["no_accuracy"] = (verdict == NOT_JUDGED) & ~np.isnan(margin) & np.isnan(stated)
    verdict = np.where(below & (margin < 0), NOT_JUDGED, verdict)
    # "more than v" fails where v already reaches the limit
    verdict = np.where(above, np.where(margin <= 0, FAIL, NOT_JUDGED), verdict)
    met["undecided"] = ((below & (margin < 0)) | (above & (margin > 0))) & ~np.isnan(limit)
    met["negative"] = (value < -accuracy - ZERO_MARGIN) & ~above
    verdict = np.where(np.isnan(limit) | np.isnan(value) | met["negative"], NOT_JUDGED, verdict)
    # the owner's own limit does not stand in for an allowance of the standard that governs and is not known here
    verdict = np.where(met["no_end_allowance"] & (verdict < NOT_JUDGED), NOT_JUDGED, verdict)
    # beyond all range is beyond every ceiling, also one whose number is not known
    verdict = np.where(over & met["has_ceiling"], FAIL, verdict)
    met["margin"] = np.where(over, np.nan, margin)
    met["verdict"] = verdict


_BOUND_CODES = tuple(schema.CATEGORIES["bound"].index(name) for name in ("below", "above", "over range"))


def _stricter_alternative(met: pd.DataFrame) -> pd.DataFrame:
    """Where file and schedule differ on the type, of each world the one with the worse verdict, then the lower limit."""
    disputed = met["alternative"].to_numpy() > 0
    met["disputed"] = disputed
    if not disputed.any():
        return met
    met["disputed"] = met.groupby(["reading", "world"])["disputed"].transform("max")
    ranked = met.assign(good=-met["verdict"]).sort_values(
        ["reading", "world", "good", "limit", "alternative"], kind="stable"
    )
    return ranked.drop_duplicates(["reading", "world"]).drop(columns="good").reset_index(drop=True)


def _over_worlds(met: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """For every reading that was met: the row of `met` that is shown, and whether all worlds agree."""
    if met.empty:
        return np.array([], dtype=np.int64), np.array([], dtype=bool)
    reading = met["reading"].to_numpy()
    starts = np.flatnonzero(np.r_[True, reading[1:] != reading[:-1]])
    camp = np.sign(met["verdict"].to_numpy() - NOT_JUDGED)  # -1 passes, 0 not judged, 1 fails
    low, high = np.minimum.reduceat(camp, starts), np.maximum.reduceat(camp, starts)
    agreed = low == high
    # what least supports the verdict: the least margin of passes, the greatest of fails; where there is no
    # agreement the first world stands for the place
    margin = met["margin"].to_numpy()
    # beyond the range there is no margin: the highest limit supports the fail least
    margin = np.nan_to_num(np.where(np.isnan(margin), met["limit"].to_numpy(), margin), nan=-np.inf)
    support = np.where(camp > 0, -margin, margin)
    sizes = np.diff(np.r_[starts, len(met)])
    group = np.repeat(np.arange(len(starts)), sizes)
    order = np.lexsort((np.arange(len(met)), support, group))
    return order[starts], agreed


def _assemble(readings: pd.DataFrame, met: pd.DataFrame, shown: np.ndarray, agreed: np.ndarray) -> pd.DataFrame:
    """Schema `judged` but for the reason: what was met is written over `not judged`."""
    n = len(readings)
    rows = met.iloc[shown]
    at = rows["reading"].to_numpy()
    verdict = np.where(agreed, rows["verdict"].to_numpy(), NOT_JUDGED)
    several = _worlds_met(met, shown) > 1
    tells_limit = agreed & ~(several & (verdict == NOT_JUDGED)) & np.isfinite(rows["limit"].to_numpy())
    has_margin = tells_limit & (verdict != NOT_JUDGED)
    at_zero = several & (rows["length_rule"].to_numpy() == "zero")
    world = np.select([~several | ~agreed, at_zero, verdict > NOT_JUDGED], [0, 3, 2], 1)

    def written(background: np.ndarray, values: np.ndarray) -> np.ndarray:
        background[at] = values
        return background

    unknown = {name: np.where(tells_limit, rows[name].to_numpy(), np.nan) for name in _PARTS}
    return pd.DataFrame(
        {
            "reading": readings["reading"].to_numpy(),
            "judged_wavelength_nm": written(
                readings["wavelength_nm"].to_numpy().astype(np.int64), rows["judged_nm"].to_numpy()
            ),
            "basis": np.full(n, "value", dtype=object),
            "margin": written(np.full(n, np.nan), np.where(has_margin, rows["margin"].to_numpy(), np.nan)),
            "accuracy": written(np.full(n, np.nan), rows["accuracy"].to_numpy()),
            "verdict": written(np.full(n, "not judged", dtype=object), VERDICT_NAMES[verdict]),
            "limit_id": written(np.full(n, -1), np.where(tells_limit, rows["limit_id"].to_numpy(), -1)),
            "world": written(np.full(n, "certain", dtype=object), WORLD_NAMES[world]),
            "in_force": np.ones(n, dtype=bool),
            "counts": _may_decide(readings, met),
            **{name: written(np.full(n, np.nan), values) for name, values in unknown.items()},
        }
    )


def _conformance(readings: pd.DataFrame, judged: pd.DataFrame, job: Job) -> np.ndarray:
    """Probability of conformance of every reading that has an exact value, a margin and a known accuracy."""
    exact = readings["bound"].isna().to_numpy() & (judged["accuracy"] > 0).to_numpy()
    margin = np.where(exact, judged["margin"].to_numpy(), np.nan)
    return np.asarray(conformance(margin, judged["accuracy"].to_numpy(), job.rules.accuracy_taken_as))


def _expected(
    readings: pd.DataFrame, facts: pd.DataFrame, worlds: pd.DataFrame, judged: pd.DataFrame, job: Job, values: Values
) -> dict[str, np.ndarray]:
    """Loss to be expected of each loss reading, from facts that are known; NaN for what is missing or disputed."""
    at = readings["record"].to_numpy()
    disputed = np.zeros(len(facts), dtype=bool)
    disputed[worlds.loc[(worlds["alternative"] > 0).to_numpy(), "at"].to_numpy()] = True
    use = np.flatnonzero((readings["parameter"] == "loss").to_numpy() & ~disputed[at])
    own = at[use]
    matings = facts["matings_in_reading"].to_numpy(float)[own]
    wanted = pd.DataFrame(
        {
            "type": facts["type"].astype("object").to_numpy()[own],
            "wavelength_nm": judged["judged_wavelength_nm"].to_numpy()[use],
            "length_m": facts["length_m"].to_numpy(float)[own],
            "matings": matings,
            "array_matings": np.fmin(facts["array_pairs"].to_numpy(float)[own], np.maximum(matings, 0)),
            "splices": facts["splices"].to_numpy(float)[own],
            "value": np.where(readings["bound"].isna(), readings["value"], np.nan)[use],
        }
    )
    found = expect(wanted, values, ordered_workmanship(job, values))
    out = {name: np.full(len(readings), np.nan) for name in ("expected_db", "expected_97_db", "place")}
    for name, column in out.items():
        column[use] = found[name].to_numpy()
    return out


def _may_decide(readings: pd.DataFrame, met: pd.DataFrame) -> np.ndarray:
    """Losses that some limit governs, known or not; a loss without a wavelength may be over any of them."""
    governed = np.zeros(len(readings), dtype=bool)
    governed[met.loc[met["has_ceiling"], "reading"].to_numpy()] = True
    nowhere = (readings["wavelength_nm"] < 0).to_numpy()
    return (governed | nowhere) & (readings["parameter"] == "loss").to_numpy()


_PARTS = ("limit", "cable_db", "matings_db", "splices_db")


def _worlds_met(met: pd.DataFrame, shown: np.ndarray) -> np.ndarray:
    """In how many worlds each shown reading was judged."""
    sizes: np.ndarray = np.bincount(met["reading"].to_numpy())[met["reading"].to_numpy()[shown]]
    return sizes


def _flags(
    readings: pd.DataFrame,
    facts: pd.DataFrame,
    met: pd.DataFrame,
    shown: np.ndarray,
    agreed: np.ndarray,
    judged: pd.DataFrame,
) -> dict[str, np.ndarray]:
    """Which causes of reasons.csv speak of each reading."""
    n = len(readings)
    rows = met.iloc[shown]
    at = rows["reading"].to_numpy()

    def spread(mask: np.ndarray | pd.Series) -> np.ndarray:
        out = np.zeros(n, dtype=bool)
        out[at] = np.asarray(mask, dtype=bool)
        return out

    not_judged = (judged["verdict"] == "not judged").to_numpy()
    passes = judged["verdict"].isin(["pass", "marginal pass"]).to_numpy()
    fails = judged["verdict"].isin(["fail", "marginal fail"]).to_numpy()
    several = spread(_worlds_met(met, shown) > 1)
    negative, impossible = spread(rows["negative"]), spread(rows["impossible"])
    no_limit = spread(rows["limit"].isna()) | (readings["parameter"] != "loss").to_numpy()
    ends = spread(rows["no_end_allowance"])
    not_carried = spread(rows["not_carried"] & rows["limit"].isna())
    no_wave = (readings["wavelength_nm"].to_numpy() < 0) & (readings["parameter"] == "loss").to_numpy()
    zero = spread(rows["length_rule"] == "zero")
    over = (readings["bound"] == "over range").to_numpy()
    pairs_open = spread(facts["mated_pairs"].isna().to_numpy()[rows["at"]])
    splices_open = spread(facts["splices"].isna().to_numpy()[rows["at"]])
    undecided = spread(rows["undecided"]) & spread(agreed)
    decimals = readings["decimals"].to_numpy().astype(float)
    margin = judged["margin"].to_numpy()
    with np.errstate(invalid="ignore"):
        rounding = (decimals >= 0) & (np.abs(margin) <= 0.5 * 10.0**-decimals + ZERO_MARGIN)
    wave_differs = judged["judged_wavelength_nm"].to_numpy() != readings["wavelength_nm"].to_numpy()
    disagreement = spread(~agreed) & ~negative
    no_accuracy = spread(rows["no_accuracy"]) & not_judged & spread(agreed) & ~negative & ~spread(rows["undecided"])
    clear = not_judged & ~negative & ~disagreement & ~undecided
    only_declared = (readings["parameter"] == "loss").to_numpy() & (
        readings["value"].isna() & readings["bound"].isna()
    ).to_numpy()
    return {
        "missing-fact": disagreement,
        "no-wavelength": clear & no_wave,
        "declared-only": clear & only_declared,
        "no-end-allowance": clear & ends & ~impossible,
        "method-and-ends": clear & impossible,
        "accuracy-needed": no_accuracy,
        "wavelength-not-carried": clear & not_carried,
        "no-sourced-limit": clear & no_limit & ~not_carried & ~no_wave & ~ends & ~impossible,
        "negative-loss": negative,
        "bound-undecided": undecided & not_judged,
        "over-range": fails & over,
        "holds-in-every-world": several & (passes | fails) & ~zero,
        "unless-more-pairs": fails & several & pairs_open & ~over,
        "unless-more-splices": fails & several & splices_open & ~over,
        "tried-at-zero-length": passes & several & zero,
        "stricter-of-two": spread(rows["disputed"]) & (passes | fails),
        "own-limit": spread(rows["own_decides"]) & (passes | fails),
        "counted-as-nominal": wave_differs,
        "bound-value": (passes | fails) & readings["bound"].isin(["below", "above"]).to_numpy(),
        "rounding": rounding & (passes | fails),
    }


def _fails_in_every_world(met: pd.DataFrame, records: int, job: Job) -> np.ndarray:
    out = np.zeros(records, dtype=bool)
    if met.empty:
        return out
    spared = "marginal fail" in decision_rules()[job.rules.decision].accepts
    fails = (met["verdict"] > (MARGINAL_FAIL if spared else NOT_JUDGED)).groupby([met["at"], met["world"]]).any()
    always = fails.groupby(level=0).all()
    out[always.index.to_numpy()] = always.to_numpy()
    return out
