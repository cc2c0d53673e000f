"""What the JSON document tells of a link besides its readings: events of traces, means of directions, likely causes.

Each function gives one JSON list per link, in the order of the links asked for. It uses the fragments of `document`,
which calls it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pyarrow as pa  # type: ignore[import-untyped]  # pyarrow carries no types

from analyzer.insights.directions import direction_means
from analyzer.report import document
from analyzer.schema import Analysis

if TYPE_CHECKING:
    from analyzer.report.document import Texts, _Places


class LinkDetails:
    """The tables of one analysis sorted by link once, and cut for each chunk of links."""

    def __init__(self, analysis: Analysis, places: _Places) -> None:
        self._lists = {
            "directions": _directions(analysis),
            "events": _events(analysis, places),
            "causes": _causes(analysis),
        }

    def of(self, links: pd.DataFrame) -> dict[str, Texts]:
        """Key -> one JSON list for each link."""
        numbers = links["link"].to_numpy()
        return {key: _cut(owner, fragments, numbers) for key, (owner, fragments) in self._lists.items()}


def _cut(owner: np.ndarray, fragments: Texts, numbers: np.ndarray) -> Texts:
    starts, ends = np.searchsorted(owner, numbers, side="left"), np.searchsorted(owner, numbers, side="right")
    sizes = ends - starts
    offsets = np.concatenate([[0], np.cumsum(sizes)])
    rows = np.arange(offsets[-1]) - np.repeat(offsets[:-1], sizes) + np.repeat(starts, sizes)
    return document.lists_of(fragments.take(pa.array(rows)), offsets)


def _sorted(owner: np.ndarray, fragments: Texts) -> tuple[np.ndarray, Texts]:
    order = np.argsort(owner, kind="stable")
    return owner[order], fragments.take(pa.array(order))


_NONE: tuple[np.ndarray, Any] = (np.array([], dtype=np.int64), pa.array([], pa.string()))


def _directions(analysis: Analysis) -> tuple[np.ndarray, Texts]:
    both = direction_means(analysis)
    if both.empty:
        return _NONE
    columns = {"wavelength_nm": document.whole_numbers(both["wavelength_nm"])} | {
        name: document.numbers_of(both[name]) for name in ("ab_db", "ba_db", "mean_db", "difference_db")
    }
    return _sorted(both["link"].to_numpy(), document.objects_of(columns))


def _causes(analysis: Analysis) -> tuple[np.ndarray, Texts]:
    causes = analysis.causes
    if causes is None or causes.empty:
        return _NONE
    names = ("cause", "speaks_for", "speaks_against", "next_step", "basis")
    columns = {"rank": document.whole_numbers(causes["rank"])} | {
        name: document.texts_of(causes[name].replace("", np.nan)) for name in names
    }
    return _sorted(causes["link"].to_numpy(), document.objects_of(columns))


def _events(analysis: Analysis, places: _Places) -> tuple[np.ndarray, Texts]:
    if analysis.traces is None or analysis.traces.empty:
        return _NONE
    events = analysis.events
    owner = analysis.traces["link"].to_numpy()[events["trace"].to_numpy()]
    columns = {
        "number": document.whole_numbers(events["number"]),
        "wavelength_nm": document.whole_numbers(events["wavelength_nm"]),
        **{name: document.texts_of(events[name]) for name in ("direction", "kind", "place", "component")},
        **{
            name: document.numbers_of(events[name])
            for name in ("distance_m", "position_m", "loss_db", "mean_db", "limit_db", "margin_db")
        },
        "verdict": document.texts_of(events["verdict"]),
        **{
            name: document.numbers_of(events[name])
            for name in ("reflectance_db", "reflectance_limit_db", "reflectance_margin_db")
        },
        "reflectance_bound": document.texts_of(events["reflectance_bound"]),
        "reflectance_verdict": document.texts_of(events["reflectance_verdict"]),
        "limit_source": document.texts_of(events["source"]),
        "gainer": document.truths_of(events["gainer"]),
        "echo": document.truths_of(events["ghost"]),
        "from": places.of(events),
    }
    return _sorted(owner, document.objects_of(columns))
