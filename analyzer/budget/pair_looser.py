"""Which keys of job.toml make the acceptance of twisted pair easier than the standard."""

from __future__ import annotations

from analyzer.budget.pair_limits import candidate_name
from analyzer.job import Job
from analyzer.job.kinds import PAIR_TESTS
from analyzer.standards import Values, pair_rows
from analyzer.standards.editions import PAIR_EDITIONS, edition_row
from analyzer.standards.lines import LimitLine, limit_lines

Looser = list[tuple[str, str]]
"""Dotted keys, each with a sentence."""

_SAMPLES = 200


def looser_pairs(job: Job, values: Values) -> Looser:
    """Every key about twisted pair that is looser than the standard."""
    return [*_required(job), *_rules(job), *_conditions(job), *_candidates(job, values)]


def _required(job: Job) -> Looser:
    left_out = [name for name in PAIR_TESTS if name not in job.required.twisted_pair]
    if not left_out:
        return []
    return [("required.twisted_pair", f"twisted pair without {', '.join(left_out)}: looser than the usual tests")]


def _rules(job: Job) -> Looser:
    if not job.exemptions.alien_crosstalk_met_by_design:
        return []
    words = "alien crosstalk counts as met where coupling attenuation is beyond its limit"
    return [("exemptions.alien_crosstalk_met_by_design", words)]


def _conditions(job: Job) -> Looser:
    """A condition that is taken for granted where it leaves out the strictest limit."""
    out = []
    if job.conditions.consolidation_point:
        words = "every link is taken to hold a consolidation point: looser than without"
        out.append(("conditions.consolidation_point", words))
    if job.conditions.environment in {"E1", "E2"}:
        words = f"environment {job.conditions.environment} is taken for every link: looser than E3"
        out.append(("conditions.environment", words))
    return out


def _candidates(job: Job, values: Values) -> Looser:
    """A candidate that is not the strictest of the limits in doubt."""
    out = []
    for name, letter in job.candidates.items():
        lines = _lines(name, values)
        chosen = [line for line in lines if line.candidate == letter]
        rivals = [line for line in lines if line.candidate != letter]
        if any(_is_easier(one, rival) for one in chosen for rival in rivals):
            words = f"{name}: candidate {letter} is taken, which is not the strictest of the limits in doubt"
            out.append((f"candidates.{name}", words))
    return out


def _lines(name: str, values: Values) -> tuple[LimitLine, ...]:
    """The lines of a limit in doubt by its name; none where there is no such limit."""
    for edition in (row["edition"] for row in values.rows(PAIR_EDITIONS)):
        family = edition_row(values, edition, PAIR_EDITIONS)["standard"]
        for row in pair_rows(values, family, edition):
            told = candidate_name(row["grade"], row["configuration"], row["parameter"])
            if row["candidate"] and told.casefold() == name.casefold():
                return limit_lines(
                    values, parameter=row["parameter"], grade=row["grade"], configuration=row["configuration"],
                    standard=family, edition=edition,
                )  # fmt: skip
    return ()


def _is_easier(one: LimitLine, rival: LimitLine) -> bool:
    """Whether one limit is the easier to keep at some frequency."""
    import numpy as np

    f = np.geomspace(one.freq_min_mhz, one.freq_max_mhz, _SAMPLES)
    with np.errstate(invalid="ignore"):
        easier = one.at(f) - rival.at(f) if one.sense == "max" else rival.at(f) - one.at(f)
    return bool((easier > 1e-9).any())
