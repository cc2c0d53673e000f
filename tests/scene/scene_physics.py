"""Simulated readings: cable, matings and splices add up to the loss of a strand, then the tester adds its noise."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from scene_campus import Cable, Trouble

NORMAL_97 = 1.8807936081512509
"""97th percentile of the standard normal distribution."""

NEVER = Trouble("", "", (0.0, 0.0), None, ("", ""), "")


@dataclass(frozen=True)
class Shot:
    """One reading as an export prints it. `cell` stands where the tester printed no plain number."""

    cable: Cable
    strand: int
    label: str
    wavelength_nm: int
    direction: str
    loss_db: float
    cell: str
    length_m: float
    tested_at: datetime
    file: str


def lognormal(mean_db: float, percentile_97_db: float) -> tuple[float, float]:
    """Location and scale of the lognormal distribution with this mean and 97th percentile.

    mean = exp(location + scale**2 / 2) and percentile = exp(location + NORMAL_97 * scale), solved for both.
    """
    scale = NORMAL_97 - math.sqrt(NORMAL_97**2 - 2 * math.log(percentile_97_db / mean_db))
    return math.log(mean_db) - scale**2 / 2, scale


def _draw(rng: np.random.Generator, grade: dict[str, float], strands: int, each: int) -> np.ndarray:
    location, scale = lognormal(grade["mean_db"], grade["percentile_97_db"])
    return np.exp(location + scale * rng.standard_normal((strands, each))).sum(axis=1)


def simulate(cable: Cable, length_m: float, stream: int, numbers: dict[str, Any]) -> tuple[np.ndarray, np.ndarray]:
    """True losses [strand, wavelength, direction] in dB, and measured lengths [strand] in m, of a healthy cable."""
    rng = np.random.default_rng([numbers["seed"], stream])
    spread = numbers["attenuation_spread"]
    typical = np.array(numbers["attenuation_db_per_km"][cable.cable_type])
    factor = 1 + spread["between_cables"] * rng.standard_normal()
    factor = factor * (1 + spread["between_strands"] * rng.standard_normal(cable.strands))
    grade = numbers["mating"][cable.glass]
    matings_db = _draw(rng, grade, cable.strands, cable.mated_pairs)
    splices_db = _draw(rng, numbers["splice"], cable.strands, cable.splices)
    by_wavelength = np.array([1.0, grade["long_wavelength_factor"]])
    loss_db = np.outer(factor, typical) * length_m / 1000 + np.outer(matings_db, by_wavelength) + splices_db[:, None]
    shift_db = numbers["reading"]["direction_spread_db"] * rng.standard_normal((cable.strands, 1, 2))
    lengths_m = length_m * (1 + numbers["length"]["relative_spread"] * rng.standard_normal(cable.strands))
    return loss_db[:, :, None] + shift_db, lengths_m


def shots(
    cable: Cable, plan: dict[str, Any], planted: dict[str, Trouble], stream: int, numbers: dict[str, Any],
    *, retest: bool = False,
) -> list[Shot]:  # fmt: skip
    """Every reading of a cable in one file, in the order of strands, wavelengths, directions.

    `plan`: file, start, directions, decimals, length_m where the file has another idea than the schedule.
    With `retest` only the strands that were tested again, with what was left of their trouble.
    """
    length_m = plan.get("length_m") or cable.length_m
    loss_db, lengths_m = simulate(cable, length_m, stream, numbers)
    noise = np.random.default_rng([numbers["seed"], stream, 2 if retest else 1])
    loss_db = loss_db + numbers["reading"]["noise_db"] * noise.standard_normal(loss_db.shape)
    found = []
    for strand in range(1, cable.strands + 1):
        trouble = planted.get(cable.link(strand), NEVER)
        extra_db = trouble.retest_db if retest else trouble.extra_db
        if trouble.trouble == "not tested" or extra_db is None:
            continue
        tested_at = plan["start"] + timedelta(minutes=2 * strand + (strand // 12) * 7)
        for at, wavelength_nm in enumerate(cable.wavelengths_nm):
            for way, direction in enumerate(plan["directions"]):
                value = float(np.round(loss_db[strand - 1, at, way] + extra_db[at], plan["decimals"]))
                found.append(
                    Shot(
                        cable, strand, _label(cable, strand, trouble), wavelength_nm, direction, value + 0.0,
                        trouble.cells[at], float(np.round(lengths_m[strand - 1], 1)), tested_at, plan["file"],
                    )
                )  # fmt: skip
    return found


def _label(cable: Cable, strand: int, trouble: Trouble) -> str:
    label = cable.link(strand)
    return label.replace("0", "O", 1) if trouble.trouble == "misspelled label" else label
