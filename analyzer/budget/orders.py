"""Which standard and edition govern each record, and where the export was tested to something else.

Family and edition are settled together: an edition alone names its family, and an edition of another family than the
one that was ordered is only declared. Fiber and twisted pair have editions of their own; an order that names one of
them says the family of the other. A grade of twisted pair belongs to one family and stands above a word for another.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer.budget.limit_names import families_of, read_limit_name
from analyzer.budget.plain import distinct_rows, texts_of, texts_where
from analyzer.errors import StandardsError
from analyzer.schema import CATEGORIES
from analyzer.standards import Values, resolve_edition
from analyzer.standards.editions import PAIR_EDITIONS

FIBER_EDITIONS = "editions"

SPEAKERS = ("command line", "schedule", "job", "file")
"""Who is believed on what was ordered, first to last."""


class Order(NamedTuple):
    """Family and edition with who said each, and the first edition that is not known here ("" where all are)."""

    standard: str
    standard_from: str
    edition: str
    edition_from: str
    unknown: str


def settle_editions(
    said: Mapping[str, tuple[np.ndarray, np.ndarray]],
    records: pd.DataFrame,
    values: Values,
    grade: np.ndarray | None = None,
) -> tuple[pd.DataFrame, list[pd.DataFrame]]:
    """Family and edition of every record; nothing ordered and nothing declared means the newest edition of TIA.

    Args:
        said: (standard, edition) of each of `SPEAKERS`, n texts each.
        records: schema `records`; its `declared_limit` is the last to be asked.
        values: the editions known here.
        grade: the settled grade of each record, n texts: the records are twisted pair; None: they are fiber.

    Returns:
        Columns standard, standard_from, edition, edition_from; and seeds of findings: an edition that is not known
        here, a test made to another edition than the ordered one, a grade of another family than the ordered one.
    """
    medium_table = FIBER_EDITIONS if grade is None else PAIR_EDITIONS
    texts = [column for pair in said.values() for column in pair]
    place, limits = pd.factorize(texts_of(records["declared_limit"], None))
    known = [declared_edition(text, values, medium_table) for text in limits]
    texts += [np.array([*(pair[part] for pair in known), ""], dtype=object)[place] for part in (0, 1)]
    texts.append(np.full(len(records), "", dtype=object) if grade is None else grade)
    texts = [np.where(pd.isna(column), "", column) for column in texts]
    which, first = distinct_rows(*texts)
    speakers = [*said, "file"]
    rows = list(zip(*(column[first] for column in texts), strict=True))
    distinct = [list(zip(row[:-1:2], row[1:-1:2], strict=True)) for row in rows]
    families = [_family_of_grade(row[-1], pairs, values) for row, pairs in zip(rows, distinct, strict=True)]
    orders = [
        settle_order(list(zip(speakers, pairs, strict=True)), values, medium_table, family)
        for pairs, family in zip(distinct, families, strict=True)
    ]
    frame = pd.DataFrame(orders, columns=Order._fields).take(which).set_axis(records.index)
    declared = np.array([*(_declared(pairs[-2:], values, medium_table) for pairs in distinct), None], dtype=object)
    others = [_other_family(pairs[: len(said) - 1], family) for pairs, family in zip(distinct, families, strict=True)]
    return frame.drop(columns="unknown"), [
        _unknown(frame, records),
        _tested_to_another(frame, declared[which], records),
        _of_other_family(frame, np.array([*others, ""], dtype=object)[which], texts[-1], records),
    ]


def _family_of_grade(grade: str, said: Sequence[tuple[str, str]], values: Values) -> str:
    """The one family that has this grade; where several have it, the one that is said first; "" without a grade."""
    families = families_of(values, grade) if grade else ()
    return next((standard for standard, _ in said if standard in families), families[0] if families else "")


def _other_family(said: Sequence[tuple[str, str]], family: str) -> str:
    """A family that an order names beside a grade of another one; "" where none does."""
    return next((standard for standard, _ in said if family and standard and standard != family), "")


def settle_order(
    said: Sequence[tuple[str, tuple[str, str]]], values: Values, table: str = FIBER_EDITIONS, family: str = ""
) -> Order:
    """The order that (speaker, (standard, edition)), first to be believed first, amount to; "" where nothing is said.

    `table` holds the editions of the medium; `family` is settled already where a grade says it.
    """
    edition = family_from = edition_from = unknown = ""
    of_grade = family
    for speaker, (standard, name) in said:
        own_family, resolved = _resolved(standard or (family if name else ""), name, values, table)
        if name and not resolved:
            # an edition of another family is no mistake: it is what the export was tested to
            other_family, resolved = _resolved("", name, values, table)
            own_family = standard or other_family
            if not resolved:
                # nor is an edition of the other medium, which names the family alone
                beside = _resolved(standard, name, values, _OTHER_MEDIUM[table])
                own_family = own_family or beside[0]
                unknown = unknown or ("" if beside[1] else name)
        if own_family and not family_from and own_family == (family or own_family):
            family, family_from = own_family, speaker
        if not edition and resolved and own_family == family:
            edition, edition_from = resolved, speaker
    if not family_from:
        family, family_from = (family, "derived") if of_grade else ("TIA", "assumed")
    if not edition:
        edition, edition_from = resolve_edition(values, family, None, table), "assumed"
    return Order(family, family_from, edition, edition_from, unknown)


_OTHER_MEDIUM = {FIBER_EDITIONS: PAIR_EDITIONS, PAIR_EDITIONS: FIBER_EDITIONS}


def declared_edition(text: str, values: Values, table: str = FIBER_EDITIONS) -> tuple[str, str]:
    """Family and edition that the name of a loaded limit states, for example "TIA-568.3-D multimode"; "" where none."""
    if table == PAIR_EDITIONS:
        name = read_limit_name(text, values)
        return name.standard, name.edition
    plain = text.casefold().replace(" ", "")
    best = ("", "")
    for row in values.rows(table):
        edition = row["edition"]
        if edition.casefold() in plain and len(edition) > len(best[1]):
            best = (row["standard"], edition)
    return best


def no_seeds() -> pd.DataFrame:
    """Seeds of no finding."""
    return _no_seeds().copy(deep=False)


@cache
def _no_seeds() -> pd.DataFrame:
    return pd.DataFrame({"code": pd.Series(dtype="str"), "record": pd.Series(dtype="int32"),
                         "text": pd.Series(dtype="str")})  # fmt: skip


def order_seeds(what: str, file: np.ndarray, ordered: np.ndarray, records: pd.DataFrame) -> pd.DataFrame:
    """Seeds where the export says something else of `what` than was ordered; missing texts differ from nothing."""
    hit = ~pd.isna(file) & ~pd.isna(ordered) & (file != ordered)
    if not hit.any():
        return no_seeds()
    text = f"{what}: the export says " + file[hit] + ", ordered is " + ordered[hit]
    return pd.DataFrame({"code": "order-differs", "record": records.loc[hit, "record"], "text": text})


def _resolved(standard: str, edition: str, values: Values, table: str) -> tuple[str, str]:
    """Family and edition as the values write them; "" where not said or not known."""
    if not edition:
        return standard, ""
    for family in (standard,) if standard else CATEGORIES["standard"]:
        try:
            return family, resolve_edition(values, family, edition, table)
        except StandardsError:
            continue
    return standard, ""


def _declared(pairs: Sequence[tuple[str, str]], values: Values, table: str) -> str | None:
    """Edition that the export itself names, in a column or in the name of a limit; None where it names none."""
    for standard, edition in pairs:
        resolved = _resolved(standard, edition, values, table)[1] or _resolved("", edition, values, table)[1]
        if resolved:
            return resolved
    return None


def _unknown(frame: pd.DataFrame, records: pd.DataFrame) -> pd.DataFrame:
    hit = (frame["unknown"] != "").to_numpy(dtype=bool)
    if not hit.any():
        return no_seeds()
    text = "the edition " + frame.loc[hit, "unknown"] + " is not known here"
    return pd.DataFrame({"code": "edition-unknown", "record": records.loc[hit, "record"], "text": text})


def _tested_to_another(frame: pd.DataFrame, declared: np.ndarray, records: pd.DataFrame) -> pd.DataFrame:
    is_ordered = ((frame["edition_from"] != "file") & (frame["standard_from"] != "assumed")).to_numpy(dtype=bool)
    ordered = texts_where(is_ordered, frame["edition"].to_numpy(dtype=object))
    return order_seeds("edition", declared, ordered, records)


def _of_other_family(frame: pd.DataFrame, other: np.ndarray, grade: np.ndarray, records: pd.DataFrame) -> pd.DataFrame:
    hit = other != ""
    if not hit.any():
        return no_seeds()
    text = (
        "the order says " + other[hit] + ", but grade " + grade[hit] + " belongs to "
        + frame.loc[hit, "standard"] + ", which governs here"
    )  # fmt: skip
    return pd.DataFrame({"code": "grade-of-other-family", "record": records.loc[hit, "record"], "text": text})
