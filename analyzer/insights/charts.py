"""Control charts of margin: work that is getting worse, told before it fails."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer.insights.chances import EACH, Chart, individuals_chart, runs_of
from analyzer.insights.joined import Joined, chance_evidence, chance_words, counted
from analyzer.insights.register import finding
from analyzer.schema import UNIT_OF_PARAMETER, Finding

FEWEST = 30
"""Fewest links of a chart."""


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
    """Runs of links in a row whose margins all lie below the usual of their cable, longer than chance makes them.

    The rule of runs on one side of the center needs no bell curve: with the median as center each link is a coin. Nine
    in a row are the usual sign on one chart (Nelson 1984, J. Quality Technology 16:237); here the length grows with the
    number of links, so that a long job does not cry wolf.
    """
    found = []
    for one in margin_charts(job):
        low = one.margin_db < 0
        longest = max(runs_of(low), key=lambda run: run[1] - run[0], default=(0, 0))
        length = longest[1] - longest[0]
        expected = len(low) * 0.5 ** (length + 1)
        if expected >= EACH:
            continue
        links = one.links[longest[0] : longest[1]]
        by = f" of tester {one.tester}" if one.tester else ""
        out = int((one.margin_db[longest[0] : longest[1]] < one.chart.low).sum())
        message = (
            f"{length} links in a row{by} have less margin than is usual for their cable, {out} of them below the lower "
            f"control limit ({one.chart.low:.2f} dB from the usual); "
            f"{chance_words(1, expected, f'runs of {length} among {len(low)} links')}"
        )
        evidence = [
            *chance_evidence(1, expected),
            counted("lower control limit, from the usual of the cable", one.chart.low, "dB"),
            counted(
                "median of the run, from the usual of the cable",
                float(np.median(one.margin_db[longest[0] : longest[1]])),
                "dB",
            ),
            *job.of_readings(job.analysis.links["decided_by"].to_numpy()[links]),
        ]
        found.append(finding("margins-falling", message, job.labels(links), evidence=evidence))
    return found
