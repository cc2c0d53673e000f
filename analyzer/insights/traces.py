"""What optical time-domain traces tell: joints that lose or reflect too much, apparent gains, echoes, unlike totals."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.budget.wording import printed
from analyzer.insights.register import finding
from analyzer.schema import Analysis, Finding

TRACE_AGREES_DB = 0.3
TRACE_AGREES_SHARE = 0.15
"""Trace and power meter agree within the larger of both; common practice, no source."""


def traces_findings(analysis: Analysis) -> list[Finding]:
    """Every finding about events; none where no trace was read."""
    if analysis.traces is None or analysis.traces.empty:
        return []
    table = _told(analysis)
    return [
        *_joints(table, "verdict", "event-fails"),
        *_joints(table, "reflectance_verdict", "event-reflects"),
        *_gains(table),
        *_echoes(table),
        *_cords(analysis),
        *_totals(analysis),
    ]


def _told(analysis: Analysis) -> pd.DataFrame:
    """Events with the label of their link and the words for where they stand."""
    events, traces = analysis.events, analysis.traces
    trace = events["trace"].to_numpy()
    way = events["direction"].astype("object").fillna("")
    wave = events["wavelength_nm"].map(lambda nm: f"{nm} nm" if nm > 0 else "wavelength not stated")
    told: pd.DataFrame = events.assign(
        label=analysis.links["label"].to_numpy(dtype=object)[traces["link"].to_numpy()[trace]],
        where=pd.Series(printed(events["distance_m"].to_numpy(), 1), dtype="object").to_numpy() + " m, " + wave
        + np.where(way == "", "", " " + way.astype("object")),
    )  # fmt: skip
    return told


def _joints(table: pd.DataFrame, column: str, code: str) -> list[Finding]:
    """One finding for each kind of joint, the worst named."""
    found = []
    for component, rows in table[(table[column] == "fail").to_numpy()].groupby("component", observed=True, sort=False):
        both = rows["partner"].to_numpy() > rows["event"].to_numpy()
        seen_twice = (
            rows["partner"].isin(rows["event"]).to_numpy() & ~both
            if column == "verdict"
            else np.zeros(len(rows), dtype=bool)
        )
        joints = rows[~seen_twice]
        margin = "margin_db" if column == "verdict" else "reflectance_margin_db"
        worst = joints.sort_values(margin, kind="stable").iloc[0]
        count = f"1 {component}" if len(joints) == 1 else f"{len(joints)} {component}s"
        does = _DOES[code][len(joints) > 1]
        message = f"{count} {does} more than allowed, worst {_worst_words(worst, column)}"
        found.append(finding(code, message, joints["label"].drop_duplicates()))
    return found


_DOES = {"event-fails": ("loses", "lose"), "event-reflects": ("reflects", "reflect")}


def _worst_words(worst: pd.Series, column: str) -> str:
    if column != "verdict":
        strong = printed(np.array([worst["reflectance_db"]]), 1)[0]
        most = printed(np.array([worst["reflectance_limit_db"]]), 1)[0]
        return f"{worst['label']} at {worst['where']}, reflectance {strong} dB, {most} dB allowed"
    value = worst["limit_db"] - worst["margin_db"]
    told = "mean of both directions" if not np.isnan(worst["mean_db"]) else "one direction only"
    loss, most = printed(np.array([value, worst["limit_db"]]))
    return f"{worst['label']} at {worst['where']}, {loss} dB ({told}), {most} dB allowed"


def _gains(table: pd.DataFrame) -> list[Finding]:
    rows = table[table["gainer"] & (table["component"] != "none")]
    alone = rows[rows["mean_db"].isna()]
    if rows.empty:
        return []
    worst = rows.sort_values("loss_db", kind="stable").iloc[0]
    count = "1 joint seems" if len(rows) == 1 else f"{len(rows)} joints seem"
    seen = f"; {len(alone)} of them seen from one end only and not judged" if len(alone) else ""
    text = f"{count} to gain, most {worst['label']} at {worst['where']} ({printed(np.array([worst['loss_db']]))[0]} dB){seen}"
    return [finding("event-gains", text, rows["label"].drop_duplicates(), None if len(alone) else "")]


def _echoes(table: pd.DataFrame) -> list[Finding]:
    rows = table[table["ghost"]]
    if rows.empty:
        return []
    first = rows.iloc[0]
    count = "1 reflection" if len(rows) == 1 else f"{len(rows)} reflections"
    text = f"{count} may be an echo of stronger ones and {'is' if len(rows) == 1 else 'are'} not judged: {first['label']} at {first['where']}"
    return [finding("event-echo", text, rows["label"].drop_duplicates())]


def _cords(analysis: Analysis) -> list[Finding]:
    traces = analysis.traces
    open_ = traces[(traces["cords_from"] == "missing").to_numpy()]
    if open_.empty:
        return []
    labels = analysis.links["label"].take(open_["link"].drop_duplicates())
    count = "1 trace does" if len(open_) == 1 else f"{len(open_)} traces do"
    text = f"{count} not tell launch and tail cord from the link: no event is said to be an end connection"
    return [finding("cords-not-told", text, labels)]


def _totals(analysis: Analysis) -> list[Finding]:
    traces = analysis.traces
    apart = traces["difference_db"].abs()
    most = np.maximum(TRACE_AGREES_DB, TRACE_AGREES_SHARE * traces["power_loss_db"].abs())
    rows = traces[(apart > most + 1e-9).to_numpy()]
    if rows.empty:
        return []
    worst = rows.loc[rows["difference_db"].abs().idxmax()]
    label = analysis.links["label"].iloc[int(worst["link"])]
    by_trace, by_power = printed(np.array([worst["trace_loss_db"], worst["power_loss_db"]]))
    count = "1 trace differs" if len(rows) == 1 else f"{len(rows)} traces differ"
    text = (
        f"{count} from the power meter by more than {TRACE_AGREES_DB:g} dB: "
        f"{label} at {worst['wavelength_nm']} nm {by_trace} dB by trace, {by_power} dB by power meter"
    )
    return [finding("trace-unlike-power", text, analysis.links["label"].take(rows["link"].drop_duplicates()))]
