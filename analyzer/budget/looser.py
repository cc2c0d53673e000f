"""Which keys of job.toml make acceptance easier than the standard, and who granted each."""

from __future__ import annotations

from typing import Any

from analyzer.budget.pair_looser import looser_pairs
from analyzer.errors import StandardsError
from analyzer.job import Job
from analyzer.standards import Values, admissible, allowances
from analyzer.standards.allowances import Allowances

DEFAULT_REQUIRED = {"multimode": {850, 1300}, "single_mode": {1310, 1550}}
"""Both standard wavelengths are required unless the job says otherwise; the same rule as the job's defaults."""


def looser_than_standard(job: Job, values: Values) -> list[dict[str, Any]]:
    """Every looser key: `what` (sentence), `key`, `granted_by`, `date`, `reference` (None where no grant stands)."""
    found = [*_allowances(job, values), *_overrides(job, values), *_required(job), *_admissible(job, values)]
    found += [*looser_pairs(job, values), *_of_pairs(job)]
    return [_with_grant(job, key, sentence) for key, sentence in found]


def _with_grant(job: Job, key: str, sentence: str) -> dict[str, Any]:
    grant = job.grant_for(key)
    told: dict[str, str | None] = {"granted_by": None, "date": None, "reference": None}
    if grant is not None:
        told = {"granted_by": grant.by, "date": grant.date.isoformat(), "reference": grant.reference}
    return {"what": sentence, "key": key, **told}


def _allowances(job: Job, values: Values) -> list[tuple[str, str]]:
    own = job.allowances
    book = _book(job, values)
    out = []
    for key, component in (
        ("mated_pair_db", "mated pair"),
        ("array_pair_db", "array mated pair"),
        ("splice_db", "splice"),
    ):
        number = getattr(own, key)
        # an edition without a figure for array connections allows them what it allows to any mating
        printed = _published(book, component) or _published(book, "mated pair" if key == "array_pair_db" else component)
        if number is None:
            continue
        if printed and number > min(printed):
            words = f"{component} {number:g} dB is looser than {min(printed):g} dB of {book.document}"
            out.append((f"allowances.{key}", words))
        elif key == "mated_pair_db" and book.standard == "ISO":
            words = (
                f"mated pair {number:g} dB also stands for the end connections against reference-grade cords, "
                f"for which {book.document} has an allowance of its own that is not known here"
            )
            out.append((f"allowances.{key}", words))
    for fiber, waves in own.attenuation_db_per_km.items():
        for wave, number in waves.items():
            strictest = min((row["published"] for row in book.cable(fiber, wave)), default=None)
            if strictest is not None and number > strictest:
                words = f"{fiber} at {wave} nm {number:g} dB/km is looser than {strictest:g} dB/km of {book.document}"
                out.append((f"allowances.attenuation_db_per_km.{fiber}.{wave}", words))
    return out


def _book(job: Job, values: Values) -> Allowances:
    """Allowances of the ordered edition; where that is one of twisted pair alone, of the newest of its family."""
    family = job.order.standard or "TIA"
    try:
        return allowances(values, family, job.order.edition)
    except StandardsError:
        return allowances(values, family)


def _published(book: Allowances, component: str) -> list[float]:
    """What the edition prints for a component on any glass, overrides of the job left aside."""
    numbers = [row["published"] for row in book.component_rows if row["component"] == component]
    return [number for number in numbers if number is not None]


def _overrides(job: Job, values: Values) -> list[tuple[str, str]]:
    out = []
    for row_id, number in job.overrides.items():
        row = values.row(row_id)
        published = row.get("published")
        is_floor = "min_return_loss_db" in row
        if published is not None and (number < published if is_floor else number > published):
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
    usual_percent = type(job.rules)().length_difference_percent
    if job.rules.length_difference_percent > usual_percent:
        words = (
            f"lengths of file and schedule may differ by {job.rules.length_difference_percent:g} %: "
            f"looser than {usual_percent:g} %"
        )
        out.append(("rules.length_difference_percent", words))
    if not job.required.length:
        out.append(("required.length", "no length is required: looser than the usual tier 1 test"))
    return out


def _of_pairs(job: Job) -> list[tuple[str, str]]:
    """Twisted pair: fewer pairs than the standard wires, limits moved to the temperature of the test."""
    out = []
    usual = type(job.twisted_pair)().pairs
    left_out = [pair for pair in usual if pair not in job.twisted_pair.pairs]
    if left_out:
        out.append(("twisted_pair.pairs", f"pairs {', '.join(left_out)} were not ordered: looser than all four"))
    if job.twisted_pair.correct_to_20_c:
        out.append(
            ("twisted_pair.correct_to_20_c", "limits are moved to the temperature of the test: looser than at 20 °C")
        )
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
