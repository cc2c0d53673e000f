"""The patterns that labels may be held against: a small part of regular expressions that cannot run away.

A repeat inside a repeat, such as `(a+)+`, can take longer than anybody waits in engines that try every way. Such
patterns are refused here, whatever engine reads them later, and so is what engines understand differently.
"""

from __future__ import annotations

import re
from typing import NamedTuple

LONGEST = 200
"""Signs of a pattern."""

MOST_REPEATS = 12
"""Repeats without a fixed count in one pattern."""

LARGEST_COUNT = 100
"""Largest count of a repeat, and of counts inside counts multiplied."""

_SAFE_ESCAPES = frozenset("dwsDWS.-_/\\()[]{}+*?|^$ :#&@=~,;'\"!%<>")
_COUNT = re.compile(r"\{(\d{1,4})(?:(,)(\d{0,4}))?\}")
_CLASS_ENDS = re.compile(r"\[\^?\]?(?:\\.|[^\]\\])*\]")


def why_not_safe(pattern: str) -> str:
    """Why a pattern is refused, as part of a sentence; empty where it is safe."""
    if len(pattern) > LONGEST:
        return f"longer than {LONGEST} signs"
    why = _Walk(pattern).why()
    if why:
        return why
    try:
        re.compile(pattern)
    except (re.error, RecursionError, OverflowError) as error:
        return f"no regular expression: {error}".split(" at position", maxsplit=1)[0]
    return ""


class _Inside(NamedTuple):
    """What stands inside an atom or a group: something that may vary (a repeat, a choice), the largest count."""

    varies: bool = False
    largest: int = 1


class _Walk:
    """One walk over the signs of a pattern, with what stands inside each open group."""

    def __init__(self, pattern: str) -> None:
        self.pattern = pattern
        self.repeats = 0
        self.open: list[_Inside] = []
        self.last: _Inside | None = None
        """The last atom or group, for a repeat that follows it; None where none stands before."""

    def why(self) -> str:
        at, end = 0, len(self.pattern)
        while at < end:
            sign = self.pattern[at]
            if sign == "(":
                if self.pattern.startswith("(?", at) and not self.pattern.startswith("(?:", at):
                    return "it looks ahead or behind, or sets a flag; only plain groups are accepted"
                self.open.append(_Inside())
                at, self.last = at + (3 if self.pattern.startswith("(?:", at) else 1), None
                continue
            if sign == ")":
                if not self.open:
                    return "a bracket is closed that was never opened"
                self.last = self.open.pop()
                self._mark(self.last)
                at += 1
                continue
            if sign in "*+?{":
                length, why = self._repeat(at)
                if why:
                    return why
                at, self.last = at + length, None
                continue
            if sign == "|":
                self._mark(_Inside(varies=True))
                at, self.last = at + 1, None
                continue
            length, why = self._atom(at)
            if why:
                return why
            at, self.last = at + length, _Inside()
        return "a bracket is never closed" if self.open else ""

    def _mark(self, inside: _Inside) -> None:
        if self.open:
            outer = self.open[-1]
            self.open[-1] = _Inside(outer.varies or inside.varies, max(outer.largest, inside.largest))

    def _repeat(self, at: int) -> tuple[int, str]:
        """Length of the repeat that begins at `at`, and why it is refused."""
        if self.last is None:
            return 0, "a repeat stands after nothing or after another repeat"
        sign, length, fixed, largest = self.pattern[at], 1, False, 1
        if sign == "{":
            count = _COUNT.match(self.pattern, at)
            if not count:
                return 0, "{ begins no count; write \\{ for the sign itself"
            length, fixed = len(count[0]), not count[2] or count[1] == count[3]
            largest = max(int(part) for part in (count[1], count[3], "1") if part)
        if self.last.varies and sign != "?":
            return 0, "a repeat or a choice stands inside a repeat: it could run away"
        if largest * self.last.largest > LARGEST_COUNT:
            return 0, f"a count above {LARGEST_COUNT}"
        self.repeats += not fixed
        self._mark(_Inside(not fixed, largest * self.last.largest))
        return length, f"more than {MOST_REPEATS} repeats" if self.repeats > MOST_REPEATS else ""

    def _atom(self, at: int) -> tuple[int, str]:
        """Length of the sign, escape or class that begins at `at`, and why it is refused."""
        sign = self.pattern[at]
        if sign == "\\":
            escaped = self.pattern[at + 1 : at + 2]
            if not escaped:
                return 0, "it ends in a backslash"
            if escaped not in _SAFE_ESCAPES:
                return 0, f"\\{escaped} is not accepted: engines read it differently"
            return 2, ""
        if sign == "[":
            whole = _CLASS_ENDS.match(self.pattern, at)
            if not whole:
                return 0, "a class [ is never closed"
            inner = whole[0][1:-1]
            if "[" in inner or any(sign not in _SAFE_ESCAPES for sign in re.findall(r"\\(.)", inner)):
                return 0, f"the class {whole[0]} is not accepted: engines read it differently"
            return len(whole[0]), ""
        return 1, ""
