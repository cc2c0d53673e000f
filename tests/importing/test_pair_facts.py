"""Facts of a test of twisted pair: wire maps in every spelling, velocity, temperature, level, scheme, screen.

The kinds of wire-map fault are those of wiring.csv of the reference (common practice); spellings are our own.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.importing import pair_facts
from analyzer.importing.read import read_source
from analyzer.importing.source import Source
from analyzer.importing.wire_maps import declared_verdict, told

STRAIGHT = "contacts 1-1 2-2 3-3 4-4 5-5 6-6 7-7 8-8"


@pytest.mark.parametrize(
    ("text", "said", "declared"),
    [
        ("PASS", "pass", "pass"),
        ("12345678/12345678", STRAIGHT, "pass"),
        ("1-1 2-2 3-3 4-4 5-5 6-6 7-7 8-8", STRAIGHT, "pass"),
        ("A: 1 2 3 4 5 6 7 8\nB: 1 2 3 6 5 4 7 8", "contacts 1-1 2-2 3-3 4-6 5-5 6-4 7-7 8-8", "fail"),
        ("12345678/1234567x", "contacts 1-1 2-2 3-3 4-4 5-5 6-6 7-7 8-0", "fail"),
        ("12345678S/12345678", f"{STRAIGHT}; screen open", "fail"),
        ("12345678s/12345678s", f"{STRAIGHT}; screen continuous", "pass"),
        ("1-1 2-2 3-3 6-6", "contacts 1-1 2-2 3-3 6-6", ""),
        ("PASS 12345678/12365478", "contacts 1-1 2-2 3-3 4-6 5-5 6-4 7-7 8-8; pass", "pass"),
        ("open 4,5 @ 32 m", "open 4 5 @ 32.0", "fail"),
        ("open 4 @ 105 ft; short 1,2", "open 4 @ 32.0; short 1 2", "fail"),
        ("1,2 open", "open 1 2", "fail"),
        ("short 1-2", "short 1 2", "fail"),
        ("split 3,6-4,5", "split 3 6 4 5", "fail"),
        ("reversed 1-2", "reversed 1 2", "fail"),
        ("crossed 1-2/3-6", "crossed 1 2 3 6", "fail"),
        ("screen open", "screen open", "fail"),
        ("T568A/T568B", "scheme T568A T568B", ""),
        ("PASS (T568B)", "scheme T568B T568B; pass", "pass"),
        ("Kurzschluss 1-2 bei 3,5 m", "short 1 2 @ 3.5", "fail"),
        ("paire inversée 3-6", "reversed 3 6", "fail"),
        ("par dividido 3,6-4,5", "split 3 6 4 5", "fail"),
        ("coppie incrociate 1,2 - 3,6", "crossed 1 2 3 6", "fail"),
        ("onderbroken 4", "open 4", "fail"),
        ("curto-circuito 7,8", "short 7 8", "fail"),
        ("no opens, no shorts", "", ""),
        ("---", "", ""),
        ("42", "", ""),
        ("see drawing", "", ""),
    ],
)
def test_wire_maps_are_told_in_one_notation(text, said, declared):
    assert told(text) == said
    assert declared_verdict(text) == declared


@given(st.permutations("12345678"), st.sampled_from(["/", " / ", " | ", " "]))
def test_two_rows_and_a_list_say_the_same(far, between):
    rows = told("12345678" + between + "".join(far))
    listed = told(" ".join(f"{near}-{to}" for near, to in zip("12345678", far, strict=True)))
    assert rows == listed
    assert rows.startswith("contacts 1-")


@given(st.text(max_size=60))
def test_any_text_is_told_or_not(text):
    known = {"contacts", "open", "short", "reversed", "crossed", "split", "miswire", "screen", "scheme", "straight", "pass", "fail"}  # fmt: skip
    assert {part.split(" ")[0] for part in told(text).split("; ") if part} <= known


@pytest.mark.parametrize(
    ("text", "level"), [("IIIe", "IIIe"), ("Level iv", "IV"), ("level 2G", "2G"), ("Stufe V", "V"), ("good", "")]
)
def test_accuracy_levels(text, level):
    assert pair_facts.accuracy_level(text) == level


@pytest.mark.parametrize(
    ("text", "percent"), [("69", 69.0), ("69 %", 69.0), ("0.69", 69.0), ("0,69 c", 69.0), ("690", math.nan), ("-", math.nan)]
)  # fmt: skip
def test_velocities(text, percent):
    assert pair_facts.nvp_percent(text) == pytest.approx(percent, nan_ok=True)


@pytest.mark.parametrize(
    ("text", "heading", "celsius", "code"),
    [
        ("23 °C", "Temperature", 23.0, ""),
        ("73,4", "Temperature (°F)", 23.0, ""),
        ("-40 F", "Temperature", -40.0, ""),  # the one temperature that both scales call the same
        ("212", "Temp F", 100.0, ""),  # water boils: definition of the Fahrenheit scale
        ("23", "Temperature", math.nan, "no-temperature-unit"),
        ("-300 °C", "Temperature", math.nan, "not-a-fact"),
        ("warm", "Temperature (°C)", math.nan, "not-a-fact"),
    ],
)
def test_temperatures(text, heading, celsius, code):
    value, problem = pair_facts.temperature(text, heading)
    assert value == pytest.approx(celsius, nan_ok=True)
    assert problem == code


def read(text):
    return read_source(Source("results.csv", text.encode()))


HEAD = "Link,Grade,Wire map,Wire map verdict,NVP,Temperature (°F),Accuracy level,Wiring scheme,Shield,Delay 12 (ns)\n"


def test_columns_become_facts_of_the_record():
    records = read(HEAD + "C1,6A,12345678/12365478,PASS,69%,68,Level IIIe,T568A/T568B,open,241.7\n").records
    told_of = records.iloc[0]
    assert told_of["wire_map"] == "12345678/12365478"
    assert told_of["wire_map_told"] == "contacts 1-1 2-2 3-3 4-6 5-5 6-4 7-7 8-8"
    assert (told_of["wiring_scheme_a"], told_of["wiring_scheme_b"]) == ("T568A", "T568B")
    assert (told_of["nvp_percent"], told_of["temperature_c"]) == (69.0, 20.0)
    assert (told_of["accuracy_level"], told_of["screen"]) == ("IIIe", "open")


def test_the_verdict_beside_contacts_is_what_the_export_declares():
    readings = read(HEAD + "C1,6A,12345678/12365478,PASS,,,,,,241.7\n").readings
    assert readings.loc[readings["parameter"] == "wire map", "declared_verdict"].tolist() == ["pass"]


def test_a_verdict_alone_is_the_wire_map():
    imported = read("Link,Grade,Wire map status,Delay 12 (ns)\nC1,6A,FAIL,241.7\n")
    readings = imported.readings
    assert readings.loc[readings["parameter"] == "wire map", "declared_verdict"].tolist() == ["fail"]
    assert imported.records["wire_map_told"].tolist() == ["fail"]


def test_rows_that_name_the_wire_map_carry_its_text():
    text = "Link,Parameter,Pair,Value,Unit\nC1,Wire map,,short 1-2,\nC1,NEXT,12-36,38.2,dB\n"
    imported = read(text)
    assert imported.records["wire_map"].dropna().tolist() == ["short 1-2"]


def test_a_temperature_without_a_unit_is_set_aside():
    aside = read("Link,Grade,Temperature,Delay 12 (ns)\nC1,6A,23,241.7\n").set_aside
    assert aside["code"].tolist() == ["no-temperature-unit"]
