"""Small questions to the tables of facts: what may be, which nominal wavelength, which reference method."""

from __future__ import annotations

import re

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
