"""A planned link as lines of plain ASCII text: the sum as arithmetic, a bar of it, and a table of what to read."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator
from typing import Final

from analyzer.budget.planned import PlannedLink, PlannedReading, PlannedWavelength

BAR: Final = 60
"""Columns of the bar of decibels."""

CAUTIONS: Final = (
    "Never look into a fiber or a connector end: laser light is invisible and can injure the eye (IEC 60825 series).",
    "Fire rating of cable, separation from mains, bonding and earthing: local codes and licensed practice decide.",
    "A computed budget does not replace a calibrated test or the standard's own text.",
)
UNCONFIRMED: Final = (
    "* unconfirmed: a value recalled or derived, not yet compared with its document; "
    "`cableproof limits --unconfirmed` lists them."
)
MULTIMODE_LENGTH: Final = "On multimode an application may end at a shorter length than its power budget allows: its bandwidth decides as well."
PLUG_END: Final = (
    "A plug end is mated with the test cord in the reading; in service it meets the device, whose loss is its own."
)
EXPECTED: Final = (
    "Done well: the middle of such links lose no more than the first figure, 97 of 100 no more than the second, with "
    "the tester's own accuracy left aside."
)


def plan_lines(planned: PlannedLink, width: int = 100) -> list[str]:
    """The whole answer as lines of at most `width` columns (a table or a bar needs 72); ASCII only."""
    lines = [f"Plan: {link_words(planned)}", *_allowed_by(planned), ""]
    for each in planned.wavelengths:
        lines += [*_wavelength_lines(each, planned), ""]
    lines += ["Notes:", *(f"  {note}" for note in plan_notes(planned))]
    lines += ["", "Rests on:", *(f"  {source.row_id}  {source.text}" for source in planned.sources)]
    if not planned.confirmed:
        lines += ["", UNCONFIRMED]
    return [row for line in [*lines, "", *CAUTIONS] for row in _wrapped(_ascii(line), width)]


def _wrapped(line: str, width: int) -> list[str]:
    if len(line) <= width or "|" in line:
        return [line]
    indent = " " * (len(line) - len(line.lstrip()))
    return textwrap.wrap(
        line.strip(), width, initial_indent=indent, subsequent_indent=indent + "  ", break_long_words=False,
        break_on_hyphens=False,
    )  # fmt: skip


def link_words(planned: PlannedLink) -> str:
    """The planned link in one line."""
    ends = f", {planned.ends[0]} to {planned.ends[1]}" if planned.ends else ""
    arrays = f" ({planned.array_pairs} of them array)" if planned.array_pairs else ""
    plugs = f", {_counted(planned.plug_ends, 'plug end')}" if planned.plug_ends else ""
    return (
        f"{planned.fiber}, {planned.length_m:g} m{ends}: {_counted(planned.mated_pairs, 'mated pair')}{arrays}, "
        f"{_counted(planned.splices, 'splice')}{plugs}"
    )


def _allowed_by(planned: PlannedLink) -> Iterator[str]:
    service = planned.wavelengths[0].service
    edition = f"{service.standard} {service.edition}" if service.edition else "own figures alone"
    yield f"Allowed by {edition}"


def _wavelength_lines(each: PlannedWavelength, planned: PlannedLink) -> Iterator[str]:
    service = each.service
    mark = "" if service.confirmed else " *"
    other = f" + other {_db(service.other_db)}" if service.other_db else ""
    yield (
        f"{each.wavelength_nm} nm   cable {_db(service.cable_db)} + matings {_db(service.matings_db)} + splices "
        f"{_db(service.splices_db)}{other} = {_db(service.allowed_db)} dB allowed in service{mark}"
    )
    yield from _bar(each)
    yield from power_lines(each, planned)
    yield "  On the day the tester should read:"
    rows = [("reference", "matings in it", "at most", "done well", "97 of 100")]
    rows += [_reading_cells(reading, mark) for reading in each.readings if reading.budget is not None]
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row in rows:
        cells = [
            cell.ljust(width) if number == 0 else cell.rjust(width)
            for number, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield "    " + "   ".join(cells).rstrip()
    for reading in each.readings:
        if reading.budget is None:
            yield f"    {reading.reference}: {reading.problem}"


def _reading_cells(reading: PlannedReading, mark: str) -> tuple[str, str, str, str, str]:
    budget = reading.budget
    assert budget is not None
    if budget.expected_db is None:
        middle, line = "no source", "no source"
    else:
        middle = f"{_db(budget.expected_db)} dB"
        line = f"{_db(budget.expected_97_db)} dB" if budget.expected_97_db != budget.expected_db else "no spread"
    return reading.reference, str(budget.matings_in_reading), f"{_db(budget.allowed_db)} dB{mark}", middle, line


def _bar(each: PlannedWavelength) -> Iterator[str]:
    """The allowed loss as a bar of its parts, and below it where links done well lie."""
    service = each.service
    if service.allowed_db <= 0:
        return
    edges = [0.0]
    for part in (service.cable_db, service.matings_db, service.splices_db, service.other_db):
        edges.append(edges[-1] + part)
    places = [round(BAR * edge / service.allowed_db) for edge in edges]
    signs = "=#+."
    drawn = "".join(sign * (end - start) for sign, start, end in zip(signs, places, places[1:], strict=False))
    words = ["cable", "matings", "splices", "other"]
    key = ", ".join(f"{sign} {word}" for sign, word, a, b in zip(signs, words, edges, edges[1:], strict=False) if b > a)
    yield f"  0 |{drawn}| {_db(service.allowed_db)} dB   ({key})"
    if service.expected_db is None or service.expected_97_db is None:
        return
    middle = _place(service.expected_db, service.allowed_db)
    line = _place(service.expected_97_db, service.allowed_db)
    marks = [" "] * (BAR + 1)
    marks[middle], marks[line] = "m", "n"
    yield f"     {''.join(marks).rstrip()}"
    yield (
        f"  Done well it loses {_db(service.expected_db)} dB in the middle (m); 97 of 100 stay under "
        f"{_db(service.expected_97_db)} dB (n)"
    )


def _place(loss_db: float, allowed_db: float) -> int:
    """Column of a loss below the bar; what lies beyond the allowed loss stands at its end."""
    return min(BAR, round(BAR * loss_db / allowed_db))


def power_lines(each: PlannedWavelength, planned: PlannedLink) -> Iterator[str]:
    """What the power budget leaves, and the longest length and the most mated pairs that still fit it."""
    if planned.power_budget_db is None or each.power_margin_db is None:
        return
    budget = f"Power budget {_db(planned.power_budget_db)} dB"
    if each.power_margin_db >= 0:
        yield f"  {budget}: {_db(each.power_margin_db)} dB are left"
    else:
        yield f"  {budget}: EXCEEDED by {_db(-each.power_margin_db)} dB"
    longest, most = each.longest_length_m, each.most_mated_pairs
    if longest is None or math.isnan(longest):
        yield "  No length fits: connections and splices alone exceed it"
    elif math.isinf(longest):
        yield "  Any length fits: the cable is allowed no loss"
    else:
        yield f"  Longest with these connections and splices: {math.floor(longest + 1e-6)} m"
    if most is None or most < 0:
        yield "  No number of mated pairs fits at this length"
    else:
        yield f"  Most mated pairs at this length: {most}"


def plan_notes(planned: PlannedLink) -> list[str]:
    """What was chosen or assumed, and what the figures mean."""
    notes: list[str] = list(planned.notes)
    if any(each.service.expected_db is not None for each in planned.wavelengths):
        notes.append(EXPECTED)
    if planned.power_budget_db is not None and planned.fiber.startswith("OM"):
        notes.append(MULTIMODE_LENGTH)
    if planned.plug_ends:
        notes.append(PLUG_END)
    return notes


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _db(value: float | None) -> str:
    return "unknown" if value is None else f"{round(value, 2) + 0.0:.2f}"


def _ascii(line: str) -> str:
    return line.encode("ascii", errors="replace").decode("ascii")
