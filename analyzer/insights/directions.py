"""Both directions of a link side by side: their mean, and what a difference means.

Each direction is judged by itself; the mean is shown, and decides only where the job says so (`rules.judge_mean`).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.budget.wording import printed
from analyzer.insights.register import finding
from analyzer.insights.signs_fiber import losses, numbers
from analyzer.schema import Analysis, Finding


def direction_means(analysis: Analysis) -> pd.DataFrame:
    """One row per link and wavelength with a loss in both directions; the mean of one direction is none.

    Columns: link, wavelength_nm, ab_db, ba_db, mean_db, difference_db (A-B less B-A).
    """
    table = losses(analysis)
    ways = table[(table["way"] >= 0) & table["value"].notna()]
    wide = ways.groupby(["link", "wave", "way"])["value"].mean().unstack().reindex(columns=[0, 1]).dropna()
    both = wide.reset_index().set_axis(["link", "wavelength_nm", "ab_db", "ba_db"], axis=1)
    return both.assign(mean_db=(both["ab_db"] + both["ba_db"]) / 2, difference_db=both["ab_db"] - both["ba_db"])


def polarity_that_differs(analysis: Analysis) -> list[Finding]:
    """Links whose stated polarity is not the scheduled one."""
    records, schedule = analysis.records, analysis.schedule
    if schedule.empty or records["polarity"].isna().all():
        return []
    scheduled = schedule.drop_duplicates("key").set_index("key")["polarity"].astype("object")
    wanted = records["key"].map(scheduled)
    said = records["polarity"].astype("object")
    rows = records[(said.notna() & wanted.notna() & (said != wanted)).to_numpy()]
    if rows.empty:
        return []
    at = int(rows.index[0])
    labels = analysis.links["label"].take(rows["link"].drop_duplicates().to_numpy())
    count = "1 link has" if len(labels) == 1 else f"{len(labels)} links have"
    text = f"{count} another polarity than scheduled: {labels.iloc[0]} {said.iloc[at]}, scheduled {wanted.iloc[at]}"
    return [finding("polarity-differs", text, labels)]


def directions_that_differ(analysis: Analysis) -> list[Finding]:
    """Links whose two directions differ by more than matings and cords explain."""
    if analysis.readings["direction"].isna().all():
        return []
    both = direction_means(analysis)
    rows = both[(both["difference_db"].abs() >= numbers()["differ_db"] - 1e-9).to_numpy()]
    if rows.empty:
        return []
    worst = rows.iloc[int(rows["difference_db"].abs().to_numpy().argmax())]
    links = rows["link"].drop_duplicates().to_numpy()
    label = analysis.links["label"].iloc[int(worst["link"])]
    forth, back = printed(np.array([worst["ab_db"], worst["ba_db"]]))
    lose = "1 link loses" if len(links) == 1 else f"{len(links)} links lose"
    text = (
        f"{lose} more one way than the other by {numbers()['differ_db']:g} dB or more, most {label} at "
        f"{worst['wavelength_nm']:.0f} nm: {forth} dB A-B, {back} dB B-A"
    )
    return [finding("directions-differ", text, analysis.links["label"].take(links))]
