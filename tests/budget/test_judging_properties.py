"""Rules that hold for any link: more parts allow more, less loss is never worse, more knowledge never turns a verdict."""

import numpy as np
from bench import judged, om4
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.budget.retests import SEVERITY

MANY = 12
"""Links in one example: judging has a fixed cost, so they are judged together."""

few = settings(max_examples=max(2, settings().max_examples // MANY))
few_tests = settings(max_examples=max(4, settings().max_examples // 6))

WORSE = {"pass": 0, "marginal": 1, "incomplete": 2, "fail": 3}


def severity(readings):
    return readings["verdict"].astype("object").map(SEVERITY).astype("int64")


TYPES = st.sampled_from([("OM1", 850, 1300), ("OM4", 850, 1300), ("OS2", 1310, 1550)])
LOSS = st.floats(-0.5, 12.0).map(lambda value: round(value, 2))
READING = st.one_of(LOSS, st.tuples(LOSS, st.sampled_from(["below", "above"])), st.just((np.nan, "over range")))
FACTS = {
    "length_m": st.floats(0, 3000),
    "mated_pairs": st.integers(2, 4),
    "splices": st.integers(0, 2),
    "construction": st.sampled_from(["indoor-outdoor", "outside plant"]),
}


@st.composite
def links(draw, reading=READING):
    fiber, *waves = draw(TYPES)
    known = {name: draw(values) for name, values in FACTS.items()}
    loss = {wave: draw(reading) for wave in waves if draw(st.booleans())}
    accuracy = draw(st.sampled_from([None, 0.1]))
    return om4(type=fiber, loss=loss, accuracy_db=accuracy, **known)


@st.composite
def cases(draw, reading=READING, facts=(*FACTS, "type")):
    """Links with labels of their own, each with one of its facts."""
    rows = [draw(links(reading)) | {"label": f"L{number}"} for number in range(MANY)]
    return rows, [draw(st.sampled_from(facts)) for _ in rows]


def without(rows, facts):
    return [row | {fact: None} for row, fact in zip(rows, facts, strict=True)]


@few
@given(cases(facts=("length_m", "mated_pairs", "splices")), st.integers(1, 5))
def test_more_length_pairs_or_splices_never_allow_less(case, more):
    rows, facts = case
    longer = [row | {fact: row[fact] + more} for row, fact in zip(rows, facts, strict=True)]
    before, after = judged(*rows)[2]["limit"], judged(*longer)[2]["limit"]
    assert (after[before.notna()] >= before[before.notna()]).all()


@few
@given(cases())
def test_a_missing_fact_that_is_given_never_turns_the_verdict_of_a_reading(case):
    """What fails without the fact fails with it, and what passes without it passes with it."""
    open_ones, known = severity(judged(*without(*case))[2]), severity(judged(*case[0])[2])
    not_judged = SEVERITY["not judged"]
    assert (known[open_ones < not_judged] < not_judged).all()
    assert (known[open_ones > not_judged] > not_judged).all()


@few
@given(cases())
def test_a_missing_fact_that_is_given_never_turns_the_verdict_of_a_link(case):
    before, after = (judged(*rows)[1].links["verdict"].tolist() for rows in (without(*case), case[0]))
    turned = {("pass", "fail"), ("marginal", "fail"), ("fail", "pass"), ("fail", "marginal"), ("fail", "incomplete")}
    # without the fact the fail was sure, so it stays whatever the fact is
    assert turned.isdisjoint(zip(before, after, strict=True))


@few
@given(cases(LOSS.filter(lambda value: value >= 0), ("length_m", "mated_pairs", "label")), st.floats(0, 3))
def test_less_loss_is_never_worse(case, less):
    rows = [row | ({} if fact == "label" else {fact: None}) for row, fact in zip(*case, strict=True)]
    better = [row | {"loss": {wave: max(0.0, value - less) for wave, value in row["loss"].items()}} for row in rows]
    (_, linked, readings), (_, better_linked, better_readings) = judged(*rows), judged(*better)
    assert (severity(better_readings) <= severity(readings)).all()
    worse = (linked.links["verdict"], better_linked.links["verdict"])
    before, after = (verdict.astype("object").map(WORSE) for verdict in worse)
    assert (after <= before).all()


TIMES = st.sampled_from([None, "2026-03-01", "2026-03-01 10:00", "2026-03-01 11:00", "2026-03-02"])


@st.composite
def several_tests(draw):
    rows = []
    for _ in range(draw(st.integers(2, 12))):
        row = draw(links())
        left_out = draw(st.sets(st.sampled_from([*FACTS, "type"])))
        declared = draw(st.sampled_from([None, "pass", "fail"]))
        label, time = draw(st.sampled_from(["A", "B", "C"])), draw(TIMES)
        rows.append(row | dict.fromkeys(left_out) | {"label": label, "tested_at": time, "declared_verdict": declared})
    return rows


@few_tests
@given(several_tests(), st.randoms(use_true_random=False))
def test_order_of_records_never_matters_for_the_verdict_of_a_link(rows, random):
    shuffled = random.sample(rows, len(rows))
    first, second = (judged(*order)[1].links.set_index("key")[["verdict", "attempts"]] for order in (rows, shuffled))
    assert first.loc[second.index].equals(second)


@few_tests
@given(several_tests())
def test_what_is_judged_is_whole_and_consistent(rows):
    verdicts, linked, readings = judged(*rows)
    every_reading_gets_one_judged_row_in_its_place(rows, verdicts, linked, readings)
    what_is_shown_is_consistent(linked, readings)
    some_test_of_every_repeated_reading_stays_in_force(linked, readings)


def every_reading_gets_one_judged_row_in_its_place(rows, verdicts, linked, readings):
    assert verdicts.judged["reading"].tolist() == list(range(len(readings)))
    assert len(linked.in_force) == len(readings)
    assert len(linked.link_of_record) == len(rows)


def what_is_shown_is_consistent(linked, readings):
    """A limit stands wherever a number decided; margin is limit less value; NaN never passes."""
    has = readings["margin"].notna()
    assert np.allclose(readings["margin"][has], (readings["limit"] - readings["value"])[has], atol=2e-9)
    passes = readings["verdict"].isin(["pass", "marginal pass"])
    assert readings.loc[passes, "value"].notna().all()
    assert (readings.loc[passes, "margin"] >= 0).all()
    assert readings.loc[readings["verdict"] == "not judged", "margin"].isna().all()
    assert (linked.links.loc[linked.links["verdict"].isin(["pass", "marginal"]), "missing"] == "").all()
    assert not linked.links["sentence"].str.contains("nan|-0.00|None", regex=True).any()


def some_test_of_every_repeated_reading_stays_in_force(linked, readings):
    unit = readings.assign(link=linked.link_of_record[readings["record"]], live=linked.in_force)
    assert unit.groupby(["link", "judged_wavelength_nm"])["live"].any().all()
