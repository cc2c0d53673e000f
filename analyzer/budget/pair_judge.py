"""Verdicts of twisted-pair readings that are single numbers: measured against allowed, whatever is open.

`judge_pairs` goes top to bottom: readings of one order and parameter meet their limit lines together, once for
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
from analyzer.budget.pair_loaded import SAME, Loaded, loaded_of
from analyzer.budget.pair_met import PARAMETERS, Columns, Partners, groups_of, met_of
from analyzer.budget.pair_partners import EXEMPT, NONE, UNKNOWN, exemption_of
from analyzer.budget.pair_proof import DECLARED_MARGIN, DECLARED_VERDICT, VALUE, Proof
from analyzer.budget.pair_sides import Sides, open_words, printed_differs, sides_of
from analyzer.job import Job
from analyzer.standards import Values
from analyzer.standards.lines import LimitLine

_OF_FIBER = [PARAMETERS.index(name) for name in ("loss", "optical return loss")]

PASS, MARGINAL_PASS, NOT_JUDGED, MARGINAL_FAIL, FAIL = range(5)
"""Verdicts by code, as in `judge`."""

FOR_INFORMATION = (
    "ACR-N", "PSACR-N", "TCL", "ELTCTL", "PSANEXT", "PSAACR-F", "resistance unbalance", *schema.AS_RATIO, LENGTH,
)  # fmt: skip
"""Decides nothing unless the job requires it or sets a limit of its own; a length is required and never judged so."""


def is_for_information(parameter: str, job: Job) -> bool:
    """Whether a parameter is judged and shown and decides nothing, as far as the job does not require it."""
    return parameter in FOR_INFORMATION and parameter not in set(job.required.twisted_pair) - {LENGTH}


WIRE_MAP = "wire map"

_BOUND = {name: code for code, name in enumerate(schema.CATEGORIES["bound"])}


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
    """The readings and what was found out of each, k: the names of `met_of` and `_WHOLE`; texts are objects."""
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
    copper = (facts["medium"] != "fiber").to_numpy()[record] & ~np.isin(parameter, _OF_FIBER)
    at = np.flatnonzero(copper)
    met = met_of(readings, at, records, limits)
    loaded, number = loaded_of(records, limits, values)
    met["loaded"] = number[met["record"]]
    met["accuracy"] = accuracy_of(met["parameter"], met["value"], facts, met["record"], job, values)
    columns = met | {name: np.full(len(at), value) for name, value in _WHOLE.items()}
    for name in ("setting", "open"):
        columns[name] = columns[name].astype(object)
    partners = Partners(met)
    for rows in groups_of(met["order"] * len(PARAMETERS) + met["parameter"]):
        part = {name: values[rows] for name, values in met.items()}
        for name, found in _judged(part, limits, loaded, partners, job).items():
            columns[name][rows] = found
    return PairVerdicts(at, columns, limits, loaded)


def _judged(met: Columns, limits: PairLimits, loaded: Sequence[Loaded], partners: Partners, job: Job) -> Columns:
    """What is found out of readings of one order and parameter."""
    parameter, at = PARAMETERS[met["parameter"][0]], int(met["record"][0])
    if parameter == WIRE_MAP:
        return {"verdict": _DECLARED[met["declared_verdict"]], "basis": np.full(len(met["value"]), DECLARED_VERDICT)}
    lines, own = limits.lines(at, parameter), limits.own_lines(parameter)
    informs = is_for_information(parameter, job)
    if informs and own:
        lines, informs = (), False  # the owner's limit governs, that of the standard would only inform
    by_loop = any("r_loop" in line.names for line in lines)
    sides = sides_of(lines, met["frequency_mhz"], partners.loop_ohm(met) if by_loop else met["value"] * np.nan)
    proof = Proof(met, sides, lines, own, parameter, limits, loaded).work_out()
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
    out["open"] = open_words(lines, sides, met)
    out["printed_differs"] = printed_differs(met, sides, out["relation"], parameter)
    out["out_of_range"] = np.isnan(sides.strict) & bool(lines) & ~np.isnan(met["frequency_mhz"])
    out["no_limit"] = np.full(len(met["value"]), not lines and not own)
    out["informs"] = np.full(len(met["value"]), informs)
    grade_known = bool(limits.order_of(at).grade)
    # proven from above the range, a margin holds throughout the range: it may be the least
    proven = out["bounded_by_loaded"] & (out["verdict"] < NOT_JUDGED)
    governed = (bool(lines) & (~out["out_of_range"] | proven)) | bool(own) | (not grade_known)
    out["counts"] = governed & (not informs) & (out.get("exempt", NONE) != EXEMPT)
    return {name: values for name, values in out.items() if name in _WHOLE}


_DECLARED = np.array([PASS, PASS, FAIL, FAIL, NOT_JUDGED])
"""Verdict by the number of the declared one (pass, marginal pass, marginal fail, fail); the last for none.

A wire map has no number: what the export says of it decides.
"""


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


def _limits_shown(
    met: Columns, out: Columns, sides: Sides, lines: Sequence[LimitLine], own: Sequence[LimitLine], limits: PairLimits
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
