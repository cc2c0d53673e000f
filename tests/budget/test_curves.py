"""Curves judged at every point: compared with a point-by-point judge, with a line in closed form, and with laws."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer import schema
from analyzer.budget.curve_sums import power_sum_db, same_test
from analyzer.budget.curves import CurveRules, judge_curves
from analyzer.points import Points
from analyzer.standards import limit, limit_lines, load, pair_exemptions

VALUES = load()
GRID = np.linspace(1.0, 500.0, 200)
SINGLES, COMBINED = schema.CATEGORIES["pair"][:4], schema.CATEGORIES["pair"][4:]


def lines_for(_, parameter):
    return limit_lines(VALUES, parameter=parameter, grade="6A", configuration="permanent link")


def exemptions_for(_, parameter):
    return pair_exemptions(VALUES, grade="6A", parameter=parameter)


def given_curves(*rows):
    """(record, parameter, pair, end, frequencies, values), and optionally cells lost."""
    points = Points.of([(row[4], np.asarray(row[5], dtype=float)) for row in rows])
    frame = pd.DataFrame([row[:4] for row in rows], columns=["record", "parameter", "pair", "end"])
    frame["n"] = np.diff(points.offset)
    frame["grid"] = points.grid
    frame["lost"] = [row[6] if len(row) > 6 else 0 for row in rows]
    frame["curve"] = range(len(rows))
    return schema.conform("curves", frame), points


def judged(*rows, **more):
    curves, points = given_curves(*rows)
    return judge_curves(curves, points, more.pop("lines_for", lines_for), **more)


def of(result, parameter, pair=None):
    found = result.readings[result.readings["parameter"] == parameter]
    return found if pair is None else found[found["pair"] == pair].iloc[0]


def reason(result, row):
    return result.reasons.set_index("reason")["code"].get(row["reason"], "")


LOSS_LIMIT = limit("insertion loss", grade="6A", configuration="permanent link", frequency_mhz=GRID)
NEXT_LIMIT = limit("NEXT", grade="6A", configuration="permanent link", frequency_mhz=GRID)


def test_worst_margin_and_worst_value_are_two_points():
    value = NEXT_LIMIT + 5.0
    value[10] -= 4.0
    row = of(judged((0, "NEXT", "1-2/3-6", "A", GRID, value)), "NEXT", "1-2/3-6")
    assert (row["frequency_mhz"], row["worst_value_mhz"]) == (GRID[10], GRID[-1])
    assert row["margin"] == pytest.approx(1.0, abs=1e-9)
    assert row["limit"] == NEXT_LIMIT[10]
    assert row["worst_value"] == value[-1]
    assert (row["verdict"], row["basis"], bool(row["complete"])) == ("pass", "curve", True)


def one_candidate(_, parameter):
    return limit_lines(VALUES, parameter=parameter, grade="6A", configuration="permanent link", candidate="a")


@pytest.mark.parametrize(("shift", "verdict"), [(0.0, "pass"), (1e-10, "pass"), (0.01, "fail")])
def test_a_ceiling_is_met_at_margin_zero(shift, verdict):
    (line,) = one_candidate(0, "insertion loss")
    value = line.at(GRID) + shift
    row = of(judged((0, "insertion loss", "1-2", "A", GRID, value), lines_for=one_candidate), "insertion loss", "1-2")
    assert row["verdict"] == verdict
    assert row["margin"] == (0.0 if verdict == "pass" else pytest.approx(-shift))


@settings(max_examples=max(8, settings().max_examples // 3), deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from(["NEXT", "insertion loss", "return loss", "ACR-F"]))
def test_every_curve_is_judged_as_point_by_point(seed, parameter):
    random = np.random.default_rng(seed)
    floor = limit(parameter, grade="6A", configuration="permanent link", frequency_mhz=GRID)
    pairs = SINGLES if parameter in {"insertion loss", "return loss"} else COMBINED
    values = floor + random.normal(0, 4, (len(pairs), len(GRID)))
    result = judged(
        *((0, parameter, pair, "A", GRID, value) for pair, value in zip(pairs, values, strict=True)),
        rules=CurveRules(compute_sums=False),
    )
    sense = -1 if parameter == "insertion loss" else 1
    for pair, value in zip(pairs, values, strict=True):
        each = {
            line: [sense * (v - line.at(float(f))) for f, v in zip(GRID, value, strict=True)]
            for line in lines_for(0, parameter)
        }
        strict, generous = (pick(min(margins) for margins in each.values()) for pick in (min, max))
        row = of(result, parameter, pair)
        # what least supports the verdict is shown: of a fail the most generous limit that may hold
        wanted = generous if generous < 0 else strict
        assert row["margin"] == pytest.approx(wanted, abs=1e-9)
        at = {GRID[int(np.argmin(margins))] for margins in each.values() if min(margins) == pytest.approx(wanted)}
        assert row["frequency_mhz"] in at
        assert row["worst_value"] == (max(value) if sense < 0 else min(value))
        assert sense * (row["value"] - row["limit"]) == pytest.approx(row["margin"], abs=1e-9)


@settings(max_examples=max(8, settings().max_examples // 3), deadline=None)
@given(st.integers(0, 199), st.floats(0.0, 20.0), st.integers(0, 2**32 - 1))
def test_a_point_made_worse_never_gains_margin(at, worse, seed):
    value = NEXT_LIMIT + np.random.default_rng(seed).normal(2, 1, len(GRID))
    damaged = value.copy()
    damaged[at] -= worse
    before, after = (of(judged((0, "NEXT", "1-2/3-6", "A", GRID, v)), "NEXT", "1-2/3-6") for v in (value, damaged))
    assert after["margin"] <= before["margin"]
    assert not (before["verdict"] == "fail" and after["verdict"] == "pass")


@settings(max_examples=max(8, settings().max_examples // 3), deadline=None)
@given(st.lists(st.floats(0, 90), min_size=3, max_size=3), st.integers(0, 2), st.floats(0.01, 30))
def test_a_power_sum_lies_between_its_bounds_and_falls_with_each_part(parts, which, less):
    whole = float(power_sum_db(np.array(parts)))
    # three equal parts lose 10 log10(3) = 4.77 dB against one; more disturbers are never better than the worst of them
    assert min(parts) - 10 * np.log10(3) - 1e-9 <= whole <= min(parts) + 1e-9
    parts[which] -= less
    assert float(power_sum_db(np.array(parts))) < whole


def test_power_sum_of_equal_parts_in_closed_form():
    assert float(power_sum_db(np.full(3, 40.0))) == pytest.approx(40.0 - 10 * np.log10(3))


def simulated_line(length_m=60.0):
    """A line in closed form: loss a (k1 sqrt f + k2 f), crosstalk -15 and -20 dB a decade; invented constants."""
    loss = (0.0185 * np.sqrt(GRID) + 0.00003 * GRID) * length_m
    return loss, 78.0 - 15.0 * np.log10(GRID), 72.0 - 20.0 * np.log10(GRID)


def test_sums_and_ratios_of_a_simulated_line_in_closed_form():
    loss, near, far = simulated_line()
    rows = [(0, "insertion loss", pair, "A", GRID, loss) for pair in SINGLES]
    rows += [(0, "NEXT", pair, end, GRID, near) for pair in COMBINED for end in "AB"]
    rows += [(0, "ACR-F", pair, "A", GRID, far) for pair in COMBINED]
    result = judged(*rows)
    made = result.readings[result.readings["computed"]]
    assert made["parameter"].value_counts().loc[["ACR-N", "PSNEXT", "PSACR-N", "PSACR-F"]].tolist() == [12, 8, 8, 4]
    third = 10 * np.log10(3)
    for name, expected in (
        ("PSNEXT", near - third), ("PSACR-F", far - third), ("ACR-N", near - loss), ("PSACR-N", near - third - loss),
    ):  # fmt: skip
        for number in made.index[made["parameter"] == name]:
            np.testing.assert_allclose(result.curve(number)[1], expected, atol=1e-9)
    assert set(made["end"]) == {"A", "B"}
    assert len(result.differences) == 0


def test_a_power_sum_of_the_export_that_differs_is_told_and_not_computed_again():
    _, near, _ = simulated_line()
    rows = [(0, "NEXT", pair, "A", GRID, near) for pair in COMBINED]
    rows += [(0, "PSNEXT", "1-2", "A", GRID, near - 2.0), (0, "PSNEXT", "3-6", "A", GRID, near - 4.77)]
    result = judged(*rows)
    told = result.differences
    assert told["pair"].tolist() == [0]
    assert told["difference_db"].tolist() == pytest.approx([10 * np.log10(3) - 2.0])
    assert (result.readings["parameter"] == "PSNEXT").sum() == 4


def test_parts_of_other_tests_ends_and_grids_are_never_summed():
    _, near, _ = simulated_line()
    five = [(0, "NEXT", pair, "A", GRID, near) for pair in COMBINED[:5]]
    for other in (
        (1, "NEXT", COMBINED[5], "A", GRID, near), (0, "NEXT", COMBINED[5], "B", GRID, near),
        (0, "NEXT", COMBINED[5], "A", GRID[1:], near[1:]),
    ):  # fmt: skip
        assert not judged(*five, other).readings["computed"].any()
    joined = judged(*five, (1, "NEXT", COMBINED[5], "A", GRID, near), sets=np.zeros(6))
    assert joined.readings["computed"].sum() == 4


def test_a_curve_that_stops_short_proves_a_fail_and_never_a_pass():
    short = GRID <= 250
    passing = judged((0, "NEXT", "1-2/3-6", "A", GRID[short], NEXT_LIMIT[short] + 1))
    row = of(passing, "NEXT", "1-2/3-6")
    assert (row["verdict"], bool(row["complete"]), reason(passing, row)) == ("not judged", False, "curve-incomplete")
    assert "stops at" in passing.reasons["text"][0]
    assert "500 MHz" in passing.reasons["text"][0]
    assert of(judged((0, "NEXT", "1-2/3-6", "A", GRID[short], NEXT_LIMIT[short] - 1)), "NEXT", "1-2/3-6")["verdict"] == "fail"  # fmt: skip


def test_a_late_start_is_a_setting():
    late = GRID[1:]
    share = late[0] / 1.0 - 1
    for given_share, verdict in ((share + 0.01, "pass"), (share - 0.01, "not judged")):
        result = judged(
            (0, "NEXT", "1-2/3-6", "A", late, NEXT_LIMIT[1:] + 1), rules=CurveRules(late_start_share=given_share)
        )
        assert of(result, "NEXT", "1-2/3-6")["verdict"] == verdict


@pytest.mark.parametrize("at", [0, 7, 199])
def test_what_is_no_number_never_passes(at):
    value = NEXT_LIMIT + 3.0
    value[at] = np.nan
    result = judged((0, "NEXT", "1-2/3-6", "A", GRID, value))
    row = of(result, "NEXT", "1-2/3-6")
    assert (row["verdict"], reason(result, row), row["judged_points"]) == ("not judged", "curve-damaged", 199)
    assert row["margin"] == pytest.approx(3.0)
    value[at - 1] -= 4.0
    assert of(judged((0, "NEXT", "1-2/3-6", "A", GRID, value)), "NEXT", "1-2/3-6")["verdict"] == "fail"
    nothing = of(judged((0, "NEXT", "1-2/3-6", "A", GRID, np.full(200, np.nan))), "NEXT", "1-2/3-6")
    assert (nothing["verdict"], nothing["judged_points"]) == ("not judged", 0)


def test_a_curve_that_lost_cells_does_not_pass():
    result = judged((0, "NEXT", "1-2/3-6", "A", GRID, NEXT_LIMIT + 3.0, 2))
    assert reason(result, of(result, "NEXT", "1-2/3-6")) == "curve-damaged"


def test_without_a_limit_or_a_point_in_its_range_nothing_is_judged():
    none = judged((0, "NEXT", "1-2/3-6", "A", GRID, NEXT_LIMIT), lines_for=lambda *_: ())
    assert none.reasons["code"].tolist() == ["no-sourced-limit"]
    beyond = judged((0, "NEXT", "1-2/3-6", "A", GRID + 1000, NEXT_LIMIT))
    assert beyond.reasons["code"].tolist() == ["curve-outside"]
    assert (beyond.readings["verdict"] == "not judged").all()


RETURN_LIMIT = limit("return loss", grade="6A", configuration="permanent link", frequency_mhz=GRID)


def test_return_loss_is_exempt_where_insertion_loss_is_under_three_db():
    # rule CX-TIA-D-RL-IL3 of copper_exemptions.csv
    loss = np.linspace(1.0, 20.0, len(GRID))
    value = RETURN_LIMIT + 2.0
    value[5] -= 9.0
    rows = [(0, "insertion loss", "1-2", "A", GRID, loss), (0, "return loss", "1-2", "A", GRID, value)]
    result = judged(*rows, exemptions_for=exemptions_for)
    row = of(result, "return loss", "1-2")
    assert (row["verdict"], row["exempt_points"]) == ("pass", (loss < 3.0).sum())
    assert row["margin"] == pytest.approx(2.0)
    assert "return loss at low insertion loss" in result.reasons["text"][row["reason"]]
    off = CurveRules(switched_off=frozenset({"return loss at low insertion loss"}))
    assert of(judged(*rows, exemptions_for=exemptions_for, rules=off), "return loss", "1-2")["verdict"] == "fail"
    value[150] -= 9.0
    assert of(judged(*rows, exemptions_for=exemptions_for), "return loss", "1-2")["frequency_mhz"] == GRID[150]


def test_an_exemption_whose_partner_is_absent_is_a_missing_fact():
    value = RETURN_LIMIT + 2.0
    value[5] -= 9.0
    result = judged((0, "return loss", "1-2", "A", GRID, value), exemptions_for=exemptions_for)
    row = of(result, "return loss", "1-2")
    assert (row["verdict"], reason(result, row)) == ("not judged", "exemption-unknown")
    good = judged((0, "return loss", "1-2", "A", GRID, RETURN_LIMIT + 2.0), exemptions_for=exemptions_for)
    assert of(good, "return loss", "1-2")["verdict"] == "pass"


def test_a_combination_is_exempt_only_where_both_its_pairs_lose_little():
    # rule CX-TIA-D-NEXT-IL4
    value = NEXT_LIMIT + 2.0
    value[5] -= 9.0
    low = np.linspace(1.0, 20.0, len(GRID))
    for second, verdict in ((low, "pass"), (low + 5.0, "fail")):
        rows = [
            (0, "insertion loss", "1-2", "A", GRID, low), (0, "insertion loss", "3-6", "A", GRID, second),
            (0, "NEXT", "1-2/3-6", "A", GRID, value),
        ]  # fmt: skip
        assert of(judged(*rows, exemptions_for=exemptions_for), "NEXT", "1-2/3-6")["verdict"] == verdict


def test_a_curve_that_is_exempt_throughout_sets_no_verdict():
    rows = [
        (0, "insertion loss", "1-2", "A", GRID, np.full(len(GRID), 2.0)),
        (0, "return loss", "1-2", "A", GRID, RETURN_LIMIT - 5),
    ]
    result = judged(*rows, exemptions_for=exemptions_for)
    row = of(result, "return loss", "1-2")
    assert (row["verdict"], reason(result, row)) == ("not judged", "all-exempt")
    assert np.isnan(row["margin"])


def test_acr_f_near_the_noise_floor_is_exempt():
    # rule CX-TIA-D-ACRF-FEXT70: far-end crosstalk loss = ACR-F + insertion loss
    floor = limit("ACR-F", grade="6A", configuration="permanent link", frequency_mhz=GRID)
    value = floor - 1.0
    loss = [(0, "insertion loss", pair, "A", GRID, np.maximum(71.0 - value, 0.0)) for pair in SINGLES]
    result = judged(*loss, (0, "ACR-F", "1-2/3-6", "A", GRID, value), exemptions_for=exemptions_for)
    assert reason(result, of(result, "ACR-F", "1-2/3-6")) == "all-exempt"
    near = [(0, "insertion loss", pair, "A", GRID, np.full(len(GRID), 1.0)) for pair in SINGLES]
    again = judged(*near, (0, "ACR-F", "1-2/3-6", "A", GRID, value), exemptions_for=exemptions_for)
    assert of(again, "ACR-F", "1-2/3-6")["verdict"] == "fail"


def test_candidates_in_doubt_pass_by_the_strictest_and_fail_by_the_most_generous():
    lines = [
        line
        for configuration in ("channel", "permanent link")
        for line in limit_lines(VALUES, parameter="NEXT", grade="6A", configuration=configuration)
    ]
    loose = limit("NEXT", grade="6A", configuration="channel", frequency_mhz=GRID)
    assert (loose <= NEXT_LIMIT).all()
    between = (loose + NEXT_LIMIT) / 2
    for value, verdict in ((NEXT_LIMIT + 0.5, "pass"), (loose - 0.5, "fail"), (between, "not judged")):
        result = judged((0, "NEXT", "1-2/3-6", "A", GRID, value), lines_for=lambda *_: lines)
        row = of(result, "NEXT", "1-2/3-6")
        assert row["verdict"] == verdict
        assert reason(result, row) == ("pair-missing-fact" if verdict == "not judged" else "holds-in-every-case")
        assert "configuration" in result.reasons["text"][row["reason"]]


def test_a_limit_is_evaluated_once_for_each_grid(monkeypatch):
    from analyzer.standards.lines import LimitLine, _on_grid

    asked = []
    real = LimitLine._evaluate
    monkeypatch.setattr(LimitLine, "_evaluate", lambda self, f: asked.append(len(f)) or real(self, f))
    _on_grid.cache_clear()
    other = np.linspace(1.0, 500.0, 333)
    limits = NEXT_LIMIT, np.full(333, 60.0)
    judged(*((n, "NEXT", "1-2/3-6", "A", (GRID, other)[n % 2], limits[n % 2]) for n in range(40)))
    lines = len(lines_for(0, "NEXT"))
    assert sorted(asked) == sorted([200] * lines + [333] * lines)


def test_records_of_one_link_and_time_are_one_test():
    records = schema.conform("records", pd.DataFrame({"key": ["c-01", "c-01", "c-02", "c-01"]}))
    records["tested_at"] = pd.to_datetime(["2026-03-01", "2026-03-01", "2026-03-01", "2026-03-02"])
    assert same_test(records).tolist() == [0, 0, 1, 2]


@settings(max_examples=max(8, settings().max_examples // 3), deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0.0, 12.0), st.sampled_from(["NEXT", "insertion loss", "return loss"]))
def test_a_better_curve_never_gets_a_worse_verdict(seed, better, parameter):
    random = np.random.default_rng(seed)
    floor = limit(parameter, grade="6A", configuration="permanent link", frequency_mhz=GRID)
    value = floor + random.normal(0.5, 1.5, len(GRID))
    gained = better * random.uniform(0, 1, len(GRID)) * (-1 if parameter == "insertion loss" else 1)
    pair = "1-2/3-6" if parameter == "NEXT" else "1-2"
    rank = {"fail": 0, "not judged": 1, "pass": 2}
    before, after = (
        of(judged((0, parameter, pair, "A", GRID, v)), parameter, pair)["verdict"] for v in (value, value + gained)
    )
    assert rank[after] >= rank[before]


@settings(max_examples=max(8, settings().max_examples // 3), deadline=None)
@given(st.floats(1.0, 95.0), st.floats(0.0, 40.0), st.floats(0.5, 1.5))
def test_a_longer_line_loses_more_by_the_law_of_the_line_and_never_fares_better(length_m, longer_m, cable):
    # transmission-line theory: loss in dB = length x (k1 sqrt f + k2 f); skin effect and dielectric, k1 and k2 invented
    per_m = cable * (0.0185 * np.sqrt(GRID) + 0.00003 * GRID)
    short, long = (
        of(judged((0, "insertion loss", "1-2", "A", GRID, per_m * metres)), "insertion loss", "1-2")
        for metres in (length_m, length_m + longer_m)
    )
    assert long["margin"] <= short["margin"] + 1e-9
    assert not (short["verdict"] == "fail" and long["verdict"] == "pass")
    # the loss is greatest at the top, wherever the margin is least
    assert long["worst_value_mhz"] == GRID[-1]
    assert long["worst_value"] == pytest.approx(per_m[-1] * (length_m + longer_m))
