"""Sweeps from the file to the verdict of the link: readings, pictures, findings, accounts. All values are invented.

`slow` are whole runs of what tests of one module show too: tests/importing/test_sweeps.py, tests/budget/test_curves.py.
"""

from __future__ import annotations

import functools
import io
import json

import numpy as np
import pytest

from analyzer import analyze
from analyzer.job import CommandLine
from analyzer.job.loading import parse_job
from analyzer.report.document import write_check_json
from analyzer.schema import CATEGORIES, NO_POINT
from analyzer.standards import limit

SINGLES, COMBINED = CATEGORIES["pair"][:4], CATEGORIES["pair"][4:]
GRID = np.arange(1.0, 501.0)
LOSS = np.round((0.0185 * np.sqrt(GRID) + 0.00003 * GRID) * 60, 2)
NEAR, FAR, RETURN = np.round(85 - 16 * np.log10(GRID), 2), np.round(80 - 20 * np.log10(GRID), 2), np.full(500, 24.0)
LOSSES = {f"Insertion loss {pair} end A (dB)": LOSS for pair in ("1-2", "3-6")}
"""Of both pairs: without them a NEXT that fails might be exempt."""
ONE = {"NEXT 1-2/3-6 end A (dB)": NEAR, "Insertion loss 1-2 end A (dB)": LOSS}
WHOLE = {
    **{f"NEXT {pair} end {end} (dB)": NEAR for end in "AB" for pair in COMBINED},
    **{f"ACR-F {pair} end {end} (dB)": FAR for end in "AB" for pair in COMBINED},
    **{f"Return loss {pair} end {end} (dB)": RETURN for end in "AB" for pair in SINGLES},
    **{f"Insertion loss {pair} end {end} (dB)": LOSS for end in "AB" for pair in SINGLES},
}
ABOVE = "Link,C-01\nGrade,6A\nConfiguration,permanent link\n"


def csv(columns, grid=GRID, above=ABOVE, frequency="Frequency (MHz)"):
    rows = [",".join(str(cell) for cell in row) for row in zip(grid, *columns.values(), strict=True)]
    return f"{above}\n{frequency},{','.join(columns)}\n" + "\n".join(rows) + "\n"


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    """Runs of texts as files; what was run before is not run again, for nothing alters it."""

    @functools.cache
    def analysis(*texts, job="", given=None):
        folder = tmp_path_factory.mktemp("curves")
        paths = [folder / f"crew {number}.csv" for number in range(len(texts))]
        for path, text in zip(paths, texts, strict=True):
            path.write_text(text, encoding="utf-8")
        return analyze(paths, parse_job(job, "job.toml") if job else None, given=given)

    return analysis


def readings_of(analysis):
    """Readings with their judgement, reason code and text."""
    both = analysis.readings.drop(columns="reading").join(analysis.judged)
    reasons = analysis.reasons.set_index("reason")
    return both.assign(code=both["reason"].map(reasons["code"]), why=both["reason"].map(reasons["text"]))


def one(analysis, parameter, pair=None, end="A"):
    rows = readings_of(analysis)
    rows = rows[(rows["parameter"] == parameter) & (rows["end"] == end)]
    rows = rows if pair is None else rows[rows["pair"] == pair]
    assert len(rows) == 1
    return rows.iloc[0]


def codes(analysis):
    return {found.code for found in analysis.findings}


def message(analysis, code):
    (found,) = [found for found in analysis.findings if found.code == code]
    return found.message


def test_a_curve_is_one_reading_with_its_worst_margin_and_worst_value(run):
    value = NEAR.copy()
    value[99] -= 5.0
    analysis = run(csv({"NEXT 1-2/3-6 end A (dB)": value}))
    row = one(analysis, "NEXT")
    floor = limit("NEXT", grade="6A", configuration="permanent link", frequency_mhz=100.0)
    assert (row["frequency_mhz"], row["value"], row["limit"]) == (100.0, value[99], floor)
    assert row["margin"] == value[99] - floor
    assert (row["verdict"], row["basis"]) == ("pass", "curve")
    assert (row["worst_value"], row["worst_value_mhz"]) == (value[-1], 500.0)
    assert analysis.limits["text"][row["limit_id"]].startswith("TIA-568.2-D")
    # where the curve stands: heading in row 5, first point in row 6, second column
    assert (row["row"], row["col"]) == (6, 1)
    (curve,) = analysis.curves.to_dict("records")
    assert (curve["reading"], curve["n"], curve["f_max_mhz"]) == (row["reading"], 500, 500.0)


def test_the_picture_holds_the_least_margin_of_each_bin_and_its_value(run):
    analysis = run(csv({"NEXT 1-2/3-6 end A (dB)": NEAR}))
    floor = limit("NEXT", grade="6A", configuration="permanent link", frequency_mhz=GRID)
    margin = NEAR - floor
    edges = np.geomspace(1.0, 500.0, 65)
    picture = analysis.pictures[analysis.curves["picture"][0]]
    assert picture.shape == (2, 64)
    for number in range(64):
        last = number == 63
        inside = (edges[number] * (1 - 1e-12) <= GRID) & ((edges[number + 1] * (1 - 1e-12) > GRID) | last)
        if not inside.any():
            assert (picture[:, number] == NO_POINT).all()
            continue
        at = np.flatnonzero(inside)[np.argmin(margin[inside])]
        assert picture[0, number] == pytest.approx(margin[at] * 100, abs=0.51)
        # of points with the same margin to the hundredth any may be shown
        least = NEAR[inside][np.round(margin[inside] * 100) == picture[0, number]]
        assert picture[1, number] in np.round(least * 100)
    least = picture[0][picture[0] != NO_POINT].min()
    assert least == pytest.approx(one(analysis, "NEXT")["margin"] * 100, abs=0.51)


def test_numbers_of_several_files_are_unique_and_lead_back(run):
    second = csv(WHOLE, above=ABOVE.replace("C-01", "C-02"))
    analysis = run(csv(ONE), second)
    judged, curves = analysis.judged, analysis.curves
    assert judged["reading"].tolist() == analysis.readings["reading"].tolist() == list(range(len(judged)))
    for name in ("curve", "picture", "reading"):
        assert curves[name].is_unique
    for name in ("record", "row", "col", "parameter", "pair", "end"):
        of_reading = analysis.readings[name].take(curves["reading"]).astype(object)
        assert of_reading.tolist() == curves[name].astype(object).tolist()
    assert curves["picture"].max() < len(analysis.pictures)
    limits = analysis.limits.take(judged["limit_id"][judged["limit_id"] >= 0].unique())
    assert set(limits["standard"]) == {"TIA"}
    assert analysis.records["label"].take(analysis.readings["record"]).iloc[-1] == "C-02"


def test_power_sums_and_ratios_are_computed_and_say_from_what(run):
    analysis = run(csv(WHOLE))
    row = one(analysis, "PSNEXT", "1-2")
    assert "computed from NEXT of the three combinations" in row["why"]
    # three equal disturbers lie 10 log10(3) below one of them
    assert row["value"] == pytest.approx(NEAR[int(row["frequency_mhz"]) - 1] - 10 * np.log10(3), abs=1e-9)
    computed = analysis.curves.iloc[len(WHOLE) :]
    assert computed["parameter"].value_counts().loc[["PSNEXT", "PSACR-F", "ACR-N", "PSACR-N"]].tolist() == [8, 8, 12, 8]
    rows = readings_of(analysis)
    assert not rows.loc[rows["parameter"].isin(["ACR-N", "PSACR-N"]), "counts"].any()
    assert rows.loc[rows["parameter"].isin(["NEXT", "PSNEXT", "return loss", "insertion loss"]), "counts"].all()


def test_a_power_sum_of_the_export_that_its_own_curves_contradict_is_told(run):
    wrong = {"PSNEXT 1-2 end A (dB)": NEAR - 2.0}
    analysis = run(csv(WHOLE | wrong))
    # 10 log10(3) = 4.77, so 2.00 is 2.77 too little
    assert "PSNEXT 1-2, end A lies up to 2.77 dB" in message(analysis, "power-sum-differs")
    assert "power-sum-differs" not in codes(run(csv(WHOLE | {"PSNEXT 1-2 end A (dB)": np.round(NEAR - 4.77, 2)})))


def test_cells_and_rows_of_a_sweep_add_up_in_the_document(run):
    stream = io.StringIO()
    write_check_json(run(csv(WHOLE)), stream)
    document = json.loads(stream.getvalue())
    assert document["rows"] == {"read": 500, "used": 500, "set_aside": 0}
    assert document["cells"] == {"read": 20_000, "used": 20_000, "set_aside": 0}


@pytest.mark.parametrize(
    ("shift", "verdict", "link"),
    [
        pytest.param(1.0, "pass", "pass", marks=pytest.mark.slow),
        (0.05, "marginal pass", "marginal"),
        (-0.05, "marginal fail", "fail"),
        pytest.param(-1.0, "fail", "fail", marks=pytest.mark.slow),
    ],
)
def test_the_accuracy_of_the_record_makes_the_worst_margin_marginal(run, shift, verdict, link):
    floor = limit("NEXT", grade="6A", configuration="permanent link", frequency_mhz=GRID)
    columns = {"NEXT 1-2/3-6 end A (dB)": floor + shift} | LOSSES
    analysis = run(csv(columns, above=ABOVE + "Accuracy (dB),0.1\n"))
    row = one(analysis, "NEXT")
    assert (row["verdict"], row["accuracy"]) == (verdict, 0.1)
    assert analysis.links["verdict"][0] in {link, "incomplete"} if shift > 0 else analysis.links["verdict"][0] == link


def test_accuracy_in_decibels_says_nothing_about_nanoseconds(run):
    above = ABOVE + "Accuracy (dB),0.5\n"
    delay = {"Propagation delay 1-2 end A (ns)": np.full(500, 498.1)}
    assert np.isnan(one(run(csv(delay, above=above)), "propagation delay")["accuracy"])


def test_a_sweep_that_stops_short_says_where_and_what_it_shows(run):
    short = GRID <= 250
    analysis = run(csv({name: value[short] for name, value in ONE.items()}, GRID[short]))
    row = one(analysis, "NEXT")
    assert (row["verdict"], row["code"]) == ("not judged", "curve-incomplete")
    assert row["why"] == "every point that is there meets 6A; the curve stops at 250 MHz, and 6A goes to 500 MHz"
    assert "the curve stops at 250 MHz, and 6A goes to 500 MHz" in message(analysis, "sweep-incomplete")
    assert analysis.links["verdict"][0] == "incomplete"
    worse = {"NEXT 1-2/3-6 end A (dB)": NEAR - 30} | LOSSES
    worse = run(csv({name: value[short] for name, value in worse.items()}, GRID[short]))
    assert one(worse, "NEXT")["verdict"] == "fail"


def test_a_gap_in_the_sweep_is_no_pass(run):
    there = (GRID <= 200) | (GRID >= 300)
    analysis = run(csv({"NEXT 1-2/3-6 end A (dB)": NEAR[there]}, GRID[there]))
    assert "has no point between 200 and 300 MHz" in one(analysis, "NEXT")["why"]
    assert one(analysis, "NEXT")["verdict"] == "not judged"


def test_a_blank_cell_among_the_points_is_no_pass_and_a_coarser_sweep_is_no_blank(run):
    holed, coarse = [*map(str, NEAR)], [*map(str, RETURN)]
    holed[99] = ""
    coarse[1::2] = [""] * 250
    coarse[-1] = "24.0"
    analysis = run(csv({"NEXT 1-2/3-6 end A (dB)": holed, "Return loss 1-2 end A (dB)": coarse, "Insertion loss 1-2 end A (dB)": LOSS}))  # fmt: skip
    assert one(analysis, "NEXT")["code"] == "curve-damaged"
    assert one(analysis, "return loss")["verdict"] == "pass"


def test_a_curve_without_a_grade_names_the_missing_fact_and_keeps_its_worst_value(run):
    analysis = run(csv(ONE, above="Link,C-01\n"))
    row = one(analysis, "NEXT")
    assert (row["verdict"], row["code"]) == ("not judged", "no-grade")
    assert "grade" in row["why"]
    assert (row["value"], row["frequency_mhz"]) == (NEAR[-1], 500.0)
    assert analysis.curves["picture"].tolist() == [-1, -1]
    assert one(run(csv(ONE, above="Link,C-01\n"), given=CommandLine(grade="6A", configuration="permanent link")), "NEXT")["verdict"] == "pass"  # fmt: skip


def test_points_that_are_all_exempt_decide_nothing(run):
    low = {"Insertion loss 1-2 end A (dB)": np.full(500, 0.5), "Return loss 1-2 end A (dB)": np.full(500, 1.0)}
    row = one(run(csv(low)), "return loss")
    # rule CX-TIA-D-RL-IL3 of copper_exemptions.csv
    assert (row["verdict"], row["code"], row["counts"]) == ("not judged", "all-exempt", False)


def test_few_points_say_so(run):
    few = [0, 3, 7, 9, 15, 19, 61, 99, 199, 249, 399, 499]
    analysis = run(csv({"NEXT 1-2/3-6 end A (dB)": NEAR[few]}, GRID[few]))
    assert "judged at 12 frequencies only" in one(analysis, "NEXT")["why"]


class TestOwnLimits:
    JOB = b'[[limits]]\nname = "brief"\nsource = "brief, 4.2"\nparameter = "NEXT"\nmin = 45.0\n'

    def test_the_stricter_of_own_and_published_limit_decides(self, run):
        row = one(run(csv(ONE | LOSSES), job=self.JOB), "NEXT")
        # at 500 MHz the published floor is far below 45 dB, and the curve is at 41.82 dB
        assert (row["verdict"], row["limit"], row["frequency_mhz"]) == ("fail", 45.0, 500.0)

    def test_it_is_named_as_the_limit(self, run):
        analysis = run(csv(ONE | LOSSES), job=self.JOB)
        assert "brief, 4.2" in analysis.limits.set_index("limit_id")["text"][one(analysis, "NEXT")["limit_id"]]


class TestScalarsBesideCurves:
    SWEEP = csv(ONE)

    def summary(self, value, margin="", time=""):
        return (
            "Link,Grade,Configuration,Tested,NEXT 1-2/3-6 end A (dB),NEXT 1-2/3-6 end A margin (dB)\n"
            f"C-01,6A,permanent link,{time},{value},{margin}\n"
        )

    def worst(self):
        floor = limit("NEXT", grade="6A", configuration="permanent link", frequency_mhz=GRID)
        at = int(np.argmin(NEAR - floor))
        return NEAR[at], (NEAR - floor)[at]

    def test_the_worst_point_of_the_same_curve_agrees_and_counts_once(self, run):
        value, margin = self.worst()
        analysis = run(self.SWEEP, self.summary(value, f"{margin:.1f}"))
        assert codes(analysis).isdisjoint({"worst-point-differs", "label-collision", "retest-undated"})
        rows = readings_of(analysis)
        scalar = rows[(rows["basis"] != "curve")].iloc[0]
        assert not scalar["counts"]
        assert rows.loc[rows["basis"] == "curve", "in_force"].all()
        assert analysis.links["attempts"].tolist() == [1]

    @pytest.mark.slow
    def test_the_worst_value_of_the_curve_agrees_too(self, run):
        assert "worst-point-differs" not in codes(run(self.SWEEP, self.summary(NEAR.min())))

    def test_another_worst_point_is_told(self, run):
        analysis = run(self.SWEEP, self.summary(31.0, "1.0"))
        text = message(analysis, "worst-point-differs")
        assert "NEXT 1-2/3-6 end A: 31.00 dB, margin 1.00 dB by the export" in text
        assert one_curve(analysis)["verdict"] == "pass"

    @pytest.mark.slow
    def test_a_scalar_of_another_time_is_a_test_of_its_own(self, run):
        sweep = csv(ONE, above=ABOVE + "Tested,2026-03-01 10:00\n")
        analysis = run(sweep, self.summary(31.0, time="2026-03-02 10:00"))
        assert "worst-point-differs" not in codes(analysis)
        rows = readings_of(analysis)
        assert not rows.loc[(rows["basis"] == "curve") & (rows["parameter"] == "NEXT"), "in_force"].any()


def one_curve(analysis):
    rows = readings_of(analysis)
    return rows[(rows["basis"] == "curve") & (rows["parameter"] == "NEXT")].iloc[0]


class TestBadInput:
    @pytest.mark.slow
    def test_frequencies_outside_the_range_of_the_grade(self, run):
        analysis = run(csv(ONE, GRID + 1000))
        row = one(analysis, "NEXT")
        assert row["verdict"] == "not judged"
        assert row["why"] == "no point of the curve lies in the range of the limit, 1 to 500 MHz"

    @pytest.mark.slow
    def test_curves_of_unequal_length(self, run):
        unequal = ONE | {"Insertion loss 1-2 end A (dB)": [*LOSS[:300], *[""] * 200]}
        analysis = run(csv(unequal))
        assert one(analysis, "NEXT")["verdict"] == "pass"
        assert "stops at 300 MHz" in one(analysis, "insertion loss")["why"]

    def test_a_frequency_that_is_repeated(self, run):
        rows = csv(ONE) + "500.0,21.0,26.0\n"
        analysis = run(rows)
        assert one(analysis, "NEXT")["value"] == 21.0
        assert "the worse of its values is used" in message(analysis, "set-aside")

    @pytest.mark.slow
    def test_frequencies_that_fall_throughout(self, run):
        analysis = run(csv({name: value[::-1] for name, value in ONE.items()}, GRID[::-1]))
        assert one(analysis, "NEXT")["verdict"] == "pass"
        assert "frequencies-fall" in codes(analysis)

    def test_a_frequency_out_of_order(self, run):
        grid = GRID.copy()
        grid[50] = 7.5
        analysis = run(csv(ONE, grid))
        assert one(analysis, "NEXT")["code"] == "curve-damaged"
        assert "breaks the order of the rows" in message(analysis, "set-aside")

    @pytest.mark.slow
    def test_a_pair_combination_that_is_named_twice_with_other_values(self, run):
        analysis = run(csv(ONE | {"NEXT 12-36 end A (dB)": NEAR + 1}))
        assert "name the same pair 1-2/3-6 and hold different values" in message(analysis, "pair-named-twice")
        rows = readings_of(analysis)
        assert rows["parameter"].tolist() == ["insertion loss"]
        assert rows["verdict"].tolist() == ["pass"]

    def test_hertz_under_a_heading_of_megahertz(self, run):
        good = csv({"Insertion loss 3-6 end A (dB)": LOSS}, above=ABOVE.replace("C-01", "C-02"))
        analysis = run(csv(ONE, GRID * 1e6), good)
        assert "no cabling is measured there: its unit is wrong" in message(analysis, "impossible-frequency")
        assert one(analysis, "insertion loss")["verdict"] == "pass"
        assert set(analysis.links["label"]) == {"C-01", "C-02"}

    @pytest.mark.slow
    def test_a_column_that_nothing_names_is_told(self, run):
        assert "Depth" in message(run(csv(ONE | {"Depth": RETURN})), "column-not-understood")


class TestPointsInRows:
    """Tables with a row for each link and frequency."""

    def table(self, frequencies, links=("C-01", "C-02", "C-03"), extra=""):
        head = "Link,Frequency (MHz)," + ",".join(f"NEXT {pair} (dB)" for pair in COMBINED)
        rows = [
            ",".join([label, f"{f:g}", *(f"{75 - 16 * np.log10(f) + k + n / 10:.2f}" for k in range(6))])
            for n, label in enumerate(links)
            for f in frequencies
        ]
        return "\n".join([head, *rows]) + f"\n{extra}"

    @pytest.mark.parametrize(
        "frequencies", [pytest.param(np.arange(1, 251), marks=pytest.mark.slow), [1, 16, 31.25, 62.5, 100, 250]]
    )
    @pytest.mark.parametrize("links", [("C-01", "C-02", "C-03"), ("C-01",)])
    def test_they_are_curves(self, run, frequencies, links):
        analysis = run(self.table(frequencies, links), given=CommandLine(grade="6", configuration="channel"))
        assert len(analysis.curves) >= 6 * len(links)
        assert (analysis.judged["basis"] == "curve").all()
        assert "retest-undated" not in codes(analysis)

    def test_spot_frequencies_too_few_for_a_curve_are_no_retests(self, run):
        analysis = run(self.table([100, 250]), given=CommandLine(grade="6", configuration="channel"))
        assert len(analysis.readings) == 36
        assert analysis.judged["in_force"].all()
        assert codes(analysis).isdisjoint({"retest-undated", "label-collision"})


@pytest.mark.slow
def test_the_order_of_the_files_changes_nothing(run):
    first, second = csv(WHOLE), csv(ONE, above=ABOVE.replace("C-01", "C-02"))
    forth = readings_of(run(first, second))
    back = readings_of(run(second, first))
    keys = ["parameter", "pair", "end", "frequency_mhz", "value", "margin", "verdict", "why"]
    sort = [frame[keys].astype(str).sort_values(keys).to_numpy().tolist() for frame in (forth, back)]
    assert sort[0] == sort[1]


def test_insertion_loss_in_another_file_is_not_joined_and_that_is_told(run):
    """ANSI/TIA-568.2-D as recalled: NEXT is for information where the insertion loss of both pairs is below 3 dB."""
    near = {"NEXT 1-2/3-6 end A (dB)": np.where(GRID < 3, 40.0, NEAR)}
    apart, together = run(csv(near), csv(LOSSES)), run(csv({**near, **LOSSES}))
    row = one(apart, "NEXT", "1-2/3-6")
    assert (row["verdict"], row["code"]) == ("not judged", "exemption-unknown")
    assert "missing in this file" in row["why"]
    mend = apart.reasons.set_index("reason")["mend"][row["reason"]]
    assert "into the same file" in mend
    assert one(together, "NEXT", "1-2/3-6")["verdict"] == "pass"
