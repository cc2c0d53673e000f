"""Readings in lines above a sweep: read where they need no frequency, else set aside; never passed over."""

import pandas as pd
import pytest

from analyzer.importing import ReadContext, Source, read_source

SWEEP = [
    "Frequency (MHz),NEXT 12-36 dB end A,IL 12 dB",
    *(f"{mhz},{70 - mhz / 10:.1f},{mhz / 20:.1f}" for mhz in (1, 4, 8, 10, 16, 20, 25, 31.25, 62.5, 100)),
]


def read(*lines, table=SWEEP):
    return read_source(Source("sweep.csv", "\n".join([*lines, "", *table]).encode()), ReadContext())


def by_parameter(told):
    readings = told.readings[told.readings["curve"].isna() if "curve" in told.readings else slice(None)]
    return readings.set_index(readings["parameter"].astype(str))


def test_what_needs_no_frequency_is_read_once_with_its_place():
    told = read("Link,W1", "Wire map,12345678/12345678", "Propagation delay 12 (ns),210", "Delay skew (ns),5")
    readings = by_parameter(told)
    assert readings.loc["propagation delay", ["value", "row", "col", "pair"]].tolist() == [210.0, 3, 1, "1-2"]
    assert readings.loc["delay skew", ["value", "row"]].tolist() == [5.0, 4]
    assert pd.isna(readings.loc["wire map", "value"])
    assert told.records["wire_map_told"].tolist() == ["contacts 1-1 2-2 3-3 4-4 5-5 6-6 7-7 8-8"]
    assert told.set_aside.empty
    assert told.file["cells_read"] == 2 * 10 + 3 == told.file["cells_used"]


def test_a_wire_map_by_a_word_is_a_declared_verdict():
    readings = by_parameter(read("Link,W1", "Wire map: PASS"))
    assert readings.loc["wire map", "declared_verdict"] == "pass"


@pytest.mark.parametrize("line", ["NEXT 12-36 (dB),40.1", "Return loss 12 (dB),18.2"])
def test_a_value_without_its_frequency_is_set_aside(line):
    told = read("Link,W1", line)
    (aside,) = told.set_aside.to_dict("records")
    assert (aside["code"], aside["row"], aside["text"]) == ("value-above-sweep", 2, line.split(",")[1])
    assert told.file["cells_read"] == told.file["cells_used"] + told.file["cells_set_aside"]


def test_above_the_curves_of_several_links_it_is_set_aside():
    table = ["Link,Frequency (MHz),NEXT 12-36 dB end A"]
    table += [
        f"{link},{mhz},{70 - mhz / 10:.1f}" for link in ("W1", "W2") for mhz in (1, 4, 8, 10, 16, 20, 25, 62.5, 100)
    ]
    told = read("Delay skew (ns),5", table=table)
    assert told.set_aside["code"].tolist() == ["value-above-sweep"]


def test_what_is_no_number_is_set_aside_once():
    told = read("Link,W1", "Delay skew (ns),five", "Wire map,perhaps")
    assert told.set_aside["code"].tolist() == ["not-a-number", "not-a-number"]
