"""Limits of twisted pair beside values that others published. Run it to print the table of agreement.

    python tests/standards/copper_agreement.py

A value agrees when it lies within 0.1 dB (1 ns for delays) of the unrounded limit: the rounding of its source.
"""

import csv
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analyzer import standards

DATA = Path(__file__).with_name("data")
TOLERANCE = {"dB": 0.1, "ns": 1.0}
ROUNDING = 1e-9
"""A difference of exactly the tolerance agrees, whatever the last bit of a double says."""


@dataclass(frozen=True)
class Comparison:
    """One published value beside ours."""

    standing: str
    grade: str
    part: str
    parameter: str
    frequency_mhz: float
    published: float
    computed: float
    unit: str
    source: str
    note: str

    @property
    def agrees(self):
        return abs(self.computed - self.published) <= TOLERANCE[self.unit] + ROUNDING


def rows_of(name):
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def published():
    """Every value of independent pages, beside the limit or the single term."""
    terms = {(row["grade"], row["part"], row["parameter"]): row for row in rows_of("copper_terms.csv")}
    return [_compare(row, terms) for row in rows_of("copper_check_values.csv")]


def recalled():
    """Every value of the tables recalled apart from the equations, under candidate a."""
    return [
        _comparison(
            {**row, "part": row["configuration"], "source": "recalled", "note": ""},
            standards.limit(
                row["parameter"],
                grade=row["grade"],
                configuration=row["configuration"],
                frequency_mhz=float(row["frequency_mhz"]),
                edition="568.2-D",
                candidate="a",
            ),
        )
        for row in rows_of("copper_check_values_recalled.csv")
    ]


def _compare(row, terms):
    frequency = float(row["frequency_mhz"])
    if row["part"] != "channel":
        return _comparison(row, _term_at(terms[row["grade"], row["part"], row["parameter"]], frequency))
    asked = {
        "grade": row["grade"],
        "configuration": row["part"],
        "standard": row["standard"],
        "edition": row["edition"],
    }
    if "applies no cap or floor" in row["note"]:
        (line,) = standards.limit_lines(standards.load(), parameter=row["parameter"], **asked)
        return _comparison(row, float(standards.compile_expression(line.rows[0]["expression"])(frequency)))
    return _comparison(row, standards.limit(row["parameter"], frequency_mhz=frequency, **asked))


def _term_at(term, frequency):
    value = float(standards.compile_expression(term["term"])(frequency))
    return min(value, float(term["cap"])) if term["cap"] else value


def _comparison(row, computed):
    return Comparison(
        row["standing"],
        row["grade"],
        row["part"],
        row["parameter"],
        float(row["frequency_mhz"]),
        float(row["value"]),
        computed,
        row["unit"],
        row["source"],
        row["note"],
    )


def table(comparisons, *, counted):
    """(grade, part) -> agreeing, all; of the values whose standing is in `counted`."""
    chosen = [c for c in comparisons if c.standing in counted]
    total = Counter((c.grade, "channel" if c.part == "channel" else "single terms") for c in chosen)
    agreeing = Counter((c.grade, "channel" if c.part == "channel" else "single terms") for c in chosen if c.agrees)
    return {key: (agreeing[key], count) for key, count in sorted(total.items(), key=lambda item: item[0][::-1])}


def report():
    """The table of agreement as lines of text."""
    every = published()
    yield "Published values, as printed: agreeing / total (reinterpreted values not counted)"
    yield from _cells(table(every, counted=("as printed", "disagrees")))
    yield "Reinterpreted, agreeing by construction, no evidence"
    yield from _cells(table(every, counted=("reinterpreted",)))
    yield "Do not agree"
    for c in every:
        if not c.agrees:
            where = f"{c.grade:3} {c.part} {c.parameter} {c.frequency_mhz:g} MHz"
            yield f"  {where}: published {c.published:g}, computed {c.computed:.2f} {c.unit}. {c.source}. {c.note}"
    memory = recalled()
    agreeing = sum(c.agrees for c in memory)
    yield f"Permanent link tables recalled apart: {agreeing} / {len(memory)} (from memory, no proof)"
    for c in memory:
        if not c.agrees:
            where = f"{c.grade} {c.parameter} {c.frequency_mhz:g} MHz"
            yield f"  {where}: recalled {c.published:g}, computed {c.computed:.2f}"


def _cells(counted):
    return (f"  {grade:3} {part:13} {good:3} / {total}" for (grade, part), (good, total) in counted.items())


if __name__ == "__main__":
    sys.stdout.write("\n".join(report()) + "\n")
