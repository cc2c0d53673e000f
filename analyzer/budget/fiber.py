"""What a fiber link is allowed to lose: the sum, plain and vectorized.

    length x coefficient + matings in the reading x allowance + splices x allowance (+ other)

Arrays or numbers alike; NaN in, NaN out. No allowance stands here: `one_link.fiber_budget` and the judge look them up.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from analyzer import standards

Numbers = npt.ArrayLike
"""A number, an array of numbers, or a pandas column."""


class LossParts(NamedTuple):
    """Parts of an allowed loss [dB], each of the shape of its arguments."""

    cable_db: Any
    matings_db: Any
    splices_db: Any


class EndCounts(NamedTuple):
    """What both ends of a link add to the counts."""

    mated_pairs: Any
    array_pairs: Any
    splices: Any
    plug_ends: Any


def loss_parts_db(
    length_m: Numbers,
    coefficient_db_per_km: Numbers,
    matings: Numbers,
    mated_pair_db: Numbers,
    array_matings: Numbers = 0,
    array_pair_db: Numbers = np.nan,
    splices: Numbers = 0,
    splice_db: Numbers = np.nan,
    ends: Numbers = 0,
    end_pair_db: Numbers = np.nan,
) -> LossParts:
    """Allowed loss of cable, matings and splices [dB].

    Args:
        length_m: length of the link [m].
        coefficient_db_per_km: attenuation allowed to the cabled fiber [dB/km].
        matings: all matings in the reading, array connections included (see `matings_in_reading`).
        mated_pair_db: allowance for one single-fiber mating [dB].
        array_matings: how many of `matings` are array connections; no more than all of them are.
        array_pair_db: allowance for one array mating [dB]; not looked at where there is none.
        splices: splices in the link.
        splice_db: allowance for one splice [dB]; not looked at where there is none.
        ends: how many of `matings` are end connections with an allowance of their own (single matings first, array
            connections where there are no others).
        end_pair_db: allowance for one of these [dB]; not looked at where there is none.

    Returns:
        cable = coefficient x length / 1000; matings = single x allowance + array x allowance + ends x allowance;
        splices x allowance. NaN in, NaN out.

    Source: sum of TIA-526-14 / TIA-568.3 for a one-cord reference (recalled); printed alike in the worked examples of
    tests/budget/test_worked_examples.py (read).
    """
    arrays = np.minimum(_numbers(array_matings), _numbers(matings))
    singles = _numbers(matings) - arrays
    apart = np.minimum(_numbers(ends), np.maximum(_numbers(matings), 0))
    apart_singles = np.minimum(apart, np.maximum(singles, 0))
    cable_db = _numbers(coefficient_db_per_km) * _numbers(length_m) / 1000
    matings_db = (
        _part(singles - apart_singles, mated_pair_db)
        + _part(arrays - (apart - apart_singles), array_pair_db)
        + _part(apart, end_pair_db)
    )
    return LossParts(cable_db, matings_db, _part(_numbers(splices), splice_db))


def allowed_db(
    length_m: Numbers,
    coefficient_db_per_km: Numbers,
    matings: Numbers,
    mated_pair_db: Numbers,
    array_matings: Numbers = 0,
    array_pair_db: Numbers = np.nan,
    splices: Numbers = 0,
    splice_db: Numbers = np.nan,
    other_db: Numbers = 0,
) -> Any:
    """Largest loss that the link may show [dB]: the parts of `loss_parts_db` and `other_db` added up."""
    parts = loss_parts_db(
        length_m, coefficient_db_per_km, matings, mated_pair_db, array_matings, array_pair_db, splices, splice_db
    )
    return parts.cable_db + parts.matings_db + parts.splices_db + _numbers(other_db)


def longest_length_m(
    budget_db: Numbers,
    coefficient_db_per_km: Numbers,
    matings: Numbers = 0,
    mated_pair_db: Numbers = np.nan,
    splices: Numbers = 0,
    splice_db: Numbers = np.nan,
    other_db: Numbers = 0,
) -> Any:
    """Length at which the sum reaches `budget_db` [m]; NaN where connections and splices alone exceed it.

    The same sum solved for the length: (budget - matings - splices - other) / coefficient x 1000.
    """
    fixed_db = allowed_db(0, 0, matings, mated_pair_db, splices=splices, splice_db=splice_db, other_db=other_db)
    left_db = _numbers(budget_db) - fixed_db
    with np.errstate(divide="ignore", invalid="ignore"):
        length_m = left_db / _numbers(coefficient_db_per_km) * 1000
    return np.where(left_db < 0, np.nan, length_m)[()]


def matings_in_reading(mated_pairs: Numbers, plug_ends: Numbers, reference: Any) -> Any:
    """Matings whose loss stands in a reading: mated pairs + plug ends - cords that the reference takes out.

    Args:
        mated_pairs: matings of the link, those at panel and jack ends included.
        plug_ends: ends that are plugs; each adds one mating with the test cord.
        reference: "one-cord", "two-cord" or "three-cord", or an array of these.

    Returns:
        The count; NaN where the reference is missing. A negative count means that such a reference cannot be used with
        such ends; whoever judges must say so.

    Source: rows RM-ONE, RM-TWO, RM-THREE of reference_methods.csv.
    """
    named = np.asarray(reference, dtype=object)
    cords = np.full(named.shape, np.nan)
    for name, count in reference_cords().items():
        cords = np.where(named == name, count, cords)
    return _numbers(mated_pairs) + _numbers(plug_ends) - cords[()]


def reference_cords(values: standards.Values | None = None) -> dict[str, int]:
    """Cords (end matings) that each reference method takes out of the reading."""
    rows = (values or standards.load()).rows("references")
    return {row["reference"]: row["cords_subtracted"] for row in rows if row["document"] is None}


def expand_ends(end_a: Any, end_b: Any, values: standards.Values | None = None) -> EndCounts:
    """Counts that two ends bring, from end_types.csv; end types or arrays of them, NaN where one is missing."""
    rows = (values or standards.load()).rows("ends")
    ends = [np.asarray(end, dtype=object) for end in (end_a, end_b)]

    def count(column: str) -> Any:
        total = np.zeros(np.broadcast_shapes(ends[0].shape, ends[1].shape))
        for end in ends:
            one = np.full(end.shape, np.nan)
            for row in rows:
                one = np.where(end == row["end_type"], row[column], one)
            total = total + one
        return total[()]

    return EndCounts(*(count(column) for column in EndCounts._fields))


def _numbers(value: Numbers) -> Any:
    return np.asarray(value, dtype=np.float64)[()]


def _part(count: Any, each_db: Numbers) -> Any:
    """Count x allowance [dB]; a component that is not there costs nothing, whatever its allowance."""
    return np.where(count == 0, 0.0, count * _numbers(each_db))[()]
