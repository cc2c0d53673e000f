"""Events of optical time-domain traces for the page: link by link, each joint with the same joint seen from the other end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from analyzer.schema import empty

if TYPE_CHECKING:
    from analyzer.schema import Analysis

EVENTS = (
    "block", "row", "col", "wavelength_nm", "direction", "number", "distance_m", "kind", "loss_db", "reflectance_db",
    "reflectance_bound", "position_m", "place", "component", "mean_db", "limit_db", "margin_db", "verdict",
    "reflectance_limit_db", "reflectance_verdict", "source", "gainer", "ghost",
)  # fmt: skip
TRACES = (
    "link", "wavelength_nm", "direction", "begins_m", "ends_m", "cords_from", "trace_loss_db", "power_loss_db",
    "difference_db",
)  # fmt: skip


def event_data(analysis: Analysis) -> dict[str, Any]:
    """The events of each link, by wavelength and along the link.

    Args:
        analysis: the run.

    Returns:
        The columns of `EVENTS`, ``partner`` (row of the same joint seen from the other end, -1 for none), ``traces``
        (columns of `TRACES`, ``link`` being a row of links), ``decide`` (whether the job lets events decide) and
        ``start`` (first event of each link).
    """
    from analyzer.report.page_data import column

    events, traces = analysis.events, analysis.traces
    if traces is None or events is None or not len(events):
        events = pd.concat([empty("events"), empty("judged_events").drop(columns="event")], axis=1)
        traces = empty("traces")
    link = pd.Index(analysis.links["link"]).get_indexer(pd.Index(traces["link"].to_numpy()[events["trace"].to_numpy()]))
    along = events["position_m"].fillna(events["distance_m"]).to_numpy()
    order = np.lexsort((events["direction"].cat.codes.to_numpy(), along, events["wavelength_nm"].to_numpy(), link))
    row = np.empty(len(events), dtype=np.int64)
    row[order] = np.arange(len(events))
    shown = events.iloc[order]
    partner = shown["partner"].to_numpy()
    counts = np.bincount(link, minlength=len(analysis.links)) if len(link) else np.zeros(len(analysis.links), dtype=int)
    told = traces.assign(link=pd.Index(analysis.links["link"]).get_indexer(pd.Index(traces["link"])))
    return {
        **{name: column(shown[name]) for name in EVENTS},
        "partner": np.where(partner >= 0, row[np.clip(partner, 0, None)] if len(row) else -1, -1).tolist(),
        "traces": {name: column(told[name]) for name in TRACES},
        "decide": bool(analysis.job is not None and analysis.job.rules.events == "decide"),
        "start": np.concatenate([[0], np.cumsum(counts)]).tolist(),
    }
