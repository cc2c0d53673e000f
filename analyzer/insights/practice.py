"""What owners ask for and what goes wrong in practice, and what the product does about each: practice_rules.csv."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from analyzer.insights.register import rows_of


class PracticeRule(NamedTuple):
    """One row of practice_rules.csv."""

    rule: str
    asks: str
    findings: tuple[str, ...]
    """Codes of the register."""
    keys: tuple[str, ...]
    """Keys of job.toml."""
    closing: tuple[str, ...]
    """Rules of the closeout checklist."""
    elsewhere: str
    """What verdict, page or package do about it."""
    not_checked: str
    """What data cannot tell, and why; empty where the rule is checked as a whole."""


@cache
def practice_rules() -> tuple[PracticeRule, ...]:
    """All rules, in the order of the file."""
    return tuple(
        PracticeRule(
            row["rule"], row["asks"], tuple(row["findings"].split()), tuple(row["keys"].split()),
            tuple(row["closing"].split()), row["elsewhere"], row["not_checked"],
        )
        for row in rows_of("practice_rules.csv")
    )  # fmt: skip


def coverage_page() -> str:
    """The page docs/practice.md, from the table alone."""
    kinds = {
        "R": "## What owners ask for",
        "P": "## What goes wrong between tester and accepted job",
        "T": "## Signs of copied or invented records",
    }
    parts = [_HEAD]
    for letter, heading in kinds.items():
        rows = [row for row in practice_rules() if row.rule[0] == letter]
        parts += [
            heading,
            "",
            "| rule | what it is about | what is done | what data cannot tell |",
            "|---|---|---|---|",
        ]
        parts += [f"| {row.rule} | {row.asks} | {_done(row)} | {row.not_checked} |" for row in rows]
        parts.append("")
    return "\n".join(parts)


def _done(row: PracticeRule) -> str:
    named = (
        ("findings", row.findings),
        ("job file", row.keys),
        ("closeout", row.closing),
    )
    said = [f"{what}: {', '.join(f'`{name}`' for name in names)}" for what, names in named if names]
    return "; ".join([*said, row.elsewhere] if row.elsewhere else said) or "nothing"


_HEAD = """# Rules of practice

What owners ask for in published specifications, what testers and reviewers complain of, and the signs of copied records,
each in one line, with what the product does about it. Findings are explained in [findings](findings.md), keys and rules of
the closeout package in [the job file](job.md). A rule whose last column says something is checked in part, or not at all
where nothing stands before it. This page is made from `analyzer/insights/practice_rules.csv`; nothing in it is copied from
a specification.
"""
