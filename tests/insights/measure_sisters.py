"""How much dirt on one strand is told: strands of honest connectors with one dirty one, told or not, many times.

`PYTHONPATH=. python tests/insights/measure_sisters.py [REPEATS]` prints the share of runs in which the dirty strand was
told, and how many honest ones were told in each. The figures of docs/verdicts.md come from it.
"""

from __future__ import annotations

import sys

import numpy as np
import pandas as pd

from analyzer.insights.chances import stands_out
from analyzer.insights.workmanship import with_chances

STRANDS = 24
CONNECTORS = {
    "alike (0.10, 97 % 0.16)": (0.096, 0.28),
    "grade B (0.12, 0.23)": (0.112, 0.39),
    "rough (0.18, 0.41)": (0.16, 0.5),
}
"""Median and shape of a log-normal distribution."""


def losses(rng: np.random.Generator, cables: int, median: float, shape: float, dirt_db: float) -> pd.DataFrame:
    """Two connections a strand, two wavelengths, two directions; strand 4 of the first cable is dirty."""
    n = np.arange(cables * STRANDS)
    ends = rng.lognormal(np.log(median), shape, (len(n), 2)).sum(axis=1)
    ends[3] += dirt_db
    return pd.concat(
        [
            pd.DataFrame(
                {
                    "link": n, "cable": n // STRANDS, "type": "OM4", "wavelength_nm": wave, "direction": way,
                    "value": np.round(share * (0.3 + ends) + rng.normal(0, 0.02, len(n)), 2),
                }
            )
            for wave, share in ((850, 1.0), (1300, 0.85)) for way in (0, 1)
        ],
        ignore_index=True,
    )  # fmt: skip


def main(repeats: int) -> None:
    rng = np.random.default_rng(41)
    for name, connector in CONNECTORS.items():
        for cables in (1, 6, 72):
            shares = []
            for dirt_db in (0.0, 0.3, 0.4, 0.5, 0.7, 1.0):
                hits = honest = 0
                for _ in range(repeats):
                    table = with_chances(losses(rng, cables, *connector, dirt_db), 6)
                    each = table.sort_values(["link", "p"]).drop_duplicates("link")
                    told = set(each["link"].to_numpy()[stands_out(each["p"].to_numpy())])
                    hits, honest = hits + (3 in told), honest + len(told - {3})
                shares.append(f"+{dirt_db} dB {hits / repeats:.0%} ({honest / repeats:.2f})")
            print(f"{name}, {cables * STRANDS} strands: {', '.join(shares)}", flush=True)  # noqa: T201


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
