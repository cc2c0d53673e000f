"""Strands that pass but stand out among the strands of their cable."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.budget.wording import printed
from analyzer.insights.register import finding
from analyzer.schema import Analysis, Finding

SPREADS = 4.0
"""How many robust standard deviations above the median stand out; a choice of ours, common practice, no source."""

MAD_TO_SIGMA = 1.4826
"""Median absolute deviation to standard deviation of a normal distribution: 1 / Φ⁻¹(3/4)."""


def sisters_that_stand_out(analysis: Analysis) -> list[Finding]:
    """Passing strands whose loss is far above the median of their cable at one wavelength and direction.

    The spread is the median absolute deviation, so that the strand itself, or a few bad ones, do not hide it.
    Cables with fewer strands than the job's `sister_min_strands` are not compared.
    """
    rules = analysis.job.rules
    if len(analysis.links) < rules.sister_min_strands:
        return []
    losses = _losses(analysis)
    if losses.empty:
        return []
    sisters = losses.groupby(["cable", "wavelength_nm", "direction"], sort=False).ngroup()
    median = losses["value"].groupby(sisters).transform("median")
    strands = losses["link"].groupby(sisters).transform("nunique")
    excess = losses["value"] - median
    spread = MAD_TO_SIGMA * excess.abs().groupby(sisters).transform("median")
    out = (
        losses["passes"]
        & (strands >= rules.sister_min_strands)
        & (excess > np.maximum(rules.sister_min_excess_db, SPREADS * spread) + 1e-9)
    )
    told = losses[out].assign(excess=excess[out], median=median[out], strands=strands[out])
    told = told.sort_values(["link", "excess"], ascending=[True, False], kind="stable").drop_duplicates("link")
    labels = analysis.links["label"].take(told["link"]).to_numpy(dtype=object)
    more, middle = printed(told["excess"].to_numpy()), printed(told["median"].to_numpy())
    messages = (
        labels + " passes at " + told["wavelength_nm"].astype("str").to_numpy(dtype=object) + " nm, but " + more
        + " dB worse than its sisters (median " + middle + " dB of " + told["strands"].astype("str").to_numpy(dtype=object)
        + " strands)"
    )  # fmt: skip
    return [finding("worse-than-sisters", message, [label]) for message, label in zip(messages, labels, strict=True)]


def _losses(analysis: Analysis) -> pd.DataFrame:
    readings, judged = analysis.readings, analysis.judged
    use = (
        (readings["parameter"] == "loss") & readings["bound"].isna() & readings["value"].notna() & judged["in_force"]
        & (judged["verdict"] != "not judged")
    )  # fmt: skip
    link = analysis.records["link"].to_numpy()[readings.loc[use, "record"].to_numpy()]
    losses = pd.DataFrame(
        {
            "link": link,
            "cable": cable_of(analysis.links).to_numpy(dtype=object)[link],
            "wavelength_nm": judged.loc[use, "judged_wavelength_nm"].to_numpy(),
            "direction": readings.loc[use, "direction"].astype("object").fillna("").to_numpy(),
            "value": readings.loc[use, "value"].to_numpy(),
            "passes": judged.loc[use, "verdict"].isin(["pass", "marginal pass"]).to_numpy(),
        }
    )
    return losses.dropna(subset="cable").reset_index(drop=True)


def cable_of(links: pd.DataFrame) -> pd.Series:
    """Cable of every link: as schedule or file say, else the label without its last number."""
    stem = links["key"].str.extract(r"^(.*[^\W_])[\W_]+\d+$", expand=False)
    return links["cable"].where(links["cable"].notna(), stem)
