"""Curves judged at every point: worst margin and worst value, which are two things, and what they prove.

A limit is evaluated once for each distinct grid of frequencies; where pieces of a limit share a frequency, the stricter
holds. Between points nothing is guessed: a curve that begins late, stops short or has lost points proves a fail, never
a pass. Curves of one grid and one limit are judged together as a table, a cacheful at a time.

Two margins are kept apart. `margin` is to the strictest limit that may hold, with every point that is not known to be
exempt; `generous_margin` is to the most generous, and treats points whose exemption cannot be known as exempt. A curve
passes by the first and fails by the second; between them it is not judged.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.curve_sums import Losses, curve_index, with_sums
from analyzer.points import Points
from analyzer.standards.lines import EDGE_TOLERANCE, LimitLine, strictest

ZERO_MARGIN = 1e-9
"""A margin this small either way is none: it is float noise, and passes."""
_CHUNK_POINTS = 32_768
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
    margin (of the worst margin), generous_margin, basis, worst_value, worst_value_mhz, judged_points, exempt_points,
    complete, computed, verdict, reason (number in `reasons`; -1 none)."""
    reasons: pd.DataFrame
    """Schema `reasons`."""
    differences: pd.DataFrame
    """set, parameter, pair, end, difference_db: power sums and ratios of the export that differ from those computed."""
    curves: pd.DataFrame
    """Schema `curves`: as given, and after them those that were computed."""
    points: Points
    """Their points."""


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
    computed = np.zeros(len(curves), dtype=bool)
    if rules.compute_sums and len(curves):
        joined = with_sums(curves, points, sets)
        told = joined.differences
        differences = told[told["difference_db"] > rules.agree_within_db].reset_index(drop=True)
        like = joined.like[len(curves) :]
        curves, points, computed, sets = joined.curves, joined.points, joined.computed, np.r_[sets, sets[like]]
    sheet = _Sheet(len(curves))
    if len(curves):
        table = curve_index(curves, sets)
        losses = Losses.of(table)
        for rows, lines, exemptions in _groups(curves, lines_for, exemptions_for, rules):
            _judge_group(sheet, curves, points, rows, lines, exemptions, table, losses, rules)
    return JudgedCurves(_readings(sheet, curves, computed), _reasons(sheet), differences, curves, points)


def _groups(
    curves: pd.DataFrame, lines_for: LinesFor, exemptions_for: ExemptionsFor | None, rules: CurveRules
) -> list[tuple[np.ndarray, tuple[LimitLine, ...], tuple[Any, ...]]]:
    """Curves of one grid, one limit and the same exemptions."""
    asked = curves.groupby(["record", "parameter"], sort=False, observed=True).ngroup().to_numpy()
    first = np.unique(asked, return_index=True)[1]
    keys: dict[tuple[Any, ...], int] = {}
    found: list[tuple[tuple[LimitLine, ...], tuple[Any, ...]]] = []
    which = np.empty(len(first), dtype=np.int64)
    pairs = zip(curves["record"].to_numpy()[first].tolist(), curves["parameter"].astype(object).to_numpy()[first].tolist(), strict=True)  # fmt: skip
    for number, (record, parameter) in enumerate(pairs):
        lines = tuple(lines_for(record, parameter))
        rows = exemptions_for(record, parameter) if exemptions_for else ()
        exemptions = tuple(row for row in rows if _is_mask(row) and row["setting"] not in rules.switched_off)
        key = (parameter, lines, tuple(row["row_id"] for row in exemptions))
        if key not in keys:
            keys[key] = len(found)
            found.append((lines, exemptions))
        which[number] = keys[key]
    label = which[asked] * (int(curves["grid"].max()) + 1) + curves["grid"].to_numpy()
    order = np.argsort(label, kind="stable")
    cuts = np.flatnonzero(np.diff(label[order])) + 1
    return [(rows, *found[which[asked[rows[0]]]]) for rows in np.split(order, cuts)]


def _is_mask(row: Any) -> bool:
    return row["rule"] == "reading is for information" and row["partner"] in _PARTNERS


_PARTNERS = ("insertion loss", "FEXT loss", "power sum FEXT loss")


def _judge_group(
    sheet: _Sheet, curves: pd.DataFrame, points: Points, rows: np.ndarray, lines: tuple[LimitLine, ...],
    exemptions: tuple[Any, ...], table: pd.DataFrame, losses: Losses, rules: CurveRules,
) -> None:  # fmt: skip
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
    worst = _Worst(grid[span], ceiling)
    several = _distinct_limits(lines, grid[span])
    mask = _Mask(exemptions, table, losses, points, rows)
    nan_points = np.zeros(len(rows), dtype=np.int64)
    step = max(_CHUNK_POINTS // len(grid), 1)
    shown: dict[str, np.ndarray] = {name: np.empty(len(rows)) for name in _NUMBERS}
    for begin in range(0, len(rows), step):
        part = slice(begin, begin + step)
        value = points.rows(rows[part])[:, span]
        exempt = mask.of(part, value, span)
        nan_points[part] = worst.put(shown, part, value, limit[span], exempt)
        sheet.count["exempt_points"][rows[part]] = 0 if exempt is None else exempt.sum(axis=1)
        if len(several) > 1:
            worst.put_generous(shown, part, value, several, exempt)
    undecided = mask.unknown & (shown["margin"] < -ZERO_MARGIN)
    shown["generous_margin"] = np.where(undecided, np.inf, shown["generous_margin"])
    sheet.count["judged_points"][rows] = len(inside) - sheet.count["exempt_points"][rows] - nan_points
    for name in _NUMBERS:
        sheet.number[name][rows] = shown[name]
    _conclude(sheet, curves, rows, lines, grid, nan_points, undecided, exemptions, rules)


class _Worst:
    """Worst margins and worst values of curves on one grid, all the rows of a table at once."""

    def __init__(self, grid: np.ndarray, ceiling: bool) -> None:
        self.grid, self.ceiling = grid, ceiling
        self.buffer = np.empty(0)

    def margins(self, value: np.ndarray, limit: np.ndarray, exempt: np.ndarray | None) -> np.ndarray:
        """Margin at every point, positive on the good side; infinite where the point is exempt."""
        if self.buffer.shape != value.shape:
            self.buffer = np.empty(value.shape)
        if self.ceiling:
            np.subtract(limit, value, out=self.buffer)
        else:
            np.subtract(value, limit, out=self.buffer)
        if exempt is not None:
            np.putmask(self.buffer, exempt, np.inf)
        return self.buffer

    def put(
        self, shown: dict[str, np.ndarray], part: slice, value: np.ndarray, limit: np.ndarray, exempt: np.ndarray | None
    ) -> np.ndarray:
        """Write worst margin and worst value of some rows; returns how many points of each are no number."""
        margin = self.margins(value, limit, exempt)
        at = margin.argmin(axis=1)
        extreme = value.argmax(axis=1) if self.ceiling else value.argmin(axis=1)
        line = np.arange(len(value))
        least = margin[line, at]
        nans = np.zeros(len(value), dtype=np.int64)
        broken = np.flatnonzero(np.isnan(value[line, extreme]))
        if len(broken):
            nans[broken] = np.isnan(value[broken]).sum(axis=1)
            filled = np.where(np.isnan(margin[broken]), np.inf, margin[broken])
            at[broken] = filled.argmin(axis=1)
            least[broken] = filled[np.arange(len(broken)), at[broken]]
            bad_end = -np.inf if self.ceiling else np.inf
            known = np.where(np.isnan(value[broken]), bad_end, value[broken])
            extreme[broken] = known.argmax(axis=1) if self.ceiling else known.argmin(axis=1)
        least = np.where(np.abs(least) <= ZERO_MARGIN, 0.0, least)
        for name, numbers in (
            ("frequency_mhz", self.grid[at]), ("value", value[line, at]), ("limit", limit[at]), ("margin", least),
            ("generous_margin", least), ("worst_value", value[line, extreme]), ("worst_value_mhz", self.grid[extreme]),
        ):  # fmt: skip
            shown[name][part] = numbers
        return nans

    def put_generous(
        self, shown: dict[str, np.ndarray], part: slice, value: np.ndarray, limits: list[np.ndarray],
        exempt: np.ndarray | None,
    ) -> None:  # fmt: skip
        """Write the worst margin to the most generous of several limits."""
        best = np.full(len(value), -np.inf)
        for limit in limits:
            margin = self.margins(value, limit, exempt)
            least = np.where(np.isnan(margin), np.inf, margin).min(axis=1)
            best = np.maximum(best, np.where(np.abs(least) <= ZERO_MARGIN, 0.0, least))
        shown["generous_margin"][part] = best


class _Mask:
    """Which points of a group are exempt, and which curves lack the partner that would tell."""

    def __init__(
        self, exemptions: tuple[Any, ...], table: pd.DataFrame, losses: Losses, points: Points, rows: np.ndarray
    ) -> None:
        self.exemptions, self.points = exemptions, points
        self.unknown: np.ndarray = np.zeros(len(rows), dtype=bool)
        if exemptions:
            self.partner = losses.rows(*(table[name].to_numpy()[rows] for name in ("set", "pair", "grid")))
            self.unknown = np.asarray((self.partner < 0).any(axis=1))

    def of(self, part: slice, value: np.ndarray, span: Any) -> np.ndarray | None:
        """Mask of exempt points of some rows, or None where no rule holds."""
        if not self.exemptions:
            return None
        known = np.flatnonzero(~self.unknown[part])
        out = np.zeros(value.shape, dtype=bool)
        if not len(known):
            return out
        partner = self.partner[part][known]
        first = self.points.rows(partner[:, 0])[:, span]
        single = bool((partner[:, 0] == partner[:, 1]).all())
        second = first if single else self.points.rows(partner[:, 1])[:, span]
        for rule in self.exemptions:
            threshold = float(rule["threshold"])
            if rule["partner"] == "insertion loss":
                # a combination is exempt where both its pairs lose little: a missing number exempts nothing
                greater = first if single else np.maximum(first, second)
                hit = greater < threshold if rule["side"] == "below" else np.minimum(first, second) > threshold
            else:
                weaker = (first if single else np.minimum(first, second)) + value[known]
                hit = weaker > threshold if rule["side"] == "above" else weaker < threshold
            out[known] |= hit
        return out


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


def _readings(sheet: _Sheet, curves: pd.DataFrame, computed: np.ndarray) -> pd.DataFrame:
    kept = ["curve", "record", "block", "row", "col", "parameter", "pair", "end", "direction"]
    count = len(curves)
    return curves[kept].assign(
        **{name: sheet.number[name] for name in _NUMBERS},
        **sheet.count,
        basis=pd.Categorical(["curve"] * count, categories=list(schema.CATEGORIES["basis"])),
        complete=sheet.complete,
        computed=computed,
        verdict=pd.Categorical(_VERDICTS[sheet.verdict], categories=list(schema.CATEGORIES["verdict"])),
        reason=sheet.reason,
    )


def _reasons(sheet: _Sheet) -> pd.DataFrame:
    rows = [(number, *words) for words, number in sheet.reasons.items()]
    return schema.conform("reasons", pd.DataFrame(rows, columns=["reason", "code", "text", "mend"]))
