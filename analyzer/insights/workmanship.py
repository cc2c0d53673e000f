"""Strands that pass but stand out among the strands of their cable, by more than chance explains.

Losses of connections are skewed: most are small, a few are large, and none is below zero. So the usual spread is taken
from the job itself (all strands of one fiber type and wavelength, each against the median of its own cable), its skew
too, and the chance of a distance is that of a log-normal distribution with this spread and skew. How far a strand must
lie out depends on how many are looked at: of 2,000 strands done alike one is far off by chance alone.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.budget.wording import printed
from analyzer.insights.chances import skew_of, skewed_tail, stands_out
from analyzer.insights.joined import LOSS, Joined, counted
from analyzer.insights.register import finding
from analyzer.schema import Finding

USUAL_SPREAD_DB = 0.08
"""Standard deviation of the loss of two connections of grade B, of which each has 0.058 dB (gamma distribution of mean
0.12 dB and 97 % value 0.25 dB, IEC 61755-1, recalled): what a few strands are held to until they tell their own."""
USUAL_SHAPE = 0.22
"""Shape of the log-normal distribution that is as skewed as the loss of two such connections (skewness 0.68)."""
SPREAD_WEIGHT, SHAPE_WEIGHT, CABLE_WEIGHT = 12, 200, 24
"""How many strands the usual spread, the usual skew, and the spread of the job against that of one cable count for.
Choices of ours, measured on clean simulated jobs."""
MANY = 100
"""Strands from which on the tenths at both ends tell spread and skew; fewer are told by their quarters."""
_LEAST_SHAPE, _MOST_SHAPE = 0.05, 0.8
_QUARTILES = 1.349
"""Distance of the quartiles of a normal distribution in standard deviations."""


def sisters_that_stand_out(job: Joined) -> list[Finding]:
    """Passing strands whose loss is far above the median of their cable at one wavelength and direction.

    Told is what chance does not explain over all strands looked at, from the job's `sister_min_excess_db` on; cables
    with fewer strands than its `sister_min_strands` are not compared.
    """
    losses = against_sisters(job)
    if losses.empty:
        return []
    passing = losses[losses["passes"]].sort_values(["link", "p", "reading"], kind="stable").drop_duplicates("link")
    out = stands_out(passing["p"].to_numpy())
    out &= (passing["excess"] >= job.job.rules.sister_min_excess_db - 1e-9).to_numpy()
    # a link that fails at another wavelength is told as failing
    out &= (job.links["verdict"] != "fail").to_numpy()[passing["link"].to_numpy()]
    told, looked_at = passing[out].sort_values("link"), len(passing)
    labels = job.links["label"].to_numpy()[told["link"].to_numpy()]
    more, middle = printed(told["excess"].to_numpy()), printed(told["median"].to_numpy())
    found = []
    for label, above, median, row in zip(labels, more, middle, told.to_dict("records"), strict=True):
        message = (
            f"{label} passes at {row['wavelength_nm']} nm, but {above} dB worse than its sisters "
            f"(median {median} dB of {row['strands']} strands)"
        )
        evidence = [
            *job.of_readings([row["reading"]]),
            counted("median of its sisters", row["median"], "dB"),
            counted("strands looked at", looked_at),
            counted("of them so far out by chance alone", row["p"] * looked_at),
        ]
        found.append(finding("worse-than-sisters", message, [label], evidence=evidence))
    return found


def against_sisters(job: Joined) -> pd.DataFrame:
    """One row per judged loss of a cable with enough strands.

    Columns: `link`, `reading`, `wavelength_nm`, `passes`, `median` (of the strands of the cable), `excess` above it,
    `strands`, and `p`: the chance of such an excess, times the wavelengths of the strand, which are looked at as well.
    """
    fewest = job.job.rules.sister_min_strands
    if len(job.links) < fewest:
        return pd.DataFrame()
    return with_chances(_losses(job), fewest)


def with_chances(losses: pd.DataFrame, fewest: int) -> pd.DataFrame:
    """Losses with `cable`, `type`, `wavelength_nm`, `direction`, `link` and `value` set against their sisters."""
    group = losses.groupby(["cable", "wavelength_nm", "direction"], sort=False).ngroup()
    losses = losses.assign(group=group, strands=losses["link"].groupby(group).transform("nunique"))
    losses["median"] = losses["value"].groupby(group).transform("median")
    losses["excess"] = losses["value"] - losses["median"]
    losses = losses[losses["strands"] >= fewest].reset_index(drop=True)
    if losses.empty:
        return losses
    waves = losses.groupby("link")["wavelength_nm"].transform("nunique")
    return losses.assign(p=np.minimum(_chance(losses) * waves.to_numpy(), 1.0))


def _chance(losses: pd.DataFrame) -> np.ndarray:
    """Chance of each excess by the spread and the skew that the job itself shows."""
    from scipy.special import ndtri  # type: ignore[import-untyped]  # scipy brings no types

    strands = losses["link"].nunique()
    tail = 0.1 if strands >= MANY else 0.25
    z = float(-ndtri(tail))
    excess = losses["excess"]
    pools = excess.groupby([losses["type"], losses["wavelength_nm"]], sort=False, dropna=False)
    number = pools.ngroup().to_numpy()
    width = (pools.quantile(1 - tail) - pools.quantile(tail)).to_numpy() / (2 * z)
    size = losses["link"].groupby(number).nunique().to_numpy()
    usual = np.sqrt((size * width**2 + SPREAD_WEIGHT * USUAL_SPREAD_DB**2) / (size + SPREAD_WEIGHT))[number]
    # a cable that was made more unevenly than the job has a spread of its own
    cables = excess.groupby(losses["group"].to_numpy())
    of_cable = (cables.quantile(0.75) - cables.quantile(0.25)).div(_QUARTILES).reindex(losses["group"]).to_numpy()
    count = losses["strands"].to_numpy()
    spread = np.sqrt((count * of_cable**2 + CABLE_WEIGHT * usual**2) / (count + CABLE_WEIGHT))
    # one skew for the whole job: the ends of a distribution need many strands
    below, above = np.quantile(excess / spread, [tail, 1 - tail])
    own = skew_of(-below, above, z) if below < 0 < above else USUAL_SHAPE
    own = min(max(own, _LEAST_SHAPE), _MOST_SHAPE)
    shape = (strands * own + SHAPE_WEIGHT * USUAL_SHAPE) / (strands + SHAPE_WEIGHT)
    return skewed_tail(excess.to_numpy(), z * np.maximum(usual, spread), shape, z)


def _losses(job: Joined) -> pd.DataFrame:
    """Judged losses in force of strands whose cable is known."""
    judged = job.analysis.judged
    live = job.readings[job.readings["in_force"] & (job.readings["parameter"] == LOSS)]
    verdict = judged["verdict"].astype("object").to_numpy()[live["reading"].to_numpy()]
    live = live[verdict != "not judged"]
    at, link = live["reading"].to_numpy(), live["link"].to_numpy()
    losses = pd.DataFrame(
        {
            "link": link,
            "reading": at,
            "cable": job.cables[link],
            "type": job.links["type"].to_numpy()[link],
            "wavelength_nm": judged["judged_wavelength_nm"].to_numpy()[at],
            "direction": live["direction"].to_numpy(),
            "value": live["value"].to_numpy(),
            "passes": np.isin(verdict[verdict != "not judged"], ["pass", "marginal pass"]),
        }
    )
    return losses.dropna(subset="cable").reset_index(drop=True)
