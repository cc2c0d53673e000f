"""Loss against length, with the allowance drawn: a figure as plain data, one for each wavelength.

The figures are what `plotly.graph_objects.Figure` takes, written as dicts because importing that class costs more time
than drawing (a test holds them against it). Colors are left to the page, which knows whether it is dark.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analyzer.schema import Analysis

SYMBOLS = {
    "pass": "circle-open",
    "marginal pass": "triangle-up",
    "marginal fail": "triangle-down",
    "fail": "diamond",
    "not judged": "square-open",
}
"""Shape of each verdict, in drawing order: what fails is drawn last, on top of what passes."""
MOST_POINTS = 5000
"""About as many points as a browser draws in a second or two; beyond them plain passes become counts in cells."""
CELLS_ACROSS, CELLS_UP = 70, 40
LINE_POINTS = 60
"""Points of the lines of what is expected: enough for their bend to look smooth."""
LINE_TOLERANCE_DB = 1e-6
"""The line stands for its readings only if it meets the limit of every one of them."""


def loss_against_length(analysis: Analysis, link_of_reading: NDArray[np.int64]) -> list[dict[str, Any]]:
    """One figure for each wavelength at which loss was measured, by wavelength.

    Args:
        analysis: the run.
        link_of_reading: for each reading the row of its link in the table of links.

    Returns:
        Dicts with ``wavelength_nm``, ``figure`` (``data`` and ``layout``), ``line`` (what the line stands for, ``None``
        without one), ``left_out`` (readings in force without a
        number or a length), ``drawable`` (the others) and ``cells`` (``x0``, ``dx``, ``y0``, ``dy``, ``across`` and
        ``up`` of the cells in which they are counted where they are too many to draw; else ``None``).
    """
    points = _points(analysis, link_of_reading)
    figures = []
    for wavelength, group in points.groupby("wavelength_nm", sort=True):
        drawable = group[group["value"].notna() & group["length_m"].notna()]
        line, said = _common_line(drawable)
        crowded = len(drawable) > MOST_POINTS
        cells = _cells(drawable) if crowded else None
        drawn = drawable[drawable["verdict"] != "pass"] if crowded else drawable
        counts = [_density(drawable, cells)] if cells else []
        traces = [*counts, *line, *_limit_marks(drawn), *_verdict_traces(drawn)]
        entry = {
            "wavelength_nm": int(str(wavelength)),
            "figure": {"data": traces, "layout": _layout()},
            "line": said,
            "left_out": len(group) - len(drawable),
            "drawable": len(drawable),
            "most": MOST_POINTS,
            "cells": cells,
        }
        if len(drawable):
            figures.append(entry)
    return figures


def _points(analysis: Analysis, link_of_reading: NDArray[np.int64]) -> pd.DataFrame:
    """Loss readings of fiber in force, with what their allowance was computed from."""
    readings, judged = analysis.readings, analysis.judged
    facts = analysis.facts.set_index("record").reindex(readings["record"]).reset_index(drop=True)
    limits = analysis.limits.set_index("limit_id").reindex(judged["limit_id"]).reset_index(drop=True)
    points = pd.DataFrame(
        {
            "link": link_of_reading,
            "wavelength_nm": readings["wavelength_nm"].to_numpy(),
            "value": readings["value"].to_numpy(),
            "limit": judged["limit"].to_numpy(),
            "margin": judged["margin"].to_numpy(),
            "verdict": judged["verdict"].astype("str").to_numpy(),
            "limit_id": judged["limit_id"].to_numpy(),
            "expected_db": judged["expected_db"].to_numpy(),
            "expected_97_db": judged["expected_97_db"].to_numpy(),
            "length_m": facts["length_m"].to_numpy(),
            "matings": facts["matings_in_reading"].to_numpy(),
            "splices": facts["splices"].to_numpy(),
            "type": facts["type"].astype("str").to_numpy(),
            "reference": facts["reference"].astype("str").to_numpy(),
            "coefficient": limits["coefficient_db_per_km"].to_numpy(),
            "mated_pair_db": limits["mated_pair_db"].to_numpy(),
            "splice_db": limits["splice_db"].to_numpy(),
        }
    )
    wanted = (readings["parameter"] == "loss") & judged["in_force"] & (readings["wavelength_nm"] > 0)
    return points[wanted.to_numpy()].reset_index(drop=True)


def _cells(points: pd.DataFrame) -> dict[str, float]:
    """Cells over length and loss that hold every point."""
    far, most = (max(float(points[name].max()), 1e-9) for name in ("length_m", "value"))
    low = min(float(points["value"].min()), 0.0)
    return {
        "x0": 0.0,
        "dx": far / CELLS_ACROSS,
        "y0": low,
        "dy": max(most - low, 1e-9) / CELLS_UP,
        "across": CELLS_ACROSS,
        "up": CELLS_UP,
    }


def _density(points: pd.DataFrame, cells: dict[str, float]) -> dict[str, Any]:
    """How many readings lie in each cell; the page counts again when a filter narrows the links."""
    at = [
        np.clip(((points[name].to_numpy() - cells[zero]) / cells[step]).astype(np.int64), 0, many - 1)
        for name, zero, step, many in (("length_m", "x0", "dx", CELLS_ACROSS), ("value", "y0", "dy", CELLS_UP))
    ]
    counts = np.bincount(at[1] * CELLS_ACROSS + at[0], minlength=CELLS_ACROSS * CELLS_UP)
    shown = counts.astype(object)
    shown[counts == 0] = None
    return {
        "type": "heatmap",
        "name": "readings in a cell",
        "meta": "density",
        "x0": cells["x0"] + cells["dx"] / 2,
        "dx": cells["dx"],
        "y0": cells["y0"] + cells["dy"] / 2,
        "dy": cells["dy"],
        "z": shown.reshape(CELLS_UP, CELLS_ACROSS).tolist(),
        "hoverinfo": "none",
        "colorbar": {"title": {"text": "readings", "side": "right"}, "thickness": 12, "len": 0.8},
    }


def _verdict_traces(points: pd.DataFrame) -> list[dict[str, Any]]:
    traces = []
    for verdict, symbol in SYMBOLS.items():
        some = points[points["verdict"] == verdict]
        if len(some):
            traces.append(
                {
                    "type": "scatter",
                    "mode": "markers",
                    "name": verdict,
                    "meta": verdict,
                    "x": some["length_m"].tolist(),
                    "y": some["value"].tolist(),
                    "customdata": some["link"].tolist(),
                    "hoverinfo": "none",
                    "marker": {"symbol": symbol, "size": 9 if verdict == "pass" else 11},
                }
            )
    return traces


def _limit_marks(drawn: pd.DataFrame) -> list[dict[str, Any]]:
    own = drawn[drawn["limit"].notna()]
    if own.empty:
        return []
    marks = {
        "type": "scatter",
        "mode": "markers",
        "name": "allowed, each reading",
        "meta": "limit",
        "x": own["length_m"].tolist(),
        "y": own["limit"].tolist(),
        "customdata": own["link"].tolist(),
        "hoverinfo": "skip",
        "marker": {"symbol": "line-ew-open", "size": 11},
    }
    return [marks]


def _common_line(points: pd.DataFrame) -> tuple[list[dict[str, Any]], str | None]:
    """The allowance over length for the most common combination of type, matings, splices and reference."""
    keys = ["limit_id", "type", "matings", "splices", "reference"]
    parts = ["limit", "coefficient", "mated_pair_db", "splice_db", *keys[2:4]]
    judged = points[points[parts].notna().all(axis=1)]
    if judged.empty:
        return [], None
    common = judged.groupby(keys, sort=True, dropna=False).size().sort_values(ascending=False, kind="stable")
    share = int(common.iloc[0])
    if share < 2:
        return [], None
    group = judged[(judged[keys].astype(str) == pd.Series(common.index[0], index=keys).astype(str)).all(axis=1)]
    first = group.iloc[0]
    fixed = float(first["matings"] * first["mated_pair_db"] + first["splices"] * first["splice_db"])
    slope = float(first["coefficient"]) / 1000
    if not np.allclose(fixed + slope * group["length_m"], group["limit"], rtol=0, atol=LINE_TOLERANCE_DB):
        return [], None
    end = float(points["length_m"].max())
    named = [
        None if first["type"] == "nan" else str(first["type"]),
        f"{first['matings']:g} matings",
        f"{first['splices']:g} splices",
        None if first["reference"] == "nan" else str(first["reference"]),
    ]
    said = f"The line is what the most common build is allowed: {', '.join(part for part in named if part)}; {share} of {len(points)} readings."
    trace = {
        "type": "scatter",
        "mode": "lines",
        "name": "allowed, most common build",
        "meta": "line",
        "x": [0.0, end],
        "y": [fixed, fixed + slope * end],
        "hoverinfo": "skip",
        "line": {"width": 1.5, "dash": "solid"},
    }
    return [trace, *_expectation(group)], said


def _expectation(group: pd.DataFrame) -> list[dict[str, Any]]:
    """What such links done well lose: half stay under the one line, 97 of 100 under the other."""
    traces = []
    for name, words, dash in (
        ("expected_db", "done well, half stay under", "dot"),
        ("expected_97_db", "done well, 97 of 100 stay under", "dashdot"),
    ):
        known = group[group[name].notna()]
        if known.empty:
            return []
        at = known.groupby("length_m", sort=True)[name]
        if float((at.max() - at.min()).max()) > LINE_TOLERANCE_DB or at.ngroups < 2:
            return []
        level = at.min()
        level = level.iloc[np.unique(np.linspace(0, len(level) - 1, LINE_POINTS).round().astype(int))]
        traces.append(
            {
                "type": "scatter",
                "mode": "lines",
                "name": words,
                "meta": "expected",
                "x": [float(length) for length in level.index],
                "y": level.tolist(),
                "hoverinfo": "skip",
                "line": {"width": 1.5, "dash": dash},
            }
        )
    return traces


def _layout() -> dict[str, Any]:
    axis = {"rangemode": "tozero", "zeroline": False, "ticks": "outside", "automargin": True, "fixedrange": False}
    return {
        "xaxis": {**axis, "title": {"text": "length, m"}},
        "yaxis": {**axis, "title": {"text": "loss, dB"}},
        "hovermode": "closest",
        "dragmode": "zoom",
        "showlegend": True,
        "legend": {"orientation": "h", "x": 0, "y": 1.02, "xanchor": "left", "yanchor": "bottom"},
        "margin": {"l": 48, "r": 12, "t": 12, "b": 44},
    }
