"""How often each screening errs: clean simulated jobs are analyzed, and what is told of them is counted.

`PYTHONPATH=. python tests/insights/measure_false_alarms.py [JOBS]` writes analyzer/insights/false_alarms.csv, from which the table of
docs/findings.md is made.
"""

from __future__ import annotations

import csv
import sys
import tempfile
from collections import Counter
from pathlib import Path

from simulated_curves import honest, run_of
from simulated_job import clean_job, write

from analyzer.insights import curve_copies
from analyzer.insights.joined import Joined
from analyzer.insights.register import rows_of
from analyzer.pipeline import analyze
from analyzer.schema import Analysis

TABLE = Path(__file__).parents[2] / "analyzer" / "insights" / "false_alarms.csv"
FIRST_SEED = 201
"""Of jobs that were looked at by nobody while the screenings were made."""
SWEPT_LINKS = 2004
"""Links of a job of sweeps: 32 curves each."""


def false_alarms(analysis: Analysis, dirty: set[str]) -> Counter[str]:
    """Findings about a clean job by code; those that speak of a strand with a dirty connector are right."""
    screened = {row["code"] for row in rows_of("screenings.csv")}
    return Counter(
        item.code
        for item in analysis.findings
        if item.code in screened and not (item.code == "worse-than-sisters" and set(item.links) <= dirty)
    )


def in_sweeps(jobs: int) -> tuple[Counter[str], int]:
    """What is told of curves that nobody copied, by code, and how many links were looked at."""
    seen: Counter[str] = Counter()
    for seed in range(FIRST_SEED, FIRST_SEED + jobs):
        job = Joined(run_of(honest(SWEPT_LINKS, seed)))
        seen += Counter(item.code for item in (*curve_copies.near_curves(job), *curve_copies.same_curves(job)))
    return seen, jobs * SWEPT_LINKS


def measure(jobs: int) -> list[dict[str, object]]:
    seen: Counter[str] = Counter()
    links = 0
    for seed in range(FIRST_SEED, FIRST_SEED + jobs):
        made = clean_job(seed)
        with tempfile.TemporaryDirectory() as folder:
            analysis = analyze(write(made, Path(folder)))
        seen += false_alarms(analysis, made.dirty)
        links += len(analysis.links)
    swept, of_sweeps = in_sweeps(jobs)
    return [
        {"code": row["code"], "jobs": jobs, "links": of_sweeps, "false_alarms": swept["curves-alike"]}
        if row["code"] == "curves-alike"
        else {"code": row["code"], "jobs": jobs, "links": links, "false_alarms": (seen + swept)[row["code"]]}
        for row in rows_of("screenings.csv")
    ]


if __name__ == "__main__":
    counted = measure(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
    with TABLE.open("w", encoding="utf-8", newline="") as stream:
        stream.write(
            "# Measured by tests/insights/measure_false_alarms.py: findings told of clean simulated jobs, by code.\n"
        )
        writer = csv.DictWriter(stream, fieldnames=list(counted[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(counted)
