"""How the search for near-copies of curves grows: python tests/benchmarks/curve_copies.py [links ...].

Invented sketches of links with four kinds of curve at two ends, correlated from bin to bin as those of simulated sweeps
are; fifty links are copies of others with a noise of 0.05 dB, half of them with the ends exchanged. Timed are the
learning of the reach and the search, beside each time how often n log n it is of the time before; then the whole
screening of a run, and what a sketch costs for a million points, and what other sketches of simulated sweeps would tell: the distance that one in a hundred
honest pairs stays under, and that 99 of 100 near-copies stay under, as root mean square in dB.
"""

from __future__ import annotations

import math
import os
import sys
import time
from pathlib import Path
from types import SimpleNamespace

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[2]))
sys.path.insert(0, str(Path(__file__).parents[1] / "insights"))

from judge_curves import made
from simulated_curves import honest, run_of

from analyzer import schema
from analyzer.budget.curve_sketches import SKETCHED, bin_starts, sketches_of
from analyzer.insights.curve_copies import Sweeps, alike_links, near_curves, reach_of
from analyzer.insights.joined import Joined
from analyzer.insights.sketches import apart, detrended
from analyzer.schema import CATEGORIES, NO_POINT, SKETCH_BINS

KINDS, BINS, COPIES = 4, 28, 50


def invented(links: int) -> tuple[Sweeps, set[tuple[int, int]]]:
    """Sketches and the pairs of links that are copies."""
    rng = np.random.default_rng(links)
    sketch = rng.normal(0, 4.0, (links, KINDS, 2, BINS)).astype(np.float32)
    sketch[..., 1:] = 0.8 * sketch[..., 1:] + 0.6 * sketch[..., :-1]
    sketch = detrended(sketch.reshape(-1, BINS)).reshape(sketch.shape)
    copies, originals = rng.permutation(links)[: 2 * COPIES].reshape(2, COPIES)
    own = sketch[originals].copy()
    own[::2] = own[::2, :, ::-1]
    sketch[copies] = own + rng.normal(0, 0.05, own.shape)
    number = np.arange(links * KINDS * 2).reshape(links, KINDS, 2)
    planted = {(min(pair), max(pair)) for pair in zip(copies.tolist(), originals.tolist(), strict=True)}
    return Sweeps(np.arange(links), sketch, number, number.astype(np.uint64) + 1), planted


def growth(sizes: list[int]) -> None:
    before: tuple[int, float] | None = None
    for links in sizes:
        sweeps, planted = invented(links)
        begun = time.process_time()
        reach, chance = reach_of(sweeps)
        alike = alike_links(sweeps, reach)
        took = time.process_time() - begun
        found = set(map(tuple, alike.pair.tolist()))
        more = ""
        if before:
            usual = before[1] * links * math.log(links) / (before[0] * math.log(before[0]))
            more = f", {took / usual:.2f} of n log n"
        print(  # noqa: T201
            f"{links:>8,} links, {links * KINDS * 2:>9,} sketches: {took:6.2f} s of processor time{more}; reach {reach:.2f} dB, "
            f"expected by chance {links * (links - 1) * chance:.1e}; {len(found & planted)} of {len(planted)} copies found, "
            f"{len(found - planted)} others"
        )
        before = (links, took)


def whole(links: int) -> None:
    """The screening as it stands in a run, from the table of curves: 20 curves a link."""
    rng = np.random.default_rng(links)
    keys = [("NEXT", pair, end) for pair in CATEGORIES["pair"][4:] for end in "AB"]
    keys += [("return loss", pair, end) for pair in CATEGORIES["pair"][:4] for end in "AB"]
    n, k = links * len(keys), len(keys)
    sketch = np.full((n, SKETCH_BINS), NO_POINT, dtype=np.int16)
    sketch[:, :BINS] = rng.normal(4000, 350, (n, BINS)).astype(np.int16)
    sketch[5 * k : 6 * k, :BINS] = sketch[:k, :BINS] + rng.integers(-6, 7, (k, BINS))
    number = np.arange(n)
    curves = pd.DataFrame(
        {
            **{name: [key[at] for key in keys] * links for at, name in enumerate(("parameter", "pair", "end"))},
            "record": number // k, "n": 500, "f_min_mhz": 1.0, "f_max_mhz": 500.0, "reading": number, "sketch": number,
            "hash": number + 1,
        }
    )  # fmt: skip
    readings = {name: curves[name] for name in ("record", "reading", "parameter", "pair", "end")} | {"row": 1, "col": 1}
    label = pd.Series([f"WB-{at // 24:04d}-{at % 24 + 1:02d}" for at in range(links)])
    names = {"label": label, "key": label.str.casefold(), "medium": "twisted pair", "verdict": "pass"}
    records = schema.conform("records", pd.DataFrame({"record": np.arange(links), "label": label})).assign(
        link=range(links)
    )
    tables = {
        "readings": pd.DataFrame(readings | {"value": 30.0}), "curves": curves,
        "judged": pd.DataFrame({"reading": number, "in_force": True}), "links": pd.DataFrame({"link": range(links), **names}),
    }  # fmt: skip
    tables = {name: schema.conform(name, table) for name, table in tables.items()}
    empty = {name: schema.empty(name) for name in ("files", "blocks")}
    job = Joined(SimpleNamespace(records=records, sketches=sketch, job=None, **tables, **empty))
    begun = time.process_time()
    found = near_curves(job)
    took = time.process_time() - begun
    print(f"{links:>8,} links, {n:>9,} curves, the whole screening: {took:6.2f} s, {len(found)} finding")  # noqa: T201


def cost() -> None:
    curves, points = made(500)
    sketches_of(curves, points)
    begun = time.process_time()
    sketch, _ = sketches_of(curves, points)
    took = time.process_time() - begun
    count = len(sketch) * 500
    print(f"sketches of {count / 1e6:.1f} million points: {took * 1000:.0f} ms of processor time")  # noqa: T201


def other_sketches() -> None:
    sweeps = honest(300, 5)
    grid, rng = sweeps.grid_mhz, np.random.default_rng(0)
    starts = bin_starts(grid)
    sizes = np.diff(np.r_[starts, len(grid)])
    ways = {
        "means": lambda value: np.add.reduceat(value, starts, axis=1) / sizes,
        "least of each bin": lambda value: np.minimum.reduceat(value, starts, axis=1),
        "single points": lambda value: value[:, starts],
    }
    changes = {
        "a digit of noise": lambda value: np.round(value + rng.choice([-0.1, 0.0, 0.1], value.shape), 1),
        "0.1 dB more": lambda value: np.round(value + 0.1, 1),
        "rounded to 0.5 dB": lambda value: np.round(value * 2) / 2,
    }
    one, other = np.triu_indices(len(sweeps.label), 1)
    rows = []
    for kind in (("return loss", "1-2", "A"), ("NEXT", "3-6/4-5", "A"), ("insertion loss", "1-2", "A")):
        value = sweeps.curve[kind]
        for name, way in ways.items():
            own = detrended(way(value))
            copies = {word: detrended(np.r_[way(value), way(change(value))]) for word, change in changes.items()}
            far = {word: np.quantile(apart(both[: len(own)], both[len(own) :]), 0.99) for word, both in copies.items()}
            rows.append(
                {"curve": kind[0], "sketch": name, "honest": np.quantile(apart(own[one], own[other]), 0.01)} | far
            )
    print(pd.DataFrame(rows).round(2).to_string(index=False))  # noqa: T201


def pictures() -> None:
    """Of how many curves the thinned picture lacks half of what a picture can hold: points that are exempt."""
    run = run_of(honest(96, 7))
    drawn = run.curves[run.curves["parameter"].isin(SKETCHED) & (run.curves["picture"] >= 0)]
    there = run.pictures[drawn["picture"].to_numpy(), 0] != NO_POINT
    lacking = int((there.sum(axis=1) < there.any(axis=0).sum() / 2).sum())
    print(f"thinned pictures: {lacking} of {len(drawn)} curves of 96 links lack half of their bins and more")  # noqa: T201


if __name__ == "__main__":
    growth([int(text) for text in sys.argv[1:]] or [1_000, 10_000, 100_000])
    for links in (1_000, 10_000):
        whole(links)
    cost()
    other_sketches()
    pictures()
