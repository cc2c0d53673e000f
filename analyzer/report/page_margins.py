"""How margins spread, one figure for each parameter: bars counted in Python, words by verdict, the limit a line at zero.

The page counts the same bars again when a filter narrows the links, by the rule of `bar_of`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from analyzer.schema import CATEGORIES, UNIT_OF_PARAMETER

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analyzer.schema import Analysis

MOST_BARS = 40
ZERO = 1e-9
"""A margin this little under zero is zero, as in judging."""
BEYOND = 0.005
"""Share of margins at either end that may be gathered in the outermost bar, so that one far value hides no shape."""
ORDER = ("pass", "marginal pass", "marginal fail", "fail")


def margin_spread(analysis: Analysis) -> list[dict[str, Any]]:
    """One entry for each parameter with margins in force, nearest to its limit first.

    Args:
        analysis: the run.

    Returns:
        Dicts with ``parameter``, ``unit``, ``step`` (width of a bar), ``first`` (number of the first bar: it begins at
        ``first x step``), ``bars``, ``counting`` (whether only readings that may decide are counted), ``readings``,
        ``without`` (readings in force without a margin), ``gathered`` (margins outside the bars, counted in the
        outermost) and ``figure`` (``data`` and ``layout`` for plotly).
    """
    judged = analysis.judged
    frame = pd.DataFrame(
        {
            "parameter": analysis.readings["parameter"].to_numpy(),
            "margin": judged["margin"].to_numpy(),
            "verdict": judged["verdict"].astype("str").to_numpy(),
            "counts": judged["counts"].to_numpy(),
        }
    )[judged["in_force"].to_numpy()]
    entries = []
    for parameter in CATEGORIES["parameter"]:
        mine = frame[(frame["parameter"] == parameter).to_numpy()]
        counting = bool(mine["counts"].any())
        told = mine[mine["counts"]] if counting else mine
        if told["margin"].notna().any():
            entries.append((float(told["margin"].min()), _entry(parameter, told, counting=counting)))
    return [entry for _, entry in sorted(entries, key=lambda pair: pair[0])]


def bar_of(margins: NDArray[np.float64], step: float, first: int, bars: int) -> NDArray[np.int64]:
    """Bar of each margin; what lies outside belongs to the outermost bar."""
    return np.clip(np.floor((margins + ZERO) / step).astype(np.int64) - first, 0, bars - 1)


def _entry(parameter: str, told: pd.DataFrame, *, counting: bool) -> dict[str, Any]:
    known = told[told["margin"].notna()]
    margins = known["margin"].to_numpy(dtype="f8")
    low, high = (float(edge) for edge in np.quantile(margins, [BEYOND, 1 - BEYOND]))
    low, high = min(low, 0.0), max(high, 0.0)
    step = _step(high - low)
    first = math.floor((low + ZERO) / step)
    bars = math.floor((high + ZERO) / step) - first + 1
    at = bar_of(margins, step, first, bars)
    outside = (margins + ZERO < first * step) | (margins + ZERO >= (first + bars) * step)
    unit = UNIT_OF_PARAMETER.get(parameter, "dB")
    verdicts = known["verdict"].to_numpy()
    traces = [
        {
            "type": "bar",
            "name": verdict,
            "meta": verdict,
            "x": [round((first + bar + 0.5) * step, 9) for bar in range(bars)],
            "y": np.bincount(at[verdicts == verdict], minlength=bars).tolist(),
            "width": step * 0.9,
            "hoverinfo": "none",
        }
        for verdict in ORDER
        if (verdicts == verdict).any()
    ]
    return {
        "parameter": parameter,
        "unit": unit,
        "step": step,
        "first": first,
        "bars": bars,
        "counting": counting,
        "readings": len(known),
        "without": len(told) - len(known),
        "gathered": int(outside.sum()),
        "figure": {"data": traces, "layout": _layout(unit)},
    }


def _step(span: float) -> float:
    """The least of 1, 2, 5 times a power of ten that needs at most `MOST_BARS` bars."""
    least = max(span / (MOST_BARS - 2), 0.01)
    power = 10.0 ** math.floor(math.log10(least))
    return float(round(next(times * power for times in (1, 2, 5, 10) if times * power >= least * (1 - 1e-12)), 9))


def _layout(unit: str) -> dict[str, Any]:
    axis = {"zeroline": False, "ticks": "outside", "automargin": True, "fixedrange": True}
    return {
        "barmode": "stack",
        "xaxis": {**axis, "title": {"text": f"margin, {unit}"}},
        "yaxis": {**axis, "rangemode": "tozero", "title": {"text": "readings"}},
        "shapes": [{"type": "line", "x0": 0, "x1": 0, "yref": "paper", "y0": 0, "y1": 1}],
        "annotations": [
            {
                "text": "limit", "x": 0, "yref": "paper", "y": 1, "xanchor": "right", "yanchor": "top", "xshift": -4,
                "showarrow": False,
            }
        ],
        "dragmode": False,
        "showlegend": True,
        "legend": {"orientation": "h", "x": 0, "y": 1.02, "xanchor": "left", "yanchor": "bottom"},
        "margin": {"l": 48, "r": 12, "t": 12, "b": 44},
    }  # fmt: skip
