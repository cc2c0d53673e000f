"""Headings and words in seven languages: wide, long and as forms, one layout for each place in the lists of spellings."""

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


def _pen(language, place, **more):
    decimal = "." if language == "en" else ","
    return Pen(
        language, decimal=decimal, thousands=THOUSANDS[language], date=DATES[language], rng=_Spelling(place), **more
    )


class _Spelling:
    """Takes the same place of every list of spellings, so that a word stays the same throughout a file."""

    def __init__(self, place):
        self._place = place

    def choice(self, words):
        return words[self._place % len(words)]


def _heading(pen):
    return lambda nm, way: f"{pen.word('loss')} {nm} nm {pen.direction(way)} (dB)"


def _delimiter(language):
    return "," if language == "en" else ";"


def _wide(language, place):
    def write():
        pen = _pen(language, place)
        rows = wide(pen, fiber_links(), facts=KNOWN, heading=_heading(pen))
        return {
            "wide.csv": files.text(
                [[pen.word("title")], [], *rows], delimiter=_delimiter(language), encoding=ENCODINGS[language]
            )
        }

    return write


def _long(language, place):
    def write():
        pen = _pen(language, place)
        rows = long(pen, fiber_links(), facts=KNOWN, extras=("limit", "margin", "verdict"))
        return {"long.csv": files.text(rows, delimiter=_delimiter(language), encoding=ENCODINGS[language])}

    return write


def _forms(language, place):
    def write():
        pen = Pen(language, typed=True, rng=_Spelling(place))
        sheets = [files.Sheet(link.label, form(pen, link, facts=KNOWN)) for link in fiber_links()]
        return {"forms.xlsx": files.workbook(sheets)}

    return write


ORDINALS = ("first", "second", "third", "fourth")


def _register_all():
    shapes = {"wide": _wide, "long": _long, "forms": _forms}
    for language, name in NAMES.items():
        for place, ordinal in enumerate(ORDINALS):
            for shape, maker in shapes.items():
                if shape == "forms" and place > 1:
                    continue
                register(
                    f"{name.lower()}_{shape}_{ordinal}",
                    FAMILY,
                    f"{name}, {shape}, the {ordinal} spelling of every word",
                    maker(language, place),
                    absent=("construction",),
                    prints=() if shape == "wide" else ("limit", "margin"),
                )


_register_all()
