"""Whether a package is final, and if not, what keeps it a draft."""

from __future__ import annotations

from collections.abc import Sequence

from analyzer.report.package.checklist import Answer
from analyzer.report.wording import counted
from analyzer.schema import Analysis


def draft_reasons(analysis: Analysis, answers: Sequence[Answer]) -> list[str]:
    """What is missing and not granted, one part of a sentence each; empty for a final package."""
    out = [f"{answer.meaning}: {answer.status} ({answer.why})" for answer in answers if answer.is_open]
    codes = {found.code: found for found in analysis.findings}
    if "reference-assumed" in codes:
        out.append("the reference method of some fiber tests is assumed; state it with --reference or in job.toml")
    missing = [found for found in analysis.findings if found.code in {"missing-link", "sample-too-small"}]
    if missing:
        count = sum(len(found.links) for found in missing)
        out.append(f"{counted(count, 'scheduled link has', 'scheduled links have')} no result")
    if analysis.totals["incomplete"]:
        out.append(f"{counted(analysis.totals['incomplete'], 'link is', 'links are')} incomplete")
    out += [
        f"looser than the standard and granted by nobody: {item['what']}"
        for item in analysis.looser
        if not item.get("granted_by")
    ]
    return out
