"""The page's curves: which of them are drawn, and their thinned pictures packed into one text.

A picture keeps of each of 64 logarithmic frequency bins the point nearest to its limit: margin and value, in
hundredths of a decibel. Pictures weigh more than all other data, so only the links nearest to or over their limit bring
theirs; the page says how many links with curves were left out.
"""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from analyzer.schema import NO_POINT, PICTURE_BINS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analyzer.schema import Analysis

MOST_LINKS = 200
"""Links whose curves are drawn."""


def curve_data(
    analysis: Analysis, link_of_reading: NDArray[np.int64], row_of_reading: NDArray[np.int64]
) -> dict[str, Any]:
    """The curves that the page draws, link by link, in the order of their readings there.

    Args:
        analysis: the run.
        link_of_reading: for each reading the row of its link in the table of links.
        row_of_reading: for each reading its row on the page.

    Returns:
        Columns ``reading`` (row on the page), ``first_mhz`` and ``last_mhz`` (what the picture spans), ``points`` and
        ``top_mhz`` (of the curve as measured), ``start`` (first curve of each link); ``pictures`` (int16, little
        endian, base64: for each curve ``bins`` margins, then ``bins`` values), ``bins``, ``no_point``, ``left_out``
        (links with curves that are not drawn) and ``most_links``.
    """
    drawn, left_out = _drawn(analysis, link_of_reading)
    position = pd.Index(analysis.readings["reading"]).get_indexer(pd.Index(drawn["reading"]))
    rows = row_of_reading[position]
    order = np.argsort(rows, kind="stable")
    drawn, rows, links = drawn.iloc[order], rows[order], link_of_reading[position[order]]
    counts = np.bincount(links, minlength=len(analysis.links))
    pictures = analysis.pictures[drawn["picture"].to_numpy()]
    return {
        "reading": rows.tolist(),
        "first_mhz": drawn["limit_min_mhz"].tolist(),
        "last_mhz": drawn["limit_max_mhz"].tolist(),
        "points": drawn["n"].tolist(),
        "top_mhz": drawn["f_max_mhz"].tolist(),
        "start": np.concatenate([[0], np.cumsum(counts)]).tolist(),
        "pictures": base64.b64encode(pictures.astype("<i2").tobytes()).decode("ascii"),
        "bins": PICTURE_BINS,
        "no_point": NO_POINT,
        "left_out": left_out,
        "most_links": MOST_LINKS,
    }


def _drawn(analysis: Analysis, link_of_reading: NDArray[np.int64]) -> tuple[pd.DataFrame, int]:
    """Curves with a picture of the links nearest to or over their limit, and how many links were left out."""
    curves = analysis.curves
    position = pd.Index(analysis.readings["reading"]).get_indexer(pd.Index(curves["reading"]))
    spans = (curves["limit_max_mhz"] > curves["limit_min_mhz"]).to_numpy()
    known = curves[(position >= 0) & (curves["picture"] >= 0).to_numpy() & spans]
    link = link_of_reading[pd.Index(analysis.readings["reading"]).get_indexer(pd.Index(known["reading"]))]
    having = np.unique(link)
    links = analysis.links.iloc[having]
    margin = links["margin_db"].to_numpy()
    failing = (links["verdict"] == "fail").to_numpy()
    near = np.where(np.isnan(margin), np.where(failing, -np.inf, np.inf), margin)
    chosen = having[np.lexsort((having, near, ~failing))[:MOST_LINKS]]
    return known[np.isin(link, chosen)], len(having) - len(chosen)
