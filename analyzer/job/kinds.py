"""The kinds of value that a key may have: words, days, amounts, counts, wavelengths, paths below the job folder.

Each refuses what it does not understand with a reason in words; `loading.py` makes the sentence from it.
"""

from __future__ import annotations

import datetime as dt
from functools import partial
from pathlib import PurePosixPath, PureWindowsPath
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field
from pydantic_core import PydanticCustomError

from analyzer.job.closing import closing_rules
from analyzer.job.label_pattern import why_not_safe
from analyzer.job.version_numbers import version_number
from analyzer.job.words import why_not, word
from analyzer.schema import AS_RATIO, CATEGORIES

OWN_SENTENCE = "own_sentence"
"""Error type of our own validators: the message is the reason in words."""
WHOLE_ENTRY = "whole_entry"
"""The same, where the mistake lies in the entry and not in one key."""


def _known_word(category: str, value: Any) -> Any:
    if not isinstance(value, str):
        return value
    found = word(category, value)
    if found is None:
        raise PydanticCustomError(OWN_SENTENCE, "{why}", {"why": why_not(category, value)})
    return found


def _day(value: Any) -> Any:
    if isinstance(value, str):
        try:
            return dt.date.fromisoformat(value)
        except ValueError:
            raise PydanticCustomError(OWN_SENTENCE, "no date") from None
    return value


def _not_blank(value: str) -> str:
    if not value.strip():
        raise PydanticCustomError(OWN_SENTENCE, "empty")
    return value


def _inside(value: str) -> str:
    """A path that stays below the job folder, with forward slashes."""
    path = value.replace("\\", "/")
    if PureWindowsPath(path).drive or PurePosixPath(path).is_absolute() or ".." in path.split("/"):
        raise PydanticCustomError(OWN_SENTENCE, "it leads out of the job folder")
    return path


def _wavelength_key(value: Any) -> Any:
    """TOML writes every key as text; a wavelength is a number."""
    return int(value) if isinstance(value, str) and value.isascii() and value.isdecimal() and len(value) < 6 else value


def _closing_rule(value: str) -> str:
    if value not in closing_rules():
        raise PydanticCustomError(OWN_SENTENCE, "no rule of the closeout package")
    return value


def _by_glass(value: Any) -> Any:
    """One number for both kinds of glass, or one for each: always a table by kind of glass."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return dict.fromkeys(("multimode", "single_mode"), value)
    if not isinstance(value, dict):
        return value
    unknown = sorted(str(name) for name in value if name not in {"multimode", "single_mode"})
    if unknown or not value:
        why = f"{unknown[0]} is no kind of glass here" if unknown else "no number stands there"
        raise PydanticCustomError(OWN_SENTENCE, "{why}", {"why": why})
    return value


def _bounded_pattern(value: str) -> str:
    """A pattern of the safe subset; the reason is that of `label_pattern`."""
    why = why_not_safe(value)
    if why:
        raise PydanticCustomError(OWN_SENTENCE, "{why}", {"why": why})
    return value


def _dotted(value: str) -> str:
    """A version that others can be compared with."""
    if version_number(value) is None:
        raise PydanticCustomError(OWN_SENTENCE, "no dotted numbers, so no version can be compared with it")
    return value


def _ordered(value: list[int]) -> list[int]:
    if value[0] > value[1]:
        raise PydanticCustomError(OWN_SENTENCE, "the first is larger than the second")
    return value


def no_twins(value: list[Any]) -> list[Any]:
    """Refuse a list that names something twice."""
    if len(set(value)) < len(value):
        raise PydanticCustomError(OWN_SENTENCE, "one stands there twice")
    return value


def meets_reading(glass: str, wavelength_nm: int) -> None:
    """Refuse the other glass's second window: a limit for it would never meet a reading."""
    other, nominal = {"multimode": (1310, 1300), "single-mode": (1300, 1310)}[glass]
    if wavelength_nm == other:
        why = f"{glass} fiber is judged at {nominal} nm, also where {other} nm is written"
        raise PydanticCustomError(OWN_SENTENCE, "{why}", {"why": why})


def meets_readings(glass: str, value: list[int]) -> list[int]:
    """`meets_reading` for each of a list."""
    for wavelength_nm in value:
        meets_reading(glass, wavelength_nm)
    return value


def glass_of(fiber: str) -> str:
    """`multimode` for OM types, `single-mode` for OS types."""
    return "multimode" if fiber.startswith("OM") else "single-mode"


PAIR_TESTS = (
    "wire map", "length", "insertion loss", "NEXT", "PSNEXT", "ACR-F", "PSACR-F", "return loss", "propagation delay",
    "delay skew",
)  # fmt: skip
"""What a twisted-pair link must have been tested for, unless the job says otherwise."""
PAIR_PARAMETERS = tuple(
    name for name in CATEGORIES["parameter"] if name not in {"loss", "optical return loss", *AS_RATIO}
)
ACCURACY_LEVELS = CATEGORIES["accuracy_level"]


def _pair_parameter(value: str) -> str:
    if value not in PAIR_PARAMETERS:
        raise PydanticCustomError(OWN_SENTENCE, "no parameter of twisted pair")
    return value


def _level(value: Any) -> Any:
    """An accuracy level in any case: iiie means IIIe."""
    if not isinstance(value, str):
        return value
    bare = value.casefold().removeprefix("level").strip()
    found = next((level for level in ACCURACY_LEVELS if level.casefold() == bare), None)
    if found is None:
        raise PydanticCustomError(OWN_SENTENCE, "no accuracy level")
    return found


Text = Annotated[str, AfterValidator(_not_blank)]
Inside = Annotated[Text, AfterValidator(_inside)]
Version = Annotated[Text, AfterValidator(_dotted)]
Day = Annotated[dt.date, BeforeValidator(_day)]
Amount = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Number = Annotated[float, Field(allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0, le=9999)]
Days = Annotated[int, Field(ge=1, le=9999)]
Tests = Annotated[int, Field(ge=1, le=99_999_999)]
Failures = Annotated[int, Field(ge=0, le=99_999_999)]
LabelPattern = Annotated[Text, AfterValidator(_bounded_pattern)]
CountRange = Annotated[list[Count], Field(min_length=2, max_length=2), AfterValidator(_ordered)]
Wavelength = Annotated[int, Field(ge=600, le=1700)]
Wavelengths = Annotated[list[Wavelength], Field(min_length=1), AfterValidator(no_twins)]
MultimodeWavelengths = Annotated[Wavelengths, AfterValidator(partial(meets_readings, "multimode"))]
SingleModeWavelengths = Annotated[Wavelengths, AfterValidator(partial(meets_readings, "single-mode"))]
Fiber = Annotated[str, BeforeValidator(partial(_known_word, "type"))]
Construction = Annotated[str, BeforeValidator(partial(_known_word, "construction"))]
Grade = Annotated[str, BeforeValidator(partial(_known_word, "grade"))]
Configuration = Annotated[str, BeforeValidator(partial(_known_word, "configuration"))]
Fibers = Annotated[list[Fiber], Field(min_length=1), AfterValidator(no_twins)]
Constructions = Annotated[list[Construction], Field(min_length=1), AfterValidator(no_twins)]
EndType = Annotated[str, BeforeValidator(partial(_known_word, "end_type"))]
Ends = Annotated[list[EndType], Field(min_length=2, max_length=2)]
Reference = Annotated[str, BeforeValidator(partial(_known_word, "reference"))]
Segment = Annotated[str, BeforeValidator(partial(_known_word, "segment"))]
Standard = Annotated[str, BeforeValidator(partial(_known_word, "standard"))]
ClosingRuleName = Annotated[str, AfterValidator(_closing_rule)]
Parameter = Annotated[str, BeforeValidator(partial(_known_word, "parameter"))]
PairTests = Annotated[list[Annotated[Parameter, AfterValidator(_pair_parameter)]], AfterValidator(no_twins)]
Candidate = Literal["a", "b", "c", "d"]
AccuracyLevel = Annotated[str, BeforeValidator(_level)]
DecisionRule = Annotated[str, BeforeValidator(partial(_known_word, "decision_rule"))]
TakenAs = Annotated[str, BeforeValidator(partial(_known_word, "taken_as"))]
ConnectionGrade = Annotated[str, BeforeValidator(partial(_known_word, "connection_grade"))]
SpliceKind = Annotated[str, BeforeValidator(partial(_known_word, "splice_kind"))]
EndAllowance = Annotated[dict[str, Amount], BeforeValidator(_by_glass)]
Coefficients = dict[Annotated[Wavelength, BeforeValidator(_wavelength_key)], Amount]
