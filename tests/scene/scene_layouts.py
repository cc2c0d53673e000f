"""Exports as imaginary crews would make them. Each function turns readings into the bytes or the sheets of one file.

The headings are words of the trade, put together for this scene; no layout is taken from any tester or program.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import xlsxwriter
from scene_campus import SITE, Cable
from scene_pairs import PairLink
from scene_physics import Shot

Row = Sequence[Any]
MADE_ON = datetime(2026, 10, 5, 8, 0, 0)  # noqa: DTZ001 - a workbook's creation date has no zone


def by_strand(shots: Iterable[Shot]) -> list[list[Shot]]:
    """Readings of each strand together, in order."""
    found: dict[str, list[Shot]] = {}
    for shot in shots:
        found.setdefault(shot.label, []).append(shot)
    return list(found.values())


def number(value: float, decimals: int, mark: str = ".") -> str:
    return f"{value:.{decimals}f}".replace(".", mark)


def loss_text(shot: Shot, decimals: int, mark: str = ".") -> str:
    """The loss as printed: a number, or the tester's word where there is none."""
    return shot.cell.replace(".", mark) or number(shot.loss_db, decimals, mark)


def loose_limit_db(cable: Cable, shot: Shot) -> float:
    """Limit that a crew had loaded: 1.0 dB/km for single-mode, looser than what was ordered."""
    return 1.0 * shot.length_m / 1000 + 0.75 * cable.mated_pairs + 0.3 * cable.splices


def text_table(rows: Iterable[Row], delimiter: str, encoding: str) -> bytes:
    lines = io.StringIO(newline="")
    csv.writer(lines, delimiter=delimiter, lineterminator="\r\n").writerows(rows)
    return lines.getvalue().encode(encoding)


def wide_csv(shots: list[Shot], *, construction: bool = True) -> bytes:
    """One row per strand, both directions, comma; nothing before the headings."""
    first = shots[0].cable
    words = [f"Loss {nm} nm {a} to {b} (dB)" for nm in first.wavelengths_nm for a, b in ("AB", "BA")]
    head = ["Strand label", "Room end A", "Room end B", "Fiber type", "Length (m)", "Mated pairs", "Splices"]
    rows: list[Row] = [[*head, "Reference method", *words, "Tested at", "Tester", "Operator"]]
    for strand in by_strand(shots):
        one, cable = strand[0], strand[0].cable
        kind = cable.cable_type if construction else cable.type
        facts = [one.label, cable.place_a, cable.place_b, kind, number(one.length_m, 1), cable.mated_pairs]
        losses = [loss_text(shot, 2) for shot in strand]
        rows.append([*facts, cable.splices, "one-cord", *losses, f"{one.tested_at:%Y-%m-%d %H:%M}", "T-01", "crew A"])
    return text_table(rows, ",", "utf-8")


def german_csv(shots: list[Shot]) -> bytes:
    """Semicolons, decimal commas, code page 1252, German headings; the crew's own limit and verdict beside each value."""
    nm = shots[0].cable.wavelengths_nm
    rows: list[Row] = [
        ["Bezeichnung", "Länge (m)", f"Dämpfung {nm[0]} nm (dB)", f"Grenzwert {nm[0]} nm (dB)", f"Dämpfung {nm[1]} nm (dB)",
         f"Grenzwert {nm[1]} nm (dB)", "Bewertung", "Referenz", "Prüfdatum", "Uhrzeit", "Messgerät", "Prüfer"],
    ]  # fmt: skip
    for strand in by_strand(shots):
        one = strand[0]
        limit_db = loose_limit_db(one.cable, one)
        good = all(shot.loss_db <= limit_db for shot in strand)
        cells = [text for shot in strand for text in (loss_text(shot, 2, ","), number(limit_db, 2, ","))]
        verdict = "bestanden" if good else "nicht bestanden"
        when = [f"{one.tested_at:%d.%m.%Y}", f"{one.tested_at:%H:%M}"]
        rows.append([one.label, number(one.length_m, 1, ","), *cells, verdict, "1-Kabel", *when, "T-02", "Trupp D"])
    return text_table(rows, ";", "cp1252")


def long_csv(shots: list[Shot]) -> bytes:
    """One row per reading; cable and strand in columns of their own."""
    head = ["Cable", "Strand", "Fiber type", "Length (m)", "Reference", "Wavelength (nm)", "Direction", "Loss (dB)"]
    rows: list[Row] = [[*head, "Status", "Date", "Time", "Tester"]]
    for shot in shots:
        facts = [shot.cable.cable, shot.strand, shot.cable.cable_type, number(shot.length_m, 1), "one-cord"]
        reading = [shot.wavelength_nm, shot.direction, loss_text(shot, 3), "FAIL" if shot.cell == "OL" else "PASS"]
        rows.append([*facts, *reading, f"{shot.tested_at:%Y-%m-%d}", f"{shot.tested_at:%H:%M:%S}", "T-03"])
    return text_table(rows, ",", "utf-8")


def labeled_long_csv(shots: list[Shot]) -> bytes:
    """One row per reading, the strand's label whole; month before day."""
    rows: list[Row] = [["Link", "Type", "Length m", "Wavelength", "Direction", "Loss", "Reference", "Tested on"]]
    for shot in shots:
        facts = [shot.label, shot.cable.type, number(shot.length_m, 1), f"{shot.wavelength_nm} nm", shot.direction]
        when = f"{shot.tested_at:%m/%d/%Y %H:%M}"
        rows.append([*facts, f"{loss_text(shot, 2)} dB", "one-cord", when])
    return text_table(rows, ",", "utf-8")


def units_tsv(shots: list[Shot]) -> bytes:
    """Tabs, a units row under the headings, the unit in each cell too, decimal commas."""
    nm = shots[0].cable.wavelengths_nm
    head = ["Cable", "Fiber no.", "Length", f"Attenuation {nm[0]} nm", f"Attenuation {nm[1]} nm", "Test date"]
    rows: list[Row] = [[*head, "Reference"], ["", "", "m", "dB", "dB", "", ""]]
    for strand in by_strand(shots):
        one = strand[0]
        losses = [f"{loss_text(shot, 2, ',')} dB" for shot in strand]
        facts = [one.cable.cable, one.strand, f"{number(one.length_m, 1, ',')} m"]
        rows.append([*facts, *losses, f"{one.tested_at:%Y-%m-%d %H:%M}", "one-cord"])
    return text_table(rows, "\t", "utf-8-sig")


def unicode_text(shots: list[Shot]) -> bytes:
    """Tabs in UTF-16, as spreadsheets save "Unicode text"."""
    rows: list[Row] = [["Link ID", "Type", "Length [m]", "850 nm [dB]", "1300 nm [dB]", "Reference", "Tested at"]]
    for strand in by_strand(shots):
        one = strand[0]
        losses = [loss_text(shot, 2) for shot in strand]
        when = f"{one.tested_at:%Y-%m-%d %H:%M}"
        rows.append([one.label, one.cable.type, number(one.length_m, 1), *losses, "one-cord", when])
    return text_table(rows, "\t", "utf-16")


def bare_csv(shots: list[Shot]) -> bytes:
    """Label and losses; neither length nor reference."""
    nm = shots[0].cable.wavelengths_nm
    rows: list[Row] = [["Fiber", f"IL {nm[0]} (dB)", f"IL {nm[1]} (dB)", "Tested at"]]
    for strand in by_strand(shots):
        losses = [loss_text(shot, 2) for shot in strand]
        rows.append([strand[0].label, *losses, f"{strand[0].tested_at:%Y-%m-%d %H:%M}"])
    return text_table(rows, ",", "utf-8")


def titled_csv(shots: list[Shot]) -> bytes:
    """Title lines before the headings, notes after the table, pipes between the cells."""
    nm = shots[0].cable.wavelengths_nm
    head = ["Link", "From", "To", "Length (m)", f"{nm[0]} nm loss (dB)", f"{nm[1]} nm loss (dB)", "Reference", "Date"]
    rows: list[Row] = [[f"Fiber loss results, {SITE}"], ["crew E, tester T-05"], [], head]
    for strand in by_strand(shots):
        one = strand[0]
        losses = [loss_text(shot, 2) for shot in strand]
        facts = [one.label, one.cable.place_a, one.cable.place_b, number(one.length_m, 1)]
        rows.append([*facts, *losses, "one-cord", f"{one.tested_at:%Y-%m-%d %H:%M}"])
    rows += [[], ["Note: the launch cord was changed after strand 08"], ["End of list"]]
    return text_table(rows, "|", "utf-8")


def new_workbook(path: Path) -> xlsxwriter.Workbook:
    workbook = xlsxwriter.Workbook(path, {"in_memory": True})
    workbook.set_properties({"author": "sample scene", "comments": "invented results", "created": MADE_ON})
    return workbook


def two_level_xlsx(path: Path, shots: list[Shot], decimals: int = 3) -> None:
    """Title lines, wavelength merged over direction, an average row and notes after the table."""
    workbook = new_workbook(path)
    sheet = workbook.add_worksheet("Loss results")
    bold, loss = workbook.add_format({"bold": True}), workbook.add_format({"num_format": "0." + "0" * decimals})
    length, when = workbook.add_format({"num_format": "0.0"}), workbook.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    sheet.write(0, 0, f"Loss results, {SITE}", bold)
    sheet.write(1, 0, "crew B, tester T-04")
    for column, word in enumerate(["Link", "Fiber type", "Length (m)"]):
        sheet.merge_range(3, column, 4, column, word, bold)
    for at, nm in enumerate(shots[0].cable.wavelengths_nm):
        sheet.merge_range(3, 3 + 2 * at, 3, 4 + 2 * at, f"Loss {nm} nm (dB)", bold)
        sheet.write_row(4, 3 + 2 * at, ["A-B", "B-A"], bold)
    for column, word in enumerate(["Reference", "Tested at"], start=7):
        sheet.merge_range(3, column, 4, column, word, bold)
    strands = by_strand(shots)
    for row, strand in enumerate(strands, start=5):
        one = strand[0]
        sheet.write_row(row, 0, [one.label, one.cable.type])
        sheet.write_number(row, 2, one.length_m, length)
        for column, shot in enumerate(strand, start=3):
            sheet.write_number(row, column, shot.loss_db, loss)
        sheet.write(row, 7, "one-cord")
        sheet.write_datetime(row, 8, one.tested_at, when)
    last = 5 + len(strands)
    sheet.write(last, 0, "Average", bold)
    for column in range(3, 7):
        mean_db = sum(strand[column - 3].loss_db for strand in strands) / len(strands)
        sheet.write_number(last, column, round(mean_db, decimals), loss)
    sheet.write(last + 2, 0, "Notes: end faces were inspected before the test. All values are invented.")
    workbook.close()


def long_xlsx(path: Path, shots: list[Shot]) -> None:
    """A cover sheet, and one row per reading on the second sheet."""
    workbook = new_workbook(path)
    cover, sheet = workbook.add_worksheet("Cover"), workbook.add_worksheet("Readings")
    cover.write_column(0, 0, [f"Fiber loss results, {SITE}", "crew C", "The readings stand on the next sheet."])
    bold, loss = workbook.add_format({"bold": True}), workbook.add_format({"num_format": "0.00"})
    day, clock = workbook.add_format({"num_format": "yyyy-mm-dd"}), workbook.add_format({"num_format": "hh:mm"})
    head = ["Link", "Fiber type", "Length (m)", "Mated pairs", "Reference", "Wavelength (nm)", "Loss (dB)", "Result"]
    sheet.write_row(0, 0, [*head, "Date", "Time"], bold)
    for row, shot in enumerate(shots, start=1):
        cable = shot.cable
        sheet.write_row(row, 0, [shot.label, cable.type, shot.length_m, cable.mated_pairs, "one-cord"])
        sheet.write_number(row, 5, shot.wavelength_nm)
        sheet.write_number(row, 6, shot.loss_db, loss)
        sheet.write(row, 7, "Pass")
        sheet.write_datetime(row, 8, shot.tested_at.date(), day)
        sheet.write_datetime(row, 9, shot.tested_at.time(), clock)
    workbook.close()


SCHEDULE_HEADINGS: dict[str, str] = {
    "Cable": "cable", "Label end A": "label_a", "Place end A": "place_a", "End type A": "end_type_a",
    "Label end B": "label_b", "Place end B": "place_b", "End type B": "end_type_b", "Medium": "medium",
    "Fiber type": "type", "Construction": "construction", "Strands": "strand_text", "Length (m)": "length_m",
    "Mated pairs": "mated_pairs", "Splices": "splices", "Segment": "segment", "Area": "area", "Grade": "grade",
    "Configuration": "configuration",
}  # fmt: skip


def schedule_xlsx(path: Path, cables: Iterable[Cable | PairLink]) -> None:
    """The cable schedule: a title line, then one row per cable; a link of twisted pair is a cable of its own."""
    workbook = new_workbook(path)
    sheet = workbook.add_worksheet("Cables")
    bold = workbook.add_format({"bold": True})
    sheet.write(0, 0, f"Cable schedule, {SITE}", bold)
    sheet.write_row(2, 0, list(SCHEDULE_HEADINGS), bold)
    for row, cable in enumerate(cables, start=3):
        for column, name in enumerate(SCHEDULE_HEADINGS.values()):
            value = scheduled(cable).get(name)
            if value not in (None, ""):
                sheet.write(row, column, value)
    workbook.close()


def scheduled(cable: Cable | PairLink) -> dict[str, Any]:
    """What the schedule says of a cable: of a fiber trunk no grade, of twisted pair neither strands nor length."""
    if isinstance(cable, Cable):
        count = int(cable.strand_range) if cable.strand_range.isdigit() else cable.strand_range
        return vars(cable) | {"medium": "fiber", "strand_text": count}
    facts = {key: value for key, value in vars(cable).items() if key != "length_m"}
    return facts | {"cable": cable.label, "medium": "twisted pair"}
