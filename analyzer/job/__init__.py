"""What was ordered and what is known of the job: `job.toml` and the facts given on the command line.

In: a file, or the texts of options. Out: `Job` (frozen models whose attributes equal the keys of the file) and
`CommandLine`. Read `models.py` first: every key stands there with its meaning and with what is accepted.
`kinds.py` holds the kinds of value, `words.py` understands the words that people use for fibers, ends and reference methods; `loading.py` turns mistakes
into sentences, all at once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from analyzer.job.command_line import CommandLine

if TYPE_CHECKING:
    from analyzer.job.loading import known_keys, load_job, parse_job
    from analyzer.job.models import Grant, Job, Limit

__all__ = ["CommandLine", "Grant", "Job", "Limit", "known_keys", "load_job", "parse_job"]


def __getattr__(name: str) -> Any:
    """Import the models only when they are used: pydantic would slow down `--help`."""
    if name in {"known_keys", "load_job", "parse_job"}:
        from analyzer.job import loading

        return getattr(loading, name)
    if name in {"Grant", "Job", "Limit"}:
        from analyzer.job import models

        return getattr(models, name)
    raise AttributeError(name)
