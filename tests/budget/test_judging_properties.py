"""Rules that hold for any link: more parts allow more, less loss is never worse, more knowledge never turns a verdict."""

import numpy as np
from bench import judged, om4
from hypothesis import given
from hypothesis import strategies as st

from analyzer.budget.retests import SEVERITY

WORSE = {"pass": 0, "marginal": 1, "incomplete": 2, "fail": 3}

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


@given(links(), st.sampled_from(["length_m", "mated_pairs", "splices"]), st.integers(1, 5))
def test_more_length_pairs_or_splices_never_allow_less(row, fact, more):
    less = judged(row)[2]["limit"]
    assert (judged(row | {fact: row[fact] + more})[2]["limit"] >= less).all()


@given(links(), st.sampled_from(list(FACTS) + ["type"]))
def test_a_lower_limit_never_comes_from_leaving_a_fact_out_of_a_fail(row, fact):
    """What fails without the fact fails with it, and what passes without it passes with it."""
    without = judged(row | {fact: None})[2]["verdict"].map(SEVERITY)
    known = judged(row)[2]["verdict"].map(SEVERITY)
    decided = without != SEVERITY["not judged"]
    passes = without < SEVERITY["not judged"]
    assert (known[decided & passes] < SEVERITY["not judged"]).all()
    assert (known[decided & ~passes] > SEVERITY["not judged"]).all()


@given(links(), st.sampled_from(list(FACTS) + ["type"]))
def test_a_missing_fact_that_is_given_never_turns_the_verdict_of_a_link(row, fact):
    before, after = judged(row | {fact: None})[1].links.verdict[0], judged(row)[1].links.verdict[0]
    assert {before, after} not in ({"pass", "fail"}, {"marginal", "fail"})


@given(links(LOSS.filter(lambda value: value >= 0)), st.floats(0, 3), st.sets(st.sampled_from(["length_m", "mated_pairs"])))
def test_less_loss_is_never_worse(row, less, left_out):
    row |= dict.fromkeys(left_out)
    better = row | {"loss": {wave: max(0.0, value - less) for wave, value in row["loss"].items()}}
    (_, linked, readings), (_, better_linked, better_readings) = judged(row), judged(better)
    assert (better_readings["verdict"].map(SEVERITY) <= readings["verdict"].map(SEVERITY)).all()
    assert WORSE[better_linked.links.verdict[0]] <= WORSE[linked.links.verdict[0]]


TIMES = st.sampled_from([None, "2026-03-01", "2026-03-01 10:00", "2026-03-01 11:00", "2026-03-02"])


@st.composite
def several_tests(draw):
    rows = []
    for _ in range(draw(st.integers(2, 6))):
        row = draw(links())
        left_out = draw(st.sets(st.sampled_from([*FACTS, "type"])))
        declared = draw(st.sampled_from([None, "pass", "fail"]))
        label, time = draw(st.sampled_from(["A", "B"])), draw(TIMES)
        rows.append(row | dict.fromkeys(left_out) | {"label": label, "tested_at": time, "declared_verdict": declared})
    return rows


@given(several_tests(), st.randoms(use_true_random=False))
def test_order_of_records_never_matters_for_the_verdict_of_a_link(rows, random):
    shuffled = random.sample(rows, len(rows))
    first, second = (judged(*order)[1].links.set_index("key")[["verdict", "attempts"]] for order in (rows, shuffled))
    assert first.loc[second.index].equals(second)


@given(several_tests())
def test_every_reading_gets_one_judged_row_in_its_place(rows):
    verdicts, linked, readings = judged(*rows)
    assert verdicts.judged["reading"].tolist() == list(range(len(readings)))
    assert len(linked.in_force) == len(readings)
    assert len(linked.link_of_record) == len(rows)


@given(several_tests())
def test_what_is_shown_is_consistent(rows):
    """A limit stands wherever a number decided; margin is limit less value; NaN never passes."""
    _, linked, readings = judged(*rows)
    has = readings["margin"].notna()
    assert np.allclose(readings["margin"][has], (readings["limit"] - readings["value"])[has], atol=2e-9)
    passes = readings["verdict"].isin(["pass", "marginal pass"])
    assert readings.loc[passes, "value"].notna().all()
    assert (readings.loc[passes, "margin"] >= 0).all()
    assert readings.loc[readings["verdict"] == "not judged", "margin"].isna().all()
    assert (linked.links.loc[linked.links["verdict"].isin(["pass", "marginal"]), "missing"] == "").all()
    assert not linked.links["sentence"].str.contains("nan|-0.00|None", regex=True).any()


@given(several_tests())
def test_some_test_of_every_repeated_reading_stays_in_force(rows):
    _, linked, readings = judged(*rows)
    unit = readings.assign(link=linked.link_of_record[readings["record"]], live=linked.in_force)
    assert unit.groupby(["link", "judged_wavelength_nm"])["live"].any().all()
