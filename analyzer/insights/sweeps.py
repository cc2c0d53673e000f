"""What the curves of the links tell together: sweeps that stop before the ordered grade does."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.insights.joined import Joined
from analyzer.insights.register import finding
from analyzer.schema import Analysis, Finding


def sweeps_that_stop_short(analysis: Analysis) -> list[Finding]:
    """Links whose curves do not cover the range of their limit, one finding for each way of falling short."""
    codes, judged = analysis.reasons["code"].to_numpy(dtype=object), analysis.judged
    reason = judged["reason"].to_numpy()
    short = (reason >= 0) & judged["in_force"].to_numpy() & judged["counts"].to_numpy()
    if not len(codes):
        return []
    at = np.flatnonzero(short & (codes[np.maximum(reason, 0)] == "curve-incomplete"))
    rows = pd.DataFrame(
        {
            "link": analysis.records["link"].to_numpy()[analysis.readings["record"].to_numpy()[at]],
            # what more is said of a curve stands behind the part that all of them share
            "text": analysis.reasons["text"].to_numpy(dtype=object)[reason[at]],
            "reading": at,
            "parameter": analysis.readings["parameter"].astype("object").to_numpy()[at],
        }
    )
    rows["text"] = rows["text"].astype("str").str.extract(_SHORT, expand=False)
    found = []
    for text, part in rows.groupby("text", sort=False):
        links = part["link"].drop_duplicates()
        count = "1 link" if len(links) == 1 else f"{len(links)} links"
        parameters = ", ".join(part["parameter"].drop_duplicates())
        labels = analysis.links["label"].take(links.to_numpy())
        evidence = Joined(analysis).of_readings(part["reading"].to_numpy())
        found.append(finding("sweep-incomplete", f"{count}: {text} ({parameters})", labels, evidence=evidence))
    return found


_SHORT = r"((?:every point that is there meets \w+; )?the curve (?:begins|stops) at [^;]*(?:; it stops at [^;]*)?)"
