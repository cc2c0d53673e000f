"""Worn test leads: told where one tester falls and others do not; panels that differ make no trend."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from crew import joined, strands

from analyzer import schema
from analyzer.insights import leads
from analyzer.insights.joined import Joined
from analyzer.schema import CATEGORIES

PANELS, PORTS = 20, 12
START = np.datetime64("2026-09-14T08:00:00")
SINGLES = CATEGORIES["pair"][:4]


def copper(falls=(0.0, 0.0), seed=1, panel_db=0.4, parameters=("return loss", "NEXT"), ends="AB", **more):
    """A job of two testers, twenty panels each, whose readings fall by so many dB over their tests.

    Panels have a level of their own: the generator knows them as a normal number for each, the screening only as what
    links with the same labels have in common.
    """
    rng = np.random.default_rng(seed)
    n = PANELS * PORTS
    records, readings = [], []
    for tester, fall in enumerate(falls):
        panel, port = np.arange(n) // PORTS, np.arange(n) % PORTS
        level = rng.normal(0, panel_db, PANELS)[panel] + rng.normal(0, 1.5, n)
        names = [f"WA-{tester + 1}{p:02d}-{q + 1:02d}" for p, q in zip(panel, port, strict=True)]
        frame = pd.DataFrame({"label": names, "tester": f"T-{tester + 1}", "operator": "Ada Invented"})
        frame["tested_at"] = START + (np.arange(n) * 47).astype("timedelta64[s]")
        frame["length_m"] = np.round(rng.uniform(20, 80, PANELS)[panel] + rng.normal(0, 3, n), 1)
        records.append(frame)
        for parameter in parameters:
            for pair in SINGLES if parameter == "return loss" else ("1-2/3-6", "3-6/4-5"):
                for end in ends:
                    value = 20 + level + rng.normal(0, 1.5, n) - fall * np.arange(n) / n
                    value -= 0.02 * frame["length_m"].to_numpy() * (parameter == "NEXT")
                    rows = {"parameter": parameter, "pair": pair, "end": end, "value": np.round(value, 1)}
                    readings.append(pd.DataFrame(rows | {"record": np.arange(n) + tester * n}))
    records, readings = pd.concat(records, ignore_index=True), pd.concat(readings, ignore_index=True)
    readings = readings.sort_values("record", kind="stable").reset_index(drop=True)
    records["record"], readings["reading"] = np.arange(len(records)), np.arange(len(readings))
    records = schema.conform("records", records.assign(key=records["label"].str.lower(), row=2, strands=1, **more))
    readings = schema.conform("readings", readings.assign(row=2, col=3, decimals=1, wavelength_nm=-1))
    records["link"] = np.arange(len(records))
    links = schema.conform(
        "links",
        pd.DataFrame(
            {"link": records["link"], "label": records["label"], "key": records["key"], "medium": "twisted pair",
             "type": "6A", "length_m": records["length_m"], "verdict": "pass", "strand": None}
        ),
    )  # fmt: skip
    judged = schema.conform("judged", pd.DataFrame({"reading": readings["reading"], "in_force": True}))
    tables = {name: schema.empty(name) for name in ("files", "blocks")}
    return Joined(SimpleNamespace(records=records, readings=readings, judged=judged, links=links, job=None, **tables))


def test_honest_testers_are_quiet():
    for seed in range(3):
        assert leads.worn(copper(seed=seed)) == []


def test_a_tester_whose_leads_wear_is_told_with_what_the_others_do():
    (found,) = leads.worn(copper((0.0, 4.0), seed=2))
    assert (
        "margins of tester T-2 fall over its 240 links in the order of testing, return loss at end A by "
        in found.message
    )
    assert "those of others do not (return loss at end A: T-1 " in found.message
    assert "chance alone would give fewer than 0.001, 4 seen" in found.message
    # the later half: what should be tested again
    assert len(found.links) == 120
    assert all(label.startswith("WA-2") for label in found.links)
    numbers = {one.what: one.value for one in found.evidence if one.file is None}
    first, last = (value for what, value in numbers.items() if what.startswith("return loss at end A"))
    assert first - last > 2.5
    assert found.severity == "warning"


def test_one_lead_of_two_names_its_end():
    job = copper(seed=3, parameters=("return loss",), panel_db=0.3)
    readings = job.analysis.readings
    late = (readings["record"].to_numpy() - 240) / 240
    worn = (readings["end"] == "A").to_numpy() & (late >= 0)
    readings.loc[worn, "value"] -= 5.0 * late[worn]
    (found,) = leads.worn(job)
    assert "return loss at end A by " in found.message
    assert "end B" not in found.message
    assert {one.what[-5:] for one in found.evidence if one.row} == {"end A"}


def test_what_falls_for_all_testers_is_no_lead():
    assert leads.worn(copper((4.0, 4.0), seed=4)) == []


def test_one_tester_alone_has_nobody_to_be_compared_with():
    assert leads.worn(copper((4.0,), seed=5)) == []


def test_a_fall_of_less_than_a_decibel_is_not_told():
    assert leads.worn(copper((0.0, 0.7), seed=6, panel_db=0.0, ends="A")) == []


@pytest.mark.slow
def test_panels_that_differ_widely_hide_a_small_fall_and_make_none():
    """Twenty panels whose levels spread by 3 dB: their order alone makes falls of decibels again and again."""
    falls = []
    for seed in range(5):
        job = copper(seed=seed, panel_db=3.0, parameters=("return loss",))
        falls += [-one.change_db for one in leads._series(job)]
        assert leads.worn(job) == []
    assert max(falls) > 2.0


def test_margins_are_taken_where_the_readings_have_them():
    job = copper((0.0, 0.0), seed=7, parameters=("return loss",))
    judged, late = job.analysis.judged, job.analysis.readings["record"].to_numpy() - 240
    judged["margin"] = job.analysis.readings["value"] - 12.0 - np.where(late >= 0, 4.0 * late / 240, 0.0)
    (found,) = leads.worn(job)
    fall = float(found.message.split("return loss at end A by ")[1].split(" dB")[0])
    assert 2.5 < fall < 5.5


@pytest.mark.parametrize(
    "gone", [{"tester": None}, {"tested_at": np.datetime64("NaT")}, {"tested_at": START}], ids=["tester", "time", "one"]
)
def test_without_testers_or_times_nothing_is_told(gone):
    assert leads.worn(copper((0.0, 4.0), seed=2, **gone)) == []


def test_lengths_and_ends_may_be_missing():
    job = copper((0.0, 4.0), seed=2)
    job.analysis.links["length_m"] = np.nan
    job.analysis.readings["end"] = pd.Categorical([None] * len(job.analysis.readings), CATEGORIES["end"])
    (found,) = leads.worn(job)
    assert "return loss by " in found.message
    assert "at end" not in found.message


def test_labels_that_tell_no_panels():
    job = copper((0.0, 5.0), seed=2, panel_db=0.2)
    numbers = [f"{n:x}z" for n in range(len(job.analysis.links))]
    job.analysis.links["label"] = job.analysis.links["key"] = numbers
    (found,) = leads.worn(job)
    assert "T-2" in found.message


def test_a_job_of_fiber():
    assert leads.worn(joined(strands())) == []
