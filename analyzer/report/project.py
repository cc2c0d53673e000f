"""What the job file says of the project: the same lines at the head of the letter, the workbook and the PDF."""

from __future__ import annotations

from typing import Final

from analyzer.schema import Analysis

_FIELDS: Final = {
    "name": "job",
    "owner": "owner",
    "contractor": "contractor",
    "site": "site",
    "reference": "contract",
    "date": "date of the job file",
}


def project_lines(analysis: Analysis) -> list[tuple[str, str]]:
    """Word and content of everything that the table `job` of the job file states; empty without a job."""
    if analysis.job is None:
        return []
    about = analysis.job.job
    lines = [(word, str(getattr(about, name))) for name, word in _FIELDS.items() if getattr(about, name)]
    return [*lines, ("note", "this job is invented")] if about.invented else lines
