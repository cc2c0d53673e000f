"""The words that people write for closed sets: fibers, grades, ends, reference methods.

Case, blanks, hyphens and slashes do not matter. A word that is not understood gives None, never a guess.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from analyzer.schema import CATEGORIES

_NUMBER_OF_CORDS: Mapping[str, str] = {
    "1": "one-cord", "one": "one-cord", "2": "two-cord", "two": "two-cord", "3": "three-cord", "three": "three-cord",
}  # fmt: skip
_GRADE_PREFIX = re.compile(r"^(category|cat|class)(?=.)")
_CORD_SUFFIX = re.compile(r"(testcord|cord|jumper)s?(reference|method)?$")


def _bare(text: str) -> str:
    return re.sub(r"[^0-9a-z]", "", text.casefold())


def word(category: str, text: str) -> str | None:
    """The member of `CATEGORIES[category]` that `text` means, None if it means none."""
    bare = _bare(text)
    if category == "reference":
        return _NUMBER_OF_CORDS.get(_CORD_SUFFIX.sub("", bare))
    if category == "grade":
        bare = _GRADE_PREFIX.sub("", bare)
    return {_bare(member): member for member in CATEGORIES[category]}.get(bare)


def accepted(category: str) -> str:
    """What may be written for a closed set, for a sentence."""
    return ", ".join(CATEGORIES[category])


def why_not(category: str, text: str) -> str:
    """A reason worth telling why `text` is not understood; empty where the list of what is accepted says enough."""
    if category == "reference" and re.fullmatch(r"(method)?[abc]\d?", _bare(text)):
        return "a letter names different methods in different documents"
    return ""
