"""How a plan reads: one reviewed page of text, and what every plan must show."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.budget.planned import plan_link
from analyzer.report.plan_table import CAUTIONS, plan_lines

PANELS = {"fiber": "OM4", "length_m": 120, "ends": ("panel", "panel"), "edition": "568.3-E"}

REVIEWED = """\
Plan: OM4, 120 m, panel to panel: 2 mated pairs, 0 splices
Allowed by TIA 568.3-E

850 nm   cable 0.36 + matings 1.50 + splices 0.00 = 1.86 dB allowed in service *
  0 |============################################################| 1.86 dB   (= cable, # matings)
                                 m             n
  Done well it loses 0.88 dB in the middle (m); 97 of 100 stay under 1.31 dB (n)
  Power budget 2.60 dB: 0.74 dB are left
  Longest with these connections and splices: 366 m
  Most mated pairs at this length: 2
  On the day the tester should read:
    reference    matings in it     at most   done well   97 of 100
    one-cord                 2   1.86 dB *     0.88 dB     1.31 dB
    two-cord                 1   1.11 dB *     0.58 dB     0.90 dB
    three-cord               0   0.36 dB *     0.30 dB   no spread
"""


def told(**changes):
    return "\n".join(plan_lines(plan_link(**{**PANELS, **changes})))


def test_the_page_as_reviewed():
    text = told(power_budget_db=2.6, wavelengths_nm=(850,))
    assert text.startswith(REVIEWED)


def test_every_plan_shows_the_cautions_its_sources_and_what_is_unconfirmed():
    text = told()
    flat = " ".join(text.split())
    for caution in CAUTIONS:
        assert caution in flat
    for row_id in ("FA-TIA-E-OM4-850", "FC-TIA-E-PAIR-MM", "FT-OPTOKON-OM4-1300", "FS-IEC-BM-MM"):
        assert row_id in text
    assert "* unconfirmed" in text
    assert "rests on doubtful figures: FS-IEC-BM-MM" in flat


def test_a_budget_exceeded_is_said_in_words():
    text = told(power_budget_db=1.0)
    assert "EXCEEDED by 0.86 dB" in text
    assert "No length fits: connections and splices alone exceed it" in text
    assert "Most mated pairs at this length: 0" in text
    assert "an application may end at a shorter length" in " ".join(text.split())


def test_what_has_no_source_is_said_and_no_number_stands_there():
    text = told(ends=("cassette", "panel"))
    assert text.count("no source   no source") == 6
    assert "no spread of the loss of array connections" in " ".join(text.split())
    assert "Done well" not in text


def test_a_method_that_does_not_fit_is_told_below_the_table():
    assert "three-cord: a three-cord reference cannot be used" in told(ends=None, mated_pairs=1, splices=0)


def test_an_own_figure_carries_no_mark():
    from analyzer.job import Job

    own = {"mated_pair_db": 0.5, "splice_db": 0.2, "attenuation_db_per_km": {"OM4": {850: 3.0, 1300: 1.5}}}
    text = told(job=Job.model_validate({"allowances": own}))
    assert "* unconfirmed" not in text
    assert "1.36 dB allowed in service\n" in text


@pytest.mark.parametrize("ends", [("panel", "panel"), ("cassette", "plug"), ("pigtail", "jack")])
@pytest.mark.parametrize("fiber", ["OM1", "OM4", "OS1a", "OS2"])
@given(st.floats(0, 4000), st.floats(0, 8), st.floats(0, 3))
def test_any_plan_is_plain_text_of_limited_width_and_adds_up(fiber, ends, length, power, other):
    lines = plan_lines(plan_link(fiber=fiber, length_m=length, ends=ends, power_budget_db=power, other_db=other))
    assert all(line.isascii() and "\n" not in line for line in lines)
    assert all(len(line) <= 100 for line in lines if "|" not in line)
    assert all(len(line) <= 120 for line in lines)
    sums = [line for line in lines if "allowed in service" in line]
    assert len(sums) == 2
    for line in sums:
        *parts, total = (float(number) for number in re.findall(r"\d+\.\d\d", line))
        assert sum(parts) == pytest.approx(total, abs=0.02)  # each is rounded for print
    assert not any("nan" in line or "-0.00" in line for line in lines)
