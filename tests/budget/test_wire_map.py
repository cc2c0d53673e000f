"""Wire maps judged. Contacts, pairs and colors: TIA/EIA-568-B.1-2001 as an encyclopaedia page prints them (secondary);
kinds of fault: common practice, no source."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer import schema
from analyzer.budget.overlay import lay_over
from analyzer.budget.wire_map import Said, Wiring, faults_of, is_crossover, judge_one, judge_wire_maps
from analyzer.standards import load

WIRING = Wiring.of(load())
STRAIGHT = "contacts 1-1 2-2 3-3 4-4 5-5 6-6 7-7 8-8"
ALL = frozenset(WIRING.pairs)


def one(told, declared="", ordered=ALL, screened=None, **more):
    return judge_one(Said(told, declared, **more), WIRING, ordered, screened=screened)


def test_a_crossover_exchanges_the_green_and_the_orange_pair():
    # T568A: green on 1-2, orange on 3-6; T568B the other way round; blue and brown the same in both
    assert WIRING.crossover == {1: 3, 2: 6, 3: 1, 4: 4, 5: 5, 6: 2, 7: 7, 8: 8}
    assert is_crossover(WIRING.crossover.items(), WIRING)


@pytest.mark.parametrize(
    ("contacts", "kinds", "words"),
    [
        ("1-1 2-2 3-3 4-4 5-5 6-6 7-7 8-8", [], []),
        ("1-2 2-1 3-3 4-4 5-5 6-6 7-7 8-8", ["reversed"], ["pair 1-2 reversed"]),
        ("1-3 2-6 3-1 4-4 5-5 6-2 7-7 8-8", ["crossed"], ["pairs 1-2 and 3-6 crossed"]),
        ("1-1 2-2 3-3 4-0 5-5 6-6 7-7 8-8", ["open"], ["open on contact 4"]),
        ("1-1 2-2 3-3 6-6", ["open"], ["open on contacts 4, 5, 7 and 8"]),
        ("1-1 1-2 2-2 3-3 4-4 5-5 6-6 7-7 8-8", ["short"], ["short on contacts 1 and 2"]),
        ("1-1 2-1 3-3 4-4 5-5 6-6 7-7 8-8", ["short"], ["short on contacts 1 and 2"]),
        ("1-1 2-2 3-4 4-3 5-5 6-6 7-7 8-8", ["miswire", "miswire"],
         ["contacts 3 and 6 arrive at 4 and 6", "contacts 4 and 5 arrive at 3 and 5"]),
        ("1-7 2-8 3-3 4-4 5-5 6-6 7-1 8-2", ["crossed"], ["pairs 1-2 and 7-8 crossed"]),
    ],
)  # fmt: skip
def test_faults_of_contacts(contacts, kinds, words):
    faults = faults_of("contacts " + contacts, WIRING)
    assert [fault.kind for fault in faults] == kinds
    assert [fault.words for fault in faults] == words


@given(st.permutations(range(1, 9)))
def test_only_straight_contacts_have_no_fault(far):
    told = "contacts " + " ".join(f"{near}-{to}" for near, to in enumerate(far, start=1))
    assert bool(faults_of(told, WIRING)) == (list(far) != list(range(1, 9)))


@given(st.permutations(range(1, 9)))
def test_a_fault_seen_from_the_other_end_is_a_fault_too(far):
    back = sorted((to, near) for near, to in enumerate(far, start=1))
    seen = [
        {fault.kind for fault in faults_of("contacts " + " ".join(f"{a}-{b}" for a, b in joined), WIRING)}
        for joined in (list(enumerate(far, start=1)), back)
    ]
    assert seen[0] == seen[1]


def test_straight_contacts_pass_and_cannot_exclude_a_split_pair():
    outcome = one(STRAIGHT)
    assert (outcome.verdict, outcome.basis, outcome.code) == ("pass", "value", "wire-map-straight")
    assert "cannot show a split pair" in outcome.text


def test_a_word_alone_rests_on_the_declared_verdict():
    assert one("pass", "pass")[:3] == ("pass", "declared verdict", "wire-map-declared-pass")
    assert one("fail", "fail")[:3] == ("fail", "declared verdict", "wire-map-declared-fail")


def test_contacts_stand_above_the_declared_pass():
    outcome = one("contacts 1-1 2-2 3-3 4-6 5-5 6-4 7-7 8-8; pass", "pass")
    assert (outcome.verdict, outcome.basis) == ("fail", "value")


def test_a_declared_fail_over_straight_contacts_is_not_explained_away():
    assert one(STRAIGHT, "fail")[:3] == ("not judged", "value", "wire-map-unexplained")


def test_a_crossover_fails_and_is_known():
    outcome = one("contacts 1-3 2-6 3-1 4-4 5-5 6-2 7-7 8-8")
    assert outcome.verdict == "fail"
    assert outcome.text.endswith("that is a crossover: one end is wired T568A and the other T568B")


def test_opens_on_pairs_that_were_not_ordered_are_told_and_decide_nothing():
    two = frozenset({(1, 2), (3, 6)})
    outcome = one("contacts 1-1 2-2 3-3 6-6", ordered=two)
    assert (outcome.verdict, outcome.code) == ("pass", "wire-map-straight")
    assert "open on contacts 4, 5, 7 and 8 on pairs that were not ordered" in outcome.text
    assert one("contacts 1-1 2-2 3-3 6-6").verdict == "fail"
    assert one("open 3 @ 32.0", ordered=two)[0] == "fail"


@pytest.mark.parametrize(
    ("screened", "verdict"), [(True, "fail"), (False, "pass"), (None, "not judged")]
)  # fmt: skip
def test_an_open_screen_is_a_fault_of_screened_cabling_only(screened, verdict):
    assert one(f"{STRAIGHT}; screen open", screened=screened).verdict == verdict
    assert one(STRAIGHT, screened=screened, screen="open").verdict == verdict


def test_distance_and_pairs_are_told():
    assert one("open 4 5 @ 32.0").text == "open on contacts 4 and 5 at 32 m"
    assert one("split 3 6 4 5").text == "pairs 3-6 and 4-5 split"
    assert one("reversed 1 2").text == "pair 1-2 reversed"
    assert one("short").text == "short"


def test_schemes_that_differ_while_contacts_are_straight_are_told():
    assert "which the contacts do not bear out" in one(STRAIGHT, scheme_a="T568A", scheme_b="T568B").text
    assert "both ends T568B" in one(f"{STRAIGHT}; scheme T568B T568B").text


def test_a_scheme_alone_is_no_verdict():
    assert one("scheme T568B T568B")[:3] == ("not judged", "declared verdict", "wire-map-silent")


def test_every_wire_map_reading_gets_its_verdict_and_no_other():
    records = schema.conform("records", pd.DataFrame({"record": [0, 1], "wire_map_told": [STRAIGHT, "short 1 2"]}))
    readings = schema.conform("readings", pd.DataFrame({
        "reading": [0, 1, 2], "record": [0, 1, 1], "parameter": ["wire map", "NEXT", "wire map"],
        "declared_verdict": [None, None, "fail"],
    }))  # fmt: skip
    judged = schema.conform("judged", pd.DataFrame({"reading": [0, 1, 2], "verdict": ["not judged"] * 3}))
    overlay = judge_wire_maps(readings, records, load())
    assert overlay.at.tolist() == [0, 2]
    table, reasons = lay_over(judged, schema.empty("reasons"), overlay)
    assert table["verdict"].tolist() == ["pass", "not judged", "fail"]
    assert reasons["text"].to_numpy()[table["reason"].to_numpy()[2]] == "short between contacts 1 and 2"
    assert np.array_equal(table["reading"], judged["reading"])
