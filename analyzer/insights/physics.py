"""What no link can do: lose less than the glass of its own length must.

Scattering of silica falls with the fourth power of wavelength and is never less than A / wavelength^4 with A about
0.7 dB/km.um^4 (cause_numbers.csv): 1.34 dB/km at 850 nm, 0.24 at 1310 nm, 0.12 at 1550 nm. A reading below that, for the
length that is stated, has a bad reference or a wrong length behind it. Cords that the reference took away may hide a
little of it, so that much is left to the reading.
"""

from __future__ import annotations

import numpy as np

from analyzer.budget.wording import printed
from analyzer.insights.joined import Joined, counted
from analyzer.insights.register import finding
from analyzer.insights.signs_fiber import numbers
from analyzer.schema import Analysis, Finding

_FURTHER_CORDS = {"one-cord": 0, "two-cord": 1, "three-cord": 2}


def least_attenuation_db_per_km(wavelength_nm: np.ndarray) -> np.ndarray:
    """What silica fiber loses at the least [dB/km]: A / wavelength^4, wavelength in micrometers."""
    return np.asarray(numbers()["rayleigh_floor"] / (wavelength_nm / 1000.0) ** 4)


def below_the_fiber(analysis: Analysis) -> list[Finding]:
    """Losses below what the cable itself must lose at the length of its record."""
    readings, judged, facts = analysis.readings, analysis.judged, analysis.facts
    use = (
        (readings["parameter"] == "loss") & judged["in_force"] & readings["bound"].isna() & readings["value"].notna()
    ).to_numpy()
    record = readings["record"].to_numpy()[use]
    wave = readings["wavelength_nm"].to_numpy()[use].astype(float)
    length_m = facts["length_m"].to_numpy()[record]
    cords = facts["reference"].astype("object").map(_FURTHER_CORDS).fillna(0).to_numpy(dtype=float)[record]
    slack = numbers()["floor_slack_db"] + numbers()["floor_slack_per_cord_db"] * cords
    slack = slack + np.nan_to_num(facts["accuracy_db"].to_numpy()[record])
    value = readings["value"].to_numpy()[use]
    with np.errstate(invalid="ignore", divide="ignore"):
        least = least_attenuation_db_per_km(np.where(wave > 0, wave, np.nan)) * length_m / 1000
        hit = (value < least - slack - 1e-9) & (value > -slack)  # a loss below zero is told as such
    if not hit.any():
        return []
    worst = int(np.flatnonzero(hit)[np.argmin((value - least)[hit])])
    links = analysis.records["link"].to_numpy()[record]
    labels = analysis.links["label"].take(np.unique(links[hit]))
    measured, floor = printed(np.array([value[worst], least[worst]]))
    count = "1 reading lies" if hit.sum() == 1 else f"{hit.sum()} readings lie"
    text = (
        f"{count} below what the glass itself must lose, most {analysis.links['label'].iloc[links[worst]]} at "
        f"{wave[worst]:.0f} nm: {measured} dB over {length_m[worst]:.0f} m, at least {floor} dB"
    )
    lowest = np.flatnonzero(hit)[np.argsort((value - least)[hit], kind="stable")]
    evidence = [
        *Joined(analysis).of_readings(np.flatnonzero(use)[lowest][:6]),
        counted(f"least that {length_m[worst]:.0f} m of glass lose at {wave[worst]:.0f} nm", float(least[worst]), "dB"),
    ]
    return [finding("below-the-fiber", text, labels, evidence=evidence)]
