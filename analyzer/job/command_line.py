"""Facts and orders given on the command line: they hold for every link and stand above file, schedule and job."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import OptionError
from analyzer.job.words import accepted, why_not, word


@dataclass(frozen=True)
class CommandLine:
    """What was said on the command line; None where nothing was said."""

    fiber: str | None = None
    construction: str | None = None
    length_m: float | None = None
    mated_pairs: int | None = None
    splices: int | None = None
    ends: tuple[str, str] | None = None
    """What end A and end B are: members of `CATEGORIES["end_type"]`."""
    reference: str | None = None
    grade: str | None = None
    configuration: str | None = None
    standard: str | None = None
    edition: str | None = None
    segment: str | None = None
    area: str | None = None
    columns: Path | None = None
    schedule: Path | None = None

    @classmethod
    def parse(
        cls,
        *,
        fiber: str | None = None,
        construction: str | None = None,
        length: str | float | None = None,
        mated_pairs: str | int | None = None,
        splices: str | int | None = None,
        ends: str | None = None,
        reference: str | None = None,
        grade: str | None = None,
        configuration: str | None = None,
        standard: str | None = None,
        edition: str | None = None,
        segment: str | None = None,
        area: str | None = None,
        columns: str | Path | None = None,
        schedule: str | Path | None = None,
    ) -> CommandLine:
        """Options as typed -> facts. `length` is in meters; `ends` is two words with a comma.

        Raises:
            OptionError: one sentence for each option that cannot be used, all at once, one a line.
        """
        problems: list[str] = []
        said = cls(
            fiber=_word("--fiber", "type", fiber, problems),
            construction=_word("--construction", "construction", construction, problems),
            length_m=_length(length, problems),
            mated_pairs=_count("--mated-pairs", mated_pairs, problems),
            splices=_count("--splices", splices, problems),
            ends=_ends(ends, problems),
            reference=_word("--reference", "reference", reference, problems),
            grade=_word("--grade", "grade", grade, problems),
            configuration=_word("--configuration", "configuration", configuration, problems),
            standard=_word("--standard", "standard", standard, problems),
            edition=_text("--edition", edition, problems),
            segment=_word("--segment", "segment", segment, problems),
            area=_text("--area", area, problems),
            columns=None if columns is None else Path(columns),
            schedule=None if schedule is None else Path(schedule),
        )
        if problems:
            raise OptionError("\n".join(problems))
        return said


def _word(option: str, category: str, text: str | None, problems: list[str]) -> str | None:
    if text is None:
        return None
    found = word(category, text)
    if found is None:
        why = why_not(category, text)
        because = f" ({why})" if why else ""
        problems.append(f'{option} "{text}" is not known{because}; accepted: {accepted(category)}')
    return found


def _text(option: str, text: str | None, problems: list[str]) -> str | None:
    if text is not None and not text.strip():
        problems.append(f"{option} is empty; give a text or leave the option out")
        return None
    return text


def _number(text: str | float) -> float:
    """NaN where the text is no plain number."""
    if isinstance(text, str):
        text = text.strip().removesuffix("m").rstrip()
        if not text.isascii() or "_" in text:
            return math.nan
    try:
        return float(text)
    except (ValueError, OverflowError):
        return math.nan


def _length(text: str | float | None, problems: list[str]) -> float | None:
    if text is None:
        return None
    length_m = _number(text)
    if not math.isfinite(length_m) or length_m < 0:
        problems.append(f'--length "{text}" is no length; accepted: meters, 0 or more, with a decimal point: 120.5')
        return None
    return length_m


def _count(option: str, text: str | int | None, problems: list[str]) -> int | None:
    if text is None:
        return None
    digits = str(text).strip()
    if not (digits.isascii() and digits.isdecimal() and len(digits) <= 4):
        problems.append(f'{option} "{text}" is no count; accepted: a whole number, 0 to 9999')
        return None
    return int(digits)


def _ends(text: str | None, problems: list[str]) -> tuple[str, str] | None:
    if text is None:
        return None
    ends = [word("end_type", part) for part in text.split(",")]
    if len(ends) != 2 or ends[0] is None or ends[1] is None:
        problems.append(
            f'--ends "{text}" does not name two ends; accepted: end A, a comma, end B, each one of '
            f"{accepted('end_type')}; for example panel,plug"
        )
        return None
    return ends[0], ends[1]
