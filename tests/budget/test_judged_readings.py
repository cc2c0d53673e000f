"""Verdicts of single readings, on both sides of every limit. OM4, 120 m, 2 pairs, one-cord: 1.86 dB at 850 nm."""

import numpy as np
import pytest
from bench import OL, first, firsts, job_of, judged, om4, told
from hypothesis import given
from hypothesis import strategies as st

from analyzer.budget.wording import printed


def verdict(value, **more):
    return first(om4(loss={850: value, 1300: 1.0}), **more)


def verdicts(*values, **more):
    """Verdict words of several losses at 850 nm."""
    return [one.verdict for one in firsts(*(om4(loss={850: value, 1300: 1.0}) for value in values), **more)]


def test_margin_is_allowed_less_measured():
    wanted = {
        1.42: ("pass", 0.44),  # 1.86 - 1.42
        1.86: ("pass", 0.0),
        1.86 + 9e-10: ("pass", 0.0),  # float noise is no fail
        1.86 + 2e-9: ("fail", -2e-9),
        1.87: ("fail", -0.01),
    }
    for one, (expected, margin) in zip(
        firsts(*(om4(loss={850: value}) for value in wanted)), wanted.values(), strict=True
    ):
        assert (one.verdict, one.margin) == (expected, pytest.approx(margin, abs=1e-12))


def test_parts_of_the_limit_add_up():
    one = first(om4(splices=1))
    assert (one.cable_db, one.matings_db, one.splices_db) == pytest.approx((0.36, 1.5, 0.3))
    assert one.limit == pytest.approx(2.16)  # 3.0 × 0.120 + 2 × 0.75 + 1 × 0.3


# --- bounds and over range


def test_bounds_decide_only_on_their_own_side():
    wanted = {
        (1.86, "below"): "pass",
        (1.87, "below"): "not judged",
        (1.86, "above"): "fail",
        (1.87, "above"): "fail",
        (1.85, "above"): "not judged",
    }
    assert dict(zip(wanted, verdicts(*wanted), strict=True)) == wanted


def test_a_bound_that_does_not_decide_says_so():
    assert verdict((1.87, "below")).code == "bound-undecided"


def test_a_bound_where_no_limit_is_known_is_no_matter_of_the_bound():
    one = first(om4(type="OS2", construction="outside plant", loss={1625: (1.0, "below")}))
    assert (one.verdict, one.code) == ("not judged", "no-sourced-limit")


def test_over_range_fails_and_has_no_margin():
    one = verdict(OL)
    assert (one.verdict, one.code) == ("fail", "over-range")
    assert np.isnan(one.margin)


def test_over_range_fails_also_a_limit_whose_number_is_not_known():
    assert verdict(OL, standard="ISO").verdict == "fail"


def test_over_range_where_no_limit_governs_is_not_judged():
    assert first(om4(type="OS2", construction="outside plant", loss={1625: OL})).verdict == "not judged"


# --- rounding


def test_within_half_of_the_last_digit_rounding_is_named():
    # 1.9 with one decimal may have been 1.86; 1.8 may not; 1.855 lies 0.005 from 1.86
    cases = [(1.86, 2, True), (1.9, 1, True), (1.8, 1, False), (1.85, 2, False), (1.87, 2, False), (1.855, 2, True)]
    found = firsts(*(om4(loss={850: (value, None, decimals)}) for value, decimals, _ in cases))
    for (value, decimals, rounded), one in zip(cases, found, strict=True):
        assert ("decided by rounding" in str(one.why)) == rounded, (value, decimals)
        assert one.verdict == ("pass" if value <= 1.86 else "fail")


@given(st.floats(-0.02, 0.02))
def test_a_zero_is_printed_without_a_sign(value):
    assert not printed(np.array([value]))[0].startswith("-0.00")


def test_print_has_two_decimals():
    assert printed(np.array([1.0, -0.0, -0.004, np.nan])).tolist() == ["1.00", "0.00", "0.00", "unknown"]


# --- accuracy


def test_within_the_accuracy_a_verdict_is_marginal():
    wanted = {
        1.75: "pass",  # 0.11 dB from 1.86
        1.76: "marginal pass",  # 0.10 dB
        1.86: "marginal pass",
        1.96: "marginal fail",  # 0.10 dB
        1.97: "fail",  # 0.11 dB
    }
    found = verdicts(*wanted, job=job_of("[rules]\naccuracy_db = 0.1\n"))
    assert dict(zip(wanted, found, strict=True)) == wanted


def test_accuracy_of_the_record_stands_above_that_of_the_job():
    row = om4(accuracy_db=0.02, loss={850: 1.80, 1300: 1.0})
    assert first(row, job=job_of("[rules]\naccuracy_db = 0.1\n")).verdict == "pass"


def test_without_an_accuracy_nothing_is_marginal_and_that_is_told():
    assert verdict(1.86).verdict == "pass"
    assert "accuracy-unknown" in told(om4())
    assert "accuracy-unknown" not in told(om4(accuracy_db=0.1))


# --- negative loss


def test_loss_below_zero_by_more_than_the_accuracy_proves_a_bad_reference():
    found = verdicts(-0.05, -0.10, -0.11, job=job_of("[rules]\naccuracy_db = 0.1\n"))
    assert found == ["pass", "pass", "not judged"]


def test_without_an_accuracy_any_loss_below_zero_is_a_bad_reference():
    one = verdict(-0.01)
    assert (one.verdict, one.code) == ("not judged", "negative-loss")
    assert "negative-loss" in told(om4(loss={850: -0.01, 1300: 1.0}))


def test_zero_and_minus_zero_are_no_bad_reference():
    assert verdict(-0.0).verdict == "pass"


# --- wavelengths


def test_1310_nm_on_multimode_counts_as_1300_nm_and_says_so():
    one = first(om4(loss={1310: 1.0}))
    assert (one.judged_wavelength_nm, one.limit) == (1300, pytest.approx(1.68))  # 1.5 × 0.120 + 2 × 0.75
    assert "counts as 1300 nm" in one.why


def test_1300_nm_on_single_mode_counts_as_1310_nm():
    assert first(om4(type="OS2", loss={1300: 1.0})).judged_wavelength_nm == 1310


def test_1625_nm_has_no_limit_and_does_not_count():
    one = judged(om4(type="OS2", construction="outside plant", loss={1310: 1.0, 1550: 1.0, 1625: 9.0}))[2].iloc[2]
    assert (one.verdict, one.code, one.counts) == ("not judged", "no-sourced-limit", False)


def test_a_loss_without_a_wavelength_is_not_judged_and_counts():
    one = first(om4(loss={-1: 1.0}))
    assert (one.verdict, one.code, one.counts) == ("not judged", "no-wavelength", True)


# --- the owner's own values


def test_own_allowance_stands_in_place_of_the_standards():
    # 3.0 × 0.120 + 2 × 0.5 = 1.36 dB
    assert verdict(1.4, job=job_of("[allowances]\nmated_pair_db = 0.5\n")).limit == pytest.approx(1.36)


def test_own_coefficient():
    # 2.5 × 0.120 + 1.50 = 1.80 dB
    job = job_of("[allowances.attenuation_db_per_km]\nOM4 = {850 = 2.5}\n")
    assert verdict(1.0, job=job).limit == pytest.approx(1.80)


def test_own_array_allowance_holds_for_the_arrays_alone():
    # 4 matings, 2 of them arrays: 0.36 + 2 × 0.75 + 2 × 0.35 = 2.56 dB
    job = job_of("[allowances]\narray_pair_db = 0.35\n")
    assert first(om4(mated_pairs=4, array_pairs=2), job=job).limit == pytest.approx(2.56)


def test_an_edition_without_array_allowance_leaves_arrays_unjudged():
    assert first(om4(type="OM3", mated_pairs=4, array_pairs=2), edition="568-C.3").verdict == "not judged"


OWN = '[[limits]]\nname = "house rule"\nsource = "brief 4.2"\nmax_db = {}\n'


def test_the_stricter_of_standard_and_own_limit_decides():
    strict, loose = verdict(1.6, job=job_of(OWN.format(1.5))), verdict(1.6, job=job_of(OWN.format(9.0)))
    assert (strict.verdict, strict.limit) == ("fail", 1.5)
    assert "owner's own limit" in strict.why
    assert (loose.verdict, loose.limit) == ("pass", pytest.approx(1.86))


def test_own_limit_judges_where_the_standard_has_none():
    row = om4(type="OS2", construction="outside plant", loss={1625: 1.0})
    assert first(row, job=job_of(OWN.format(1.5))).verdict == "pass"
    assert first(row | {"loss": {1625: 1.6}}, job=job_of(OWN.format(1.5))).verdict == "fail"


def test_own_limit_for_another_fiber_or_wavelength_does_not_hold():
    other = OWN.format(0.5) + 'fiber = "OM3"\n'
    wave = OWN.format(0.5) + "wavelength_nm = 1300\n"
    assert verdict(1.0, job=job_of(other)).verdict == "pass"
    assert verdict(1.0, job=job_of(wave)).verdict == "pass"


def test_override_of_a_row_is_used_and_named_own():
    job = job_of('[overrides]\n"FC-TIA-E-PAIR-MM" = 0.5\n')
    verdicts, _, readings = judged(om4(), job=job)
    assert readings.iloc[0].limit == pytest.approx(1.36)  # 0.36 + 2 × 0.5
    assert "FC-TIA-E-PAIR-MM" in verdicts.limits.iloc[0].rows


CONFIRMED = ["FA-TIA-E-OM4-850", "FC-TIA-E-PAIR-MM", "FC-TIA-E-SPLICE-MM"]


@pytest.mark.parametrize(("rows", "confirmed"), [(CONFIRMED, True), (CONFIRMED[:2], False), ([], False)])
def test_a_limit_is_confirmed_when_all_its_rows_are(rows, confirmed):
    text = "".join(f'[confirmed."{row}"]\nby = "A. Reader"\ndocument = "invented"\ndate = 2026-11-25\n' for row in rows)
    verdicts, _, readings = judged(om4(loss={850: 1.0}), job=job_of(text))
    assert bool(verdicts.limits.confirmed[readings.iloc[0].limit_id]) == confirmed


# --- ISO and methods that cannot be


def test_iso_end_connections_have_no_sourced_allowance():
    one = verdict(1.0, standard="ISO")
    assert (one.verdict, one.code) == ("not judged", "no-end-allowance")


def test_iso_three_cord_is_judged():
    # 3.5 × 0.120 + (2 - 2) × 0.75 = 0.42 dB
    one = first(om4(reference="three-cord", loss={850: 0.40}), standard="ISO")
    assert (one.verdict, one.limit) == ("pass", pytest.approx(0.42))


def test_own_limit_does_not_pass_what_an_unknown_allowance_of_the_standard_governs():
    assert verdict(1.0, standard="ISO", job=job_of(OWN.format(9.0))).verdict == "not judged"


def test_own_limit_fails_what_is_over_it_whatever_the_standard_allows():
    assert verdict(1.6, standard="ISO", job=job_of(OWN.format(1.5))).verdict == "fail"


def test_own_mated_pair_allowance_mends_it():
    # 3.5 × 0.120 + 2 × 0.5 = 1.42 dB
    job = job_of("[allowances]\nmated_pair_db = 0.5\n")
    assert verdict(1.0, standard="ISO", job=job).limit == pytest.approx(1.42)


def test_a_method_that_takes_away_more_matings_than_there_are_is_an_error():
    row = om4(mated_pairs=1, reference="three-cord")  # 1 + 0 - 2 = -1
    one = first(row)
    assert (one.verdict, one.code) == ("not judged", "method-and-ends")
    assert "method-and-ends" in told(row)


def test_every_limit_tells_its_rows_and_document():
    limit = judged(om4())[0].limits.iloc[0]
    assert limit.rows == "FA-TIA-E-OM4-850 FC-TIA-E-PAIR-MM FC-TIA-E-SPLICE-MM"
    assert limit.document == "TIA-568.3-E:2022"
