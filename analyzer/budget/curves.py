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
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.curve_pictures import Picture
from analyzer.budget.curve_points import GENEROUS, ZERO_MARGIN, Exemptions, Worst, is_mask
from analyzer.budget.curve_reasons import (
    FEW_POINTS,
    Reasons,
    ends_mhz,
    exemption_words,
    range_of,
    what_is_short,
)
from analyzer.budget.curve_sums import Losses, curve_index, with_sums
from analyzer.budget.pair_open import what_is_open
from analyzer.points import CEILINGS, Points
from analyzer.standards.lines import LimitLine, strictest

_CHUNK_POINTS = 65_536
_PASS, _NOT_JUDGED, _FAIL = 0, 1, 2
_VERDICTS = np.array(["pass", "not judged", "fail"], dtype=object)

LinesFor = Callable[[int, str], Sequence[LimitLine]]
"""(record, parameter) -> every line that may be its limit; none where no sourced limit stands."""
ExemptionsFor = Callable[[int, str], Sequence[Any]]
"""(record, parameter) -> rows of `standards.pair_exemptions` that hold for it."""
OwnFor = Callable[[str], Sequence[LimitLine]]
"""parameter -> limits of the owner's own that hold beside every line: constants without a frequency."""
WhyNone = Callable[[int], tuple[str, dict[str, str]]]
"""record -> code of reasons.csv, with the words of its braces, that says why no limit stands."""


@dataclass(frozen=True)
class CurveRules:
    """Settings of the judging of curves."""

    late_start_share: float = 0.0
    """How far above the first frequency of its limit a curve may begin, as a share of it."""
    switched_off: frozenset[str] = frozenset()
    """Exemptions that do not hold, by the name of their setting."""
    compute_sums: bool = True
    """Whether power sums and ratios are computed where the export does not carry them."""
    draw: bool = True
    """Whether thinned pictures are made."""
    agree_within_db: float = 0.3
    """How far a power sum of the export may lie from the one computed before it is told [dB]."""


@dataclass(frozen=True)
class JudgedCurves:
    """One row for each curve, measured and computed, and what is said of them."""

    readings: pd.DataFrame
    """curve (row in `curves`), record, block, row, col, parameter, pair, end, direction, frequency_mhz, value, limit,
    margin (of the worst margin that the verdict rests on: a fail shows the most generous limit), generous_margin, basis,
    worst_value, worst_value_mhz, judged_points, exempt_points (0 where the exemptions change nothing), complete,
    computed, verdict, reason (number in `reasons`; -1 none), picture (row of `pictures`; -1 none), line (its possible
    limits, number in `lines`; -1 none)."""
    why: Reasons
    """What is said of each curve; more may be added."""
    differences: pd.DataFrame
    """set, parameter, pair, end, difference_db: power sums and ratios of the export that differ from those computed."""
    curves: pd.DataFrame
    """Schema `curves`: as given, and after them those that were computed."""
    points: Points
    """Points of the measured curves."""
    made: Points
    """Points of the computed curves."""
    pictures: np.ndarray
    """int16 (n, 2, bins), as `schema.Analysis.pictures`."""
    lines: list[tuple[LimitLine, ...]]
    """Distinct sets of lines that may be a limit."""

    @property
    def reasons(self) -> pd.DataFrame:
        """Schema `reasons`."""
        return self.why.table()

    def curve(self, number: int) -> tuple[np.ndarray, np.ndarray]:
        """Frequencies [MHz] and values of one curve, measured or computed."""
        measured = len(self.points)
        return self.points.curve(number) if number < measured else self.made.curve(number - measured)


_NUMBERS = (
    "frequency_mhz", "value", "limit", "margin", "generous_margin", "worst_value", "worst_value_mhz",
)  # fmt: skip


class _Sheet:
    """Growing columns of the result, one entry for each curve."""

    def __init__(self, size: int) -> None:
        self.number = {name: np.full(size, np.nan) for name in _NUMBERS}
        self.count = {name: np.zeros(size, dtype=np.int32) for name in ("judged_points", "exempt_points")}
        self.complete = np.zeros(size, dtype=bool)
        self.verdict = np.full(size, _NOT_JUDGED, dtype=np.int8)
        self.reasons = Reasons(size)
        self.pictures: list[np.ndarray] = [schema.empty_pictures()]
        self.picture = np.full(size, -1, dtype=np.int32)
        self.span = {name: np.full(size, np.nan) for name in ("limit_min_mhz", "limit_max_mhz")}
        self.lines: dict[tuple[LimitLine, ...], int] = {}
        self.line = np.full(size, -1, dtype=np.int32)

    def hang(self, rows: np.ndarray, pictures: np.ndarray, ends_mhz: tuple[float, float]) -> None:
        """Keep the pictures of some rows, and which frequencies they span."""
        for column, end_mhz in zip(self.span.values(), ends_mhz, strict=True):
            column[rows] = end_mhz
        self.picture[rows] = np.arange(len(rows)) + sum(len(one) for one in self.pictures)
        self.pictures.append(pictures)


def judge_curves(
    curves: pd.DataFrame,
    points: Points,
    lines_for: LinesFor,
    *,
    sets: np.ndarray | None = None,
    exemptions_for: ExemptionsFor | None = None,
    own_for: OwnFor | None = None,
    why_none: WhyNone | None = None,
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
        own_for: limits that hold beside all others, the stricter decides; None for none.
        why_none: asked where no limit stands; None says that none is sourced.
        rules: settings; None takes the defaults.

    Returns:
        Readings in the order of the curves, computed ones after the measured ones.
    """
    rules = rules or CurveRules()
    sets = curves["record"].to_numpy().astype(np.int64) if sets is None else np.asarray(sets, dtype=np.int64)
    differences = pd.DataFrame({"set": [], "parameter": [], "pair": [], "end": [], "difference_db": []})
    made, lenient, parts = Points(), None, np.empty(0, dtype=object)
    if rules.compute_sums and len(curves):
        joined = with_sums(curves, points, sets)
        told = joined.differences
        differences = told[told["difference_db"] > rules.agree_within_db].reset_index(drop=True)
        curves, made, sets = joined.curves, joined.made, np.r_[sets, sets[joined.like]]
        lenient, parts = joined.lenient, joined.parts
    sheet = _Sheet(len(curves))
    if len(curves):
        table = curve_index(curves, sets)
        losses = Losses.of(table)
        codes = curves["parameter"].cat.codes.to_numpy()
        for rows, lines, exemptions in _groups(curves, len(points), lines_for, exemptions_for, rules):
            mask = Exemptions(exemptions, table, losses, points, rows)
            measured = rows[0] < len(points)
            held = _Held(points, rows) if measured else _Held(made, rows - len(points), lenient)
            own = tuple(own_for(schema.CATEGORIES["parameter"][codes[rows[0]]])) if own_for else ()
            _judge_group(sheet, curves, held, rows, (lines, own), mask, rules)
        names = [schema.CATEGORIES["parameter"].index(name) for name in schema.AS_RATIO]
        sheet.reasons.say(np.flatnonzero(np.isin(codes, names) & (sheet.line < 0)), "judged-as-ratio")
        _say_no_limit(sheet, curves["record"].to_numpy(), why_none)
        _say_computed(sheet, parts, len(points))
    readings = _readings(sheet, curves, len(points))
    pictures = np.concatenate(sheet.pictures)
    return JudgedCurves(
        readings, sheet.reasons, differences, curves, points, made, pictures, list(sheet.lines)
    )  # fmt: skip


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


@dataclass(frozen=True)
class _Held:
    """Where the points of some curves stand: their numbers among `points`, and the same read leniently."""

    points: Points
    numbers: np.ndarray
    lenient: Points | None = None


def _judge_group(
    sheet: _Sheet, curves: pd.DataFrame, held: _Held, rows: np.ndarray,
    limits: tuple[tuple[LimitLine, ...], tuple[LimitLine, ...]], mask: Exemptions, rules: CurveRules,
) -> None:  # fmt: skip
    """Judge curves of one grid and one limit.

    `limits` are the lines of which one holds and those that hold beside it.
    """
    points, numbers = held.points, held.numbers
    lines, own = limits
    grid = points.frequency_mhz[int(curves["grid"].to_numpy()[rows[0]])]
    parameter = str(curves["parameter"].iloc[rows[0]])
    ceiling = lines[0].sense == "max" if lines else parameter in CEILINGS
    own = tuple(line for line in own if line.sense == ("max" if ceiling else "min"))
    limit, several = _limits_on(lines, own, grid)
    inside = np.flatnonzero(np.isfinite(limit))
    if not len(inside):
        _put_worst_value(sheet, points, numbers, rows, Worst(grid, ceiling))
        if lines:
            sheet.reasons.say(rows, "curve-outside", range=range_of(lines, grid))
        return
    sheet.line[rows] = sheet.lines.setdefault((*lines, *own), len(sheet.lines))
    span = slice(int(inside[0]), int(inside[-1]) + 1) if inside[-1] - inside[0] + 1 == len(inside) else inside
    worst = Worst(grid[span], ceiling)
    several = [one[span] for one in several]
    nan_points = np.zeros(len(rows), dtype=np.int64)
    step = max(_CHUNK_POINTS // len(grid), 1)
    shown: dict[str, np.ndarray] = {
        name: np.empty(len(rows)) for name in dict.fromkeys((*_NUMBERS, *GENEROUS.values()))
    }
    picture = Picture(parameter, ends_mhz(lines, grid), grid[span]) if rules.draw else None
    drawn = np.empty((len(rows), 2, schema.PICTURE_BINS), np.int16) if rules.draw else schema.empty_pictures()
    for begin in range(0, len(rows), step):
        part = np.arange(begin, min(begin + step, len(rows)))
        value = points.rows(numbers[part])[:, span]
        nan_points[part] = worst.put(shown, part, value, limit[span])
        if picture is not None:
            drawn[part] = picture.of(worst.buffer, value, all_numbers=not nan_points[part].any())
        left_out = mask.hits(part, grid, shown)
        if left_out.any():
            again = part[left_out]
            exempt = mask.of(again, value[left_out], span)
            worst.put(shown, again, value[left_out], limit[span], exempt)
            sheet.count["exempt_points"][rows[again]] = 0 if exempt is None else np.count_nonzero(exempt, axis=1)
            if picture is not None:
                drawn[again] = picture.of(worst.buffer, value[left_out], all_numbers=False)
        below = np.flatnonzero(shown["margin"][part] < 0) if len(several) > 1 else part[:0]
        if held.lenient is not None:
            below = np.flatnonzero(shown["margin"][part] < 0)
            value = held.lenient.rows(numbers[part])[:, span]
            several = several or [limit[span]]
        if len(below):
            worst.put_generous(shown, part[below], value[below], several, mask.of(part[below], value[below], span))
    undecided = mask.unknown & (shown["margin"] < -ZERO_MARGIN)
    shown["generous_margin"] = np.where(undecided, np.inf, shown["generous_margin"])
    sheet.count["judged_points"][rows] = len(inside) - sheet.count["exempt_points"][rows] - nan_points
    fails = shown["generous_margin"] < 0  # what least supports a fail is shown: the most generous limit
    for name, generous in GENEROUS.items():
        shown[name] = np.where(fails, shown[generous], shown[name])
    for name in _NUMBERS:
        sheet.number[name][rows] = shown[name]
    if picture is not None:
        sheet.hang(rows, drawn, ends_mhz(lines, grid))
    if held.lenient is not None:
        hinges = rows[(shown["margin"] < -ZERO_MARGIN) & ~fails & ~undecided]
        sheet.reasons.say(hinges, "disturbed-pair-open")
    _conclude(sheet, curves, rows, lines, grid, nan_points, undecided, mask.exemptions, rules)


def _conclude(
    sheet: _Sheet, curves: pd.DataFrame, rows: np.ndarray, lines: tuple[LimitLine, ...], grid: np.ndarray,
    nan_points: np.ndarray, undecided: np.ndarray, exemptions: tuple[Any, ...], rules: CurveRules,
) -> None:  # fmt: skip
    """Verdict and reason of a group whose margins stand."""
    margin, generous = sheet.number["margin"][rows], sheet.number["generous_margin"][rows]
    short = what_is_short(lines, grid, rules.late_start_share) if lines else ""
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
    _say_why(sheet, rows, ~fails & ~passes, all_exempt, damaged, undecided, short, exemption_words(exemptions), lines)


def _say_why(
    sheet: _Sheet, rows: np.ndarray, open_: np.ndarray, all_exempt: np.ndarray, damaged: np.ndarray,
    undecided: np.ndarray, short: str, exempt: str, lines: tuple[LimitLine, ...],
) -> None:  # fmt: skip
    """Reasons of a group; `open_` marks the curves that are not judged."""
    say, margin = sheet.reasons.say, sheet.number["margin"][rows]
    touched = sheet.count["exempt_points"][rows] > 0
    say(rows[all_exempt & touched], "all-exempt", exempt=exempt)
    say(rows[touched & ~all_exempt], "exempt-points", exempt=exempt)
    count = sheet.count["judged_points"][rows]
    for points in np.unique(count[(count > 0) & (count + sheet.count["exempt_points"][rows] < FEW_POINTS)]).tolist():
        say(rows[(count == points) & ~all_exempt], "few-points", points=f"{points}")
    words, doubt = what_is_open(lines)
    hinges, opened = (
        open_ & (margin < 0) & ~undecided,
        "; ".join([*words, *([f"limit in doubt ({doubt})"] if doubt else [])]),
    )
    if words:
        say(rows[hinges], "pair-missing-fact", open=opened)
    elif doubt:
        say(rows[hinges], "limit-in-doubt", doubt=doubt)
    if opened:
        say(rows[~open_], "holds-in-every-case", open=opened)
    say(rows[open_ & undecided], "exemption-unknown", exempt=exempt)
    say(rows[open_ & damaged], "curve-damaged")
    if short and lines:
        good = (margin >= 0) & (sheet.count["judged_points"][rows] > 0)
        so_far = f"every point that is there meets {lines[0].grade}; "
        say(rows[open_ & good], "curve-incomplete", so_far=so_far, short=short)
        say(rows[open_ & ~good & ~all_exempt], "curve-incomplete", so_far="", short=short)


def _say_computed(sheet: _Sheet, parts: np.ndarray, measured: int) -> None:
    for one in dict.fromkeys(parts.tolist()):
        sheet.reasons.say(measured + np.flatnonzero(parts == one), "computed-curve", parts=one)


def _limits_on(
    lines: tuple[LimitLine, ...], own: tuple[LimitLine, ...], grid: np.ndarray
) -> tuple[np.ndarray, list[np.ndarray]]:
    """The strictest limit on the grid, and every distinct one that may hold where they differ there."""
    if not lines:
        alone = np.full(len(grid), np.nan) if not own else np.asarray(strictest(own, grid))
        return alone, []
    possible = [np.asarray(line.at(grid)) for line in lines]
    if own:
        beside = np.asarray(strictest(own, grid))
        pick = np.fmin if lines[0].sense == "max" else np.fmax
        possible = [np.where(np.isnan(one), np.nan, pick(one, beside)) for one in possible]
    limit = possible[0]
    for other in possible[1:]:
        limit = np.fmin(limit, other) if lines[0].sense == "max" else np.fmax(limit, other)
    distinct = list({one.tobytes(): one for one in possible}.values())
    return limit, distinct if len(distinct) > 1 else []


def _put_worst_value(sheet: _Sheet, points: Points, numbers: np.ndarray, rows: np.ndarray, worst: Worst) -> None:
    """Worst values of curves that no limit speaks of."""
    shown: dict[str, np.ndarray] = {
        name: np.empty(len(rows)) for name in dict.fromkeys((*_NUMBERS, *GENEROUS.values()))
    }
    worst.put(shown, np.arange(len(rows)), points.rows(numbers), np.zeros(len(worst.grid)))
    for name in ("worst_value", "worst_value_mhz"):
        sheet.number[name][rows] = shown[name]


def _say_no_limit(sheet: _Sheet, records: np.ndarray, why_none: WhyNone | None) -> None:
    """The reason of curves without a limit: what keeps their record from having one."""
    rows = np.flatnonzero((sheet.line < 0) & (sheet.reasons.number < 0))
    distinct, at = np.unique(records[rows], return_inverse=True)
    said = [why_none(record) if why_none else ("no-sourced-limit", {}) for record in distinct.tolist()]
    keys = [(code, tuple(words.items())) for code, words in said]
    which = np.asarray([keys.index(key) for key in keys], dtype=np.int64)
    for one in np.unique(which):
        code, words = said[one]
        sheet.reasons.say(rows[which[at] == one], code, **words)


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
        reason=sheet.reasons.number,
        picture=sheet.picture,
        **sheet.span,
        line=sheet.line,
    )
