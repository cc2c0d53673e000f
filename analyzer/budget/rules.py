"""The rules in force, one sentence each, for the head of every report."""

from __future__ import annotations

import pandas as pd

from analyzer.job import Job


def rules_in_force(facts: pd.DataFrame, job: Job) -> list[str]:
    """Standard and edition with who ordered them, reference methods, marginal passes, required tests, own limits."""
    return [*_standards(facts), *_references(facts), *_owner(job)]


def _standards(facts: pd.DataFrame) -> list[str]:
    pairs = facts.groupby(["standard", "edition", "edition_from"], observed=True, sort=False).size()
    out = []
    for (standard, edition, said_by), count in pairs.items():
        who = (
            "nothing else was ordered: the newest edition known here" if said_by == "assumed" else f"said by: {said_by}"
        )
        out.append(f"allowances of {standard}-{edition} for {_records(count)} ({who})".replace("ISO-", "ISO/IEC "))
    return out


def _references(facts: pd.DataFrame) -> list[str]:
    pairs = facts.groupby(["reference", "reference_from"], observed=True, sort=False).size()
    return [
        f"{reference} reference for {_records(count)} ({'assumed' if said_by == 'assumed' else f'said by: {said_by}'})"
        for (reference, said_by), count in pairs.items()
    ]


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
    out += [f"own limit: {limit.name} ({limit.source})" for limit in job.limits]
    return out


def _records(count: int) -> str:
    return "1 record" if count == 1 else f"{count} records"
