"""Which rows of the files the page brings, and what it says of those that it does not."""

import base64
import dataclasses
import gzip
import io
import json
import zipfile

import numpy as np
import pytest

from analyzer import analyze
from analyzer.report import page_raw
from analyzer.report.page_data import page_data
from analyzer.report.page_raw import raw_rows
from analyzer.schema import Finding

HEAD = "Link,Fiber type,Length (m),Mated pairs,Loss 850 nm (dB),Loss 1300 nm (dB),Remark\n"


def line(number, loss):
    return f"L{number:02d},OM4,{100 + number},2,{loss},0.5,remark {number}\n"


@pytest.fixture(scope="module")
def export(tmp_path_factory):
    """Twenty links: 03 fails; 07 (1.16 dB left where it can be judged) and 12 (0.90 dB) are incomplete."""
    lines = [line(number, {3: 4.2, 7: 1.9}.get(number, 0.6)) for number in range(1, 21)]
    lines[11] = lines[11].replace(",112,", ",,")
    path = tmp_path_factory.mktemp("raw") / "export.csv"
    path.write_text(HEAD + "".join(lines))
    return path


@pytest.fixture(scope="module")
def analysis(export):
    return analyze([export])


def opened(analysis):
    rows = raw_rows(analysis)
    return rows, json.loads(gzip.decompress(base64.b64decode(rows.packed)))


def cells(data, link):
    """Texts of each row of a link; a column is a list, or words and codes."""
    told = []
    for piece in range(data["start"][link], data["start"][link + 1]):
        table, at = data["tables"][data["table"][piece]], data["at"][piece]
        read = [
            each if isinstance(each, list) else [*np.array([*each["words"], None], dtype=object)[each["codes"]]]
            for each in table["cells"]
        ]
        told.append([column[at] for column in read])
    return told


def test_all_rows_while_they_fit(analysis, export):
    rows, data = opened(analysis)
    assert (rows.links, rows.of) == (20, 20)
    written = export.read_text().splitlines()
    for link in range(20):
        assert cells(data, link) == [[text or None for text in written[link + 1].split(",")]]
    (table,) = data["tables"]
    assert table["headings"] == HEAD.strip().split(",")
    assert table["taken"][4] == "loss at 850 nm in dB"
    assert table["taken"][6] in {"", "note, not used"}


def held(data):
    return {link for link in range(len(data["start"]) - 1) if data["start"][link + 1] > data["start"][link]}


def test_beyond_the_most_cells_those_to_be_looked_at_come_the_nearest_to_their_limit_first(analysis, monkeypatch):
    named = dataclasses.replace(analysis, findings=[Finding("repeated-row", "warning", "m", "n", ("L20",))])
    monkeypatch.setattr(page_raw, "MOST_CELLS", 100)
    rows, data = opened(named)
    assert held(data) == {2, 6, 11, 19}
    assert (rows.links, rows.of) == (4, 20)
    assert page_data(named, (rows.links, rows.of))["detail"]["raw"] == 4
    for most, left in ((21, {2, 6, 11}), (14, {2, 11}), (7, {2}), (0, set())):
        monkeypatch.setattr(page_raw, "MOST_CELLS", most)
        assert held(opened(named)[1]) == left


def test_the_pack_is_measured_and_cut_until_it_fits(analysis, monkeypatch):
    """Every link is to be looked at, and their texts do not repeat: less than half of them fit."""
    labels = tuple(analysis.links["label"])
    named = dataclasses.replace(analysis, findings=[Finding("repeated-row", "warning", "m", "n", labels)])
    whole = len(raw_rows(named).packed)
    monkeypatch.setattr(page_raw, "MOST_PACKED", int(0.85 * whole))
    rows = raw_rows(named)
    assert len(rows.packed) <= 0.85 * whole
    assert 2 <= rows.links < 20


def test_long_texts_are_cut_and_say_so(tmp_path):
    (tmp_path / "a.csv").write_text(HEAD + line(1, 0.6).replace("remark 1", "x" * 1000))
    _, data = opened(analyze([tmp_path / "a.csv"]))
    assert cells(data, 0)[0][6] == "x" * 400 + " … (600 more letters)"


def test_a_link_of_many_rows_brings_the_first_and_counts_the_others(tmp_path, monkeypatch):
    monkeypatch.setattr(page_raw, "MOST_ROWS", 3)
    (tmp_path / "a.csv").write_text(HEAD + line(1, 0.6) * 2 + line(2, 0.7) + line(1, 0.8) * 3)
    analysis = analyze([tmp_path / "a.csv"])
    _, data = opened(analysis)
    assert len(cells(data, 0)) == 3
    assert data["more"] == {"0": 2}


def test_a_file_that_changed_or_went_away_is_told(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(HEAD + line(1, 0.6))
    analysis = analyze([path])
    path.write_text(HEAD + line(1, 0.7))
    assert opened(analysis)[1]["tables"][0]["trouble"] == "the file has changed since it was judged"
    path.unlink()
    trouble = opened(analysis)[1]["tables"][0]["trouble"]
    assert "a.csv" in trouble
    assert "cannot be read" in trouble


def test_members_of_a_zip_and_standard_input_are_read_again(tmp_path, monkeypatch):
    text = HEAD + line(1, 0.6)
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("in/b.csv", text)
    assert cells(opened(analyze([tmp_path / "a.zip"]))[1], 0)[0][0] == "L01"
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(text.encode())))
    assert cells(opened(analyze(["-"]))[1], 0)[0][6] == "remark 1"


def test_a_run_without_its_files_has_no_rows(analysis):
    bare = dataclasses.replace(analysis, read_again=None)
    rows, data = opened(bare)
    assert (rows.links, rows.of, data["tables"]) == (0, 0, [])


def test_rows_of_failures_that_the_owner_wants_left_out_stay_out(analysis):
    again = dataclasses.replace(analysis.read_again, left_out=frozenset({2}))
    _, data = opened(dataclasses.replace(analysis, read_again=again))
    assert held(data) == {*range(20)} - {2}
