"""The map of the job: for each link its building, room, panel and port, as schedule and labels name them.

Building is the area, room the place of end A. The panel is the cable of a strand, else what stands before the last
separator of the label; the port is the strand (unless that is the whole label again), else what stands behind that
separator. Nothing is guessed beyond that: what no record names stays empty, and the page gathers it under words that
say so.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

if TYPE_CHECKING:
    from analyzer.schema import Analysis

_LAST_PART = r"^(?P<panel>.*?)[\s\-_./:#]*(?P<port>[^\s\-_./:#]+)[\s\-_./:#]*$"


def job_map(analysis: Analysis) -> pd.DataFrame:
    """Columns ``building``, ``room``, ``panel`` and ``port`` (str, missing NaN), one row a link in the order of links."""
    links = analysis.links
    label = links["label"].reset_index(drop=True)
    parts = label.str.extract(_LAST_PART)
    cable = links["cable"].reset_index(drop=True)
    own = cable.where(cable.notna() & (cable != label))
    before = parts["panel"].where(parts["panel"] != "")
    strand = links["strand"].reset_index(drop=True)
    return pd.DataFrame(
        {
            "building": links["area"].reset_index(drop=True),
            "room": links["place_a"].reset_index(drop=True),
            "panel": own.fillna(before),
            "port": strand.where(own.notna() & (strand != label)).fillna(parts["port"]).fillna(label),
        }
    )
