"""What a link still lacks: required readings that are missing, and readings that could not be judged.

Fiber stands here, twisted pair in `required_pairs`.

A reading that some limit governs and that could not be judged leaves the link undecided even where nothing requires it:
in one of the admissible worlds it may fail.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.glass import KIND_OF
from analyzer.budget.required_pairs import add_missing_tests
from analyzer.budget.retests import SEVERITY
from analyzer.job import Job

NOT_JUDGED = "could not be judged"
"""How every part ends that speaks of a reading which is there."""

DECLARED_FAIL = "declared failed, no reading explains it"

_LOSS = schema.CATEGORIES["parameter"].index("loss")
_RETURN_LOSS = schema.CATEGORIES["parameter"].index("optical return loss")
_AROUND_1300 = (1300, 1310)
"""One window under two names; which of them is meant, the glass decides."""


def missing_of(
    records: pd.DataFrame, facts: pd.DataFrame, link: np.ndarray, live: pd.DataFrame, medium: pd.Series, job: Job
) -> pd.Series:
    """What is missing of each link, parts separated by "; " ("" where nothing is).

    Args:
        records: schema `records`, m rows.
        facts: schema `facts`, m rows.
        link: the link of each record, m numbers.
        live: the tests in force, as `retests.tests_of` makes them.
        medium: medium of each link, n texts.
        job: required tests.
    """
    count = len(medium)
    parts = _Parts(count)
    fiber = (medium.astype("object") != "twisted pair").to_numpy()
    _losses(parts, fiber, facts, link, live, job)
    ordered = live[(live["parameter"] == _RETURN_LOSS) & live["counts"]]
    open_ = ordered["severity"] == SEVERITY["not judged"]
    parts.add(fiber & some(ordered.loc[open_, "link"], count), f"optical return loss {NOT_JUDGED}")
    if job.required.length:
        stated = (facts["length_m"].notna() | records["length_unstated"].notna()).to_numpy()
        parts.add(fiber & ~some(link[stated], count), "length")
    add_missing_tests(parts.add, ~fiber, facts, link, live, job)
    return parts.text


def some(links: Iterable[int], count: int) -> np.ndarray:
    """Marks of the links that are named, n."""
    out = np.zeros(count, dtype=bool)
    out[np.asarray(links, dtype=np.int64)] = True
    return out


class _Parts:
    """The growing list of what each link lacks."""

    def __init__(self, count: int) -> None:
        self._text = np.full(count, "", dtype=object)

    def add(self, where: np.ndarray, what: str) -> None:
        at = np.flatnonzero(where)
        before = self._text[at]
        self._text[at] = np.where(before == "", "", before + "; ") + what

    def says(self, what: str) -> np.ndarray:
        return np.asarray(self.text.str.contains(what, regex=False), dtype=bool)

    @property
    def text(self) -> pd.Series:
        return pd.Series(self._text, dtype="object")


def _losses(
    parts: _Parts, fiber: np.ndarray, facts: pd.DataFrame, link: np.ndarray, live: pd.DataFrame, job: Job
) -> None:
    count = len(fiber)
    loss = live[live["parameter"] == _LOSS]
    told = loss[loss["severity"] != SEVERITY["not judged"]]
    kind = facts["type"].astype("object").fillna(facts["glass"].astype("object")).map(KIND_OF)
    multimode, single_mode = (
        fiber & some(link[(kind == name).to_numpy()], count) for name in ("multimode", "single-mode")
    )
    horizontal = some(link[(facts["segment"] == "horizontal").to_numpy()], count)
    horizontal &= ~some(link[(facts["segment"] == "backbone").to_numpy()], count)
    unnamed = np.ones(count, dtype=bool)
    for glass, key in ((multimode, "multimode"), (single_mode, "single_mode")):
        waves = getattr(job.required, key)
        # one wavelength is enough for a horizontal link, unless the owner stated a list
        one_is_enough = glass & horizontal & (not job.says(f"required.{key}"))
        unnamed &= ~_any_of(parts, one_is_enough, loss, told, waves, count)
        for wave in waves:
            _each(parts, glass & ~one_is_enough, loss, told, wave, job.required.directions)
    unknown = fiber & ~multimode & ~single_mode
    unnamed &= ~_of_unknown_glass(parts, unknown, horizontal, loss, told, job)
    _undecided(parts, fiber & unnamed, loss, told)


def _any_of(
    parts: _Parts, needed: np.ndarray, loss: pd.DataFrame, told: pd.DataFrame, waves: list[int], count: int
) -> np.ndarray:
    words = " or ".join(str(wave) for wave in waves) + " nm"
    read, judged = (some(rows.loc[rows["judged_wavelength_nm"].isin(waves), "link"], count) for rows in (loss, told))
    parts.add(needed & ~read, words)
    parts.add(needed & read & ~judged, f"{words} {NOT_JUDGED}")
    named: np.ndarray = needed & read & ~judged
    return named


def _each(
    parts: _Parts, needed: np.ndarray, loss: pd.DataFrame, told: pd.DataFrame, wave: int, directions: int
) -> None:
    if not needed.any():
        return
    read, judged = (_directions(rows[rows["judged_wavelength_nm"] == wave], len(needed)) for rows in (loss, told))
    parts.add(needed & (read == 0), f"{wave} nm")
    parts.add(needed & (read > 0) & (judged == 0), f"{wave} nm {NOT_JUDGED}")
    parts.add(needed & (judged > 0) & (judged < directions), f"{wave} nm in the other direction")


def _directions(rows: pd.DataFrame, count: int) -> np.ndarray:
    """Directions that each link was measured in; one that is not stated is none of its own beside others."""
    out = np.zeros(count, dtype=np.int64)
    known = rows.loc[rows["direction"] >= 0, ["link", "direction"]].drop_duplicates()
    np.add.at(out, known["link"].to_numpy(), 1)
    directions: np.ndarray = np.maximum(out, some(rows["link"], count))
    return directions


def _of_unknown_glass(
    parts: _Parts, unknown: np.ndarray, horizontal: np.ndarray, loss: pd.DataFrame, told: pd.DataFrame, job: Job
) -> np.ndarray:
    """Glass that nothing tells: what is measured must be enough for multimode and for single-mode."""
    count = len(unknown)
    read, judged = some(loss["link"], count), some(told["link"], count)
    parts.add(unknown & ~read, "loss")
    parts.add(unknown & read & ~judged, f"loss {NOT_JUDGED}")
    around_1300 = told[told["judged_wavelength_nm"].isin(_AROUND_1300)]
    enough = np.ones(count, dtype=bool)
    for key in ("multimode", "single_mode"):
        waves = getattr(job.required, key)
        met = _directions(around_1300, count) >= job.required.directions
        alone = set(waves) <= set(_AROUND_1300)
        enough &= met & (alone | (horizontal & (not job.says(f"required.{key}"))))
    parts.add(unknown & judged & ~enough, "second wavelength, which one depends on the fiber type")
    named: np.ndarray = unknown & read & ~judged
    return named


def _undecided(parts: _Parts, where: np.ndarray, loss: pd.DataFrame, told: pd.DataFrame) -> None:
    """Readings that some limit governs, that could not be judged and that no part names yet."""
    count = len(where)
    open_ones = loss[loss["counts"] & (loss["severity"] == SEVERITY["not judged"])]
    for wave in np.unique(open_ones["judged_wavelength_nm"]):
        here = where & some(open_ones.loc[open_ones["judged_wavelength_nm"] == wave, "link"], count)
        beside = some(told.loc[told["judged_wavelength_nm"] == wave, "link"], count)
        words = f"{wave} nm" if wave >= 0 else "a loss without a wavelength"
        parts.add(here & ~beside & ~parts.says(f"{words} {NOT_JUDGED}"), f"{words} {NOT_JUDGED}")
        parts.add(here & beside, f"one reading at {wave} nm {NOT_JUDGED}")
