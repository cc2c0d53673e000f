"""Workmanship, repairs, declared against computed, and what to read first."""

from __future__ import annotations

import numpy as np
import pytest
from crew import START, analysis, codes, job_of, joined, schedule_of, strands

from analyzer.insights import charts, declared, most_important, positions, rates, register, repairs
from analyzer.insights.register import finding, rows_of


def cables(count, **more):
    return [row for n in range(count) for row in strands(f"TB-1{n + 10}", count=12, seed=n, **more)]


def spoiled(rows, at, more=4.0):
    for n in at:
        rows[n]["loss"] = {key: round(value + more, 2) for key, value in rows[n]["loss"].items()}
    return rows


# --- rates


def test_an_operator_who_fails_more_than_the_others():
    rows = cables(20)
    for row in rows[:120]:
        row["operator"] = "Ben Invented"
    spoiled(rows, [*range(0, 120, 4), 130])
    job = joined(rows)
    table = rates.rates(job)
    ben = table[(table["by"] == "operator") & (table["name"] == "Ben Invented")].iloc[0]
    assert (ben["links"], ben["failures"]) == (120, 30)
    # exact 95 % interval of 30 of 120 by scipy.stats.binomtest: 0.1755 to 0.3373
    assert (round(ben["low"], 4), round(ben["high"], 4)) == (0.1755, 0.3373)
    (found,) = rates.high_rates(job)
    assert found.message.startswith(
        "operator Ben Invented: 30 of 120 links failed a test (25%, 95 % interval 18% to 34%"
    )


def test_three_links_of_one_cable_make_no_scandal():
    rows = spoiled(cables(10), [3, 40, 90])
    assert rates.high_rates(joined(rows)) == []


def test_a_link_that_was_mended_has_failed_all_the_same():
    rows = cables(20)
    for row in rows[:120]:
        row["operator"] = "Ben Invented"
    mended = [dict(row, tested_at=row["tested_at"] + np.timedelta64(2, "D"), operator="Cleo") for row in rows[:120:4]]
    rows = spoiled(rows, range(0, 120, 4))
    (found,) = rates.high_rates(joined([*rows, *mended]))
    assert found.message.startswith("operator Ben Invented")


# --- charts and positions


def test_margins_that_fall_for_a_while():
    rows = [row for n in range(10) for row in strands(f"TB-1{n + 10}", seed=n)]
    for n, row in enumerate(rows):
        row["tested_at"] = START + np.timedelta64(50 * n, "s")
    assert charts.getting_worse(joined(rows)) == []
    spoiled(rows, range(109, 131), more=0.7)
    (found,) = charts.getting_worse(joined(rows))
    assert set(found.links) >= {f"TB-114-{n}" for n in range(15, 25)}
    assert len(found.links) < 30


def test_a_strand_number_that_is_always_the_worst():
    rows = cables(24)
    assert positions.strand_always_worst(joined(rows)) == []
    spoiled(rows, range(6, 288, 12), more=0.5)
    (found,) = positions.strand_always_worst(joined(rows))
    assert found.message.startswith("strand 7 is among the worst eighth of its cable 24 of 24 times")


# --- repairs


def test_the_repairs_that_mend_the_most():
    rows = spoiled(cables(6), [0, 1, 2, 3, 4, 5, 12, 13, 14, 15, 30, 45, 60])
    chosen = repairs.best_repairs(joined(rows))
    assert [(one.what, len(one.links)) for one in chosen] == [
        ("cable TB-110", 6),
        ("cable TB-111", 4),
        ("link TB-112-07", 1),
        ("link TB-113-10", 1),
        ("link TB-115-01", 1),
    ]


def test_greedy_cover_is_as_good_as_any_five_where_nothing_overlaps():
    rows = spoiled(cables(8), [n for cable in range(7) for n in range(12 * cable, 12 * cable + 8 - cable)])
    chosen = repairs.best_repairs(joined(rows))
    assert sum(len(one.links) for one in chosen) == 8 + 7 + 6 + 5 + 4


def test_a_panel_shared_by_several_cables_is_one_repair():
    rows = cables(4)
    for row in rows:
        row["place_a"] = "Hub, panel 2" if row["cable"] in {"TB-110", "TB-111"} else f"Hub, panel {row['cable']}"
    spoiled(rows, [*range(5), *range(12, 17)])
    first = repairs.best_repairs(joined(rows))[0]
    assert (first.what, len(first.links), first.of) == ("at Hub, panel 2", 10, 24)


def test_two_failing_links_need_no_advice():
    assert repairs.told_repairs(joined(spoiled(cables(2), [0, 1]))) == []


# --- declared against computed


def test_by_how_much_the_export_disagrees():
    rows = strands(count=4)
    for n, row in enumerate(rows):
        # computed: 1.86 dB at 850 nm (OM4, 120 m, 2 pairs, TIA-568.3-E); printed 2.36, 2.36, 2.86 and the right one
        row["printed_limits"] = {(850, "A-B"): [2.36, 2.36, 2.86, 1.86][n]}
    (found,) = declared.against_computed(joined(rows))
    assert found.message == (
        "3 of 4 limits that the export prints differ from those computed, declared less computed: "
        "loss at 850 nm 3 (median +0.50, largest +1.00 dB)"
    )
    assert found.severity == "note"


def test_limits_that_agree_are_not_told():
    rows = strands(count=2)
    for row in rows:
        row["printed_limits"] = {(850, "A-B"): 1.9}  # printed with one decimal
    assert declared.against_computed(joined(rows)) == []


# --- what to read first


def run_with(*findings):
    run = analysis(*strands(count=8))
    run.findings = list(findings)
    return run


def test_errors_come_before_warnings_and_notes_never():
    run = run_with(
        finding("accuracy-unknown", "note"),
        finding("calibration-lapsed", "many", [f"L{n}" for n in range(900)]),
        finding("missing-link", "one", ["M1"]),
    )
    assert codes(most_important(run)) == ["missing-link", "calibration-lapsed"]


def test_more_links_weigh_more():
    few, many = finding("test-missing", "few", ["A"]), finding("limits-mixed", "many", [f"B{n}" for n in range(200)])
    assert most_important(run_with(few, many)) == [many, few]


def test_one_of_each_code_before_a_second_of_the_same():
    found = [finding("same-readings", f"copy {n}", [f"A{n}", f"B{n}"]) for n in range(3)]
    other = finding("label-pattern", "pattern", ["C1"])
    assert codes(most_important(run_with(*found, other))) == ["same-readings", "label-pattern", "same-readings"]


def test_what_is_explained_already_falls_behind():
    error = finding("negative-loss", "bad reference", ["A", "B"])
    same = finding("reference-too-high", "the same links", ["A", "B"])
    other = finding("label-pattern", "pattern", ["C"])
    assert codes(most_important(run_with(error, same, other))) == [
        "negative-loss",
        "label-pattern",
        "reference-too-high",
    ]


def test_costs_are_of_registered_codes_with_a_reason():
    rows = rows_of("importance.csv")
    assert {row["code"] for row in rows} <= set(register())
    assert all(row["why"] and 0 <= int(row["cost"]) <= 5 for row in rows)


# --- evidence


def test_evidence_says_where_a_number_stands():
    rows = spoiled(strands(count=4), [1])
    rows[1]["declared_verdict"] = "pass"
    (found,) = [one for one in analysis(*rows).findings if one.code == "declared-differs"]
    first = found.evidence[0]
    assert (first.what, first.unit, first.row, first.col) == ("TB-101-02: loss at 850 nm A-B", "dB", 3, 3)
    assert first.value == rows[1]["loss"][850, "A-B"]


def test_missing_links_name_the_rows_of_the_schedule():
    schedule = schedule_of({"label": "TB-101-01", "row": 4}, {"label": "TB-999-01", "row": 9})
    run = analysis(*strands(count=1), schedule=schedule, job=job_of(""))
    (found,) = [one for one in run.findings if one.code == "missing-link"]
    assert [(one.what, one.row) for one in found.evidence] == [("TB-999-01: scheduled", 9)]


@pytest.mark.parametrize("severity", ["error"])
def test_no_screening_is_an_error(severity):
    assert [row["code"] for row in rows_of("screenings.csv") if register()[row["code"]].severity == severity] == []
