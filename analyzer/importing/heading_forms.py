"""What stands in a heading by its form: unit, direction, wavelength, pair. Each is taken out of the text."""

from __future__ import annotations

import re

from analyzer.importing import facts
from analyzer.importing.words import folded, phrases, plain, units

_BRACKET_UNIT = re.compile(r"[\[(]\s*(?:in |en |en |w )?([a-zµΩω°%]+)\s*[\])]", re.IGNORECASE)
_LAST_UNIT = re.compile(
    r"(?:[\s_,/]|\bin |^)(dbm?|m|ft|km|ns|us|µs|ghz|mhz|khz|hz|ohms?|feet|met(?:er|re)s?|ω)\s*$", re.IGNORECASE
)
WAVE = re.compile(
    r"(?<![\d.,/])(?:λ\s*=?\s*)?((?:850|953|1300|1310|1383|1490|1550|1577|1625|1650)(?:[.,]0+)?(?=\s*nm|nm|[^\d.,/]|$)|\d{3,4}(?=\s?nm)|[01][.,]\d{1,3}(?=\s?[µuμ]m\b))\s*(nm|[µuμ]m)?",
    re.IGNORECASE,
)
_PAIR = re.compile(
    r"(?<![\d.])(?:[1-8][-,/]?[1-8]\s?[-/–]\s?[1-8][-,/]?[1-8]|(?:12|36|45|78)|[1347][-,/][2568])(?![\d.])(?!\s*nm)"
)
_BRACKET_PAIR = re.compile(r"[(\[]\s*([1-8])\s*[-,/]\s*([1-8])\s*[)\]]")
_SECOND_PAIR = re.compile(
    r"(?i)\s*(?:vs\.?|versus|to|and|on|[-–/&+→]|->)?\s*(?:pair\s*)?([1-8][-,/][1-8]|12|36|45|78)(?![\d.])(?!\s*nm)"
)
DIRECTION = re.compile(
    r"(?<![A-Za-z0-9])(?:(?:end|side|ende|seite)\s*)?([AB12])\s*(?:-+>?|–|—|→|=+>|>+|»|⇒|➔|<-+|<+|←|/?to/?|/|\bto\b|\ba\b|nach|vers|naar|para|hacia)\s*(?:(?:end|side|ende|seite)\s*)?([AB12])(?![A-Za-z0-9])",
    re.IGNORECASE,
)


def take_unit(parts: tuple[str, ...]) -> tuple[str, str]:
    """Remove the unit; the innermost one counts."""
    unit, rest = "", []
    for part in parts:
        for match in _BRACKET_UNIT.finditer(part):
            if plain(match[1]) in units():
                unit = units()[plain(match[1])]
        bare = _BRACKET_UNIT.sub(lambda match: " " if plain(match[1]) in units() else match[0], part)
        last = _LAST_UNIT.search(bare)
        if last and plain(last[1]) in units():
            unit = units()[plain(last[1])]
            bare = bare[: last.start()]
        rest.append(bare)
    return " ".join(rest), unit


def take_direction(text: str) -> tuple[str, str]:
    """Remove the direction, such as `A -> B`."""
    match = DIRECTION.search(text)
    if match and match[1].lower() != match[2].lower() and match[1].isdigit() == match[2].isdigit():
        between = text[match.end(1) : match.start(2)]
        looks_pair = match[1].isdigit() and re.search("[-/]", between) and ">" not in between
        looks_pair = looks_pair and ("end" not in match[0].lower() or _is_pair_after_end(text, match))
        found = facts.direction(re.sub(r"(?i)end|side|ende|seite", " ", match[0]))
        if found and "/" in between and "to" not in between.lower():
            rest = text[: match.start(1)] + " " + text[match.end(2) :]
            if _asks_which(rest):
                return rest, ""
        if found and not looks_pair:
            return text[: match.start()] + " " + text[match.end() :], found
    return text, ""


def _is_pair_after_end(text: str, match: re.Match[str]) -> bool:
    """Whether the word before `1-2` is the last of `far-end`, or `1-2` the first of `1-2/3-6`: no ends are counted."""
    return bool(
        re.search(r"(?i)(far|near)[ -]?$", text[: match.start()]) or re.match(r"\s?[-/–]\s?[1-8]", text[match.end() :])
    )


def _asks_which(rest: str) -> bool:
    """Whether `A/B` stands for `A or B`: in `Direction (A/B)` and `End A/B` the cells tell which it is."""
    return any(kind == "role" and value in {"direction", "end"} for kind, value in phrases().get(folded(rest), []))


def take_wavelength(text: str) -> tuple[str, int]:
    """Remove the wavelength; -1 where none stands."""
    match = WAVE.search(text)
    if not match:
        return text, -1
    wave = facts.wavelength_nm(match[1] + (match[2] or ""))
    if wave < 0:
        return text, -1
    return text[: match.start()] + " " + text[match.end() :], wave


def take_pair(text: str) -> tuple[str, str]:
    """Remove the pair, or both pairs of a combination: `(1,2)-(3,6)`, `12 vs 36`."""
    text = _BRACKET_PAIR.sub(r"\1-\2", text)
    match = _PAIR.search(text)
    found = facts.pair(match[0]) if match else ""
    if not match or not found:
        return text, ""
    rest = text[: match.start()] + " " + text[match.end() :]
    second = _SECOND_PAIR.match(text, match.end())
    both = facts.pair(f"{match[0]}/{second[1]}") if second and "/" not in found else ""
    if second and both:
        rest = text[: match.start()] + " " + text[second.end() :]
    return rest, both or found
