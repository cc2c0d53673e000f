"""Which limits govern a twisted-pair record: lines, exemptions, nearest configuration, candidates, own limits."""

import numpy as np
import pandas as pd
import pytest
from bench import job_of

from analyzer import schema
from analyzer.budget.pair_limits import PairLimits, check_candidates
from analyzer.errors import StandardsError
from analyzer.job import Job
from analyzer.standards import limit, load

VALUES = load()


def book(*orders, job=None):
    """A book over orders of (grade, configuration[, standard])."""
    rows = [
        {"grade": grade, "configuration": where, "standard": more[0] if more else "TIA"}
        for grade, where, *more in orders
    ]
    return PairLimits(schema.conform("facts", pd.DataFrame(rows)), job or Job(), VALUES)


def test_the_line_is_that_of_the_standards_room():
    (line,) = book(("6A", "permanent link")).lines(0, "NEXT")
    f = np.array([1.0, 100.0, 300.0, 500.0])
    assert line.at(f) == pytest.approx(limit("NEXT", grade="6A", configuration="permanent link", frequency_mhz=f))


def test_candidates_in_doubt_stay_two_lines_until_the_job_settles_them():
    order = ("6A", "permanent link")
    assert [line.candidate for line in book(order).lines(0, "insertion loss")] == ["a", "b"]
    job = job_of('[candidates]\n"6A permanent link insertion loss" = "a"\n')
    assert [line.candidate for line in book(order, job=job).lines(0, "insertion loss")] == ["a"]
    # ACR-N is the NEXT limit less the insertion loss limit, so its doubt is the same doubt
    assert [line.candidate for line in book(order, job=job).lines(0, "ACR-N")] == ["a"]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ('"6A channel NEXT" = "a"', "is no limit in doubt; those are 6A permanent link insertion loss"),
        ('"6A permanent link insertion loss" = "d"', "its candidates are a, b"),
    ],
)
def test_a_candidate_that_is_none_is_refused(text, why):
    with pytest.raises(StandardsError, match=why):
        check_candidates(job_of(f"[candidates]\n{text}\n"), VALUES)


def test_a_consolidation_point_that_nobody_mentioned_leaves_two_lines():
    order = ("EA", "permanent link", "ISO")
    assert [line.conditions for line in book(order).lines(0, "NEXT")] == [
        ("without consolidation point",), ("with consolidation point",),
    ]  # fmt: skip
    job = job_of("[conditions]\nconsolidation_point = true\n")
    assert [line.conditions for line in book(order, job=job).lines(0, "NEXT")] == [("with consolidation point",)]


def test_category_8_is_too_weakly_known_to_govern():
    assert book(("8", "channel")).lines(0, "insertion loss") == ()


def test_without_a_grade_nothing_can_be_looked_up():
    one = book((None, "channel"))
    assert one.lines(0, "NEXT") == ()
    assert one.governing(0).problem == "no grade is stated"


def test_without_a_configuration_both_are_possible():
    assert [line.configuration for line in book(("6", None)).lines(0, "NEXT")] == ["channel", "permanent link"]


# nearest configurations: common practice, no source
@pytest.mark.parametrize(
    ("ordered", "used"), [("modular plug terminated link", "permanent link"), ("end-to-end link", "channel")]
)
def test_plug_ended_links_take_the_nearest_limits(ordered, used):
    one = book(("6A", ordered))
    assert one.governing(0).configurations == (used,)
    assert one.governing(0).nearest["basis"]
    assert {line.configuration for line in one.lines(0, "NEXT")} == {used}


def test_length_is_limited_by_the_longest_link():
    (line,) = book(("6A", "permanent link")).lines(0, "length")
    assert (line.at(), line.unit, line.sense) == (90.0, "m", "max")


def test_own_limits_stand_beside_the_standard():
    job = job_of('[[limits]]\nname = "Quiet"\nsource = "invented brief"\nparameter = "NEXT"\nmin = 40.0\n')
    (line,) = book(("6A", "channel"), job=job).own_lines("NEXT")
    assert line.sense == "min"
    assert line.at(np.array([1.0, 100.0])).tolist() == [40.0, 40.0]


def test_an_exemption_can_be_switched_off():
    order = ("6A", "channel")
    assert [row["setting"] for row in book(order).exemptions(0, "return loss")] == ["return loss at low insertion loss"]
    job = job_of("[exemptions]\nreturn_loss_at_low_insertion_loss = false\n")
    assert book(order, job=job).exemptions(0, "return loss") == ()


def test_every_setting_of_the_values_is_a_key_of_the_job():
    settings = {row["setting"] for row in VALUES.rows("copper_exemptions") if row["setting"]}
    assert {setting: isinstance(Job().exemptions.holds(setting), bool) for setting in settings}
    assert len(settings) == len(type(Job().exemptions).model_fields)


def test_every_line_has_one_number_and_one_row():
    one = book(("6A", "channel"), ("6A", "channel"), ("5e", "channel"))
    numbers = [one.limit_id(line) for at in range(3) for line in one.lines(at, "NEXT")]
    assert numbers == [0, 0, 1]
    table = one.limits()
    assert table["rows"].tolist()[0] == "CL-TIA-D-6A-CH-NEXT-1 CL-TIA-D-6A-CH-NEXT-330"
    assert not table["confirmed"].any()
    assert table["text"].str.startswith("TIA-568.2-D:2018: 6A channel NEXT: at least ").tolist()[0]
