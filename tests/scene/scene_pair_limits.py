"""Limits of permanent links by TIA-568.2-D, written down once more by hand: the product's own tables are not used.

Recalled by the author of this scene and not read in the document, as the product's own rows are; f is in MHz and all
limits are in dB, but for delay and skew [ns]. Insertion loss of 6A is in doubt between two recollections; the stricter
one stands here, and every link of the scene meets it with room to spare at the frequencies where the two differ.
"""

from __future__ import annotations

from typing import Any

import numpy as np

TOP_MHZ = {"5e": 100.0, "6": 250.0, "6A": 500.0}
CEILINGS = ("insertion loss", "propagation delay", "delay skew")
CAP_DB = {("NEXT", "5e"): 60, ("PSNEXT", "5e"): 57, ("NEXT", "6"): 65, ("PSNEXT", "6"): 62}


def voltage_sum(*levels_db: Any) -> Any:
    """Several crosstalk paths that add in phase [dB]."""
    return -20 * np.log10(sum(10 ** (-level_db / 20) for level_db in levels_db))


def insertion_loss(grade: str, f: Any) -> Any:
    """90 m of cable and three connections."""
    root, linear, inverse = {"5e": (1.967, 0.023, 0.05), "6": (1.808, 0.017, 0.2), "6A": (1.82, 0.0091, 0.25)}[grade]
    connection = 0.04 if grade == "5e" else 0.02
    deviation = 0.00015 * f**1.5 if grade == "6" else 0.0
    return 0.9 * (root * np.sqrt(f) + linear * f + inverse / np.sqrt(f)) + 3 * connection * np.sqrt(f) + deviation


def near_end(parameter: str, grade: str, f: Any) -> Any:
    """NEXT and PSNEXT: cable and one connection, with a cap; 6A above 300 MHz by a line of its own."""
    single = parameter == "NEXT"
    old = grade == "5e"
    cable = (35.3 if single else 32.3) if old else (44.3 if single else 42.3)
    connection = (43 if single else 40) if old else (54 if single else 50)
    decades = np.log10(f / 100)
    limit = voltage_sum(cable - 15 * decades, connection - 20 * decades)
    if grade == "6A":
        line = 34 - 33.13 * np.log10(f / 300) if single else 31.4 - 34.44 * np.log10(f / 300)
        limit = np.where(f > 300, line, limit)
    return np.minimum(limit, CAP_DB[parameter, "5e" if old else "6"])


def far_end(parameter: str, grade: str, f: Any) -> Any:
    """ACR-F and PSACR-F: cable and three connections."""
    less = 0 if parameter == "ACR-F" else 3
    cable, connection = (23.8, 35.1) if grade == "5e" else (27.8, 43.1)
    decades = np.log10(f / 100)
    return voltage_sum(cable - less - 20 * decades, *[connection - less - 20 * decades] * 3)


def return_loss(grade: str, f: Any) -> Any:
    if grade == "5e":
        return np.where(f <= 20, 19.0, 19 - 10 * np.log10(f / 20))
    pieces = [21 + 4 * np.log10(f / 3), np.full_like(f, 21.0), 26 - 5 * np.log10(f), 34 - 10 * np.log10(f)]
    limit = np.select([f < 3, f < 10, f < 40], pieces[:3], pieces[3])
    return np.where(f >= 398.1, 8.0, limit) if grade == "6A" else limit


def limit(parameter: str, grade: str, f_mhz: Any) -> Any:
    """Limit of a permanent link; frequencies beyond the grade's highest give NaN."""
    f = np.asarray(f_mhz, dtype=float)
    if parameter == "insertion loss":
        value = insertion_loss(grade, f)
    elif parameter in {"NEXT", "PSNEXT"}:
        value = near_end(parameter, grade, f)
    elif parameter in {"ACR-F", "PSACR-F"}:
        value = far_end(parameter, grade, f)
    elif parameter == "return loss":
        value = return_loss(grade, f)
    elif parameter == "propagation delay":
        value = 0.9 * (534 + 36 / np.sqrt(f)) + 3 * 2.5
    else:
        value = np.full_like(f, 44.0)
    return np.where(f <= TOP_MHZ[grade] * (1 + 1e-6), value, np.nan)


def margin(parameter: str, grade: str, f_mhz: Any, value: Any) -> Any:
    """Distance to the limit, positive on the good side."""
    sign = 1 if parameter in CEILINGS else -1
    return sign * (limit(parameter, grade, f_mhz) - value)
