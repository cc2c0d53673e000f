"""Which findings to read first: what stops acceptance, how many links it touches, what it costs to overlook it."""

from __future__ import annotations

import math
from functools import cache

from analyzer.insights.register import rows_of
from analyzer.schema import Analysis, Finding

FIRST = 3
"""Findings that stand above everything else."""

USUAL_COST = 2
"""What a code costs that importance.csv does not name."""

_WEIGHT_OF_SEVERITY = {"error": 100.0, "warning": 30.0, "note": 0.0}


def most_important(analysis: Analysis, first: int = FIRST, left_out: frozenset[str] = frozenset()) -> list[Finding]:
    """The findings to read first, at most one of each code, the most important first; notes never.

    The rank is severity (an error outweighs any warning) plus the cost of overlooking it (0 to 5, importance.csv, with
    the reason for each) plus how many links it touches, by powers of ten: three hundred links weigh more than three,
    though not a hundred times more. Findings that speak of links which a finding before them already explains fall
    behind. Codes in `left_out` are told elsewhere.
    """
    ranked = sorted(
        (item for item in analysis.findings if item.severity != "note" and item.code not in left_out),
        key=lambda item: -rank(item, len(analysis.links)),
    )
    chosen: list[Finding] = []
    later: list[Finding] = []
    for item in ranked:
        known = any(item.code == other.code for other in chosen)
        explained = bool(item.links) and any(set(item.links) <= set(other.links) for other in chosen)
        (later if known or explained else chosen).append(item)
    return (chosen + later)[:first]


def rank(item: Finding, links: int) -> float:
    """Weight of one finding; a finding that names no link is about the whole job, counted as ten links."""
    touched = len(item.links) or min(10, max(links, 1))
    cost, _ = _costs().get(item.code, (USUAL_COST, ""))
    return _WEIGHT_OF_SEVERITY[item.severity] + 10.0 * cost + 5.0 * math.log10(1 + touched)


@cache
def _costs() -> dict[str, tuple[int, str]]:
    return {row["code"]: (int(row["cost"]), row["why"]) for row in rows_of("importance.csv")}
