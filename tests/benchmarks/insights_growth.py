"""How long all insights take for 1,000, 10,000 and 100,000 links of scalars: python tests/benchmarks/insights_growth.py.

Tables are made directly, judged once, and only `all_findings` is timed, each insight too. Beside each time stands how
often n log n it is of the time before.
"""

from __future__ import annotations

import math
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[2]))

from analyzer import schema
from analyzer.budget.links import link_up
from analyzer.budget.one_file import judge_file
from analyzer.budget.scheduled import ScheduleIndex
from analyzer.insights import INSIGHTS, all_findings
from analyzer.insights.joined import Joined
from analyzer.job import CommandLine, parse_job
from analyzer.schema import Analysis
from analyzer.standards import load

STRANDS = 24
JOB = b"[dates]\ninstalled = 2026-01-01\n[history]\nlinks = 4000\nfailures = 40\n[labels]\npattern = 'TB-[0-9]+-[0-9]{2}'\n"


def simulated(links: int) -> Analysis:
    """Fiber cables of 24 strands, two wavelengths and directions, judged."""
    rng = np.random.default_rng(links)
    n = np.arange(links)
    cable, strand = n // STRANDS, n % STRANDS + 1
    label = pd.Series([f"TB-{c + 1000}-{s:02d}" for c, s in zip(cable, strand, strict=True)], dtype="str")
    length = 60.0 + (cable * 37) % 300
    records = schema.conform(
        "records",
        pd.DataFrame(
            {
                "record": n, "row": n + 2, "label": label, "key": label.str.casefold(), "strands": 1,
                "cable": [f"TB-{c + 1000}" for c in cable], "strand": strand.astype(str), "type": "OM4",
                "length_m": np.round(length * (1 + rng.normal(0, 0.001, links)), 1), "mated_pairs": 2, "splices": 0,
                "reference": "one-cord", "tester": [f"T-{c % 5}" for c in cable], "operator": [f"crew {c % 5}" for c in cable],
                "tested_at": np.datetime64("2026-09-01T08:00:00") + (n * 41 + rng.integers(0, 9, links)).astype("timedelta64[s]"),
                "record_no": [str(10_000_000 * (c % 5 + 1) + k) for k, c in zip(n, cable, strict=True)],
                "place_a": [f"Hub {c % 40}, panel {c % 400}" for c in cable],
            }
        ),
    )  # fmt: skip
    ends = rng.lognormal(-1.8, 0.5, (links, 2)).sum(axis=1)
    parts = [
        pd.DataFrame(
            {
                "record": n, "row": n + 2, "col": col, "parameter": "loss", "wavelength_nm": wave, "direction": way,
                "value": np.round(length / 1000 * rate + ends * share + rng.normal(0, 0.02, links), 2), "decimals": 2,
            }
        )
        for col, (wave, rate, share, way) in enumerate(
            (wave, rate, share, way) for wave, rate, share in ((850, 2.3, 1.0), (1300, 0.6, 0.85)) for way in ("A-B", "B-A")
        )
    ]  # fmt: skip
    readings = pd.concat(parts).sort_values(["record", "col"], kind="stable").reset_index(drop=True)
    readings = schema.conform("readings", readings.assign(reading=np.arange(len(readings))))
    job, schedule = parse_job(JOB, "job.toml"), ScheduleIndex(schema.empty("schedule"))
    verdicts = judge_file(records, readings, schedule, job, CommandLine(), load())
    linked = link_up(verdicts.records, verdicts.facts, readings, verdicts.judged, job)
    records = schema.conform("records", verdicts.records)
    records["link"] = linked.link_of_record
    return Analysis(
        **{name: schema.empty(name) for name in ("files", "blocks", "columns", "set_aside")},
        records=records, facts=verdicts.facts, readings=readings,
        judged=verdicts.judged.assign(in_force=linked.in_force), limits=verdicts.limits, reasons=verdicts.reasons,
        links=linked.links, schedule=schedule.table, findings=[], totals={}, job=job,
    )  # fmt: skip


def main(sizes: list[int]) -> None:
    seeds = pd.DataFrame({"code": [], "record": [], "text": []}).astype(
        {"code": object, "record": "int64", "text": object}
    )
    before: tuple[int, float] | None = None
    for links in sizes:
        run = simulated(links)
        all_findings(run, seeds, whole_schedule=False)  # libraries are loaded once, not timed
        begun = time.process_time()
        found = all_findings(run, seeds, whole_schedule=False)
        took = time.process_time() - begun
        growth = ""
        if before:
            usual = before[1] * links * math.log(links) / (before[0] * math.log(before[0]))
            growth = f", {took / usual:.2f} of n log n"
        print(f"{links:>8,} links: {took:6.2f} s of processor time, {len(found)} findings{growth}")  # noqa: T201
        before = (links, took)
        job = Joined(run)
        times = []
        for insight in INSIGHTS:
            begun = time.process_time()
            insight(job)
            times.append((time.process_time() - begun, f"{insight.__module__.rsplit('.', 1)[1]}.{insight.__name__}"))
        slowest = ", ".join(f"{name} {took:.2f} s" for took, name in sorted(times, reverse=True)[:5])
        print(f"         slowest: {slowest}")  # noqa: T201


if __name__ == "__main__":
    main([int(text) for text in sys.argv[1:]] or [1_000, 10_000, 100_000])
