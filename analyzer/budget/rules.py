"""The rules in force, one sentence each, for the head of every report."""

from __future__ import annotations

from typing import Any

import pandas as pd

from analyzer.job import Job


def rules_in_force(facts: pd.DataFrame, job: Job) -> list[str]:
    """Standard and edition with who ordered them, reference methods, marginal passes, required tests, own limits."""
    fiber = facts[facts["medium"] != "twisted pair"]
    return [*_standards(fiber), *_references(fiber), *_owner(job)]


def _standards(facts: pd.DataFrame) -> list[str]:
    out = []
    for standard, edition, said_by, count in _counted(facts, ["standard", "edition", "edition_from"]):
        who = (
            "nothing else was ordered: the newest edition known here" if said_by == "assumed" else f"said by: {said_by}"
        )
        out.append(f"allowances of {standard}-{edition} for {_records(count)} ({who})".replace("ISO-", "ISO/IEC "))
    return out


def _references(facts: pd.DataFrame) -> list[str]:
    return [
        f"{reference} reference for {_records(count)} ({'assumed' if said_by == 'assumed' else f'said by: {said_by}'})"
        for reference, said_by, count in _counted(facts, ["reference", "reference_from"])
    ]


def _counted(facts: pd.DataFrame, names: list[str]) -> list[list[Any]]:
    """Distinct combinations in the order of their first record, each with its number of records at the end."""
    counts = facts.groupby(names, observed=True, sort=False).size().reset_index(name="count")
    rows: list[list[Any]] = counts.astype("object").to_numpy().tolist()
    return rows


def _owner(job: Job) -> list[str]:
    marginal = {
        "accept": "a pass within the measurement accuracy is accepted like any other pass",
        "list apart": "a pass within the measurement accuracy is listed apart as marginal",
        "fail": "a pass within the measurement accuracy counts as a fail",
    }
    out = [marginal[job.rules.marginal]]
    if job.required.directions > 1:
        out.append("loss is required in both directions")
    if job.rules.judge_mean:
        out.append("where both directions were measured their mean decides in place of each")
    if job.rules.events == "decide":
        out.append("a joint of a time-domain trace that fails makes its link fail")
    out += [f"own limit: {limit.name} ({limit.source})" for limit in job.limits]
    return out


def _records(count: int) -> str:
    return "1 record" if count == 1 else f"{count} records"
