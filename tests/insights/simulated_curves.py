"""Honest sweeps of twisted pair from physics alone, as a folder of CSV files; copies are made by a test. All invented.

The generator knows nothing of how copies are looked for. Return loss is the exact input reflection of a chain of lossy
line sections whose impedances scatter along the cable (compared with scikit-rf in test_simulated_curves.py); NEXT and
ACR-F are sums of weak couplings, section by section, each with the phase and loss of its way; every instrument adds a
noise of its own. Links of one room share the reel: its impedance, the period of its irregularities, and the make of its
connectors, so that honest links are as much alike as they are in a building.
`python tests/insights/simulated_curves.py FOLDER [SEED]` writes one to look at.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.links import link_up
from analyzer.budget.one_file import judge_file
from analyzer.budget.scheduled import ScheduleIndex
from analyzer.job import CommandLine, parse_job
from analyzer.points import Points, curve_hash
from analyzer.schema import Analysis
from analyzer.standards import load

SINGLES = ("1-2", "3-6", "4-5", "7-8")
COMBINED = ("1-2/3-6", "1-2/4-5", "1-2/7-8", "3-6/4-5", "3-6/7-8", "4-5/7-8")
MEMBERS = np.array([(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)])
SECTION_M = 0.5
CONNECTOR_M = 0.03
REFERENCE_OHM = 100.0
LIGHT_M_PER_S = 299_792_458.0
VELOCITY = 0.68
PER_ROOM = 12
GRID_MHZ = np.r_[1.0:10.0:1.0, 10.0:100.0:2.0, 100.0:500.1:4.0]


@dataclass
class Sweeps:
    """Curves of n links on one grid."""

    label: list[str]
    length_m: np.ndarray
    grid_mhz: np.ndarray
    curve: dict[tuple[str, str, str], np.ndarray]
    """(parameter, pair, end) -> n × points [dB]."""

    def copied(self, at: int, of: int, change: Callable[[np.ndarray], np.ndarray], *, turned: bool = False) -> set[str]:
        """Put the changed curves of link `of` in the place of those of link `at`; returns both labels."""
        other = {"A": "B", "B": "A"}
        own = {key: change(self.curve[(*key[:2], other[key[2]]) if turned else key][of]) for key in self.curve}
        for key, value in own.items():
            self.curve[key][at] = value
        return {self.label[at], self.label[of]}


def propagation(grid_mhz: np.ndarray) -> np.ndarray:
    """Propagation constant [1/m], complex: loss of a good category 6A cable (formula of its grade, from memory)."""
    loss_db_per_m = (1.82 * np.sqrt(grid_mhz) + 0.0091 * grid_mhz + 0.25 / np.sqrt(grid_mhz)) / 100
    return np.asarray(loss_db_per_m / (20 * np.log10(np.e)) + 2j * np.pi * grid_mhz * 1e6 / (VELOCITY * LIGHT_M_PER_S))


def input_reflection(ohm: np.ndarray, length_m: np.ndarray, grid_mhz: np.ndarray) -> np.ndarray:
    """Reflection seen from the reference impedance into a chain that ends in the reference impedance.

    Args:
        ohm: impedances of the sections, n × s, the nearest first.
        length_m: lengths of the sections, n × s; a section of no length changes nothing if its impedance is that of its
            neighbor.
        grid_mhz: frequencies, f.
    """
    gamma = propagation(grid_mhz)
    ohm = np.c_[np.full(len(ohm), REFERENCE_OHM), ohm, np.full(len(ohm), REFERENCE_OHM)]
    step = (ohm[:, 1:] - ohm[:, :-1]) / (ohm[:, 1:] + ohm[:, :-1])
    seen = np.repeat(step[:, -1:], len(grid_mhz), axis=1).astype(complex)
    for at in range(length_m.shape[1] - 1, -1, -1):
        # sections share a length but for the last of each link: few distinct exponentials
        lengths, which = np.unique(length_m[:, at], return_inverse=True)
        seen *= np.exp(-2 * lengths[:, None] * gamma[None, :])[which]
        own = step[:, at : at + 1]
        seen = (own + seen) / (1 + own * seen)
    return np.asarray(seen)


def honest(
    links: int, seed: int, grid_mhz: np.ndarray = GRID_MHZ, decimals: int = 1, all_about_m: float | None = None
) -> Sweeps:
    """Links as careful people install them, twelve to a room; `all_about_m` makes all of them about as long."""
    rng = np.random.default_rng(seed)
    room = np.arange(links) // PER_ROOM
    rooms = int(room.max()) + 1
    # most links of a room are about as long as each other; some rooms lie beside the closet
    middle = np.where(rng.random(rooms) < 0.15, rng.uniform(4, 9, rooms), rng.gamma(9, 4.6, rooms).clip(10, 84))
    middle = middle if all_about_m is None else np.full(rooms, all_about_m)
    length = np.maximum(np.round((middle[room] + rng.normal(0, 1.5, links)) / SECTION_M), 6) * SECTION_M
    curve: dict[tuple[str, str, str], np.ndarray] = {}
    makes = {
        "ohm": REFERENCE_OHM * (1 + rng.normal(0, 0.012, (rooms, 4))), "period_m": rng.uniform(1.1, 2.4, (rooms, 4)),
        "plug": rng.normal(-0.06, 0.05, (rooms, 4)), "coupled": rng.normal(0, 1.0, (rooms, 6)),
    }  # fmt: skip
    for pair, name in enumerate(SINGLES):
        for end, reflected in zip("AB", _reflections(rng, room, length, makes, pair, grid_mhz), strict=True):
            curve["return loss", name, end] = _db(reflected, rng)
    for at, name in enumerate(COMBINED):
        near, far = _crosstalk(rng, room, length, makes["coupled"][:, at], grid_mhz)
        for end in "AB":
            curve["NEXT", name, end] = _db(near[end], rng)
            curve["ACR-F", name, end] = _db(far[end], rng)
    lost = 20 * np.log10(np.e) * propagation(grid_mhz).real
    for name in SINGLES:
        warm = 1 + rng.normal(0, 0.006, links)
        own = (length * warm)[:, None] * lost + 0.04 * np.sqrt(grid_mhz / 100)
        for end in "AB":
            curve["insertion loss", name, end] = own + rng.normal(0, 0.02, own.shape)
    curve = {key: np.round(values, decimals) for key, values in curve.items()}
    told = np.round(length + rng.uniform(-SECTION_M / 2, SECTION_M / 2, links), 1)
    return Sweeps([f"WB-{601 + r}-{n % PER_ROOM + 1:02d}" for n, r in enumerate(room)], told, grid_mhz, curve)


def _reflections(
    rng: np.random.Generator,
    room: np.ndarray,
    length: np.ndarray,
    makes: dict[str, Any],
    pair: int,
    grid_mhz: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Reflections from both ends of one pair of every link."""
    n, most = len(room), int(length.max() / SECTION_M)
    place = np.arange(most) * SECTION_M
    inside = place[None, :] < length[:, None]
    period = 0.006 * np.sin(2 * np.pi * place / makes["period_m"][room, pair][:, None] + rng.uniform(0, 6.3, (n, 1)))
    scatter = rng.normal(0, 0.010, (n, most))
    ohm = makes["ohm"][room, pair][:, None] * (1 + period + scatter)
    near, far = (REFERENCE_OHM * (1 + makes["plug"][room, pair] + rng.normal(0, 0.03, n)) for _ in "AB")
    both = []
    for first, last, chain in ((near, far, ohm), (far, near, _turned(ohm, inside))):
        # behind the last section stands its far connector, behind that nothing
        whole = np.c_[first, np.where(inside, chain, last[:, None]), last]
        lengths = np.c_[np.full(n, CONNECTOR_M), np.where(inside, SECTION_M, 0.0), np.full(n, CONNECTOR_M)]
        both.append(input_reflection(whole, lengths, grid_mhz))
    return both[0], both[1]


def _turned(chain: np.ndarray, inside: np.ndarray) -> np.ndarray:
    """Every chain from its other end, what lies inside in front."""
    count = inside.sum(axis=1)
    at = (count[:, None] - 1 - np.arange(chain.shape[1])[None, :]) % chain.shape[1]
    return np.take_along_axis(chain, at, axis=1)


def _crosstalk(
    rng: np.random.Generator, room: np.ndarray, length: np.ndarray, make: np.ndarray, grid_mhz: np.ndarray
) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
    """NEXT and ACR-F of one combination of pairs as amplitudes, by end: first-order sums over the sections."""
    n, most = len(room), int(length.max() / SECTION_M)
    place = (np.arange(most) + 0.5) * SECTION_M
    inside = place[None, :] < length[:, None]
    gamma = propagation(grid_mhz)
    per_section = np.where(inside, rng.normal(0, 1.0, (n, most)), 0.0)
    rising = 1j * grid_mhz / 100
    way = np.exp(-2 * place[:, None] * gamma[None, :])
    near, far = {}, {}
    plug = {end: 10 ** (-57 / 20) * (0.6 * make[room] + rng.normal(0, 0.4, n)) for end in "AB"}
    whole = np.exp(-2 * length[:, None] * gamma[None, :])
    for end, other, chain in (("A", "B", per_section), ("B", "A", _turned(per_section, inside))):
        along = 10 ** (-67 / 20) * rising * (chain @ way)
        near[end] = along + rising * (plug[end][:, None] + plug[other][:, None] * whole)
        drawn = 10 ** (-72 / 20) * chain.sum(axis=1) / np.sqrt(20)
        # both ways are equally long: far-end crosstalk over loss rises smoothly, connectors add with a small phase
        phase = np.exp(-2j * 0.02 * gamma.imag)[None, :]
        far[end] = rising * (drawn[:, None] + 0.5 * (plug["A"][:, None] + plug["B"][:, None] * phase))
    return near, far


def _db(amplitude: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """As the instrument reads it: a noise floor far below, and two hundredths of a dB."""
    floor = 10 ** (-80 / 20) * (rng.normal(size=amplitude.shape) + 1j * rng.normal(size=amplitude.shape)) / np.sqrt(2)
    read = np.abs(amplitude + floor)
    return np.asarray(-20 * np.log10(np.maximum(read, 1e-5)) + rng.normal(0, 0.02, amplitude.shape))


def write(made: Sweeps, folder: Path, decimals: int = 1) -> Path:
    """One CSV for each room, link under link: facts above, one column for each curve."""
    evidence = folder / "evidence"
    evidence.mkdir(parents=True, exist_ok=True)
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    head = ",".join(["Frequency (MHz)", *(f"{name} {pair} end {end} (dB)" for name, pair, end in made.curve)])
    rooms: dict[str, list[str]] = {}
    for number, label in enumerate(made.label):
        table = np.column_stack([values[number] for values in made.curve.values()])
        lines = [
            f"{frequency:g}," + ",".join(f"{value:.{decimals}f}" for value in row)
            for frequency, row in zip(made.grid_mhz, table.tolist(), strict=True)
        ]
        above = (
            f"Link,{label}\nGrade,6A\nConfiguration,permanent link\nLength (m),{made.length_m[number]:.1f}\n\n{head}\n"
        )
        rooms.setdefault(label[:6], []).append(above + "\n".join(lines) + "\n")
    for room, texts in rooms.items():
        (evidence / f"{room}.csv").write_text("\n".join(texts), encoding="utf-8")
    return folder


def run_of(made: Sweeps) -> Analysis:
    """The sweeps judged and joined without any file."""
    keys = list(made.curve)
    n, k = len(made.label), len(keys)
    records = pd.DataFrame(
        {
            "record": np.arange(n), "row": np.arange(n) + 2, "label": made.label, "strands": 1, "grade": "6A",
            "key": [label.casefold() for label in made.label], "configuration": "permanent link",
            "medium": "twisted pair", "length_m": made.length_m,
        }
    )  # fmt: skip
    curves = pd.DataFrame(keys * n, columns=["parameter", "pair", "end"]).assign(
        curve=np.arange(n * k), record=np.repeat(np.arange(n), k), row=1, col=1, n=len(made.grid_mhz), lost=0, grid=0,
        f_min_mhz=made.grid_mhz[0], f_max_mhz=made.grid_mhz[-1],
    )  # fmt: skip
    values = np.stack([made.curve[key] for key in keys], axis=1).reshape(n * k, -1)
    curves["hash"] = np.fromiter((curve_hash(made.grid_mhz, one) for one in values), np.uint64, n * k)
    points = Points.of([(made.grid_mhz, one) for one in values])
    records, readings = schema.conform("records", records), schema.empty("readings")
    job, schedule = parse_job(JOB.encode(), "job.toml"), ScheduleIndex(schema.empty("schedule"))
    verdicts = judge_file(
        records, readings, schedule, job, CommandLine(), load(), schema.conform("curves", curves), points
    )
    linked = link_up(verdicts.records, verdicts.facts, verdicts.readings, verdicts.judged, job)
    records = schema.conform("records", verdicts.records)
    records["link"] = linked.link_of_record
    return Analysis(
        **{name: schema.empty(name) for name in ("files", "blocks", "columns", "set_aside")},
        records=records, facts=verdicts.facts, readings=verdicts.readings,
        judged=verdicts.judged.assign(in_force=linked.in_force), limits=verdicts.limits, reasons=verdicts.reasons,
        links=linked.links, schedule=schedule.table, findings=[], totals={}, job=job, curves=verdicts.curves,
        pictures=verdicts.pictures, sketches=verdicts.sketches,
    )  # fmt: skip


JOB = """
[job]
name = "Simulated sweeps (invented)"
invented = true

[order]
standard = "TIA"
grade = "6A"

[evidence]
folder = "evidence"
"""


if __name__ == "__main__":
    write(honest(96, int(sys.argv[2]) if len(sys.argv) > 2 else 1), Path(sys.argv[1]))
