"""What one joint may lose and reflect: the limits that events of a trace are judged against."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.budget.allowances import UNCONFIRMED
from analyzer.budget.return_loss import return_loss_row
from analyzer.job import Job
from analyzer.standards import Values, allowances
from analyzer.standards.tables import Row

_BOTH_GLASSES = ("multimode", "single-mode")


def event_limits(wanted: pd.DataFrame, job: Job, values: Values) -> pd.DataFrame:
    """For each row: `limit_db`, `reflectance_limit_db` and `source`; NaN where no limit is sourced.

    Args:
        wanted: standard, edition, component ("mated pair", "splice" or "none"), glass ("" where it is not known).
        job: the owner's own allowances stand in place of the standard's.
        values: the published values.
    """
    keys = ["standard", "edition", "component", "glass"]
    asked = wanted[keys].astype("object").fillna("")
    which = asked.groupby(keys, sort=False).ngroup().to_numpy()
    first = np.unique(which, return_index=True)[1] if len(which) else np.array([], dtype=np.int64)
    found = [_limits(key, job, values) for key in asked.iloc[first].to_numpy(dtype=object).tolist()]
    table = pd.DataFrame(found or [(np.nan, np.nan, None)], columns=["limit_db", "reflectance_limit_db", "source"])
    return table.take(which).reset_index(drop=True) if len(which) else table.iloc[:0]


def _limits(key: list[str], job: Job, values: Values) -> tuple[float, float, str | None]:
    standard, edition, component, glass = key
    if component == "none" or not standard:
        return np.nan, np.nan, None
    loss, told = _loss(standard, edition, component, glass, job, values)
    floor = return_loss_row(values, standard, edition, component, glass) if glass else None
    words = [told] if told else []
    if floor is not None:
        words.append(
            f"{floor['document']}: return loss of {_a(component)} at least {floor['min_return_loss_db']:g} dB {_known(floor, job)}"
        )
    return loss, -float(floor["min_return_loss_db"]) if floor is not None else np.nan, "; ".join(words) or None


def _loss(standard: str, edition: str, component: str, glass: str, job: Job, values: Values) -> tuple[float, str]:
    own = {"mated pair": job.allowances.mated_pair_db, "splice": job.allowances.splice_db}[component]
    if own is not None:
        key = component.replace(" ", "_")
        return float(own), f"job.toml: {own:g} dB {_a(component)} [job.toml:allowances.{key}_db]"
    edition_rows = allowances(values, standard, edition or None)
    rows = [edition_rows.component(component, one) for one in ([glass] if glass else _BOTH_GLASSES)]
    known = [row for row in rows if row is not None and row["max_loss_db"] is not None]
    if len(known) < len(rows) or len({row["max_loss_db"] for row in known}) != 1:
        return np.nan, ""
    row = known[0]
    return float(row["max_loss_db"]), f"{row['document']}: {row['max_loss_db']:g} dB {_a(component)} {_known(row, job)}"


def _known(row: Row, job: Job) -> str:
    weak = row["how_known"] in UNCONFIRMED and row["row_id"] not in job.confirmed
    return f"({row['how_known']}{', unconfirmed' if weak else ''}) [{row['row_id']}]"


def _a(component: str) -> str:
    return f"a {component}"
