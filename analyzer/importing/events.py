"""Tables of events along a fiber, as an optical time-domain trace gives them: which tables are such, and whose they are.

A table of links has one row for each link; a table of events has several for one fiber, at rising distances. What its
columns do not say (link, wavelength, direction) is taken from the lines above, the name of the sheet, the name of the
file. `event_rows` reads the cells.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer.importing import facts
from analyzer.importing.blocks import Block
from analyzer.importing.cable_names import names_link
from analyzer.importing.cells import looks_like_number
from analyzer.importing.columns import Use
from analyzer.importing.forms import FACT_ROLES, Pair, add_facts_above, pairs_in
from analyzer.importing.grid import TEXT, Sheet
from analyzer.importing.headings import understand
from analyzer.importing.parsed import parse_column
from analyzer.importing.sweeps import Surroundings
from analyzer.importing.words import event_phrases, folded, word

EVENT_ROLES = (
    "event number", "event position", "event kind", "event loss", "event reflectance", "event cumulative loss",
)  # fmt: skip
CORD_ROLES = ("launch cord", "tail cord")
"""Columns that repeat the length of a cord in every row of a trace."""
VALUE_ROLES = frozenset({"event loss", "event reflectance", "event cumulative loss"})
"""Columns whose cells are counted as readings."""
NAMING = frozenset({"label", "cable", "strand", "end A label", "end B label"})
_ONLY_EVENTS = frozenset({"event", "evenement", "evento", "ereignis", "gebeurtenis"})
_RISING = 0.8
"""Share of the fibers in a table whose distances must rise; the rest may be damaged."""
_WAVE = re.compile(r"(?<!\d)(850|1300|1310|1383|1490|1550|1577|1625|1650)(?!\d)\s*(?:nm)?", re.IGNORECASE)
_UNITS = re.compile(r"[(\[][^)\]]*[)\]]|\b(?:db|m|km|ft|meters?|metres?)\s*$", re.IGNORECASE)


def event_columns(block: Block, uses: list[Use]) -> list[Use]:
    """The columns of a table of events; none where the table is something else."""
    said = [
        _Said(use, understand(parts).wavelength_nm, _meanings(parts))
        for use, parts in zip(uses, block.headings, strict=True)
    ]
    chosen: dict[int, str] = {}
    for role in (
        "event position",
        "event reflectance",
        "event loss",
        "event cumulative loss",
        "event kind",
        "event number",
        *CORD_ROLES,
    ):
        chosen |= dict.fromkeys(_columns_of(block, said, role, chosen), role)
        if role == "event position" and not chosen:
            return []
    roles = set(chosen.values())
    tells = roles & {"event reflectance", "event kind"} or ("event number" in roles and _speaks_of_events(block))
    if not roles & {"event loss", "event reflectance"} or not tells:
        return []
    out = [_as_event(one.use, chosen.get(one.use.col, ""), one.wavelength_nm) for one in said]
    position = next(use for use in out if use.role == "event position")
    return out if _rises(block, out, position) else []


class _Said(NamedTuple):
    """A column, the wavelength that its own heading names, and the event roles that its words can mean."""

    use: Use
    wavelength_nm: int
    meanings: tuple[str, ...]


def _meanings(parts: tuple[str, ...]) -> tuple[str, ...]:
    bare = _UNITS.sub(" ", " ".join(parts))
    return (
        event_phrases().get(folded(bare))
        or event_phrases().get(folded(_UNITS.sub(" ", _WAVE.sub(" ", bare)).strip(" @")))
        or ()
    )


def _speaks_of_events(block: Block) -> bool:
    words = {word_ for parts in block.headings for word_ in folded(" ".join(parts)).split()}
    return bool(words & _ONLY_EVENTS)


def _columns_of(block: Block, said: list[_Said], role: str, taken: dict[int, str]) -> list[int]:
    """The column that plays a role: its words can mean it and its cells can be it; the surer words first.

    Values can stand once for each wavelength that headings name.
    """
    fits = [one for one in said if role in one.meanings and one.use.col not in taken and _can_be(block, one, role)]
    fits.sort(key=lambda one: (one.meanings.index(role), one.use.col))
    waves: dict[int, int] = {}
    for one in fits:
        waves.setdefault(one.wavelength_nm, one.use.col)
    if role in VALUE_ROLES and any(wave > 0 for wave in waves):
        return [col for wave, col in waves.items() if wave > 0]
    return [fits[0].use.col] if fits and fits[0].wavelength_nm < 0 else []


def _can_be(block: Block, said: _Said, role: str) -> bool:
    column = block.sheet.columns[said.use.col]
    codes = column.codes[block.data_rows[:500]]
    texts = [column.texts[code] for code in np.unique(codes[codes != 0])]
    if not texts:
        return False
    kinds = sum(bool(word("event", text)) and not looks_like_number(text) for text in texts) / len(texts)
    if role == "event kind":
        return kinds >= 0.3
    if said.use.unit in {"dBm", "ns", "nm"} or kinds >= 0.5:
        return False
    numbers = sum(looks_like_number(text) for text in texts) / len(texts)
    if role == "event number":
        return numbers > 0.8 and not any(mark in text for text in texts for mark in ".,")
    return role in VALUE_ROLES or (numbers > 0.5 and said.use.unit != "dB")


def _as_event(use: Use, role: str, wavelength_nm: int) -> Use:
    """A column of a known event role, or one about the whole trace; what is neither is left out."""
    if role:
        return replace(
            use, role=role, parameter="", wavelength_nm=wavelength_nm, direction="", why="every word is known",
            sure=max(use.sure, 0.9),
        )  # fmt: skip
    if use.role in FACT_ROLES | NAMING and use.role not in {"length", "verdict", "mated pairs", "splices"}:
        return use
    return use.because("no column of an event table", role="ignored", parameter="")


def _rises(block: Block, uses: list[Use], position: Use) -> bool:
    """Whether the distances rise along each fiber, and some fiber has two rows or more."""
    rows = block.data_rows
    key = pd.Series("", index=range(len(rows)), dtype="object")
    for use in uses:
        if use.role in NAMING | {"wavelength", "direction"}:
            texts = np.asarray(block.sheet.columns[use.col].texts, dtype=object)[
                block.sheet.columns[use.col].codes[rows]
            ]
            key += "\x1f" + pd.Series(texts).where(pd.Series(texts) != "").ffill().fillna("")
    # the decimal mark is not decided yet: the distances rise in the right reading
    return any(
        _rising(key, parse_column(block.sheet.columns[position.col], rows, mark).value) for mark in (None, ".", ",")
    )


def _rising(key: pd.Series, distance: np.ndarray) -> bool:
    filled = np.isfinite(distance)
    frame = pd.DataFrame({"key": key[filled].to_numpy(), "at": distance[filled]})
    if frame.empty or not (frame.groupby("key").size() >= 2).any():
        return False
    steps = frame.groupby("key")["at"].diff()
    falls = (steps <= 0).groupby(frame["key"]).any()
    return bool((~falls).mean() >= _RISING)


class TraceName(NamedTuple):
    """What the name of a sheet, a file or a title says of a trace; empty and -1 where it does not."""

    label: str = ""
    wavelength_nm: int = -1
    direction: str = ""


_WAY = re.compile(
    r"(?<![A-Za-z0-9])(?:A\s*(?:->|-|>|→|to|_)?\s*B|B\s*(?:->|-|>|→|to|_)?\s*A)(?![A-Za-z0-9])", re.IGNORECASE
)
_TRADE = re.compile(
    r"(?i)(?<![A-Za-z])(?:events?|event table|trace|table|fib(?:er|re)|strand|link|ereignisse|ereignistabelle|faser|"
    r"[ée]v[ée]nements|fibre|eventos|fibra|eventi|gebeurtenissen|vezel|bidirectional|unidirectional|otdr|at|of|from)(?![A-Za-z])"
)


def said_by_name(text: str) -> TraceName:
    """`Fiber TB-101-01, 1310 nm, A-B` names a link, a wavelength and a direction."""
    bare = text.replace("_", " ")
    waves = {int(match[1]) for match in _WAVE.finditer(bare)}
    ways = {facts.direction(re.sub(r"(?i)([AB])\s*([AB])", r"\1-\2", match[0])) for match in _WAY.finditer(bare)} - {""}
    rest = _TRADE.sub(" ", _WAY.sub(" ", _WAVE.sub(" ", bare)))
    rest = " ".join(re.sub(r"\s[-–,;:/|]+(?=\s|$)|[,;:]+(?=\s|$)|^[\s,;:–-]+", " ", rest).split())
    label = rest if names_link(rest) and len(rest) <= 60 else ""
    return TraceName(label, waves.pop() if len(waves) == 1 else -1, ways.pop() if len(ways) == 1 else "")


def event_part(block: Block, uses: list[Use], around: Surroundings) -> tuple[Block, list[Use]]:
    """A table of events with what titles, names and label/value lines say of it; no label where none is found."""
    sheet = block.sheet
    pairs = pairs_in(sheet, block.above) if sheet.kind == "upright" else []
    around.hear(pairs)
    told = {pair.heading.role: pair for pair in around.told.values()}
    told |= {pair.heading.role: pair for pair in pairs if pair.heading.role in {"wavelength", "direction"}}
    for unwanted in ("verdict", "length", "mated pairs", "splices", "wavelength", "direction"):
        if unwanted in told and told[unwanted] not in pairs:
            del told[unwanted]
    told.pop("verdict", None)
    block, uses = add_facts_above(block, uses, list(told.values()))
    used = {(pair.row, pair.col) for pair in told.values()}
    titles = [
        said_by_name(text)
        for row in reversed(block.above)
        for col, text in enumerate(sheet.row_texts(row))
        if text and (row, col) not in used and not any(pair.row == row for pair in pairs)
    ]
    names = [*titles, said_by_name(sheet.name or ""), said_by_name(around.stem)]
    return _add_missing(block, uses, names)


def _add_missing(block: Block, uses: list[Use], names: list[TraceName]) -> tuple[Block, list[Use]]:
    roles = {use.role for use in uses}
    extra = []
    for role, heading, said in (
        ("label", "Link", [one.label for one in names]),
        ("wavelength", "Wavelength", [f"{one.wavelength_nm} nm" if one.wavelength_nm > 0 else "" for one in names]),
        ("direction", "Direction", [one.direction for one in names]),
    ):
        text = next((one for one in said if one), "")
        has = roles & NAMING if role == "label" else role in roles
        if text and not has:
            extra.append(Pair(understand((heading,)), text, TEXT, block.heading_rows[0], -1))
    known = len(uses)
    block, uses = add_facts_above(block, uses, extra)
    why = "a title or the name of sheet or file says it"
    return block, [*uses[:known], *(replace(use, why=why, sure=0.8) for use in uses[known:])]


def stated_lengths(sheet: Sheet, above: list[int], mark: str | None) -> tuple[dict[str, float], Pair | None]:
    """Lengths of launch and tail cord [m] that lines above state, and the line that states the loss from end to end."""
    from analyzer.importing.cells import FACTORS, parse_cell

    found: dict[str, float] = {}
    whole: Pair | None = None
    for row in above:
        texts = sheet.row_texts(row)
        for col, text in enumerate(texts):
            name, _, value = text.partition(":")
            at = col
            if not value.strip():
                at = next((other for other in range(col + 1, min(col + 4, len(texts))) if texts[other]), -1)
                value = texts[at] if at >= 0 else ""
            said = event_phrases().get(folded(_UNITS.sub(" ", name)), ()) if name and value else ()
            number = parse_cell(value.strip(), TEXT, mark) if said else None
            if number is None or number.problem or not np.isfinite(number.value):
                continue
            unit = number.unit or understand((name,)).unit
            for role in ("launch cord", "tail cord"):
                if role in said and unit in FACTORS["m"]:
                    found.setdefault(role, number.value * FACTORS["m"][unit])
            if "event loss end to end" in said and unit in {"", "dB"} and whole is None:
                whole = Pair(understand((name,)), value.strip(), TEXT, row, at)
    return found, whole


__all__ = [
    "CORD_ROLES", "EVENT_ROLES", "NAMING", "VALUE_ROLES", "event_columns", "event_part", "said_by_name", "stated_lengths",
]  # fmt: skip
