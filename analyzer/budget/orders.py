"""Which standard and edition govern each record, and where the export was tested to something else.

Family and edition are settled together: an edition alone names its family, and an edition of another family than the
one that was ordered is only declared.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import pandas as pd

from analyzer.errors import StandardsError
from analyzer.schema import CATEGORIES
from analyzer.standards import Values, resolve_edition

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
    said: Mapping[str, tuple[pd.Series, pd.Series]], records: pd.DataFrame, values: Values
) -> tuple[pd.DataFrame, list[pd.DataFrame]]:
    """Family and edition of every record; nothing ordered and nothing declared means the newest edition of TIA.

    Args:
        said: (standard, edition) of each of `SPEAKERS`, n texts each.
        records: schema `records`; its `declared_limit` is the last to be asked.
        values: the editions known here.

    Returns:
        Columns standard, standard_from, edition, edition_from; and seeds of findings: an edition that is not known
        here, a test made to another edition than the ordered one.
    """
    texts = {f"{name}-{part}": column.astype("object").fillna("").to_numpy(dtype=object)
             for name, pair in said.items() for part, column in zip(("standard", "edition"), pair, strict=True)}  # fmt: skip
    limits = records["declared_limit"]
    known = {text: declared_edition(text, values) or ("", "") for text in limits.dropna().unique()}
    for place, part in enumerate(("standard", "edition")):
        told = limits.map({text: pair[place] for text, pair in known.items()})
        texts[f"limit-{part}"] = told.astype("object").fillna("").to_numpy(dtype=object)
    table = pd.DataFrame(texts, index=records.index)
    which = table.groupby(list(table.columns), sort=False).ngroup().to_numpy()
    speakers = [*said, "file"]
    distinct = [list(zip(row[::2], row[1::2], strict=True)) for row in table.drop_duplicates().to_numpy().tolist()]
    orders = [settle_order(list(zip(speakers, row, strict=True)), values) for row in distinct]
    frame = pd.DataFrame(orders, columns=Order._fields).take(which).set_axis(records.index)
    declared = pd.Series([_declared(row[-2:], values) for row in distinct], dtype="object").take(which)
    return frame.drop(columns="unknown"), [
        _unknown(frame, records),
        _tested_to_another(frame, declared.set_axis(records.index), records),
    ]


def settle_order(said: Sequence[tuple[str, tuple[str, str]]], values: Values) -> Order:
    """The order that (speaker, (standard, edition)), first to be believed first, amount to; "" where nothing is said."""
    family = edition = family_from = edition_from = unknown = ""
    for speaker, (standard, name) in said:
        own_family, resolved = _resolved(standard or (family if name else ""), name, values)
        if name and not resolved:
            # an edition of another family is no mistake: it is what the export was tested to
            other_family, resolved = _resolved("", name, values)
            own_family = standard or other_family
            unknown = unknown or ("" if resolved else name)
        if not family and own_family:
            family, family_from = own_family, speaker
        if not edition and resolved and own_family == family:
            edition, edition_from = resolved, speaker
    family, family_from = (family, family_from) if family else ("TIA", "assumed")
    if not edition:
        edition, edition_from = resolve_edition(values, family), "assumed"
    return Order(family, family_from, edition, edition_from, unknown)


def declared_edition(text: str, values: Values) -> tuple[str, str] | None:
    """Family and edition that the name of a loaded limit states, for example "TIA-568.3-D multimode"."""
    plain = text.casefold().replace(" ", "")
    best: tuple[str, str] | None = None
    for row in values.rows("editions"):
        edition = row["edition"]
        if edition.casefold() in plain and (best is None or len(edition) > len(best[1])):
            best = (row["standard"], edition)
    return best


def order_seeds(what: str, file: pd.Series, ordered: pd.Series, records: pd.DataFrame) -> pd.DataFrame:
    """Seeds where the export says something else of `what` than was ordered; missing texts differ from nothing."""
    file, ordered = file.astype("object"), ordered.astype("object")
    hit = file.notna() & ordered.notna() & (file != ordered)
    text = f"{what}: the export says " + file[hit].astype("str") + ", ordered is " + ordered[hit].astype("str")
    return pd.DataFrame({"code": "order-differs", "record": records.loc[hit, "record"], "text": text})


def _resolved(standard: str, edition: str, values: Values) -> tuple[str, str]:
    """Family and edition as the values write them; "" where not said or not known."""
    if not edition:
        return standard, ""
    for family in (standard,) if standard else CATEGORIES["standard"]:
        try:
            return family, resolve_edition(values, family, edition)
        except StandardsError:
            continue
    return standard, ""


def _declared(pairs: Sequence[tuple[str, str]], values: Values) -> str | None:
    """Edition that the export itself names, in a column or in the name of a limit; None where it names none."""
    for standard, edition in pairs:
        resolved = _resolved(standard, edition, values)[1] or _resolved("", edition, values)[1]
        if resolved:
            return resolved
    return None


def _unknown(frame: pd.DataFrame, records: pd.DataFrame) -> pd.DataFrame:
    hit = (frame["unknown"] != "").to_numpy(dtype=bool)
    text = "the edition " + frame.loc[hit, "unknown"] + " is not known here"
    return pd.DataFrame({"code": "edition-unknown", "record": records.loc[hit, "record"], "text": text})


def _tested_to_another(frame: pd.DataFrame, declared: pd.Series, records: pd.DataFrame) -> pd.DataFrame:
    ordered = frame["edition"].where(~frame["edition_from"].isin(["file"]) & (frame["standard_from"] != "assumed"))
    return order_seeds("edition", declared, ordered, records)
