"""The invented campus as plain data: its cables, the troubles planted in them, and what the simulation is made of.

The facts stand in `cables.csv`, `troubles.csv` and `parameters.toml` beside this file.
"""

from __future__ import annotations

import csv
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
WAVELENGTHS_NM = {"multimode": (850, 1300), "single_mode": (1310, 1550)}
SITE = "Lindenmark Campus (invented)"


@dataclass(frozen=True)
class Cable:
    """One row of the schedule. `length_m` is None where nobody knows it."""

    cable: str
    label_a: str
    place_a: str
    end_type_a: str
    label_b: str
    place_b: str
    end_type_b: str
    type: str
    construction: str
    strand_range: str
    strands: int
    length_m: float | None
    mated_pairs: int
    splices: int
    segment: str
    area: str

    @property
    def glass(self) -> str:
        return "single_mode" if self.type.startswith("OS") else "multimode"

    @property
    def wavelengths_nm(self) -> tuple[int, int]:
        return WAVELENGTHS_NM[self.glass]

    @property
    def cable_type(self) -> str:
        return f"{self.type} {self.construction}".strip()

    def link(self, strand: int) -> str:
        return f"{self.cable}-{strand:02d}"


@dataclass(frozen=True)
class Trouble:
    """What was planted on one strand; extra loss at the short and long wavelength, then and at the re-test [dB]."""

    link: str
    trouble: str
    extra_db: tuple[float, float]
    retest_db: tuple[float, float] | None
    cells: tuple[str, str]
    words: str


def _rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def cables(name: str = "cables.csv") -> dict[str, Cable]:
    """Every cable of the schedule by its label, in order."""
    found = {}
    for row in _rows(name):
        numbers: dict[str, Any] = {name: int(row[name]) for name in ("strands", "mated_pairs", "splices")}
        numbers["length_m"] = float(row["length_m"]) if row["length_m"] else None
        found[row["cable"]] = Cable(**(row | numbers))
    return found


def troubles() -> dict[str, Trouble]:
    """Every planted trouble by the label of its strand, in order."""
    found = {}
    for row in _rows("troubles.csv"):
        retest = (float(row["retest_short_db"]), float(row["retest_long_db"])) if row["retest_short_db"] else None
        found[row["link"]] = Trouble(
            link=row["link"],
            trouble=row["trouble"],
            extra_db=(float(row["extra_short_db"] or 0), float(row["extra_long_db"] or 0)),
            retest_db=retest,
            cells=(row["cell_short"], row["cell_long"]),
            words=row["words"],
        )
    return found


def parameters() -> dict[str, Any]:
    """The numbers that the simulation is made of."""
    return tomllib.loads((HERE / "parameters.toml").read_text(encoding="utf-8"))
