"""What a column was taken for, in words: one place for the command `columns` and for the page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analyzer.report.wording import reading_name

if TYPE_CHECKING:
    from analyzer.importing.columns import Use

READING_ROLES = frozenset({"value", "limit", "margin", "verdict", "frequency"})
IN_WORDS = {
    "label": "label of the link", "cable": "cable", "strand": "strand of the cable", "strands": "strands of the cable",
    "type": "fiber type", "length": "length", "reference": "reference method", "tested at": "date and time of the test",
    "date": "date of the test", "time": "time of the test", "calibrated on": "date of calibration",
    "limit name": "name of the limit that was loaded", "software version": "version of the tester's software",
    "firmware version": "version of the tester's firmware", "project": "name of the project",
    "limit table version": "version of the tester's limit tables", "note": "note, not used", "end A label": "label at end A",
    "end B label": "label at end B", "wavelength": "wavelength of the row", "direction": "direction of the row",
    "end": "end that the row was measured from", "pair": "pair of the row", "parameter": "what the row measures",
    "unit": "unit of the row", "record number": "the tester's record number", "edition": "edition of the standard",
    "accuracy": "measurement accuracy", "reference power": "reference power", "place A": "place of end A",
    "place B": "place of end B", "event number": "number of the event", "event position": "distance of the event",
    "event kind": "kind of event", "event loss": "loss of the event", "event reflectance": "reflectance of the event",
    "event cumulative loss": "loss up to the event",
}  # fmt: skip
"""Roles as a person at the rack would say them; roles not named here are words of the trade already."""


def taken_for(use: Use) -> str:
    """What a column was taken for: `loss at 1550 nm A-B in dB`, `length in m`; empty where it is ignored."""
    if use.role == "ignored":
        return ""
    unit = f" in {use.unit}" if use.unit else ""
    if use.role == "end types":
        return f"what end {use.end} is" if use.end else "what the ends are"
    if use.role not in READING_ROLES:
        return IN_WORDS.get(use.role, use.role) + (unit or (", no unit stated" if use.role == "length" else ""))
    known = use.parameter != ""
    pair, end, direction = (text or None for text in (use.pair, use.end, use.direction))
    name = reading_name(use.parameter if known else use.role, use.wavelength_nm, pair, end, direction)
    name += f" at {use.frequency_mhz:g} MHz" if use.frequency_mhz > 0 else ""
    if not known and use.role == "verdict":
        return f"{name} that the export declares"
    return f"{name}, {use.role}{unit}" if known and use.role != "value" else f"{name}{unit}"
