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


Columns = dict[str, np.ndarray]
"""Plain arrays of one length by name: a frame would cost more than the judging."""

_WHOLE: dict[str, Any] = {
    "limit": np.nan, "margin": np.nan, "verdict": NOT_JUDGED, "limit_id": -1, "basis": VALUE, "several": False,
    "counts": True, "exempt": NONE, "setting": "", "open": "", "relation": SAME, "informs": False, "hinges": False,
    "hinges_on_loss": False, "out_of_range": False, "no_limit": False, "undecided": False, "negative": False, "own": -1,
    "bounded_by_loaded": False, "another_limit": False, "lone_margin": False, "printed_differs": np.nan,
    "not_taken_out": False,
}  # fmt: skip
"""What is found out of each reading, as long as nothing is."""


@dataclass(frozen=True)
class PairVerdicts:
    """Judgement of the k twisted-pair readings of a file."""

    at: np.ndarray
    """Position in readings, k."""
    columns: Columns
    """The readings and what was found out of each, k: the names of `_met` and `_WHOLE`; texts are objects."""
    limits: PairLimits
    loaded: Sequence[Loaded]
    """The loaded limits that the column `loaded` numbers."""


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
    parameter = readings["parameter"].cat.codes.to_numpy()
    copper = (facts["medium"] == "twisted pair").to_numpy()[record] & ~np.isin(parameter, _OF_FIBER)
    at = np.flatnonzero(copper)
    met = _met(readings, at, records, limits)
    loaded, number = loaded_of(records, limits, values)
    met["loaded"] = number[met["record"]]
    met["accuracy"] = accuracy_of(met["parameter"], met["value"], facts, met["record"], job, values)
    columns = met | {name: np.full(len(at), value) for name, value in _WHOLE.items()}
    for name in ("setting", "open"):
        columns[name] = columns[name].astype(object)
    partners = _Partners(met)
    for rows in _groups(met["order"] * len(_PARAMETERS) + met["parameter"]):
        part = {name: values[rows] for name, values in met.items()}
        for name, found in _judged(part, limits, loaded, partners, job).items():
            columns[name][rows] = found
    return PairVerdicts(at, columns, limits, loaded)


def _groups(number: np.ndarray) -> list[np.ndarray]:
    """Positions of equal numbers."""
    order = np.argsort(number, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(number[order])) + 1) if len(order) else []


def _met(readings: pd.DataFrame, at: np.ndarray, records: pd.DataFrame, limits: PairLimits) -> Columns:
    """The readings with what judging needs of them; closed words as numbers of the schema, -1 where nothing is said."""
    record = readings["record"].to_numpy()[at].astype(np.int64)
    met = {"record": record, "order": limits.order_numbers[record].astype(np.int64)}
    for name in ("parameter", "pair", "end", "declared_verdict", "bound"):
        met[name] = readings[name].cat.codes.to_numpy()[at].astype(np.int64)
    for name in ("frequency_mhz", "value", "declared_limit", "declared_margin"):
        met[name] = readings[name].to_numpy(float)[at]
    failed = np.isin(met["declared_verdict"], _CALLED_FAILED)
    met["called_failed"] = failed | records["declared_verdict"].isin(["marginal fail", "fail"]).to_numpy()[record]
    met["decimals"] = readings["decimals"].to_numpy()[at].astype(float)
    key = pd.factorize(records["key"].astype("object"))[0]
    key = np.where(
        key < 0, len(records) + np.arange(len(records)), key
    )  # a record without a label is a test of its own
    met["test"] = pd.factorize(pd.MultiIndex.from_arrays([key, records["tested_at"]]))[0][record]
    _add_sweeps(met)
    return met


def _add_sweeps(met: Columns) -> None:
    """How many points each sweep gives, and its least margin for those of its points that name no frequency."""
    like = ((met["test"] * len(_PARAMETERS) + met["parameter"]) * 16 + met["pair"] + 1) * 4 + met["end"] + 1
    _, sweep = np.unique(like, return_inverse=True)
    mhz = met["frequency_mhz"]
    named = ~np.isnan(mhz)
    points = np.unique(np.column_stack([sweep[named], mhz[named]]), axis=0)[:, 0].astype(np.int64)
    met["points"] = np.bincount(points, minlength=int(sweep.max()) + 1 if len(sweep) else 0)[sweep]
    least = np.full(len(mhz), np.inf)
    np.fmin.at(least, sweep, np.nan_to_num(met["declared_margin"], nan=np.inf))
    # the least margin of a sweep holds for every point of it, so also for one whose frequency is not stated
    nowhere = ~named & np.isin(met["parameter"], _SWEPT) & np.isnan(met["declared_limit"])
    fill = nowhere & np.isnan(met["declared_margin"]) & np.isfinite(least[sweep])
    met["declared_margin"] = np.where(fill, least[sweep], met["declared_margin"])


_PARAMETERS = schema.CATEGORIES["parameter"]
_CALLED_FAILED = [schema.CATEGORIES["declared_verdict"].index(name) for name in ("marginal fail", "fail")]
_SWEPT = [_PARAMETERS.index(name) for name in SWEPT]
_OF_FIBER = [_PARAMETERS.index(name) for name in ("loss", "optical return loss")]


class _Partners:
    """Other readings of the same test that a verdict depends on: insertion loss, loop resistance."""

    def __init__(self, met: Columns) -> None:
        loss = (met["parameter"] == _PARAMETERS.index("insertion loss")) & (met["bound"] < 0)
        self.losses = Losses(*(met[name][loss] for name in ("test", "pair", "frequency_mhz", "value")))
        loop = (met["parameter"] == _PARAMETERS.index("loop resistance")) & (met["value"] > 0)
        index = pd.MultiIndex.from_arrays([met["test"][loop], met["pair"][loop]])
        loops = pd.Series(met["value"][loop], index=index)
        self.loops = loops[~index.duplicated()]

    def loop_ohm(self, met: Columns) -> np.ndarray:
        """Loop resistance of the pair of each reading [ohm]; NaN where it was not measured."""
        asked = pd.MultiIndex.from_arrays([met["test"], met["pair"]])
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


def _judged(met: Columns, limits: PairLimits, loaded: Sequence[Loaded], partners: _Partners, job: Job) -> Columns:
    """What is found out of readings of one order and parameter."""
    parameter, at = _PARAMETERS[met["parameter"][0]], int(met["record"][0])
    if parameter == WIRE_MAP:
        return {"verdict": _DECLARED[met["declared_verdict"]], "basis": np.full(len(met["value"]), DECLARED_VERDICT)}
    lines, own = limits.lines(at, parameter), limits.own_lines(parameter)
    informs = is_for_information(parameter, job)
    if informs and own:
        lines, informs = (), False  # the owner's limit governs, that of the standard would only inform
    by_loop = any("r_loop" in line.names for line in lines)
    sides = _sides(lines, met["frequency_mhz"], partners.loop_ohm(met) if by_loop else met["value"] * np.nan)
    proof = _Proof(met, sides, lines, own, parameter, limits, loaded).work_out()
    senses = [*(line.sense for line in lines[:1]), *(line.sense for line in own)]
    out = proof | _verdicts(met, proof, parameter, senses)
    out |= _limits_shown(met, out, sides, lines, own, limits)
    rules = limits.exemptions(at, parameter)
    if rules:
        out["exempt"], rule = exemption_of(
            rules, partners.losses, met["test"], met["pair"], met["frequency_mhz"], met["value"]
        )
        out["setting"] = np.array([*(one["setting"] for one in rules), ""], dtype=object)[rule]
        open_fail = (out["verdict"] > NOT_JUDGED) & (out["exempt"] == UNKNOWN)
        # whoever measured knew the insertion loss: what it calls failed was not taken out
        out["not_taken_out"] = open_fail & met["called_failed"] & (out["relation"] == SAME)
        hinges = open_fail & ~out["not_taken_out"]
        out["hinges_on_loss"] = hinges
        for name in ("verdict", "limit", "margin", "limit_id"):
            out[name] = np.where(hinges, _WHOLE[name], out[name])
    out["open"] = _open(lines, sides, met)
    out["printed_differs"] = _printed_differs(met, sides, out["relation"], parameter)
    out["out_of_range"] = np.isnan(sides.strict) & bool(lines) & ~np.isnan(met["frequency_mhz"])
    out["no_limit"] = np.full(len(met["value"]), not lines and not own)
    out["informs"] = np.full(len(met["value"]), informs)
    grade_known = bool(limits.order_of(at).grade)
    governed = (bool(lines) & ~out["out_of_range"]) | bool(own) | (not grade_known)
    out["counts"] = governed & (not informs) & (out.get("exempt", NONE) != EXEMPT)
    return {name: values for name, values in out.items() if name in _WHOLE}


_DECLARED = np.array([PASS, PASS, FAIL, FAIL, NOT_JUDGED])
"""Verdict by the number of the declared one (pass, marginal pass, marginal fail, fail); the last for none.

A wire map has no number: what the export says of it decides.
"""


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

    met: Columns
    sides: _Sides
    lines: Sequence[LimitLine]
    own: Sequence[LimitLine]
    parameter: str
    limits: PairLimits
    loaded: Sequence[Loaded]

    def work_out(self) -> Columns:
        """`least`, `most` (margins, NaN where nothing is proved), `basis`, `relation`, `own`, and marks of causes."""
        met, sides = self.met, self.sides
        value, mhz = met["value"], met["frequency_mhz"]
        least, most = sides.sign * (value - sides.strict), sides.sign * (value - sides.generous)
        swept = self.parameter in SWEPT
        worst = swept & (met["points"] <= _POINTS_OF_A_WORST)
        relations = self._relations()
        stated = (np.isnan(value) & (met["bound"] < 0)) | (np.isnan(mhz) & sides.needs_frequency)
        margin = self._declared_margin()
        by_margin = stated & ~np.isnan(margin) & swept & (relations != UNNAMED)
        nothing = np.zeros(len(value), dtype=bool)
        proof = {
            "relation": relations,
            "basis": np.select([by_margin, worst], [DECLARED_MARGIN, WORST_POINT], VALUE),
            "lone_margin": np.isnan(value) & ~np.isnan(margin) & ~by_margin,
            "bounded_by_loaded": nothing, "another_limit": nothing, "own": np.full(len(value), -1),
        }  # fmt: skip
        least, most = np.where(by_margin, margin, least), np.where(by_margin, margin, most)
        if swept and (relations == OTHER).any():
            least, most = self._against_another(proof, least, most, margin, by_margin)
        if self.own:
            least, most = self._with_own(proof, least, most, margin)
        return proof | {"least": _zero(least), "most": _zero(most)}

    def _with_own(
        self, proof: Columns, least: np.ndarray, most: np.ndarray, margin: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """The stricter of the standard's limit and the owner's own decides."""
        at_point = self._own(self.met["value"])
        proven = self._own_proven(proof, at_point, margin)
        fails = at_point.min(axis=0) < -ZERO_MARGIN
        decisive = np.where(fails, at_point.argmin(axis=0), proven.argmin(axis=0))
        decides = np.where(fails, ~(most <= at_point.min(axis=0)), ~(least <= proven.min(axis=0)))
        proof["own"] = np.where(decides, decisive, -1)
        unknown = np.isnan(least) & bool(self.lines)
        least = np.where(unknown, np.nan, np.fmin(least, proven.min(axis=0)))
        return least, np.fmin(most, at_point.min(axis=0))

    def _relations(self) -> np.ndarray:
        distinct, codes = np.unique(self.met["loaded"], return_inverse=True)
        ordered = self.limits.order_of(int(self.met["record"][0]))
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
        return np.where(np.isnan(met["declared_margin"]), by_limit, met["declared_margin"])

    def _against_another(
        self, proof: Columns, least: np.ndarray, most: np.ndarray, margin: np.ndarray, by_margin: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """A worst point of another limit: a fail stands where the point itself fails, a pass only where it is bounded."""
        other = (proof["relation"] == OTHER) & (proof["basis"] != VALUE)
        for number in np.unique(self.met["loaded"][other]):
            rows = other & (self.met["loaded"] == number)
            loaded = self._lines_loaded(int(number))
            between = gap(loaded, self.lines)
            to_loaded = np.where(np.isnan(margin), self._to(loaded), margin)
            bounded = to_loaded + between.least
            holds = bounded >= -ZERO_MARGIN
            proof["another_limit"] = proof["another_limit"] | (rows & ~holds & ~(most < -ZERO_MARGIN))
            proof["bounded_by_loaded"] = proof["bounded_by_loaded"] | (rows & holds)
            least = np.where(rows, bounded, least)
            most = np.where(rows & by_margin, to_loaded + between.greatest, most)
        return least, most

    def _to(self, lines: Sequence[LimitLine]) -> np.ndarray:
        """Least margin of the value to some lines at its own frequency."""
        value = self.met["value"]
        sides = _sides(lines, self.met["frequency_mhz"], value * np.nan)
        margin: np.ndarray = sides.sign * (value - sides.strict)
        return margin

    def _own(self, value: np.ndarray) -> np.ndarray:
        """Margin to each of the owner's own limits, a row for each."""
        return np.array([(1.0 if line.sense == "min" else -1.0) * (value - line.at()) for line in self.own])

    def _own_proven(self, proof: Columns, own: np.ndarray, margin: np.ndarray) -> np.ndarray:
        """Margin to each own limit that is proven.

        It is another limit than the loaded one, so a worst point of a sweep bounds it by the margin to that one.
        """
        proven = own.copy()
        worst, other = proof["basis"] != VALUE, proof["relation"] == OTHER
        for number in np.unique(self.met["loaded"]) if self.parameter in SWEPT else ():
            rows = (self.met["loaded"] == number) & worst
            for part, lines in ((rows & ~other, self.lines), (rows & other, self._lines_loaded(int(number)))):
                if part.any():
                    to_lines = np.where(np.isnan(margin), self._to(lines), margin)
                    bounds = np.array([to_lines + gap(lines, (line,)).least for line in self.own])
                    proven = np.where(part, np.where(np.isnan(bounds), -np.inf, bounds), proven)
        return proven


def _verdicts(met: Columns, proof: Columns, parameter: str, senses: Sequence[str]) -> Columns:
    """Verdict and margin of every reading: by its bound, its accuracy, and what it proves.

    `senses`: of the limit of the standard, else of the owner's; then of the owner's other limits; empty where there is
    none.
    """
    least, most, value = proof["least"], proof["most"], met["value"]
    accuracy = np.nan_to_num(met["accuracy"])
    ceiling = "max" in senses[:1]
    below, above, over = (met["bound"] == _BOUND[name] for name in ("below", "above", "over range"))
    at_least_good, at_most_good = (below, above) if ceiling else (above, below)
    with np.errstate(invalid="ignore"):
        passes, fails = (least >= 0) & ~at_most_good, np.where(at_most_good, most <= 0, (most < 0) & ~at_least_good)
        # a bound lies on the good side of a ceiling or of a floor, never of both
        passes &= ~((below | above) & (len(set(senses)) > 1))
        near_pass = passes & (accuracy > 0) & (np.abs(least) <= accuracy + ZERO_MARGIN)
        near_fail = fails & (accuracy > 0) & (np.abs(most) <= accuracy + ZERO_MARGIN)
        hinges = (least < 0) & (most >= 0)
    verdict = np.select(
        [fails & near_fail, fails, near_pass, passes], [MARGINAL_FAIL, FAIL, MARGINAL_PASS, PASS], NOT_JUDGED
    )
    negative = (value < -accuracy - ZERO_MARGIN) & (parameter in _NEVER_NEGATIVE)
    verdict = np.where(negative, NOT_JUDGED, verdict)
    verdict = np.where(over, FAIL if ceiling else NOT_JUDGED, verdict)
    judged, open_ = (verdict != NOT_JUDGED) & ~over, verdict == NOT_JUDGED
    undecided = (at_least_good | at_most_good) & open_ & ~np.isnan(most)
    return {
        "verdict": verdict,
        "margin": np.where(judged, np.where(verdict > NOT_JUDGED, most, least), np.nan),
        "negative": negative,
        "undecided": undecided,
        "hinges": open_ & ~negative & ~over & ~undecided & hinges,
    }


_NEVER_NEGATIVE = (
    "insertion loss", "propagation delay", "delay skew", "loop resistance", "resistance unbalance", LENGTH,
)  # fmt: skip


def _zero(margin: np.ndarray) -> np.ndarray:
    return np.where(np.abs(margin) <= ZERO_MARGIN, 0.0, margin)


def _limits_shown(
    met: Columns, out: Columns, sides: _Sides, lines: Sequence[LimitLine], own: Sequence[LimitLine], limits: PairLimits
) -> Columns:
    """The limit that least supports the verdict, and its number; none where the margin was declared or bounded."""
    fails, judged = out["verdict"] > NOT_JUDGED, out["verdict"] != NOT_JUDGED
    by_margin = out["basis"] == DECLARED_MARGIN
    by_point = judged & ~by_margin & ~(out["bounded_by_loaded"] & ~fails)
    numbers = np.array([*(limits.limit_id(line) for line in lines), -1])
    limit = np.where(by_point, np.where(fails, sides.generous, sides.strict), np.nan)
    limit_id = np.where(judged, numbers[np.where(fails, sides.generous_line, sides.strict_line)], -1)
    for number, one in enumerate(own):
        decides = judged & (out["own"] == number)
        limit = np.where(decides, one.at(), limit)
        limit_id = np.where(decides, limits.limit_id(one), limit_id)
    several = (len(lines) > 1) | (np.isnan(met["frequency_mhz"]) & sides.needs_frequency)
    several = several & judged & (sides.strict != sides.generous) & ~by_margin
    return {"limit": limit, "limit_id": limit_id, "several": several}


AS_PRINTED = 0.1
"""How far a limit that the export prints may lie from ours [dB; ns and ohm ten times that]: rounding of both columns."""


def _printed_differs(met: Columns, sides: _Sides, relation: np.ndarray, parameter: str) -> np.ndarray:
    """How far the printed limit lies outside of all that ours may be [unit of the parameter]; NaN within rounding."""
    printed = met["declared_limit"]
    low, high = np.fmin(sides.strict, sides.generous), np.fmax(sides.strict, sides.generous)
    beyond = np.fmax(low - printed, printed - high)
    tolerance = 10 * AS_PRINTED if parameter in schema.UNIT_OF_PARAMETER else AS_PRINTED
    return np.where((relation != OTHER) & (beyond > tolerance), beyond, np.nan)


def _open(lines: Sequence[LimitLine], sides: _Sides, met: Columns) -> np.ndarray:
    """What is open about the limit of each reading, in words separated by "; "."""
    words, doubt = what_is_open(lines)
    text = "; ".join(words)
    rest = f"{DOUBT}{doubt})" if doubt else ""
    without = np.isnan(met["frequency_mhz"]) & sides.needs_frequency
    named = "; ".join(part for part in (text, "frequency", rest) if part)
    return np.where(without, named, "; ".join(part for part in (text, rest) if part)).astype(object)


DOUBT = "limit in doubt ("
"""How the name of a limit in doubt begins among what is open."""
