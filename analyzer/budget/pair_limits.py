"""The limits of twisted pair that govern each record: which lines, which exemptions, and where they come from.

`PairLimits` settles one question per distinct order (standard, edition, grade, configuration) and answers for every
record by its position. Where something that decides is open (candidates in doubt, a condition that nobody stated) a
parameter has several lines, one for each possibility; so too where no configuration is stated. Every limit that is used gets a number and a row of `limits`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.limit_names import families_of
from analyzer.budget.plain import distinct_rows, texts_of
from analyzer.errors import OptionError, StandardsError
from analyzer.job import Job, Limit
from analyzer.standards import Values, is_unconfirmed, pair_exemptions, pair_length
from analyzer.standards.lines import LimitLine, limit_lines
from analyzer.standards.tables import PAIR_PARAMETERS, Row

LENGTH = "length"
_FOLLOWS_LOSS = ("ACR-N", "PSACR-N")
"""Limits made of those of crosstalk and insertion loss: a settled doubt about insertion loss settles theirs."""


UNSTATED = ("channel", "permanent link")
"""What a configuration that nobody states may be; plug-ended ones are judged by one of these."""


class PairOrder(NamedTuple):
    """What one twisted-pair record is judged by; "" where nothing is said."""

    standard: str
    edition: str
    grade: str
    configuration: str


class Governing(NamedTuple):
    """Whose limits are used for an order."""

    configurations: tuple[str, ...]
    """The configurations whose limits are used: several where none is stated, none where no limit can be looked up."""
    nearest: Row | None
    """Row that says why another configuration's limits are used; None where it is the ordered one."""
    problem: str
    """Why no limit can be looked up, as part of a sentence; "" where one can."""


@dataclass(frozen=True)
class PairLimits:
    """Limits and exemptions of every twisted-pair record of a file."""

    facts: pd.DataFrame
    """Schema `facts`, m rows; records are asked for by position."""
    job: Job
    values: Values

    def lines(self, at: int, parameter: str) -> tuple[LimitLine, ...]:
        """Every line that may be the limit of this record's parameter; none where no sourced limit governs.

        Lines that are too weakly known to govern are left out. The limit of `length` is the longest link [m].
        """
        return self.lines_of(self.order_of(at), parameter)

    def exemptions(self, at: int, parameter: str) -> tuple[Row, ...]:
        """Rules that hold for this record's parameter: those of its edition that the job has not switched off.

        Where limits stop (caps and floors) is part of the lines and stands here no more.
        """
        order = self.order_of(at)
        key = ("exemptions", order, parameter)
        if key not in self._known:
            self._known[key] = self._exemptions_of(order, parameter)
        return self._known[key]

    def lines_of(self, order: PairOrder, parameter: str) -> tuple[LimitLine, ...]:
        """Every line that may be the limit of a parameter under an order that no record of the file need have."""
        key = ("order", order, parameter)
        if key not in self._known:
            used = self.governing_order(order).configurations
            self._known[key] = tuple(line for name in used for line in self._lines_of(order, name, parameter))
        return self._known[key]

    def own_lines(self, parameter: str) -> tuple[LimitLine, ...]:
        """The owner's own limits of a parameter: each of them holds beside `lines`, the stricter decides.

        They are constants without a frequency (`is_dc`): `at(frequencies)` gives the number in their shape.
        """
        if ("own", parameter) not in self._known:
            self._known["own", parameter] = tuple(
                line for own in self.job.limits if own.parameter == parameter for line in _own_lines(own)
            )
        return self._known["own", parameter]

    def order_of(self, at: int) -> PairOrder:
        """What the record is judged by."""
        return self.orders[int(self._order_at[at])]

    def governing(self, at: int) -> Governing:
        """Whose limits are used for the record."""
        return self.governing_order(self.order_of(at))

    def governing_order(self, order: PairOrder) -> Governing:
        """Whose limits are used for an order."""
        if ("governing", order) not in self._known:
            self._known["governing", order] = (_governing(order, self.values),)
        governing: Governing = self._known["governing", order][0]
        return governing

    def limit_id(self, line: LimitLine) -> int:
        """Number of a line in the table of `limits()`; the same line has one number."""
        key = (line.row_ids, line.grade, line.configuration, line.edition)
        if key not in self._numbers:
            self._numbers[key] = len(self._numbers)
            self._used.append(line)
        return self._numbers[key]

    def limits(self) -> pd.DataFrame:
        """Schema `limits`: every line that was numbered, from 0."""
        rows = [_limit_row(number, line, self.job.confirmed) for number, line in enumerate(self._used)]
        return schema.conform("limits", pd.DataFrame(rows))

    @property
    def orders(self) -> list[PairOrder]:
        """The distinct orders of the file."""
        return self._distinct[0]

    @property
    def order_numbers(self) -> np.ndarray:
        """Number of the order of each record in `orders`, m integers."""
        return self._order_at

    @property
    def _order_at(self) -> np.ndarray:
        return self._distinct[1]

    @cached_property
    def _distinct(self) -> tuple[list[PairOrder], np.ndarray]:
        said = [texts_of(self.facts[name]) for name in PairOrder._fields]
        number, first = distinct_rows(*said)
        return [PairOrder(*row) for row in zip(*(column[first] for column in said), strict=True)], number

    @cached_property
    def _known(self) -> dict[tuple[object, ...], tuple[Any, ...]]:
        return {}

    @cached_property
    def _numbers(self) -> dict[tuple[object, ...], int]:
        return {}

    @cached_property
    def _used(self) -> list[LimitLine]:
        return []

    def _lines_of(self, order: PairOrder, configuration: str, parameter: str) -> tuple[LimitLine, ...]:
        if parameter == LENGTH:
            return _length_lines(order, configuration, self.values)
        if parameter not in PAIR_PARAMETERS:
            return ()
        found = limit_lines(
            self.values, parameter=parameter, grade=order.grade, configuration=configuration,
            standard=order.standard, edition=order.edition or None, condition=self.job.conditions.words,
            candidate=self._candidate(order.grade, configuration, parameter),
        )  # fmt: skip
        return tuple(line for line in found if line.governs)

    def _candidate(self, grade: str, configuration: str, parameter: str) -> str | None:
        asked = [parameter, "insertion loss"] if parameter in _FOLLOWS_LOSS else [parameter]
        chosen = {name.casefold(): letter for name, letter in self.job.candidates.items()}
        names = (candidate_name(grade, configuration, name).casefold() for name in asked)
        return next((chosen[name] for name in names if name in chosen), None)

    def _exemptions_of(self, order: PairOrder, parameter: str) -> tuple[Row, ...]:
        if self.governing_order(order).problem:
            return ()
        rows = pair_exemptions(
            self.values, grade=order.grade, standard=order.standard, edition=order.edition or None, parameter=parameter
        )
        return tuple(row for row in rows if row["setting"] and self.job.exemptions.holds(row["setting"]))


def candidate_name(grade: str, configuration: str, parameter: str) -> str:
    """How a limit in doubt is named under [candidates]: "6A permanent link insertion loss"."""
    return f"{grade} {configuration} {parameter}"


def check_candidates(job: Job, values: Values) -> None:
    """Refuse a name under [candidates] that is no limit in doubt, or a letter that it does not have.

    Raises:
        StandardsError: the name or the letter; those that are known are listed.
    """
    known: dict[str, set[str]] = {}
    for row in values.rows("copper_limits") if job.candidates else ():
        if row["candidate"]:
            name = candidate_name(row["grade"], row["configuration"], row["parameter"])
            known.setdefault(name, set()).add(row["candidate"])
    letters = {name.casefold(): sorted(found) for name, found in known.items()}
    for name, letter in job.candidates.items():
        if name.casefold() not in letters:
            raise StandardsError(f'candidates."{name}" is no limit in doubt; those are {", ".join(known)}')
        if letter not in letters[name.casefold()]:
            has = ", ".join(letters[name.casefold()])
            raise StandardsError(f'candidates."{name}" is {letter!r}; its candidates are {has}')


def _governing(order: PairOrder, values: Values) -> Governing:
    if not order.grade:
        return Governing((), None, "no grade is stated")
    if order.standard not in families_of(values, order.grade):
        return Governing((), None, f"{order.standard} has no grade {order.grade}")
    asked = (order.configuration,) if order.configuration else UNSTATED
    own = tuple(name for name in asked if not _why_no_limits(order, name, values))
    if own:
        return Governing(own, None, "")
    row = next(
        (row for row in values.rows("copper_configurations") if row["configuration"] == order.configuration), None
    )
    problem = _why_no_limits(order, row["nearest"] if row else asked[0], values)
    return Governing((), None, problem) if problem or row is None else Governing((row["nearest"],), row, "")


def _why_no_limits(order: PairOrder, configuration: str, values: Values) -> str:
    """Why an edition has no limits for a configuration, as a sentence; "" where it has."""
    try:
        limit_lines(
            values, parameter="insertion loss", grade=order.grade, configuration=configuration,
            standard=order.standard, edition=order.edition or None,
        )  # fmt: skip
    except (StandardsError, OptionError) as error:
        return str(error)
    return ""


def _length_lines(order: PairOrder, configuration: str, values: Values) -> tuple[LimitLine, ...]:
    row = pair_length(values, grade=order.grade, configuration=configuration, standard=order.standard)
    if row is None:
        return ()
    return (_constant(LENGTH, row["max_length_m"], "max", row, order, configuration),)


def _own_lines(own: Limit) -> list[LimitLine]:
    """An owner's limit as lines: a ceiling, a floor, or both."""
    row = {"row_id": "job.toml:limits", "document": own.source, "how_known": "own", "about": own.name, "own": own}
    nothing = PairOrder("", "", "", "")
    sides = ((own.ceiling, "max"), (own.floor, "min"))
    return [_constant(own.parameter, number, side, row, nothing, "") for number, side in sides if number is not None]


def _constant(
    parameter: str, number: float, sense: str, origin: Row, order: PairOrder, configuration: str
) -> LimitLine:
    """A limit that is one number, wherever it comes from."""
    row = {
        **origin, "parameter": parameter, "freq_min_mhz": 0.0, "freq_max_mhz": 0.0, "expression": repr(float(number)),
        "sense": sense, "unit": schema.UNIT_OF_PARAMETER.get(parameter, "dB"), "cap": None, "condition": None,
        "holds_for": None, "governs": True, "candidate": None, "number": float(number),
    }  # fmt: skip
    return LimitLine(parameter, order.grade, configuration, order.standard, order.edition, None, (), (row,))


def _limit_row(number: int, line: LimitLine, confirmed: object) -> dict[str, object]:
    """One row of schema `limits`."""
    first = line.rows[0]
    if "own" in first:
        side = "at most" if line.sense == "max" else "at least"
        text = f"{first['about']}: {side} {first['number']:g} {line.unit}".rstrip() + f" ({first['document']})"
        return {"limit_id": number, "rows": first["row_id"], "document": first["document"], "how_known": "own",
                "confirmed": True, "text": text}  # fmt: skip
    unconfirmed = any(is_unconfirmed(row, confirmed) for row in line.rows)  # type: ignore[arg-type]  # names of rows
    documents = " and ".join(dict.fromkeys(row["document"] for row in line.rows))
    return {
        "limit_id": number, "rows": " ".join(line.row_ids), "standard": line.standard, "document": documents,
        "edition": line.edition, "how_known": line.how_known, "confirmed": not unconfirmed,
        "text": f"{_text(line)} ({line.how_known}{', unconfirmed' if unconfirmed else ''}) [{' '.join(line.row_ids)}]",
    }  # fmt: skip


def _text(line: LimitLine) -> str:
    """The line in words: what it is about, then each of its pieces."""
    words = [f"{line.rows[0]['document']}: {line.grade} {line.configuration} {line.parameter}", *line.conditions]
    words += [f"candidate {line.candidate}"] if line.candidate else []
    side = "at most" if line.sense == "max" else "at least"
    if line.parameter == LENGTH:
        return f"{', '.join(words)}: {side} {line.rows[0]['number']:g} m"
    pieces = [f"{row['expression']} {row['unit']}{_range(row)}" for row in line.rows]
    return f"{', '.join(words)}: {side} {'; '.join(pieces)}"


def _range(row: Row) -> str:
    return f" from {row['freq_min_mhz']:g} to {row['freq_max_mhz']:g} MHz" if row["freq_max_mhz"] else ""
