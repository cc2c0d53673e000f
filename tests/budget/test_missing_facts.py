"""What a missing fact makes of a verdict: every admissible world is judged, and only what holds in all is said.

Values of TIA 568.3-E: OM1, OM2 3.5 and OM3 to OM5 3.0 dB/km at 850 nm; 1.5 dB/km at 1300 nm; OS2 0.4 (outside plant) or
0.5 dB/km (indoor-outdoor), OS1a 1.0 dB/km; 0.75 dB a mated pair, 0.3 dB a splice.
"""

import numpy as np
from bench import OL, facts, first, firsts, job_of, judged, link, om4, schedule_of


def reading(value, row, **more):
    return first(row | {"loss": {next(iter(row["loss"])): value}}, **more)


def readings(values, row, **more):
    """One link for each value, judged in one run."""
    wave = next(iter(row["loss"]))
    return firsts(*(row | {"loss": {wave: value}} for value in values), **more)


def words(found):
    return [one.verdict for one in found]


# --- one fact missing at a time: on each side of both limits


def test_mated_pairs_missing():
    # least: 3.0 × 0.120 + 2 × 0.75 + 0 × 0.3 = 1.86 dB; most: 0.36 + 4 × 0.75 = 3.36 dB
    found = readings((1.80, 1.87, 3.36, 3.37), om4(mated_pairs=None))
    assert words(found) == ["pass", "not judged", "not judged", "fail"]
    np.testing.assert_allclose([one.limit for one in found], [1.86, np.nan, np.nan, 3.36])
    np.testing.assert_allclose([one.margin for one in found], [0.06, np.nan, np.nan, -0.01])


def test_splices_missing():
    # 1.86 + 0 × 0.3 to 1.86 + 2 × 0.3 = 2.46 dB
    found = readings((1.86, 1.90, 2.46, 2.47), om4(splices=None))
    assert words(found) == ["pass", "not judged", "not judged", "fail"]
    np.testing.assert_allclose([one.limit for one in found], [1.86, np.nan, np.nan, 2.46])


def test_length_missing_is_tried_at_zero_meters():
    # 3.0 × 0 + 2 × 0.75 = 1.50 dB; no length fails it
    found = readings((1.50, 1.51, 60.0), om4(length_m=None))
    assert words(found) == ["pass", "not judged", "not judged"]
    assert [one.world for one in found] == ["tried at 0 m", "certain", "certain"]


def test_link_without_a_length_stays_incomplete_though_its_readings_pass():
    one = link(om4(length_m=None))
    assert (one.verdict, one.missing) == ("incomplete", "length")
    assert one.sentence == "incomplete: all that was judged passes, least margin 0.50 dB at 850 nm; missing: length"


def test_a_break_fails_without_a_length():
    assert link(om4(length_m=None, loss={850: OL, 1300: OL})).verdict == "fail"


def test_a_cable_that_may_lose_nothing_is_judged_without_a_length():
    job = job_of("[allowances.attenuation_db_per_km]\nOM4 = {850 = 0.0, 1300 = 0.0}\n")
    one = reading(1.6, om4(length_m=None), job=job)
    assert (one.verdict, one.limit) == ("fail", 1.5)  # 0 × any length + 2 × 0.75 = 1.50 dB


def test_unit_of_the_length_missing_is_tried_in_feet_and_meters():
    # 120 ft = 120 × 0.3048 = 36.576 m: 3.0 × 0.036576 + 1.50 = 1.609728 dB; 120 m: 1.86 dB
    found = readings((1.60, 1.75, 1.87), om4(length_m=None, length_unstated=120.0))
    assert words(found) == ["pass", "not judged", "fail"]
    assert facts(om4(length_m=None, length_unstated=120.0)).missing == "unit of the length"


def test_a_length_of_the_schedule_settles_a_length_without_unit():
    given = {"schedule": schedule_of({"label": "A", "length_m": 120.0})}
    assert reading(1.75, om4(length_m=None, length_unstated=120.0), **given).verdict == "pass"


def test_type_missing_is_every_multimode_type_at_850_nm():
    # OM3 to OM5 1.86 dB; OM1, OM2 3.5 × 0.120 + 1.50 = 1.92 dB
    assert words(readings((1.86, 1.90, 1.93), om4(type=None))) == ["pass", "not judged", "fail"]


def test_the_glass_narrows_the_types():
    # 62.5/125 is OM1 alone: 1.92 dB; 50/125 may be OM2 (1.92 dB) or OM3 to OM5 (1.86 dB)
    rows = [om4(type=None, glass=glass, loss={850: 1.90}) for glass in ("62.5/125", "50/125", None)]
    assert words(firsts(*rows)) == ["pass", "not judged", "not judged"]


def test_os2_without_its_construction_may_be_outside_plant_or_indoor_outdoor():
    # 0.4 × 1.0 + 1.50 = 1.90 dB or 0.5 × 1.0 + 1.50 = 2.00 dB
    row = om4(type="OS2", length_m=1000.0, loss={1310: 1.0, 1550: 1.0})
    assert words(readings((1.90, 1.95, 2.01), row)) == ["pass", "not judged", "fail"]


def test_iso_knows_one_os2():
    # 0.4 × 1.0 + (2 - 2) × 0.75 = 0.40 dB
    row = om4(type="OS2", length_m=1000.0, reference="three-cord", loss={1310: 0.39, 1550: 0.3})
    assert (first(row, standard="ISO").verdict, facts(row, standard="ISO").worlds) == ("pass", 1)


# --- together


def test_pairs_splices_and_length_missing_together():
    # least: 0 m, 2 pairs, 0 splices = 1.50 dB; the most has no bound
    row = {"label": "A", "type": "OM4", "loss": {850: 1.5, 1300: 1.5}}
    assert reading(1.50, row).verdict == "pass"
    assert reading(1.51, row).verdict == "not judged"
    assert facts(row).missing == "mated pairs; splices; length"


def test_everything_missing_is_still_judged_where_all_worlds_agree():
    assert judged({"label": "A", "loss": {850: 0.9, 1300: 0.9}})[2]["verdict"].tolist() == ["pass", "pass"]


def test_a_missing_fact_names_itself_and_the_way_to_give_it():
    verdicts, _, readings = judged(om4(mated_pairs=None, loss={850: 2.0, 1300: 1.0}))
    assert readings.iloc[0].code == "missing-fact"
    assert readings.iloc[0].why == "the verdict hinges on what nothing states: mated pairs"
    assert "--mated-pairs" in verdicts.reasons.iloc[readings.index[0]].mend


def test_a_verdict_that_holds_in_every_world_says_so():
    assert "whatever is true of what nothing states: mated pairs" in reading(1.0, om4(mated_pairs=None)).why


def test_a_fail_beyond_the_most_generous_limit_says_unless_there_are_more():
    why = reading(9.0, om4(mated_pairs=None)).why
    assert "unless there are more than 4 mated pairs" in why
    assert "splices" not in why
    assert "unless there are more than 2 splices" in reading(9.0, om4(splices=None)).why


def test_the_job_narrows_what_may_be():
    job = job_of("[admissible]\nmated_pairs = [2, 3]\n")
    one = reading(2.62, om4(mated_pairs=None), job=job)  # most: 0.36 + 3 × 0.75 = 2.61 dB
    assert one.verdict == "fail"
    assert "unless there are more than 3 mated pairs" in one.why


def test_the_job_narrows_types_and_constructions():
    job = job_of('[admissible]\nfiber = ["OM1", "OM2"]\nconstruction = ["indoor-outdoor"]\n')
    assert reading(1.90, om4(type=None), job=job).verdict == "pass"
    row = om4(type="OS2", length_m=1000.0, loss={1310: 1.0, 1550: 1.0})
    assert reading(1.95, row, job=job).verdict == "pass"


# --- one world for all readings of a record


def test_a_link_fails_where_in_every_world_some_reading_fails():
    # single-mode of unknown type, 2000 m and 2 pairs: outside plant 0.4 × 2 + 1.5 = 2.3; indoor-outdoor 0.5 × 2 + 1.5 = 2.5; OS1a 1.0 × 2 + 1.5 = 3.5 dB at both
    # wavelengths: 2.4 at 1310 hinges, 3.6 at 1550 fails in all
    row = om4(type=None, glass="single-mode", length_m=2000.0, loss={1310: 2.4, 1550: 3.6})
    verdicts, linked, readings = judged(row)
    assert readings["verdict"].tolist() == ["not judged", "fail"]
    assert verdicts.facts.fails_in_every_world.tolist() == [True]
    assert linked.links.verdict.tolist() == ["fail"]


def test_a_link_fails_though_no_single_reading_fails_in_every_world():
    # own coefficients that cross: OM3 850 nm 2.0, 1300 nm 1.0; OM4 850 nm 1.0, 1300 nm 2.0 dB/km; 1 km, 2 pairs:
    # OM3 allows 3.5 and 2.5 dB, OM4 2.5 and 3.5 dB. 3.0 at both fails one of the two whatever the type is.
    job = job_of(
        '[admissible]\nfiber = ["OM3", "OM4"]\n[allowances.attenuation_db_per_km]\n'
        "OM3 = {850 = 2.0, 1300 = 1.0}\nOM4 = {850 = 1.0, 1300 = 2.0}\n"
    )
    verdicts, linked, readings = judged(om4(type=None, length_m=1000.0, loss={850: 3.0, 1300: 3.0}), job=job)
    assert readings["verdict"].tolist() == ["not judged", "not judged"]
    assert verdicts.facts.fails_in_every_world.tolist() == [True]
    one = linked.links.iloc[0]
    assert (one.verdict, one.decided_by) == ("fail", -1)
    assert np.isnan(one.margin_db)
    assert one.sentence == "fail: in every admissible case some reading is over its limit"


def test_the_same_is_incomplete_where_one_world_lets_both_pass():
    job = job_of(
        '[admissible]\nfiber = ["OM3", "OM4"]\n[allowances.attenuation_db_per_km]\n'
        "OM3 = {850 = 2.0, 1300 = 2.0}\nOM4 = {850 = 1.0, 1300 = 1.0}\n"
    )
    assert link(om4(type=None, length_m=1000.0, loss={850: 3.0, 1300: 3.0}), job=job).verdict == "incomplete"


def test_no_record_is_judged_in_more_than_64_worlds():
    assert facts({"label": "A", "loss": {1300: 1.0}}).worlds <= 64


# --- limits that the export prints


def test_counts_that_alone_explain_the_printed_limits_are_taken_and_told():
    # 3.0 × 0.120 + 2 × 0.75 + 1 × 0.3 = 2.16; 1.5 × 0.120 + 1.50 + 0.30 = 1.98 dB
    row = om4(mated_pairs=None, splices=None, printed_limits={850: 2.16, 1300: 1.98})
    one = facts(row)
    assert (one.mated_pairs, one.splices, one.mated_pairs_from) == (2, 1, "derived")


def test_a_printed_limit_that_no_count_explains_leaves_the_counts_missing():
    assert facts(om4(mated_pairs=None, splices=None, printed_limits={850: 2.3})).mated_pairs_from == "missing"


def test_several_explanations_leave_the_counts_missing():
    job = job_of("[admissible]\nsplices = [0, 5]\n")
    # 0.36 + 4 × 0.75 + 0 × 0.3 = 3.36 = 0.36 + 2 × 0.75 + 5 × 0.3
    row = om4(mated_pairs=None, splices=None, printed_limits={850: 3.36})
    assert facts(row, job=job).mated_pairs_from == "missing"


def test_printed_limits_never_stand_above_schedule_or_job():
    given = {"schedule": schedule_of({"label": "A", "mated_pairs": 3, "splices": 0})}
    row = om4(mated_pairs=None, splices=None, printed_limits={850: 2.16, 1300: 1.98})
    assert facts(row, **given).mated_pairs == 3
