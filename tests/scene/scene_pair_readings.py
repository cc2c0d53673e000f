"""What a tester prints of a twisted-pair link: the worst point of each parameter and end, or the whole sweep."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import scene_pair_limits
from scene_pairs import COMBINATIONS, ENDS, EXEMPT_LOSS_DB, PAIRS, Key, PairLink, curves, delays_ns, links

OF_BOTH_ENDS = ("NEXT", "PSNEXT", "ACR-F", "PSACR-F", "return loss")
COLUMNS: tuple[Key, ...] = (
    *(("insertion loss", pair, "") for pair in PAIRS),
    *(
        (parameter, pair, end)
        for parameter in OF_BOTH_ENDS
        for end in ENDS
        for pair in (COMBINATIONS if parameter in {"NEXT", "ACR-F"} else PAIRS)
    ),
)
"""Curves of a sweep in the order of its columns."""
WORST: tuple[Key, ...] = (
    *(("insertion loss", pair, "") for pair in PAIRS),
    *((parameter, "", end) for parameter in OF_BOTH_ENDS for end in ENDS),
    ("propagation delay", "", ""),
    ("delay skew", "", ""),
)
"""Parameter, pair and end of each worst reading in the order of print; without a pair the worst of all is meant."""


@dataclass(frozen=True)
class Worst:
    """One worst reading as printed: dB with one decimal, ns whole, frequency with one decimal (NaN where none)."""

    parameter: str
    pair: str
    end: str
    frequency_mhz: float
    value: float
    limit: float

    @property
    def margin(self) -> float:
        sign = 1 if self.parameter in scene_pair_limits.CEILINGS else -1
        return round(sign * (self.limit - self.value), 1)


@dataclass(frozen=True)
class Tested:
    """One link as one file tells it; `grade` is the one whose limits the tester had loaded."""

    link: PairLink
    grade: str
    file: str
    layout: str
    tested_at: datetime
    worst: tuple[Worst, ...]
    f_mhz: np.ndarray
    sweep: dict[Key, np.ndarray]


def plan_links(plan: dict[str, Any]) -> list[PairLink]:
    """Links of one file: whole wings, or single labels."""
    known = [*links().values(), *links("pair_single_cables.csv").values()]
    chosen = [one for name in plan["links"] for one in known if name in (one.wing, one.label)]
    return [one for one in chosen if one.tested]


def tested(plan: dict[str, Any]) -> list[Tested]:
    """Everything that one file holds, link by link."""
    made = []
    for place, one in enumerate(plan_links(plan)):
        grade = plan["tested_to"] or one.grade
        f, true = curves(one, scene_pair_limits.TOP_MHZ[grade])
        printed = {key: np.round(curve, 1) + 0.0 for key, curve in true.items()}
        when = plan["start"] + timedelta(minutes=3 * place)
        made.append(
            Tested(one, grade, plan["file"], plan["layout"], when, tuple(_worst(one, grade, f, printed)), f, printed)
        )
    return made


def _worst(one: PairLink, grade: str, f: np.ndarray, printed: dict[Key, np.ndarray]) -> list[Worst]:
    """Readings of a link; a pair that is open has none."""
    found = []
    for parameter, pair, end in WORST:
        if parameter == "propagation delay":
            slowest, delay_ns = max(delays_ns(one).items(), key=lambda item: item[1])
            found.append(Worst(parameter, slowest, "", np.nan, delay_ns, _printed_limit(parameter, grade, 10.0)))
        elif parameter == "delay skew":
            delays = delays_ns(one).values()
            found.append(Worst(parameter, "", "", np.nan, max(delays) - min(delays), 44.0))
        elif parameter != "insertion loss":
            found.append(_worst_point(parameter, end, grade, f, printed))
        elif (parameter, pair, "") in printed:
            loss_db = float(
                printed[parameter, pair, ""][-1]
            )  # where it is largest, as the crews of this scene print it
            found.append(Worst(parameter, pair, "", float(f[-1]), loss_db, _printed_limit(parameter, grade, f[-1])))
    return found


def _worst_point(parameter: str, end: str, grade: str, f: np.ndarray, printed: dict[Key, np.ndarray]) -> Worst:
    """The point of least margin of all pairs."""
    counting, least = counts(parameter, printed), {}
    of = {key: curve for key, curve in printed.items() if key[0] == parameter and key[2] == end}
    for key, curve in of.items():
        room = np.where(counting, scene_pair_limits.margin(parameter, grade, f, curve), np.inf)
        least[key] = float(room.min()), int(room.argmin())
    key = min(least, key=lambda name: least[name])
    at = least[key][1]
    return Worst(parameter, key[1], end, float(f[at]), float(of[key][at]), _printed_limit(parameter, grade, f[at]))


def counts(parameter: str, printed: dict[Key, np.ndarray]) -> np.ndarray:
    """Where a parameter may fail a link: not where every pair loses so little that its echo is for information."""
    loss_db = np.min([curve for key, curve in printed.items() if key[0] == "insertion loss"], axis=0)
    return loss_db >= EXEMPT_LOSS_DB.get(parameter, 0.0)


def _printed_limit(parameter: str, grade: str, f_mhz: float) -> float:
    limit = float(scene_pair_limits.limit(parameter, grade, f_mhz))
    return round(limit, 0 if parameter == "propagation delay" else 1)
