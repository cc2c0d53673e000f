"""Small cables for tests of single insights: honest strands, to which a test adds its one trouble."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "budget"))

from bench import analysis, ask, job_of, om4, schedule_of

from analyzer.insights.joined import Joined

__all__ = ["START", "analysis", "codes", "job_of", "joined", "om4", "schedule_of", "strands"]

START = np.datetime64("2026-09-14T08:00:07")


def strands(cable: str = "TB-101", count: int = 24, seed: int = 1, **more: Any) -> list[dict[str, Any]]:
    """Honest strands of one cable: two wavelengths, two directions, a tester with seconds and record numbers.

    `more` holds columns of the record: one value for all strands, or a list with one for each.
    """
    rng = np.random.default_rng(seed)
    rows = []
    for n in range(count):
        ends = rng.lognormal(-1.8, 0.5, 2).sum()
        loss = {
            (wave, way): round(float(base + ends * share + rng.normal(0, 0.02)), 2)
            for wave, base, share in ((850, 0.28, 1.0), (1300, 0.07, 0.85))
            for way in ("A-B", "B-A")
        }
        own = {name: values[n] if isinstance(values, list) else values for name, values in more.items()}
        rows.append(
            om4(
                f"{cable}-{n + 1:02d}", cable=cable, strand=str(n + 1), loss=loss, tester="T-1", operator="Ada Invented",
                tested_at=START + np.timedelta64(int(41 * n + rng.integers(0, 9)), "s"), record_no=f"R{1000 + n}",
            )
            | own
        )  # fmt: skip
    return rows


def joined(rows: list[dict[str, Any]], **more: Any) -> Joined:
    """The rows as a run, for one insight at a time: findings are not made."""
    return Joined(replace(ask(*rows, **more).run))


def codes(findings: Any) -> list[str]:
    return [found.code for found in findings]
