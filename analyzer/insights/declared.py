"""Declared against computed: by how much the limits and margins of the export disagree with those of the order."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.insights.joined import Joined, counted
from analyzer.insights.register import finding
from analyzer.schema import UNIT_OF_PARAMETER, Finding

ROUNDING = 0.051
"""Limits are printed with one decimal at least: half its last digit, and a hair."""


def disagreements(job: Joined) -> pd.DataFrame:
    """One row per parameter and wavelength: readings compared, how many differ, median and largest difference.

    Columns: what (limit or margin), parameter, wavelength_nm, unit, compared, differ, median, largest (declared less
    computed), largest_reading.
    """
    readings, judged = job.analysis.readings, job.analysis.judged
    # where no limit is shown the margin is to another limit than the loaded one, or the declared one itself
    live = judged["in_force"].to_numpy() & judged["limit"].notna().to_numpy()
    parts = []
    for what, declared, ours in (
        ("limit", readings["declared_limit"], judged["limit"]),
        ("margin", readings["declared_margin"], judged["margin"]),
    ):
        apart = (declared - ours).to_numpy()
        both = live & np.isfinite(apart)
        frame = pd.DataFrame(
            {
                "what": what,
                "reading": np.flatnonzero(both),
                "parameter": readings["parameter"].astype("object").to_numpy()[both],
                "wavelength_nm": judged["judged_wavelength_nm"].to_numpy()[both],
                "apart": apart[both],
            }
        )
        parts.append(frame)
    table = pd.concat(parts, ignore_index=True)
    if table.empty:
        return table
    table["differs"] = table["apart"].abs() > ROUNDING
    table["size"] = table["apart"].abs()
    order = table.sort_values("size", ascending=False, kind="stable")
    grouped = order.groupby(["what", "parameter", "wavelength_nm"], sort=True)
    summary = grouped.agg(
        compared=("apart", "size"),
        differ=("differs", "sum"),
        largest=("apart", "first"),
        largest_reading=("reading", "first"),
    )
    differing = order[order["differs"]].groupby(["what", "parameter", "wavelength_nm"])["apart"].median()
    summary["median"] = differing.reindex(summary.index)
    summary = summary.reset_index()
    summary["unit"] = summary["parameter"].map(UNIT_OF_PARAMETER).fillna("dB")
    return summary


def against_computed(job: Joined) -> list[Finding]:
    """One note for limits and one for margins that the export prints and the order does not give."""
    table = disagreements(job)
    found = []
    for what in ("limit", "margin"):
        rows = table[(table["what"] == what) & (table["differ"] > 0)] if len(table) else table
        if rows.empty:
            continue
        compared, differ = int(rows["compared"].sum()), int(rows["differ"].sum())
        parts = [
            f"{row['parameter']}{_at(row['wavelength_nm'])} {row['differ']} (median {row['median']:+.2f}, largest "
            f"{row['largest']:+.2f} {row['unit']})"
            for row in rows.sort_values("differ", ascending=False, kind="stable").head(4).to_dict("records")
        ]
        message = f"{differ} of {compared} {what}s that the export prints differ from those computed, declared less computed: "
        evidence = [
            counted(f"readings whose {what} differs", differ),
            *job.of_readings(rows.sort_values("largest", key=np.abs, ascending=False)["largest_reading"].to_numpy()),
        ]
        found.append(finding("declared-against-computed", message + "; ".join(parts), evidence=evidence))
    return found


def _at(wavelength_nm: float) -> str:
    return f" at {wavelength_nm:.0f} nm" if wavelength_nm > 0 else ""
