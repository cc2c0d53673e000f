"""End connections against reference-grade cords: how many stand in a reading, and what each may lose.

ISO/IEC 14763-3 allows the matings between test cords and link in their own right, because reference-grade cords lose
less than random ones; the other matings of the link have the allowance of ISO/IEC 11801-1. The figure differs by
edition, and for 2014 and later none has a source here: the job states it, `allowances.end_pair_db`, or fills the row.
TIA allows every mating the same unless the job says otherwise. The judge, `fiber_budget` and the plan all ask here.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

import numpy as np

from analyzer import standards
from analyzer.budget.fiber import reference_cords
from analyzer.standards.tables import Row

KEY: Final = "allowances.end_pair_db"
"""The one key of job.toml that settles a missing end allowance."""
COMPONENT: Final = "reference-grade to random mating"
IN_FORCE, OLDER = "14763-3:2014", "14763-3:2006"
"""Editions of the test method whose end allowances stand in the values: the one that ISO links are judged by, and the
one before, whose figures are told but never used."""

NO_ALLOWANCE: Final = (
    f"no sourced allowance for its end connections against reference-grade cords; give end_pair_db ({KEY} in job.toml)"
)
"""The problem of one reading or one sum; `missing_sentence` tells the whole of it, once."""
MISSING: Final = (
    "ISO/IEC 14763-3 allows end connections against reference-grade cords in their own right, and its figure for "
    "editions of 2014 and later has no source here"
)


class EndAllowance(NamedTuple):
    """What one end connection may lose."""

    apart: bool
    """End connections have an allowance of their own; otherwise they are matings like any other."""
    value_db: float
    """The allowance [dB]; NaN: not known."""
    row: Row | None
    """The value row it rests on, where no own figure stands in its place."""


def end_allowance(
    values: standards.Values, standard: str, medium: str, own_end_db: float | None, own_pair_db: float | None
) -> EndAllowance:
    """The allowance of one end connection.

    Args:
        values: values in force.
        standard: TIA or ISO.
        medium: multimode or single-mode.
        own_end_db: the job's figure for an end connection [dB].
        own_pair_db: the job's figure for any mated pair [dB]; it speaks for the ends where nothing else does.
    """
    if own_end_db is not None:
        return EndAllowance(apart=True, value_db=float(own_end_db), row=None)
    if standard != "ISO":
        return EndAllowance(apart=False, value_db=np.nan, row=None)
    row = end_row(values, medium, IN_FORCE)
    if row is not None and row["max_loss_db"] is not None:
        return EndAllowance(apart=True, value_db=float(row["max_loss_db"]), row=row)
    return EndAllowance(apart=own_pair_db is None, value_db=np.nan, row=None)


def end_row(values: standards.Values, medium: str, edition: str) -> Row | None:
    """The value row of an end connection in one edition of ISO/IEC 14763-3."""
    return next(
        (
            row
            for row in values.rows("components")
            if row["component"] == COMPONENT and row["edition"] == edition and row["medium"] == medium
        ),
        None,
    )


def end_matings(reference: Any, values: standards.Values | None = None) -> Any:
    """End connections that a reading holds: both ends less the cords that the reference takes out.

    A plug end is mated with the test cord as well, so both ends count whatever they are. Arrays or one name; NaN where
    the method is not known. Source: `end_connections_in_value` of the reference methods (common practice, recalled).
    """
    named = np.asarray(reference, dtype=object)
    left = np.full(named.shape, np.nan)
    for name, cords in reference_cords(values).items():
        left = np.where(named == name, 2.0 - cords, left)
    return left[()]


def own_end_db(own: Mapping[str, float] | None, medium: str) -> float | None:
    """The job's figure for one kind of glass; None where it states none."""
    return None if own is None else own.get(medium.replace("-", "_"))


def missing_sentence(values: standards.Values) -> str:
    """What is missing, what the edition before said, and the key that settles it."""
    told = {medium: end_row(values, medium, OLDER) for medium in ("multimode", "single-mode")}
    older = ", ".join(f"{row['max_loss_db']:g} dB {medium}" for medium, row in told.items() if row)
    return f"{MISSING} (2006, recalled: {older}); state it as {KEY} in job.toml"
