"""Every finding code in one place: severity, general meaning, next step."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from typing import NamedTuple

from analyzer.insights.chances import EACH, JOB_FALSE_ALARM, SCREENINGS
from analyzer.schema import CATEGORIES, Evidence, Finding


class Code(NamedTuple):
    """One row of register.csv."""

    code: str
    severity: str
    meaning: str
    next_step: str


@cache
def register() -> dict[str, Code]:
    """All codes, in the order of the file, which is also the order of print within a severity."""
    rows = rows_of("register.csv")
    return {row["code"]: Code(row["code"], row["severity"], row["meaning"], row["next_step"]) for row in rows}


def finding(
    code: str,
    message: str,
    links: Iterable[str] = (),
    next_step: str | None = None,
    evidence: Iterable[Evidence] = (),
) -> Finding:
    """A finding with the severity and, unless another is given, the next step of its code.

    Raises:
        KeyError: the code is not registered.
    """
    row = register()[code]
    step = row.next_step if next_step is None else next_step
    return Finding(code, row.severity, message, step, tuple(links), tuple(evidence))


def findings_page() -> str:
    """The page docs/findings.md: every code with its severity, meaning and next step, from the register alone."""
    severities = {
        "error": "An error ends the run with exit code 1.",
        "warning": "A warning changes no verdict and no exit code; somebody should look.",
        "note": "A note says what was done or taken for granted.",
    }
    parts = [_PAGE_HEAD]
    for severity, meaning in severities.items():
        rows = [row for row in register().values() if row.severity == severity]
        parts += [
            f"## {severity.capitalize()}s",
            "",
            meaning,
            "",
            "| code | what it says | next step |",
            "|---|---|---|",
        ]
        parts += [f"| `{row.code}` | {row.meaning} | {row.next_step or 'none'} |" for row in rows]
        parts.append("")
    return "\n".join([*parts, *_statistics_part()])


class Screening(NamedTuple):
    """One row of screenings.csv with the row of false_alarms.csv that was measured for it."""

    code: str
    statistic: str
    jobs: int
    links: int
    false_alarms: int


@cache
def screenings() -> dict[str, Screening]:
    """The statistic behind each code that rests on one, and how often it erred on clean simulated jobs."""
    measured = {row["code"]: row for row in rows_of("false_alarms.csv")}
    found = {}
    for row in rows_of("screenings.csv"):
        counts = (int(measured[row["code"]][name]) for name in ("jobs", "links", "false_alarms"))
        found[row["code"]] = Screening(row["code"], row["statistic"], *counts)
    return found


def _statistics_part() -> list[str]:
    rows = list(screenings().values())
    return [
        _STATISTICS_HEAD.format(whole=f"{100 * JOB_FALSE_ALARM:g} %", shares=SCREENINGS, share=f"{100 * EACH:.3f} %"),
        "| code | statistic | false alarms | links looked at |",
        "|---|---|---|---|",
        *(f"| {row.code} | {row.statistic} | {row.false_alarms} | {row.links:,} |" for row in rows),
        "",
    ]


def rows_of(name: str) -> list[dict[str, str]]:
    """The rows of a table that lies beside this module; lines that begin with # are remarks."""
    lines = (files("analyzer.insights") / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


_STATISTICS_HEAD = """## The statistics behind the screenings

A screening asks a question, never more: it changes no verdict and is never an error. Those that rest on chance print how
many coincidences chance alone would give beside how many were seen; the others are marked as rules. All screenings of a job share a chance of {whole} of telling anything of a
clean one: {shares} shares of {share}, each divided by the number of links, cables or series that it looks at (Bonferroni). All
codes that are not listed here are rules without a statistic.

False alarms were counted on simulated jobs without troubles, those of curves on simulated sweeps
(`tests/insights/measure_false_alarms.py`). A strand that stands out because its simulated connector was dirty is
no false alarm.
"""


_PAGE_HEAD = """# Findings

Every finding bears one of these codes; a code keeps its meaning for good. They are listed in the order in which
reports print them. This page is made from `analyzer/insights/register.csv`.
"""


def in_order(findings: Iterable[Finding]) -> list[Finding]:
    """Errors first; within a severity by the order of the register; then as they came."""
    severities = list(CATEGORIES["severity"])
    codes = list(register())
    return sorted(findings, key=lambda found: (severities.index(found.severity), codes.index(found.code)))
