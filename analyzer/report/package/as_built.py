"""What goes back to whoever keeps the drawings: the schedule as it was built, and the labels as a list to print."""

from __future__ import annotations

import html
from typing import Final

import numpy as np
import pandas as pd

from analyzer.report.labels import natural_key
from analyzer.schema import Analysis

_SCHEDULED: Final = (
    "label",
    "cable",
    "strand",
    "label_a",
    "label_b",
    "place_a",
    "place_b",
    "area",
    "type",
    "grade",
    "configuration",
)


def as_built(analysis: Analysis) -> pd.DataFrame:
    """The schedule with what was measured beside it, in its own order; links that do not stand in it come last.

    Columns: those of the schedule, then scheduled_length_m, measured_length_m, length_from, verdict, margin_db,
    tested_at, in_schedule.
    """
    links, schedule = analysis.links, analysis.schedule
    last = analysis.records.groupby("link")["tested_at"].max().reindex(links["link"].to_numpy())
    told = pd.DataFrame(
        {
            "measured_length_m": links["length_m"].to_numpy(),
            "length_from": links["length_from"].astype("str").to_numpy(),
            "verdict": links["verdict"].astype("str").to_numpy(),
            "margin_db": links["margin_db"].to_numpy(),
            "tested_at": last.to_numpy(),
        },
        index=links["key"].to_numpy(),
    )
    told = told[~told.index.duplicated()]
    rows = schedule[list(_SCHEDULED)].assign(scheduled_length_m=schedule["length_m"])
    rows = rows.assign(strand=schedule["strand"].astype("str").where(schedule["strand"] >= 0))
    mine = told.reindex(schedule["key"].to_numpy()).reset_index(drop=True)
    mine["verdict"] = mine["verdict"].fillna("no result")
    planned = pd.concat([rows.reset_index(drop=True), mine], axis=1).assign(in_schedule=True)
    extra = links[~links["scheduled"]]
    beside = pd.DataFrame({name: extra[name].astype("str") for name in _SCHEDULED if name in extra}).reset_index(
        drop=True
    )
    found = told.reindex(extra["key"].to_numpy()).reset_index(drop=True)
    more = pd.concat([beside, found], axis=1).assign(in_schedule=False)
    frames = [frame for frame in (planned, more) if len(frame)]
    return pd.concat(frames, ignore_index=True) if frames else planned


def labels_page(analysis: Analysis) -> bytes:
    """The labels of both ends as a page to print, in natural order; no script, no network."""
    links = analysis.links
    ends = {
        name: analysis.records.groupby("link")[name].first().reindex(links["link"].to_numpy()).to_numpy()
        for name in ("label_a", "label_b")
    }
    keys = [natural_key(str(label)) for label in links["label"]]
    order = sorted(range(len(keys)), key=keys.__getitem__)
    body = "".join(
        f"<tr><td>{_cell(label)}</td><td>{_cell(a)}</td><td>{_cell(b)}</td></tr>"
        for label, a, b in zip(
            links["label"].to_numpy()[order], ends["label_a"][order], ends["label_b"][order], strict=True
        )
    )
    style = "body{font:11pt system-ui,sans-serif;margin:1.5rem}table{border-collapse:collapse}td,th{border-bottom:1px solid #999;padding:.15rem .8rem .15rem 0;text-align:left}"
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>Labels</title>'
        f"<style>{style}</style></head>\n<body><h1>Labels</h1><table><thead><tr><th>link</th><th>end A</th><th>end B</th></tr></thead>"
        f"<tbody>{body}</tbody></table></body></html>\n"
    ).encode("utf-8", "backslashreplace")


def _cell(text: object) -> str:
    missing = text is None or (isinstance(text, float) and np.isnan(text))
    shown = (
        "" if missing else "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in str(text))
    )
    return f"<bdi>{html.escape(shown)}</bdi>"
