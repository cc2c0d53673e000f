"""Columns that number the strands of an array by one of its ends: `Position A`, `Fiber at end B`.

A strand is called by its position at end A. A row that states only that of end B is called `TB-1-B12`: which strand
that is, the polarity of the cable tells, and reading a file knows none.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from analyzer.importing.blocks import Block
from analyzer.importing.columns import Use
from analyzer.importing.words import folded, word

_NUMBER = re.compile(r"[0-9]{1,4}")


def numbers_positions(use: Use) -> bool:
    """Whether a column of end labels is headed as positions; ports are not, for panels number their own."""
    return use.role in {"end A label", "end B label"} and any(
        word("position word", one) for one in folded(use.heading).split()
    )


def position_numbers(texts: Sequence[str]) -> np.ndarray:
    """Position for each distinct text of a column; NaN where it is no plain number."""
    return np.asarray([float(text) if _NUMBER.fullmatch(text.strip()) else np.nan for text in texts])


def strands_by_position(block: Block, uses: list[Use], rows: np.ndarray) -> np.ndarray | None:
    """Strand of each row by its position at end A, `B` and the position where only end B has one; None without such."""
    found = np.full(len(rows), "", dtype=object)
    for use in sorted((use for use in uses if numbers_positions(use)), key=lambda use: use.role):
        column = block.sheet.columns[use.col]
        mark = "B" if use.role == "end B label" else ""
        names = [f"{mark}{int(number)}" if number > 0 else "" for number in position_numbers(column.texts)]
        found = np.where(found == "", np.asarray(names, dtype=object)[column.at(rows)], found)
    return found if (found != "").any() else None


__all__ = ["numbers_positions", "position_numbers", "strands_by_position"]
