"""Every finding code in one place: severity, general meaning, next step."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from typing import NamedTuple

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
    lines = (files("analyzer.insights") / "register.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
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
    return "\n".join(parts)


_PAGE_HEAD = """# Findings

Every finding bears one of these codes; a code keeps its meaning for good. They are listed in the order in which
reports print them. This page is made from `analyzer/insights/register.csv`.
"""


def in_order(findings: Iterable[Finding]) -> list[Finding]:
    """Errors first; within a severity by the order of the register; then as they came."""
    severities = list(CATEGORIES["severity"])
    codes = list(register())
    return sorted(findings, key=lambda found: (severities.index(found.severity), codes.index(found.code)))
