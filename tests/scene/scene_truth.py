"""What the scene must be judged to be, by plain arithmetic of its own: nothing of the product is imported here.

Allowances of TIA-568.3-E, recalled by the author of this scene and not read from the document:
cable 3.0 dB/km at 850 nm and 1.5 dB/km at 1300 nm for OM3 and OM4; single-mode 0.4 dB/km outside plant and
0.5 dB/km indoor-outdoor at 1310 and 1550 nm; 0.75 dB for a mated pair; 0.3 dB for a splice. Reference: one cord, so
that both end connections are in the reading.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from scene_campus import Cable
from scene_physics import Shot

CABLE_DB_PER_KM = {
    ("OM3", 850): 3.0,
    ("OM3", 1300): 1.5,
    ("OM4", 850): 3.0,
    ("OM4", 1300): 1.5,
    ("OS2 outside plant", 1310): 0.4,
    ("OS2 outside plant", 1550): 0.4,
    ("OS2 indoor-outdoor", 1310): 0.5,
    ("OS2 indoor-outdoor", 1550): 0.5,
    ("OS2", 1310): 0.4,  # construction not stated: the stricter of the two
    ("OS2", 1550): 0.4,
}
MATED_PAIR_DB = 0.75
SPLICE_DB = 0.3
ACCURACY_DB = 0.1
"""The owner's rule of the campus job; files checked without a job have no accuracy, and nothing is marginal."""

NOT_MEASURED = ("n/a", "---")


@dataclass(frozen=True)
class Facts:
    """What the judge may know of a link: what its file or the schedule says. Lengths in m, None where not said."""

    cable_type: str
    file_length_m: float | None
    schedule_length_m: float | None
    mated_pairs: int
    splices: int


def limit_db(facts: Facts, wavelength_nm: int, length_m: float) -> float:
    """Most loss that the link may show [dB]."""
    cable_db = CABLE_DB_PER_KM[facts.cable_type, wavelength_nm] * length_m / 1000
    return cable_db + facts.mated_pairs * MATED_PAIR_DB + facts.splices * SPLICE_DB


def governing_length_m(facts: Facts) -> float | None:
    """The file's length before the schedule's; the shorter, so the stricter, where they differ by more than 10 %."""
    said = [m for m in (facts.file_length_m, facts.schedule_length_m) if m is not None]
    if len(said) == 2 and abs(said[0] - said[1]) > 0.10 * said[1]:
        return min(said)
    return said[0] if said else None


def in_force(shots: list[Shot]) -> tuple[dict[tuple[int, str], Shot], int]:
    """The latest reading of each wavelength and direction, and how often the most often tested one was tested."""
    latest: dict[tuple[int, str], Shot] = {}
    count: dict[tuple[int, str], int] = {}
    for shot in sorted(shots, key=lambda one: one.tested_at):
        unit = (shot.wavelength_nm, shot.direction)
        latest[unit] = shot
        count[unit] = count.get(unit, 0) + (shot.cell not in NOT_MEASURED)
    return latest, max(count.values(), default=0)


def judge_reading(shot: Shot, facts: Facts, length_m: float | None, accuracy_db: float) -> tuple[str, float]:
    """Verdict and margin [dB] of one reading; NaN where there is no margin."""
    if shot.cell == "OL":
        return "fail", math.nan
    loss_db = float(shot.cell[1:]) if shot.cell.startswith("<") else shot.loss_db
    if loss_db < -ACCURACY_DB:
        return "not judged", math.nan
    margin_db = limit_db(facts, shot.wavelength_nm, length_m or 0.0) - loss_db
    if margin_db < -1e-9:
        return ("not judged", math.nan) if length_m is None else ("fail", margin_db)
    return ("marginal" if margin_db <= accuracy_db else "pass"), margin_db


def judge_link(shots: list[Shot], cable: Cable, facts: Facts, accuracy_db: float) -> dict[str, Any]:
    """Verdict, least margin, and what they rest on, as a row of expected.csv."""
    latest, attempts = in_force(shots)
    readings = [shot for shot in latest.values() if shot.cell not in NOT_MEASURED]
    length_m = governing_length_m(facts)
    judged = [(*judge_reading(shot, facts, length_m, accuracy_db), shot) for shot in readings]
    words = {verdict for verdict, _, _ in judged}
    measured = {shot.wavelength_nm for shot in readings}
    complete = measured >= set(cable.wavelengths_nm) and length_m is not None and "not judged" not in words
    verdict = (
        "no result"
        if not shots
        else "fail"
        if "fail" in words
        else "incomplete"
        if not complete
        else "marginal"
        if "marginal" in words
        else "pass"
    )
    with_margin = [(margin_db, shot) for _, margin_db, shot in judged if not math.isnan(margin_db)]
    least = min(with_margin, key=lambda one: one[0], default=None)
    return {
        "verdict": verdict,
        "least_margin_db": least and least[0],
        "least_margin_db_at_schedule_length": _at_schedule_length(with_margin, facts),
        "wavelength_nm": least and least[1].wavelength_nm,
        "direction": least and least[1].direction,
        "loss_db": least and least[1].loss_db,
        "limit_db": least and least[0] + least[1].loss_db,
        "attempts": attempts,
        "files_in_force": " ".join(sorted({shot.file for shot in readings})),
    }


def _at_schedule_length(with_margin: list[tuple[float, Shot]], facts: Facts) -> float | None:
    """The least margin if the scheduled length were used instead of the measured one: shows how little hinges on it."""
    if facts.schedule_length_m is None:
        return None
    return min(
        (judge_reading(shot, facts, facts.schedule_length_m, 0.0)[1] for _, shot in with_margin),
        default=None,
    )
