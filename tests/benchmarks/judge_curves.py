"""How fast curves are judged: `python tests/benchmarks/judge_curves.py [links]`.

500 links of 50 curves of 500 points, one shared grid, invented values, category 6A permanent link. Four runs: margins
alone (no sums, no exemptions), the same with thinned pictures, and everything (sums, ratios, exemptions, pictures). Median of seven, in one process, with
numpy held to one thread; points are counted as they come in, computed ones left out.
"""

import os
import statistics
import sys
import time
from functools import cache, partial

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.curves import CurveRules, judge_curves
from analyzer.points import Points
from analyzer.standards import limit_lines, load, pair_exemptions

SINGLES, COMBINED = schema.CATEGORIES["pair"][:4], schema.CATEGORIES["pair"][4:]
COLUMNS = [
    *(("NEXT", pair, end) for end in "AB" for pair in COMBINED),
    *(("ACR-F", pair, end) for end in "AB" for pair in COMBINED),
    *(("return loss", pair, end) for end in "AB" for pair in SINGLES),
    *(("insertion loss", pair, end) for end in "AB" for pair in SINGLES),
    *(("propagation delay", pair, end) for end in "AB" for pair in SINGLES),
    *(("delay skew", "1-2", end) for end in "AB"),
]
LEVEL = {
    "NEXT": (85.0, -16.0), "ACR-F": (75.0, -20.0), "return loss": (30.0, -6.0), "insertion loss": (1.5, 11.0),
    "propagation delay": (480.0, -5.0), "delay skew": (20.0, 0.0),
}  # fmt: skip


def made(links, points=500):
    """Curves and points of invented links."""
    assert len(COLUMNS) == 50
    random = np.random.default_rng(1)
    grid = np.linspace(1.0, 500.0, points)
    shape = np.stack([LEVEL[name][0] + LEVEL[name][1] * np.log10(grid) for name, _, _ in COLUMNS])
    value = (shape[None] + random.uniform(0, 3, (links, 50, points))).reshape(-1)
    count = links * 50
    curves = schema.conform(
        "curves",
        pd.DataFrame(
            {
                "curve": np.arange(count), "record": np.repeat(np.arange(links), 50),
                "parameter": [name for name, _, _ in COLUMNS] * links, "pair": [pair for _, pair, _ in COLUMNS] * links,
                "end": [end for _, _, end in COLUMNS] * links, "n": points, "lost": 0, "f_min_mhz": 1.0, "f_max_mhz": 500.0,
                "grid": 0,
            }
        ),
    )  # fmt: skip
    where = np.arange(count + 1, dtype=np.int64) * points
    return curves, Points([grid], value, where, np.zeros(count, np.int32), [], np.full(count, -1, np.int32))


def seconds(task, runs=7):
    """Medians of several runs, wall time and processor time; the first run is thrown away."""
    task()
    wall, core = [], []
    for _ in range(runs):
        begin, busy = time.perf_counter(), time.process_time()
        task()
        wall.append(time.perf_counter() - begin)
        core.append(time.process_time() - busy)
    return statistics.median(wall), statistics.median(core)


def main(links=500):
    """Both figures with the load of the machine."""
    curves, points = made(links)
    values = load()

    @cache
    def lines_of(parameter):
        return limit_lines(values, parameter=parameter, grade="6A", configuration="permanent link")

    @cache
    def exemptions_of(parameter):
        return pair_exemptions(values, grade="6A", parameter=parameter)

    def lines_for(_, parameter):
        return lines_of(parameter)

    def exemptions_for(_, parameter):
        return exemptions_of(parameter)

    count = len(points.value)
    bare, drawn = (CurveRules(compute_sums=False, draw=draw) for draw in (False, True))
    plain = seconds(lambda: judge_curves(curves, points, lines_for, rules=bare))
    pictured = seconds(lambda: judge_curves(curves, points, lines_for, rules=drawn))
    sums, whole = (
        seconds(
            partial(judge_curves, curves, points, lines_for, exemptions_for=exemptions_for, rules=CurveRules(draw=draw))
        )
        for draw in (False, True)
    )
    lines = [f"{links} links, {len(curves)} curves, {count / 1e6:.1f} million points, load {os.getloadavg()[0]:.1f}"]
    for name, (wall, core) in (
        ("margins alone", plain),
        ("with pictures", pictured),
        ("with sums and exemptions", sums),
        ("with all of these", whole),
    ):
        lines.append(
            f"{name:25}{wall * 1e3:7.1f} ms wall {core * 1e3:7.1f} ms of one core"
            f" {count / wall / 1e6:6.0f} / {count / core / 1e6:.0f} million points a second"
        )
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:2]))
