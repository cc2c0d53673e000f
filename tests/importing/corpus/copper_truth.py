"""Sixteen invented permanent links of grade 6A: readings pair by pair, their worst, and four short sweeps.

Values follow the usual trend (insertion loss grows with the root of the frequency, crosstalk falls with its logarithm)
with seeded scatter; they are there to be read back, not to be judged. A limit is the value with its margin added or
taken off, so value, limit and margin of a row always agree to the last digit.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from functools import cache

from corpus.truth import METERS_PER_FOOT

SEED = 11801
PAIRS = ("1-2", "3-6", "4-5", "7-8")
COMBINATIONS = ("1-2/3-6", "1-2/4-5", "1-2/7-8", "3-6/4-5", "3-6/7-8", "4-5/7-8")
ENDS = ("A", "B")
CEILINGS = ("insertion loss", "propagation delay", "delay skew", "loop resistance")
"""Parameters whose limit must not be exceeded; all others are floors."""
UNITS = {"propagation delay": "ns", "delay skew": "ns", "loop resistance": "Ω"}
SWEEP_MHZ = tuple(
    Decimal(text) for text in ("1", "4", "8", "10", "16", "20", "62.5", "100", "200", "250", "400", "500")
)


@dataclass(frozen=True)
class Reading:
    """One value: limit and margin in its own unit, margin positive on the good side."""

    parameter: str
    pair: str | None
    end: str | None
    frequency_mhz: Decimal | None
    value: Decimal
    margin: Decimal | None = None

    @property
    def limit(self):
        if self.margin is None:
            return None
        return self.value + self.margin if self.parameter in CEILINGS else self.value - self.margin


@dataclass(frozen=True)
class CopperLink:
    """One cable of four pairs with its readings."""

    label: str
    length_m: Decimal
    wired_well: bool
    tested_at: datetime
    readings: tuple[Reading, ...]
    grade: str = "6A"

    @property
    def passes(self):
        return self.wired_well and all(reading.margin >= 0 for reading in self.readings)

    def of(self, parameter, pair=None, end=None):
        """The reading of a parameter, pair and end."""
        for reading in self.readings:
            if (reading.parameter, reading.pair, reading.end) == (parameter, pair, end):
                return reading
        raise KeyError((parameter, pair, end))


def _one_decimal(value):
    return Decimal(f"{value:.1f}")


def _typical(parameter, frequency):
    """Trend of a parameter [dB] at a frequency [MHz], for 60 m of cable or so."""
    if parameter == "insertion loss":
        return 1.2 * math.sqrt(frequency)
    start = {"NEXT": 84, "PSNEXT": 82, "ACR-F": 81, "PSACR-F": 78, "return loss": 40}[parameter]
    return start - (7 if parameter == "return loss" else 17) * math.log10(frequency)


KEYS = (
    *(("insertion loss", pair, None) for pair in PAIRS),
    *(("NEXT", pair, end) for end in ENDS for pair in COMBINATIONS),
    *(("PSNEXT", pair, end) for end in ENDS for pair in PAIRS),
    *(("ACR-F", pair, end) for end in ENDS for pair in COMBINATIONS),
    *(("PSACR-F", pair, end) for end in ENDS for pair in PAIRS),
    *(("return loss", pair, end) for end in ENDS for pair in PAIRS),
)
"""Parameters over frequency: parameter, pair, end."""


def _readings(rng, length_m, *, weak):
    made = []
    for parameter, pair, end in KEYS:
        frequency = Decimal(500) if parameter == "insertion loss" else Decimal(f"{rng.uniform(2, 490):.2f}")
        value = _one_decimal(_typical(parameter, float(frequency)) + rng.uniform(-2, 2))
        margin = _one_decimal(rng.uniform(0.6, 9))
        if weak and (parameter, pair, end) == ("NEXT", "3-6/4-5", "B"):
            margin = Decimal("-1.3")
        made.append(Reading(parameter, pair, end, frequency, value, margin))
    delays = [Decimal(round(float(length_m) * 4.9 + rng.uniform(0, 20))) for _ in PAIRS]
    for pair, delay in zip(PAIRS, delays, strict=True):
        made.append(Reading("propagation delay", pair, None, None, delay, Decimal(498) - delay))
    skew = max(delays) - min(delays)
    made.append(Reading("delay skew", None, None, None, skew, Decimal(44) - skew))
    for pair in PAIRS:
        ohm = _one_decimal(float(length_m) * 0.17 + rng.uniform(0, 1))
        made.append(Reading("loop resistance", pair, None, None, ohm, Decimal("21.0") - ohm))
    return tuple(made)


@cache
def copper_links():
    """The sixteen links; one fails its crosstalk, one is wired wrongly."""
    rng = random.Random(SEED)
    made = []
    for number in range(1, 17):
        length_m = (rng.randrange(40, 290) * METERS_PER_FOOT).quantize(Decimal("0.0001"))
        made.append(
            CopperLink(
                label=f"HD-2{number:02d}",
                length_m=length_m,
                wired_well=number != 13,
                tested_at=datetime.fromisoformat("2026-05-21 09:00") + timedelta(minutes=3 * number),
                readings=_readings(rng, length_m, weak=number == 6),
            )
        )
    return tuple(made)


def pair_by_pair(link):
    """Every reading of the link."""
    return link.readings


def worst_of_each_end(link):
    """For each parameter and end the reading of least margin, with its pair."""
    least = {}
    for reading in link.readings:
        key = reading.parameter, reading.end
        if key not in least or reading.margin < least[key].margin:
            least[key] = reading
    return tuple(least.values())


def over_frequency_only(link):
    """The readings that depend on frequency."""
    return tuple(reading for reading in link.readings if reading.frequency_mhz is not None)


@cache
def sweep(label):
    """Readings of a link at each frequency of the sweep, as {(parameter, pair, end): [Reading, ...]}."""
    rng = random.Random(f"{SEED} {label}")
    curves = {}
    for parameter, pair, end in KEYS:
        offset = rng.uniform(-2, 2)
        curves[parameter, pair, end] = [
            Reading(
                parameter,
                pair,
                end,
                mhz,
                Decimal(f"{_typical(parameter, float(mhz)) + offset + rng.uniform(-0.4, 0.4):.2f}"),
            )
            for mhz in SWEEP_MHZ
        ]
    return curves
