"""What each twisted-pair link must be judged to be, by plain arithmetic of its own: nothing of the product is imported.

A worst point is worst against the limit that the tester had loaded. Against the same limit its margin decides. Against
another one it proves a failure where it lies beyond that limit, and a pass only by its bound: with worst margin m to
the loaded limit L the curve lies everywhere at L + m or better (a ceiling: L - m), so L' is met if L + m is at least
L' at every frequency of L'. A sweep is judged at every point.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import scene_pair_limits
from scene_pair_limits import TOP_MHZ
from scene_pair_readings import Tested, Worst, counts
from scene_pairs import PairLink

GRADES = ("5e", "6", "6A")
TINY = 1e-9
EVERY_MHZ = np.geomspace(1, 500, 4000)
SWEEP = "sweep_csv"

Judged = tuple[str, float, Any]
"""Verdict of a reading, its margin (NaN where only a bound speaks), and where: parameter, pair, end, MHz, value, limit."""


def _where(parameter: str, pair: str, end: str, f_mhz: float, value: float, grade: str) -> tuple[Any, ...]:
    f_limit = 10.0 if math.isnan(f_mhz) else f_mhz
    return parameter, pair, end, f_mhz, value, float(scene_pair_limits.limit(parameter, grade, f_limit))


def judge_worst(worst: Worst, loaded: str, grade: str) -> Judged:
    """One worst reading against the limits of `grade`."""
    f_mhz = worst.frequency_mhz
    if math.isnan(f_mhz):  # delay and skew: both limits are nearly flat, and the links lie far below
        margin = float(scene_pair_limits.margin(worst.parameter, grade, TOP_MHZ[grade], worst.value))
        return ("pass" if margin >= 0 else "fail"), margin, _where(worst.parameter, "", "", f_mhz, worst.value, grade)
    where = _where(worst.parameter, worst.pair, worst.end, f_mhz, worst.value, grade)
    at_point = float(scene_pair_limits.margin(worst.parameter, grade, f_mhz, worst.value))
    if at_point < -TINY:
        return "fail", at_point, where
    if loaded == grade:
        return "pass", at_point, where
    if TOP_MHZ[loaded] < TOP_MHZ[grade]:
        return "not judged", math.nan, where
    f = EVERY_MHZ[: np.searchsorted(EVERY_MHZ, TOP_MHZ[grade], side="right")]
    own = float(scene_pair_limits.margin(worst.parameter, loaded, f_mhz, worst.value))
    sign = 1 if worst.parameter in scene_pair_limits.CEILINGS else -1
    bound = scene_pair_limits.limit(worst.parameter, loaded, f) - sign * own
    room = scene_pair_limits.margin(worst.parameter, grade, f, bound)
    return ("pass" if room.min() >= -TINY else "not judged"), math.nan, where


def judge_sweep(one: Tested, grade: str) -> list[Judged]:
    """The worst point of each curve against the limits of `grade`; a sweep that stops short judges nothing."""
    found: list[Judged] = []
    for (parameter, pair, end), curve in one.sweep.items():
        counting = counts(parameter, one.sweep) & (one.f_mhz <= TOP_MHZ[grade])
        room = np.where(counting, scene_pair_limits.margin(parameter, grade, one.f_mhz, curve), np.inf)
        at = int(room.argmin())
        where = _where(parameter, pair, end, float(one.f_mhz[at]), float(curve[at]), grade)
        short = one.f_mhz[-1] < TOP_MHZ[grade]
        verdict = "fail" if room[at] < -TINY else "not judged" if short else "pass"
        found.append((verdict, float(room[at]), where))
    return found


def judge(one: Tested, grade: str) -> list[Judged]:
    """Every reading of a link against the limits of `grade`."""
    of_sweep = judge_sweep(one, grade) if one.layout == SWEEP else []
    spoken = {where[0] for _, _, where in of_sweep}
    worst = [judge_worst(worst, one.grade, grade) for worst in one.worst if worst.parameter not in spoken]
    return of_sweep + worst


def _word(one: Tested, grade: str) -> tuple[str, list[Judged]]:
    judged = judge(one, grade)
    words = {verdict for verdict, _, _ in judged}
    if "fail" in words or one.link.wire_map != "pass":
        return "fail", judged
    return ("incomplete" if "not judged" in words else "pass"), judged


def proved(one: Tested) -> str:
    """The best grade that the readings prove; empty where none."""
    return next((grade for grade in reversed(GRADES) if _word(one, grade)[0] == "pass"), "")


def expected(source: str, link: PairLink, one: Tested | None) -> dict[str, Any]:
    """A row of expected_pairs.csv. Where only bounds speak the least margin is left open."""
    trouble = link.trouble
    head = {"source": source, "link": link.label, "grade": link.grade, "configuration": link.configuration}
    tail = {"wire_map": link.wire_map, "planted": trouble.parameter or "wire map" if trouble else ""}
    if one is None:
        return head | {"verdict": "no result"} | tail
    verdict, judged = _word(one, link.grade)
    with_margin = [
        (margin, where) for _, margin, where in judged if where[0] not in ("propagation delay", "delay skew")
    ]
    row = head | {"verdict": verdict, "proved": proved(one)} | tail
    if any(math.isnan(margin) for margin, _ in with_margin):
        return row
    margin_db, where = min(with_margin, key=lambda found: found[0])
    names = ("parameter", "pair", "end", "frequency_mhz", "value_db", "limit_db")
    return row | {"least_margin_db": margin_db} | dict(zip(names, where, strict=True))
