"""Invented exports of odd shape: what each gives, written down by hand from its text."""

import numpy as np
import pytest

from analyzer.importing import Source, read_source


def read(text):
    return read_source(Source("results.csv", text.encode()))


def readings_of(imported):
    joined = imported.readings.merge(imported.records[["record", "label"]], on="record").astype({"direction": object})
    return [
        (label, int(wave), way if isinstance(way, str) else "", value)
        for label, wave, way, value in zip(
            joined["label"], joined["wavelength_nm"], joined["direction"], joined["value"], strict=True
        )
    ]


CASES = {
    "directions_over_wavelengths": (
        "Cable,Core,Direction A-B,,Direction B-A,,OTDR length (m)\n,,1310,1550,1310,1550,\nT9,1,0.30,0.20,0.31,0.21,500\n",
        [("T9-01", 1310, "A-B", 0.30), ("T9-01", 1550, "A-B", 0.20), ("T9-01", 1310, "B-A", 0.31), ("T9-01", 1550, "B-A", 0.21)],
    ),
    "only_a_mean": (
        "Strand;Mean 1310 nm;Length [m]\nA1;0,3;300\nA2;0,4;300\n",
        [("A1", 1310, "", 0.3), ("A2", 1310, "", 0.4)],
    ),
    "units_row_under_directions": (
        "Report 4711;;;;;\n;;;;;\nNom;Fibre;850;850;Long.\n;;A→B;B→A;\n;;dB;dB;m\nR1;OM4;0,4;0,5;90\n",
        [("R1", 850, "A-B", 0.4), ("R1", 850, "B-A", 0.5)],
    ),
    "tables_side_by_side": (
        "Link,850 nm,1300 nm,,Link,850 nm,1300 nm\nL1,0.1,0.2,,L3,0.5,0.6\n",
        [("L1", 850, "", 0.1), ("L1", 1300, "", 0.2), ("L3", 850, "", 0.5), ("L3", 1300, "", 0.6)],
    ),
    "named_by_place_and_port": (
        "From Panel,From Port,To Panel,To Port,Loss 1310 (dB),Length (m)\nPP-A,1,PP-B,1,0.3,400\nPP-A,2,PP-B,2,0.4,400\n",
        [("PP-A-01", 1310, "", 0.3), ("PP-A-02", 1310, "", 0.4)],
    ),
    "cable_named_between_the_rows": (
        "Fiber,850 nm (dB)\nCable TB-01 OM4,\n1,0.41\n2,0.42\nCable TB-02 OM4,\n1,0.51\n2,0.52\n",
        [("TB-01-01", 850, "", 0.41), ("TB-01-02", 850, "", 0.42), ("TB-02-01", 850, "", 0.51), ("TB-02-02", 850, "", 0.52)],
    ),
    "cable_named_by_the_title": (
        "Fiber test results for cable TB-09\nReference: 1 jumper\nStrand,850\n1,0.41\n2,0.42\n",
        [("TB-09-01", 850, "", 0.41), ("TB-09-02", 850, "", 0.42)],
    ),
    "notes_and_signature": (
        "Link,Loss 850 (dB),Remark\nL1,0.4,\nL2,0.5,cleaned\nsee drawing 7,,\nL3,0.6,\n\n* cleaned twice.\nSigned: nobody\n",
        [("L1", 850, "", 0.4), ("L2", 850, "", 0.5), ("L3", 850, "", 0.6)],
    ),
    "decimal_commas_in_quotes": (
        'Link,850 nm\nL1,"0,42"\nL2,"1,42"\n',
        [("L1", 850, "", 0.42), ("L2", 850, "", 1.42)],
    ),
    "verdict_words_as_headings": (
        "Kabelnummer;Ader;Wellenlänge (nm);Dämpfung Richtung 1 (dB);Dämpfung Richtung 2 (dB);i.O.\nK1;1;850;0,4;0,5;ja\n",
        [("K1-01", 850, "A-B", 0.4), ("K1-01", 850, "B-A", 0.5)],
    ),
    "strands_named_by_the_places_they_join": (
        "Loc A,Loc B,Fiber,Type,1310 A-B,Km\nN1,N2,12,G.652.D,0.45,1.2\nN1,N3,12,G.652.D,0.46,1.3\n",
        [("N1-N2-12", 1310, "A-B", 0.45), ("N1-N3-12", 1310, "A-B", 0.46)],
    ),
    "short_words": (
        "ID;WL;Dir;IL;Len;P/F\nA;1310;AB;0.3;500 m;P\nA;1310;BA;0.35;500 m;F\n",
        [("A", 1310, "A-B", 0.3), ("A", 1310, "B-A", 0.35)],
    ),
    "one_name_for_all_strands": (
        "Fiber Name,Fiber No,Loss@850nm\nTB-01,1,0.4\nTB-01,2,0.3\n",
        [("TB-01-01", 850, "", 0.4), ("TB-01-02", 850, "", 0.3)],
    ),
    "names_of_other_things": (
        "Project name,Zone code,Cable,Fiber,Color,850 nm\nHall,links,T1,1,blue,0.4\nHall,links,T1,2,orange,0.3\n",
        [("T1-01", 850, "", 0.4), ("T1-02", 850, "", 0.3)],
    ),
    "limit_and_margin_under_each_wavelength": (
        "ID,850 nm,,,1300 nm,,\n,Loss (dB),Limit (dB),Margin (dB),Loss (dB),Limit (dB),Margin (dB)\nL1,0.4,1.9,1.5,0.3,1.7,1.4\n",
        [("L1", 850, "", 0.4), ("L1", 1300, "", 0.3)],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_odd_export(name):
    text, expected = CASES[name]
    imported = read(text)
    assert sorted(readings_of(imported)) == sorted(expected)
    assert imported.set_aside.empty


def test_limits_stand_beside_their_own_wavelength():
    imported = read(CASES["limit_and_margin_under_each_wavelength"][0])
    assert imported.readings["declared_limit"].tolist() == [1.9, 1.7]
    assert imported.readings["declared_margin"].tolist() == [1.5, 1.4]


def test_a_verbose_export_gives_every_fact():
    imported = read(
        "Test Name,Date Tested,Time,Tested By,Tester Serial No,Cal Date,Test Limit,Fiber Type,Reference Method,"
        "Number of Connectors,Number of Splices,Optical Length (m),850nm Measured Loss (dB),850nm Limit (dB),Overall Result\n"
        "HALL-A-001,03/14/2026,2:05 PM,A. Nobody,SN-0001,01/02/2026,Generic,OM3 50/125,1 Jumper,2,0,88.4,0.42,1.76,PASS\n"
    )
    record = imported.records.iloc[0]
    assert (record["type"], record["reference"], record["mated_pairs"], record["splices"]) == ("OM3", "one-cord", 2, 0)
    assert str(record["tested_at"]) == "2026-03-14 14:05:00"
    assert (record["operator"], record["tester"], record["declared_limit"]) == ("A. Nobody", "SN-0001", "Generic")
    assert record["declared_verdict"] == "pass"
    assert str(record["calibrated_on"]) == "2026-01-02 00:00:00"  # 03/14 in the same table settles the order of 01/02
    assert imported.set_aside.empty


def test_a_date_that_nothing_settles_is_set_aside():
    imported = read("Link,Date,Loss 850 (dB)\nL1,03/04/2026,0.4\n")
    assert imported.set_aside["code"].tolist() == ["ambiguous-date"]
    assert imported.records["tested_at"].isna().all()


def test_twisted_pair_in_a_long_table():
    imported = read(
        "Label,Parameter,Pair,End,Frequency (MHz),Value,Limit,Margin,Unit\n"
        "C-101,NEXT,12-36,Near,250,38.2,35.3,2.9,dB\n"
        "C-101,Return Loss,36,Far,100,14.2,12,2.2,dB\n"
        "C-101,Length,45,,,64,90,,m\n"
        "C-101,Wire Map,,,,PASS,,,\n"
    )
    readings = imported.readings
    assert readings["parameter"].tolist() == ["NEXT", "return loss", "length", "wire map"]
    assert readings["pair"].astype(object).tolist()[:3] == ["1-2/3-6", "3-6", "4-5"]
    assert readings["end"].astype(object).tolist()[:2] == ["A", "B"]
    assert readings["frequency_mhz"].tolist()[:2] == [250, 100]
    assert readings["declared_verdict"].astype(object).tolist()[3] == "pass"
    assert (imported.records["medium"] == "twisted pair").all()
    assert np.allclose(imported.records["length_m"], 64)


def test_cells_beyond_the_headings_are_set_aside():
    imported = read("Link,Loss 850 (dB)\nL1,0.4\nL2,0.4,extra,0.9\n")
    assert imported.set_aside["code"].tolist() == ["beyond-headings"] * 2
    assert imported.set_aside["text"].tolist() == ["extra", "0.9"]


def test_a_link_without_readings_is_a_record_and_a_remark_is_not():
    imported = read(
        "Link,Loss 850 (dB),Loss 1300 (dB)\nL1,0.4,0.3\nL2,,\nspare7,,\nnot accessible today,,\nL3,0.4,0.3\n"
    )
    assert imported.records["label"].tolist() == ["L1", "L2", "spare7", "L3"]
    assert imported.file["furniture_rows"] == 2


LONG_COPPER = (
    "Link,Length (m),Wire map,Parameter,Pair,End,Frequency (MHz),Value,Limit,Margin,Unit\n"
    "C1,64,PASS,NEXT,12-36,A,250,38.2,35.3,2.9,dB\n"
    "C1,64,PASS,Propagation delay,45,,,0.3,0.498,0.198,us\n"
)


def test_limit_margin_and_unit_of_a_row_belong_to_the_value_that_the_row_names():
    imported = read(LONG_COPPER)
    assert imported.set_aside.empty
    by_name = imported.readings.astype({"pair": object, "end": object}).set_index("parameter")
    assert by_name.loc["NEXT", ["value", "declared_limit", "declared_margin"]].tolist() == [38.2, 35.3, 2.9]
    delay = by_name.loc["propagation delay", ["value", "declared_limit", "declared_margin"]].astype(float)
    assert np.allclose(delay, [300, 498, 198])
    others = by_name.loc[["wire map", "length"]]
    assert others[["pair", "end", "frequency_mhz", "declared_limit", "declared_margin"]].isna().all(axis=None)
    assert others["value"].dropna().tolist() == [64, 64]


def test_a_length_takes_no_limit_from_the_parameter_beside_it():
    imported = read("Link,Grade,Length (m),NEXT 12-36 A (dB),Limit (dB)\nC1,6A,64,38.2,35.3\n")
    limits = imported.readings.set_index("parameter")["declared_limit"]
    assert np.isnan(limits["length"])
    assert limits["NEXT"] == 35.3


def test_a_bare_margin_does_not_take_the_pair_from_its_value():
    imported = read("Link,Grade,Pair,NEXT A (dB),Margin (dB)\nC1,6A,12-36,38.2,2.9\n")
    reading = imported.readings.astype({"pair": object}).iloc[0]
    assert (reading["pair"], reading["declared_margin"]) == ("1-2/3-6", 2.9)


@pytest.mark.parametrize(
    "head",
    [
        "Link,NEXT A (dB),NEXT A pair,NEXT A frequency (MHz),NEXT B (dB),NEXT B pair,NEXT B frequency (MHz)\n",
        "Link,NEXT A (dB),Pair,Frequency (MHz),NEXT B (dB),Pair,Frequency (MHz)\n",
    ],
)
def test_pair_and_frequency_columns_of_each_value(head):
    readings = read(head + "C1,41.2,12-36,250,39.9,45-78,423.7\n").readings.astype({"pair": object, "end": object})
    found = readings[["end", "pair", "frequency_mhz", "value"]].to_numpy().tolist()
    assert found == [["A", "1-2/3-6", 250.0, 41.2], ["B", "4-5/7-8", 423.7, 39.9]]


def test_margins_without_values_are_readings_without_a_value():
    imported = read("Link,NEXT margin A (dB),NEXT margin B (dB)\nC1,1.1,-0.9\nC2,0.7,none of it\n")
    assert imported.readings["declared_margin"].tolist() == [1.1, -0.9, 0.7]
    assert imported.readings["value"].isna().all()
    assert imported.set_aside["text"].tolist() == ["none of it"]
    assert (imported.file["cells_read"], imported.file["cells_used"]) == (4, 3)


def test_margins_of_a_long_table_and_of_wavelengths_are_readings():
    long = read("Link,Parameter,Pair,End,Margin (dB)\nC1,NEXT,12-36,A,1.1\n").readings
    assert long["parameter"].tolist() == ["NEXT"]
    assert long["declared_margin"].tolist() == [1.1]
    fiber = read("Link,Margin 850 nm (dB),Margin 1300 nm (dB)\nL1,1.1,0.9\n").readings
    assert fiber["wavelength_nm"].tolist() == [850, 1300]
    assert fiber["declared_margin"].tolist() == [1.1, 0.9]


def test_frequencies_in_headings():
    imported = read(
        "Link,NEXT 12-36 A @ 100 MHz (dB),NEXT 12-36 A @ 0.25 GHz (dB),Loss 45 at 250 MHz\nC1,50.1,44.2,20.3\n"
    )
    readings = imported.readings.astype({"parameter": object})
    found = readings[["parameter", "frequency_mhz", "value"]].to_numpy().tolist()
    assert found == [["NEXT", 100.0, 50.1], ["NEXT", 250.0, 44.2], ["insertion loss", 250.0, 20.3]]


def test_frequencies_as_columns():
    head = "Link,Parameter,Pair,End,Unit,1 MHz,16 MHz,100 MHz\n"
    imported = read(head + "C1,NEXT,12-36,A,dB,84.7,64.7,50.1\nC1,Return loss,45,B,dB,40.8,32.1,\n")
    readings = imported.readings.astype({"parameter": object, "pair": object})
    assert readings["frequency_mhz"].tolist() == [1, 16, 100, 1, 16]
    assert readings["value"].tolist() == [84.7, 64.7, 50.1, 40.8, 32.1]
    assert set(readings["pair"]) == {"1-2/3-6", "4-5"}


def test_two_frequencies_in_a_row_of_cells_do_not_make_it_headings():
    text = "Link,Parameter,Pair,Frequency,Value\nC1,NEXT,12-36,100 MHz,50.1\nC1,NEXT,45-78,250 MHz,OL\nC2,NEXT,12-36,16 MHz,60\n"
    imported = read(text)
    assert imported.records["label"].tolist() == ["C1", "C1", "C2"]
    assert imported.readings["frequency_mhz"].tolist() == [100, 250, 16]


def test_parameters_as_rows_and_pairs_as_columns_under_the_facts_of_a_link():
    imported = read(
        "Link,C1\nGrade,6A\n\nParameter,End,1-2,3-6,Unit\nPSNEXT,A,39,42.2,dB\nLoop resistance,,14.8,15.1,Ω\n"
    )
    readings = imported.readings.astype({"parameter": object, "pair": object})
    found = readings[["parameter", "pair", "value"]].to_numpy().tolist()
    resistance = [["loop resistance", "1-2", 14.8], ["loop resistance", "3-6", 15.1]]
    assert found == [["PSNEXT", "1-2", 39.0], ["PSNEXT", "3-6", 42.2], *resistance]
    assert set(imported.records["label"]) == {"C1"}


def test_a_wire_map_above_the_table_is_one_reading():
    imported = read(
        "Link;C1\nGrade;6A\nWire map;FAIL\n\nParameter;Pair;Value;Unit\nNEXT;12-36;38,2;dB\nNEXT;45-78;39;dB\n"
    )
    maps = imported.readings[imported.readings["parameter"] == "wire map"]
    assert maps["declared_verdict"].astype(object).tolist() == ["fail"]


@pytest.mark.parametrize(
    ("words", "method"),
    [
        ("1-Kabel", "one-cord"), ("2-Kabel", "two-cord"), ("3-Kabel", "three-cord"), ("1 cordon", "one-cord"),
        ("1-latiguillo", "one-cord"), ("1 bretella", "one-cord"), ("1-snoer", "one-cord"), ("1 cordão", "one-cord"),
    ],
)  # fmt: skip
def test_reference_methods_are_read_with_and_without_hyphen(words, method):
    imported = read(f"Strecke;Referenz;Dämpfung 850 nm (dB)\nL1;{words};0,4\n")
    assert imported.records["reference"].astype(object).tolist() == [method]


@pytest.mark.parametrize("words", ["hors échelle", "fora da escala", "kein Licht"])
def test_over_range_words(words):
    imported = read(f"Link;Loss 850 nm (dB)\nL1;{words}\nL2;0,4\n")
    assert imported.readings["bound"].astype(object).tolist()[0] == "over range"


def test_spanish_directions_are_two_readings():
    imported = read("Enlace;Atenuación 850 nm A a B (dB);Atenuación 850 nm B a A (dB)\nL1;0,4;0,7\n")
    assert readings_of(imported) == [("L1", 850, "A-B", 0.4), ("L1", 850, "B-A", 0.7)]


def test_a_maximum_is_the_limit_where_the_margin_proves_it():
    head = "Enlace;Longitud de onda (nm);Pérdida (dB);Máximo (dB);Margen (dB)\n"
    imported = read(head + "L1;850;0,40;1,50;1,10\n")
    assert imported.readings["declared_limit"].tolist() == [1.5]
    assert np.isnan(read(head + "L1;850;0,40;0,50;1,10\n").readings["declared_limit"]).all()


def test_a_time_stamp_column_of_clock_times_is_the_time_of_the_date_beside_it():
    imported = read("Linknummer;Datum;Tijdstip;Demping 850 nm (dB)\nL1;14-03-2026;08:07;0,4\n")
    assert str(imported.records["tested_at"][0]) == "2026-03-14 08:07:00"


def test_a_length_or_time_below_zero_is_set_aside():
    imported = read(
        "Link,Category,Length (m),Propagation delay 12 (ns),Loop resistance 12 (ohm)\nC1,6A,-5,-20,-3\nC2,6A,5,24,1.2\n"
    )
    assert imported.set_aside["code"].tolist().count("below-zero") == 3
    assert imported.readings["value"].tolist() == [5.0, 24.0, 1.2]
