"""Both directions of a link side by side: their mean, and what a difference means.

Each direction is judged by itself; the mean is shown, and decides only where the job says so (`rules.judge_mean`).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.budget.wording import printed
from analyzer.insights.evidence import records_of_links
from analyzer.insights.joined import Joined
from analyzer.insights.register import finding
from analyzer.insights.signs_fiber import losses, numbers
from analyzer.schema import Analysis, Finding
from analyzer.standards import load
from analyzer.standards.array_polarity import position_at_other_end


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
    told = [f"polarity {a}, scheduled {b}" for a, b in zip(said[rows.index], wanted[rows.index], strict=True)]
    evidence = Joined(analysis).of_records(rows.index.to_numpy(), told)
    return [finding("polarity-differs", text, labels, evidence=evidence)]


def polarity_against_positions(analysis: Analysis) -> list[Finding]:
    """Links whose polarity, of the record or else of the schedule, does not lead from the stated position of A to B's."""
    records, schedule = analysis.records, analysis.schedule
    both = np.flatnonzero(records[["position_a", "position_b"]].notna().all(axis=1).to_numpy())
    if not len(both):
        return []
    rows = records.take(both)
    scheduled = schedule.drop_duplicates("key").set_index("key")
    said = rows["polarity"].astype("object")
    word = said.where(said.notna(), rows["key"].map(scheduled["polarity"].astype("object")))
    a, b = (rows[name].to_numpy().astype(np.int64) for name in ("position_a", "position_b"))
    most = rows["key"].map(scheduled["cable_key"]).map(schedule.groupby("cable_key")["strand"].max())
    # of a cable whose strands nobody counted, full rows of the connector are taken
    full = np.maximum(a, b) + (-np.maximum(a, b)) % 12
    count = np.where(most.fillna(-1).to_numpy() > 0, most.fillna(-1).to_numpy(), full)
    other = position_at_other_end(load(), word.to_numpy(dtype=object), a, count)
    wrong = (other > 0) & (other != b)
    if not wrong.any():
        return []
    labels = analysis.links["label"].take(rows["link"][wrong].drop_duplicates().to_numpy())
    first = int(np.flatnonzero(wrong)[0])
    link = analysis.links["label"].iloc[int(rows["link"].iloc[first])]
    state = "1 link states" if len(labels) == 1 else f"{len(labels)} links state"
    text = (
        f"{state} a polarity and positions that contradict each other: {link} {word.iloc[first]}, position {a[first]} "
        f"of end A to {b[first]} of end B, where that polarity leads to {other[first]}"
    )
    told = [f"position {x} of end A to {y} of end B" for x, y in zip(a[wrong], b[wrong], strict=True)]
    evidence = Joined(analysis).of_records(both[wrong], told)
    return [finding("polarity-against-positions", text, labels, evidence=evidence)]


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
    apart = rows.iloc[rows["difference_db"].abs().argsort(kind="stable")[::-1]].head(6)
    job = Joined(analysis)
    told = [f"A-B less B-A at {wave:.0f} nm" for wave in apart["wavelength_nm"]]
    evidence = job.of_records(records_of_links(job, apart["link"]), told, apart["difference_db"].to_numpy(), "dB")
    return [finding("directions-differ", text, analysis.links["label"].take(links), evidence=evidence)]
