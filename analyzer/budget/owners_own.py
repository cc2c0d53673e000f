"""The owner's own measurements set apart from the contractor's, so that they supersede nothing and decide no verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase

import numpy as np
import pandas as pd

from analyzer.budget.narrowed import narrowed
from analyzer.errors import NothingToJudge


@dataclass(frozen=True)
class OwnersOwn:
    """Records of the owner with their facts, readings and judgements, numbered from 0, and patterns that met no file."""

    records: pd.DataFrame
    facts: pd.DataFrame
    readings: pd.DataFrame
    judged: pd.DataFrame
    files: tuple[str, ...]
    """Names of the files."""
    without_file: tuple[str, ...]


def set_apart(
    tables: dict[str, pd.DataFrame], seeds: pd.DataFrame, names: Sequence[str], patterns: Sequence[str]
) -> tuple[dict[str, pd.DataFrame], pd.DataFrame, OwnersOwn | None]:
    """Tables and seeds without the owner's records, and those by themselves; None where the job names no such file.

    Args:
        tables: schema tables by name; `records` has the number of its `file`.
        seeds: code, record (-1: none), text.
        names: the name of each file, by number.
        patterns: shell patterns of the owner's files: of the whole name or of its last parts.

    Raises:
        NothingToJudge: all records are the owner's.
    """
    if not patterns:
        return tables, seeds, None
    hits = [[is_owners(name, [pattern]) for name in names] for pattern in patterns]
    of_file = np.any(hits, axis=0)
    owners = of_file[tables["records"]["file"].to_numpy()]
    if len(owners) and owners.all():
        raise NothingToJudge(
            "every record is one of the owner's own measurements ([audit] files in job.toml); add the contractor's exports"
        )
    without = tuple(pattern for pattern, hit in zip(patterns, hits, strict=True) if not any(hit))
    theirs, _ = narrowed(tables, seeds, owners)
    rest, told = narrowed(tables, seeds, ~owners)
    files = tuple(name for name, hit in zip(names, of_file, strict=True) if hit)
    own = OwnersOwn(theirs["records"], theirs["facts"], theirs["readings"], theirs["judged"], files, without)
    return rest, told, own


def owners_own_told(own: OwnersOwn | None) -> list[str]:
    """The sentence on what was set apart, for the rules in force."""
    if own is None or not own.files:
        return []
    records = "1 record" if len(own.records) == 1 else f"{len(own.records)} records"
    return [f"the owner's own measurements are compared and decide no verdict: {records} of {', '.join(own.files)}"]


def is_owners(name: str, patterns: Sequence[str]) -> bool:
    """Whether a pattern fits the whole name of a file or its last parts; upper and lower case are one."""
    plain = name.casefold()
    return any(fnmatchcase(plain, shape) for one in patterns for shape in (one.casefold(), f"*/{one.casefold()}"))
