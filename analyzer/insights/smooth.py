"""Losses that scatter less than connectors do: numbers that may have been worked out and not measured. A question only.

Whoever mates two connectors again reads another loss; over many strands that scatter cannot be missing (T12 of the
practice notes). Within a cable losses are set against their median, over the cables of a tester against a line through
their lengths; matings and splices are the same in either group.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer.insights.chances import MAD_TO_SIGMA, threshold
from analyzer.insights.joined import Joined, chance_evidence, chance_words, counted, group_numbers
from analyzer.insights.references import NEAR_ZERO_DB
from analyzer.insights.register import finding
from analyzer.insights.series import rest_of_line
from analyzer.schema import Finding

REPEATABILITY_DB = 0.05
"""Standard deviation of a connector that is mated again and again (T12 of the practice notes, common practice)."""

PART = 3.0
"""Losses are told that scatter less than this part of it (T12)."""

FEWEST = 20
"""Fewest losses of a group (T12)."""

_WILD, _HALF_STEP_DB = 2.0, 0.005
"""Robust standard deviations, and half a last digit, to which wild values are drawn in, so that a strand that was
measured hides nothing."""


class Group(NamedTuple):
    """Losses of one tester, wavelength and direction that should scatter."""

    rows: pd.DataFrame
    """Columns of `Joined.losses`."""
    spread_db: float
    chance: float


def too_smooth(job: Joined) -> list[Finding]:
    """Cables, and all cables of a tester together, whose losses scatter by less than a third of what connectors do."""
    losses = job.losses
    facts = job.analysis.facts.take(losses["record"].to_numpy()) if len(losses) else job.analysis.facts.iloc[:0]
    losses = losses.assign(
        matings=facts["matings_in_reading"].to_numpy(), splices=facts["splices"].to_numpy(),
        step=10.0 ** -losses["decimals"].clip(lower=0).to_numpy(),
    )  # fmt: skip
    # what is rounded more coarsely tells nothing of so small a spread
    losses = losses[losses["step"] <= REPEATABILITY_DB / PART].reset_index(drop=True)
    if len(losses) < FEWEST:
        return []
    alike = ["tester", "type", "wavelength_nm", "direction", "matings", "splices"]
    of_cable = group_numbers(losses, [*alike, "cable"])
    of_tester = group_numbers(losses, alike)
    cables = _looked_at(losses, of_cable, losses["value"] - losses.groupby(of_cable)["value"].transform("median"))
    testers = _looked_at(losses, of_tester, _rest_of_lines(losses, of_tester), least_cables=2)
    looks = len(cables) + len(testers)
    hits = [one for one in [*cables, *testers] if one.chance < threshold(looks)]
    told: dict[tuple[str, bool], list[Group]] = {}
    seen: set[int] = set()
    for one in hits:
        links, several = set(one.rows["link"].tolist()), len(one.rows["cable"].unique()) > 1
        # a tester of which most cables are told already is not told again
        if several and len(links & seen) >= len(links) / 2:
            continue
        seen |= set() if several else links
        told.setdefault((str(one.rows["tester"].iloc[0]), several), []).append(one)
    expected = max((one.chance for one in hits), default=0.0) * looks
    return [_told(job, groups, (len(hits), expected, looks), lines=lines) for (_, lines), groups in told.items()]


def _looked_at(losses: pd.DataFrame, group: np.ndarray, rest: pd.Series, least_cables: int = 1) -> list[Group]:
    """Groups with losses enough, wild values drawn in; those that scatter as they should have no rows and chance 1."""
    from scipy.special import gammainc  # type: ignore[import-untyped]  # scipy brings no types

    size = np.bincount(group)
    middle = losses["value"].groupby(group).median().to_numpy()
    reach = MAD_TO_SIGMA * rest.abs().groupby(group).median().to_numpy()
    drawn = np.clip(rest.to_numpy(), *(way * (_WILD * reach + _HALF_STEP_DB)[group] for way in (-1, 1)))
    squares, freedom = np.bincount(group, drawn**2), np.maximum(size - 2, 1)
    spread = np.sqrt(squares / freedom)
    chance = gammainc(freedom / 2, squares / 2 / REPEATABILITY_DB**2)
    # losses near zero, or one and the same for all, are told as such
    distinct = losses["value"].groupby(group).nunique().to_numpy()
    cables = losses["cable"].groupby(group).nunique(dropna=False).to_numpy()
    low = (spread < REPEATABILITY_DB / PART) & (middle > NEAR_ZERO_DB) & (distinct > 1)
    found = []
    for number in np.flatnonzero((size >= FEWEST) & (cables >= least_cables)).tolist():
        rows = losses[group == number] if low[number] else losses.iloc[:0]
        found.append(Group(rows, float(spread[number]), float(chance[number]) if low[number] else 1.0))
    return found


def _rest_of_lines(losses: pd.DataFrame, group: np.ndarray) -> pd.Series:
    """What a line through the lengths leaves of the losses of each group; their median where lengths are missing."""
    rest = losses["value"] - losses.groupby(group)["value"].transform("median")
    known = losses["length_m"].notna()
    for _, rows in losses[known].groupby(group[known.to_numpy()]):
        if len(rows) >= FEWEST and len(rows["length_m"].unique()) > 1:
            rest.loc[rows.index] = rest_of_line(rows["length_m"].to_numpy(), rows["value"].to_numpy())
    return rest


def _told(job: Joined, groups: list[Group], looked: tuple[int, float, int], *, lines: bool) -> Finding:
    seen, expected, looks = looked
    rows = pd.concat([one.rows for one in groups])
    waves = " and ".join(f"{wave} nm" for wave in sorted(rows["wavelength_nm"].unique()))
    cables = rows["cable"].dropna().unique()
    of = f" of cable {cables[0]}" if len(cables) == 1 else f" of {len(cables)} cables" if len(cables) else ""
    tester = rows["tester"].iloc[0]
    by = f", tester {tester}," if isinstance(tester, str) and tester else ""
    widest = max(one.spread_db for one in groups)
    message = (
        f"{len(rows)} losses{of}{by} at {waves} scatter by {max(widest, 0.001):.3f} dB at the most about "
        f"{'a line through their lengths' if lines else 'the median of their cable'}, where one connector mated again "
        f"and again scatters by about {REPEATABILITY_DB} dB; "
        f"{chance_words(seen, expected, f'among {looks} groups of one tester, wavelength and direction')}"
    )
    evidence = [*chance_evidence(seen, expected), counted("standard deviation of the losses", widest, "dB")]
    places = job.of_readings(rows.sort_values(["wavelength_nm", "direction", "link"])["reading"].to_numpy())
    return finding("losses-too-smooth", message, job.labels(rows["link"]), evidence=[*evidence, *places])
