"""Verdicts of twisted-pair readings that are single numbers: measured against allowed, whatever is open.

`judge_pairs` goes top to bottom: readings of one order and parameter meet their limit lines together (`_Met`), once for
each line and not for each reading. Of several lines, and of a frequency that nobody states, the strictest and the most
generous limit are kept. A reading passes where it passes the strictest and fails where it fails the most generous;
between them it is not judged. What a worst point proves follows from the limit that the tester had loaded
(`pair_loaded`); what a rule of exemption takes out of the verdict, from the insertion loss that is known
(`pair_partners`). The words for each cause stand in `pair_reasons`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.curve_points import ZERO_MARGIN
from analyzer.budget.pair_accuracy import accuracy_of
from analyzer.budget.pair_limits import LENGTH, PairLimits
from analyzer.budget.pair_loaded import OTHER, SAME, UNNAMED, Loaded, gap, loaded_of, relation
from analyzer.budget.pair_open import what_is_open
from analyzer.budget.pair_partners import EXEMPT, NONE, UNKNOWN, Losses, exemption_of
from analyzer.job import Job
from analyzer.standards import Values
from analyzer.standards.lines import LimitLine

PASS, MARGINAL_PASS, NOT_JUDGED, MARGINAL_FAIL, FAIL = range(5)
"""Verdicts by code, as in `judge`."""

SWEPT = (
    "insertion loss", "NEXT", "PSNEXT", "ACR-F", "PSACR-F", "ACR-N", "PSACR-N", "return loss", "TCL", "ELTCTL",
    "PSANEXT", "PSAACR-F",
)  # fmt: skip
"""Measured over frequency: a single number is the worst point of a sweep."""

FOR_INFORMATION = (
    "ACR-N", "PSACR-N", "TCL", "ELTCTL", "PSANEXT", "PSAACR-F", "resistance unbalance", LENGTH,
)  # fmt: skip
"""Decides nothing unless the job requires it or sets a limit of its own; a length is required and never judged so."""


def is_for_information(parameter: str, job: Job) -> bool:
    """Whether a parameter is judged and shown and decides nothing, as far as the job does not require it."""
    return parameter in FOR_INFORMATION and parameter not in set(job.required.twisted_pair) - {LENGTH}


WIRE_MAP = "wire map"

BASES = ("value", "worst point", "declared margin", "declared verdict")
VALUE, WORST_POINT, DECLARED_MARGIN, DECLARED_VERDICT = range(4)

_POINTS_OF_A_WORST = 2
"""A sweep has two worst points, that of the margin and that of the value; more points of one test are a table."""

_BOUND = {name: code for code, name in enumerate(schema.CATEGORIES["bound"])}


@dataclass(frozen=True)
class PairVerdicts:
    """Judgement of the k twisted-pair readings of a file."""

    at: np.ndarray
    """Position in readings, k."""
    columns: pd.DataFrame
    """basis (code of `BASES`), limit, margin, accuracy, verdict (code), limit_id, several (possibilities), counts, and
    what the reasons need: see `pair_reasons`."""
    limits: PairLimits
    loaded: Sequence[Loaded]
    """The loaded limits that `columns.loaded` numbers."""


def judge_pairs(
    readings: pd.DataFrame, records: pd.DataFrame, facts: pd.DataFrame, limits: PairLimits, job: Job, values: Values
) -> PairVerdicts:
    """Judge the twisted-pair readings of a file.

    Args:
        readings: schema `readings`; `record` is the position of the record.
        records: schema `records`.
        facts: schema `facts`.
        limits: the limits of its records.
        job: what is required, own limits, the accuracy level.
        values: accuracy by level.
    """
    record = readings["record"].to_numpy()
    copper = (facts["medium"] == "twisted pair").to_numpy()[record]
    copper &= ~readings["parameter"].isin(["loss", "optical return loss"]).to_numpy()
    at = np.flatnonzero(copper)
    met = _met(readings.take(at), record[at], records, limits)
    loaded, number = loaded_of(records, limits, values)
    met["loaded"] = number[met["record"].to_numpy()]
    met["accuracy"] = accuracy_of(met, facts, met["record"].to_numpy(), job, values)
    partners = _Partners(met)
    groups = met.groupby(["order", "parameter"], sort=False).indices
    parts = [
        _judged(met.iloc[rows], limits, loaded, partners, job).assign(place=rows) for rows in groups.values()
    ]  # fmt: skip
    columns = pd.concat(parts).sort_values("place").reset_index(drop=True) if parts else met
    return PairVerdicts(at, columns, limits, loaded)


def _met(readings: pd.DataFrame, record: np.ndarray, records: pd.DataFrame, limits: PairLimits) -> pd.DataFrame:
    """The readings with what judging needs of them; texts are plain, "" where nothing is stated."""
    met = pd.DataFrame({"record": record, "order": limits.order_numbers[record]})
    for name in ("parameter", "pair", "end", "declared_verdict"):
        met[name] = readings[name].astype("object").fillna("").to_numpy()
    for name in ("frequency_mhz", "value", "declared_limit", "declared_margin"):
        met[name] = readings[name].to_numpy(float)
    met["decimals"] = readings["decimals"].to_numpy().astype(float)
    met["bound"] = readings["bound"].cat.codes.to_numpy()
    tests = pd.DataFrame(
        {"key": records["key"].astype("object"), "tested_at": records["tested_at"], "record": np.arange(len(records))}
    )
    nameless = tests["key"].isna()
    tests["record"] = tests["record"].where(nameless, -1)
    test = tests.groupby(["key", "tested_at", "record"], dropna=False, sort=False).ngroup().to_numpy()
    met["test"] = test[record]
    like = met.groupby(["test", "parameter", "pair", "end"], sort=False)
    met["points"] = like["frequency_mhz"].transform("nunique").to_numpy()
    # the least margin of a sweep holds for every point of it, so also for one whose frequency is not stated
    nowhere = met["frequency_mhz"].isna() & met["parameter"].isin(SWEPT) & met["declared_limit"].isna()
    least = like["declared_margin"].transform("min")
    met["declared_margin"] = met["declared_margin"].where(met["declared_margin"].notna() | ~nowhere, least)
    return met


class _Partners:
    """Other readings of the same test that a verdict depends on: insertion loss, loop resistance."""

    def __init__(self, met: pd.DataFrame) -> None:
        self.losses = Losses(met["test"].to_numpy(), met)
        loops = met[(met["parameter"] == "loop resistance").to_numpy() & (met["value"] > 0).to_numpy()]
        self.loops = loops.drop_duplicates(["test", "pair"]).set_index(["test", "pair"])["value"]

    def loop_ohm(self, met: pd.DataFrame) -> np.ndarray:
        """Loop resistance of the pair of each reading [ohm]; NaN where it was not measured."""
        asked = pd.MultiIndex.from_frame(met[["test", "pair"]])
        return self.loops.reindex(asked).to_numpy(float)


@dataclass(frozen=True)
class _Sides:
    """Strictest and most generous limit of each of k readings, and which line each is; -1 and NaN where none."""

    sense: str
    strict: np.ndarray
    generous: np.ndarray
    strict_line: np.ndarray
    generous_line: np.ndarray
    needs_frequency: bool

    @property
    def sign(self) -> float:
        """1 for a floor, -1 for a ceiling: margin = sign * (value - limit)."""
        return 1.0 if self.sense == "min" else -1.0


def _judged(
    met: pd.DataFrame, limits: PairLimits, loaded: Sequence[Loaded], partners: _Partners, job: Job
) -> pd.DataFrame:
    """Readings of one order and parameter, judged."""
    met = met.reset_index(drop=True)
    parameter, at = str(met["parameter"].iloc[0]), int(met["record"].iloc[0])
    out = met.assign(limit=np.nan, margin=np.nan, verdict=NOT_JUDGED, limit_id=-1, basis=VALUE, several=False)
    if parameter == WIRE_MAP:
        return _by_declared_verdict(out)
    lines, own = limits.lines(at, parameter), limits.own_lines(parameter)
    informs = is_for_information(parameter, job)
    if informs and own:
        lines, informs = (), False  # the owner's limit governs, that of the standard would only inform
    sides = _sides(lines, met["frequency_mhz"].to_numpy(), partners.loop_ohm(met))
    proof = _Proof(met, sides, lines, own, parameter, limits, loaded).work_out()
    out = _with_verdicts(out, proof, [*(line.sense for line in lines[:1]), *(line.sense for line in own)])
    out = _with_limits_shown(out, sides, lines, own, limits)
    rules = limits.exemptions(at, parameter)
    out["exempt"], out["rule"] = _exempt(rules, partners.losses, met)
    out["setting"] = np.array([*(rule["setting"] for rule in rules), ""], dtype=object)[out["rule"]]
    fails = out["verdict"] > NOT_JUDGED
    out["hinges_on_loss"] = fails & (out["exempt"] == UNKNOWN)
    out.loc[out["hinges_on_loss"], ["verdict", "limit", "margin", "limit_id"]] = [NOT_JUDGED, np.nan, np.nan, -1]
    out["open"] = _open(lines, sides, met)
    out["printed_differs"] = _printed_differs(met, sides, out["relation"].to_numpy())
    out["out_of_range"] = np.isnan(sides.strict) & bool(lines) & ~np.isnan(met["frequency_mhz"].to_numpy())
    out["no_limit"] = not lines and not own
    out["informs"] = informs
    grade_known = bool(limits.order_of(at).grade)
    governed = (bool(lines) and ~out["out_of_range"].to_numpy(bool)) | bool(own) | (not grade_known)
    out["counts"] = governed & (not informs) & (out["exempt"] != EXEMPT).to_numpy()
    return out


def _by_declared_verdict(out: pd.DataFrame) -> pd.DataFrame:
    """A wire map has no number: what the export says of it decides."""
    codes = {"pass": PASS, "marginal pass": PASS, "marginal fail": FAIL, "fail": FAIL}
    out["verdict"] = out["declared_verdict"].map(codes).fillna(NOT_JUDGED).astype(int)
    return out.assign(
        basis=DECLARED_VERDICT, counts=True, exempt=NONE, rule=-1, setting="", open="", relation=SAME, informs=False,
        hinges=False, hinges_on_loss=False, out_of_range=False, no_limit=False, undecided=False, negative=False, own=-1,
        bounded_by_loaded=False, another_limit=False, lone_margin=False, printed_differs=np.nan,
    )  # fmt: skip


def _sides(lines: Sequence[LimitLine], mhz: np.ndarray, loop_ohm: np.ndarray) -> _Sides:
    """The limits of readings at their frequencies; at the ends of the band where no frequency is stated."""
    nothing = np.full(len(mhz), np.nan)
    if not lines:
        return _Sides("max", nothing, nothing, np.full(len(mhz), -1), np.full(len(mhz), -1), needs_frequency=False)
    strict, generous = (np.empty((len(lines), len(mhz))) for _ in range(2))
    varies = [not line.is_dc and ("f" in line.names or len({row["expression"] for row in line.rows}) > 1) for line in lines]  # fmt: skip
    for number, (line, by_frequency) in enumerate(zip(lines, varies, strict=True)):
        if line.is_dc:
            strict[number] = generous[number] = line.at(mhz, r_loop_ohm=loop_ohm)
        elif by_frequency:
            values, (low, high) = line.at(mhz), line.extremes()
            strict[number] = np.where(np.isnan(mhz), low, values)
            generous[number] = np.where(np.isnan(mhz), high, values)
        else:
            strict[number] = generous[number] = line.at()
    sense = lines[0].sense
    sign = 1.0 if sense == "min" else -1.0
    nowhere = np.isnan(strict).all(axis=0)
    most = np.where(np.isnan(strict), -np.inf, sign * strict).argmax(axis=0)
    least = np.where(np.isnan(generous), np.inf, sign * generous).argmin(axis=0)
    column = np.arange(len(mhz))
    return _Sides(
        sense, strict[most, column], generous[least, column], np.where(nowhere, -1, most),
        np.where(nowhere, -1, least), needs_frequency=any(varies),
    )  # fmt: skip


@dataclass
class _Proof:
    """What k readings prove: the margin that they have at least, and the one that they have at most."""

    met: pd.DataFrame
    sides: _Sides
    lines: Sequence[LimitLine]
    own: Sequence[LimitLine]
    parameter: str
    limits: PairLimits
    loaded: Sequence[Loaded]

    def work_out(self) -> pd.DataFrame:
        """Columns `least`, `most` (margins, NaN where nothing is proved), `basis`, `relation`, and marks of causes."""
        met, sides = self.met, self.sides
        value, mhz = met["value"].to_numpy(), met["frequency_mhz"].to_numpy()
        least, most = sides.sign * (value - sides.strict), sides.sign * (value - sides.generous)
        swept = self.parameter in SWEPT
        worst = swept & (met["points"] <= _POINTS_OF_A_WORST).to_numpy()
        proof = pd.DataFrame({"relation": self._relations(), "basis": np.where(worst, WORST_POINT, VALUE)})
        stated = np.isnan(value) & (met["bound"] < 0).to_numpy() | (np.isnan(mhz) & sides.needs_frequency)
        margin = self._declared_margin()
        by_margin = stated & ~np.isnan(margin) & swept & (proof["relation"] != UNNAMED).to_numpy()
        proof["lone_margin"] = np.isnan(value) & ~np.isnan(margin) & ~by_margin
        proof["bounded_by_loaded"] = False
        proof["another_limit"] = False
        least, most = np.where(by_margin, margin, least), np.where(by_margin, margin, most)
        proof["basis"] = proof["basis"].mask(by_margin, DECLARED_MARGIN)
        if swept:
            least, most = self._against_another(proof, least, most, margin, by_margin)
        proof["own"] = -1
        if self.own:
            at_point = self._own(value)
            proven = self._own_proven(proof, at_point, margin)
            fails = at_point.min(axis=0) < -ZERO_MARGIN
            decisive = np.where(fails, at_point.argmin(axis=0), proven.argmin(axis=0))
            decides = np.where(fails, ~(most <= at_point.min(axis=0)), ~(least <= proven.min(axis=0)))
            proof["own"] = np.where(decides, decisive, -1)
            known = np.isnan(least) & bool(self.lines)
            least = np.where(known, np.nan, np.fmin(least, proven.min(axis=0)))
            most = np.fmin(most, at_point.min(axis=0))
        proof["least"], proof["most"] = _zero(least), _zero(most)
        return proof

    def _relations(self) -> np.ndarray:
        codes, distinct = pd.factorize(self.met["loaded"])
        ordered = self.limits.order_of(int(self.met["record"].iloc[0]))
        found = [
            relation(self.loaded[number], self.lines, self._lines_loaded(number), ordered) for number in distinct
        ]  # fmt: skip
        return np.array(found)[codes]

    def _lines_loaded(self, number: int) -> Sequence[LimitLine]:
        one = self.loaded[number]
        return self.limits.lines_of(one.order, self.parameter) if one.known else ()

    def _declared_margin(self) -> np.ndarray:
        """Margin to the loaded limit: as printed, else from the limit that is printed."""
        met = self.met
        by_limit = self.sides.sign * (met["value"] - met["declared_limit"])
        return met["declared_margin"].fillna(by_limit).to_numpy(float)

    def _against_another(
        self, proof: pd.DataFrame, least: np.ndarray, most: np.ndarray, margin: np.ndarray, by_margin: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """A worst point of another limit: a fail stands where the point itself fails, a pass only where it is bounded."""
        other = (proof["relation"] == OTHER).to_numpy() & (proof["basis"] != VALUE).to_numpy()
        for number in np.unique(self.met["loaded"].to_numpy()[other]):
            rows = other & (self.met["loaded"] == number).to_numpy()
            loaded = self._lines_loaded(int(number))
            between = gap(loaded, self.lines)
            to_loaded = np.where(np.isnan(margin), self._to(loaded), margin)
            bounded = to_loaded + between.least
            at_point = most
            proof["another_limit"] |= rows & ~(bounded >= -ZERO_MARGIN) & ~(at_point < -ZERO_MARGIN)
            proof["bounded_by_loaded"] |= rows & (bounded >= -ZERO_MARGIN)
            least = np.where(rows, bounded, least)
            most = np.where(rows, np.where(by_margin, to_loaded + between.greatest, at_point), most)
        return least, most

    def _to(self, lines: Sequence[LimitLine]) -> np.ndarray:
        """Least margin of the value to some lines at its own frequency."""
        sides = _sides(lines, self.met["frequency_mhz"].to_numpy(), np.full(len(self.met), np.nan))
        margin: np.ndarray = sides.sign * (self.met["value"].to_numpy() - sides.strict)
        return margin

    def _own(self, value: np.ndarray) -> np.ndarray:
        """Margin to each of the owner's own limits, a row for each."""
        return np.array([(1.0 if line.sense == "min" else -1.0) * (value - line.at()) for line in self.own])

    def _own_proven(self, proof: pd.DataFrame, own: np.ndarray, margin: np.ndarray) -> np.ndarray:
        """Margin to each own limit that is proven.

        It is another limit than the loaded one, so a worst point of a sweep bounds it by the margin to that one.
        """
        proven = own.copy()
        worst, other = ((proof["basis"] != VALUE).to_numpy(), (proof["relation"] == OTHER).to_numpy())
        for number in np.unique(self.met["loaded"]) if self.parameter in SWEPT else ():
            rows = (self.met["loaded"] == number).to_numpy() & worst
            for part, lines in ((rows & ~other, self.lines), (rows & other, self._lines_loaded(int(number)))):
                if part.any():
                    to_lines = np.where(np.isnan(margin), self._to(lines), margin)
                    bounds = np.array([to_lines + gap(lines, (line,)).least for line in self.own])
                    proven = np.where(part, np.where(np.isnan(bounds), -np.inf, bounds), proven)
        return proven


def _with_verdicts(out: pd.DataFrame, proof: pd.DataFrame, senses: Sequence[str]) -> pd.DataFrame:
    """Verdict and margin of every reading: by its bound, its accuracy, and what it proves.

    `senses`: of the limit of the standard, else of the owner's; then of the owner's other limits; empty where there is
    none.
    """
    least, most = proof["least"].to_numpy(), proof["most"].to_numpy()
    accuracy = np.nan_to_num(out["accuracy"].to_numpy(float))
    ceiling = "max" in senses[:1]
    below, above, over = (out["bound"].to_numpy() == _BOUND[name] for name in ("below", "above", "over range"))
    at_least_good, at_most_good = (below, above) if ceiling else (above, below)
    passes, fails = least >= 0, most < 0
    # a bound lies on the good side of a ceiling or of a floor, never of both
    passes &= ~((below | above) & (len(set(senses)) > 1))
    fails = np.where(at_most_good, most <= 0, fails & ~at_least_good)
    passes = passes & ~at_most_good
    near_pass = passes & (accuracy > 0) & (np.abs(least) <= accuracy + ZERO_MARGIN)
    near_fail = fails & (accuracy > 0) & (np.abs(most) <= accuracy + ZERO_MARGIN)
    verdict = np.select(
        [fails & near_fail, fails, near_pass, passes], [MARGINAL_FAIL, FAIL, MARGINAL_PASS, PASS], NOT_JUDGED
    )
    value = out["value"].to_numpy()
    negative = (value < -accuracy - ZERO_MARGIN) & (out["parameter"].isin(_NEVER_NEGATIVE).to_numpy())
    verdict = np.where(negative, NOT_JUDGED, verdict)
    verdict = np.where(over, FAIL if ceiling else NOT_JUDGED, verdict)
    judged = (verdict != NOT_JUDGED) & ~over
    out["margin"] = np.where(judged, np.where(verdict > NOT_JUDGED, most, least), np.nan)
    out["verdict"] = verdict
    out["negative"] = negative
    out["undecided"] = (at_least_good | at_most_good) & (verdict == NOT_JUDGED) & ~np.isnan(most)
    out["hinges"] = (verdict == NOT_JUDGED) & ~negative & ~over & ~out["undecided"] & (least < 0) & (most >= 0)
    for name in ("basis", "relation", "lone_margin", "bounded_by_loaded", "another_limit", "own"):
        out[name] = proof[name].to_numpy()
    return out


_NEVER_NEGATIVE = (
    "insertion loss", "propagation delay", "delay skew", "loop resistance", "resistance unbalance", LENGTH,
)  # fmt: skip


def _zero(margin: np.ndarray) -> np.ndarray:
    return np.where(np.abs(margin) <= ZERO_MARGIN, 0.0, margin)


def _with_limits_shown(
    out: pd.DataFrame, sides: _Sides, lines: Sequence[LimitLine], own: Sequence[LimitLine],
    limits: PairLimits,
) -> pd.DataFrame:  # fmt: skip
    """The limit that least supports the verdict, and its number; none where the margin was declared or bounded."""
    verdict = out["verdict"].to_numpy()
    fails, judged = verdict > NOT_JUDGED, verdict != NOT_JUDGED
    by_point = judged & (out["basis"] != DECLARED_MARGIN).to_numpy() & ~(out["bounded_by_loaded"].to_numpy() & ~fails)
    numbers = np.array([*(limits.limit_id(line) for line in lines), -1])
    line = np.where(fails, sides.generous_line, sides.strict_line)
    out["limit"] = np.where(by_point, np.where(fails, sides.generous, sides.strict), np.nan)
    out["limit_id"] = np.where(judged, numbers[line], -1)
    for number, one in enumerate(own):
        decides = judged & (out["own"] == number).to_numpy()
        out["limit"] = np.where(decides, one.at(), out["limit"])
        out["limit_id"] = np.where(decides, limits.limit_id(one), out["limit_id"])
    several = len(lines) > 1 or (np.isnan(out["frequency_mhz"].to_numpy()) & sides.needs_frequency)
    out["several"] = several & judged & (sides.strict != sides.generous) & (out["basis"] != DECLARED_MARGIN).to_numpy()
    return out


AS_PRINTED = 0.1
"""How far a limit that the export prints may lie from ours [dB; ns and ohm ten times that]: rounding of both columns."""


def _printed_differs(met: pd.DataFrame, sides: _Sides, relation: np.ndarray) -> np.ndarray:
    """How far the printed limit lies outside of all that ours may be [unit of the parameter]; NaN within rounding."""
    printed = met["declared_limit"].to_numpy()
    low, high = np.fmin(sides.strict, sides.generous), np.fmax(sides.strict, sides.generous)
    beyond = np.fmax(low - printed, printed - high)
    in_db = met["parameter"].iloc[0] not in schema.UNIT_OF_PARAMETER
    return np.where((relation != OTHER) & (beyond > (AS_PRINTED if in_db else 10 * AS_PRINTED)), beyond, np.nan)


def _exempt(rules: Sequence[Any], losses: Losses, met: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    if not rules:
        return np.full(len(met), NONE), np.full(len(met), -1)
    return exemption_of(
        rules, losses, met["test"].to_numpy(), met["pair"].to_numpy(), met["frequency_mhz"].to_numpy(),
        met["value"].to_numpy(),
    )  # fmt: skip


def _open(lines: Sequence[LimitLine], sides: _Sides, met: pd.DataFrame) -> np.ndarray:
    """What is open about the limit of each reading, in words separated by "; "."""
    words, doubt = what_is_open(lines)
    text = "; ".join(words)
    without = np.isnan(met["frequency_mhz"].to_numpy()) & sides.needs_frequency
    each = np.where(without, f"{text}; frequency" if text else "frequency", text).astype(object)
    met_doubt = f"limit in doubt ({doubt})"
    return np.where(bool(doubt), np.where(each == "", met_doubt, each + "; " + met_doubt), each)
