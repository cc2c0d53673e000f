"""Twisted pair in terminal, document and page data: an invented run, read off its fixture by hand."""

import base64
import dataclasses
import io
import json

import numpy as np
import pandas as pd
import pytest
from pair_fixture import HOSTILE_LABEL, HOSTILE_PROVED, HOSTILE_REASON, copper_analysis

from analyzer import schema
from analyzer.report import page_curves
from analyzer.report.document import check_document
from analyzer.report.mends import usual_mend
from analyzer.report.page import page_text
from analyzer.report.page_data import page_data
from analyzer.report.terminal import print_check


@pytest.fixture(scope="module")
def told():
    stream = io.StringIO()
    print_check(copper_analysis(), stream=stream, width=120, color=False, ascii_only=False)
    return stream.getvalue()


@pytest.fixture(scope="module")
def document():
    return check_document(copper_analysis())


@pytest.fixture(scope="module")
def data():
    return page_data(copper_analysis())


def test_a_failing_link_names_pair_end_frequency_and_the_floor_it_missed(told):
    assert "FAIL DP-04  6A  NEXT 3-6/4-5 at end B, 100 MHz: 40.70 dB, needed 41.80 dB*, margin −1.10 dB" in told
    assert "Also fails: PSNEXT 4-5 at end B, 62.5 MHz (margin −0.40 dB)" in told
    assert "Best grade proved: 5e permanent link" in told
    assert "To do: terminate end B again with the twists kept up to the contacts, test again." in told


def test_a_wire_map_is_told_in_words_and_without_a_number(told):
    lines = told.splitlines()
    at = next(number for number, line in enumerate(lines) if "FAIL DP-05" in line)
    assert lines[at].endswith(f"wire map: {HOSTILE_REASON}")
    assert "Why" not in lines[at + 2]


def test_links_that_are_their_own_cable_fold_by_their_labels(told):
    assert "PASS DP-01 … DP-03  6A   3 links, least margin 3.40 dB" in told


def test_totals_tell_media_and_what_the_verdicts_rest_on(told):
    assert "fiber: 1 = 1 pass, 0 marginal, 0 fail, 0 incomplete" in told
    assert "twisted pair: 8 = 4 pass, 0 marginal, 3 fail, 1 incomplete" in told
    assert "Readings judged by: 24 curves, 47 worst points, 7 values" in told


def test_readings_that_decide_nothing_are_folded_with_their_reason(told):
    assert "1 reading: return loss counts only where insertion loss is at least 3 dB" in told


def test_one_medium_and_one_basis_are_not_told_apart():
    analysis = copper_analysis()
    links, judged = analysis.links, analysis.judged
    fiber = links[links["medium"] == "fiber"].reset_index(drop=True)
    whole = dataclasses.replace(analysis, links=fiber, judged=judged.assign(basis="value"))
    stream = io.StringIO()
    print_check(whole, stream=stream, width=120, color=False)
    assert "fiber: 1" not in stream.getvalue()
    assert "judged by" not in stream.getvalue()


def test_every_parameter_has_a_usual_mend_or_that_of_loss():
    assert (
        usual_mend("return loss", "A") == "look for a kink or a tight bend near end A, terminate it again, test again"
    )
    assert "both ends" in usual_mend("NEXT", np.nan)
    assert all("{" not in usual_mend(name, None) for name in schema.CATEGORIES["parameter"])


def test_the_document_tells_curves_worst_points_and_the_grade_proved(document):
    links = {link["link"]: link for link in document["links"]}
    assert links["RH-01"]["proved"] == "6 permanent link"
    assert links["DP-05"]["proved"] is None
    assert links["DP-04"]["decided_by"] == "NEXT 3-6/4-5 at end B, 100 MHz: margin -1.10 dB"
    curve = links["RH-01"]["readings"][links["RH-01"]["decided_by_reading"]]
    assert (curve["basis"], curve["pair"], curve["end"], curve["points"]) == ("curve", "4-5/7-8", "B", 102)
    assert links["DP-04"]["readings"][1]["points"] is None
    assert document["judged_by"] == {"curve": 24, "worst point": 47, "value": 7}
    assert document["media"]["twisted pair"] == {"links": 8, "pass": 4, "marginal": 0, "fail": 3, "incomplete": 1}


def test_pictures_stand_beside_their_readings(data):
    curves, readings = data["curves"], data["readings"]
    packed = np.frombuffer(base64.b64decode(curves["pictures"]), dtype="<i2").reshape(-1, 2, curves["bins"])
    assert len(packed) == len(curves["reading"]) == 24
    assert curves["start"] == [0] * 9 + [24]
    margins = np.array([readings["margin"][row] for row in curves["reading"]])
    least = np.where(packed[:, 0] == curves["no_point"], 32767, packed[:, 0]).min(axis=1) / 100
    judged_below_2_mhz = margins < least - 0.0051  # these have their worst point where the picture holds none
    assert least[~judged_below_2_mhz] == pytest.approx(margins[~judged_below_2_mhz], abs=0.0051)
    assert judged_below_2_mhz.sum() == 4
    assert (np.diff(margins) >= -1e-9).all()


def test_beyond_the_most_links_the_farthest_from_their_limit_are_not_drawn(monkeypatch):
    analysis = copper_analysis()
    again = analysis.curves.assign(
        reading=0, record=0, curve=analysis.curves["curve"] + 24
    )  # the strand of fiber, 0.76 dB from its limit, gets curves too
    more = dataclasses.replace(analysis, curves=pd.concat([analysis.curves, again], ignore_index=True))
    monkeypatch.setattr(page_curves, "MOST_LINKS", 1)
    curves = page_data(more)["curves"]
    assert (len(curves["reading"]), curves["left_out"], curves["start"][1]) == (24, 1, 0)


def test_a_run_without_curves_draws_none():
    analysis = dataclasses.replace(copper_analysis(), curves=schema.empty("curves"), pictures=schema.empty_pictures())
    assert page_data(analysis)["curves"]["reading"] == []


def test_no_text_of_a_file_stands_in_the_markup_or_splits_the_document(document):
    text = page_text(copper_analysis())
    assert not any(hostile in text for hostile in (HOSTILE_LABEL, HOSTILE_PROVED, HOSTILE_REASON, "<u>Value</u>"))
    assert json.loads(json.dumps(document)) == document
    assert HOSTILE_LABEL in [link["link"] for link in document["links"]]
