"""Control charts of margin: work that is getting worse, told before it fails."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer.insights.chances import threshold
from analyzer.insights.joined import Joined, chance_evidence, chance_words, counted
from analyzer.insights.register import finding
from analyzer.insights.series import Chart, individuals_chart, low_runs
from analyzer.schema import UNIT_OF_PARAMETER, Finding

FEWEST = 30
"""Fewest links of a chart."""

FEWEST_OF_RUN = 8
"""Fewest links of a stretch that is told."""


class MarginChart(NamedTuple):
    """Margins of one tester and medium in the order of testing: links, margins less the median of their cable, limits."""

    tester: str
    links: np.ndarray
    margin_db: np.ndarray
    chart: Chart


def margin_charts(job: Joined) -> list[MarginChart]:
    """Individuals charts of the least margin of each link, by tester and medium, in the order of testing.

    Each margin is taken from the median of its cable, so that a long cable makes no step.
    """
    if int(job.records["dated"].sum()) < FEWEST:
        return []
    links = job.analysis.links
    decided = links["decided_by"].to_numpy()
    parameter = job.analysis.readings["parameter"].astype("object").to_numpy()
    in_db = np.zeros(len(links), dtype=bool)
    in_db[decided >= 0] = [name not in UNIT_OF_PARAMETER for name in parameter[decided[decided >= 0]]]
    record = (
        np.where(decided >= 0, job.analysis.readings["record"].to_numpy()[np.maximum(decided, 0)], 0)
        if len(parameter)
        else np.zeros(len(links), dtype=np.int64)
    )
    records = job.records.take(record).reset_index(drop=True)
    frame = pd.DataFrame(
        {
            "link": np.arange(len(links)),
            "margin": links["margin_db"].to_numpy(),
            "cable": job.links["cable"].to_numpy(),
            "medium": job.links["medium"].to_numpy(),
            "tester": records["tester"],
            "tested_s": records["tested_s"],
        }
    )[in_db & records["dated"].to_numpy() & links["margin_db"].notna().to_numpy()]
    frame["margin"] -= frame.groupby("cable", dropna=False)["margin"].transform("median")
    frame = frame.sort_values(["tested_s", "link"], kind="stable")
    charts = []
    for (tester, _), rows in frame.groupby(["tester", "medium"], sort=True, dropna=False):
        margin = rows["margin"].to_numpy()
        if len(rows) >= FEWEST and margin.any():
            charts.append(MarginChart(str(tester), rows["link"].to_numpy(), margin, individuals_chart(margin)))
    return charts


def getting_worse(job: Joined) -> list[Finding]:
    """Stretches of links whose margins lie below the usual of their cable together, more than chance makes them."""
    charts = margin_charts(job)
    found = []
    for one, run in [(chart, stretch) for chart in charts for stretch in low_runs(chart.margin_db)]:
        if run.chance >= threshold(len(charts)) or run.stop - run.start < FEWEST_OF_RUN:
            continue
        links, inside = one.links[run.start : run.stop], one.margin_db[run.start : run.stop]
        by = f" of tester {one.tester}" if one.tester else ""
        middle, out = float(np.median(inside)), int((inside < one.chart.low).sum())
        message = (
            f"{len(links)} links in a row{by}, from {job.links['label'].iloc[links[0]]} on, have {-middle:.2f} dB less margin "
            f"than is usual for their cable, {out} of them below the lower control limit ({-one.chart.low:.2f} dB below "
            f"the usual); {chance_words(1, run.chance, f'such stretches among {len(one.links)} links')}"
        )
        evidence = [
            *chance_evidence(1, run.chance),
            counted("lower control limit, from the usual of the cable", one.chart.low, "dB"),
            counted("median of the stretch, from the usual of the cable", middle, "dB"),
            *job.of_readings(job.analysis.links["decided_by"].to_numpy()[links]),
        ]
        found.append(finding("margins-falling", message, job.labels(links), evidence=evidence))
    return found
