"""The limit that the tester had loaded, beside the ordered one: the same, another, or none named.

A worst point is worst only against the limit that was loaded. What a margin to that limit proves about another limit is
the gap between the two, at its least and at its greatest over frequency.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer.budget.limit_names import families_of, read_limit_name
from analyzer.budget.pair_limits import PairLimits, PairOrder
from analyzer.budget.plain import distinct_rows, texts_of
from analyzer.budget.temperature import WarmLine
from analyzer.errors import StandardsError
from analyzer.standards import Values, resolve_edition
from analyzer.standards.editions import PAIR_EDITIONS
from analyzer.standards.lines import LimitLine

UNNAMED, SAME, OTHER = range(3)
"""What the export says of the loaded limit, against the ordered one."""

_GRID_POINTS = 1000


class Loaded(NamedTuple):
    """One loaded limit: what it is, and whether any limit stands here for it."""

    order: PairOrder
    named: bool
    known: bool


class Gap(NamedTuple):
    """How much easier one limit is than another over frequency [unit of the parameter], least and greatest."""

    least: float
    greatest: float


def loaded_of(records: pd.DataFrame, limits: PairLimits, values: Values) -> tuple[list[Loaded], np.ndarray]:
    """The distinct loaded limits of a file, and the number of that of each record.

    The name of the limit is asked first, then the export's own columns of grade, configuration, family and edition;
    where those say no configuration the ordered one is taken.
    """
    said = [texts_of(records[name]) for name in ("declared_limit", *PairOrder._fields)]
    number, first = distinct_rows(*said, limits.order_numbers)
    rows = zip(*(column[first] for column in said), limits.order_numbers[first], strict=True)
    return [_loaded(name, PairOrder(*columns), limits.orders[order], values) for name, *columns, order in rows], number


def _loaded(text: str, columns: PairOrder, ordered: PairOrder, values: Values) -> Loaded:
    name = read_limit_name(text, values)
    grade = name.grade or ("" if text and not name.says_something else columns.grade)
    named = bool(text or grade)
    families = families_of(values, grade) if grade else ()
    told = name.standard or columns.standard
    standard = told if told in families else next(iter(families), "")
    edition = name.edition or _edition(columns, standard, values)
    if not edition and standard == ordered.standard:
        edition = ordered.edition
    configuration = name.configuration or columns.configuration or ordered.configuration
    return Loaded(PairOrder(standard, edition, grade, configuration), named, bool(grade) and not name.other)


def _edition(columns: PairOrder, standard: str, values: Values) -> str:
    if not (columns.edition and standard):
        return ""
    try:
        return resolve_edition(values, standard, columns.edition, PAIR_EDITIONS)
    except StandardsError:
        return ""


def relation(loaded: Loaded, lines: Sequence[LimitLine], of_loaded: Sequence[LimitLine], ordered: PairOrder) -> int:
    """Whether the loaded limit of one parameter is the ordered one."""
    if not loaded.named:
        return UNNAMED
    if not loaded.known or any(isinstance(line, WarmLine) for line in lines):
        return OTHER  # a limit that was moved to another temperature is not the one that was loaded
    if loaded.order == ordered or {line.row_ids for line in lines} == {line.row_ids for line in of_loaded}:
        return SAME
    return OTHER


def gap(loaded: Sequence[LimitLine], wanted: Sequence[LimitLine]) -> Gap:
    """How much easier the wanted limit is than the loaded one, over all possibilities of both.

    A reading with margin m to the loaded limit has at least m + least to the wanted one, and at some frequency no more
    than m + greatest. Where the loaded limit does not cover the wanted range nothing is proved: least is -inf.
    """
    if not loaded or not wanted:
        return Gap(-np.inf, np.inf)
    each = [_gap(one, other) for one in loaded for other in wanted]
    return Gap(min(one.least for one in each), max(one.greatest for one in each))


@lru_cache(maxsize=1024)
def _gap(loaded: LimitLine, wanted: LimitLine) -> Gap:
    if loaded.sense != wanted.sense:
        return Gap(-np.inf, np.inf)
    over = loaded if wanted.is_dc else wanted
    if over.is_dc:
        f = np.array([1.0])
    else:
        ends = [row[end] for line in (loaded, wanted) for row in line.rows for end in ("freq_min_mhz", "freq_max_mhz")]
        grid = np.geomspace(over.freq_min_mhz, over.freq_max_mhz, _GRID_POINTS)
        f = np.concatenate([[end for end in ends if over.freq_min_mhz <= end <= over.freq_max_mhz], grid])
    easier = loaded.at(f) - wanted.at(f)
    easier = easier if wanted.sense == "min" else -easier
    known = easier[~np.isnan(easier)]
    if not len(known):
        return Gap(-np.inf, np.inf)
    return Gap(-np.inf if len(known) < len(easier) else float(known.min()), float(known.max()))
