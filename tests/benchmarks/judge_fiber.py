"""How fast fiber is judged with uncertainty and expectation: `python tests/benchmarks/judge_fiber.py [links]`.

10,000 invented links of 4 readings (850 and 1300 nm, both directions), lengths, counts and losses from a fixed seed,
accuracy stated. Timed apart, after reading: judging (facts, worlds, limits, decision rule, probability, expected loss
and place), links, batches of like links, and the screening. Median of seven, one process; the first run is thrown away.
"""

import os
import statistics
import sys
import time
from collections.abc import Callable

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.links import link_up
from analyzer.budget.one_file import judge_file
from analyzer.budget.scheduled import ScheduleIndex
from analyzer.insights.batches import batch_tables
from analyzer.insights.done_well import worse_than_links_done_well
from analyzer.job import CommandLine, Job
from analyzer.standards import load


def made(links: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Records and readings of invented OM4 links."""
    random = np.random.default_rng(1)
    labels = np.char.add("F-", np.char.zfill(np.arange(links).astype(str), 5))
    length = random.uniform(20, 400, links)
    pairs, splices = random.integers(2, 5, links), random.integers(0, 3, links)
    records = pd.DataFrame(
        {
            "record": np.arange(links), "row": np.arange(links) + 2, "label": labels, "key": np.char.lower(labels),
            "strands": 1, "type": "OM4", "length_m": length.round(1), "mated_pairs": pairs.astype(float),
            "splices": splices.astype(float), "reference": "one-cord", "accuracy_db": 0.1,
        }
    )  # fmt: skip
    loss = 2.5 * length / 1000 + 0.25 * pairs + 0.05 * splices
    readings = pd.DataFrame(
        {
            "reading": np.arange(4 * links), "record": np.repeat(np.arange(links), 4), "parameter": "loss",
            "wavelength_nm": np.tile([850, 850, 1300, 1300], links), "direction": np.tile(["A-B", "B-A"], 2 * links),
            "value": (np.repeat(loss, 4) + random.gamma(2.0, 0.05, 4 * links)).round(2), "decimals": 2,
        }
    )  # fmt: skip
    return schema.conform("records", records), schema.conform("readings", readings)


def main(links: int = 10_000) -> None:
    """Print the seconds of each step and of all: wall time, and time of one core, which the load does not lengthen."""
    for name, clock in (("wall", time.perf_counter), ("core", time.process_time)):
        sys.stdout.write(f"{name}: {measured(links, clock)}\n")


def measured(links: int, clock: Callable[[], float]) -> str:
    """Medians by one clock."""
    records, readings = made(links)
    job, given, values = Job(), CommandLine(), load()
    schedule = ScheduleIndex(schema.empty("schedule"))
    times: dict[str, list[float]] = {name: [] for name in ("judged", "linked", "batches", "screened")}
    for _ in range(8):
        begin = clock()
        verdicts = judge_file(records, readings, schedule, job, given, values)
        judged = clock()
        linked = link_up(verdicts.records, verdicts.facts, readings, verdicts.judged, job)
        joined = clock()
        own = schema.conform("records", verdicts.records)
        own["link"] = linked.link_of_record
        run = schema.Analysis(
            **{name: schema.empty(name) for name in ("files", "blocks", "columns", "set_aside", "schedule")},
            records=own, facts=verdicts.facts, readings=readings, judged=verdicts.judged, limits=verdicts.limits,
            reasons=verdicts.reasons, links=linked.links, findings=[], totals={}, job=job,
        )  # fmt: skip
        started = clock()
        batch_tables(run)
        fitted = clock()
        worse_than_links_done_well(run)
        steps = (judged - begin, joined - judged, fitted - started, clock() - fitted)
        for name, seconds in zip(times, steps, strict=True):
            times[name].append(seconds)
    medians = {name: statistics.median(some[1:]) for name, some in times.items()}
    told = ", ".join(f"{name} {seconds:.3f} s" for name, seconds in medians.items())
    return f"{links:,} links x 4 readings: {told}; all {sum(medians.values()):.3f} s, load {os.getloadavg()[0]:.1f}"


if __name__ == "__main__":
    main(*map(int, sys.argv[1:2]))
