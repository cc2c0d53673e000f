import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.report.wording import allowed, counted, exit_sentence, frequency, margin, measured, number, reading_name


@pytest.mark.parametrize(
    ("value", "text"),
    [(1.5, "1.50"), (-0.42, "−0.42"), (-0.0, "0.00"), (-0.004, "0.00"), (0.005, "0.01"), (math.nan, "-")],
)
def test_two_decimals_and_no_minus_zero(value, text):
    assert number(value) == text


@given(st.floats(-1e6, 1e6))
def test_minus_zero_is_never_written(value):
    assert number(value) != "−0.00"
    assert float(number(value).replace("−", "-")) == pytest.approx(value, abs=0.00501)


def test_a_failure_by_a_hair_does_not_look_like_a_pass():
    assert margin(-0.003, "loss") == "margin negative by less than 0.01 dB"
    assert margin(-1e-12, "loss") == "margin 0.00 dB"
    assert margin(0.003, "loss") == "margin 0.00 dB"
    assert margin(math.nan, "loss") == ""


def test_values_are_told_in_their_own_unit_with_their_bound():
    assert measured(0.05, "below", "loss") == "less than 0.05 dB"
    assert measured(math.nan, "over range", "loss") == "over range"
    assert measured(math.nan, None, "wire map") == ""
    assert measured(538.04, None, "propagation delay") == "538.0 ns"


def test_ceilings_are_allowed_and_floors_are_reached():
    assert allowed(1.5, "loss") == "allowed 1.50 dB"
    assert allowed(30.1, "NEXT") == "needed 30.10 dB"
    assert allowed(math.nan, "loss") == ""


def test_readings_are_named_with_what_applies():
    assert reading_name("loss", 1550, None, None, "A-B") == "loss at 1550 nm A-B"
    assert reading_name("NEXT", -1, "1-2/3-6", "A", math.nan) == "NEXT 1-2/3-6 at end A"
    assert reading_name("NEXT", -1, "1-2/3-6", "B", None, 312.0) == "NEXT 1-2/3-6 at end B, 312 MHz"


@pytest.mark.parametrize(
    ("mhz", "text"),
    [(312.0, "312 MHz"), (62.5, "62.5 MHz"), (100.0, "100 MHz"), (31.254, "31.25 MHz"), (0.772, "0.772 MHz"),
     (2000.0, "2,000 MHz"), (1.0, "1 MHz"), (math.nan, "")],
)  # fmt: skip
def test_frequencies_carry_the_digits_that_say_something(mhz, text):
    assert frequency(mhz) == text


def test_counts_have_their_plural():
    assert [counted(count, "link") for count in (0, 1, 12_000)] == ["0 links", "1 link", "12,000 links"]


def test_the_exit_code_is_told_once():
    assert exit_sentence(1, "exit code 1: 2 links fail") == "Exit code 1: 2 links fail."
    assert exit_sentence(1, "2 links fail.") == "Exit code 1: 2 links fail."
    assert exit_sentence(0, "") == "Exit code 0."
