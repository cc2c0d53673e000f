"""The rules that an owner may set for the closeout package: closing_rules.csv, read once."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import NamedTuple


class ClosingRule(NamedTuple):
    """One row of closing_rules.csv."""

    rule: str
    looks_at: str
    """results, attachment, package or person."""
    needs: tuple[str, ...]
    fates: tuple[str, ...]
    meaning: str
    requirements: tuple[str, ...]


@cache
def closing_rules() -> Mapping[str, ClosingRule]:
    """All rules by name, in the order of the file."""
    lines = (files("analyzer.job") / "closing_rules.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return MappingProxyType(
        {
            row["rule"]: ClosingRule(
                row["rule"], row["looks_at"], tuple(row["needs"].split()),
                tuple(row["fates"].split("|")) if row["fates"] else (), row["meaning"], tuple(row["requirements"].split()),
            )
            for row in rows
        }
    )  # fmt: skip


def why_no_ask(rule: str, stated: set[str], fate: str | None) -> str:
    """What is wrong with one table [closeout.RULE]; empty where nothing is."""
    known = closing_rules()[rule]
    for key in known.needs:
        if key not in stated:
            return f"{key} is missing" + (f"; accepted: {', '.join(known.fates)}" if key == "fate" else "")
    if fate is not None and fate not in known.fates:
        accepted = ", ".join(known.fates)
        return f'fate is "{fate}"; accepted: {accepted}' if accepted else "this rule has no fate; remove it"
    return ""
