"""Headings and words in seven languages: wide, long and as forms, the spellings drawn by each layout's seed."""

from __future__ import annotations

from corpus import files
from corpus.fiber_forms import form
from corpus.layout import Pen, long, register, wide, without
from corpus.truth import fiber_links

FAMILY = "languages"
NAMES = {
    "en": "English",
    "de": "German",
    "fr": "French",
    "es": "Spanish",
    "it": "Italian",
    "nl": "Dutch",
    "pt": "Portuguese",
}
ENCODINGS = {
    "en": "utf-8",
    "de": "cp1252",
    "fr": "latin-1",
    "es": "utf-8-sig",
    "it": "cp1252",
    "nl": "utf-16",
    "pt": "utf-8",
}
DATES = {
    "en": "%m/%d/%Y",
    "de": "%d.%m.%Y",
    "fr": "%d/%m/%Y",
    "es": "%d/%m/%Y",
    "it": "%d/%m/%Y",
    "nl": "%d-%m-%Y",
    "pt": "%d/%m/%Y",
}
THOUSANDS = {"en": ",", "de": ".", "fr": "\u00a0", "es": ".", "it": ".", "nl": ".", "pt": "."}
KNOWN = without("construction")


def _pen(language, rng, **more):
    decimal = "." if language == "en" else ","
    return Pen(language, decimal=decimal, thousands=THOUSANDS[language], date=DATES[language], rng=rng, **more)


class _OneSpelling:
    """Draws once for each list, so that a word stays the same throughout a file."""

    def __init__(self, rng):
        self._rng, self._drawn = rng, {}

    def choice(self, words):
        key = tuple(words)
        if key not in self._drawn:
            self._drawn[key] = self._rng.choice(words)
        return self._drawn[key]


def _heading(pen):
    return lambda nm, way: f"{pen.word('loss')} {nm} nm {pen.direction(way)} (dB)"


def _delimiter(language):
    return "," if language == "en" else ";"


def _wide(language):
    def write(rng):
        pen = _pen(language, _OneSpelling(rng))
        rows = wide(pen, fiber_links(), facts=KNOWN, heading=_heading(pen))
        return {
            "wide.csv": files.text(
                [[pen.word("title")], [], *rows], delimiter=_delimiter(language), encoding=ENCODINGS[language]
            )
        }

    return write


def _long(language):
    def write(rng):
        pen = _pen(language, _OneSpelling(rng))
        rows = long(pen, fiber_links(), facts=KNOWN, extras=("limit", "margin", "verdict"))
        return {"long.csv": files.text(rows, delimiter=_delimiter(language), encoding=ENCODINGS[language])}

    return write


def _forms(language):
    def write(rng):
        pen = Pen(language, typed=True, rng=_OneSpelling(rng))
        sheets = [files.Sheet(link.label, form(pen, link, facts=KNOWN)) for link in fiber_links()]
        return {"forms.xlsx": files.workbook(sheets)}

    return write


for _language, _name in NAMES.items():
    for _shape, _maker in (("wide", _wide), ("long", _long), ("forms", _forms)):
        register(f"{_name.lower()}_{_shape}", FAMILY, f"{_name}, {_shape}", _maker(_language),
                 absent=("construction",), prints=() if _shape == "wide" else ("limit", "margin"))  # fmt: skip
