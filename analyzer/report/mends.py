"""What to do next: the step that a finding names, else what is missing, else what usually mends such a reading."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from functools import cache
from importlib.resources import files

from analyzer.schema import Finding

SISTERS = "worse-than-sisters"


def usual_mend(parameter: object, end: object) -> str:
    """What usually mends a link that fails by this parameter (common practice, no source)."""
    where = f"end {end}" if isinstance(end, str) else "both ends"
    return _usual_mends().get(str(parameter), _usual_mends()["loss"]).replace("{where}", where)


@cache
def _usual_mends() -> dict[str, str]:
    lines = (files("analyzer.report") / "usual_mends.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {row["parameter"]: row["mend"] for row in rows}


def mends_of_findings(findings: Sequence[Finding]) -> dict[str, str]:
    """For each label the next step of an error that names it, else of its standing out among its sisters.

    Other warnings are about papers and settings: their next step would not mend the link.
    """
    mends: dict[str, str] = {}
    ranked = [
        *(item for item in findings if item.severity == "error"),
        *(item for item in findings if item.code == SISTERS),
    ]
    for finding in ranked:
        if finding.next_step:
            for label in finding.links:
                mends.setdefault(label, finding.next_step)
    return mends


def mend_of_missing(missing: object) -> str:
    """How to come by what is missing, where nothing more is known."""
    parts = missing.split("; ") if isinstance(missing, str) and missing else []
    wavelengths = [part for part in parts if re.fullmatch(r"\d+ nm( in the other direction)?", part)]
    steps = [f"test at {' and at '.join(wavelengths)}"] if wavelengths else []
    if "length" in parts:
        steps.append("state the length with --length or in the schedule")
    return "; ".join(steps)
