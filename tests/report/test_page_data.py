"""The page's data: by columns, JSON-able, in the order in which the page needs it."""

import dataclasses
import itertools
import json
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from page_fixture import HOSTILE, make_analysis, many_links
from plotly.graph_objects import Figure

from analyzer import schema
from analyzer.report import page_data as page_data_module
from analyzer.report.page_data import column, held_readings, links_of_readings, page_data, sentence
from analyzer.report.page_figure import MOST_POINTS
from analyzer.report.page_map import job_map
from analyzer.report.page_margins import bar_of


@pytest.fixture(scope="module")
def analysis():
    return make_analysis()


@pytest.fixture(scope="module")
def data(analysis):
    return page_data(analysis)


def read(table, name):
    """A column decoded as the page decodes it."""
    packed = table[name]
    if isinstance(packed, list):
        return packed
    return [None if code < 0 else packed["words"][code] for code in packed["codes"]]


def test_data_is_plain_json_without_nan(data):
    assert json.loads(json.dumps(data, allow_nan=False)) == data


@pytest.mark.parametrize(
    ("series", "packed"),
    [
        (pd.Series([0.1, np.nan, -0.0]), [0.1, None, 0.0]),
        (pd.Series([3, -1], dtype="int16"), [3, -1]),
        (pd.Series([True, False]), [1, 0]),
        (pd.Series(["a", None, "b"], dtype="str"), ["a", None, "b"]),
        (pd.Series(["a", "a", None, "a", "a"], dtype="str"), {"words": ["a"], "codes": [0, 0, -1, 0, 0]}),
        (pd.Series(["B", None], dtype=pd.CategoricalDtype(["A", "B"])), {"words": ["B"], "codes": [0, -1]}),
        (
            pd.Series([pd.Timestamp(2026, 3, 4, 5, 6), pd.NaT]).astype("datetime64[s]"),
            {"words": ["2026-03-04 05:06:00"], "codes": [0, -1]},
        ),
    ],
)
def test_column_of_each_type(series, packed):
    assert column(series) == packed


def test_minus_zero_never_leaves(data):
    assert "-0.0," not in json.dumps(data)


def test_every_reading_stands_once_under_its_own_link(analysis, data):
    start = data["readings"]["start"]
    assert start[0] == 0
    assert start[-1] == len(analysis.readings)
    link_of_record = analysis.records.set_index("record")["link"]
    expected = (
        link_of_record.reindex(analysis.readings["record"])
        .value_counts()
        .reindex(range(len(analysis.links)), fill_value=0)
    )
    assert np.diff(start).tolist() == expected.tolist()
    assert sorted(value for value in read(data["readings"], "value") if value is not None) == sorted(
        analysis.readings["value"].dropna()
    )


def test_readings_of_a_link_are_ordered_by_margin_with_superseded_ones_last(data):
    start = data["readings"]["start"]
    margin, in_force = read(data["readings"], "margin"), read(data["readings"], "in_force")
    for first, end in itertools.pairwise(start):
        now = [m for m, f in zip(margin[first:end], in_force[first:end], strict=True) if f and m is not None]
        assert now == sorted(now)
        assert in_force[first:end] == sorted(in_force[first:end], reverse=True)


def test_decided_by_points_at_the_reading_with_the_margin_of_the_link(data):
    margin = read(data["readings"], "margin")
    for row, least in zip(read(data["links"], "decided_by"), read(data["links"], "margin_db"), strict=True):
        if row >= 0 and least is not None:
            assert margin[row] == least


def test_a_reading_knows_its_heading_and_a_record_its_facts(analysis, data):
    headings = read(data["headings"], "heading")
    rows = read(data["readings"], "heading_row")
    waves = read(data["readings"], "wavelength_nm")
    assert all(str(wave) in headings[row] for row, wave in zip(rows, waves, strict=True))
    lengths = [value for value in read(data["records"]["facts"], "length_m") if value is not None]
    assert sorted(lengths) == sorted(analysis.facts["length_m"].dropna())
    assert set(read(data["records"]["said_by"], "reference")) == {"assumed"}


def test_rows_of_the_tables_do_not_depend_on_consecutive_numbers(analysis, data):
    """Numbers of records, readings, limits and reasons are names, not positions."""
    moved = {
        "records": analysis.records.assign(record=analysis.records["record"] * 3 + 5),
        "facts": analysis.facts.assign(record=analysis.facts["record"] * 3 + 5).iloc[::-1].reset_index(drop=True),
        "readings": analysis.readings.assign(record=analysis.readings["record"] * 3 + 5),
        "limits": analysis.limits.assign(limit_id=analysis.limits["limit_id"] + 40),
        "judged": analysis.judged.assign(limit_id=analysis.judged["limit_id"] + 40),
    }
    again = page_data(dataclasses.replace(analysis, **moved))
    assert again == data


def test_findings_come_by_severity_and_name_rows_of_the_links(data):
    severities = [finding["severity"] for finding in data["findings"]]
    assert severities == sorted(severities, key=schema.CATEGORIES["severity"].index)
    labels = read(data["links"], "label")
    missing = next(finding for finding in data["findings"] if finding["code"] == "no-result")
    assert [labels[row] for row in missing["links"]] == ["CR-C-07", "CR-C-08"]
    assert missing["elsewhere"] == ["Nowhere-9"]


def test_unconfirmed_counts_the_verdicts_that_rest_on_them(analysis, data):
    at_1550 = (analysis.readings["wavelength_nm"] == 1550) & analysis.judged["in_force"]
    assert data["unconfirmed"]["readings"] == int(at_1550.sum())
    assert len(data["unconfirmed"]["texts"]) == 1


@pytest.mark.parametrize(
    ("totals", "changes", "answer"),
    [
        ({"links": 0}, {}, "There is nothing to sign: the records name no link."),
        ({"links": 9, "pass": 8, "fail": 1}, {}, "Not yet: of 9 links, 1 fails."),
        ({"links": 1, "incomplete": 1}, {}, "Not yet: of 1 link, 1 is incomplete."),
        ({"links": 9, "fail": 2, "incomplete": 3}, {}, "Not yet: of 9 links, 2 fail and 3 are incomplete."),
        ({"links": 9, "pass": 9}, {}, "Yes, by the rules in force: all 9 links pass."),
        ({"links": 9, "pass": 7, "marginal": 2}, {}, "Yes, by the rules in force: all 9 links pass, 2 of them within measurement uncertainty."),
        ({"links": 9, "pass": 9}, {"looser": [{"what": "x"}]}, "Yes, by rules looser than the standard: all 9 links pass."),
        ({"links": 9, "marginal": 9}, {"exit_code": 1}, "Not yet: all 9 links pass, but the rules in force stand against it."),
        ({"links": 9, "pass": 9}, {"findings": [schema.Finding("c", "error", "m", "n")]},
         "Not yet: all 9 links pass, but 1 finding of severity error stands against it."),
    ],
)  # fmt: skip
def test_sentence(analysis, totals, changes, answer):
    plain = {"exit_code": 0, "findings": [], "looser": []} | changes
    assert sentence(dataclasses.replace(analysis, totals=totals, **plain)) == answer


def test_figures_are_what_plotly_takes(data):
    assert [entry["wavelength_nm"] for entry in data["figure"]] == [850, 1300, 1310, 1550]
    for entry in data["figure"]:
        assert len(Figure(entry["figure"]).data) == len(entry["figure"]["data"])


def test_every_drawable_reading_in_force_is_a_point(analysis, data):
    readings, judged = analysis.readings, analysis.judged
    length = analysis.facts.set_index("record")["length_m"].reindex(readings["record"]).to_numpy()
    for entry in data["figure"]:
        here = (readings["wavelength_nm"] == entry["wavelength_nm"]) & judged["in_force"]
        drawable = here & readings["value"].notna() & ~np.isnan(length)
        traces = [trace for trace in entry["figure"]["data"] if trace["meta"] in schema.CATEGORIES["verdict"]]
        assert sum(len(trace["x"]) for trace in traces) == drawable.sum()
        assert entry["left_out"] == (here & ~drawable).sum()
        assert len({trace["marker"]["symbol"] for trace in traces}) == len(traces)


def test_the_line_meets_the_limits_of_its_build(data):
    """OM4 at 850 nm in the fixture: 3.0 dB/km and two matings of 0.75 dB, so 1.5 dB at 0 m and 1.89 dB at 130 m."""
    traces = {trace["meta"]: trace for trace in data["figure"][0]["figure"]["data"]}
    assert traces["line"]["x"] == [0.0, 130.0]
    assert traces["line"]["y"] == pytest.approx([1.5, 1.89])
    assert "OM4, 2 matings, 0 splices, one-cord" in data["figure"][0]["line"]


def test_no_line_where_the_limits_do_not_follow_from_the_parts(analysis):
    own = analysis.judged.assign(limit=analysis.judged["limit"] + analysis.readings["reading"] * 0.01)
    figures = page_data(dataclasses.replace(analysis, judged=own))["figure"]
    assert all(entry["line"] is None for entry in figures)


def test_no_text_of_a_file_stands_in_a_figure(data):
    figures = json.dumps(data["figure"])
    assert not any(json.dumps(label)[1:-1] in figures for label in HOSTILE)


def test_too_many_points_are_counted_in_cells_and_every_failure_is_a_point():
    analysis = many_links(2600)
    entry = page_data(analysis)["figure"][0]
    assert entry["wavelength_nm"] == 850
    here = (analysis.readings["wavelength_nm"] == 850).to_numpy()
    assert here.sum() <= MOST_POINTS
    assert entry["cells"] is None
    doubled = dataclasses.replace(analysis)
    doubled.readings = analysis.readings.assign(wavelength_nm=analysis.readings["wavelength_nm"].replace(1300, 850))
    entry = page_data(doubled)["figure"][0]
    here = (doubled.readings["wavelength_nm"] == 850).to_numpy()
    assert here.sum() > MOST_POINTS
    traces = {trace["meta"]: trace for trace in entry["figure"]["data"]}
    assert sum(count or 0 for row in traces["density"]["z"] for count in row) == here.sum() == entry["drawable"]
    verdicts = doubled.judged["verdict"][here]
    assert len(traces["fail"]["x"]) == (verdicts == "fail").sum()
    assert "pass" not in traces
    assert len(Figure(entry["figure"]).data) == len(entry["figure"]["data"])


def test_the_expectation_is_drawn_for_the_build_of_the_line(analysis):
    """The fixture has no expectation; here half of such links stay under 1 dB/km of their length, 97 of 100 under twice that."""
    length = analysis.facts.set_index("record")["length_m"].reindex(analysis.readings["record"]).to_numpy()
    judged = analysis.judged.assign(expected_db=length / 1000, expected_97_db=2 * length / 1000)
    figure = page_data(dataclasses.replace(analysis, judged=judged))["figure"][0]["figure"]
    half, nearly_all = [trace for trace in figure["data"] if trace["meta"] == "expected"]
    assert half["y"] == pytest.approx([meters / 1000 for meters in half["x"]])
    assert nearly_all["y"] == pytest.approx([meters / 500 for meters in nearly_all["x"]])
    assert half["x"] == sorted(half["x"])


def test_bars_of_margins_hold_every_margin_once(analysis, data):
    """Outside check: numpy.histogram over the edges of the bars counts the same."""
    (entry,) = data["margins"]
    assert entry["parameter"] == "loss"
    told = analysis.judged[analysis.judged["in_force"] & analysis.judged["counts"]]
    margins = told["margin"].dropna().to_numpy()
    edges = (entry["first"] + np.arange(entry["bars"] + 1)) * entry["step"]
    expected, _ = np.histogram(margins + 1e-9, edges)
    drawn = np.sum([trace["y"] for trace in entry["figure"]["data"]], axis=0)
    assert drawn.tolist() == expected.tolist()
    assert entry["without"] == told["margin"].isna().sum()
    assert 0.0 in np.round(edges, 9)
    assert len(Figure(entry["figure"]).data) == len(entry["figure"]["data"])


def test_a_margin_of_zero_lies_on_the_good_side_and_far_ones_are_gathered():
    margins = np.array([0.0, -5e-10, -0.05, 0.05, -400.0, 90.0])
    assert bar_of(margins, 0.1, -3, 8).tolist() == [3, 3, 2, 3, 0, 7]


def test_the_map_reads_panel_and_port_from_cable_and_strand_else_from_the_label():
    links = schema.conform(
        "links",
        pd.DataFrame(
            {
                "label": ["TB-101-A-07", "C1-03", "HALL", "R2.P4/12", "  ", "C1-04"],
                "cable": ["TB-101-A-07", "C1", None, None, None, "C1"],
                "strand": [None, "3", None, None, None, "C1-04"],
                "area": ["East", None, None, None, None, None],
                "place_a": ["Room 1", "Room 2", None, None, None, None],
            }
        ),
    )
    told = job_map(SimpleNamespace(links=links))
    assert told.astype(object).where(told.notna(), None).to_numpy().tolist() == [
        ["East", "Room 1", "TB-101-A", "07"],
        [None, "Room 2", "C1", "3"],
        [None, None, None, "HALL"],
        [None, None, "R2.P4", "12"],
        [None, None, None, "  "],
        [None, None, "C1", "04"],
    ]


def test_of_too_many_readings_the_worst_of_each_link_and_parameter_is_held(analysis):
    link = links_of_readings(analysis)
    held = held_readings(analysis, link, most=10)
    deciding = set(analysis.links["decided_by"]) - {-1}
    assert deciding <= set(analysis.readings["reading"].iloc[held])
    # the fixture has one parameter, loss; of two failures without a number the first is the worst, the second decides
    assert len(held) == len(np.unique(link)) + 1
    judged = analysis.judged.assign(link=link)
    least = judged[judged["in_force"]].groupby("link")["margin"].min()
    kept = judged.iloc[held].groupby("link")["margin"].min()
    known = least.dropna().index
    assert kept[known].tolist() == least[known].tolist()
    assert len(held_readings(analysis, link, most=len(link))) == len(link)


def test_what_is_left_out_is_said_and_figures_still_count_all(analysis, data, monkeypatch):
    monkeypatch.setattr(page_data_module, "MOST_READINGS", 10)
    small = page_data(analysis)
    assert small["detail"]["left_out"] == len(analysis.readings) - small["detail"]["held"] > 0
    assert len(small["readings"]["record"]) == small["detail"]["held"]
    for name in ("figure", "margins", "unconfirmed", "totals", "sentence"):
        assert small[name] == data[name]
    assert -1 not in [
        row for row, link in zip(small["links"]["decided_by"], analysis.links["decided_by"], strict=True) if link >= 0
    ]


def test_numbers_that_repeat_become_codes_and_come_back_whole():
    numbers = pd.Series([0.1, np.nan, 1 / 3, -0.0] * 100)
    packed = column(numbers)
    back = [None if code < 0 else packed["words"][code] for code in packed["codes"]]
    assert back == [0.1, None, 1 / 3, 0.0] * 100
    assert column(pd.Series(np.arange(400) / 7)) == (np.arange(400) / 7).tolist()


def test_likely_causes_stand_under_the_rows_of_their_links(analysis):
    causes = schema.conform(
        "causes",
        pd.DataFrame({"link": [12, 6, 6], "rank": [1, 2, 1], "cause": ["<b>bend</b>", "dirt", "scratch"]}),
    )
    told = page_data(dataclasses.replace(analysis, causes=causes))["causes"]
    assert told["link"] == [6, 6, 12]
    assert read(told, "cause") == ["scratch", "dirt", "<b>bend</b>"]
