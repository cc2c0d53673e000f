"""The rules in force, one sentence each, for the head of every report."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from analyzer.budget.uncertainty import TAKEN_AS_WORDS, decision_rules
from analyzer.job import Job


def rules_in_force(facts: pd.DataFrame, job: Job, link: np.ndarray) -> list[str]:
    """Standard and edition with who ordered them, reference methods, marginal passes, required tests, own limits.

    Args:
        facts: schema `facts`, m rows.
        job: the order and the owner's rules.
        link: the link of each row of facts, m numbers; a long table has many records of one link.
    """
    facts = facts.assign(link=link)
    fiber = facts[facts["medium"] != "twisted pair"]
    pairs = facts[facts["medium"] == "twisted pair"]
    known = bool(facts["accuracy_db"].notna().any())
    return [
        *_standards(fiber),
        *_references(fiber),
        *_pair_limits(pairs),
        *_pair_accuracy(pairs, job),
        *_owner(job, known),
    ]


def _standards(facts: pd.DataFrame) -> list[str]:
    out = []
    for standard, edition, said_by, count in _counted(facts, ["standard", "edition", "edition_from"]):
        who = (
            "nothing else was ordered: the newest edition known here" if said_by == "assumed" else f"said by: {said_by}"
        )
        out.append(f"allowances of {standard}-{edition} for {_links(count)} ({who})".replace("ISO-", "ISO/IEC "))
    return out


def _pair_limits(facts: pd.DataFrame) -> list[str]:
    """Which limits of twisted pair hold, by edition, grade and configuration."""
    if facts.empty:
        return []
    said = facts[["standard", "edition", "edition_from", "link"]].assign(
        grade=facts["grade"].astype("object").fillna("no stated grade"),
        configuration=facts["configuration"].astype("object").fillna("no stated configuration"),
    )
    out = []
    for standard, edition, said_by, grade, configuration, count in _counted(said, [*said.columns.drop("link")]):
        who = "the newest edition known here" if said_by == "assumed" else f"edition said by: {said_by}"
        text = f"limits of {standard}-{edition}, {grade}, {configuration} for {_links(count)} ({who})"
        out.append(text.replace("ISO-", "ISO/IEC "))
    return out


def _pair_accuracy(facts: pd.DataFrame, job: Job) -> list[str]:
    """Twisted pair of whose tester no accuracy is known."""
    level = facts["accuracy_level"].notna() if "accuracy_level" in facts else pd.Series(data=False, index=facts.index)
    silent = int(facts.loc[~level & (facts["accuracy_db_from"] != "file"), "link"].nunique())
    if job.rules.accuracy_level or not silent:
        return []
    return [
        f"no accuracy level of the field tester is stated for {_links(silent)} of twisted pair: nothing is marginal"
    ]


def _references(facts: pd.DataFrame) -> list[str]:
    return [
        f"{reference} reference for {_links(count)} ({'assumed' if said_by == 'assumed' else f'said by: {said_by}'})"
        for reference, said_by, count in _counted(facts, ["reference", "reference_from"])
    ]


def _counted(facts: pd.DataFrame, names: list[str]) -> list[list[Any]]:
    """Distinct combinations in the order of their first record, each with its number of links at the end."""
    if facts.empty:
        return []
    counts = facts.groupby(names, observed=True, sort=False)["link"].nunique().reset_index(name="count")
    rows: list[list[Any]] = counts.astype("object").to_numpy().tolist()
    return rows


def _owner(job: Job, accuracy_known: bool) -> list[str]:
    marginal = {
        "accept": "a pass within the measurement accuracy is accepted like any other pass",
        "list apart": "a pass within the measurement accuracy is listed apart as marginal",
        "fail": "a pass within the measurement accuracy counts as a fail",
    }
    rule = decision_rules()[job.rules.decision]
    out = [rule.sentence]
    if "marginal pass" in rule.accepts:
        out.append(marginal[job.rules.marginal])
    if accuracy_known:
        out.append(f"probabilities: {TAKEN_AS_WORDS[job.rules.accuracy_taken_as]}")
    if job.required.directions > 1:
        out.append("loss is required in both directions")
    if job.rules.judge_mean:
        out.append("where both directions were measured their mean decides in place of each")
    off = [name.replace("_", " ") for name, on in job.exemptions.model_dump().items() if not on]
    off = [name for name in off if job.says(f"exemptions.{name.replace(' ', '_')}")]
    if off:
        out.append(f"rules of exemption that are switched off: {', '.join(off)}")
    if job.rules.events == "decide":
        out.append("a joint of a time-domain trace that fails makes its link fail")
    out += [f"own limit: {limit.name} ({limit.source})" for limit in job.limits]
    return out


def _links(count: int) -> str:
    return "1 link" if count == 1 else f"{count} links"
