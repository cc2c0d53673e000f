"""Screenings for doubtful tests: one cable that has the trouble, one that is honest."""

from __future__ import annotations

import re

import numpy as np
import pytest
from crew import START, codes, joined, strands

from analyzer.insights import clocks, copies, digits, lengths, numbering, references
from analyzer.insights.chances import EACH


def two_cables(**more):
    return strands("TB-101", seed=1, **more), strands("TB-102", seed=2, tester="T-2")


def change(rows, at, **values):
    for n in at:
        rows[n] |= values
    return rows


# --- copies


def test_honest_cables_share_no_stretch():
    one, other = two_cables()
    assert copies.same_readings(joined(one + other)) == []


def test_a_copied_stretch_is_told_though_single_strands_prove_nothing():
    one, other = two_cables()
    for n in range(6, 14):
        other[n]["loss"] = dict(one[n]["loss"])
    (found,) = copies.same_readings(joined(one + other))
    assert set(found.links) == {f"TB-10{c}-{n:02d}" for c in (1, 2) for n in range(7, 15)}
    assert "chance alone would give fewer than 0.001" in found.message
    assert [one.what for one in found.evidence[:2]] == ["seen", "expected by chance alone"]


def test_a_copy_with_the_ends_exchanged_is_the_same():
    one, other = two_cables()
    turn = {"A-B": "B-A", "B-A": "A-B"}
    for n in range(6, 14):
        other[n]["loss"] = {(wave, turn[way]): value for (wave, way), value in one[n]["loss"].items()}
    assert codes(copies.same_readings(joined(one + other))) == ["same-readings"]


def test_two_equal_losses_prove_nothing():
    rows = strands(count=24)
    for row in rows:
        row["loss"] = {key: value for key, value in row["loss"].items() if key[1] == "A-B"}
    rows[5]["loss"] = dict(rows[9]["loss"])
    assert copies.same_readings(joined(rows)) == []


def test_a_whole_cable_of_one_and_the_same_reading():
    rows = strands()
    for row in rows:
        row["loss"] = {key: 0.5 if key[0] == 850 else 0.4 for key in row["loss"]}
    (found,) = copies.same_readings(joined(rows))
    assert len(found.links) == 24


def test_a_crowd_of_equal_links_hides_no_copied_stretch():
    one, other = two_cables()
    for n in range(6, 14):
        other[n]["loss"] = dict(one[n]["loss"])
    crowd = strands("TB-109", seed=9)
    for n, row in enumerate(crowd):
        row["loss"] = {(wave, way): round(0.4 + 0.01 * (n % 3), 2) for wave, way in row["loss"]}
    found = copies.same_readings(joined(one + other + crowd))
    assert {row["label"] for row in crowd} <= {label for item in found for label in item.links}
    told = [item for item in found if "in the same order" in item.message]
    assert [len(item.links) for item in told] == [16]


def test_numbers_of_a_workbook_without_a_format_are_read_as_they_are_written():
    one, other = two_cables()
    for row in one + other:
        row["loss"] = {key: (value, None, -1) for key, value in row["loss"].items()}
    job = joined(one + other)
    assert set(job.losses["decimals"]) == {2}
    assert copies.same_readings(job) == []
    assert copies.directions_alike(job) == []
    other[6]["loss"][850, "A-B"] = (0.123456789, None, -1)
    assert set(joined(one + other).losses["decimals"]) == {2}


def test_near_pairs_are_those_that_a_comparison_of_all_finds():
    rng = np.random.default_rng(4)
    points = rng.normal(0, 15, (400, 12))
    points[7] = points[300] + rng.uniform(-2, 2, 12)
    points[55] = points[56] + rng.uniform(-2, 2, 12)
    apart = np.abs(points[:, None, :] - points[None, :, :]).max(axis=2)
    all_pairs = [(int(i), int(j)) for i, j in zip(*np.nonzero(np.triu(apart <= 2, k=1)), strict=True)]
    assert copies.near_pairs(points, 2.0) == all_pairs == [(7, 300), (55, 56)]


def test_near_copies_are_found_in_nearly_every_case():
    rng = np.random.default_rng(6)
    points = rng.normal(0, 15, (2000, 10))
    points[1000:1100] = points[:100] + rng.uniform(-2, 2, (100, 10))
    assert len(copies.near_pairs(points, 2.0)) >= 98


def test_both_directions_alike_on_a_whole_cable():
    one, other = two_cables()
    assert copies.directions_alike(joined(one + other)) == []
    for row in one:
        row["loss"] |= {(wave, "B-A"): row["loss"][wave, "A-B"] for wave in (850, 1300)}
    (found,) = copies.directions_alike(joined(one + other))
    assert set(found.links) == {row["label"] for row in one}
    assert "48 seen" in found.message


# --- digits


def test_readings_that_all_end_in_0_or_5():
    rows = [row for seed in range(3) for row in strands(f"TB-10{seed}", seed=seed)]
    assert digits.round_readings(joined(rows)) == []
    for row in rows:
        row["loss"] = {key: round(round(value / 0.05) * 0.05, 2) for key, value in row["loss"].items()}
    (found,) = digits.round_readings(joined(rows))
    assert "288 readings of loss" in found.message
    assert sum(one.value for one in found.evidence) == 288


def test_zeros_that_a_spreadsheet_dropped_make_no_digit_rare():
    rows = [row for seed in range(3) for row in strands(f"TB-10{seed}", seed=seed)]
    for row in rows:
        row["loss"] = {
            key: (value, None, 1 if round(value * 100) % 10 == 0 else 2) for key, value in row["loss"].items()
        }
    assert digits.round_readings(joined(rows)) == []


def test_zeros_that_a_spreadsheet_dropped_break_no_progression():
    rows = strands(count=10)
    for n, row in enumerate(rows):
        row["loss"] = {
            key: (round(0.41 + 0.03 * n, 2), None, 1 if n == 3 else 2) if key == (850, "A-B") else value
            for key, value in row["loss"].items()
        }
    (found,) = digits.equal_steps(joined(rows))
    assert len(found.links) == 10


def test_lengths_filled_down():
    rows = strands(count=10, length_m=[100.0 + 1.5 * n for n in range(10)])
    (found,) = digits.equal_steps(joined(rows))
    assert "in length" in found.message
    assert digits.equal_steps(joined(strands(count=10, length_m=120.0))) == []


def test_losses_filled_down():
    rows = strands()
    assert digits.equal_steps(joined(rows)) == []
    for n in range(4, 12):
        rows[n]["loss"][850, "A-B"] = round(0.40 + 0.03 * n, 2)
    (found,) = digits.equal_steps(joined(rows))
    assert found.links == tuple(f"TB-101-{n:02d}" for n in range(5, 13))


def test_a_cell_with_more_decimals():
    rows = strands()
    assert digits.other_decimals(joined(rows)) == []
    rows[3]["loss"][850, "A-B"] = (0.4137, None, 4)
    (found,) = digits.other_decimals(joined(rows))
    assert found.links == ("TB-101-04",)
    assert found.evidence[0].value == 0.4137


def test_passed_without_a_number():
    rows = change(strands(), [2], declared_verdict="pass", loss={})
    rows = change(rows, [3], declared_verdict="pass", loss={(850, "A-B"): 0.0, (1300, "A-B"): 0.0})
    change(rows, [4], declared_verdict="pass")
    (found,) = digits.verdicts_without_numbers(joined(rows))
    assert found.links == ("TB-101-03", "TB-101-04")


def test_a_second_wavelength_worked_out_from_the_first():
    rows = strands("TB-101", seed=1, length_m=60.0) + strands("TB-102", seed=2, length_m=260.0)
    assert digits.wavelengths_in_step(joined(rows)) == []
    for row in rows:
        row["loss"] |= {(1300, way): round(row["loss"][850, way] - 0.11, 2) for way in ("A-B", "B-A")}
    assert codes(digits.wavelengths_in_step(joined(rows))) == ["wavelengths-in-step"]


# --- clocks


def test_tests_three_seconds_apart():
    rows = strands()
    assert clocks.too_fast(joined(rows)) == []
    for n in range(6, 14):
        rows[n]["tested_at"] = rows[6]["tested_at"] + np.timedelta64(3 * (n - 6), "s")
    (found,) = clocks.too_fast(joined(rows))
    assert found.links == tuple(f"TB-101-{n:02d}" for n in range(7, 15))


def test_a_clock_without_seconds_tells_nothing_of_them():
    rows = strands()
    for n, row in enumerate(rows):
        row["tested_at"] = np.datetime64("2026-09-14T08:00:00") + np.timedelta64(n // 10, "m")
    assert clocks.too_fast(joined(rows)) == []


def test_an_array_tester_reads_twelve_strands_at_once():
    rows = strands()
    for n, row in enumerate(rows):
        row["tested_at"] = START + np.timedelta64(45 * (n // 12), "s")
    assert clocks.too_fast(joined(rows)) == []


def test_one_record_out_of_order():
    rows = strands()
    assert clocks.out_of_order(joined(rows)) == []
    rows[9]["tested_at"] -= np.timedelta64(3, "D")
    (found,) = clocks.out_of_order(joined(rows))
    assert (found.code, found.links) == ("times-out-of-order", ("TB-101-10",))


def test_a_clock_set_back():
    rows = strands()
    for row in rows[15:]:
        row["tested_at"] -= np.timedelta64(5, "h")
    (found,) = clocks.out_of_order(joined(rows))
    assert found.code == "clock-jumped"
    assert "back by 5 hours between record numbers 1014 and 1015" in found.message


@pytest.mark.parametrize(
    ("day", "told"),
    [
        ("2026-10-25", False),  # last Sunday of October: the European Union
        ("2026-11-01", False),  # first Sunday of November: the United States
        ("2026-10-27", False),  # two days after the change somebody set the tester
        ("2026-09-14", True),
    ],
)
def test_an_hour_back_is_a_jump_only_away_from_a_change_of_clocks(day, told):
    rows = strands()
    for n, row in enumerate(rows):
        row["tested_at"] = np.datetime64(f"{day}T02:30:00") + np.timedelta64(45 * n - (3600 if n >= 12 else 0), "s")
    assert codes(clocks.out_of_order(joined(rows))) == (["clock-jumped"] if told else [])


def test_sundays_on_which_clocks_are_changed():
    # European Union and United States in 2026: 29 March, 25 October; 8 March, 1 November (published calendars)
    days = {f"{day:%m-%d}" for day in clocks.change_sundays(2026)}
    assert {"03-29", "10-25", "03-08", "11-01"} <= days


def test_a_clock_that_was_never_set():
    rows = strands()
    assert clocks.clock_not_set(joined(rows)) == []
    change(rows, range(4), tested_at=np.datetime64("2010-01-01T00:03:00"))
    (found,) = clocks.clock_not_set(joined(rows))
    assert len(found.links) == 4


def test_one_tester_in_two_places():
    one, other = two_cables()
    change(other, range(24), tester="T-1", record_no=None)
    for n, row in enumerate(other):
        row["tested_at"] += np.timedelta64(5000, "s")
        if n < 4:
            row["tested_at"] = one[n]["tested_at"]
    (found,) = clocks.two_places(joined(one + other))
    assert len(found.links) == 8


# --- references


def test_a_drift_inside_a_cable():
    cables = [row for seed in range(10) for row in strands(f"TB-11{seed}", seed=seed)]
    assert references.drifted(joined(cables)) == []
    for row in cables[60:72]:
        row["loss"] = {key: round(value + 0.6, 2) for key, value in row["loss"].items()}
    (found,) = references.drifted(joined(cables))
    assert "TB-112-13" in found.message
    assert set(found.links) == {f"TB-112-{n:02d}" for n in range(13, 25)}


def test_a_drift_from_cable_to_cable():
    cables = []
    for n in range(30):
        late = START + np.timedelta64(2 * n, "h")
        length = 60.0 + 7 * ((7 * n) % 30)
        for k, row in enumerate(strands(f"TB-1{n + 10}", count=8, seed=n, length_m=length)):
            shift = 0.2 if n >= 18 else 0.0
            loss = {key: round(value + shift + length / 1000, 2) for key, value in row["loss"].items()}
            cables.append(row | {"loss": loss, "tested_at": late + np.timedelta64(40 * k, "s")})
    (found,) = references.drifted(joined(cables))
    # the place itself has an error: the noise of one cable moves it by one
    assert int(re.search(r"after (\d+) of 30 cables", found.message)[1]) in {17, 18, 19}


def test_a_cable_with_losses_near_zero():
    rows = strands("TB-101", seed=1) + strands("TB-102", seed=2)
    assert references.set_too_high(joined(rows)) == []
    for row in rows[:24]:
        row["loss"] = {key: round(abs(value - 0.6) / 12, 2) for key, value in row["loss"].items()}
    assert "reference-too-high" in codes(references.set_too_high(joined(rows)))


def test_one_direction_loses_more():
    rows = strands()
    assert references.one_sided(joined(rows)) == []
    for row in rows:
        row["loss"] |= {(850, "B-A"): round(row["loss"][850, "B-A"] + 0.24, 2)}
    (found,) = references.one_sided(joined(rows))
    assert "more B-A than A-B at 850 nm" in found.message


# --- lengths and numbers


def test_strands_of_another_length():
    rows = strands(length_m=[120.0 + 0.1 * n for n in range(24)])
    assert lengths.differ_in_sheath(joined(rows)) == []
    change(rows, [20, 21], length_m=131.0)
    (found,) = lengths.differ_in_sheath(joined(rows))
    assert found.links == ("TB-101-21", "TB-101-22")


def test_lines_of_their_own_are_no_sheath():
    rows = strands(count=8, length_m=[36.0 + 2.3 * n for n in range(8)])
    assert lengths.differ_in_sheath(joined(rows)) == []


def test_feet_among_meters():
    rows = strands()
    assert lengths.units_mixed(joined(rows)) == []
    change(rows, [4, 5, 6], length_m=round(120.0 / 0.3048, 1))
    job = joined(rows)
    assert codes(lengths.units_mixed(job)) == ["units-mixed"]
    assert lengths.differ_in_sheath(job) == []


def test_half_a_sheath_in_feet_is_no_sheath_of_two_lengths():
    rows = strands()
    change(rows, range(12, 24), length_m=round(120.0 / 0.3048, 1))
    job = joined(rows)
    (found,) = lengths.units_mixed(job)
    assert found.links == tuple(f"TB-101-{n}" for n in range(13, 25))
    assert "393.7 where 120.0 m" in found.message
    assert lengths.differ_in_sheath(job) == []


def test_a_bent_group_index():
    rows = strands(group_index=1.482)
    assert lengths.index_bent(joined(rows)) == []
    change(rows, [4, 5], group_index=1.510)
    (found,) = lengths.index_bent(joined(rows))
    assert found.links == ("TB-101-05", "TB-101-06")
    assert "120.0 m would be 122.3 m" in found.message  # 120 × 1.510 / 1.482


def test_equal_lengths_are_told_only_beyond_chance():
    rng = np.random.default_rng(2)
    own = [round(float(length), 1) for length in rng.gamma(9, 8, 200)]
    rows = [row | {"length_m": own[n]} for n, row in enumerate(one_strand_cables(200))]
    assert lengths.too_alike(joined(rows)) == []
    change(rows, range(0, 60, 5), length_m=77.7)
    (found,) = lengths.too_alike(joined(rows))
    assert len(found.links) >= 12


def one_strand_cables(count):
    """Cables tested on one strand each."""
    return [strands(f"C{n}X", count=1, seed=n)[0] for n in range(count)]


def test_numbers_left_out():
    rows = strands()
    assert numbering.record_gaps(joined(rows)) == []
    del rows[10:13]
    (found,) = numbering.record_gaps(joined(rows))
    assert "3 record numbers are missing of tester T-1: R1010 to R1012" in found.message


def test_numbers_that_do_not_count_every_record_are_left_alone():
    rows = strands(record_no=[f"R{7 * n}" for n in range(24)])
    assert numbering.record_gaps(joined(rows)) == []


def test_a_screening_spends_little():
    assert pytest.approx(0.01 / 28) == EACH
