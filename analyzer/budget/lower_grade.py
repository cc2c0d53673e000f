"""The best grade that the readings of a twisted-pair link prove, where it fails its own or has none.

A grade is proved where every test that is required is there and each of its readings in force proves it (see
`grades_proved`). Beside a curve the single number of the same thing is no test of its own. What keeps a higher grade
from being proved is said: a reading that fails it, or a sweep that stops short of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from analyzer.budget.grades_proved import bit_of, family_of
from analyzer.budget.pair_judge import FOR_INFORMATION, WIRE_MAP
from analyzer.budget.pair_limits import UNSTATED
from analyzer.budget.required import DECLARED_FAIL, NOT_JUDGED
from analyzer.standards import Values
from analyzer.standards.lines import EDGE_TOLERANCE

_ALWAYS = (1 << 30) - 1


@dataclass(frozen=True)
class LowerGrade:
    """Of each of n links: what is proved ("" where nothing, or nobody asks), and the sentence about it."""

    proved: np.ndarray
    sentence: np.ndarray


def lower_grades(
    links: pd.DataFrame, link_of_record: np.ndarray, facts: pd.DataFrame, readings: pd.DataFrame, judged: pd.DataFrame,
    curves: pd.DataFrame, values: Values,
) -> LowerGrade:  # fmt: skip
    """Find the best grade proved of every twisted-pair link that does not pass.

    Args:
        links: schema `links`, n rows.
        link_of_record: number of the link of each record.
        facts: schema `facts`; `record` is the position.
        readings: schema `readings`; `record` is the position of the record.
        judged: schema `judged`, same order, `in_force` settled.
        curves: schema `curves`; `reading` is the position of the reading of each.
        values: the standards' values, for the frequencies of the grades.
    """
    count = len(links)
    asked = (links["medium"] == "twisted pair").to_numpy() & ~links["verdict"].isin(["pass", "marginal"]).to_numpy()
    out = LowerGrade(np.full(count, "", dtype=object), np.full(count, "", dtype=object))
    if not asked.any():
        return out
    units = _units(link_of_record, readings, judged, curves)
    proves = _all_bits(units["link"].to_numpy(), units["proves"].to_numpy(), count)
    refuted = _any_bits(units["link"].to_numpy(), units["refutes"].to_numpy(), count)
    stops = _stops_mhz(link_of_record, readings, curves, count)
    by_worst = np.zeros(count, dtype=bool)
    by_worst[units.loc[units["worst"], "link"]] = True
    lacking = np.array([_tests_missing(text) for text in links["missing"].fillna("")], dtype=bool)
    map_fails = _wire_map_fails(link_of_record, readings, judged, count)
    standard = _first(facts["standard"], link_of_record, count)
    stated, ordered = (links[name].astype("object").fillna("").to_numpy() for name in ("configuration", "type"))
    cases = pd.DataFrame(
        {
            "proves": proves, "refuted": refuted, "stops_mhz": stops, "by_worst": by_worst, "lacking": lacking, "map_fails": map_fails,
            "fails": (links["verdict"] == "fail").to_numpy(), "standard": np.where(standard == "ISO", "ISO", "TIA"),
            "stated": stated, "ordered": ordered,
        }
    )[list(_Case._fields)][asked]  # fmt: skip
    which, distinct = cases.groupby(list(cases.columns), sort=False, dropna=False).ngroup(), cases.drop_duplicates()
    top = top_mhz(values)
    rows: list[Any] = distinct.to_numpy(dtype=object).tolist()
    told = [_of_link(_Case(*row), top) for row in rows]
    for place, column in enumerate((out.proved, out.sentence)):
        column[asked] = np.array([one[place] for one in told], dtype=object)[which.to_numpy()]
    return out


class _Case(NamedTuple):
    """Everything that the answer for one link depends on."""

    proves: int
    refuted: int
    stops_mhz: float
    by_worst: bool
    lacking: bool
    map_fails: bool
    fails: bool
    standard: str
    stated: str
    """Its configuration, "" where none is stated."""
    ordered: str
    """Its grade, "" where none is stated."""


def _of_link(case: _Case, top: dict[str, float]) -> tuple[str, str]:
    """What one link proves, and the sentence."""
    if case.map_fails:
        return "", "proves no grade: the wire map fails"
    if case.lacking:  # an incomplete link has said so already
        return "", "proves no grade: required tests are missing" if case.fails else ""
    grades = family_of(case.standard)
    proved, said = [], []
    for slot, configuration in enumerate((case.stated,) if case.stated else UNSTATED):
        best = max((rank for rank, grade in enumerate(grades) if case.proves & bit_of(grade, slot)), default=-1)
        if best >= 0:
            proved.append(f"{grades[best]} {configuration}")
        above = grades[best + 1 :]
        wanted = case.ordered or (above[0] if above else "")
        if wanted in above:
            name = wanted if case.stated else f"{wanted} {configuration}"
            said.append(f"{name} {_why_not(case, wanted, slot, top[wanted])}")
    words = f"proves {' and '.join(proved)}" if proved else "proves no grade"
    return "; ".join(proved), "; ".join([words, *dict.fromkeys(said)])


def _why_not(case: _Case, grade: str, slot: int, top_of_grade_mhz: float) -> str:
    if case.fails if grade == case.ordered else case.refuted & bit_of(grade, slot):
        return "fails"
    if case.stops_mhz < top_of_grade_mhz * (1 - EDGE_TOLERANCE):
        return f"cannot be proved: the sweep stops at {case.stops_mhz:g} MHz"
    if case.by_worst:
        return "cannot be proved: worst points are those of the limit that was loaded"
    return "cannot be proved"


def top_mhz(values: Values) -> dict[str, float]:
    """Highest frequency of each grade [MHz]."""
    top: dict[str, float] = {}
    for row in values.rows("copper_limits"):
        top[row["grade"]] = max(row["freq_max_mhz"], top.get(row["grade"], 0.0))
    return top


def _units(link: np.ndarray, readings: pd.DataFrame, judged: pd.DataFrame, curves: pd.DataFrame) -> pd.DataFrame:
    """link, proves, refutes of every reading in force that decides; a number beside a curve is left out."""
    use = judged["in_force"].to_numpy() & ~readings["parameter"].isin([*FOR_INFORMATION, WIRE_MAP]).to_numpy()
    use &= ~readings["parameter"].isin(["loss", "optical return loss"]).to_numpy()
    rows = pd.DataFrame(
        {
            "link": link[readings["record"].to_numpy()],
            "unit": readings["parameter"].cat.codes.to_numpy().astype(np.int64) * 64
            + (readings["pair"].cat.codes.to_numpy() + 1) * 4 + readings["end"].cat.codes.to_numpy() + 1,
            "proves": np.maximum(judged["proves"].to_numpy(), 0),
            "refutes": np.maximum(judged["refutes"].to_numpy(), 0),
            "curve": np.isin(np.arange(len(readings)), curves["reading"].to_numpy()),
            "worst": judged["basis"].isin(["worst point", "declared margin"]).to_numpy(),
        }
    )[use]  # fmt: skip
    beside = rows.groupby(["link", "unit"])["curve"].transform("any") & ~rows["curve"]
    return rows[~beside]


def _all_bits(link: np.ndarray, bits: np.ndarray, count: int) -> np.ndarray:
    """Bits that every reading of a link has; none where it has no reading."""
    out = np.full(count, _ALWAYS, dtype=np.int64)
    np.bitwise_and.at(out, link, bits)
    return np.where(np.bincount(link, minlength=count) > 0, out, 0)


def _any_bits(link: np.ndarray, bits: np.ndarray, count: int) -> np.ndarray:
    out = np.zeros(count, dtype=np.int64)
    np.bitwise_or.at(out, link, bits)
    return out


def _stops_mhz(link: np.ndarray, readings: pd.DataFrame, curves: pd.DataFrame, count: int) -> np.ndarray:
    """Lowest frequency at which a curve of each link ends [MHz]; inf where it has none."""
    out = np.full(count, np.inf)
    known = curves["reading"].to_numpy() >= 0
    at = link[readings["record"].to_numpy()[curves["reading"].to_numpy()[known]]]
    np.minimum.at(out, at, curves["f_max_mhz"].to_numpy()[known])
    return out


def _tests_missing(missing: str) -> bool:
    """Whether a part of what a link lacks speaks of a test that is not there."""
    parts = [part for part in missing.split("; ") if part]
    return any(not part.endswith(NOT_JUDGED) and part not in {DECLARED_FAIL, *_NO_TEST} for part in parts)


_NO_TEST = {"grade", "nothing could be judged"}


def _wire_map_fails(link: np.ndarray, readings: pd.DataFrame, judged: pd.DataFrame, count: int) -> np.ndarray:
    use = (readings["parameter"] == WIRE_MAP).to_numpy() & judged["in_force"].to_numpy()
    use &= judged["verdict"].isin(["fail", "marginal fail"]).to_numpy()
    out = np.zeros(count, dtype=bool)
    out[link[readings["record"].to_numpy()[use]]] = True
    return out


def _first(values: pd.Series, link: np.ndarray, count: int) -> np.ndarray:
    out = np.full(count, None, dtype=object)
    out[link[::-1]] = values.astype("object").to_numpy()[::-1]
    return out
