"""What is printed beside values: limits, margins and verdicts, each given to the value column that it belongs to.

Beside a blank value a margin or a verdict is all that is told of a reading: it stands in for the value. What stands
beside no value at all is told, never passed over.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer.importing import facts
from analyzer.importing.blocks import Block
from analyzer.importing.cells import NO_BOUND
from analyzer.importing.columns import Use
from analyzer.importing.companions import companion
from analyzer.importing.distinct import codes_at, constant, present
from analyzer.importing.fact_columns import is_of_record, tells_no_verdict
from analyzer.importing.parsed import PARAMETERS, PROBLEMS, Parsed, factors, parse_column, stated_unit, unit_inside
from analyzer.importing.words import plain, units, word
from analyzer.schema import CATEGORIES

PRINTED = ("margin", "limit", "verdict")
"""Roles of columns that stand beside values."""
_NOT_MEASURED = PROBLEMS.index("not-measured")
_VERDICTS = {text: code for code, text in enumerate(CATEGORIES["declared_verdict"])}
_ROUNDING = 1e-9


@dataclass(frozen=True)
class StandIn:
    """Margins or verdicts that stand in for blank values of one column."""

    use: Use
    """The value column with the place of the margin or verdict."""
    of: Use
    """The value column itself."""
    at: np.ndarray
    """Data rows where it does."""
    parsed: Parsed | None
    """What the cells say where they hold verdicts; None where they hold margins."""


class Beside:
    """The columns of one block that stand beside values."""

    def __init__(
        self, block: Block, uses: list[Use], values: list[Use], rows: np.ndarray, mark: str | None,
        lose: Callable[[np.ndarray, Use, str], None],
    ) -> None:  # fmt: skip
        """`values` are all columns of readings, `rows` the data rows; `lose` sets cells of some data rows aside."""
        self.block, self.values, self.rows, self.mark, self.lose = block, values, rows, mark, lose
        readings = {use.col for use in values}
        self.others = {role: [use for use in uses if use.role == role and use.col not in readings] for role in PRINTED}
        self.claimed: set[int] = set()
        """Columns that belong to some value."""
        self._told: dict[int, np.ndarray] = {}
        """Of each such column, the data rows whose cell was set aside."""
        self._used: dict[int, np.ndarray] = {}
        """Of each such column, the data rows whose cell stands beside a value, or in its place."""

    def of(self, use: Use, role: str) -> Use | None:
        """The limit, margin or verdict column of a value column."""
        found = companion(use, self.others[role], self.values)
        if found is not None:
            self.claimed.add(found.col)
        return found

    def numbers(
        self, use: Use, role: str, at: np.ndarray, parameter: np.ndarray, row_unit: np.ndarray
    ) -> np.ndarray:  # fmt: skip
        """Limits or margins printed beside the values of some data rows, in the unit inside; NaN where none is.

        The unit of the row is theirs too.
        """
        found = np.full(len(at), math.nan)
        column = self.of(use, role)
        if column is None:
            return found
        self._use(column, at)
        parsed = self._parsed(column, at)
        written = parsed.unit if column.unit else stated_unit(parsed.unit, row_unit)
        told = present(parameter)
        for code in told:
            inside = unit_inside(PARAMETERS[code])
            default = units().get(plain(column.unit), column.unit) or inside
            good = parsed.problem == 0 if len(told) == 1 else (parsed.problem == 0) & (parameter == code)
            found = np.where(good, parsed.value * factors(written, default, inside), found)
        self._lose(at[parsed.filled & (parsed.problem > _NOT_MEASURED)], column, "not-a-fact")
        return found

    def verdicts(self, use: Use, at: np.ndarray) -> np.ndarray:
        """Codes of the verdicts printed beside the values of some data rows; -1 where none is."""
        column = self.of(use, "verdict")
        if column is None:
            return np.full(len(at), -1, dtype=np.int8)
        if not is_of_record(column):  # those of the record tell their odd cells themselves
            self._use(column, at)
            self._lose(at[self._no_verdict(column)[codes_at(self._codes(column), at)]], column, "unclear-verdict")
        return np.asarray(self._verdict_codes(column)[codes_at(self._codes(column), at)])

    def stand_ins(self, use: Use, no_value: np.ndarray) -> list[StandIn]:
        """Margins, else verdicts, that are all that is told of a reading whose value is blank.

        Args:
            use: a value column.
            no_value: of each data row, whether its cell is blank or says that nothing was measured.
        """
        found = []
        margin, limit, verdict = (self.of(use, role) for role in PRINTED)
        open_rows = no_value.copy()
        if margin is not None:
            at = self._beside_blanks(use, margin, open_rows)
            parsed = self._parsed(margin, at)
            number = parsed.problem == 0
            if limit is not None:
                self._use(limit, at[number])  # it goes with its margin
            of_blank = number & self._is_limit(limit, at, parsed.value)
            self._lose(at[of_blank], margin, "margin-of-blank")
            open_rows[at[number]] = False
            found.append(StandIn(self._placed(use, margin), use, at[number & ~of_blank], None))
            blank = self._codes(use) == 0
            self._lose(at[parsed.filled & (parsed.problem > _NOT_MEASURED) & blank[at]], margin, "not-a-fact")
        if verdict is not None and not is_of_record(verdict):
            at = self._beside_blanks(use, verdict, open_rows)
            codes = self._verdict_codes(verdict)[codes_at(self._codes(verdict), at)]
            open_rows[at[codes >= 0]] = False
            at, codes = at[codes >= 0], codes[codes >= 0]
            found.append(StandIn(self._placed(use, verdict), use, at, _only_verdicts(codes)))
        return [one for one in found if len(one.at)]

    def leftovers(self, named: np.ndarray) -> None:
        """Set aside what is printed beside blanks alone and stands in for nothing; beside a cell set aside it goes with it.

        `named`: of each data row, whether it has a label.
        """
        for role in PRINTED:
            for other in self.others[role]:
                if other.col not in self.claimed or (role == "verdict" and is_of_record(other)) or other in self.values:
                    continue
                alone = (
                    named
                    & (self._codes(other) != 0)
                    & ~self._marks(self._used, other)
                    & ~self._marks(self._told, other)
                )
                for value in self._sharing(other) if alone.any() else []:
                    alone &= self._codes(value) == 0
                if alone.any():
                    silent = np.asarray(
                        [bool(word("not measured", text) or word("no verdict", text)) for text in self._texts(other)]
                    )
                    self._lose(np.flatnonzero(alone & ~silent[self._codes(other)]), other, "beside-a-blank")

    def unclaimed(self) -> list[Use]:
        """Columns of limits, margins and verdicts that belong to no value and say nothing of the whole record."""
        return [
            use
            for role in PRINTED
            for use in self.others[role]
            if use.col not in self.claimed and use not in self.values and not (role == "verdict" and is_of_record(use))
        ]

    def _codes(self, use: Use) -> np.ndarray:
        return self.block.sheet.columns[use.col].at(self.rows)

    def _lose(self, at: np.ndarray, use: Use, code: str) -> None:
        """Set cells aside, each once, though they stand beside several values."""
        told = self._marks(self._told, use)
        at = at[~told[at]]
        told[at] = True
        self.lose(at, use, code)

    def _use(self, use: Use, at: np.ndarray) -> None:
        self._marks(self._used, use)[at] = True

    def _marks(self, of: dict[int, np.ndarray], use: Use) -> np.ndarray:
        """Marks of the data rows of a column, to be written to."""
        return of.setdefault(use.col, np.zeros(len(self.rows), dtype=bool))

    def _texts(self, use: Use) -> Sequence[str]:
        return self.block.sheet.columns[use.col].texts

    def _parsed(self, use: Use, at: np.ndarray) -> Parsed:
        return parse_column(self.block.sheet.columns[use.col], codes_at(self.rows, at), self.mark)

    def _beside_blanks(self, use: Use, other: Use, no_value: np.ndarray) -> np.ndarray:
        """Data rows where a column is filled and no value that it belongs to is; each is given out once."""
        alone = no_value & (self._codes(other) != 0)
        if not alone.any():
            return np.flatnonzero(alone)
        for value in self._sharing(other):
            if value is not use:
                alone &= self._codes(value) == 0
        alone &= ~self._marks(self._used, other)
        at = np.flatnonzero(alone)
        self._use(other, at)
        return at

    def _sharing(self, other: Use) -> list[Use]:
        """Value columns that a limit, margin or verdict column belongs to; a margin alone has no margin beside it."""
        others = self.others[other.role]
        values = [value for value in self.values if not (other.role == "margin" and value.about == "margin")]
        return [value for value in values if companion(value, others, self.values) is other]

    def _is_limit(self, limit: Use | None, at: np.ndarray, margin: np.ndarray) -> np.ndarray:
        """Whether a margin is as large as the limit: worked out with nothing in the place of the blank value."""
        if limit is None:
            return np.zeros(len(at), dtype=bool)
        parsed = self._parsed(limit, at)
        return np.asarray((parsed.problem == 0) & (np.abs(np.abs(margin) - np.abs(parsed.value)) <= _ROUNDING))

    def _placed(self, use: Use, other: Use) -> Use:
        """The value column of which only the margin or verdict is filled, at the place of that."""
        several = len(self._sharing(other)) > 1
        return replace(
            use, col=other.col, heading=other.heading, parameter="loss" if use.parameter == "power" else use.parameter,
            unit=other.unit or ("" if use.unit == "dBm" else use.unit),
            direction="" if several else use.direction, end="" if several else use.end,
        )  # fmt: skip

    def _verdict_codes(self, use: Use) -> np.ndarray:
        said = [_VERDICTS.get(facts.verdict(text), -1) for text in self._texts(use)]
        return np.asarray(said, dtype=np.int8)

    def _no_verdict(self, use: Use) -> np.ndarray:
        """Of each distinct text, whether it says something that is no verdict."""
        each = np.asarray([not facts.verdict(text) for text in self._texts(use)], dtype=np.bool_)
        return np.asarray(each & ~tells_no_verdict(self._texts(use)))


def _only_verdicts(codes: np.ndarray) -> Parsed:
    size = len(codes)
    return Parsed(
        np.ones(size, dtype=bool), np.full(size, math.nan), constant(NO_BOUND, size, np.int8),
        constant(-1, size, np.int8), constant("", size, object), np.zeros(size, np.int8), codes,
    )  # fmt: skip
