"""Curves computed from pair curves: power sums and attenuation to crosstalk ratios, where all their parts stand.

Parts belong together where they come from one test of one link, were measured at the same end and stand on the same
grid of frequencies; between points nothing is guessed.

    PSNEXT_k  = -10 log10( sum over j of 10^(-NEXT_jk / 10) )
    PSACR-F_k = -10 log10( sum over j of 10^(-ACR-F_jk / 10) )
    ACR-N_jk  = NEXT_jk - IL        PSACR-N_k = PSNEXT_k - IL_k
    ACR-F_jk  = FEXT_jk - IL_k      PSACR-F_k = PSFEXT_k - IL_k        (k is disturbed)

as ISO/IEC 11801-1 and TIA-568.2-D define them (from memory, no copy was open). Two remarks on ACR. A column that names
a combination of pairs does not say which of the two is disturbed: ACR-N takes the pair with the greater insertion loss,
the stricter of both, and so does ACR-F that is computed from far-end crosstalk; `lenient` holds what it would be with
the lesser loss, and only what fails by both fails. ACR-F is given relative to the insertion loss of the disturbed pair, so power sums of it are exact
only as far as the insertion losses of the four pairs agree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
import pandas as pd

from analyzer.budget.plain import distinct_rows
from analyzer.points import Points
from analyzer.schema import CATEGORIES
from analyzer.standards.crosstalk import far_end_ratio_db

PAIRS = CATEGORIES["pair"]
SINGLES, COMBINED = PAIRS[:4], PAIRS[4:]
MEMBERS = {k: [at for at, pair in enumerate(COMBINED) if single in pair.split("/")] for k, single in enumerate(SINGLES)}
"""Of each pair, by number: the three combinations that it belongs to, by number."""
_DB_TO_NATURAL = -np.log(10.0) / 10.0
_CHUNK_POINTS = 32_768
"""Points worked on at a time: the intermediate arrays then stay in the cache."""
POWER_SUMS = {"PSNEXT": "NEXT", "PSACR-F": "ACR-F"}
RATIOS = {"ACR-N": "NEXT", "PSACR-N": "PSNEXT", "ACR-F": "FEXT", "PSACR-F": "PSFEXT"}
_AT_THE_FAR_END = ("ACR-F", "PSACR-F")


@dataclass(frozen=True)
class Joined:
    """Curves as measured, and after them those that were computed."""

    curves: pd.DataFrame
    made: Points
    """Points of the computed curves alone, on the grids of the measured ones."""
    like: np.ndarray
    """Of each computed curve: row of the measured curve whose record it shares."""
    differences: pd.DataFrame
    """set, parameter, pair, end, difference_db: where the export carries what can be computed, the greatest distance."""
    parts: np.ndarray
    """Of each computed curve, what it was computed from, in words."""
    lenient: Points | None
    """The computed curves as they would be if the pair that loses less were the disturbed one; None where none hinges on it."""


def power_sum_db(parts: np.ndarray) -> np.ndarray:
    """Power sum of crosstalk [dB]: -10 log10 of the sum of 10^(-x/10) over the first axis.

    Args:
        parts: crosstalk of the disturbing pairs, or a ratio to it [dB]; shape (parts, ...).

    Source: the definition in ISO/IEC 11801-1 and TIA-568.2-D, from memory.
    """
    return np.asarray(np.log(np.exp(parts * _DB_TO_NATURAL).sum(axis=0)) / _DB_TO_NATURAL)


def same_test(records: pd.DataFrame) -> np.ndarray:
    """Number of the test that each record belongs to, n integers: the tables of one link, tested at one time."""
    key = pd.factorize(records["key"])[0]
    key = np.where(key < 0, len(records) + np.arange(len(records)), key)  # a record without a name is a test of its own
    return distinct_rows(key, records["tested_at"], records["configuration"])[0]


def with_sums(curves: pd.DataFrame, points: Points, sets: np.ndarray) -> Joined:
    """The curves, and after them every power sum and ratio that the export does not carry and that can be computed.

    Args:
        curves: schema `curves`, n rows in the order of the points.
        points: their points.
        sets: number of the test each curve belongs to, n integers: one link, tested once.
    """
    table = curve_index(curves, sets)
    added: list[_Made] = []
    told: list[pd.DataFrame] = []

    def take(made: list[_Made], name: str) -> None:
        keep, differences = _compared(table, points, made, name)
        added.extend(one for one in (_not_yet(one, added) for one in keep) if len(one.set))
        told.append(differences)

    for name, part in POWER_SUMS.items():
        take(_power_sums(table, points, name, part), name)
    for name, part in RATIOS.items():
        take(_ratios(table, points, added, name, part), name)
    take(_sums_of_made([one for one in added if one.parameter == "ACR-F"]), "PSACR-F")
    return _joined(curves, points, added, pd.concat(told, ignore_index=True))


def curve_index(curves: pd.DataFrame, sets: np.ndarray) -> pd.DataFrame:
    """Codes to look curves up by: set, parameter, pair and end codes, grid; `at` is the row of `curves`."""
    return pd.DataFrame(
        {
            "at": np.arange(len(curves)), "set": np.asarray(sets), "parameter": curves["parameter"].cat.codes.to_numpy().astype(np.int64),
            "pair": curves["pair"].cat.codes.to_numpy().astype(np.int64), "end": curves["end"].cat.codes.to_numpy().astype(np.int64),
            "grid": curves["grid"].to_numpy().astype(np.int64), "lost": curves["lost"].to_numpy().astype(np.int64),
        }
    )  # fmt: skip


def _code(parameter: str) -> int:
    return CATEGORIES["parameter"].index(parameter)


@dataclass
class _Made:
    """Curves of one parameter on one grid: `value` is (rows, points), `like` the curve whose record they belong to."""

    parameter: str
    grid: int
    value: np.ndarray
    pair: np.ndarray
    end: np.ndarray
    set: np.ndarray
    like: np.ndarray
    lost: np.ndarray
    """Cells that were set aside of the worst of its parts."""
    parts: str
    lenient: np.ndarray | None = None
    """As `value`, where it hinges on which pair is disturbed."""

    def take(self, rows: np.ndarray) -> _Made:
        return replace(
            self, value=self.value[rows], pair=self.pair[rows], end=self.end[rows], set=self.set[rows], like=self.like[rows],
            lost=self.lost[rows], lenient=None if self.lenient is None else self.lenient[rows],
        )  # fmt: skip

    def units(self) -> list[tuple[int, int, int]]:
        """Set, pair and end of each row."""
        return list(zip(self.set.tolist(), self.pair.tolist(), self.end.tolist(), strict=True))


def _not_yet(made: _Made, added: list[_Made]) -> _Made:
    """The rows that were not computed in another way."""
    before = {key for one in added if one.parameter == made.parameter for key in one.units()}
    return made.take(np.flatnonzero([key not in before for key in made.units()])) if before else made


def _rows_with(table: pd.DataFrame, parameter: str, codes: Sequence[int]) -> pd.DataFrame:
    """One row for each (set, end, grid) that has the parameter on every pair of `codes`; columns: row of the curve.

    Where a combination stands twice, as when it was measured from both of its pairs, nothing is summed.
    """
    part = table[(table["parameter"] == _code(parameter)) & table["pair"].isin(codes)]
    part = part.sort_values(["set", "end", "grid"], kind="stable", ignore_index=True)
    keys = part[["set", "end", "grid"]]
    group, first = distinct_rows(*(keys[name] for name in keys))
    column = np.searchsorted(codes, part["pair"].to_numpy())
    at, seen = np.zeros((2, len(first), len(codes)), dtype=np.int64)
    at[group, column] = part["at"].to_numpy()
    np.add.at(seen, (group, column), 1)
    once = (seen == 1).all(axis=1)
    found: pd.DataFrame = keys.iloc[first[once]].reset_index(drop=True)
    found[list(codes)] = at[once]
    return found


def _power_sums(table: pd.DataFrame, points: Points, name: str, part: str) -> list[_Made]:
    codes = list(range(len(SINGLES), len(PAIRS)))
    rows, lost = _rows_with(table, part, codes), table["lost"].to_numpy()
    made = []
    for grid, group in rows.groupby("grid", sort=True):
        at = group[codes].to_numpy(dtype=np.int64)
        value = _sums_of(points, at, len(points.frequency_mhz[int(str(grid))]))
        count = len(group)
        made.append(
            _Made(
                name, int(str(grid)), value, np.tile(np.arange(4), count), np.repeat(group["end"].to_numpy(), 4),
                np.repeat(group["set"].to_numpy(), 4), np.repeat(at[:, 0], 4),
                np.repeat(lost[at].max(axis=1), 4), f"{part} {_OF_COMBINATIONS}",
            )
        )  # fmt: skip
    return made


def _sums_of(points: Points, at: np.ndarray, width: int) -> np.ndarray:
    """Power sums of the four pairs from the six combinations in `at` (rows, 6); shape (4 rows, points)."""
    out = np.empty((len(at), 4, width))
    step = max(_CHUNK_POINTS // (6 * width), 1)
    for begin in range(0, len(at), step):
        chunk = at[begin : begin + step]
        power = points.rows(chunk.reshape(-1)).reshape(len(chunk), 6, width) * _DB_TO_NATURAL
        np.exp(power, out=power)
        for pair, (one, two, three) in MEMBERS.items():
            total = power[:, one] + power[:, two]
            total += power[:, three]
            np.log(total, out=total)
            np.divide(total, _DB_TO_NATURAL, out=out[begin : begin + step, pair])
    return out.reshape(-1, width)


def _ratios(table: pd.DataFrame, points: Points, added: list[_Made], name: str, part: str) -> list[_Made]:
    """NEXT (or its power sum, as exported or as computed) less insertion loss."""
    losses = Losses.of(table)
    made = []
    own, lost = table[table["parameter"] == _code(part)], table["lost"].to_numpy()
    for grid, group in own.groupby("grid", sort=True):
        rows = group["at"].to_numpy()
        made.append(
            _Made(
                name, int(str(grid)), points.rows(rows), group["pair"].to_numpy(), group["end"].to_numpy(),
                group["set"].to_numpy(), rows, lost[rows], f"{part} and insertion loss",
            )
        )  # fmt: skip
    made += [replace(one, parameter=name, parts=f"{part} and insertion loss") for one in added if one.parameter == part]
    out = []
    for one in made:
        partner = losses.rows(one.set, one.pair, np.full(len(one.set), one.grid))
        known = np.flatnonzero((partner >= 0).all(axis=1) & (one.pair >= 0))
        if not len(known):
            continue
        taken = one.take(known)
        taken.lost = np.maximum(taken.lost, lost[partner[known]].max(axis=1))
        one_loss, other_loss = (points.rows(partner[known, side]) for side in (0, 1))
        if name in _AT_THE_FAR_END:
            taken.lenient = far_end_ratio_db(taken.value, np.minimum(one_loss, other_loss))
            taken.value = far_end_ratio_db(taken.value, np.maximum(one_loss, other_loss))
            out.append(_worse_of_two(taken))
        else:
            taken.value = taken.value - np.maximum(one_loss, other_loss)
            out.append(taken)
    return out


def _worse_of_two(made: _Made) -> _Made:
    """Of a combination that stands twice, as measured from either of its pairs, the worse at every point."""
    keys = pd.MultiIndex.from_arrays([made.set, made.pair, made.end])
    group, _ = pd.factorize(keys)
    first = np.unique(group, return_index=True)[1]
    if len(first) == len(group):
        return made
    out = made.take(first)
    out.value, out.lenient = out.value.copy(), None if out.lenient is None else out.lenient.copy()
    np.minimum.at(out.value, group, made.value)
    if out.lenient is not None and made.lenient is not None:
        np.minimum.at(out.lenient, group, made.lenient)
    np.maximum.at(out.lost, group, made.lost)
    return out


_OF_COMBINATIONS = "of the three combinations of the pair"


def _sums_of_made(ratios: list[_Made]) -> list[_Made]:
    """Power sums of ACR-F that was itself computed, of all six combinations."""
    made = []
    for one in ratios:
        keys = pd.MultiIndex.from_arrays([one.set, one.end])
        for _, at in pd.Series(np.arange(len(one.set))).groupby(pd.factorize(keys)[0]):
            rows = at.to_numpy()[np.argsort(one.pair[at.to_numpy()])]
            if one.pair[rows].tolist() != list(range(len(SINGLES), len(PAIRS))):
                continue
            sums = [
                None if part is None else np.stack([power_sum_db(part[rows[MEMBERS[pair]]]) for pair in range(4)])
                for part in (one.value, one.lenient)
            ]
            four = np.repeat(rows[:1], 4)
            made.append(
                replace(
                    one.take(four), parameter="PSACR-F", value=cast("np.ndarray", sums[0]), lenient=sums[1], pair=np.arange(4),
                    lost=np.full(4, one.lost[rows].max()), parts=f"ACR-F {_OF_COMBINATIONS}",
                )
            )  # fmt: skip
    return made


@dataclass(frozen=True)
class Losses:
    """Where the insertion loss of each (set, pair, grid) stands; of a pair measured from both ends, the first."""

    keys: np.ndarray
    at: np.ndarray
    grids: int

    @classmethod
    def of(cls, table: pd.DataFrame) -> Losses:
        """From the codes of `curve_index`."""
        part = table[table["parameter"] == _code("insertion loss")].drop_duplicates(["set", "pair", "grid"])
        grids = int(table["grid"].max()) + 1 if len(table) else 1
        keys = _key(part["set"].to_numpy(), part["pair"].to_numpy(), part["grid"].to_numpy(), grids)
        order = np.argsort(keys)
        return cls(keys[order], part["at"].to_numpy()[order], grids)

    def rows(self, sets: np.ndarray, pairs: np.ndarray, grids: np.ndarray) -> np.ndarray:
        """Rows of the insertion loss of both pairs of each curve, on its own grid, (n, 2); -1 where none was measured."""
        halves = np.where(pairs[:, None] >= 0, _HALVES[np.maximum(pairs, 0)], -2)
        wanted = _key(sets[:, None], halves, grids[:, None], self.grids)
        if not len(self.keys):
            return np.full(wanted.shape, -1)
        place = np.minimum(np.searchsorted(self.keys, wanted), len(self.keys) - 1)
        return np.where(self.keys[place] == wanted, self.at[place], -1)


def _key(sets: np.ndarray, pairs: np.ndarray, grids: np.ndarray, count: int) -> np.ndarray:
    return np.asarray((sets.astype(np.int64) * 16 + pairs + 2) * count + grids)


_HALVES = np.asarray(
    [[k, k] for k in range(4)] + [[SINGLES.index(half) for half in pair.split("/")] for pair in COMBINED]
)
"""The two pairs of each combination, by number; a single pair twice."""


def _compared(table: pd.DataFrame, points: Points, made: list[_Made], name: str) -> tuple[list[_Made], pd.DataFrame]:
    """Those that the export does not carry; and how far the others lie from what it carries."""
    carried = table[table["parameter"] == _code(name)].drop_duplicates(["set", "pair", "end", "grid"])
    has = set(
        zip(
            *(table.loc[table["parameter"] == _code(name), key].tolist() for key in ("set", "pair", "end")), strict=True
        )
    )
    keep: list[_Made] = []
    told = []
    for one in made:
        keys = one.units()
        fresh = np.fromiter((key not in has for key in keys), np.bool_, len(keys))
        if fresh.any():
            keep.append(one.take(np.flatnonzero(fresh)))
        mine = pd.DataFrame(
            {"set": one.set, "pair": one.pair, "end": one.end, "grid": one.grid, "row": np.arange(len(keys))}
        )
        both = mine.merge(carried, on=["set", "pair", "end", "grid"])
        if len(both):
            at, carries = both["row"].to_numpy(), points.rows(both["at"].to_numpy())
            highest = one.value[at] if one.lenient is None else one.lenient[at]
            apart = np.maximum(one.value[at] - carries, carries - highest).max(axis=1)
            told.append(both[["set", "pair", "end"]].assign(parameter=name, difference_db=apart))
    empty = pd.DataFrame({"set": [], "pair": [], "end": [], "parameter": [], "difference_db": []})
    return keep, pd.concat(told, ignore_index=True) if told else empty


def _joined(curves: pd.DataFrame, points: Points, added: list[_Made], differences: pd.DataFrame) -> Joined:
    frames = [curves]
    values, grids = [np.empty(0)], [np.empty(0, dtype=np.int32)]
    for one in added:
        frame = curves.take(one.like).copy()
        for name, words in (("parameter", np.full(len(one.pair), CATEGORIES["parameter"].index(one.parameter))),
                            ("pair", one.pair), ("end", one.end)):  # fmt: skip
            frame[name] = pd.Categorical.from_codes(
                np.asarray(words, dtype=np.int64), dtype=cast("pd.CategoricalDtype", curves[name].dtype)
            )
        frame["lost"], frame["has_limit"] = one.lost.astype(np.int32), False
        frame["hash"] = np.zeros(len(one.pair), dtype=np.uint64)
        frames.append(frame)
        values.append(one.value.reshape(-1))
        grids.append(np.full(len(one.value), one.grid, dtype=np.int32))
    grid = np.concatenate(grids)
    sizes = np.fromiter((len(one) for one in points.frequency_mhz), np.int64, len(points.frequency_mhz))
    whole = pd.concat(frames, ignore_index=True) if len(frames) > 1 else curves
    made = Points(
        points.frequency_mhz, np.concatenate(values), np.r_[0, np.cumsum(sizes[grid])].astype(np.int64), grid, [],
        np.full(len(grid), -1, dtype=np.int32),
    )  # fmt: skip
    whole = whole.assign(curve=np.arange(len(whole), dtype=np.int32))
    like = np.concatenate([np.empty(0, dtype=np.int64), *(one.like for one in added)])
    parts = np.repeat(
        np.asarray([one.parts for one in added], dtype=object), np.asarray([len(one.value) for one in added], dtype=int)
    )
    lenient = None
    if any(one.lenient is not None for one in added):
        values = [np.empty(0), *((one.value if one.lenient is None else one.lenient).reshape(-1) for one in added)]
        lenient = replace(made, value=np.concatenate(values))
    return Joined(whole, made, like, differences, parts, lenient)
