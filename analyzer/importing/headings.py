"""What one column means: the words of its heading, in any order, in any of the known languages.

`understand(parts)` takes the heading of a column from the outermost group heading to the innermost line and gives a
`Heading`. Wavelength, direction, pair and unit are found by their form; the rest by the longest known phrases of
`vocabulary.csv`. A phrase that is only nearly known counts with its score, and `why` says so.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from analyzer.importing import facts
from analyzer.importing.heading_forms import (
    DIRECTION,
    WAVE,
    take_direction,
    take_pair,
    take_unit,
    take_wavelength,
)
from analyzer.importing.words import folded, heading_words, longest_phrase, phrases
from analyzer.schema import CATEGORIES

_MEASURED = {"value", "limit", "margin", "verdict"}
_ATTRIBUTE_ROLES = {
    "label", "cable", "strand", "end A label", "end B label", "place A", "place B", "area", "note", "project",
}  # fmt: skip
_VERSIONS = {"software version", "firmware version", "limit table version"}
_AS_WRITTEN = {*_VERSIONS, "project"}
"""Roles that a heading has only if every word of it is known: `Project lead` names no project."""
GUESSED_LOSS = "no word says what was measured; beside a wavelength or dB it is taken as loss"
NEAR_MISS = 83.0
"""Least rapidfuzz ratio (0 to 100) at which an unknown word is taken for a known one."""
NEAR_WHOLE = 89.0
"""The same for a phrase of several words as a whole."""


@dataclass(frozen=True)
class Heading:
    """What a heading says. Empty texts and -1 where it does not say it."""

    text: str
    role: str = "ignored"
    parameter: str = ""
    wavelength_nm: int = -1
    pair: str = ""
    end: str = ""
    direction: str = ""
    unit: str = ""
    statistic: str = ""
    frequency_mhz: float = -1.0
    about: str = ""
    """Of a column that places a worst point (frequency, pair): whose point, "margin", "limit" or "value"."""
    sure: float = 0.0
    why: str = ""

    @property
    def known(self) -> bool:
        """Whether the heading means anything."""
        return self.role != "ignored" or bool(self.statistic)


@dataclass
class _Found:
    kinds: dict[str, list[str]]
    unknown: list[str]
    near: list[str]
    score: float


@lru_cache(maxsize=16384)
def understand(parts: tuple[str, ...]) -> Heading:
    """What a column headed by `parts` (outermost group first) means. Never raises."""
    text = " / ".join(part for part in parts if part)
    if not text or len(text) > 300:
        return Heading(text, why="no heading" if not text else "too long for a heading")
    undated = tuple(facts.undated(part) for part in parts)
    if undated == parts:
        return _compose(text, parts)
    heading = _compose(text, undated)
    return replace(heading, why=f"near miss: a date read back as pair {heading.pair}; {heading.why}")


_AT_FREQUENCY = re.compile(
    r"(?:@\s*|\bat\s+)?(?<![\w.,/–-])(?<!\bto )(?<!\bbis )(\d+(?:[.,]\d+)?)\s*([kmg])hz\b", re.IGNORECASE
)
_MHZ = {"k": 1e-3, "m": 1.0, "g": 1e3}


def _compose(text: str, parts: tuple[str, ...]) -> Heading:
    """The heading, and the one frequency that `NEXT 12-36 @ 100 MHz` names; alone it heads values of rows."""
    found = [match for part in parts for match in _AT_FREQUENCY.finditer(part)]
    if len(found) != 1:
        return _compose_words(text, parts)
    mhz = float(found[0][1].replace(",", ".")) * _MHZ[found[0][2].lower()]
    rest = tuple(_AT_FREQUENCY.sub(" ", part).strip() for part in parts)
    if not any(rest):
        why = "a frequency alone: a value of each row"
        return Heading(text, role="value", frequency_mhz=mhz, sure=0.9, why=why)
    heading = _compose_words(text, rest)
    if heading.role in _MEASURED and heading.parameter:
        return replace(heading, frequency_mhz=mhz, why=f"{heading.why}; at {mhz:g} MHz")
    return _compose_words(text, parts)


def _compose_words(text: str, parts: tuple[str, ...]) -> Heading:
    joined = " ".join(part for part in parts if part)
    rest, unit = take_unit(parts)
    rest, direction = take_direction(rest)
    rest, wave = take_wavelength(rest)
    rest, pair = take_pair(rest)
    found = _match(rest, rest_is_all=not (direction or wave > 0 or pair or unit))
    kinds = found.kinds
    direction = direction or _last(kinds, "direction")
    end = _one_end(kinds)
    unit = unit or _last(kinds, "unit")
    base = Heading(
        text, wavelength_nm=wave, pair=pair or _last(kinds, "pair"), end=end, direction=direction, unit=unit,
        statistic=_last(kinds, "statistic"), sure=round(found.score, 2),
    )  # fmt: skip
    base = _of_colored_pair(_place_of_point(base, kinds, found, joined) or _role(base, kinds, joined), kinds)
    least = 1.0 if base.role in _AS_WRITTEN else 0.4 if base.role in _MEASURED else 0.6
    if base.role != "ignored" and base.sure < least:
        return replace(
            base, role="ignored", parameter="", why=f"too many unknown words: {' '.join(found.unknown or found.near)}"
        )
    return replace(base, why=_why(base, found))


_OF_PAIRS = frozenset(CATEGORIES["parameter"]) - {"loss", "optical return loss", "length", "wire map", "delay skew"}


def _of_colored_pair(base: Heading, kinds: dict[str, list[str]]) -> Heading:
    """`NEXT orange/blue`: the colors of the wires stand for pairs, which the wiring scheme tells."""
    colors = sorted(set(kinds.get("pair color", [])))
    if base.pair or not 0 < len(colors) <= 2 or base.role not in _MEASURED or base.parameter not in _OF_PAIRS:
        return base
    return replace(base, pair="/".join(colors))


def _match(text: str, *, rest_is_all: bool) -> _Found:
    """Longest known phrases from left to right; what stays unknown is compared with the vocabulary by spelling."""
    words = folded(text).split()
    kinds: dict[str, list[str]] = {}
    unknown: list[str] = []
    position, matched = 0, 0
    while position < len(words):
        for size in range(min(longest_phrase(), len(words) - position), 0, -1):
            phrase = " ".join(words[position : position + size])
            if phrase in phrases() and (size == len(words) or not _only_alone(phrase)):
                _add(kinds, phrase)
                position += size
                matched += size
                break
        else:
            unknown.append(words[position])
            position += 1
    near: list[str] = []
    score = 1.0
    if unknown:
        unknown, near, score = _nearly(words, unknown, kinds)
        if unknown:
            letters = sum(map(len, words))
            lost = sum(map(len, unknown))
            score *= max(1 - lost / max(letters, 1), 0.0) if (matched or near or not rest_is_all) else 0.0
            if matched and letters and not near:
                score = max(score, 0.3)
    return _Found(kinds, unknown, near, score)


def _only_alone(phrase: str) -> bool:
    """Phrases of one letter mean something only as a whole heading, ends excepted."""
    return (
        len(phrase) == 1 and phrases()[phrase][0][0] != "filler" and not any(k == "end" for k, _ in phrases()[phrase])
    )


def _add(kinds: dict[str, list[str]], phrase: str) -> None:
    if any(kind != "filler" for kind, _ in phrases()[phrase]):
        kinds["last phrase"] = [phrase]
    for kind, value in phrases()[phrase]:
        kinds.setdefault(kind, []).append(value)
        kinds.setdefault(f"{kind} phrase", []).append(phrase)


def _nearly(words: list[str], unknown: list[str], kinds: dict[str, list[str]]) -> tuple[list[str], list[str], float]:
    from rapidfuzz import fuzz, process

    whole = process.extractOne(" ".join(words), _whole_choices(), scorer=fuzz.ratio, score_cutoff=NEAR_WHOLE)
    if whole is not None and len(words) > 1:
        kinds.clear()
        _add(kinds, whole[0])
        return [], [f"{' '.join(words)!r} read as {whole[0]!r} ({whole[1] / 100:.2f} alike)"], whole[1] / 100
    left, near, least = [], [], 1.0
    for word in unknown:
        if len(word) < 4 or any(letter.isdigit() for letter in word):
            left.append(word)
            continue
        best = process.extractOne(word, _fuzzy_choices(), scorer=fuzz.ratio, score_cutoff=NEAR_MISS)
        if best is None:
            left.append(word)
            continue
        phrase, ratio, _ = best
        _add(kinds, phrase)
        near.append(f"{word!r} read as {phrase!r} ({ratio / 100:.2f} alike)")
        least = min(least, ratio / 100)
    return left, near, least


@lru_cache(maxsize=1)
def _whole_choices() -> list[str]:
    return [phrase for phrase in phrases() if len(phrase) >= 8 and " " in phrase]


@lru_cache(maxsize=1)
def _fuzzy_choices() -> list[str]:
    return [
        phrase for phrase, meanings in phrases().items()
        if len(phrase) >= 4 and " " not in phrase and meanings[0][0] != "pair color"  # `range` is no misspelled orange
    ]  # fmt: skip


def _last(kinds: dict[str, list[str]], kind: str) -> str:
    return kinds[kind][-1] if kinds.get(kind) else ""


def _one_end(kinds: dict[str, list[str]]) -> str:
    """The end that a heading names; none where it names both, for then no word tells which was meant.

    A lone `a` is also a preposition: beside another end it is not counted.
    """
    if "end" not in kinds:
        return ""
    named = list(zip(kinds["end"], kinds["end phrase"], strict=True))
    sure = [end for end, phrase in named if phrase != "a"] or [end for end, _ in named]
    return sure[-1] if len(set(sure)) == 1 else ""


FREQUENCY_UNITS = frozenset({"Hz", "kHz", "MHz", "GHz"})
_NUMBER_OF_HZ = re.compile(r"\d\s*[kmg]?hz\b", re.IGNORECASE)
_PREPOSITION_A = re.compile(r"(?i)(?:à|\ba)\s*[(\[]?\s*[kmg]?hz")


def _place_of_point(base: Heading, kinds: dict[str, list[str]], found: _Found, joined: str) -> Heading | None:
    """`NEXT worst margin freq`, `IL limit at (MHz)`, `NEXT margin pair`: where a worst point lies, not what was read there.

    A unit of frequency without a number says so whatever the words; a word for frequency does unless another unit says
    that the cells are values.
    """
    parameter, roles = _parameter(kinds), kinds.get("role", [])
    part = next((name for name in ("margin", "limit", "value") if name in kinds.get("part", [])), "")
    if not (parameter or part) or parameter in _NOT_OVER_FREQUENCY or kinds.get("part", [""])[-1] == "limit name":
        return None
    unit = next((one for one in (base.unit, *reversed(kinds.get("unit", []))) if one in FREQUENCY_UNITS), "")
    by_unit = bool(unit) and not _NUMBER_OF_HZ.search(joined)
    by_word = not base.unit and ("frequency" in roles or found.unknown == ["f"])
    if by_unit or by_word:
        end = "" if kinds.get("end phrase") == ["a"] and _PREPOSITION_A.search(joined) else base.end
        return replace(base, role="frequency", parameter=parameter, unit=unit, end=end, about=part)
    if (
        parameter
        and part in {"margin", "limit"}
        and not base.unit
        and ("role", "pair") in phrases().get(_last(kinds, "last phrase"), [])
    ):
        return replace(base, role="pair", parameter=parameter, about=part)
    return None


_NOT_OVER_FREQUENCY = frozenset(
    {
        "loss",
        "length",
        "optical return loss",
        "wire map",
        "delay skew",
        "loop resistance",
        "resistance unbalance",
        "power",
    }
)


def _role(base: Heading, kinds: dict[str, list[str]], joined: str) -> Heading:
    parameter = _parameter(kinds)
    roles = kinds.get("role", [])
    part = _part(kinds)
    if any(role in _VERSIONS for role in roles):
        # the software of a limit is no limit, and the date of a version no date of a test
        last = phrases().get(_last(kinds, "last phrase"), [])
        return replace(base, role=roles[-1] if ("role", roles[-1]) in last and roles[-1] in _VERSIONS else "note")
    specific = [role for role in roles if role not in _ATTRIBUTE_ROLES]
    said = {
        "direction": base.direction, "wavelength": base.wavelength_nm > 0, "pair": base.pair, "unit": base.unit,
        "end": base.end or base.direction,
    }  # fmt: skip
    specific = [role for role in specific if not said.get(role) or (role == "wavelength" and base.unit == "nm")]
    roles = [role for role in roles if role in _ATTRIBUTE_ROLES or role in specific]
    if base.end and "label" in roles and not specific and not parameter:
        return replace(base, role=f"end {base.end} label")
    if part in {"limit", "limit name", "margin", "verdict"}:
        if part == "limit" and "name" in folded(joined).split():
            part = "limit name"
        return replace(base, role=part, parameter=parameter or _parameter_of_length(specific))
    if parameter and specific and specific[-1] in {"pair", "end", "frequency"} and base.unit != "dB":
        return replace(base, role=specific[-1], parameter=parameter)
    if parameter and not _is_fact_about(specific):
        role = {"frequency": "frequency"}.get(specific[-1] if specific else "", "value")
        return replace(base, role=role, parameter=parameter)
    if specific and phrases().get(_last(kinds, "last phrase")) == [("role", "note")]:
        return replace(
            base, role="note"
        )  # the color of the jacket is no construction, the version of a tester no tester
    if specific:
        return replace(base, role=_most_specific(specific, kinds), parameter="length" if "length" in specific else "")
    if base.unit in {"m", "km", "ft"} and not (parameter or part or roles or base.wavelength_nm > 0):
        return replace(base, role="length", parameter="length", sure=min(base.sure, 0.9))
    if base.unit == "dBm":
        return replace(base, role="value", parameter="power")
    if base.wavelength_nm > 0 and not roles:
        return replace(base, role="value", parameter="loss", sure=min(base.sure, 0.9))
    if roles or kinds.get("place"):
        return replace(base, role=_named(base, roles, kinds))
    if base.direction and not part:
        return replace(base, role="value", parameter="", sure=min(base.sure, 0.8))
    if part in {"value", "result"} or base.unit == "dB":
        taken = base.unit == "dB" and part != "result" and not base.pair  # a pair has a dozen parameters in dB
        return replace(base, role="value", parameter="loss" if taken else "")
    if base.end and not kinds.get("statistic"):
        return replace(base, role=f"end {base.end} label", sure=min(base.sure, 0.9))
    return base


def _parameter(kinds: dict[str, list[str]]) -> str:
    found = kinds.get("parameter", [])
    return found[-1] if found else ""


def _parameter_of_length(specific: list[str]) -> str:
    return "length" if "length" in specific else ""


def _part(kinds: dict[str, list[str]]) -> str:
    parts = kinds.get("part", [])
    for wanted in ("limit name", "margin", "limit", "verdict"):
        if wanted in parts:
            return wanted
    return parts[-1] if parts else ""


_ABOUT = {
    "wavelength", "direction", "parameter", "unit", "reference", "tested at", "date", "tester", "operator",
    "calibrated on", "reference power", "type", "group index", "accuracy", "record number", "mated pairs", "splices",
    "end types", "configuration", "velocity", "temperature", "accuracy level", "wiring scheme", "screen", *_VERSIONS,
}  # fmt: skip


def _is_fact_about(specific: list[str]) -> bool:
    return any(role in _ABOUT for role in specific)


def _most_specific(specific: list[str], kinds: dict[str, list[str]]) -> str:
    """Several roles in one heading: the longest phrase knows best, later words before earlier ones."""
    pairs = [
        (len(phrase.split()), number, role)
        for number, (role, phrase) in enumerate(zip(kinds["role"], kinds["role phrase"], strict=True))
        if role in specific
    ]
    longest = max(size for size, _, _ in pairs)
    first_of_last = [(number, role) for size, number, role in pairs if size == longest]
    last_phrase = kinds["role phrase"][first_of_last[-1][0]]
    return next(role for number, role in first_of_last if kinds["role phrase"][number] == last_phrase)


def _named(base: Heading, roles: list[str], kinds: dict[str, list[str]]) -> str:
    """Labels and places, with the end they belong to."""
    if kinds.get("place"):
        if base.end:
            return f"place {base.end}"
        explicit = [role for role in roles if role in {"place A", "place B"}]
        return explicit[-1] if explicit else "area"
    if base.end and roles and roles[0] in {"label", "cable", "strand"}:
        return f"end {base.end} label"
    order = [role for role in roles if role in {"cable", "strand", "label"}]
    whole = kinds["role phrase"]
    if len(set(whole)) == 1:
        return roles[0]
    if not order and "note" in roles:  # what is said about a project is not its name
        return "note"
    return order[-1] if order else roles[-1]


def _why(heading: Heading, found: _Found) -> str:
    said = []
    if found.near:
        said.append("near miss: " + "; ".join(found.near))
    if (
        heading.role in _MEASURED
        and not (heading.end or heading.direction)
        and len(set(found.kinds.get("end", []))) > 1
    ):
        said.append("near miss: both ends are named, so neither is taken")
    if found.unknown and heading.role != "ignored":
        said.append("unknown words: " + " ".join(found.unknown))
    if heading.role == "value" and heading.parameter == "loss" and "parameter" not in found.kinds:
        said.append(GUESSED_LOSS)
    if heading.role == "value" and heading.pair and not heading.parameter:
        said.append("no word names the parameter")
    if heading.role == "ignored":
        said.append("no known word" if not found.kinds else "no role in these words")
    return "; ".join(said) or "every word is known"


def parameters_in(text: str) -> frozenset[str]:
    """Every parameter that the words of a text name."""
    return frozenset(_match(text, rest_is_all=False).kinds.get("parameter", []))


def is_exact(text: str) -> bool:
    """Whether a heading is a known phrase as it stands, unit and brackets apart."""
    return folded(take_unit((text,))[0]) in phrases()


def could_be_heading(text: str) -> bool:
    """Quick test before `understand`: some word is known, or a wavelength, direction or unit stands in it."""
    if not text or len(text) > 120:
        return False
    return any(word in heading_words() for word in folded(text).split()) or bool(
        WAVE.search(text) or DIRECTION.search(text)
    )
