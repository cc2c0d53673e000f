"""Pairs named by the color of their wires.

Blue and brown are the same pair in both wiring schemes. Orange and green change places between T568A and T568B, so they
name a pair only where a column or a line of the export says the scheme; which color is which stands in the values of
the standards room (`copper_wiring`).
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from analyzer.importing.words import folded, phrases, plain
from analyzer.schema import CATEGORIES

if TYPE_CHECKING:
    from analyzer.importing.blocks import Block
    from analyzer.importing.columns import Use

SCHEMES = ("T568A", "T568B")
_BESIDE_COLORS = frozenset({"pair", "pairs", "white", "and", "to", "vs", "paire", "paar", "par", "coppia"})


@cache
def color_names() -> tuple[str, ...]:
    """Every color and couple of colors that can name a pair or a combination."""
    single = sorted({value for meanings in phrases().values() for kind, value in meanings if kind == "pair color"})
    return (*single, *(f"{one}/{two}" for n, one in enumerate(single) for two in single[n + 1 :]))


def colors_of(words: list[str]) -> str:
    """One or two colors in the form of `color_names`, empty for any other number of them."""
    distinct = sorted(set(words))
    return "/".join(distinct) if 0 < len(distinct) <= 2 else ""


def colors_in(text: str) -> str:
    """The colors of a cell that holds nothing else: `orange`, `white-orange / orange`, `green-blue`; else empty."""
    if len(text) > 40:
        return ""
    found = []
    for word in folded(text).split():
        color = next((value for kind, value in phrases().get(word, []) if kind == "pair color"), "")
        if not color and word not in _BESIDE_COLORS:
            return ""
        found += [color] if color else []
    return colors_of(found)


def scheme_in(text: str) -> str:
    """`T568A` or `T568B`; empty where the text names neither. A bare `568-B` is the name of an old standard too."""
    found = {letter.upper() for letter in re.findall(r"\bt-?568[ -]?([ab])\b", plain(text))}
    return f"T568{found.pop()}" if len(found) == 1 else ""


@cache
def _table() -> np.ndarray:
    """Code of the pair for each scheme (A, B, not known) and each of `color_names`; -1 where it is not known."""
    from analyzer.standards import load

    rows = load().copper_wiring
    rows = rows[rows["kind"] == "contact pair"]
    out = np.full((len(SCHEMES) + 1, len(color_names())), -1, dtype=np.int16)
    for line, column in enumerate(("t568a", "t568b")):
        pair_of = dict(zip(rows[column], rows["item"], strict=True))
        for at, name in enumerate(color_names()):
            parts = sorted((pair_of[color] for color in name.split("/")), key=CATEGORIES["pair"].index)
            out[line, at] = CATEGORIES["pair"].index("/".join(parts))
    out[-1] = np.where(out[0] == out[1], out[0], -1)
    return out


def pair_codes(colors: np.ndarray, schemes: np.ndarray) -> np.ndarray:
    """Code of the pair for each color (number in `color_names`) and scheme (number in `SCHEMES`); -1: not known."""
    found = _table()[schemes, np.maximum(colors, 0)]
    return np.asarray(np.where(colors >= 0, found, -1))


def pair_in_both(text: str) -> str:
    """The pair that a cell names by colors, where both schemes agree on it: `blue`, `brown / blue`, `orange-green`."""
    colors = colors_in(text)
    code = int(_table()[-1, color_names().index(colors)]) if colors else -1
    return CATEGORIES["pair"][code] if code >= 0 else ""


def settle_colors(block: Block, uses: list[Use]) -> list[Use]:
    """Columns headed by a color as columns of its pair, where both schemes agree or all rows are of one scheme."""
    if not any(use.pair in color_names() for use in uses):
        return uses
    said = {
        scheme_in(block.sheet.columns[use.col].texts[code])
        for use in uses
        if use.role == "wiring scheme"
        for code in np.unique(block.sheet.columns[use.col].codes[block.data_rows]).tolist()
    }
    scheme = said.pop() if len(said) == 1 else ""
    line = SCHEMES.index(scheme) if scheme else -1
    out = []
    for use in uses:
        code = int(_table()[line, color_names().index(use.pair)]) if use.pair in color_names() else -1
        if code >= 0:
            pair = CATEGORIES["pair"][code]
            why = f"{use.pair} is pair {pair} in {scheme or 'both wiring schemes'}"
            out.append(replace(use.because(why), pair=pair))
        elif use.pair in color_names():
            out.append(use.because(f"{use.pair} is one pair in T568A and another in T568B: each row must say which"))
        else:
            out.append(use)
    return out
