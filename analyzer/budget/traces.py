"""Where a link begins and ends in an optical time-domain trace, and what the trace says it loses from end to end.

A launch cord lies between the instrument and the link, often a tail cord behind it, so that the end connections can be
seen. Their lengths are stated by the file or the job; else the known length of the link tells them apart where exactly
one reading of the trace fits it; else they are a missing fact, and no event is said to belong to an end.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer import schema

PORT_M = 1.0
"""An event this near the instrument is its own port."""
PLACE_TOLERANCE_M = 3.0
PLACE_TOLERANCE_SHARE = 0.02
"""Two distances are one place within the larger of both: group index and slack; common practice, no source."""


def tolerance_m(length_m: np.ndarray | pd.Series) -> np.ndarray:
    """How far two distances of one place may differ."""
    return np.asarray(
        np.maximum(PLACE_TOLERANCE_M, PLACE_TOLERANCE_SHARE * np.nan_to_num(np.asarray(length_m, dtype=float)))
    )


def traces_of(
    events: pd.DataFrame, link_of_record: np.ndarray, length_m: np.ndarray, launch_m: float, tail_m: float
) -> tuple[pd.DataFrame, np.ndarray]:
    """Schema `traces` without the power meter, and the trace of each event.

    Args:
        events: schema `events`, n rows.
        link_of_record: link of each record.
        length_m: known length of each link, NaN where none is.
        launch_m: launch cord that the job states for every trace, NaN where none.
        tail_m: the same of the tail cord.
    """
    keys = [events["record"], events["wavelength_nm"], events["direction"].cat.codes]
    trace = pd.Series(events.groupby(keys, sort=False).ngroup().to_numpy(), name="trace")
    frame = events.reset_index(drop=True).assign(trace=trace)
    first = frame.drop_duplicates("trace").set_index("trace")
    table = first[["record", "wavelength_nm", "direction"]].copy()
    table["link"] = link_of_record[table["record"].to_numpy()]
    length = length_m[table["link"].to_numpy()]
    stated = {
        "launch": first["launch_m"].fillna(launch_m).to_numpy(),
        "tail": first["tail_m"].fillna(tail_m).to_numpy(),
    }
    marks = _marks(frame, len(table))
    begins, ends, known_from = _cords(marks, stated, length)
    table["begins_m"], table["ends_m"], table["cords_from"] = begins, ends, known_from
    table["trace_loss_db"] = _end_to_end(frame, table, marks["end"].to_numpy())
    return schema.conform("traces", table.reset_index()), trace.to_numpy()


def _marks(frame: pd.DataFrame, count: int) -> pd.DataFrame:
    """Of each trace: where it ends, its first reflection behind the port, and its last before the end."""
    placed = frame[frame["distance_m"].notna()]
    kind = placed["kind"].astype("object")
    at = placed.groupby("trace")["distance_m"]
    called = placed[kind == "end"].groupby("trace")["distance_m"].min()
    end = called.reindex(range(count)).fillna(at.max().reindex(range(count)))
    here = placed["trace"].to_numpy()
    shines = (placed["reflectance_db"].notna() | kind.isin(["connection", "reflective"])).to_numpy()
    between = (placed["distance_m"] > PORT_M).to_numpy() & (
        placed["distance_m"].to_numpy() < end.to_numpy()[here] - PORT_M
    )
    inner = placed[shines & between & (kind != "ghost").to_numpy()].groupby("trace")["distance_m"]
    return pd.DataFrame(
        {"end": end, "first": inner.min().reindex(range(count)), "last": inner.max().reindex(range(count))}
    )


def _cords(
    marks: pd.DataFrame, stated: dict[str, np.ndarray], length_m: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Where each link begins and ends, and who says so."""
    end, first, last = (marks[name].to_numpy() for name in ("end", "first", "last"))
    launch, tail = stated["launch"], stated["tail"]
    said = ~np.isnan(launch) | ~np.isnan(tail)
    begin_said = _snapped(np.nan_to_num(launch), first)
    end_said = np.where(np.nan_to_num(tail) > 0, _snapped(end - np.nan_to_num(tail), last), end)
    # none, both, launch alone, tail alone
    begins = np.stack([np.zeros_like(end), first, first, np.zeros_like(end)])
    ends = np.stack([end, last, end, last])
    with np.errstate(invalid="ignore"):
        fits = np.abs(ends - begins - length_m) <= tolerance_m(length_m)
    one = fits.sum(axis=0) == 1
    which = fits.argmax(axis=0)
    at = np.arange(len(end))
    begin = np.select([said, one], [begin_said, begins[which, at]], np.nan)
    stop = np.select([said, one], [end_said, ends[which, at]], np.nan)
    # what is stated must leave a link between the cords
    sound = np.nan_to_num(stop - begin, nan=-1.0) > 0
    source = np.select([said & sound, one & sound], ["stated", "length"], "missing")
    return np.where(sound, begin, np.nan), np.where(sound, stop, np.nan), source


def _snapped(place_m: np.ndarray, event_m: np.ndarray) -> np.ndarray:
    """The event where it lies at the stated place, else the place as stated."""
    with np.errstate(invalid="ignore"):
        near = np.abs(event_m - place_m) <= tolerance_m(place_m)
    return np.where(near, event_m, place_m)


def _end_to_end(frame: pd.DataFrame, table: pd.DataFrame, end: np.ndarray) -> np.ndarray:
    """Loss from end to end: as a row or line states it, else the sum up to the end where no cord lies before or behind."""
    count = len(table)
    whole = frame[(frame["kind"] == "end to end").to_numpy()]
    stated = whole["loss_db"].fillna(whole["cumulative_db"]).groupby(whole["trace"]).first().reindex(range(count))
    bare = (table["begins_m"].to_numpy() == 0) & (table["ends_m"].to_numpy() == end)
    at_end = frame[(frame["distance_m"].to_numpy() == end[frame["trace"].to_numpy()]) & frame["cumulative_db"].notna()]
    summed = at_end.groupby("trace")["cumulative_db"].first().reindex(range(count)).where(bare)
    return np.asarray(stated.fillna(summed), dtype=np.float64)
