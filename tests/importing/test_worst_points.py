"""Columns that say where a worst point lies: frequencies and pairs of margins and limits, in any order of words."""

import pytest

from analyzer.importing import Source, read_source
from analyzer.importing.headings import understand

FREQUENCIES = [
    ("NEXT worst margin freq", "NEXT"), ("NEXT margin (dB) @ MHz", "NEXT"), ("RL Worst Case Margin Frequency", "return loss"),
    ("IL limit at (MHz)", "insertion loss"), ("Worst margin frequency NEXT", "NEXT"), ("Frequency of worst NEXT margin", "NEXT"),
    ("NEXT freq at worst margin", "NEXT"), ("Freq NEXT margin", "NEXT"), ("PSNEXT Margin Freq. [MHz]", "PSNEXT"), ("NEXT @ MHz", "NEXT"),
    ("NEXT 12-36 worst margin (MHz)", "NEXT"), ("ACR-F margin, MHz", "ACR-F"), ("NEXT f (MHz)", "NEXT"), ("NEXT limit frequency", "NEXT"),
    ("NEXT Reserve Frequenz", "NEXT"), ("Frequenz der NEXT Reserve (MHz)", "NEXT"), ("Rückflussdämpfung Reserve bei MHz", "return loss"),
    ("NEXT marge fréquence", "NEXT"), ("Fréquence de la marge NEXT", "NEXT"), ("NEXT marge à (MHz)", "NEXT"),
    ("Frecuencia margen NEXT", "NEXT"), ("NEXT margine frequenza", "NEXT"), ("NEXT marge frequentie", "NEXT"), ("NEXT margem frequência", "NEXT"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "parameter"), FREQUENCIES)
def test_heading_of_a_frequency_is_never_one_of_values(text, parameter):
    heading = understand((text,))
    assert (heading.role, heading.parameter, heading.end) == ("frequency", parameter, "")


@pytest.mark.parametrize(
    ("text", "role"),
    [
        ("NEXT margin (dB)", "margin"),
        ("NEXT worst margin (dB)", "margin"),
        ("NEXT margin at 100 MHz (dB)", "margin"),
        ("NEXT margin at worst frequency (dB)", "margin"),
        ("NEXT 1-250 MHz (dB)", "value"),
        ("NEXT worst pair margin (dB)", "margin"),
        ("NEXT margin pair", "pair"),
        ("NEXT limit (dB)", "limit"),
        ("Frequency (MHz)", "frequency"),
        ("Length limit (m)", "limit"),
    ],
)
def test_nearest_rivals(text, role):
    assert understand((text,)).role == role


def test_margin_and_value_at_their_own_frequencies_are_two_points():
    head = "Link,Category,RL worst margin (dB),RL worst margin freq (MHz),RL worst value (dB),RL worst value freq (MHz)"
    readings = read_source(Source("a.csv", f"{head}\nC-01,6A,3.3,410,14.1,488.5\n".encode())).readings
    told = readings[["frequency_mhz", "value", "declared_margin"]].astype(object).where(readings.notna(), None)
    assert told.to_numpy().tolist() == [[410.0, None, 3.3], [488.5, 14.1, None]]


def test_one_frequency_of_the_margin_is_that_of_the_value_beside_it():
    text = "Link,Category,NEXT (dB),NEXT margin (dB),NEXT worst margin freq (MHz)\nC-01,6A,40.1,4.8,236.5\n"
    readings = read_source(Source("a.csv", text.encode())).readings
    assert readings[["value", "declared_margin", "frequency_mhz"]].to_numpy().tolist() == [[40.1, 4.8, 236.5]]


def test_each_pair_has_the_frequency_of_its_own_margin():
    pairs = ("12-36", "12-45", "36-45")
    head = ",".join(f"NEXT {pair} (dB),NEXT {pair} margin (dB),NEXT {pair} margin freq" for pair in pairs)
    text = f"Link,Category,{head}\nC-01,6A,40.1,4.8,236.5,41.2,3.3,410,42.3,2.2,99.5\n"
    assert read_source(Source("a.csv", text.encode())).readings["frequency_mhz"].tolist() == [236.5, 410.0, 99.5]
