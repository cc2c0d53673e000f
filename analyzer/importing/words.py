"""The two lists of words, loaded once: `vocabulary.csv` for headings, `cell_words.csv` for cells.

`folded` is the form in which words are compared: small letters without accents, one spelling of fiber, no hyphens.
"""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Iterator
from functools import cache, lru_cache
from importlib import resources

Meaning = tuple[str, str]
"""(kind, value), for example ("parameter", "loss")."""

_FIBER = re.compile(r"\bfibre(?=\b|s\b|[ _-])")


def rows_of(name: str) -> Iterator[dict[str, str]]:
    """Rows of a data file of this room; lines that begin with # are comments."""
    text = resources.files("analyzer.importing").joinpath(name).read_text("utf-8")
    return iter(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


def plain(text: str) -> str:
    """Small letters without accents, compatibility forms resolved (µ, full-width digits), spaces collapsed."""
    if text.isascii():
        return " ".join(text.lower().split())
    decomposed = unicodedata.normalize("NFKD", text.replace("\u2126", "ω").replace("Ω", "ω"))
    bare = "".join(letter for letter in decomposed if not unicodedata.combining(letter))
    return " ".join(bare.casefold().split())


_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z][a-z])")


@lru_cache(maxsize=65536)
def folded(text: str) -> str:
    """The form in which headings are compared."""
    spread = _CAMEL.sub(" ", text.replace("\u03bb", " wl ").replace("λ", " wl "))
    bare = plain(spread.replace("μ", "µ"))
    bare = bare.replace("#", " no ").replace("№", " no ").replace("º", " ").replace("°c", " degc ")
    bare = re.sub(r"\b(no|nr|num|n)\.", r"\1 ", bare)
    bare = re.sub(r"[_.:;()\[\]{}\"'’`/\\|,*?!=+<>&@~^\-–—]", " ", bare)
    bare = re.sub(r"\bfibres\b", "fibers", bare)
    bare = re.sub(r"\bfibre\b", "fiber", bare)
    return " ".join(bare.split())


@cache
def phrases() -> dict[str, list[Meaning]]:
    """Every phrase of headings in folded form, with what it can mean; English meanings first."""
    found: dict[str, list[Meaning]] = {}
    for row in rows_of("vocabulary.csv"):
        for phrase in row["phrases"].split("|") if row["kind"] != "event" else ():
            meaning = (row["kind"], row["value"])
            meanings = found.setdefault(folded(phrase), [])
            if meaning not in meanings:
                meanings.append(meaning)
    return found


@cache
def event_phrases() -> dict[str, tuple[str, ...]]:
    """Headings of event tables in folded form, with what each can mean there; elsewhere they mean something else."""
    found: dict[str, tuple[str, ...]] = {}
    for row in rows_of("vocabulary.csv"):
        for phrase in row["phrases"].split("|") if row["kind"] == "event" else ():
            said = found.get(folded(phrase), ())
            found[folded(phrase)] = said if row["value"] in said else (*said, row["value"])
    return found


@cache
def longest_phrase() -> int:
    """Words of the longest phrase."""
    return max(len(phrase.split()) for phrase in phrases())


@cache
def heading_words() -> frozenset[str]:
    """Every single word that stands in some phrase: a quick test whether a text can be a heading at all."""
    return frozenset(word for phrase in phrases() for word in phrase.split())


@cache
def cell_words() -> dict[str, dict[str, str]]:
    """For each kind of cell word, the plain form of each phrase and its value."""
    found: dict[str, dict[str, str]] = {}
    for row in rows_of("cell_words.csv"):
        table = found.setdefault(row["kind"], {})
        for phrase in row["phrases"].split("|"):
            table.setdefault(plain(phrase), row["value"])
    return found


def word(kind: str, text: str) -> str | None:
    """What a cell's text means as `kind` (verdict, reference, end_type ...), or None."""
    return cell_words()[kind].get(plain(text))


@cache
def set_aside_codes() -> dict[str, tuple[str, str]]:
    """For each set-aside code: the account it stands in, and its sentence."""
    return {row["code"]: (row["counts_as"], row["reason"]) for row in rows_of("set_aside_codes.csv")}


@cache
def units() -> dict[str, str]:
    """Spellings of units in plain form, and the unit."""
    return {
        plain(phrase): row["value"]
        for row in rows_of("vocabulary.csv")
        if row["kind"] == "unit"
        for phrase in row["phrases"].split("|")
    }
