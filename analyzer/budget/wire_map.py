"""Wire maps judged: opens, shorts, reversed, crossed and split pairs, the two wiring schemes, the screen.

In: what importing told of each wire map, in one notation (see `importing/wire_maps`), and what the export declares.
Out: a verdict for every wire map reading. A straight list of contacts cannot show a split pair, and the reason says so.
Contacts, pairs and colors are rows of copper_wiring.csv. Each distinct wire map is judged once.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.overlay import Overlay
from analyzer.budget.plain import distinct_rows, texts_of
from analyzer.standards import Values

Pair = tuple[int, int]
_FAULT_WORDS = ("open", "short", "reversed", "crossed", "split", "miswire")


class Fault(NamedTuple):
    """One fault: its kind, the contacts it is about (none: not told which), and the words for it."""

    kind: str
    contacts: frozenset[int]
    words: str


class Said(NamedTuple):
    """Everything that is known of one wire map; empty texts where nothing is said."""

    told: str
    declared: str = ""
    scheme_a: str = ""
    scheme_b: str = ""
    screen: str = ""


class Outcome(NamedTuple):
    """Verdict and basis of one wire map, the code of its reason, and the reason in words."""

    verdict: str
    basis: str
    code: str
    text: str
    mend: str


@dataclass(frozen=True)
class Wiring:
    """Contacts of the connector as the values have them: pairs, and where a crossover takes each contact."""

    pairs: tuple[Pair, ...]
    crossover: dict[int, int]
    """Contact at a T568A end -> contact of the same conductor at a T568B end."""

    @classmethod
    def of(cls, values: Values) -> Wiring:
        """From the rows of copper_wiring.csv."""
        rows = values.rows("copper_wiring")
        pairs = tuple(_pair(row["item"]) for row in rows if row["kind"] == "contact pair")
        pins = [row for row in rows if row["kind"] == "pin"]
        of_color = {row["t568b"]: int(row["item"]) for row in pins}
        return cls(pairs, {int(row["item"]): of_color[row["t568a"]] for row in pins})


def judge_wire_maps(
    readings: pd.DataFrame, records: pd.DataFrame, values: Values, *, ordered: Collection[str] = (), screened: bool | None = None
) -> Overlay:  # fmt: skip
    """Judge every wire map reading of one file.

    Args:
        readings: schema `readings`; `record` is the position of the record.
        records: schema `records`.
        values: the standards' values, for contacts and colors.
        ordered: pairs that the link must have ("1-2", ...); none given means all four.
        screened: whether the cabling is screened; None where nothing says so.
    """
    at = np.flatnonzero((readings["parameter"] == "wire map").to_numpy())
    record = readings["record"].to_numpy()[at]
    columns = {
        "told": texts_of(records["wire_map_told"])[record],
        "declared": texts_of(readings["declared_verdict"])[at],
        "scheme_a": texts_of(records["wiring_scheme_a"])[record],
        "scheme_b": texts_of(records["wiring_scheme_b"])[record],
        "screen": texts_of(records["screen"])[record],
    }
    said = [columns[name] for name in Said._fields]
    which, first = distinct_rows(*said)
    wiring = Wiring.of(values)
    pairs = frozenset(_pair(text) for text in ordered) or frozenset(wiring.pairs)
    distinct = zip(*(column[first] for column in said), strict=True)
    outcomes = [judge_one(Said(*one), wiring, pairs, screened=screened) for one in distinct]
    return _overlay(at, which, outcomes)


def judge_one(said: Said, wiring: Wiring, ordered: Collection[Pair], *, screened: bool | None = None) -> Outcome:
    """Verdict of one wire map."""
    parts = _parts(said.told)
    faults = [fault for part in parts for fault in faults_of(part, wiring)]
    wanted = {contact for pair in ordered for contact in pair}
    counting = [fault for fault in faults if not fault.contacts or fault.contacts & wanted]
    screen = "open" if "screen open" in parts else said.screen
    if screen == "open" and screened:
        counting.append(Fault("screen open", frozenset(), "the screen is open"))
    contacts = any(part.startswith("contacts") for part in parts)
    failed = said.declared.endswith("fail") or (not said.declared and "fail" in parts)
    passed = said.declared.endswith("pass") or (not said.declared and "pass" in parts) or "straight" in parts
    if counting:
        causes = [("wire-map-fault", {"faults": ", ".join(dict.fromkeys(fault.words for fault in counting))})]
        verdict, basis = "fail", "value"
    elif screen == "open" and screened is None:
        verdict, basis, causes = "not judged", "value", [("wire-map-screen", {})]
    elif contacts and failed:
        verdict, basis, causes = "not judged", "value", [("wire-map-unexplained", {})]
    elif contacts:
        verdict, basis, causes = "pass", "value", [("wire-map-straight", {})]
    elif failed and not faults:
        verdict, basis, causes = "fail", "declared verdict", [("wire-map-declared-fail", {})]
    elif passed or faults:
        verdict, basis = "pass", "declared verdict" if passed else "value"
        causes = [("wire-map-declared-pass", {})] if passed else []
    else:
        verdict, basis, causes = "not judged", "declared verdict", [("wire-map-silent", {})]
    others = [fault.words for fault in faults if fault not in counting]
    if others:
        causes.append(("wire-map-not-ordered", {"other": ", ".join(dict.fromkeys(others))}))
    scheme = _scheme(parts, said, wiring)
    if scheme:
        causes.append(("wire-map-scheme", {"scheme": scheme}))
    return Outcome(verdict, basis, *_reason(causes))


def faults_of(part: str, wiring: Wiring) -> list[Fault]:
    """Faults that one part of the notation tells: of a list of contacts each, else the one that its word names."""
    words = part.split(" ")
    if words[0] == "contacts":
        return _faults_of_contacts([_joined(pair) for pair in words[1:]], wiring)
    if words[0] not in _FAULT_WORDS:
        return []
    metres = f" at {float(words[-1]):g} m" if "@" in words else ""
    contacts = [int(word) for word in words[1:] if len(word) == 1 and word.isdigit()]
    return [Fault(words[0], frozenset(contacts), _said_in_words(words[0], contacts, wiring) + metres)]


def _faults_of_contacts(joined: list[Pair], wiring: Wiring) -> list[Fault]:
    """Faults of a list (contact at end A, contact at end B; 0: arrives nowhere); a contact not listed is open."""
    near, far = Counter(one for one, _ in joined), Counter(other for _, other in joined if other)
    goes = {one: other for one, other in joined if other}
    every = {contact for pair in wiring.pairs for contact in pair}
    faults = []
    opens = sorted(every - set(goes))
    if opens:
        faults.append(Fault("open", frozenset(opens), f"open on {_contacts(opens)}"))
    touching = sorted({one for one, other in joined if near[one] > 1 or far[other] > 1})
    if touching:
        faults.append(Fault("short", frozenset(touching), f"short on {_contacts(touching)}"))
    whole = [pair for pair in wiring.pairs if set(pair) <= set(goes) and not set(pair) & set(touching)]
    crossed = []
    for pair in whole:
        arrives = (goes[pair[0]], goes[pair[1]])
        if arrives == pair:
            continue
        if arrives == pair[::-1]:
            faults.append(Fault("reversed", frozenset(pair), f"pair {_name(pair)} reversed"))
        elif tuple(sorted(arrives)) in wiring.pairs:
            crossed.append(pair)
        else:
            where = f"contacts {pair[0]} and {pair[1]} arrive at {arrives[0]} and {arrives[1]}"
            faults.append(Fault("miswire", frozenset({*pair, *arrives}), where))
    broken = [
        one for one, other in sorted(goes.items())
        if one != other and one not in touching and not any(one in pair for pair in whole)
    ]  # fmt: skip
    faults += [Fault("miswire", frozenset({one, goes[one]}), f"contact {one} arrives at {goes[one]}") for one in broken]
    if crossed:
        names = " and ".join(map(_name, crossed))
        faults.append(Fault("crossed", frozenset(contact for pair in crossed for contact in pair), f"pairs {names} crossed"))  # fmt: skip
    return faults


def is_crossover(joined: Iterable[Pair], wiring: Wiring) -> bool:
    """Whether the contacts are those of a cable with T568A at one end and T568B at the other."""
    return dict(joined) == wiring.crossover


def _scheme(parts: list[str], said: Said, wiring: Wiring) -> str:
    """What the wiring schemes of the ends amount to; "" where there is nothing to tell."""
    named = next((part.split(" ")[1:] for part in parts if part.startswith("scheme")), None)
    scheme_a, scheme_b = named or (said.scheme_a, said.scheme_b)
    joined = [_joined(pair) for part in parts if part.startswith("contacts") for pair in part.split(" ")[1:]]
    if joined and is_crossover(joined, wiring):
        return "that is a crossover: one end is wired T568A and the other T568B"
    if not (scheme_a and scheme_b):
        return ""
    if scheme_a == scheme_b:
        return f"both ends {scheme_a}"
    doubt = ", which the contacts do not bear out" if joined else ": a crossover"
    return f"end A is said to be {scheme_a} and end B {scheme_b}{doubt}"


def _said_in_words(kind: str, contacts: list[int], wiring: Wiring) -> str:
    pairs = [pair for pair in wiring.pairs if set(pair) <= set(contacts)]
    whole = pairs and {contact for pair in pairs for contact in pair} == set(contacts)
    if kind in {"open", "short", "miswire"}:
        word = {"open": "open on", "short": "short between", "miswire": "miswire of"}[kind]
        return f"{word} {_contacts(contacts)}" if contacts else word.split(" ", maxsplit=1)[0]
    if not contacts:
        return {"reversed": "reversed pair", "crossed": "crossed pairs", "split": "split pair"}[kind]
    names = " and ".join(map(_name, pairs)) if whole else _contacts(contacts)
    return f"{'pairs' if len(pairs) > 1 else 'pair'} {names} {kind}" if whole else f"{kind}: {names}"


def _contacts(contacts: list[int]) -> str:
    *first, last = map(str, contacts)
    return f"contacts {', '.join(first)} and {last}" if first else f"contact {last}"


def _parts(told: str) -> list[str]:
    return [part for part in told.split("; ") if part]


def _pair(text: str) -> Pair:
    one, other = text.split("-")
    return int(one), int(other)


_joined = _pair


def _name(pair: Pair) -> str:
    return f"{pair[0]}-{pair[1]}"


@cache
def _causes() -> dict[str, tuple[str, str]]:
    """Text and mend of each code of wire_map_reasons.csv."""
    lines = (files("analyzer.budget") / "wire_map_reasons.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {row["code"]: (row["text"], row["mend"]) for row in rows}


def _reason(causes: list[tuple[str, dict[str, str]]]) -> tuple[str, str, str]:
    """Code of the first cause, the texts of all, and how to mend."""
    if not causes:
        return "", "", ""
    text = "; ".join(_causes()[code][0].format(**words) for code, words in causes)
    mend = "; ".join(dict.fromkeys(_causes()[code][1] for code, _ in causes if _causes()[code][1]))
    return causes[0][0], text, mend


def _overlay(at: np.ndarray, which: np.ndarray, outcomes: list[Outcome]) -> Overlay:
    reasons = pd.DataFrame(
        [(number, *one[2:]) for number, one in enumerate(outcomes)], columns=["reason", "code", "text", "mend"]
    )
    verdict = np.array([one.verdict for one in outcomes], dtype=object)[which] if len(at) else np.array([], object)
    basis = np.array([one.basis for one in outcomes], dtype=object)[which] if len(at) else np.array([], object)
    silent = np.array([one.code == "" for one in outcomes], dtype=bool)
    reason = np.where(silent[which], -1, which) if len(at) else which
    columns = {
        "verdict": verdict, "basis": basis, "reason": reason, "counts": np.ones(len(at), dtype=bool),
        "limit": np.full(len(at), np.nan), "margin": np.full(len(at), np.nan), "limit_id": np.full(len(at), -1),
        "world": np.full(len(at), "certain", dtype=object),
    }  # fmt: skip
    return Overlay(at, columns, schema.conform("reasons", reasons))
