"""Words of a question about twisted pair, as people write them, brought to those of the values files."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from typing import Final

from analyzer.errors import OptionError
from analyzer.schema import CATEGORIES
from analyzer.standards.tables import CONDITIONS

_GRADE_WORDS: Final = re.compile(r"^(?:category|cat\.?|class)\s*", re.IGNORECASE)
_ENVIRONMENT: Final = re.compile(r"^e[1-3]$", re.IGNORECASE)


def known_word(what: str, text: str, known: Sequence[str]) -> str:
    """The one of `known` that `text` is, whatever its case and blanks.

    Raises:
        OptionError: it is none of them; all are listed.
    """
    plain = " ".join(text.split()).casefold()
    for word in known:
        if word.casefold() == plain:
            return word
    raise OptionError(f"{what} {text!r} is not known; known are {', '.join(known)}")


def known_grade(text: str) -> str:
    """The category or class: "Cat 6a" -> "6A", "class EA" -> "EA".

    Raises:
        OptionError: no such grade.
    """
    return known_word("grade", _GRADE_WORDS.sub("", text.strip()), CATEGORIES["grade"])


def known_conditions(given: str | Collection[str] | None) -> tuple[str, ...]:
    """Conditions of a link; "E1" stands for "environment E1".

    Raises:
        OptionError: a condition under which no limit changes.
    """
    every = tuple(word for group in CONDITIONS for word in group)
    words = (f"environment {word.strip()}" if _ENVIRONMENT.match(word.strip()) else word for word in words_of(given))
    return tuple(known_word("condition", word, every) for word in words)


def words_of(given: str | Collection[str] | None) -> tuple[str, ...]:
    """One word, several or none, in one order."""
    if given is None:
        return ()
    return (given,) if isinstance(given, str) else tuple(sorted(given))
