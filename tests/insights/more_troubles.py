"""Troubles that a whole simulated job is needed for, beside those of simulated_job.py: each planted in a job of its own.

`plant_in(clean job)` changes the finished rows the way worn tools or a person would, and returns the labels.
"""

from __future__ import annotations

import numpy as np
from simulated_job import ATTENUATION, Simulated, loss_columns


def leads_wear(made: Simulated) -> set[str]:
    """Test leads of T-12 lose 3 dB of return loss and NEXT from its first link to its last; told is the later half."""
    at = made.copper.index[made.copper["Tester"] == "T-12"]
    age = made.copper.loc[at, "when"].rank(pct=True)
    for name in made.copper:
        if name.startswith(("Return loss", "NEXT")):
            made.copper.loc[at, name] = np.round(made.copper.loc[at, name] - 3.0 * age, 1)
    return set(made.copper.loc[at[age > 0.5], "Label"])


def cord_wears(made: Simulated) -> set[str]:
    """The test cord of T-11 loses half a dB more with time: a level that rises, which the drift of references tells."""
    at = made.fiber.index[made.fiber["Tester"] == "T-11"]
    age = made.fiber.loc[at, "when"].rank(pct=True)
    for name in loss_columns(made.fiber):
        made.fiber.loc[at, name] = np.round(made.fiber.loc[at, name] + 0.5 * age, 2)
    return set(made.fiber.loc[at[age > 0.6], "Label"])


def worked_out(made: Simulated) -> set[str]:
    """Losses of one cable come from a formula, with a little noise on them."""
    at = made.fiber.index[made.fiber["Cable"] == "TB-118"]
    for name in loss_columns(made.fiber):
        there = at[made.fiber.loc[at, name].notna()]
        usual = made.fiber.loc[there, "Length (m)"] / 1000 * ATTENUATION[int(name.split()[1])] + 0.41
        made.fiber.loc[there, name] = np.round(usual + made.rng.normal(0, 0.008, len(there)), 2)
    return set(made.fiber.loc[at, "Label"])


MORE_TROUBLES = {
    "test leads wear": ("leads-worn", leads_wear),
    "a test cord wears": ("reference-drifted", cord_wears),
    "a cable worked out": ("losses-too-smooth", worked_out),
}
