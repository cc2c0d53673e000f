"""What the judged readings of a twisted-pair link show: the signs from which its cause is guessed.

They rest on which parameters fail, on which pairs and at which ends; common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from analyzer.insights.signs_fiber import Sign, numbers
from analyzer.schema import Analysis

_NEAR = ("NEXT", "PSNEXT", "ACR-N", "PSACR-N")
_FAR = ("ACR-F", "PSACR-F")


def pair_signs(analysis: Analysis) -> Iterator[Sign]:
    """Every sign of every link, in the order of the links table."""
    count = len(analysis.links)
    failing = _failing(analysis)

    def of(*parameters: str) -> pd.DataFrame:
        return failing[failing["parameter"].isin(parameters)]

    def sign(name: str, links: np.ndarray, text: str) -> Sign:
        return name, np.isin(np.arange(count), links), np.full(count, text, dtype=object)

    yield sign("wire map fails", of("wire map")["link"].unique(), "the wire map is wrong")
    ends = of(*_NEAR).groupby("link")["end"].nunique()
    yield sign("crosstalk at one end", ends.index[ends == 1].to_numpy(), "near-end crosstalk fails at one end only")
    yield sign("crosstalk at both ends", ends.index[ends == 2].to_numpy(), "near-end crosstalk fails at both ends")
    pairs = of("NEXT").groupby("link").agg(pairs=("pair", "nunique"), worst=("margin", "min"))
    deep = pairs.index[(pairs["pairs"] == 1) & (pairs["worst"] <= -numbers()["split_pair_db"])]
    yield sign(
        "one combination far below", deep.to_numpy(), "one combination of pairs alone is far below its NEXT limit"
    )
    alone = np.setdiff1d(of("PSNEXT")["link"].unique(), of("NEXT")["link"].unique())
    yield sign("power sum alone", alone, "PSNEXT fails though no NEXT does")
    yield sign("far-end crosstalk", of(*_FAR)["link"].unique(), "far-end crosstalk fails")
    ends = of("return loss").groupby("link")["end"].nunique()
    yield sign("return loss at one end", ends.index[ends == 1].to_numpy(), "return loss fails at one end only")
    yield sign("return loss at both ends", ends.index[ends == 2].to_numpy(), "return loss fails at both ends")
    for parameter, name in (("insertion loss", "insertion loss"), ("loop resistance", "resistance")):
        lost = of(parameter).groupby("link")["pair"].nunique()
        yield sign(f"{name} on one pair", lost.index[lost == 1].to_numpy(), f"{parameter} fails on one pair only")
        yield sign(f"{name} on all pairs", lost.index[lost >= 3].to_numpy(), f"{parameter} fails on most pairs")
    yield sign("unbalanced resistance", of("resistance unbalance")["link"].unique(), "resistance unbalance fails")
    yield sign("longer than allowed", of("length")["link"].unique(), "the length is beyond what is allowed")
    yield sign("delay too high", of("propagation delay")["link"].unique(), "propagation delay fails")
    yield sign("delay skew", of("delay skew")["link"].unique(), "delay skew fails")


def _failing(analysis: Analysis) -> pd.DataFrame:
    """Failing readings in force: link, parameter, pair, end, margin."""
    readings, judged = analysis.readings, analysis.judged
    use = (judged["verdict"].isin(["fail", "marginal fail"]) & judged["in_force"]).to_numpy()
    taken = readings[use]
    frame = pd.DataFrame({name: taken[name].astype("object") for name in ("parameter", "pair", "end")})
    link = analysis.records["link"].to_numpy()[taken["record"].to_numpy()]
    return frame.assign(link=link, margin=judged.loc[use, "margin"].to_numpy()).reset_index(drop=True)
