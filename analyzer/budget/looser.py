"""Which keys of job.toml make acceptance easier than the standard, and who granted each."""

from __future__ import annotations

from typing import Any

from analyzer.budget.end_connections import OLDER, end_row, own_end_db
from analyzer.budget.pair_looser import looser_pairs
from analyzer.budget.uncertainty import decision_rules
from analyzer.errors import StandardsError
from analyzer.job import Job
from analyzer.standards import Values, admissible, allowances
from analyzer.standards.allowances import Allowances

DEFAULT_REQUIRED = {"multimode": {850, 1300}, "single_mode": {1310, 1550}}
"""Both standard wavelengths are required unless the job says otherwise; the same rule as the job's defaults."""


def looser_than_standard(job: Job, values: Values) -> list[dict[str, Any]]:
    """Every looser key: `what` (sentence), `key`, `granted_by`, `date`, `reference` (None where no grant stands)."""
    found = [*_allowances(job, values), *_overrides(job, values), *_required(job, values), *_admissible(job, values)]
    found += looser_pairs(job, values)
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
        elif key == "mated_pair_db" and book.standard == "ISO" and own.end_pair_db is None:
            words = (
                f"mated pair {number:g} dB also stands for the end connections against reference-grade cords, "
                f"for which {book.document} has an allowance of its own that is not known here"
            )
            out.append((f"allowances.{key}", words))
    out += _ends(job, values, book)
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


def _ends(job: Job, values: Values, book: Allowances) -> list[tuple[str, str]]:
    """An end allowance above what TIA allows any mating, or above the last figure of ISO/IEC 14763-3 known here."""
    out = []
    for medium in ("multimode", "single-mode"):
        number = own_end_db(job.allowances.end_pair_db, medium)
        if number is None:
            continue
        row = end_row(values, medium, OLDER) if book.standard == "ISO" else book.component("mated pair", medium)
        known = None if row is None else row["published"]
        if row is not None and known is not None and number > known:
            which = f"{row['document']}, the last figure known here" if book.standard == "ISO" else book.document
            words = f"end connection, {medium}, {number:g} dB is looser than {known:g} dB of {which}"
            out.append((f"allowances.end_pair_db.{medium.replace('-', '_')}", words))
    return out


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


def _required(job: Job, values: Values) -> list[tuple[str, str]]:
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
    rule = decision_rules(values)[job.rules.decision]
    if rule.accept_from < 0:
        words = f"decision rule {rule.name}: {rule.words}; looser than acceptance at a margin of 0 ({rule.risk})"
        out.append(("rules.decision", words))
    if job.rules.judge_mean:
        out.append(("rules.judge_mean", "the mean of both directions decides in place of each"))
    usual_percent = type(job.rules)().length_difference_percent
    if job.rules.length_difference_percent > usual_percent:
        words = (
            f"lengths of file and schedule may differ by {job.rules.length_difference_percent:g} %: "
            f"looser than {usual_percent:g} %"
        )
        out.append(("rules.length_difference_percent", words))
    if job.sampling.share is not None and job.sampling.share < 1:
        words = f"a sample of {100 * job.sampling.share:g} % of {', '.join(job.sampling.links)} is tested: looser than every link"
        out.append(("sampling.share", words))
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
