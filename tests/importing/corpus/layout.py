"""What a layout is, and the pen that writes facts and readings in its spelling.

A layout is a function `() -> {file name: bytes}`, or of a seeded generator, with a declaration: its family, what is special, which facts it
cannot carry. `@layout(...)` puts it on the list of its family.
"""

from __future__ import annotations

import random
import tomllib
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from inspect import signature
from pathlib import Path
from typing import Any

from corpus.truth import DIRECTIONS, METERS_PER_FOOT, fiber_links

WORDS = tomllib.loads(Path(__file__).with_name("words.toml").read_text(encoding="utf-8"))
BUILT = ("type", "construction", "length_m", "mated_pairs", "splices", "reference")
"""Facts that decide a limit: what a layout cannot carry of them, the test gives by a schedule."""
OTHER_FACTS = ("date", "tester", "operator", "label", "verdict")
COPPER_FACTS = ("value", "margin", "limits", "frequency_mhz", "length_m", "verdict", "date", "wire map", "grade")


@dataclass(frozen=True)
class Layout:
    """A layout and its declaration."""

    name: str
    family: str
    what: str
    write: Callable[..., dict[str, bytes]]
    medium: str = "fiber"
    absent: frozenset[str] = frozenset()
    """Facts that the layout cannot carry: members of BUILT and OTHER_FACTS, or of COPPER_FACTS."""
    may_set_aside: bool = False
    """Cells such as `n/a` in columns of readings are told as set aside; everywhere else nothing is."""
    prints: frozenset[str] = frozenset()
    """Fiber: what stands beside each value, "limit" and "margin"."""
    links: Callable = fiber_links
    view: Callable | None = None
    """Twisted pair: which readings of a link the layout holds."""

    def files(self):
        """Name -> bytes; the same every time."""
        if not signature(self.write).parameters:
            return self.write()
        return self.write(random.Random(zlib.crc32(self.name.encode())))


_ALL: list[Layout] = []


def layout(family, what, **declared):
    """Register a function as a layout; its name is the layout's."""

    def keep(function):
        absent, prints = (frozenset(declared.pop(name, ())) for name in ("absent", "prints"))
        known = {*BUILT, *OTHER_FACTS, *COPPER_FACTS}
        if not absent <= known:
            raise ValueError(f"{function.__name__}: unknown facts {sorted(absent - known)}")
        _ALL.append(Layout(function.__name__, family, what, function, absent=absent, prints=prints, **declared))
        return function

    return keep


def register(name, family, what, function, **declared):
    """The same for a layout made in a loop."""
    function.__name__ = name
    layout(family, what, **declared)(function)


def registered():
    """All layouts that were imported, in the order they were written down."""
    return tuple(_ALL)


@dataclass(frozen=True)
class Pen:
    """How facts and readings are spelled: language, marks, units, dates; `typed` for workbooks."""

    language: str = "en"
    typed: bool = False
    decimal: str = "."
    thousands: str = ""
    unit_in_cell: bool = False
    length_unit: str = "m"
    gain: bool = False
    date: str = "%Y-%m-%d"
    time: str = "%H:%M"
    stamp: str = "%Y-%m-%d %H:%M"
    below: str = "<"
    rng: Any = None
    """Chooses among spellings: anything with the method `choice`."""

    def word(self, term):
        """A word of the language; which of several spellings, the layout says, else the first."""
        found = WORDS[self.language][term]
        if isinstance(found, str):
            return found
        return self.rng.choice(found) if self.rng else found[0]

    def number(self, value, unit=""):
        """A decimal as this layout writes it."""
        if self.typed and not self.unit_in_cell:
            return float(value)
        sign, digits = ("-", f"{-value:f}") if value < 0 else ("", f"{value:f}")
        whole, _, rest = digits.partition(".")
        if self.thousands:
            groups = []
            while len(whole) > 3:
                groups.insert(0, whole[-3:])
                whole = whole[:-3]
            whole = self.thousands.join([whole, *groups])
        shown = sign + whole + (self.decimal + rest if rest else "")
        return f"{shown} {unit}" if self.unit_in_cell and unit else shown

    def loss(self, loss):
        if loss.bound == "over range":
            return self.word("over_range")
        if loss.bound == "below":
            return self.below + self.number(loss.value_db, "dB")
        return self.number(-loss.value_db if self.gain else loss.value_db, "dB")

    def length(self, link):
        return self.number(self.length_value(link), self.length_unit)

    def length_value(self, link):
        if self.length_unit == "ft":
            return (link.length_m / METERS_PER_FOOT).quantize(Decimal(1))
        if self.length_unit == "km":
            return link.length_m / 1000
        return link.length_m

    def verdict(self, passes):
        return self.word("pass" if passes else "fail")

    def direction(self, direction):
        return self.word("forth" if direction == "A-B" else "back")

    def fact(self, link, name):
        """Cell of a fact."""
        if name == "length_m":
            return self.length(link)
        if name in {"date", "time", "stamp"}:
            return self._when(link.tested_at, name)
        if name == "reference":
            return self.word("one_cord")
        if name == "verdict":
            return self.verdict(link.verdict == "pass")
        value = getattr(link, name)
        if isinstance(value, int) and not self.typed:
            return str(value)
        return value

    def _when(self, moment, name):
        if self.typed:
            return {"date": moment.date(), "time": moment.time(), "stamp": moment}[name]
        return moment.strftime(getattr(self, name))

    def heading(self, name):
        """Heading of a fact, with its unit."""
        if name == "length_m":
            unit = "" if self.unit_in_cell else f" ({self.length_unit})"
            return self.word("length") + unit
        return self.word(name)


FACTS = (
    "type",
    "construction",
    "length_m",
    "mated_pairs",
    "splices",
    "reference",
    "date",
    "time",
    "tester",
    "operator",
)
"""The usual facts of a fiber link after its label, in the usual order."""


def without(*names):
    """The usual facts less some."""
    return tuple(name for name in FACTS if name not in names)


def all_wavelengths(links):
    """Wavelengths of some links in ascending order."""
    return sorted({wavelength for link in links for wavelength in link.wavelengths_nm})


def wide(pen, links, *, facts=FACTS, heading=None, label="label", tail=("verdict",), directions=DIRECTIONS):
    """Rows of a wide table, headings first: facts, one column for each wavelength and direction, verdict."""
    heading = heading or (lambda wavelength, direction: f"Loss {wavelength} nm {pen.direction(direction)} (dB)")
    labels = (label,) if isinstance(label, str) else label
    keys = [(wavelength, direction) for wavelength in all_wavelengths(links) for direction in directions]
    head = [pen.heading(name) for name in (*labels, *facts)]
    head += [heading(*key) for key in keys] + [pen.heading(name) for name in tail]
    return [head, *(wide_row(pen, link, labels, facts, keys, tail) for link in links)]


def wide_row(pen, link, labels, facts, keys, tail):
    losses = dict(link.losses)
    cells = [pen.loss(losses[key]) if key in losses else None for key in keys]
    return [pen.fact(link, name) for name in (*labels, *facts)] + cells + [pen.fact(link, name) for name in tail]


def long(pen, links, *, facts=FACTS, label="label", wavelength=None, extras=("verdict",), loss_heading=None):
    """Rows of a long table, headings first: one row for each strand, wavelength and direction.

    `extras` of the reading: limit, margin, verdict.
    """
    labels = (label,) if isinstance(label, str) else label
    wavelength = wavelength or (lambda nm: nm if pen.typed else str(nm))
    names = {
        "limit": f"{pen.word('limit')} (dB)",
        "margin": f"{pen.word('margin')} (dB)",
        "verdict": pen.word("verdict"),
    }
    rows = [
        [pen.heading(name) for name in (*labels, *facts)]
        + [f"{pen.word('wavelength')} (nm)", pen.word("direction"), loss_heading or f"{pen.word('loss')} (dB)"]
        + [names[extra] for extra in extras]
    ]
    for link in links:
        known = [pen.fact(link, name) for name in (*labels, *facts)]
        for (nm, direction), loss in link.losses:
            own = {
                "limit": pen.number(link.limit_db(nm), "dB"),
                "margin": None if loss.value_db is None else pen.number(link.margin_db(nm, direction), "dB"),
                "verdict": pen.verdict(link.passes(nm, direction)),
            }
            cells = [wavelength(nm), pen.direction(direction), pen.loss(loss)]
            rows.append([*known, *cells, *(own[extra] for extra in extras)])
    return rows
