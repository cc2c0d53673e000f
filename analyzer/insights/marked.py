"""Reviewers' marks laid on the links: which hold, which have lapsed, where two reviewers disagree.

A mark holds while the fingerprint of its link is what it was: every reading with its place, and the bytes of the files
they come from. A mark that holds changes no verdict; it is told beside it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from analyzer.insights.register import finding
from analyzer.job.marks import Mark
from analyzer.schema import Analysis, Finding, conform, empty

_READING = ("parameter", "wavelength_nm", "pair", "end", "direction", "frequency_mhz", "value", "bound", "row", "col")


def fingerprints(analysis: Analysis) -> pd.Series:
    """For every link 16 hexadecimal digits over its readings and their files; the order of readings does not matter."""
    readings = analysis.readings
    links = analysis.links
    by_record = pd.Series(analysis.records["link"].to_numpy(), index=analysis.records["record"].to_numpy())
    link = by_record.reindex(readings["record"].to_numpy()).to_numpy().astype(np.int64)
    total = np.full(len(links), np.uint64(0xCAB1E), dtype=np.uint64)
    if len(readings):
        files = analysis.blocks.set_index("block")["file"].map(analysis.files.set_index("file")["sha256"])
        columns = [readings["block"].map(files).astype("str"), *(readings[name] for name in _READING)]
        mixed = np.full(len(readings), np.uint64(len(readings.columns)), dtype=np.uint64)
        with np.errstate(over="ignore"):
            for column in columns:
                plain = column.astype("str") if isinstance(column.dtype, pd.CategoricalDtype) else column
                mixed = mixed * np.uint64(0x9E3779B97F4A7C15) + pd.util.hash_array(plain.to_numpy())
            mixed ^= mixed >> np.uint64(29)
            mixed *= np.uint64(0xBF58476D1CE4E5B9)
            np.add.at(total, link, mixed ^ (mixed >> np.uint64(32)))
    return pd.Series([f"{number:016x}" for number in total.tolist()], dtype="str")


def lay_marks(analysis: Analysis, marks: Sequence[Mark]) -> pd.DataFrame:
    """Schema `marks`: every mark with the link it is about and whether it holds."""
    if not marks:
        return empty("marks")
    frame = pd.DataFrame(marks, columns=list(Mark._fields), dtype="str").rename(columns={"link": "label"})
    links = analysis.links
    at = pd.Series(links["link"].to_numpy(), index=links["label"].to_numpy())
    at = at[~at.index.duplicated()]
    frame["link"] = at.reindex(frame["label"].to_numpy()).fillna(-1).astype("int64").to_numpy()
    now = links.set_index("link")["fingerprint"].reindex(frame["link"].to_numpy()).to_numpy()
    holds = (frame["fingerprint"].to_numpy() == now) & (frame["link"] >= 0).to_numpy()
    latest = _latest_of_each(frame, holds)
    kinds = frame[latest].groupby("link")["mark"].transform("nunique").reindex(frame.index, fill_value=1)
    state = np.select(
        [frame["link"] < 0, ~holds, ~latest, kinds > 1], ["no such link", "lapsed", "replaced", "conflict"], "holds"
    )
    return conform("marks", frame.assign(state=state))


def _latest_of_each(frame: pd.DataFrame, holds: np.ndarray) -> np.ndarray:
    """Of the marks of one reviewer on one link the last."""
    order = frame[holds].sort_values("at", kind="stable")
    last = order.drop_duplicates(["link", "name"], keep="last").index
    latest: np.ndarray = frame.index.isin(last)
    return latest


def findings_of_marks(analysis: Analysis) -> list[Finding]:
    """Marks that no longer hold, that contradict each other, or that name no link."""
    marks = analysis.marks
    out = []
    for state, code in (("conflict", "marks-differ"), ("lapsed", "mark-lapsed"), ("no such link", "mark-without-link")):
        mine = marks[marks["state"] == state]
        if len(mine):
            names = list(dict.fromkeys(mine["label"]))
            who = ", ".join(dict.fromkeys(mine["name"]))
            words = {
                "conflict": f"reviewers mark {len(names)} links differently ({who}): all marks are shown, none counts",
                "lapsed": f"{len(mine)} marks of {who} have lapsed: readings or files of these links changed since",
                "no such link": f"{len(mine)} marks of {who} are about links that are not here",
            }
            out.append(finding(code, words[state], names))
    return out


def marked_words(analysis: Analysis) -> list[str]:
    """What the marks that hold amount to, for example "of 3 that fail 2 are accepted by A. Reviewer"."""
    marks = analysis.marks[analysis.marks["state"] == "holds"]
    if marks.empty:
        return []
    verdict = analysis.links.set_index("link")["verdict"].astype("str").reindex(marks["link"].to_numpy()).to_numpy()
    words = {"accept": "accepted", "query": "queried", "retest": "to be tested again"}
    said = {
        "fail": "that fail",
        "incomplete": "that are incomplete",
        "marginal": "that are marginal",
        "pass": "that pass",
    }
    out = []
    for name in ("fail", "incomplete", "marginal", "pass"):
        here = marks[verdict == name]
        parts = [
            f"{mine['link'].nunique()} {words[kind]} by {', '.join(dict.fromkeys(mine['name']))}"
            for kind in words
            if len(mine := here[here["mark"] == kind])
        ]
        if parts:
            out.append(f"of {analysis.totals[name]} {said[name]}: {'; '.join(parts)}")
    return out
