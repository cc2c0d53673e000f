"""What the cells of a table tell of decisions that hold for every file with the same headings, and the answers.

Decimal mark, order of day and month, and whether loss is written as gain: counted per file, added up over all files.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping

import numpy as np

from analyzer.importing import facts
from analyzer.importing.blocks import Block
from analyzer.importing.cells import mark_vote
from analyzer.importing.columns import Use
from analyzer.importing.distinct import FEW, matching
from analyzer.importing.grid import TEXT, CellColumn
from analyzer.importing.parsed import parse_column
from analyzer.importing.source import Decisions, Tallies

_GAIN = {"loss", "insertion loss", "NEXT", "PSNEXT", "return loss", "optical return loss"}
_LARGE_DB = 0.2
"""A loss this far below zero is no reference drift; a column of negative values with one such is written as gain."""


def votes_of(block: Block, uses: list[Use]) -> Tallies:
    """What the cells of a block tell about decimal mark, sign and order of dates."""
    fingerprint = block.fingerprint
    votes: Counter[tuple[int, str, str]] = Counter()
    for use in uses:
        column = block.sheet.columns[use.col]
        if use.role in {"value", "limit", "margin", "length", "frequency", "accuracy"}:
            for vote, count in _votes(block, column, mark_vote, r"[.,]", _SURE_MARKS):
                votes[fingerprint, "decimal mark", vote] += count
        if use.role in {"date", "tested at", "calibrated on"}:
            for vote, count in _votes(block, column, facts.date_vote, _PERHAPS_DAY_FIRST):
                votes[fingerprint, "date order", vote] += count
                votes[fingerprint, f"date order {use.col}", vote] += count
        if use.role == "value" and use.parameter in {*_GAIN, ""}:
            parsed = parse_column(column, block.data_rows, ".")
            good = (parsed.problem == 0) & np.isfinite(parsed.value)
            for answer, mask in (
                ("negative", parsed.value < 0), ("positive", parsed.value > 0), ("large", parsed.value < -_LARGE_DB)
            ):  # fmt: skip
                count = int((good & mask).sum())
                if count:
                    votes[fingerprint, f"sign {use.col}", answer] += count
    return Tallies(tuple(sorted((*key, count) for key, count in votes.items() if count)))


_PERHAPS_DAY_FIRST = r"^([^0-9]|[0-9]{1,2}([^0-9]|$))"


_SURE_MARKS = {".": r"^[0-9]+\.([0-9]{1,2}|[0-9]{4,})$", ",": r"^[0-9]+,([0-9]{1,2}|[0-9]{4,})$"}
"""Plain numbers whose one mark cannot part thousands: what `mark_vote` says of them, all at once."""


def _votes(
    block: Block, column: CellColumn, vote: Callable[[str], str | None], candidates: str, sure: Mapping[str, str] | None = None
) -> Iterator[tuple[str, int]]:  # fmt: skip
    """Each vote of the texts of a column, with the number of cells that cast it; typed cells have no say."""
    counts = np.bincount(column.at(block.data_rows), minlength=len(column.texts))
    may = matching(column.texts, candidates) & (counts > 0)
    if column.kinds:
        may &= np.asarray(column.kinds, dtype=np.int8) == TEXT
    if len(column.texts) >= FEW:
        for said, pattern in (sure or {}).items():
            cast = may & matching(column.texts, pattern)
            yield said, int(counts[cast].sum())
            may &= ~cast
    for at in np.flatnonzero(may).tolist():
        said_here = vote(column.texts[at]) if column.texts[at] else None
        if said_here:
            yield said_here, int(counts[at])


def settle(tallies: list[Tallies]) -> Decisions:
    """Add up what all files tell, whatever their order, and answer each question once per heading fingerprint."""
    sums: dict[tuple[int, str], Counter[str]] = {}
    for tally in tallies:
        for fingerprint, question, answer, count in tally.votes:
            sums.setdefault((fingerprint, question), Counter())[answer] += count
    answers = []
    for (fingerprint, question), counts in sums.items():
        decided = _answer(question, counts)
        if decided:
            answers.append((fingerprint, question, decided))
    return Decisions(tuple(sorted(answers)))


def _answer(question: str, counts: Counter[str]) -> str | None:
    if question == "decimal mark":
        first, second = counts["."], counts[","]
        return None if first == second else ("." if first > second else ",")
    if question.startswith("date order"):
        proved = [order for order in ("day first", "month first") if counts[order]]
        return proved[0] if len(proved) == 1 else None
    gain = counts["negative"] >= 2 and counts["positive"] == 0 and counts["large"] > 0
    return "gain" if gain else None
