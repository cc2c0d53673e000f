"""Cells that are facts: fiber type, wavelength, direction, dates, verdicts. One distinct text at a time."""

from __future__ import annotations

import datetime as dt
import re
from functools import lru_cache
from typing import NamedTuple

from analyzer.importing.grid import DATE, NUMBER
from analyzer.importing.words import cell_words, folded, plain, word
from analyzer.schema import CATEGORIES


class FiberType(NamedTuple):
    """What a cell says about the fiber; parts it does not say are empty."""

    type: str = ""
    glass: str = ""
    construction: str = ""

    def __bool__(self) -> bool:
        return bool(self.type or self.glass or self.construction)


_TYPE = re.compile(r"(?<![a-z0-9])(om)[ -]?([1-5])(?!\d)|(?<![a-z0-9])(os)[ -]?(1a|1|2)(?![\da-z])")
_CORE = re.compile(r"(?<![\d.,])(62[.,]5|50|9|8[.,]3|10)\s*(?:µm|um)?\s*/\s*125")


@lru_cache(maxsize=4096)
def fiber_type(text: str) -> FiberType:
    """`OM3 50/125`, `OS2 outside plant`, `62.5/125`, `SM`, `G.652.D`: type, glass and construction."""
    bare = plain(text).replace("μ", "µ")
    kinds = {
        (f"OM{found[2]}" if found[1] else {"1a": "OS1a"}.get(found[4], f"OS{found[4]}"))
        for found in _TYPE.finditer(bare)
    }
    glass = ""
    core = _CORE.search(bare)
    if core:
        glass = {"62": "62.5/125", "50": "50/125"}.get(core[1][:2], "9/125")
    for phrase, value in cell_words()["glass"].items():
        if not glass and re.search(rf"(?<![a-z0-9]){re.escape(phrase)}(?![a-z0-9])", bare):
            glass = value
    if not glass and re.search(r"g\.?65[2-7]", bare):
        glass = "single-mode"
    built = ""
    if kinds & {"OS1", "OS1a", "OS2"} or glass in {"single-mode", "9/125"} or not kinds:
        for phrase, value in sorted(cell_words()["construction"].items(), key=lambda item: -len(item[0])):
            if not built and re.search(rf"(?<![a-z0-9/]){re.escape(phrase)}(?![a-z0-9/])", bare):
                built = value
    return FiberType(next(iter(kinds)) if len(kinds) == 1 else "", "" if kinds else glass, built)


_GRADE = re.compile(
    r"(?:cat(?:egory|egorie|egoria)?|kat(?:egorie)?|class|klasse|classe|clase|level)?\s*\.?\s*(5e|6a|ea|fa|6|8|d|e|f)(?:\.[12])?"
)


@lru_cache(maxsize=4096)
def copper_grade(text: str) -> str:
    """`Cat 6A`, `Category 5e`, `Class EA`, `6A`: the grade, empty where the text is none."""
    bare = re.sub(r"[_-]", " ", plain(text))
    bare = re.sub(r"\b([fsu]*/?(?:utp|ftp|stp))\b|\bcable\b|\bcopper\b", " ", bare)
    match = _GRADE.fullmatch(" ".join(bare.split()))
    if not match:
        return ""
    found = match[1]
    return {"5e": "5e", "6a": "6A", "ea": "EA", "fa": "FA"}.get(found, found.upper())


_WAVE = re.compile(r"^(?:wl\s*=?|λ\s*=?)?\s*(\d{3,4}(?:[.,]0*)?|[01][.,]\d{1,3})\s*(nm|µm|um|μm)?$")


@lru_cache(maxsize=4096)
def wavelength_nm(text: str) -> int:
    """Wavelength in whole nanometers, -1 where the text is none: `850`, `850.0 nm`, `1.31 µm`."""
    match = _WAVE.match(plain(text.replace("λ", "wl ")))
    if not match:
        return -1
    number = float(match[1].replace(",", ".").rstrip("."))
    if match[2] in {"µm", "um", "μm"} or number < 2:
        number *= 1000
    return round(number) if 600 <= number <= 1700 else -1


@lru_cache(maxsize=4096)
def wavelength_and_direction(text: str) -> tuple[int, str] | None:
    """Both keys of a reading in one cell and nothing else: `850 nm A-B`; None for other texts."""
    from analyzer.importing.headings import understand

    if len(text) > 40:
        return None
    said = understand((text,))
    both = said.wavelength_nm > 0 and said.direction and said.sure >= 0.9 and not said.pair and not said.statistic
    return (said.wavelength_nm, said.direction) if both and said.role in {"value", "ignored"} else None


_AB = re.compile(
    r"(?<![a-z0-9])([ab12])\s*(?:-+>?|–|—|→|=+>|>+|->|to|/|nach|vers|a|naar|para|hacia|»|⇒|➔)\s*([ab12])(?![a-z0-9])"
)
_BACK = re.compile(r"(?<![a-z0-9])([ab12])\s*(?:<-+|<+|←|⇐)\s*([ab12])(?![a-z0-9])")


@lru_cache(maxsize=4096)
def direction(text: str) -> str:
    """`A-B` or `B-A` for `A>B`, `A → B`, `near to far`, `forward`, `end 1` ...; empty where the text is none."""
    bare = plain(text)
    match = _AB.search(bare)
    if match and match[1] != match[2] and match[1].isdigit() == match[2].isdigit():
        return "A-B" if match[1] in "a1" else "B-A"
    match = _BACK.search(bare)
    if match and match[1] != match[2]:
        return "B-A" if match[1] in "a1" else "A-B"
    from analyzer.importing.words import phrases

    whole = folded(text)
    for kind, value in phrases().get(whole, []):
        if kind == "direction":
            return value
    both = wavelength_and_direction(text) if any(letter.isdigit() for letter in text) else None
    if both:
        return both[1]
    for kind, value in phrases().get(whole, []):
        if kind == "end":
            return "A-B" if value == "A" else "B-A"
    return {"1": "A-B", "2": "B-A"}.get(whole, "")


@lru_cache(maxsize=4096)
def end(text: str) -> str:
    """`A` or `B` for `near`, `End 1`, `remote` ...; empty where the text is none."""
    from analyzer.importing.words import phrases

    whole = folded(text)
    found = [value for kind, value in phrases().get(whole, []) if kind == "end"]
    return found[0] if found else {"1": "A", "2": "B"}.get(whole, "")


_SINGLE_PAIRS = CATEGORIES["pair"][:4]
_DATED_PAIR = re.compile(r"\d{4}-0(?P<a>[1-8])-0(?P<b>[1-8])(?: 00:00:00)?")
_NAMED_PAIR = re.compile(r"0?(?P<a>[1-8])\.?[ -](?P<mon>[a-z]{3,9})\.?|(?P<mon2>[a-z]{3,9})\.?[ -]0?(?P<b>[1-8])")


@lru_cache(maxsize=4096)
def undated(text: str) -> str:
    """A pair such as `3-6` that a spreadsheet took for a date, read back; other texts as they are.

    Whether 3-6 became the 6th of March or the 3rd of June depends on the spreadsheet's language, and a CSV saved by it
    says `06-Mar` or `3-Jun`; no pair is another one read backwards, so all of them are read.
    """
    bare = plain(text)
    match = _DATED_PAIR.fullmatch(bare) or _NAMED_PAIR.fullmatch(bare)
    if not match:
        return text
    said = match.groupdict()
    month = _MONTHS.get(said.get("mon") or said.get("mon2") or "", 0)
    first, second = said["a"] or str(month), said["b"] or str(month)
    return next((pair for pair in (f"{first}-{second}", f"{second}-{first}") if pair in _SINGLE_PAIRS), text)


@lru_cache(maxsize=4096)
def pair(text: str) -> str:
    """`12`, `1-2`, `1,2`, `12-36`, `1,2/3,6`, `pair 36`: the pair or combination in the order of the schema."""
    bare = plain(undated(text))
    digits = re.sub(r"pairs?|paire|paar|par|coppia|[^0-9]", "", bare)
    letters = re.sub(r"pairs?|paire|paar|par|coppia|and|und|vs|to|[^a-z]", "", bare)
    if letters:
        from analyzer.importing.pair_colors import pair_in_both

        return pair_in_both(text)
    if len(digits) not in {2, 4}:
        return ""
    parts = [f"{low}-{high}" for low, high in (sorted(digits[i : i + 2]) for i in range(0, len(digits), 2))]
    if any(part not in _SINGLE_PAIRS for part in parts):
        return ""
    if len(parts) == 1:
        return parts[0]
    both = "/".join(sorted(parts, key=_SINGLE_PAIRS.index))
    return both if both in CATEGORIES["pair"] else ""


def verdict(text: str) -> str:
    """Declared verdict of a cell, empty where the text is none."""
    found = word("verdict", text)
    if found:
        return found
    if "*" in text or _MARKED.search(text):  # a star in any place, another mark at the end: marginal
        whole = verdict(_MARKED.sub("", text).replace("*", " ").replace("(", " ").replace(")", " ").strip())
        return _NEAR.get(whole, whole)
    words = [part for part in re.split(r"[\s(),:;/]+", plain(text)) if part]
    rest = [part for part in words if not word("near the limit", part)]
    if rest != words:  # the word for marginal before or after that of the verdict
        return _NEAR.get(verdict(" ".join(rest)), "") if rest else ""
    meanings = {word("verdict", part) for part in words} - {None}
    if len(words) > 1 and (len(meanings) > 1 or any(part in _NEGATIONS for part in words)):
        return ""
    return (word("verdict", words[0]) or "") if words and len(words[0]) > 3 else ""


_NEAR = {
    "pass": "marginal pass",
    "fail": "marginal fail",
    "marginal pass": "marginal pass",
    "marginal fail": "marginal fail",
}
_MARKED = re.compile(r"(?<=[^\W\d_.])\.?\s*[!†‡~≈^¹²³]+$")
"""A word and the mark of a footnote."""
_NEGATIONS = frozenset(
    {"not", "no", "nicht", "kein", "keine", "ne", "pas", "non", "niet", "geen", "nao", "sin", "without", "ohne"}
)


def reference(text: str) -> str:
    """Reference method of a cell; a bare letter says nothing without its document or medium, and stays empty."""
    bare = plain(text)
    found = word("reference", text) or word("reference", " ".join(bare.replace("-", " ").split()))
    if found:
        return found
    match = re.search(
        r"(?<![\w.])(one|two|three|1|2|3)[ -](?:reference )?(?:test )?(?:cord|jumper|cable|lead|patchcord)s?\b", bare
    )
    return (
        {"one": "one-cord", "1": "one-cord", "two": "two-cord", "2": "two-cord"}.get(match[1], "three-cord")
        if match
        else ""
    )


_MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "jan january januar janvier enero ene gennaio gen januari janeiro", "feb february februar fevrier fev febrero febbraio februari fevereiro",
            "mar march marz maerz mars marzo maart mrt mrz marco", "apr april avril avr abril abr aprile", "may mai mayo maggio mag mei maio",
            "jun june juni juin junio giugno giu junho", "jul july juli juillet julio luglio lug julho", "aug august aout agosto ago augustus",
            "sep sept september septembre septiembre settembre set setembro", "oct october oktober okt octobre octubre ottobre ott outubro out",
            "nov november novembre noviembre novembro", "dec december dezember dez decembre diciembre dic dicembre dezembro",
        ),
        start=1,
    )
    for name in names.split()
}  # fmt: skip

_TIME = r"(?:[ t,]+(?:at |um |a )?(?P<h>\d{1,2})[:.h](?P<min>\d{2})(?:[:.m](?P<s>\d{2})(?:[.,]\d+)?s?)?\s*(?P<half>[ap]\.?m\.?)?\s*(?:uhr|z|utc|gmt|[+-]\d{2}:?\d{2})?)?$"
_YMD = re.compile(r"^(?P<y>\d{4})[-/.](?P<m>\d{1,2})[-/.](?P<d>\d{1,2})" + _TIME)
_SOLID = re.compile(
    r"^(?P<y>20\d{2}|19\d{2})(?P<m>\d{2})(?P<d>\d{2})(?:[t ]?(?P<h>\d{2})(?P<min>\d{2})(?P<s>\d{2})?)?$"
)
_PARTS = re.compile(r"^(?P<a>\d{1,2})(?P<sep>[-/.])\s?(?P<b>\d{1,2})(?P=sep)\s?(?P<y>\d{4}|\d{2})" + _TIME)
_NAMED = re.compile(
    r"^(?:[a-z]{2,9},? )?(?P<d>\d{1,2})(?:st|nd|rd|th|\.)?[ -]*(?:de )?(?P<mon>[a-z]{3,10})\.?[ -]*(?:de )?,? ?(?P<y>\d{4}|\d{2})"
    + _TIME
)
_NAMED_US = re.compile(
    r"^(?:[a-z]{2,9},? )?(?P<mon>[a-z]{3,10})\.? (?P<d>\d{1,2})(?:st|nd|rd|th)?,? (?P<y>\d{4})" + _TIME
)
_CLOCK = re.compile(
    r"^(?P<h>\d{1,2})[:.h](?P<min>\d{2})(?:[:.m](?P<s>\d{2})(?:[.,]\d+)?s?)?\s*(?P<half>[ap]\.?m\.?)?\s*(?:uhr)?$"
)


def date_vote(text: str) -> str | None:
    """`day first` or `month first` where this text proves it, `?` where it can be read in two ways, else None."""
    match = _PARTS.match(plain(text))
    if not match:
        return None
    first, second = int(match["a"]), int(match["b"])
    if match["sep"] == "." or (first > 12 >= second):
        return "day first"
    if second > 12 >= first:
        return "month first"
    return None if first == second else "?"


def parse_date(text: str, kind: int, order: str | None) -> tuple[dt.datetime | None, str]:
    """Date and time of a cell as written, without zone; and a set-aside code where it cannot be read."""
    if kind == NUMBER:
        return _serial(text)
    bare = plain(text)
    if kind == DATE and _CLOCK.match(bare):
        return None, "not-a-fact"
    match = _YMD.match(bare) or _SOLID.match(bare)
    if match:
        return _assembled(match, int(match["y"]), int(match["m"]), int(match["d"]))
    match = _PARTS.match(bare)
    if match:
        first, second = int(match["a"]), int(match["b"])
        vote = date_vote(text)
        if vote == "?" and order is None:
            return None, "ambiguous-date"
        day_first = (order if vote in {"?", None} else vote) != "month first"
        return _assembled(match, _year(match["y"]), second if day_first else first, first if day_first else second)
    match = _NAMED.match(bare) or _NAMED_US.match(bare)
    if match and match["mon"] in _MONTHS:
        return _assembled(match, _year(match["y"]), _MONTHS[match["mon"]], int(match["d"]))
    return None, "not-a-fact"


def parse_clock(text: str, kind: int) -> int:
    """Seconds after midnight of a time of day, -1 where the text is none."""
    if kind == NUMBER:
        try:
            part = float(text)
        except ValueError:
            return -1
        return round(part * 86400) if 0 <= part < 1 else -1
    match = _CLOCK.match(plain(text).removesuffix(".000000"))
    return _seconds(match) if match else -1


def _seconds(match: re.Match[str]) -> int:
    if not match["h"]:
        return 0
    hour = int(match["h"])
    half = match.groupdict().get("half")
    if half:
        hour = hour % 12 + (12 if half.startswith("p") else 0)
    minute, second = int(match["min"]), int(match["s"] or 0)
    return hour * 3600 + minute * 60 + second if hour < 24 and minute < 60 and second < 60 else -1


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else (2000 if int(text) < 70 else 1900) + int(text)


def _assembled(match: re.Match[str], year: int, month: int, day: int) -> tuple[dt.datetime | None, str]:
    seconds = _seconds(match)
    try:
        start = dt.datetime(year, month, day)  # noqa: DTZ001 (times stay as written, no zone is known)
    except ValueError:
        return None, "not-a-fact"
    return (start + dt.timedelta(seconds=seconds), "") if seconds >= 0 else (None, "not-a-fact")


def _serial(text: str) -> tuple[dt.datetime | None, str]:
    """Days since 1899-12-30, as workbooks count them."""
    try:
        days = float(text)
    except ValueError:
        return None, "not-a-fact"
    if 19000101 <= days <= 21001231 and days == int(days):
        return parse_date(text, 0, None)
    if not 20000 < days < 80000:
        return None, "not-a-fact"
    return dt.datetime(1899, 12, 30) + dt.timedelta(seconds=round(days * 86400)), ""  # noqa: DTZ001
