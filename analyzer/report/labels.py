"""Labels as people read them: natural order, ranges, column letters. One place for all reports."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

_DIGITS = re.compile(r"(\d+)")


def natural_key(label: str) -> tuple[tuple[int, int, str], ...]:
    """Sort key that puts TB-2 before TB-10: runs of digits compare as numbers, the rest without regard to case.

    Labels equal in this sense (`01` and `1`) are kept apart by the text itself, so the order is always the same.
    """
    parts = _DIGITS.split(label.casefold())
    return (*((1, int(part), "") if part.isdecimal() else (0, 0, part) for part in parts), (2, 0, label))


def natural_order(labels: Iterable[str]) -> list[str]:
    """The labels in natural order."""
    return sorted(labels, key=natural_key)


def ranges(labels: Iterable[str], between: str = " … ") -> list[str]:
    """The labels in natural order, three or more consecutive ones as `first … last`.

    Consecutive means: the last run of digits counts up by one, what stands before and behind it is the same, and so is
    its number of digits unless the numbers have no leading zeros.
    """
    runs: list[list[str]] = []
    for label in natural_order(set(labels)):
        if runs and _follows(runs[-1][-1], label):
            runs[-1].append(label)
        else:
            runs.append([label])
    return [text for run in runs for text in _written(run, between)]


def _written(run: Sequence[str], between: str) -> list[str]:
    return list(run) if len(run) < 3 else [f"{run[0]}{between}{run[-1]}"]


def _follows(earlier: str, later: str) -> bool:
    before, after = _parts(earlier), _parts(later)
    if before is None or after is None or before[0] != after[0] or before[2] != after[2]:
        return False
    padded = "0" in (before[1][0], after[1][0])
    return int(after[1]) == int(before[1]) + 1 and (not padded or len(before[1]) == len(after[1]))


def _parts(label: str) -> tuple[str, str, str] | None:
    found = re.fullmatch(r"(.*?)(\d+)(\D*)", label, flags=re.DOTALL)
    return None if found is None else (found[1], found[2], found[3])


def column_letter(col: int) -> str:
    """Letter of a column as spreadsheets show it: 0 is A, 25 is Z, 26 is AA. Empty for a negative number."""
    letters = ""
    while col >= 0:
        col, rest = divmod(col, 26)
        letters = chr(ord("A") + rest) + letters
        col -= 1
    return letters
