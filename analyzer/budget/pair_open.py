"""What is open about a limit of twisted pair, in words: the facts and doubts that its possible lines differ by."""

from __future__ import annotations

from collections.abc import Sequence

from analyzer.standards.lines import LimitLine


def what_is_open(lines: Sequence[LimitLine]) -> tuple[list[str], str]:
    """Facts that nothing states, and the key under [candidates] of a limit in doubt; empty where nothing is open."""
    words = []
    if len({line.configuration for line in lines}) > 1:
        words.append("configuration")
    for told, name in (("consolidation", "consolidation point"), ("environment", "environment")):
        if len({word for line in lines for word in line.conditions if told in word}) > 1:
            words.append(name)
    doubtful = [line for line in lines if line.candidate]
    if len({line.candidate for line in doubtful}) < 2:
        return words, ""
    return words, f"{doubtful[0].grade} {doubtful[0].configuration} {doubtful[0].parameter}"
