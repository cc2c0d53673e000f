"""Limits moved to the temperature of a test. Coefficients: TIA-568-C.2 clause 6.4.7 as quoted (secondary), IEC 60028
(memory); worked examples of the reference: 40 °C is 8 % more loss, a link of 90 m becomes one of 83.3 m."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from analyzer import analyze, schema
from analyzer.budget.pair_facts import limits_of_pairs
from analyzer.budget.pair_limits import PairLimits
from analyzer.job import Job
from analyzer.job.pair_models import TwistedPair
from analyzer.standards import limit, load

VALUES = load()
HOT = Job(twisted_pair=TwistedPair(correct_to_20_c=True, screened=False))


def limits(job, *degrees):
    records = schema.conform("records", pd.DataFrame({"record": range(len(degrees)), "temperature_c": degrees}))
    facts = schema.conform("facts", pd.DataFrame({
        "record": range(len(degrees)), "standard": "TIA", "grade": "6A", "configuration": "channel",
        "medium": "twisted pair",
    }))  # fmt: skip
    return limits_of_pairs(facts, records, job, VALUES)


def at_100_mhz(some, record, parameter="insertion loss"):
    (line,) = some.lines(record, parameter)
    return line.at(100.0)


def test_without_the_key_temperature_changes_nothing():
    assert type(limits(Job(), 40.0)) is PairLimits
    assert type(limits(HOT, np.nan)) is PairLimits


def test_a_warm_cable_may_lose_more():
    some = limits(HOT, 20.0, 40.0, np.nan)
    cold = limit("insertion loss", grade="6A", configuration="channel", frequency_mhz=100.0)
    assert at_100_mhz(some, 0) == cold
    assert at_100_mhz(some, 1) == pytest.approx(1.08 * cold)
    assert at_100_mhz(some, 2) == cold
    assert some.order_numbers.tolist() == [0, 1, 2]


def test_a_warm_cable_may_be_shorter_and_resist_more():
    some = limits(HOT, 40.0)
    assert some.lines(0, "length")[0].at() == pytest.approx(100 / 1.08)
    assert some.lines(0, "loop resistance")[0].at() == pytest.approx(25 * (1 + 0.00393 * 20))


def test_other_limits_stay():
    assert at_100_mhz(limits(HOT, 40.0), 0, "NEXT") == limit(
        "NEXT", grade="6A", configuration="channel", frequency_mhz=100.0
    )


def test_where_nobody_says_whether_it_is_screened_the_stricter_holds():
    some = limits(Job(twisted_pair=TwistedPair(correct_to_20_c=True)), 40.0)
    cold = limit("insertion loss", grade="6A", configuration="channel", frequency_mhz=100.0)
    assert at_100_mhz(some, 0) == pytest.approx(1.04 * cold)
    assert some.lines(0, "length")[0].at() == pytest.approx(100 / 1.08)


def test_the_same_line_is_the_same_object():
    some = limits(HOT, 40.0, 40.0)
    assert some.lines(0, "insertion loss") is some.lines(1, "insertion loss")


def test_the_reason_tells(tmp_path):
    (tmp_path / "job.toml").write_text("[twisted_pair]\ncorrect_to_20_c = true\nscreened = false\n", encoding="utf-8")
    text = "Link,Grade,Configuration,Wire map,Temperature (°C),Loop resistance 12,Loop resistance 36\nC1,6A,channel,PASS,{},25.5,20\n"
    (tmp_path / "a.csv").write_text(text.format(40), encoding="utf-8")
    analysis = analyze(tmp_path)
    rows = analysis.judged[analysis.readings["parameter"] == "loop resistance"]
    assert rows["verdict"].tolist() == ["pass", "pass"]
    assert rows["limit"].tolist() == pytest.approx([26.965, 26.965])
    said = analysis.reasons["text"].to_numpy()[rows["reason"].to_numpy()]
    assert "limit moved from 20 °C to 40 °C: 1.079 times, 0.393 % a degree, IEC 60028" in said[0]
    assert any(one["key"] == "twisted_pair.correct_to_20_c" for one in analysis.looser)
    (tmp_path / "a.csv").write_text(text.format(10), encoding="utf-8")
    verdicts = analyze(tmp_path).judged["verdict"]
    assert "fail" in verdicts.tolist()
