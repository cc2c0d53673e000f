"""The JSON document: one small analysis written out by hand, and what must hold for any."""

import io
import json
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from terminal_fixture import empty_analysis, thirty_links

from analyzer import __version__, schema
from analyzer.report import document
from analyzer.report.document import check_document, write_check_json

LINK_KEYS = {
    "link", "medium", "type", "configuration", "length_m", "verdict", "margin_db", "decided_by", "attempts",
    "readings", "findings",
}  # fmt: skip
READING_KEYS = {
    "parameter", "wavelength_nm", "pair", "end", "direction", "frequency_mhz", "value", "bound", "limit", "margin",
    "unit", "verdict", "basis", "reason", "limit_source", "from",
}  # fmt: skip


def _written(analysis):
    stream = io.StringIO()
    write_check_json(analysis, stream)
    return stream.getvalue()


def _strict(text):
    def refuse(word):
        raise AssertionError(word)

    return json.loads(text, parse_constant=refuse)


@pytest.fixture(scope="module")
def told():
    return _strict(_written(thirty_links()))


def _link(told, label):
    (found,) = [link for link in told["links"] if link["link"] == label]
    return found


def test_a_failing_link_is_written_as_expected_by_hand(told):
    # Every value is read off tests/report/terminal_fixture.py by hand; margins are the float64 of limit - value.
    link = _link(told, "TB-02-3")
    facts = link.pop("facts")
    assert link == {
        "link": "TB-02-3", "medium": "fiber", "type": "OS2", "configuration": None, "length_m": 120.0,
        "verdict": "fail", "margin_db": 1.50 - 1.92, "decided_by": "loss at 1550 nm A-B: margin -0.42 dB",
        "decided_by_reading": 1, "attempts": 1, "proved": None, "missing": None, "sentence": None, "cable": "TB-02",
        "scheduled": True, "fingerprint": None, "findings": [], "directions": [], "events": [], "causes": [],
        "readings": [
            {
                "parameter": "loss", "wavelength_nm": 1310, "judged_wavelength_nm": 1310, "pair": None, "end": None,
                "direction": "A-B", "frequency_mhz": None, "value": 1.70, "bound": None, "limit": 1.62,
                "margin": 1.62 - 1.70, "unit": "dB", "accuracy": 0.1, "p_conform": None, "expected_db": None,
                "expected_97_db": None, "place": None, "verdict": "fail", "basis": "value", "reason": None,
                "worst_value": None, "worst_value_mhz": None, "points": None,
                "limit_source": "TIA 568.3-E, OS2 inside plant, one-cord: 1.0 dB/km, 0.75 dB a mated pair",
                "in_force": True, "counts": True,
                "from": {"file": "evidence/hall.xlsx", "sheet": "Trunk 2", "row": 14, "column": "F",
                         "heading": "Loss A-B 1310 nm"},
            },
            {
                "parameter": "loss", "wavelength_nm": 1550, "judged_wavelength_nm": 1550, "pair": None, "end": None,
                "direction": "A-B", "frequency_mhz": None, "value": 1.92, "bound": None, "limit": 1.50,
                "margin": 1.50 - 1.92, "unit": "dB", "accuracy": 0.1, "p_conform": None, "expected_db": None,
                "expected_97_db": None, "place": None, "verdict": "fail", "basis": "value", "reason": None,
                "worst_value": None, "worst_value_mhz": None, "points": None,
                "limit_source": "TIA 568.3-E, OS2 inside plant, one-cord: 1.0 dB/km, 0.75 dB a mated pair",
                "in_force": True, "counts": True,
                "from": {"file": "evidence/hall.xlsx", "sheet": "Trunk 2", "row": 14, "column": "G",
                         "heading": "Loss A-B 1550 nm"},
            },
        ],
    }  # fmt: skip
    assert facts["mated_pairs"] == {"value": 2.0, "from": "job"}
    assert facts["reference"] == {"value": "one-cord", "from": "assumed"}
    assert facts["construction"] == {"value": None, "from": None}


def test_the_head_names_format_totals_and_accounts(told):
    assert told["format"] == "cableproof-check/1"
    assert told["software"] == {"name": "cableproof", "version": __version__}
    assert told["totals"] == {"links": 30, "pass": 17, "marginal": 1, "fail": 2, "incomplete": 10}
    assert told["rows"] == {"read": 31, "used": 29, "set_aside": 2}
    assert told["cells"] == {"read": 58, "used": 57, "set_aside": 1}
    assert told["exit"] == {"code": 1, "reason": "2 links fail, 10 are incomplete"}


def test_every_file_is_an_input_with_its_status(told):
    assert [(item["file"], item["rows"], item["status"]) for item in told["inputs"]] == [
        ("evidence/trunks.csv", 22, "read"),
        ("evidence/hall.xlsx", 9, "read"),
        ("evidence/copy of trunks.csv", 0, "repeated"),
        ("evidence/broken.xlsx", 0, "unreadable"),
        ("schedule.csv", 0, "schedule"),
    ]
    assert all(item["rows"] == item["used"] + item["set_aside"] for item in told["inputs"])


def test_set_aside_rows_have_no_column_and_cells_have_one(told):
    assert [(item["row"], item["column"], item["code"], item["text"]) for item in told["set_aside"]] == [
        (25, None, "no-label", ",,0.91,0.80"),
        (26, None, "no-label", ",,0.90,0.83"),
        (22, "D", "not-a-number", "see note"),
    ]


def test_an_unbounded_reading_has_no_value_and_no_margin(told):
    assert _link(told, "FOH-1")["decided_by"] == "loss at 1310 nm A-B: over range"
    reading = _link(told, "FOH-1")["readings"][0]
    assert (reading["value"], reading["bound"], reading["margin"]) == (None, "over range", None)
    assert reading["verdict"] == "fail"
    assert reading["reason"].startswith("beyond the range of the tester")


def test_a_reading_that_is_not_judged_has_neither_limit_nor_margin(told):
    for reading in _link(told, "PR-1")["readings"]:
        assert reading["verdict"] == "not judged"
        assert (reading["limit"], reading["margin"], reading["limit_source"]) == (None, None, None)
        assert reading["reason"] == "the verdict hinges on what nothing states: length"


def test_a_superseded_reading_is_kept_and_marked(told):
    readings = _link(told, "TB-02-5")["readings"]
    assert [(reading["value"], reading["in_force"]) for reading in readings] == [
        (2.40, False), (0.90, True), (0.99, True),
    ]  # fmt: skip
    assert [reading["from"]["row"] for reading in readings] == [16, 30, 30]


def test_a_scheduled_link_without_result_has_an_empty_list(told):
    link = _link(told, "SC-06")
    assert link["readings"] == []
    assert link["facts"] is None
    assert link["findings"] == ["no-result"]
    assert link["decided_by"] is None


def test_minus_zero_is_not_written(told):
    margin = _link(told, "Bühne-7")["readings"][0]["margin"]
    assert margin == 0
    assert math.copysign(1, margin) == 1


def test_the_text_is_ascii_and_has_no_nan():
    text = _written(thirty_links())
    assert text.isascii()
    assert "NaN" not in text
    assert "Infinity" not in text
    assert _strict(text) == check_document(thirty_links())


def test_the_same_tables_give_the_same_bytes():
    assert _written(thirty_links()) == _written(thirty_links())


def test_nothing_at_all_is_still_a_document():
    told = _strict(_written(empty_analysis()))
    assert told["links"] == told["set_aside"] == told["findings"] == told["inputs"] == []


def test_links_and_readings_keep_their_order_and_their_agreed_keys(told):
    analysis = thirty_links()
    assert [link["link"] for link in told["links"]] == analysis.links["label"].tolist()
    for link in told["links"]:
        assert link.keys() >= LINK_KEYS
        assert all(reading.keys() >= READING_KEYS for reading in link["readings"])
    assert sum(len(link["readings"]) for link in told["links"]) == len(analysis.readings)


def test_each_link_lists_the_codes_of_the_findings_that_name_it(told):
    named = {label for finding in told["findings"] for label in finding["links"]}
    for link in told["links"]:
        expected = [finding["code"] for finding in told["findings"] if link["link"] in finding["links"]]
        assert link["findings"] == expected
    assert named == {"SC-05", "SC-06", "TB-01-09", "FOH-1"}


def test_readings_of_scattered_records_come_back_to_their_link(monkeypatch):
    # The readings of one link need not stand together; chunks of any size must give the same document.
    analysis = thirty_links()
    whole = check_document(analysis)
    for size in (1, 7):
        monkeypatch.setattr(document, "READINGS_PER_CHUNK", size)
        assert check_document(analysis) == whole
    order = np.random.default_rng(4).permutation(len(analysis.readings))
    analysis.readings = analysis.readings.iloc[order].reset_index(drop=True)
    analysis.judged = analysis.judged.iloc[order].reset_index(drop=True)
    shuffled = check_document(analysis)
    for before, after in zip(whole["links"], shuffled["links"], strict=True):
        assert before["decided_by"] == after["decided_by"]
        key = json.dumps
        assert sorted(before["readings"], key=key) == sorted(after["readings"], key=key)
        if before["decided_by_reading"] is not None:
            assert before["readings"][before["decided_by_reading"]] == after["readings"][after["decided_by_reading"]]


@given(st.lists(st.floats(), min_size=1, max_size=30))
def test_numbers_read_back_to_the_last_bit(values):
    written = document._number(pd.Series(values, dtype="float64")).to_pylist()
    for value, text in zip(values, written, strict=True):
        assert json.loads(text) == (value if math.isfinite(value) else None)


@given(st.lists(st.one_of(st.none(), st.text()), min_size=1, max_size=30))
def test_texts_read_back_whatever_stands_in_them(texts):
    written = document._text(pd.Series(texts, dtype=object)).to_pylist()
    assert [json.loads(text) for text in written] == texts


def test_a_label_with_quotes_and_control_signs_survives():
    analysis = thirty_links()
    label = 'TB "1"\\\x1b[31m\n\u202e'
    analysis.links.loc[0, "label"] = label
    analysis.links = schema.conform("links", analysis.links)
    assert check_document(analysis)["links"][0]["link"] == label
