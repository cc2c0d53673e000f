"""Which keys of job.toml make acceptance easier than the standard, and who granted each."""

from __future__ import annotations

from typing import Any

from analyzer.job import Job
from analyzer.standards import Values, admissible, allowances

DEFAULT_REQUIRED = {"multimode": {850, 1300}, "single_mode": {1310, 1550}}
"""Both standard wavelengths are required unless the job says otherwise; the same rule as the job's defaults."""


def looser_than_standard(job: Job, values: Values) -> list[dict[str, Any]]:
    """Every looser key: `what` (sentence), `key`, `granted_by`, `date`, `reference` (None where no grant stands)."""
    found = [*_allowances(job, values), *_overrides(job, values), *_required(job), *_admissible(job, values)]
    return [_with_grant(job, key, sentence) for key, sentence in found]


def _with_grant(job: Job, key: str, sentence: str) -> dict[str, Any]:
    grant = job.grant_for(key)
    told = {"granted_by": None, "date": None, "reference": None}
    if grant is not None:
        told = {"granted_by": grant.by, "date": grant.date.isoformat(), "reference": grant.reference}
    return {"what": sentence, "key": key, **told}


def _allowances(job: Job, values: Values) -> list[tuple[str, str]]:
    book = allowances(values, job.order.standard or "TIA", job.order.edition)
    own = job.allowances
    out = []
    for key, component in (
        ("mated_pair_db", "mated pair"),
        ("array_pair_db", "array mated pair"),
        ("splice_db", "splice"),
    ):
        number = getattr(own, key)
        printed = [
            row["max_loss_db"]
            for row in book.component_rows
            if row["component"] == component and row["max_loss_db"] is not None
        ]
        if number is not None and printed and number > min(printed):
            out.append(
                (
                    f"allowances.{key}",
                    f"{component} {number:g} dB is looser than {min(printed):g} dB of {book.document}",
                )
            )
    for fiber, waves in own.attenuation_db_per_km.items():
        for wave, number in waves.items():
            rows = book.cable(fiber, wave)
            strictest = min((row["coefficient_db_per_km"] for row in rows), default=None)
            if strictest is not None and number > strictest:
                sentence = (
                    f"{fiber} at {wave} nm {number:g} dB/km is looser than {strictest:g} dB/km of {book.document}"
                )
                out.append((f"allowances.attenuation_db_per_km.{fiber}.{wave}", sentence))
    return out


def _overrides(job: Job, values: Values) -> list[tuple[str, str]]:
    out = []
    for row_id, number in job.overrides.items():
        row = values.row(row_id)
        published = row.get("published")
        if published is not None and number > published:
            out.append(
                (f"overrides.{row_id}", f"row {row_id} {number:g} is looser than {published:g} of {row['document']}")
            )
    return out


def _required(job: Job) -> list[tuple[str, str]]:
    out = []
    for key, usual in DEFAULT_REQUIRED.items():
        left_out = sorted(usual - set(getattr(job.required, key)))
        if left_out:
            waves = " and ".join(f"{wave} nm" for wave in left_out)
            out.append(
                (
                    f"required.{key}",
                    f"{key.replace('_', '-')} at {waves} is not required: looser than both standard wavelengths",
                )
            )
    if job.rules.judge_mean:
        out.append(("rules.judge_mean", "the mean of both directions decides in place of each"))
    if not job.required.length:
        out.append(("required.length", "no length is required: looser than the usual tier 1 test"))
    return out


def _admissible(job: Job, values: Values) -> list[tuple[str, str]]:
    """A narrowed range is looser where it leaves out the strictest case."""
    out = []
    for key in ("mated_pairs", "splices"):
        narrowed = getattr(job.admissible, key)
        usual = [int(number) for number in admissible(values, key.replace("_", " "))]
        if narrowed and min(narrowed) > min(usual):
            words = key.replace("_", " ")
            out.append(
                (
                    f"admissible.{key}",
                    f"at least {min(narrowed)} {words} are taken for granted: looser than {min(usual)}",
                )
            )
    for key, fact in (("fiber", "type"), ("construction", "construction")):
        if getattr(job.admissible, key):
            names = ", ".join(getattr(job.admissible, key))
            out.append((f"admissible.{key}", f"only {names} is taken to be admissible where the {fact} is not stated"))
    return out
