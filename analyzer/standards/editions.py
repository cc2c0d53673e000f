"""Which edition is meant: every spelling that points at exactly one."""

from __future__ import annotations

import re
from typing import Final

from analyzer.errors import StandardsError
from analyzer.schema import CATEGORIES
from analyzer.standards.tables import Row
from analyzer.standards.values import Values

PAIR_EDITIONS: Final = "copper_editions"
"""Table of the editions whose twisted-pair values stand here."""

_PUBLISHER: Final = re.compile(r"^(?:(?:ansi|tia|eia|iso|iec)[\s/\-]*)+", re.IGNORECASE)


def resolve_edition(values: Values, standard: str, edition: str | None = None, table: str = "editions") -> str:
    """The edition as the values files write it, for example "568.3-E".

    Args:
        values: the values in force.
        standard: family, "TIA" or "ISO".
        edition: any spelling of it ("568.3-E", "TIA-568.3-E:2022", "E"); None for the newest of the family.
        table: "editions" for fiber, "copper_editions" for twisted pair.

    Raises:
        StandardsError: unknown family or edition; those known are listed.
    """
    family = [row for row in values.rows(table) if row["standard"] == standard]
    if not family:
        known = ", ".join(CATEGORIES["standard"])
        raise StandardsError(f"standard {standard!r} is not known here; known are {known}")
    if edition is None:
        return str(max(family, key=lambda row: row["year"])["edition"])
    wanted = _plain(edition)
    found = [row for row in family if wanted in _spellings(row)]
    if len(found) != 1:
        known = ", ".join(row["edition"] for row in family)
        raise StandardsError(f"{standard} edition {edition!r} is not known here; known are {known}")
    return str(found[0]["edition"])


def edition_row(values: Values, edition: str, table: str = "editions") -> Row:
    """Document, title and year of a resolved edition."""
    return next(row for row in values.rows(table) if row["edition"] == edition)


def editions_in_force(values: Values, edition: str) -> tuple[str, ...]:
    """The edition, then those it amends: an amendment leaves the rest of its base standing."""
    chain = [edition]
    while base := edition_row(values, chain[-1])["amends"]:
        chain.append(base)
    return tuple(chain)


def pair_editions(values: Values, standard: str, edition: str | None = None) -> tuple[str, ...]:
    """The twisted-pair edition, then the one whose rows hold where it has none of its own.

    Raises:
        StandardsError: unknown family or edition.
    """
    chain = [resolve_edition(values, standard, edition, PAIR_EDITIONS)]
    while base := edition_row(values, chain[-1], PAIR_EDITIONS)["otherwise"]:
        chain.append(base)
    return tuple(chain)


def pair_grades(values: Values, standard: str, edition: str | None = None) -> tuple[str, ...]:
    """Grades of an edition, rising.

    Raises:
        StandardsError: unknown family or edition.
    """
    name = resolve_edition(values, standard, edition, PAIR_EDITIONS)
    return tuple(edition_row(values, name, PAIR_EDITIONS)["grades"].split())


def _spellings(row: Row) -> set[str]:
    written = [row["edition"], row["document"], f"{row['edition']}:{row['year']}", *(row["aliases"] or "").split("|")]
    return {_plain(text) for text in written if text}


def _plain(text: str) -> str:
    return re.sub(r"[\s:/+]+", "", _PUBLISHER.sub("", text.strip())).casefold()
