"""Optical return loss of a link: against the owner's own floor where one is ordered, else for information.

No premises standard known here sets a floor for a whole link, only for one joint. All the light that comes back from a
link is the sum of what its joints and the glass send back, so the return loss of the link is never more than that of
its worst joint:

    a link at or above the floor of one joint  ->  every joint of it meets that floor: pass, for information
    a link below it                            ->  the sum of several good joints may do that: not judged

Only an own limit (`[[limits]]` with parameter "optical return loss" and min) decides a link.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.allowances import UNCONFIRMED, Book
from analyzer.budget.glass import KIND_OF
from analyzer.standards import Values
from analyzer.standards.editions import editions_in_force, resolve_edition
from analyzer.standards.tables import Row

ZERO_MARGIN = 1e-9
CODES = ("floor-of-one-joint", "below-one-joint", "own-limit", "bound-undecided")
"""The causes of reasons.csv that speak of optical return loss."""
_SPECIAL = ("angled polish", "video")
"""Floors that hold only for connections of a kind that neither reading nor trace tells."""
_KEYS = ["standard", "edition", "type", "glass", "wavelength_nm"]
_BELOW, _ABOVE, _OVER = (schema.CATEGORIES["bound"].index(name) for name in ("below", "above", "over range"))


def judge_return_loss(
    readings: pd.DataFrame, facts: pd.DataFrame, judged: pd.DataFrame, book: Book
) -> dict[str, np.ndarray]:
    """Write limit, margin and verdict of every optical return loss into `judged`; give the causes that speak of them.

    Args:
        readings: schema `readings`, n rows.
        facts: schema `facts`; `record` of a reading is a position in it.
        judged: one row per reading, changed in place.
        book: the limits of the run; floors that are used are added to it.
    """
    here = np.flatnonzero((readings["parameter"] == "optical return loss").to_numpy())
    flags = {code: np.zeros(len(readings), dtype=bool) for code in CODES}
    if not len(here):
        return flags
    floor, own, number = _floors(readings, facts, here, book)
    value = readings["value"].to_numpy()[here]
    bound = readings["bound"].cat.codes.to_numpy()[here]
    margin = value - floor
    margin = np.where(np.abs(margin) <= ZERO_MARGIN, 0.0, margin)
    with np.errstate(invalid="ignore"):
        passes = (margin >= 0) & (bound != _BELOW)
        fails = own & (((margin < 0) & (bound != _ABOVE)) | ((margin <= 0) & (bound == _BELOW)))
    known = ~np.isnan(margin) & (bound != _OVER)
    passes, fails = passes & known, fails & known
    decided = passes | fails
    at = judged.index[here]
    judged.loc[at, "verdict"] = np.select([passes, fails], ["pass", "fail"], "not judged")
    judged.loc[at, "limit"] = floor
    judged.loc[at, "margin"] = np.where(decided, margin, np.nan)
    judged.loc[at, "limit_id"] = np.where(np.isnan(floor), -1, number)
    judged.loc[at, "counts"] = own
    flags["own-limit"][here] = own & decided
    flags["floor-of-one-joint"][here] = passes & ~own
    flags["below-one-joint"][here] = known & ~decided & ~own & (bound < 0)
    flags["bound-undecided"][here] = known & ~decided & (own | (bound >= 0))
    return flags


def _floors(
    readings: pd.DataFrame, facts: pd.DataFrame, here: np.ndarray, book: Book
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Floor of each reading [dB], whether it is the owner's own, and its number among the limits."""
    record = readings["record"].to_numpy()[here]
    asked = facts.loc[:, ["standard", "edition", "type"]].astype("object").iloc[record].reset_index(drop=True)
    glass = asked["type"].fillna(facts["glass"].astype("object").iloc[record].reset_index(drop=True)).map(KIND_OF)
    asked = (
        asked.assign(glass=glass, wavelength_nm=readings["wavelength_nm"].to_numpy()[here]).astype("object").fillna("")
    )
    which = asked.groupby(_KEYS, sort=False).ngroup().to_numpy()
    first = np.unique(which, return_index=True)[1]
    found = [_floor(key, book) for key in asked.loc[first, _KEYS].to_numpy(dtype=object).tolist()]
    columns = [np.array(column)[which] for column in zip(*found, strict=True)]
    return columns[0].astype(float), columns[1].astype(bool), columns[2].astype(int)


def _floor(key: list[Any], book: Book) -> tuple[float, bool, int]:
    standard, edition, fiber, glass, wave = key
    own = [
        one for one in book.job.limits
        if one.parameter == "optical return loss" and one.floor is not None
        and one.fiber in {None, fiber} and one.wavelength_nm in {None, wave}
    ]  # fmt: skip
    if own:
        best = max(own, key=lambda one: float(one.floor or 0.0))
        text = f"{best.name}: at least {best.floor:g} dB ({best.source})"
        row = {"rows": "job.toml:limits", "document": best.source, "how_known": "own", "confirmed": True, "text": text}
        return float(best.floor or 0.0), True, book.add(row)
    row_of = return_loss_row(book.values, standard, edition, "mated pair", glass) if standard and glass else None
    if row_of is None:
        return np.nan, False, -1
    confirmed = row_of["how_known"] not in UNCONFIRMED or row_of["row_id"] in book.job.confirmed
    text = (
        f"{row_of['document']}: return loss of a mated pair at least {row_of['min_return_loss_db']:g} dB "
        f"({row_of['how_known']}{'' if confirmed else ', unconfirmed'}) [{row_of['row_id']}]"
    )
    row = {
        "rows": row_of["row_id"], "standard": standard, "document": row_of["document"], "edition": edition,
        "how_known": row_of["how_known"], "confirmed": confirmed, "text": text,
    }  # fmt: skip
    return float(row_of["min_return_loss_db"]), False, book.add(row)


def return_loss_row(values: Values, standard: str, edition: str, component: str, glass: str) -> Row | None:
    """Floor of the return loss of one component in an edition; where the polish decides, that of the flat one."""
    chain = editions_in_force(values, resolve_edition(values, standard, edition or None))
    found = [
        row for part in chain for row in values.rows("optical_return_loss")
        if row["kind"] == "floor" and row["edition"] == part and row["medium"] == glass
        and (row["component"] == component or str(row["component"]).startswith(f"{component}, "))
        and not any(word in str(row["component"]) for word in _SPECIAL)
    ]  # fmt: skip
    return found[0] if found else None
