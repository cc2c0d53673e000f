"""A value row in words, and whether it still waits for somebody who holds the document."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from analyzer.standards.tables import TABLES, Row

HOW_KNOWN_WORDS: Final = {
    "read": "read in the document",
    "secondary": "restated by a public document",
    "derived": "derived from other rows",
    "memory": "recalled",
    "own": "own figure",
}


def is_unconfirmed(row: Row, confirmed: Collection[str] = ()) -> bool:
    """Recalled or derived, and not in `confirmed` (row ids that somebody checked against the document)."""
    return row["how_known"] in {"memory", "derived"} and row["row_id"] not in confirmed


def subject(row: Row) -> str:
    """What the row is about: "OM4, 850 nm", "mated pair, multimode"."""
    if "expression" in row and "grade" in row:
        return _line_subject(row)
    if "rule" in row:
        return f"decision rule {row['rule']}"
    if "mean_db" in row:
        grade = f"grade {row['grade']}" if row["component"] == "mated pair" else row["grade"]
        return f"{row['component']}, {row['medium']}, {grade}"
    if "types" in row:
        words = [" ".join(row["types"].split()), row.get("construction"), f"{row['wavelength_nm']} nm"]
    elif "fiber" in row:
        words = [row["fiber"], row["variant"], row["kind"], f"{row['wavelength_nm']} nm"]
    else:
        words = [
            "return loss" if "min_return_loss_db" in row else None,
            row.get("what") or row["component"],
            row["medium"],
        ]
    if row.get("percentile") not in {None, "100"}:
        words.append(f"{row['percentile']} %" if row["percentile"].isdecimal() else row["percentile"])
    return ", ".join(word for word in words if word)


def value_text(row: Row, frequency_mhz: float | None = None) -> str:
    """The value with its unit, said to be a ceiling or a floor; "not known" where it is empty.

    An equation of twisted pair is written out; with a frequency [MHz] the number it gives there stands before it.
    """
    if "expression" in row and "grade" in row:
        return _line_text(row, frequency_mhz)
    table = next(table for table in TABLES.values() if table.prefix == row["row_id"].partition("-")[0])
    if "rule" in row:
        return f"pass from {row['accept_guard']:g} U, fail below {0 - row['reject_guard']:g} U; {row['risk']}"
    if "mean_db" in row:
        return f"mean {row['mean_db']:g} dB, 97 % {row['q97_db']:g} dB"
    if "typical_db_per_km" in row:
        return f"typically {row['typical_db_per_km']:g} dB/km"
    number = row[table.value or table.numbers[0]]
    if number is None:
        return "not known"
    word = {"FA": "at most ", "FC": "at most ", "RL": "at least "}.get(table.prefix, "")
    return f"{word}{number} {table.unit}".rstrip()


def _line_subject(row: Row) -> str:
    """Like "6A permanent link NEXT, 300 to 500 MHz, candidate a"; a d.c. limit names no frequency."""
    words: list[str | None] = [f"{row['grade']} {row['configuration']} {row['parameter']}"]
    if row["freq_max_mhz"]:
        words.append(f"{row['freq_min_mhz']:g} to {row['freq_max_mhz']:g} MHz")
    words += [row["condition"], row["holds_for"], f"candidate {row['candidate']}" if row["candidate"] else None]
    return ", ".join(word for word in words if word)


def _line_text(row: Row, frequency_mhz: float | None) -> str:
    """The equation, said to be a ceiling or a floor, and where it stops."""
    side = "at most" if row["sense"] == "max" else "at least"
    if frequency_mhz is not None:
        from analyzer.standards.lines import piece_at

        number = piece_at(row, frequency_mhz)
        return f"{side} {number:.2f} {row['unit']} at {frequency_mhz:g} MHz = {row['expression']}"
    text = f"{side} {row['expression']} {row['unit']}"
    if row["cap"] is None:
        return text
    stop = "but never below" if row["sense"] == "max" else "but never above"
    return f"{text}, {stop} {row['cap']:g} {row['unit']}"


def describe(row: Row) -> str:
    """One line of print: subject, value, document, clause, how it is known."""
    where = ", ".join(word for word in (row.get("document"), row.get("clause")) if word)
    known = HOW_KNOWN_WORDS[row["how_known"]]
    if row["how_known"] == "own" and row.get("published") is not None:
        known = f"own figure instead of {row['published']}"
    return f"{subject(row)}: {value_text(row)} ({where}; {known})"
