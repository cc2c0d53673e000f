"""Small questions to the tables of facts: what may be, which nominal wavelength, which reference method."""

from __future__ import annotations

import re

from analyzer.standards.editions import PAIR_EDITIONS, edition_row, pair_editions
from analyzer.standards.tables import Row
from analyzer.standards.values import Values


def admissible(values: Values, fact: str, given: str | None = None, standard: str | None = None) -> tuple[str, ...]:
    """What `fact` ("type", "construction", "mated pairs", "splices") may be, in the order of the table.

    Args:
        values: the values in force.
        fact: the fact that nobody said.
        given: what is known and narrows it: the glass for a type, the type for a construction.
        standard: family that was ordered; rows of another family do not hold.

    Returns:
        The admissible values as text; empty where the table knows none.
    """
    return next(
        (
            tuple(row["values"].split("|"))
            for row in values.rows("admissible")
            if row["fact"] == fact and row["given"] == given and row["standard"] in {None, standard}
        ),
        (),
    )


def nominal_wavelength_nm(values: Values, written_nm: int, medium: str) -> int | None:
    """Wavelength whose limit holds for a reading written at `written_nm` [nm]; None where the medium knows none."""
    return next(
        (
            int(row["nominal_nm"])
            for row in values.rows("wavelengths")
            if row["written_nm"] == written_nm and row["medium"] == medium
        ),
        None,
    )


def reference_method(values: Values, name: str, document: str | None = None, medium: str | None = None) -> str | None:
    """one-cord, two-cord or three-cord for a name as written; None where it does not say which.

    A bare letter counts only with its document or medium: method B is one cord for multimode in TIA-526-14-A and no
    loss test with cords at all in TIA-526-7. Annex letters that editions swap are never taken.
    """
    wanted = _plain(name)
    found = {
        row["reference"]
        for row in values.rows("references")
        if not row["in_doubt"] and _is_meant(row, wanted, document, medium)
    }
    return found.pop() if len(found) == 1 else None


def pair_exemptions(
    values: Values, *, grade: str, standard: str = "TIA", edition: str | None = None, parameter: str | None = None
) -> tuple[Row, ...]:
    """Rules of an edition that take a twisted-pair reading of this grade out of the verdict, or end its limit.

    Args:
        values: the values in force.
        grade: category or class.
        standard: family, "TIA" or "ISO".
        edition: for example "568.2-D"; None for the newest of the family.
        parameter: only rules about this parameter; None for all.

    Raises:
        StandardsError: unknown family or edition.
    """
    chain = pair_editions(values, standard, edition)
    return tuple(
        row
        for row in values.rows("copper_exemptions")
        if row["edition"] in chain and grade in row["grades"].split() and parameter in {None, row["parameter"]}
    )


def pair_rows(values: Values, standard: str, edition: str | None = None) -> tuple[Row, ...]:
    """Rows of the twisted-pair limits in force under an edition, those that it leaves standing included.

    Raises:
        StandardsError: unknown family or edition.
    """
    chain = pair_editions(values, standard, edition)
    asked = edition_row(values, chain[0], PAIR_EDITIONS)
    grades, without = asked["grades"].split(), (asked["without"] or "").split("|")
    rows = [row for row in values.rows("copper_limits") if row["edition"] in chain]
    rank: dict[tuple[str, str, str], int] = {}
    for row in rows:
        place = chain.index(row["edition"])
        rank[_place(row)] = min(place, rank.get(_place(row), place))
    return tuple(
        row
        for row in rows
        if row["grade"] in grades
        and row["parameter"] not in without
        and chain.index(row["edition"]) == rank[_place(row)]
    )


def pair_length(values: Values, *, grade: str, configuration: str, standard: str = "TIA") -> Row | None:
    """The row of the longest link of this grade and configuration, `max_length_m` [m]; None where none is known."""
    return next(
        (
            row
            for row in values.rows("copper_lengths")
            if row["standard"] == standard
            and grade in row["grades"].split()
            and row["configuration"] == configuration
            and not row["evidence"]
        ),
        None,
    )


def _place(row: Row) -> tuple[str, str, str]:
    return row["grade"], row["configuration"], row["parameter"]


def _is_meant(row: dict[str, str | None], wanted: str, document: str | None, medium: str | None) -> bool:
    letter = _plain(row["name"] or "")
    if row["document"] is None:
        return wanted == letter
    if _plain(row["document"]) in wanted:
        return wanted.replace(_plain(row["document"]), "", 1) == letter
    if wanted != letter:
        return False
    if document is not None:
        return _plain(document) == _plain(row["document"])
    has_its_own_form = re.fullmatch(r"a[123]", letter) is not None
    return has_its_own_form or medium == row["medium"]


def _plain(text: str) -> str:
    """Only letters and digits, without publisher and filler words: "TIA-526-14-A Method B" -> "52614ab"."""
    words = re.sub(r"\b(?:ansi|tia|eia|iso|iec|method|jumper|reference)\b", " ", text.casefold())
    return re.sub(r"[^a-z0-9]+", "", words)
