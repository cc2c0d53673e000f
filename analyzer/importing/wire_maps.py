"""Wire maps as people and testers write them, told in one notation.

`told(text)` gives parts separated by "; ", "" where nothing in the text is a wire map:

    contacts 1-1 2-2 3-6 4-0 ...    contact of end A - contact of end B; 0: it arrives nowhere
    open 4 5 @ 32.0                 contacts, and the distance in meters where one stands there
    short 1 2 · reversed 1 2 · crossed 1 2 3 6 · split 3 6 4 5 · miswire
    screen open · screen continuous
    scheme T568A T568B              end A, end B
    straight · pass · fail          what is only declared

Words of faults stand in cell_words.csv, in seven languages. Each distinct text is read once.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache, lru_cache

import numpy as np
import pandas as pd

from analyzer.importing import facts
from analyzer.importing.cells import FACTORS
from analyzer.importing.grid import CellColumn
from analyzer.importing.words import cell_words, plain, units, word

_ROW = re.compile(r"[0-8xo]{8}[s9]?")
_LIST = re.compile(r"(?<![\d.,])([1-8s])\s*(?:-+>?|=+>?|:|>|→|–|—)\s*([0-8xos])(?![\d.]|,\d)")
_DISTANCE = re.compile(r"(?:@|\bat\b|\bbei\b|\bnach\b|\ba\b|\ben\b|\bop\b|\bem\b|\bin\b)?\s*(\d+(?:[.,]\d+)?)\s*(m|ft|feet|foot|meters?|meters?)\b")  # fmt: skip
_SCHEME = re.compile(r"(?:t|tia\s?)?-?568\s?-?\s?([ab])\b")
_FAULTS = ("open", "short", "reversed", "crossed", "split", "miswire")


@cache
def _words() -> re.Pattern[str]:
    """Any word of a fault or a screen, longest first."""
    phrases = sorted((phrase for phrase, kind in cell_words()["wire map"].items() if kind != "none"), key=len, reverse=True)  # fmt: skip
    return re.compile(r"(?<![a-z])(" + "|".join(map(re.escape, phrases)) + r")(?![a-z])")


@lru_cache(maxsize=16384)
def told(text: str) -> str:
    """What a wire map cell says, in one notation; "" where it says nothing that is known."""
    if not text or len(text) > 400 or word("not measured", text):
        return ""
    parts: list[str] = []
    bare, schemes = _schemes(plain(text.replace("\n", " / ")))
    bare, contacts = _contacts(bare)
    if contacts:
        parts.append(contacts)
    faults, rest = _faults(bare)
    parts += faults
    if schemes:
        parts.append(schemes)
    declared = facts.verdict(rest.strip(" ;,:/|()")) or _verdict_word(rest)
    if declared:
        parts.append("fail" if "fail" in declared else "pass")
    return "; ".join(dict.fromkeys(parts))


def declared_verdict(text: str) -> str:
    """Verdict that a wire map cell declares by a word, a fault or its contacts; "" where it does not."""
    said = told(text)
    if not said:
        return ""
    parts = said.split("; ")
    if "pass" in parts or "fail" in parts:
        return facts.verdict(text) or ("pass" if "pass" in parts else "fail")
    faulty = any(part.split(" ")[0] in _FAULTS or part == "screen open" for part in parts)
    joined = [pair.split("-") for part in parts if part.startswith("contacts") for pair in part.split(" ")[1:]]
    if faulty or any(near != far for near, far in joined):
        return "fail"
    return "pass" if "straight" in parts or len(joined) == 8 else ""


def record_columns(cells: Sequence[tuple[CellColumn, np.ndarray]], rows: np.ndarray) -> dict[str, np.ndarray]:
    """Columns `wire_map` and `wire_map_told` of the records at some rows; none where no row has a wire map.

    Args:
        cells: columns that hold wire maps, each with marks of the rows where they do.
        rows: positions of the rows in the sheet.
    """
    written = np.full(len(rows), "", dtype=object)
    for column, here in cells:
        text = np.where(here, np.asarray(column.texts, dtype=object)[column.at(rows)], "")
        glue = np.where((written != "") & (text != ""), "; ", "")
        written = written + glue + text
    if not (written != "").any():
        return {}
    codes, distinct = pd.factorize(written)
    notation = np.asarray([told(text) for text in distinct], dtype=object)[codes]
    nothing = np.full(len(written), None, dtype=object)
    columns = (("wire_map", written), ("wire_map_told", notation))
    return {name: np.where(written == "", nothing, texts) for name, texts in columns}


def _schemes(bare: str) -> tuple[str, str]:
    found = [f"T568{letter.upper()}" for letter in _SCHEME.findall(bare)]
    if not found:
        return bare, ""
    return _SCHEME.sub(" ", bare), f"scheme {found[0]} {found[-1]}"


def _contacts(bare: str) -> tuple[str, str]:
    """Two rows of contacts or a list of contact to contact, and the text without them."""
    rows = _two_rows(bare)
    if rows:
        rest, near, far = rows
        pairs = [f"{a}-{_arrives(b)}" for a, b in zip(near[:8], far[:8], strict=True)]
        screen = _screen_of_rows(near[8:], far[8:])
        return f"{rest} {screen}", "contacts " + " ".join(pairs)
    found = _LIST.findall(bare)
    if len(found) < 6 and _words().search(bare):  # `short 1-2` names a pair, not two contacts joined through
        return bare, ""
    plain_pairs = [(near, far) for near, far in found if near != "s"]
    if len(plain_pairs) < 2 or len({near for near, _ in plain_pairs}) < 2:
        return bare, ""
    shield = ["screen continuous" if far == "s" else "screen open" for near, far in found if near == "s"]
    rest = _LIST.sub(" ", bare) + " " + " ".join(shield)
    return rest, "contacts " + " ".join(f"{near}-{_arrives(far)}" for near, far in plain_pairs)


def _two_rows(bare: str) -> tuple[str, str, str] | None:
    """`12345678/12365478`, `A: 1 2 3 4 5 6 7 8 B: 1 2 3 6 5 4 7 8`, with or without separators inside a row."""
    row = r"(?<![\w.,])([0-8xo](?:[\s,.\-]*[0-8xo]){7}(?:[\s,.\-]*[s9])?)(?![\w.,])"
    found = list(re.finditer(row, bare))
    if len(found) == 1 or not found:
        halves = re.search(r"(?<!\d)(12345678)\s*([0-8xo]{8})(?!\d)", bare)
        if not halves:
            return None
        return bare[: halves.start()] + " " + bare[halves.end() :], halves[1], halves[2]
    near, far = (re.sub(r"[\s,.\-]", "", match[1]) for match in found[:2])
    if not (_ROW.fullmatch(near) and _ROW.fullmatch(far)) or sorted(near[:8]) != list("12345678"):
        return None
    between = bare[found[0].end() : found[1].start()]
    rest = bare[: found[0].start()] + " " + re.sub(r"[/|;:>=\-]", " ", between) + " " + bare[found[1].end() :]
    return rest, near, far


def _arrives(far: str) -> str:
    return far if far.isdigit() else "0"


def _screen_of_rows(near: str, far: str) -> str:
    if not near and not far:
        return ""
    return "screen continuous" if near and far else "screen open"


def _faults(bare: str) -> tuple[list[str], str]:
    """Faults with their contacts and distance, and what is left of the text."""
    kinds = cell_words()["wire map"]
    hits = [(match.start(), match.end(), kinds[match[1]]) for match in _words().finditer(bare)]
    if not hits:
        return [], bare
    parts: list[str] = []
    rest = bare[: hits[0][0]]
    before = rest
    for number, (start, end, kind) in enumerate(hits):
        stop = hits[number + 1][0] if number + 1 < len(hits) else len(bare)
        clause = bare[end:stop]
        denied = _denied(bare[:start])
        if kind == "screen":
            parts += _screen(clause, bare[stop : stop + 24], before)
        elif kind == "straight":
            parts.append("straight")
        elif not denied and not (kind == "open" and "screen open" in parts[-1:]):
            where = clause if re.search(r"[1-8]", clause) or number else before + " " + clause
            parts.append(_fault(kind, where))
        before = clause
    tail = re.sub(r"[\d@.,\-]+", " ", " ".join(bare[end:stop] for (_, end, _), stop in zip(hits, [*(h[0] for h in hits[1:]), len(bare)], strict=True)))  # fmt: skip
    return parts, f"{rest} {tail}"


def _denied(before: str) -> bool:
    """`no opens`, `ohne Kurzschluss`: the word before says that there is none."""
    said = before.rstrip(" ,;:").split(" ")
    return any(cell_words()["wire map"].get(" ".join(said[-size:])) == "none" for size in (1, 2))


def _screen(clause: str, after: str, before: str) -> list[str]:
    """`screen open`, `screen: ok`; the word that follows may be that of a fault of its own."""
    said = clause.strip(" :=-()") or after.strip(" :=-()")
    first = re.split(r"[\s,;/]", said, maxsplit=1)[0]
    found = word("screen", first) or word("screen", said) or word("screen", before.strip(" :=-()"))
    return [f"screen {found}"] if found else []


def _fault(kind: str, where: str) -> str:
    distance = _DISTANCE.search(where)
    meters = ""
    if distance:
        unit = units().get(distance[2], "m")
        meters = f" @ {float(distance[1].replace(',', '.')) * FACTORS['m'][unit]:.1f}"
        where = where[: distance.start()] + " " + where[distance.end() :]
    contacts = list(dict.fromkeys(re.findall(r"[1-8]", where)))
    return " ".join([kind, *contacts]) + meters


def _verdict_word(rest: str) -> str:
    for part in re.split(r"[\s;,:/|()]+", rest):
        found = word("verdict", part) if part else None
        if found and part not in cell_words()["wire map"]:
            return found
    return ""


__all__ = ["declared_verdict", "record_columns", "told"]
