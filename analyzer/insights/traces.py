"""What optical time-domain traces tell: joints that lose or reflect too much, apparent gains, echoes, unlike totals."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.budget.wording import printed
from analyzer.insights.joined import EVIDENCE_SHOWN, Joined, counted_words
from analyzer.insights.register import finding
from analyzer.schema import Analysis, Evidence, Finding

TRACE_AGREES_DB = 0.3
TRACE_AGREES_SHARE = 0.15
"""Trace and power meter agree within the larger of both; common practice, no source."""


def traces_findings(analysis: Analysis) -> list[Finding]:
    """Every finding about events; none where no trace was read."""
    if analysis.traces is None or analysis.traces.empty:
        return []
    table, job = _told(analysis), Joined(analysis)
    return [
        *_joints(job, table, "verdict", "event-fails"),
        *_joints(job, table, "reflectance_verdict", "event-reflects"),
        *_gains(job, table),
        *_echoes(job, table),
        *_cords(analysis),
        *_totals(analysis),
    ]


def traces_required(job: Joined) -> list[Finding]:
    """Fiber links without the time-domain trace that the job asks for, and traces with too short a launch cord."""
    required = job.job.required
    traces = job.analysis.traces
    has = np.zeros(len(job.links), dtype=bool)
    if traces is not None:
        has[traces["link"].to_numpy()] = True
    found = []
    if required.traces_from_m is not None:
        length = job.analysis.links["length_m"].to_numpy()
        fiber = (job.links["medium"] == "fiber").to_numpy()
        # a length that is not known is no excuse
        without = np.flatnonzero(fiber & ~has & ~(length < required.traces_from_m))
        if len(without):
            message = (
                f"{counted_words(len(without), 'fiber link')} of {int(fiber.sum())} without a time-domain trace, which is "
                f"required from {required.traces_from_m:g} m on"
            )
            rows = job.analysis.links["first_record"].to_numpy()[without]
            evidence = job.of_records(rows, "length, no trace", length[without], "m")
            found.append(finding("trace-missing", message, job.labels(without), evidence=evidence))
    if required.launch_cord_m is not None and traces is not None:
        # within a meter a cord is as long as it is said to be
        short = traces[~(traces["begins_m"].to_numpy() >= required.launch_cord_m - 1.0)]
        if len(short):
            message = (
                f"{counted_words(len(short), 'trace')} with a launch cord below {required.launch_cord_m:g} m, or of a length "
                "that is not known"
            )
            evidence = job.of_records(short["record"].to_numpy(), "launch cord", short["begins_m"].to_numpy(), "m")
            found.append(finding("launch-cord-short", message, job.labels(short["link"]), evidence=evidence))
    return found


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


def _joints(job: Joined, table: pd.DataFrame, column: str, code: str) -> list[Finding]:
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
        column_db = "loss_db" if column == "verdict" else "reflectance_db"
        evidence = _events(job, joints.sort_values(margin, kind="stable"), column_db)
        found.append(finding(code, message, joints["label"].drop_duplicates(), evidence=evidence))
    return found


def _events(job: Joined, rows: pd.DataFrame, column: str) -> list[Evidence]:
    """Events with their number and where they stand in the export."""
    head = rows.head(EVIDENCE_SHOWN)
    what = "loss" if column == "loss_db" else "reflectance"
    return [
        Evidence(f"{label}: {what} at {where}", None if np.isnan(value) else float(value), "dB", *place)
        for label, where, value, place in zip(head["label"], head["where"], head[column], job.places(head), strict=True)
    ]


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


def _gains(job: Joined, table: pd.DataFrame) -> list[Finding]:
    rows = table[table["gainer"] & (table["component"] != "none")]
    alone = rows[rows["mean_db"].isna()]
    if rows.empty:
        return []
    worst = rows.sort_values("loss_db", kind="stable").iloc[0]
    count = "1 joint seems" if len(rows) == 1 else f"{len(rows)} joints seem"
    seen = f"; {len(alone)} of them seen from one end only and not judged" if len(alone) else ""
    text = f"{count} to gain, most {worst['label']} at {worst['where']} ({printed(np.array([worst['loss_db']]))[0]} dB){seen}"
    evidence = _events(job, rows.sort_values("loss_db", kind="stable"), "loss_db")
    return [finding("event-gains", text, rows["label"].drop_duplicates(), None if len(alone) else "", evidence)]


def _echoes(job: Joined, table: pd.DataFrame) -> list[Finding]:
    rows = table[table["ghost"]]
    if rows.empty:
        return []
    first = rows.iloc[0]
    count = "1 reflection" if len(rows) == 1 else f"{len(rows)} reflections"
    text = f"{count} may be an echo of stronger ones and {'is' if len(rows) == 1 else 'are'} not judged: {first['label']} at {first['where']}"
    evidence = _events(job, rows, "reflectance_db")
    return [finding("event-echo", text, rows["label"].drop_duplicates(), evidence=evidence)]


def _cords(analysis: Analysis) -> list[Finding]:
    traces = analysis.traces
    open_ = traces[(traces["cords_from"] == "missing").to_numpy()]
    if open_.empty:
        return []
    labels = analysis.links["label"].take(open_["link"].drop_duplicates())
    count = "1 trace does" if len(open_) == 1 else f"{len(open_)} traces do"
    text = f"{count} not tell launch and tail cord from the link: no event is said to be an end connection"
    evidence = Joined(analysis).of_records(open_["record"].to_numpy(), "trace without cords that can be told")
    return [finding("cords-not-told", text, labels, evidence=evidence)]


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
    told = [f"trace less power meter at {wave} nm" for wave in rows["wavelength_nm"]]
    evidence = Joined(analysis).of_records(rows["record"].to_numpy(), told, rows["difference_db"].to_numpy(), "dB")
    labels = analysis.links["label"].take(rows["link"].drop_duplicates())
    return [finding("trace-unlike-power", text, labels, evidence=evidence)]
