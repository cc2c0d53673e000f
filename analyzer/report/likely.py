"""The likeliest cause of each failing or marginal link, in one line for print."""

from __future__ import annotations

from typing import NamedTuple

from analyzer.schema import Analysis


class Likely(NamedTuple):
    """One line on the likeliest cause, and the next step that would test it."""

    text: str
    next_step: str


def likeliest(analysis: Analysis) -> dict[str, Likely]:
    """For each label with a likely cause: the cause, what speaks for it, what against it, other causes by name."""
    causes = analysis.causes
    if causes is None or causes.empty:
        return {}
    labels = analysis.links["label"].to_numpy(dtype=object)[causes["link"].to_numpy()]
    found: dict[str, Likely] = {}
    others: dict[str, list[str]] = {}
    columns = (causes[name].astype(object) for name in ("rank", "cause", "speaks_for", "speaks_against", "next_step"))
    for label, (rank, cause, speaks_for, against, step) in zip(labels, zip(*columns, strict=True), strict=True):
        if rank == 1:
            doubt = f"; against it: {against}" if isinstance(against, str) and against else ""
            found[label] = Likely(f"{cause}: {speaks_for}{doubt}", step)
        else:
            others.setdefault(label, []).append(cause)
    return {
        label: one._replace(text=f"{one.text}; else {' or '.join(others[label])}") if label in others else one
        for label, one in found.items()
    }
