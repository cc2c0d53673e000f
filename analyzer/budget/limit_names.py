"""The name of the limit that a tester had loaded: which family, edition, grade and configuration it states."""

from __future__ import annotations

import csv
import re
import unicodedata
from functools import cache, lru_cache
from importlib.resources import files
from typing import NamedTuple

from analyzer.standards import Values
from analyzer.standards.editions import PAIR_EDITIONS

_STUCK = re.compile(r"\b(cat|category|kat|class|klasse|classe)(?=\d|ea\b|fa\b|[def]\b)")


class LimitName(NamedTuple):
    """What a name states; "" where it does not say, or says two things."""

    standard: str = ""
    edition: str = ""
    grade: str = ""
    configuration: str = ""
    other: str = ""
    """What it speaks of for which no limit stands here."""

    @property
    def says_something(self) -> bool:
        """Some word of it was understood."""
        return any(self)


def read_limit_name(text: str, values: Values) -> LimitName:
    """What the name of a limit states: "TIA Cat 6A Perm. Link" is TIA, 6A, permanent link.

    Two grades of two families ("class EA, Cat 6A") are read by the family that the name states.
    """
    said = _words_said(text)
    standard = _only(said["standard"])
    edition, of_family = _edition(text, standard, values)
    standard = standard or of_family
    grades = said["grade"]
    if standard and len(grades) > 1:
        grades = [grade for grade in grades if standard in _families(values).get(grade, ())]
    return LimitName(standard, edition, _only(grades), _only(said["configuration"]), next(iter(said["other"]), ""))


def families_of(values: Values, grade: str) -> tuple[str, ...]:
    """Families of standards that have a grade: 6A belongs to TIA, EA to ISO."""
    return _families(values).get(grade, ())


@lru_cache(maxsize=16)
def _families(values: Values) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for row in values.rows(PAIR_EDITIONS):
        for grade in row["grades"].split():
            found[grade] = tuple(dict.fromkeys((*found.get(grade, ()), row["standard"])))
    return found


def _only(words: list[str]) -> str:
    return words[0] if len(words) == 1 else ""


def _edition(text: str, standard: str, values: Values) -> tuple[str, str]:
    """Edition and its family, by the longest spelling that stands in the text; "" where none does."""
    plain = text.casefold().replace(" ", "")
    best, family, length = "", "", 0
    for row in values.rows(PAIR_EDITIONS):
        if standard and row["standard"] != standard:
            continue
        for name in (row["edition"], *(row["aliases"] or "").split("|")):
            spelling = name.casefold().replace(" ", "")
            if len(spelling) > max(length, 4) and spelling in plain:
                best, family, length = row["edition"], row["standard"], len(spelling)
    return best, family


@lru_cache(maxsize=4096)
def _words_said(text: str) -> dict[str, list[str]]:
    """Values of each field that the text names; longer words are taken first and out of it."""
    folded = unicodedata.normalize("NFKC", text).casefold()
    plain = _STUCK.sub(r"\1 ", re.sub(r"[^a-z0-9]+", " ", folded))
    rest = f" {plain.strip()} "
    said: dict[str, list[str]] = {"standard": [], "grade": [], "configuration": [], "other": []}
    for words, field, value in _phrases():
        if f" {words} " in rest:
            rest = rest.replace(f" {words} ", "  ")
            if value not in said[field]:
                said[field].append(value)
    return said


@cache
def _phrases() -> tuple[tuple[str, str, str], ...]:
    """Every phrase with its field and value, the longest first."""
    lines = (files("analyzer.budget") / "limit_names.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    found = [(words, row["field"], row["value"]) for row in rows for words in row["words"].split("|")]
    return tuple(sorted(found, key=lambda one: (-len(one[0]), one)))
