"""Limits of twisted pair over frequency: which lines hold for a parameter, and their value at any point.

`limit` answers with one number; where something that decides is not settled (candidates in doubt, a consolidation
point nobody mentioned, an environment) it takes the stricter. `limit_lines` keeps those possibilities apart.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import product
from typing import Any, Final

import numpy as np

from analyzer.errors import OptionError, StandardsError
from analyzer.schema import CATEGORIES
from analyzer.standards.describe import is_unconfirmed
from analyzer.standards.editions import PAIR_EDITIONS, edition_row, pair_editions
from analyzer.standards.expressions import Expression, Floats, compile_expression
from analyzer.standards.lookups import pair_rows
from analyzer.standards.tables import CONDITIONS, PAIR_PARAMETERS, Row
from analyzer.standards.values import Values, load
from analyzer.standards.words import known_conditions, known_grade, known_word, words_of

EDGE_TOLERANCE: Final = 1e-6
"""Relative: 500.0004 MHz still belongs to a range that ends at 500 MHz."""

_DOUBT_ORDER: Final = ("own", "read", "secondary", "derived", "memory")
_GRID_POINTS: Final = 4096
"""Longer grids are computed each time: what is remembered must stay small."""


@dataclass(frozen=True, eq=False)
class LimitLine:
    """One limit over frequency, under one candidate and one set of conditions; made of one or several pieces."""

    parameter: str
    grade: str
    configuration: str
    standard: str
    edition: str
    """The edition that was asked for; its `rows` may stand in the edition that it leaves standing."""
    candidate: str | None
    """Letter of the rows that are in doubt here; None where nothing is."""
    conditions: tuple[str, ...]
    """What must be true of the link for this line to hold; empty: it always holds."""
    rows: tuple[Row, ...]
    """The value rows, one for each piece, by rising frequency."""

    @property
    def row_ids(self) -> tuple[str, ...]:
        """Row ids of the pieces."""
        return tuple(row["row_id"] for row in self.rows)

    @property
    def sense(self) -> str:
        """Ceiling ("max") or floor ("min")."""
        return str(self.rows[0]["sense"])

    @property
    def unit(self) -> str:
        """Unit: dB, ns or ohm."""
        return str(self.rows[0]["unit"])

    @property
    def cap(self) -> float | None:
        """Where the limit stops: highest floor, or lowest ceiling; None where it does not, or differs by piece."""
        caps = {row["cap"] for row in self.rows}
        return caps.pop() if len(caps) == 1 else None

    @property
    def how_known(self) -> str:
        """The weakest of its rows: read, secondary, derived or memory."""
        return max((str(row["how_known"]) for row in self.rows), key=_DOUBT_ORDER.index)

    @property
    def in_doubt(self) -> bool:
        """Another candidate contradicts it."""
        return self.candidate is not None

    @property
    def governs(self) -> bool:
        """Strong enough for a verdict; False where the rows are too weakly known."""
        return all(row["governs"] for row in self.rows)

    @property
    def holds_for(self) -> str | None:
        """Cabling that it holds for, "screened" or "unscreened"; None for both."""
        return next((row["holds_for"] for row in self.rows if row["holds_for"]), None)

    @property
    def is_dc(self) -> bool:
        """A limit on resistance: no frequency belongs to it."""
        return bool(self.rows[-1]["freq_max_mhz"] == 0)

    @property
    def freq_min_mhz(self) -> float:
        """Lowest frequency [MHz]; 0 for d.c."""
        return float(self.rows[0]["freq_min_mhz"])

    @property
    def freq_max_mhz(self) -> float:
        """Highest frequency [MHz]; 0 for d.c."""
        return float(max(row["freq_max_mhz"] for row in self.rows))

    @property
    def names(self) -> frozenset[str]:
        """Variables that stand in it: f, r_loop, r_pairs."""
        return frozenset().union(*(expression.names for expression in self._expressions))

    @cached_property
    def _expressions(self) -> tuple[Expression, ...]:
        return tuple(_compiled(row) for row in self.rows)

    def is_unconfirmed(self, confirmed: Collection[str] = ()) -> bool:
        """One of its rows is recalled or derived and not in `confirmed` (row ids)."""
        return any(is_unconfirmed(row, confirmed) for row in self.rows)

    def at(self, frequency_mhz: Any = None, *, r_loop_ohm: Any = None, r_pairs_ohm: Any = None) -> Any:
        """The limit [`unit`], NaN outside its range: a float for numbers, else float64 in the shape of the arrays.

        Where pieces share a frequency the stricter holds; range ends tolerate 1e-6 of themselves. A repeated grid of
        frequencies is computed once. A limit on resistance takes no frequency.

        Args:
            frequency_mhz: number or array [MHz].
            r_loop_ohm: loop resistance of the pair [ohm], for `resistance unbalance`.
            r_pairs_ohm: sum of the parallel resistances of two pairs [ohm], for unbalance pair to pair.

        Raises:
            OptionError: the limit depends on the frequency and none is given.
        """
        if self.is_dc:
            return _plain(self._at_dc(frequency_mhz, r_loop_ohm, r_pairs_ohm))
        if frequency_mhz is None:
            return self._without_frequency()
        f = np.asarray(frequency_mhz, dtype=np.float64)
        if f.ndim and 16 <= f.size <= _GRID_POINTS:
            return _on_grid(self, f.tobytes()).reshape(f.shape).copy()
        return _plain(self._evaluate(f.reshape(-1)).reshape(f.shape))

    def extremes(self) -> tuple[float, float]:
        """Strictest and most generous value over its range [`unit`], for a reading that names no frequency.

        Looked for at the ends of every piece and at 2000 points between; each piece of the published lines rises or
        falls throughout, so its ends decide.
        """
        ends = [row[end] for row in self.rows for end in ("freq_min_mhz", "freq_max_mhz")]
        values = self.at(np.concatenate([ends, np.geomspace(self.freq_min_mhz, self.freq_max_mhz, 2000)]))
        low, high = float(np.nanmin(values)), float(np.nanmax(values))
        return (low, high) if self.sense == "max" else (high, low)

    def _at_dc(self, shape_of: Any, r_loop_ohm: Any, r_pairs_ohm: Any) -> Floats:
        row, expression = self.rows[0], self._expressions[0]
        r_loop = np.nan if r_loop_ohm is None else r_loop_ohm
        r_pairs = np.nan if r_pairs_ohm is None else r_pairs_ohm
        value = _capped(expression(r_loop=r_loop, r_pairs=r_pairs), row)
        return np.broadcast_to(value, np.broadcast_shapes(np.shape(value), np.shape(shape_of))).copy()

    def _without_frequency(self) -> float:
        if self.names or len({row["expression"] for row in self.rows}) > 1:
            raise OptionError(f"{self.parameter} has a limit that depends on the frequency; give frequency_mhz")
        return self.at(self.freq_min_mhz)  # type: ignore[no-any-return]  # a number in, a float out

    def _evaluate(self, f: Floats) -> Floats:
        """The limit at each of `f` (one dimension)."""
        out = np.full(f.shape, np.nan)
        with np.errstate(all="ignore"):
            for row, expression, inside in zip(self.rows, self._expressions, self._places(f), strict=True):
                out[inside] = _stricter(self.sense, out[inside], _capped(expression.at_frequencies(f[inside]), row))
        return out

    def _places(self, f: Floats) -> list[Any]:
        """Where `f` lies in the range of each piece: slices where the grid rises, which is several times quicker."""
        lows, highs = self._edges
        if (f[1:] >= f[:-1]).all():
            begins, ends = f.searchsorted(lows, "left").tolist(), f.searchsorted(highs, "right").tolist()
            return [slice(begin, end) for begin, end in zip(begins, ends, strict=True)]
        return [(f >= low) & (f <= high) for low, high in zip(lows, highs, strict=True)]

    @cached_property
    def _edges(self) -> tuple[Floats, Floats]:
        lows = np.array([row["freq_min_mhz"] for row in self.rows]) * (1 - EDGE_TOLERANCE)
        highs = np.array([row["freq_max_mhz"] for row in self.rows]) * (1 + EDGE_TOLERANCE)
        return lows, highs


def limit_lines(
    values: Values,
    *,
    parameter: str,
    grade: str,
    configuration: str,
    standard: str = "TIA",
    edition: str | None = None,
    candidate: str | Collection[str] | None = None,
    condition: str | Collection[str] | None = None,
) -> tuple[LimitLine, ...]:
    """Every line that may be the limit; one where nothing is open, none where no sourced limit stands.

    Args:
        values: the values in force.
        parameter: for example "NEXT", "insertion loss".
        grade: "5e", "6", "6A", "8" under TIA; "D", "E", "EA", "F", "FA" under ISO.
        configuration: "channel" or "permanent link".
        standard: family, "TIA" or "ISO".
        edition: for example "568.2-D"; None for the newest of the family.
        candidate: settles a doubt: letters ("a") or row ids; None keeps every candidate.
        condition: what is true of the link ("with consolidation point", "environment E1"); None keeps all lines.

    Raises:
        OptionError: a word that is not known here; the known ones are listed.
        StandardsError: an edition that is not known, or one that does not have this grade or configuration.
    """
    return _lines(
        values, known_word("parameter", parameter, PAIR_PARAMETERS), known_grade(grade),
        known_word("configuration", configuration, CATEGORIES["configuration"]),
        known_word("standard", standard, CATEGORIES["standard"]), edition, words_of(candidate),
        known_conditions(condition),
    )  # fmt: skip


def limit(
    parameter: str,
    *,
    grade: str,
    configuration: str,
    frequency_mhz: Any = None,
    standard: str = "TIA",
    edition: str | None = None,
    candidate: str | Collection[str] | None = None,
    condition: str | Collection[str] | None = None,
    r_loop_ohm: Any = None,
    r_pairs_ohm: Any = None,
    values: Values | None = None,
) -> Any:
    """The limit of a parameter: a float for a number, float64 for an array; NaN outside its range.

    Floors and ceilings alike are in dB (delay and skew ns, resistance ohm). Whatever is open, candidates in doubt or
    conditions that are not given, counts like a missing fact: the stricter is returned. NaN also where the standard
    is known to have no limit here, or no source for it was found.

    Args:
        parameter: for example "NEXT", "insertion loss".
        grade: "5e", "6", "6A", "8" under TIA; "D", "E", "EA", "F", "FA" under ISO.
        configuration: "channel" or "permanent link".
        frequency_mhz: number or array [MHz]; resistance needs none.
        standard: family, "TIA" or "ISO".
        edition: for example "568.2-D"; None for the newest of the family.
        candidate: letters or row ids of the candidates that hold; None for all.
        condition: what is true of the link; None where nobody said.
        r_loop_ohm: loop resistance of the pair [ohm], for resistance unbalance.
        r_pairs_ohm: sum of the parallel resistances of two pairs [ohm], for unbalance pair to pair.
        values: other values than those that come with the package.

    Raises:
        OptionError: a word that is not known here, or no frequency where one is needed.
        StandardsError: an edition that is not known, or one that does not have this grade or configuration.
    """
    lines = limit_lines(
        values or load(), parameter=parameter, grade=grade, configuration=configuration, standard=standard,
        edition=edition, candidate=candidate, condition=condition,
    )  # fmt: skip
    return strictest(lines, frequency_mhz, r_loop_ohm=r_loop_ohm, r_pairs_ohm=r_pairs_ohm)


def strictest(
    lines: Sequence[LimitLine], frequency_mhz: Any = None, *, r_loop_ohm: Any = None, r_pairs_ohm: Any = None
) -> Any:
    """The stricter of several lines at each frequency; NaN where none of them holds."""
    if not lines:
        return _plain(np.full(np.shape(frequency_mhz), np.nan))
    all_values = [line.at(frequency_mhz, r_loop_ohm=r_loop_ohm, r_pairs_ohm=r_pairs_ohm) for line in lines]
    strict = all_values[0]
    for other in all_values[1:]:
        strict = _stricter(lines[0].sense, strict, other)
    return _plain(strict)


def piece_at(row: Row, frequency_mhz: float) -> float:
    """What one value row alone gives at a frequency [unit of the row]; NaN outside its range."""
    piece = LimitLine(
        row["parameter"], row["grade"], row["configuration"], row["standard"], row["edition"], row["candidate"], (), (row,)
    )  # fmt: skip
    return float(piece.at(float(frequency_mhz)))


@lru_cache(maxsize=4096)
def _lines(
    values: Values,
    parameter: str,
    grade: str,
    configuration: str,
    standard: str,
    edition: str | None,
    candidates: tuple[str, ...],
    conditions: tuple[str, ...],
) -> tuple[LimitLine, ...]:
    chain = pair_editions(values, standard, edition)
    asked = edition_row(values, chain[0], PAIR_EDITIONS)
    grades = asked["grades"].split()
    if grade not in grades:
        raise StandardsError(_no_grade(values, asked, grade))
    of_grade = [row for row in pair_rows(values, standard, edition) if row["grade"] == grade]
    known = tuple(dict.fromkeys(row["configuration"] for row in of_grade))
    if configuration not in known:
        raise StandardsError(
            f"{asked['document']} has no limits of its own here for {configuration!r}; known are {', '.join(known)}"
        )
    rows = [row for row in of_grade if row["configuration"] == configuration and row["parameter"] == parameter]
    rows = [row for row in rows if _is_chosen(row, rows, candidates) and _may_hold(row, conditions)]
    return tuple(
        LimitLine(parameter, grade, configuration, standard, chain[0], letter, words, pieces)
        for letter, words, pieces in _separate(rows)
    )


def _no_grade(values: Values, asked: Row, grade: str) -> str:
    text = f"{asked['document']} has no grade {grade}; it has {asked['grades'].replace(' ', ', ')}"
    others = {row["standard"] for row in values.rows(PAIR_EDITIONS) if grade in row["grades"].split()}
    others -= {asked["standard"]}
    return f"{text}; give standard {others.pop()} for {grade}" if others else text


def _is_chosen(row: Row, rows: Sequence[Row], candidates: tuple[str, ...]) -> bool:
    """A candidate falls out only where a rival of its own doubt is named."""
    if row["candidate"] is None or not candidates:
        return True
    named = {rival["candidate"] for rival in rows if {rival["row_id"], rival["candidate"]} & set(candidates)}
    return not named or row["candidate"] in named


def _may_hold(row: Row, conditions: tuple[str, ...]) -> bool:
    if row["condition"] is None:
        return True
    group = next(group for group in CONDITIONS if row["condition"] in group)
    said = [word for word in conditions if word in group]
    return not said or row["condition"] in said


def _separate(rows: Sequence[Row]) -> Iterable[tuple[str | None, tuple[str, ...], tuple[Row, ...]]]:
    """One set of pieces for each candidate with each condition; pieces that always hold stand in every one."""
    if not rows:
        return
    letters = sorted({row["candidate"] for row in rows} - {None}) or [None]
    groups = [[word for word in group if any(row["condition"] == word for row in rows)] for group in CONDITIONS]
    for letter, *words in product(letters, *(group for group in groups if group)):
        pieces = [
            row
            for row in rows
            if row["candidate"] in {None, letter} and (row["condition"] is None or row["condition"] in words)
        ]
        yield letter, tuple(words), tuple(sorted(pieces, key=lambda row: float(row["freq_min_mhz"])))


def _compiled(row: Row) -> Expression:
    try:
        return compile_expression(row["expression"])
    except StandardsError as error:
        raise StandardsError(f"copper_limits.csv, line {row['line']}, row {row['row_id']}: {error}") from error


@lru_cache(maxsize=256)
def _on_grid(line: LimitLine, grid: bytes) -> Floats:
    """A line on a grid of frequencies; thousands of curves share one grid."""
    values = line._evaluate(np.frombuffer(grid, dtype=np.float64))  # noqa: SLF001 - the cache of this very method
    values.setflags(write=False)
    return values


def _capped(value: Floats, row: Row) -> Floats:
    """The value held at the cap of its row; what is not finite stays so, and nothing is judged by it."""
    if row["cap"] is None:
        return value
    held = np.minimum(value, row["cap"]) if row["sense"] == "min" else np.maximum(value, row["cap"])
    finite = np.isfinite(value)
    return held if finite.all() else np.where(finite, held, value)


def _stricter(sense: str, one: Any, other: Any) -> Any:
    """The lower ceiling or the higher floor; a NaN gives way to a number."""
    return np.fmin(one, other) if sense == "max" else np.fmax(one, other)


def _plain(value: Any) -> Any:
    """A float where there is one number, else the array."""
    return value if np.ndim(value) else float(value)
