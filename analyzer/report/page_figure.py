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
MOST_PASSES = 1500
"""About as many points as a browser draws in half a second; what does not plainly pass is never left out."""
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
        number or a length) and ``thinned`` (passes far from their limit that are not drawn, their limits neither).
    """
    points = _points(analysis, link_of_reading)
    figures = []
    for wavelength, group in points.groupby("wavelength_nm", sort=True):
        drawable = group[group["value"].notna() & group["length_m"].notna()]
        drawn = _thin(drawable)
        line, said = _common_line(drawable)
        traces = [*line, *_limit_marks(drawn), *_verdict_traces(drawn)]
        entry = {
            "wavelength_nm": int(str(wavelength)),
            "figure": {"data": traces, "layout": _layout()},
            "line": said,
            "left_out": len(group) - len(drawable),
            "thinned": len(drawable) - len(drawn),
        }
        if len(drawn):
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


def _thin(points: pd.DataFrame) -> pd.DataFrame:
    """All that does not plainly pass, and of the passes the nearest to the limit and an even sample of the rest."""
    passes = points[points["verdict"] == "pass"].sort_values("margin", kind="stable")
    if len(passes) <= MOST_PASSES:
        return points
    near = MOST_PASSES // 2
    sample = np.linspace(near, len(passes) - 1, MOST_PASSES - near).round().astype(int)
    kept = passes.index[np.concatenate([np.arange(near), np.unique(sample)])]
    return points[(points["verdict"] != "pass") | points.index.isin(kept)]


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
    return [trace], said


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
