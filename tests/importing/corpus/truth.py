"""Forty invented fiber links: what was built, what was measured, and what the standard allows them.

The sum of the limit is done here again in decimal arithmetic: coefficient × length + mated pairs + splices, with the
allowances of ANSI/TIA-568.3-E (OM4 3.0 and 1.5 dB/km, OS2 outside plant 0.4 dB/km, 0.75 dB a mated pair, 0.3 dB a
splice) and a one-cord reference, so that every mated pair stands in the reading. Cables, places and crews are invented.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal
from functools import cache

SEED = 568
METERS_PER_FOOT = Decimal("0.3048")  # exact by definition, international yard and pound agreement of 1959
COEFFICIENT_DB_PER_KM = {850: Decimal("3.0"), 1300: Decimal("1.5"), 1310: Decimal("0.4"), 1550: Decimal("0.4")}
MATED_PAIR_DB = Decimal("0.75")
SPLICE_DB = Decimal("0.3")
DIRECTIONS = ("A-B", "B-A")
WAVELENGTHS_NM = {"OM4": (850, 1300), "OS2": (1310, 1550)}


@dataclass(frozen=True)
class Loss:
    """One measured loss; `bound` is "below" (less than value) or "over range" (no value)."""

    value_db: Decimal | None
    bound: str | None = None


@dataclass(frozen=True)
class FiberLink:
    """One strand with its facts and its losses by wavelength and direction."""

    label: str
    cable: str
    strand: int
    type: str
    construction: str | None
    length_m: Decimal
    mated_pairs: int
    splices: int
    tested_at: datetime
    tester: str
    operator: str
    place_a: str
    place_b: str
    losses: tuple[tuple[tuple[int, str], Loss], ...]
    reference: str = "one-cord"

    @property
    def wavelengths_nm(self):
        return WAVELENGTHS_NM[self.type]

    def loss(self, wavelength_nm, direction):
        return dict(self.losses)[wavelength_nm, direction]

    def limit_db(self, wavelength_nm):
        cable_db = COEFFICIENT_DB_PER_KM[wavelength_nm] * self.length_m / 1000
        return cable_db + self.mated_pairs * MATED_PAIR_DB + self.splices * SPLICE_DB

    def margin_db(self, wavelength_nm, direction):
        """Limit - loss; None for a loss over range."""
        value = self.loss(wavelength_nm, direction).value_db
        return None if value is None else self.limit_db(wavelength_nm) - value

    def passes(self, wavelength_nm, direction):
        margin = self.margin_db(wavelength_nm, direction)
        return margin is not None and margin >= 0

    @property
    def verdict(self):
        return "pass" if all(self.passes(*key) for key, _ in self.losses) else "fail"


@dataclass(frozen=True)
class _Trunk:
    cable: str
    strands: int
    type: str
    length_ft: int
    mated_pairs: int
    splices: int
    day: datetime
    tester: str
    operator: str
    place_a: str
    place_b: str


_TRUNKS = (
    _Trunk(
        "MX-01",
        12,
        "OM4",
        250,
        2,
        0,
        datetime.fromisoformat("2026-03-14 08:05"),
        "T-11",
        "crew K",
        "North rack",
        "Lobby rack",
    ),
    _Trunk(
        "MX-02",
        12,
        "OM4",
        500,
        2,
        2,
        datetime.fromisoformat("2026-03-27 13:20"),
        "T-11",
        "crew K",
        "North rack",
        "Loft rack",
    ),
    _Trunk(
        "KX-07",
        12,
        "OS2",
        6250,
        2,
        0,
        datetime.fromisoformat("2026-04-02 09:40"),
        "T-12",
        "crew L",
        "North rack",
        "Gate hut",
    ),
    _Trunk(
        "KX-08",
        4,
        "OS2",
        1000,
        3,
        2,
        datetime.fromisoformat("2026-04-03 10:15"),
        "T-12",
        "crew L",
        "Gate hut",
        "Quay hut",
    ),
)
_PLANTED = {
    # 0.4 × 1905 / 1000 + 2 × 0.75 = 2.262: a margin of exactly nothing
    ("KX-07", 6, 1310, "A-B"): Loss(Decimal("2.262")),
    # bends and dirt: above what is allowed
    ("MX-02", 5, 850, "A-B"): Loss(Decimal("2.71")),
    ("MX-02", 5, 850, "B-A"): Loss(Decimal("2.88")),
    ("MX-01", 9, 1300, "B-A"): Loss(Decimal("1.62")),
    ("KX-07", 11, 1550, "A-B"): Loss(Decimal("3.104")),
    # no light arrived
    ("KX-08", 3, 1550, "B-A"): Loss(None, "over range"),
}
_CABLE_AS_BUILT_DB_PER_KM = {850: 2.3, 1300: 0.6, 1310: 0.32, 1550: 0.19}


def _measured(rng, trunk, wavelength_nm):
    cable_db = _CABLE_AS_BUILT_DB_PER_KM[wavelength_nm] * float(trunk.length_ft * METERS_PER_FOOT) / 1000
    parts_db = trunk.mated_pairs * rng.uniform(0.12, 0.35) + trunk.splices * rng.uniform(0.03, 0.12)
    decimals = 2 if trunk.type == "OM4" else 3
    return Loss(Decimal(f"{cable_db + parts_db:.{decimals}f}"))


def _links_of(rng, trunk):
    for strand in range(1, trunk.strands + 1):
        losses = {}
        for wavelength in WAVELENGTHS_NM[trunk.type]:
            for direction in DIRECTIONS:
                usual = _measured(rng, trunk, wavelength)
                losses[wavelength, direction] = _PLANTED.get((trunk.cable, strand, wavelength, direction), usual)
        yield FiberLink(
            label=f"{trunk.cable}-{strand:02d}",
            cable=trunk.cable,
            strand=strand,
            type=trunk.type,
            construction="outside plant" if trunk.type == "OS2" else None,
            length_m=(trunk.length_ft * METERS_PER_FOOT).quantize(Decimal("0.01")),
            mated_pairs=trunk.mated_pairs,
            splices=trunk.splices,
            tested_at=trunk.day + timedelta(minutes=2 * strand),
            tester=trunk.tester,
            operator=trunk.operator,
            place_a=trunk.place_a,
            place_b=trunk.place_b,
            losses=tuple(losses.items()),
        )


@cache
def fiber_links():
    """The forty links, cable by cable; the same every time."""
    rng = random.Random(SEED)
    return tuple(link for trunk in _TRUNKS for link in _links_of(rng, trunk))


@cache
def fiber_links_with_bounds():
    """The same links, where the losses of each cable's first strand are only known to be below 0.95 dB."""
    return tuple(
        replace(link, losses=tuple((key, Loss(Decimal("0.95"), "below")) for key, _ in link.losses))
        if link.strand == 1
        else link
        for link in fiber_links()
    )


@cache
def cables():
    """Links by cable, in order."""
    groups = {}
    for link in fiber_links():
        groups.setdefault(link.cable, []).append(link)
    return groups
