"""Counts that every report states beside the totals: of each medium, and what the verdicts rest on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analyzer.schema import CATEGORIES

if TYPE_CHECKING:
    from analyzer.schema import Analysis


def verdicts_by_medium(analysis: Analysis) -> list[tuple[str, dict[str, int]]]:
    """For each medium that occurs its links: how many there are, and how many of each verdict."""
    links = analysis.links
    counts = links.groupby("medium", observed=True)["verdict"].value_counts()
    return [
        (medium, {"links": int((links["medium"] == medium).sum())}
         | {word: int(counts.get((medium, word), 0)) for word in CATEGORIES["link_verdict"]})
        for medium in CATEGORIES["medium"] if (links["medium"] == medium).any()
    ]  # fmt: skip


def verdicts_by_basis(analysis: Analysis) -> list[tuple[str, int]]:
    """How many verdicts in force rest on a curve, a worst point, a value, a declared margin or a declared verdict."""
    judged = analysis.judged
    counts = judged.loc[judged["in_force"] & (judged["verdict"] != "not judged"), "basis"].value_counts()
    return [(name, int(counts[name])) for name in CATEGORIES["basis"] if counts.get(name, 0)]
