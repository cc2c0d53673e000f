"""Invented twisted-pair links: what was built, what was planted, and the curves that a sweep would show.

Crosstalk of cable falls by 15 dB a decade and that of a connection by 20; both add in phase, and a seeded ripple makes
the notches. Power sums are summed from the pairs, as the standards define them. The facts stand in `pair_cables.csv`,
`pair_troubles.csv` and `pair_parameters.toml`.
"""

from __future__ import annotations

import csv
import tomllib
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import scene_pair_limits
from scene_campus import HERE

PAIRS = ("1-2", "3-6", "4-5", "7-8")
COMBINATIONS = ("1-2/3-6", "1-2/4-5", "1-2/7-8", "3-6/4-5", "3-6/7-8", "4-5/7-8")
ENDS = ("A", "B")
LAY_OF = {"4-5": 0, "1-2": 1, "3-6": 2, "7-8": 3}
EXEMPT_LOSS_DB = {"NEXT": 4.0, "PSNEXT": 4.0, "return loss": 3.0}
"""Below this insertion loss the parameter is for information: testers look for its worst point elsewhere."""

Key = tuple[str, str, str]
"""Parameter, pair or combination, end (empty where it has none)."""


@dataclass(frozen=True)
class Trouble:
    link: str
    parameter: str
    pair: str
    end: str
    weaker_db: float
    wire_map: str
    words: str


@dataclass(frozen=True)
class PairLink:
    """One cable of four pairs. `length_m` is what the tester found."""

    label: str
    wing: str
    number: int
    label_a: str
    place_a: str
    end_type_a: str
    label_b: str
    place_b: str
    end_type_b: str
    grade: str
    configuration: str
    cable_kind: str
    length_m: float
    area: str

    @property
    def trouble(self) -> Trouble | None:
        return troubles().get(self.label)

    @property
    def wire_map(self) -> str:
        return self.trouble.wire_map if self.trouble and self.trouble.wire_map else "pass"

    @property
    def tested(self) -> bool:
        return self.wire_map != "not tested"


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


@cache
def numbers() -> dict[str, Any]:
    return tomllib.loads((HERE / "pair_parameters.toml").read_text(encoding="utf-8"))


@cache
def troubles() -> dict[str, Trouble]:
    """Every planted trouble by the label of its link, in order."""
    return {
        row["link"]: Trouble(**(row | {"weaker_db": float(row["weaker_db"] or 0)}))  # type: ignore[arg-type]
        for row in rows("pair_troubles.csv")
    }


@cache
def links(name: str = "pair_cables.csv") -> dict[str, PairLink]:
    """Every link by its label, in the order of the schedule."""
    found = {}
    for place, row in enumerate(rows(name)):
        rng = np.random.default_rng([numbers()["seed"], place, len(name)])
        first, last = int(row["first"]), int(row["last"])
        lengths = rng.uniform(float(row["length_min_m"]), float(row["length_max_m"]), last - first + 1)
        same = {key: row[key] for key in ("place_a", "end_type_a", "place_b", "end_type_b", "grade", "configuration",
                                          "cable_kind", "area")}  # fmt: skip
        for number, length_m in zip(range(first, last + 1), lengths, strict=True):
            label = f"{row['wing']}{number:02d}"
            ends = {
                "label_a": f"{row['label_a']}-{number:02d}" if row["label_a"] else "",
                "label_b": f"{row['label_b']}{label.removeprefix(row['wing'])}" if row["label_b"] else "",
            }
            found[label] = PairLink(
                label=label, wing=row["wing"], number=number, length_m=round(float(length_m), 1), **ends, **same
            )
    return found


def grid_mhz(top_mhz: float) -> np.ndarray:
    """Frequencies that a tester stops at: finer at the low end."""
    parts = [np.arange(1, 16, 1.0), np.arange(16, 62, 2.0), np.arange(62, 100, 3.0), np.arange(100, 500.1, 8.0)]
    grid = np.concatenate(parts)
    return np.unique(np.append(grid[grid <= top_mhz], top_mhz))


def _ripple(rng: np.random.Generator, f: np.ndarray, length_m: float, amplitude_db: float) -> np.ndarray:
    """Reflections along a cable beat over frequency: a few cosines of random phase, zero mean."""
    made = np.zeros_like(f)
    for share in (0.13, 0.31, 0.62):
        period_mhz = 100.0 / (share * length_m) * rng.uniform(0.9, 1.1) * 6
        made += np.cos(2 * np.pi * f / period_mhz + rng.uniform(0, 2 * np.pi))
    return amplitude_db * made / 1.7


def power_sum(*levels_db: np.ndarray) -> np.ndarray:
    """Crosstalk from several pairs that add in power [dB]."""
    return -10 * np.log10(sum(10 ** (-level_db / 10) for level_db in levels_db))


def curves(one: PairLink, top_mhz: float) -> tuple[np.ndarray, dict[Key, np.ndarray]]:
    """Frequencies [MHz] and the true curve [dB] of every parameter, pair and end; pairs that are open have none."""
    spread, cable = numbers()["spread"], numbers()["cable"][one.cable_kind]
    stream = [ord(letter) for letter in one.label]
    rng = np.random.default_rng([numbers()["seed"], *stream])
    f = grid_mhz(top_mhz)
    decades, loss = np.log10(f / 100), cable["loss"]
    whole = spread["between_links_db"] * rng.standard_normal()
    per_100_m = loss[0] * np.sqrt(f) + loss[1] * f + loss[2] / np.sqrt(f)
    made: dict[Key, np.ndarray] = {}
    for pair in PAIRS:
        factor = 1 + spread["loss"] * rng.standard_normal()
        made["insertion loss", pair, ""] = factor * per_100_m * one.length_m / 100 + 2 * 0.012 * np.sqrt(f)
    for name, single in (("NEXT", "next"), ("ACR-F", "acrf")):
        slope = 15 if name == "NEXT" else 20
        for end in ENDS:
            for pair in COMBINATIONS:
                shift = whole + spread["next_db"] * rng.standard_normal()
                trend = scene_pair_limits.voltage_sum(
                    cable[f"{single}_db"] - slope * decades + shift,
                    cable[f"{single}_connection_db"] - 20 * decades + shift,
                )
                ripple = _ripple(rng, f, one.length_m, spread["ripple_db"])
                made[name, pair, end] = trend + ripple - _weaker(one, name, pair, end, f)
    low, high = cable["return_loss_db"]
    for end in ENDS:
        for pair in PAIRS:
            shift = whole + spread["return_loss_db"] * rng.standard_normal()
            trend = np.where(f < 20, low, low + (high - low) * np.log10(np.maximum(f, 20) / 20) / np.log10(5))
            trend = np.maximum(trend, 15.0 + 0 * f) + shift
            ripple = _ripple(rng, f, one.length_m, spread["ripple_db"])
            made["return loss", pair, end] = trend + ripple - _weaker(one, "return loss", pair, end, f)
    for power, single in (("PSNEXT", "NEXT"), ("PSACR-F", "ACR-F")):
        for end in ENDS:
            for pair in PAIRS:
                made[power, pair, end] = power_sum(
                    *(made[single, other, end] for other in COMBINATIONS if pair in other.split("/"))
                )
    dead = one.wire_map.split()[1:] if one.wire_map.startswith("open") else []
    return f, {key: curve for key, curve in made.items() if not any(pair in key[1] for pair in dead)}


def _weaker(one: PairLink, parameter: str, pair: str, end: str, f: np.ndarray) -> Any:
    """What a planted trouble takes away: nothing up to 6 MHz, all of it at 250 MHz and above; a connector's trouble grows."""
    trouble = one.trouble
    if trouble is None or (trouble.parameter, trouble.pair, trouble.end) != (parameter, pair, end):
        return 0.0
    return trouble.weaker_db * np.clip(np.log10(f / 6) / np.log10(250 / 6), 0, 1)


def delays_ns(one: PairLink) -> dict[str, int]:
    """Delay of each pair, by its lay."""
    delay = numbers()["delay"]
    return {pair: round(one.length_m * delay["ns_per_m"] * delay["lays"][LAY_OF[pair]]) for pair in PAIRS}
