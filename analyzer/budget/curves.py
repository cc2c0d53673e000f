"""Curves judged at every point: worst margin and worst value, which are two things, and what they prove.

A limit is evaluated once for each distinct grid of frequencies; where pieces of a limit share a frequency, the stricter
holds. Between points nothing is guessed: a curve that begins late, stops short or has lost points proves a fail, never
a pass. Curves of one grid and one limit are judged together as a table, a cacheful at a time.

Two margins are kept apart. `margin` is to the strictest limit that may hold, with every point that is not known to be
exempt; `generous_margin` is to the most generous, and treats points whose exemption cannot be known as exempt. A curve
passes by the first and fails by the second; between them it is not judged. The second is worked out only where the
first is negative.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.curve_points import ZERO_MARGIN, Exemptions, Worst, is_mask
from analyzer.budget.curve_sums import Losses, curve_index, with_sums
from analyzer.points import Points
from analyzer.standards.lines import EDGE_TOLERANCE, LimitLine, strictest

_CHUNK_POINTS = 65_536
_PASS, _NOT_JUDGED, _FAIL = 0, 1, 2
_VERDICTS = np.array(["pass", "not judged", "fail"], dtype=object)

LinesFor = Callable[[int, str], Sequence[LimitLine]]
"""(record, parameter) -> every line that may be its limit; none where no sourced limit stands."""
ExemptionsFor = Callable[[int, str], Sequence[Any]]
"""(record, parameter) -> rows of `standards.pair_exemptions` that hold for it."""


@dataclass(frozen=True)
class CurveRules:
    """Settings of the judging of curves."""

    late_start_share: float = 0.0
    """How far above the first frequency of its limit a curve may begin, as a share of it."""
    switched_off: frozenset[str] = frozenset()
    """Exemptions that do not hold, by the name of their setting."""
    compute_sums: bool = True
    """Whether power sums and ratios are computed where the export does not carry them."""
    agree_within_db: float = 0.3
    """How far a power sum of the export may lie from the one computed before it is told [dB]."""


@dataclass(frozen=True)
class JudgedCurves:
    """One row for each curve, measured and computed, and what is said of them."""

    readings: pd.DataFrame
    """curve (row in `curves`), record, block, row, col, parameter, pair, end, direction, frequency_mhz, value, limit,
    margin (of the worst margin), generous_margin, basis, worst_value, worst_value_mhz, judged_points, exempt_points (0
    where the exemptions change nothing), complete, computed, verdict, reason (number in `reasons`; -1 none)."""
    reasons: pd.DataFrame
    """Schema `reasons`."""
    differences: pd.DataFrame
    """set, parameter, pair, end, difference_db: power sums and ratios of the export that differ from those computed."""
    curves: pd.DataFrame
    """Schema `curves`: as given, and after them those that were computed."""
    points: Points
    """Points of the measured curves."""
    made: Points
    """Points of the computed curves."""

    def curve(self, number: int) -> tuple[np.ndarray, np.ndarray]:
        """Frequencies [MHz] and values of one curve, measured or computed."""
        measured = len(self.points)
        return self.points.curve(number) if number < measured else self.made.curve(number - measured)


@dataclass
class _Sheet:
    """Growing columns of the result, one entry for each curve."""

    size: int
    text: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.number = {name: np.full(self.size, np.nan) for name in _NUMBERS}
        self.count = {name: np.zeros(self.size, dtype=np.int32) for name in ("judged_points", "exempt_points")}
        self.complete = np.zeros(self.size, dtype=bool)
        self.verdict = np.full(self.size, _NOT_JUDGED, dtype=np.int8)
        self.reason = np.full(self.size, -1, dtype=np.int32)
        self.reasons: dict[tuple[str, str, str], int] = {}

    def say(self, rows: np.ndarray, code: str, text: str, mend: str = "") -> None:
        """Give rows a reason; equal reasons are held once."""
        if len(rows):
            self.reason[rows] = self.reasons.setdefault((code, text, mend), len(self.reasons))


_NUMBERS = (
    "frequency_mhz", "value", "limit", "margin", "generous_margin", "worst_value", "worst_value_mhz",
)  # fmt: skip


def judge_curves(
    curves: pd.DataFrame,
    points: Points,
    lines_for: LinesFor,
    *,
    sets: np.ndarray | None = None,
    exemptions_for: ExemptionsFor | None = None,
    rules: CurveRules | None = None,
) -> JudgedCurves:
    """Judge every curve at every point.

    Args:
        curves: schema `curves`, n rows in the order of the points.
        points: their points.
        lines_for: asked once for each record and parameter that occur.
        sets: number of the test that each curve belongs to, n integers, so that insertion loss and crosstalk of one
            link find each other; None takes the record.
        exemptions_for: asked likewise; None exempts nothing.
        rules: settings; None takes the defaults.

    Returns:
        Readings in the order of the curves, computed ones after the measured ones.
    """
    rules = rules or CurveRules()
    sets = curves["record"].to_numpy().astype(np.int64) if sets is None else np.asarray(sets, dtype=np.int64)
    differences = pd.DataFrame({"set": [], "parameter": [], "pair": [], "end": [], "difference_db": []})
    made = Points()
    if rules.compute_sums and len(curves):
        joined = with_sums(curves, points, sets)
        told = joined.differences
        differences = told[told["difference_db"] > rules.agree_within_db].reset_index(drop=True)
        curves, made, sets = joined.curves, joined.made, np.r_[sets, sets[joined.like]]
    sheet = _Sheet(len(curves))
    if len(curves):
        table = curve_index(curves, sets)
        losses = Losses.of(table)
        for rows, lines, exemptions in _groups(curves, len(points), lines_for, exemptions_for, rules):
            mask = Exemptions(exemptions, table, losses, points, rows)
            own = (points, rows) if rows[0] < len(points) else (made, rows - len(points))
            _judge_group(sheet, curves, own, rows, lines, mask, rules)
    return JudgedCurves(_readings(sheet, curves, len(points)), _reasons(sheet), differences, curves, points, made)


def _groups(
    curves: pd.DataFrame, measured: int, lines_for: LinesFor, exemptions_for: ExemptionsFor | None, rules: CurveRules
) -> list[tuple[np.ndarray, tuple[LimitLine, ...], tuple[Any, ...]]]:
    """Curves of one grid, one limit and the same exemptions, measured and computed ones apart."""
    codes = curves["parameter"].cat.codes.to_numpy().astype(np.int64)
    both, asked = np.unique(curves["record"].to_numpy() * 64 + codes, return_inverse=True)
    names = schema.CATEGORIES["parameter"]
    keys: dict[tuple[Any, ...], int] = {}
    found: list[tuple[tuple[LimitLine, ...], tuple[Any, ...]]] = []
    which = np.empty(len(both), dtype=np.int64)
    masks: dict[int, tuple[Any, tuple[Any, ...], tuple[str, ...]]] = {}
    for number, one in enumerate(both.tolist()):
        record, parameter = one // 64, names[one % 64]
        lines = tuple(lines_for(record, parameter))
        rows = exemptions_for(record, parameter) if exemptions_for else ()
        if id(rows) not in masks:  # the rows themselves are kept beside, so that their id stays theirs
            kept = tuple(row for row in rows if is_mask(row) and row["setting"] not in rules.switched_off)
            masks[id(rows)] = (rows, kept, tuple(row["row_id"] for row in kept))
        _, exemptions, ids = masks[id(rows)]
        key = (parameter, lines, ids)
        if key not in keys:
            keys[key] = len(found)
            found.append((lines, exemptions))
        which[number] = keys[key]
    label = which[asked] * (int(curves["grid"].max()) + 1) + curves["grid"].to_numpy()
    label = label * 2 + (np.arange(len(curves)) >= measured)
    order = np.argsort(label, kind="stable")
    cuts = np.flatnonzero(np.diff(label[order])) + 1
    return [(rows, *found[which[asked[rows[0]]]]) for rows in np.split(order, cuts)]


def _judge_group(
    sheet: _Sheet, curves: pd.DataFrame, own: tuple[Points, np.ndarray], rows: np.ndarray,
    lines: tuple[LimitLine, ...], mask: Exemptions, rules: CurveRules,
) -> None:  # fmt: skip
    """Judge curves of one grid and one limit; `own` holds their points and their numbers among them."""
    points, numbers = own
    if not lines:
        sheet.say(rows, "no-sourced-limit", "no sourced limit", "give the owner's own limit in the job file")
        return
    grid = points.frequency_mhz[int(curves["grid"].to_numpy()[rows[0]])]
    limit = np.asarray(strictest(lines, grid))
    inside = np.flatnonzero(np.isfinite(limit))
    if not len(inside):
        sheet.say(rows, "outside-range", f"no point lies in the range of the limit, {_range(lines)}")
        return
    ceiling = lines[0].sense == "max"
    span = slice(int(inside[0]), int(inside[-1]) + 1) if inside[-1] - inside[0] + 1 == len(inside) else inside
    worst = Worst(grid[span], ceiling)
    several = _distinct_limits(lines, grid[span])
    nan_points = np.zeros(len(rows), dtype=np.int64)
    step = max(_CHUNK_POINTS // len(grid), 1)
    shown: dict[str, np.ndarray] = {name: np.empty(len(rows)) for name in _NUMBERS}
    for begin in range(0, len(rows), step):
        part = np.arange(begin, min(begin + step, len(rows)))
        value = points.rows(numbers[part])[:, span]
        nan_points[part] = worst.put(shown, part, value, limit[span])
        left_out = mask.hits(part, grid, shown)
        if left_out.any():
            again = part[left_out]
            exempt = mask.of(again, value[left_out], span)
            worst.put(shown, again, value[left_out], limit[span], exempt)
            sheet.count["exempt_points"][rows[again]] = 0 if exempt is None else np.count_nonzero(exempt, axis=1)
        below = np.flatnonzero(shown["margin"][part] < 0) if len(several) > 1 else part[:0]
        if len(below):
            worst.put_generous(shown, part[below], value[below], several, mask.of(part[below], value[below], span))
    undecided = mask.unknown & (shown["margin"] < -ZERO_MARGIN)
    shown["generous_margin"] = np.where(undecided, np.inf, shown["generous_margin"])
    sheet.count["judged_points"][rows] = len(inside) - sheet.count["exempt_points"][rows] - nan_points
    for name in _NUMBERS:
        sheet.number[name][rows] = shown[name]
    _conclude(sheet, curves, rows, lines, grid, nan_points, undecided, mask.exemptions, rules)


def _conclude(
    sheet: _Sheet, curves: pd.DataFrame, rows: np.ndarray, lines: tuple[LimitLine, ...], grid: np.ndarray,
    nan_points: np.ndarray, undecided: np.ndarray, exemptions: tuple[Any, ...], rules: CurveRules,
) -> None:  # fmt: skip
    """Verdict and reason of a group whose margins stand."""
    margin, generous = sheet.number["margin"][rows], sheet.number["generous_margin"][rows]
    short = _what_is_short(lines, grid, rules)
    damaged = (curves["lost"].to_numpy()[rows] > 0) | (nan_points > 0)
    all_exempt = np.isinf(margin)
    complete = ~damaged & (short == "")
    sheet.complete[rows] = complete
    passes = (margin >= 0) & complete & ~all_exempt
    fails = generous < 0
    sheet.verdict[rows] = np.where(fails, _FAIL, np.where(passes, _PASS, _NOT_JUDGED))
    for name in ("margin", "generous_margin", "frequency_mhz", "value", "limit"):
        sheet.number[name][rows[all_exempt]] = np.nan
    sheet.number["generous_margin"][rows[np.isinf(generous)]] = np.nan
    names = " and ".join(f"{rule['setting']} ({rule['partner']} {rule['side']} {rule['threshold']:g} {rule['threshold_unit']})" for rule in exemptions)  # fmt: skip
    touched = sheet.count["exempt_points"][rows] > 0
    sheet.say(rows[touched], "exempt-points", f"points left out, for information only: {names}")
    open_ = ~fails & ~passes
    sheet.say(
        rows[open_ & (margin < 0)], "limit-in-doubt",
        "fails the strictest limit that may hold, and not the most generous", "settle the candidate or condition in the job file",
    )  # fmt: skip
    if short:
        sheet.say(rows[open_], "curve-incomplete", short, "export the whole sweep")
    sheet.say(
        rows[open_ & damaged], "curve-damaged", "points of the curve are missing or could not be read",
        "see what was set aside, and export the sweep again",
    )  # fmt: skip
    sheet.say(
        rows[open_ & undecided], "exemption-unknown",
        f"fails at points that may be exempt, and insertion loss on the same frequencies is missing: {names}",
        "export the insertion loss of the same test",
    )  # fmt: skip
    sheet.say(rows[all_exempt & touched], "all-exempt", f"every point is for information only: {names}")


def _what_is_short(lines: tuple[LimitLine, ...], grid: np.ndarray, rules: CurveRules) -> str:
    """Where a grid begins late or stops short of the range of its limit; empty where it covers it."""
    first, top = min(line.freq_min_mhz for line in lines), max(line.freq_max_mhz for line in lines)
    said = []
    if grid[0] > first * (1 + max(rules.late_start_share, EDGE_TOLERANCE)):
        said.append(f"begins at {grid[0]:g} MHz, and the limit at {first:g} MHz")
    if grid[-1] < top * (1 - EDGE_TOLERANCE):
        said.append(f"stops at {grid[-1]:g} MHz, and the limit goes to {top:g} MHz")
    return "the curve " + "; it ".join(said) if said else ""


def _range(lines: tuple[LimitLine, ...]) -> str:
    return f"{min(line.freq_min_mhz for line in lines):g} to {max(line.freq_max_mhz for line in lines):g} MHz"


def _distinct_limits(lines: tuple[LimitLine, ...], grid: np.ndarray) -> list[np.ndarray]:
    """Each line on the grid; lines that do not differ there are one."""
    if len(lines) == 1:
        return []
    return list({values.tobytes(): values for values in (np.asarray(line.at(grid)) for line in lines)}.values())


def _readings(sheet: _Sheet, curves: pd.DataFrame, measured: int) -> pd.DataFrame:
    kept = ["curve", "record", "block", "row", "col", "parameter", "pair", "end", "direction"]
    count = len(curves)
    return curves[kept].assign(
        **{name: sheet.number[name] for name in _NUMBERS},
        **sheet.count,
        basis=pd.Categorical(["curve"] * count, categories=list(schema.CATEGORIES["basis"])),
        complete=sheet.complete,
        computed=np.arange(count) >= measured,
        verdict=pd.Categorical(_VERDICTS[sheet.verdict], categories=list(schema.CATEGORIES["verdict"])),
        reason=sheet.reason,
    )


def _reasons(sheet: _Sheet) -> pd.DataFrame:
    rows = [(number, *words) for words, number in sheet.reasons.items()]
    return schema.conform("reasons", pd.DataFrame(rows, columns=["reason", "code", "text", "mend"]))
