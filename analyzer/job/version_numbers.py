"""Versions of software as dotted numbers: 5.10 comes after 5.9, and 5.1 is 5.1.0. A convention of ours, no source."""

from __future__ import annotations

import re

_VERSION = re.compile(
    r"(?:version|ver|v|release|rel|revision|rev|r)?[. ]*([0-9]{1,9}(?:[.,_-][0-9]{1,9}){0,7})"
    r"(?:[ ,;]*\((?:build|b)?[. ]*[0-9]{1,12}\)|[ ,;]+(?:build|b)[. ]*[0-9]{1,12})?",
    re.IGNORECASE | re.ASCII,
)


def version_number(text: str) -> tuple[int, ...] | None:
    """Parts of a version, zeros at the end left out, so that tuples compare as versions do; None where it is no number.

    A word for version before it and the number of a build behind it do not count: `v5.1.0 (build 2207)` is (5, 1).
    """
    found = _VERSION.fullmatch(text.strip())
    if found is None:
        return None
    parts = [int(part) for part in re.split(r"[.,_-]", found[1])]
    while len(parts) > 1 and parts[-1] == 0:
        parts.pop()
    return tuple(parts)
