"""Limit lines of twisted pair: laws that they obey, what is stricter, where they end, what is refused."""

import math
import shutil
import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer import standards
from analyzer.errors import OptionError, StandardsError
from analyzer.standards.lines import EDGE_TOLERANCE
from analyzer.standards.tables import PAIR_PARAMETERS
from analyzer.standards.values import FOLDER

VALUES = standards.load()
EDITIONS = [(row["standard"], row["edition"], row["grades"].split()) for row in VALUES.rows("copper_editions")]
CONFIGURATIONS = ("channel", "permanent link")
WAYS = [(s, e, g, c) for s, e, grades in EDITIONS for g in grades for c in CONFIGURATIONS]
WITH_LOSS = [way for way in WAYS if way[2] != "8"]
UNIT_INTERVAL = st.floats(0, 1)


def lines(parameter, way, **more):
    standard, edition, grade, configuration = way
    return standards.limit_lines(
        VALUES,
        parameter=parameter,
        grade=grade,
        configuration=configuration,
        standard=standard,
        edition=edition,
        **more,
    )


def at(parameter, way, f, **more):
    return standards.strictest(lines(parameter, way, **more), f)


def frequency(way, share):
    """A frequency of the grade's range, spread evenly over its logarithm."""
    (line, *_) = lines("insertion loss", way)
    return float(line.freq_min_mhz * (line.freq_max_mhz / line.freq_min_mhz) ** share)


# --- laws: loss of a line grows with the root of frequency, crosstalk couples more the higher it is -------------------


@given(st.sampled_from(WITH_LOSS), UNIT_INTERVAL, UNIT_INTERVAL)
def test_insertion_loss_limits_never_fall_with_frequency(way, one, other):
    low, high = sorted((frequency(way, one), frequency(way, other)))
    assert at("insertion loss", way, low) <= at("insertion loss", way, high) + 1e-9


@given(
    st.sampled_from(WITH_LOSS),
    st.sampled_from(["NEXT", "PSNEXT", "ACR-F", "PSACR-F", "ACR-N", "PSACR-N"]),
    UNIT_INTERVAL,
    UNIT_INTERVAL,
)
def test_crosstalk_floors_never_rise_with_frequency(way, parameter, one, other):
    low, high = sorted((frequency(way, one), frequency(way, other)))
    assert at(parameter, way, low) >= at(parameter, way, high) - 0.15  # pieces join within 0.15 dB


@given(st.sampled_from(WITH_LOSS), UNIT_INTERVAL)
def test_a_permanent_link_is_allowed_no_more_than_its_channel(way, share):
    f = frequency(way, share)
    link, channel = (*way[:3], "permanent link"), (*way[:3], "channel")
    for loss in ("insertion loss", "propagation delay", "delay skew"):
        assert at(loss, link, f) <= at(loss, channel, f) + 1e-9
    for floor in ("NEXT", "PSNEXT", "ACR-F", "PSACR-F", "return loss"):
        assert at(floor, link, f) >= at(floor, channel, f) - 1e-9


@given(st.sampled_from(WITH_LOSS), UNIT_INTERVAL)
def test_a_power_sum_floor_lies_below_that_of_single_pairs(way, share):
    # three disturbers together couple at least what one does
    f = frequency(way, share)
    for sum_, single in (("PSNEXT", "NEXT"), ("PSACR-F", "ACR-F"), ("PSACR-N", "ACR-N")):
        assert at(sum_, way, f) <= at(single, way, f) + 1e-9


@given(st.sampled_from(WITH_LOSS), UNIT_INTERVAL)
def test_acr_n_is_next_less_insertion_loss(way, share):
    # definition: attenuation to crosstalk ratio at the near end; compared candidate by candidate
    f = frequency(way, share)
    for line in lines("ACR-N", way):
        choice = {"candidate": line.candidate, "condition": line.conditions}
        wanted = at("NEXT", way, f, **choice) - at("insertion loss", way, f, **choice)
        # a seam belongs to both pieces of NEXT, and the ACR-N rows have the same seam
        assert line.at(f) == pytest.approx(wanted, abs=0.05)


@given(st.sampled_from(WAYS), st.sampled_from(PAIR_PARAMETERS), UNIT_INTERVAL)
def test_where_something_is_open_the_stricter_holds(way, parameter, share):
    every = lines(parameter, way)
    if not every:
        return
    f = float(every[0].freq_max_mhz ** share) if not every[0].is_dc else None
    more = {"r_loop_ohm": 12.0, "r_pairs_ohm": 6.0}
    one_by_one = [line.at(f, **more) for line in every]
    known = [value for value in one_by_one if not math.isnan(value)]
    together = standards.strictest(every, f, **more)
    if not known:
        assert math.isnan(together)
    else:
        assert together == (min(known) if every[0].sense == "max" else max(known))


@pytest.mark.parametrize("way", WAYS, ids="-".join)
def test_every_piece_is_finite_goes_one_way_and_joins_its_neighbor(way):
    for parameter in PAIR_PARAMETERS:
        every = lines(parameter, way)
        assert len({(line.sense, line.unit) for line in every}) <= 1
        for line in every:
            if line.is_dc:
                assert math.isfinite(line.at(r_loop_ohm=20.0, r_pairs_ohm=10.0))
                continue
            for row in line.rows:
                f = np.geomspace(row["freq_min_mhz"], row["freq_max_mhz"], 500)
                values = np.broadcast_to(standards.compile_expression(row["expression"])(f), f.shape)
                assert np.isfinite(values).all(), row["row_id"]
                steps = np.diff(values)
                assert (steps <= 1e-12).all() or (steps >= -1e-12).all(), row["row_id"]
            for low, high in zip(line.rows, line.rows[1:], strict=False):
                assert low["freq_max_mhz"] == high["freq_min_mhz"]
                seam = low["freq_max_mhz"]
                both = [float(standards.compile_expression(row["expression"])(seam)) for row in (low, high)]
                if low["cap"] is not None:
                    both = [min(value, low["cap"]) for value in both]
                assert abs(both[0] - both[1]) <= 0.15 or line.grade == "8", (low["row_id"], both)


# --- the points of the answer ----------------------------------------------------------------------------------------


def test_at_a_seam_the_stricter_piece_holds():
    # 6A permanent link NEXT: the lower piece gives 34.03 dB at 300 MHz, the upper 34.00 dB
    assert standards.limit("NEXT", grade="6A", configuration="permanent link", frequency_mhz=300.0) == pytest.approx(
        34.0316, abs=1e-4
    )
    assert standards.limit("NEXT", grade="6A", configuration="permanent link", frequency_mhz=300.01) < 34.0


@pytest.mark.parametrize("share", [0.0, 0.9, -0.9])
def test_range_ends_tolerate_a_millionth_and_no_more(share):
    asked = {"grade": "6A", "configuration": "channel"}
    inside = standards.limit(
        "NEXT", frequency_mhz=[1 + share * EDGE_TOLERANCE, 500 * (1 + share * EDGE_TOLERANCE)], **asked
    )
    assert np.isfinite(inside).all()
    outside = [1 - 2 * EDGE_TOLERANCE, 500 * (1 + 2 * EDGE_TOLERANCE), 0.0, -5.0, math.nan, math.inf]
    assert np.isnan(standards.limit("NEXT", frequency_mhz=outside, **asked)).all()
    assert all(math.isnan(standards.limit("NEXT", frequency_mhz=f, **asked)) for f in outside)


def test_caps_and_floors_are_applied():
    # 65 dB, 60 dB for category 5e, 4 dB below which no ISO insertion loss limit goes: recalled
    assert standards.limit("NEXT", grade="6", configuration="channel", frequency_mhz=1) == 65
    assert standards.limit("NEXT", grade="5e", configuration="channel", frequency_mhz=1) == 60
    assert standards.limit("insertion loss", grade="EA", configuration="channel", frequency_mhz=1, standard="ISO") == 4


@pytest.mark.parametrize("shape", [(), (1,), (7,), (40,), (6, 10), (20, 1000), (0,)])
def test_shapes_come_back_and_grids_may_be_in_any_order(shape):
    f = np.random.default_rng(5).uniform(0.5, 520, shape)
    got = standards.limit("PSNEXT", grade="6A", configuration="permanent link", frequency_mhz=f)
    assert np.shape(got) == shape
    one_by_one = [
        standards.limit("PSNEXT", grade="6A", configuration="permanent link", frequency_mhz=float(x))
        for x in np.ravel(f)[:99]
    ]
    np.testing.assert_allclose(np.ravel(got)[:99], one_by_one, rtol=1e-12)
    assert isinstance(got, float) if shape == () else got.dtype == np.float64


def test_a_cached_grid_cannot_be_spoilt_by_its_receiver():
    f = np.linspace(1, 500, 100)
    asked = {"grade": "6A", "configuration": "channel", "frequency_mhz": f}
    first = standards.limit("NEXT", **asked)
    kept = first.copy()
    first[:] = 0
    np.testing.assert_array_equal(standards.limit("NEXT", **asked), kept)


def test_resistance_takes_no_frequency_and_unbalance_needs_the_resistance():
    asked = {"grade": "6A", "configuration": "permanent link"}
    assert standards.limit("loop resistance", **asked) == 21
    assert standards.limit("loop resistance", frequency_mhz=100.0, **asked) == 21
    assert math.isnan(standards.limit("resistance unbalance", **asked))
    np.testing.assert_allclose(standards.limit("resistance unbalance", r_loop_ohm=[2.0, 20.0], **asked), [0.15, 0.6])


def test_a_constant_needs_no_frequency_and_a_curve_does():
    assert standards.limit("delay skew", grade="6", configuration="channel") == 50
    with pytest.raises(OptionError, match="give frequency_mhz"):
        standards.limit("NEXT", grade="6", configuration="channel")
    with pytest.raises(OptionError, match="give frequency_mhz"):
        standards.limit("return loss", grade="6", configuration="channel")


def test_extremes_are_the_ends_of_the_band():
    (line,) = lines("NEXT", ("TIA", "568.2-D", "6A", "channel"))
    assert line.extremes() == (65.0, pytest.approx(line.at(500.0)))
    (line,) = lines("propagation delay", ("TIA", "568.2-D", "6A", "channel"))
    assert line.extremes() == (pytest.approx(line.at(500.0)), 580.0)


# --- doubts, conditions, editions ------------------------------------------------------------------------------------

LINK_6A = ("TIA", "568.2-D", "6A", "permanent link")
LINK_EA = ("ISO", "11801-1:2017", "EA", "permanent link")


def test_candidates_stand_apart_until_one_is_named():
    both = lines("insertion loss", LINK_6A)
    assert [line.candidate for line in both] == ["a", "b"]
    assert all(line.in_doubt and line.how_known == "memory" and line.is_unconfirmed() for line in both)
    assert at("insertion loss", LINK_6A, 500.0) == both[1].at(500.0) < both[0].at(500.0) - 1.6
    assert at("insertion loss", LINK_6A, 500.0, candidate="a") == both[0].at(500.0)
    by_row = lines("insertion loss", LINK_6A, candidate={"CL-TIA-D-6A-PL-IL-1-a"})
    assert [line.candidate for line in by_row] == ["a"]
    assert len(lines("insertion loss", LINK_6A, candidate="c")) == 2  # a letter that names nothing settles nothing
    assert not any(line.in_doubt for line in lines("NEXT", LINK_6A))


def test_the_doubt_about_insertion_loss_is_that_of_acr_n_too():
    for parameter in ("ACR-N", "PSACR-N"):
        a, b = lines(parameter, LINK_6A)
        assert (a.candidate, b.candidate) == ("a", "b")
        assert b.at(500.0) - a.at(500.0) == pytest.approx(0.00015 * 500**1.5)


def test_a_consolidation_point_nobody_mentioned_counts_as_the_stricter():
    with_point = at("NEXT", LINK_EA, 500.0, condition="with consolidation point")
    without = at("NEXT", LINK_EA, 500.0, condition="without consolidation point")
    assert (round(with_point, 1), round(without, 1)) == (27.9, 29.2)
    assert at("NEXT", LINK_EA, 500.0) == without
    assert at("NEXT", LINK_EA, 200.0, condition="with consolidation point") == at("NEXT", LINK_EA, 200.0)
    assert [line.conditions for line in lines("NEXT", LINK_EA)] == [
        ("without consolidation point",),
        ("with consolidation point",),
    ]
    assert len(lines("NEXT", LINK_EA, condition="environment E1")) == 2  # says nothing about the consolidation point


def test_the_environment_decides_tcl():
    way = ("ISO", "11801-1:2017", "EA", "channel")
    by_environment = [at("TCL", way, 250.0, condition=word) for word in ("E1", "environment E2", "e3")]
    assert by_environment == sorted(by_environment)
    assert at("TCL", way, 250.0) == by_environment[-1]
    assert lines("TCL", way)[0].holds_for == "unscreened"
    assert lines("coupling attenuation", way)[0].holds_for == "screened"


def test_568_c_2_has_its_own_rows_only_where_it_differs():
    old = {"grade": "6A", "configuration": "channel", "edition": "568-C.2"}
    new = {**old, "edition": "568.2-D"}
    f = np.linspace(1, 500, 50)
    for parameter in ("NEXT", "insertion loss", "return loss"):
        np.testing.assert_array_equal(
            standards.limit(parameter, frequency_mhz=f, **old), standards.limit(parameter, frequency_mhz=f, **new)
        )
    (own,) = standards.limit_lines(VALUES, parameter="resistance unbalance", **old)
    assert own.row_ids == ("CL-TIA-C2-6A-CH-RU",)
    (kept,) = standards.limit_lines(VALUES, parameter="NEXT", **old)
    assert (kept.edition, kept.rows[0]["edition"]) == ("568-C.2", "568.2-D")
    assert standards.limit_lines(VALUES, parameter="resistance unbalance pair to pair", **old) == ()
    assert standards.limit_lines(VALUES, parameter="resistance unbalance pair to pair", **new) != ()
    with pytest.raises(StandardsError, match="has no grade 8; it has 5e, 6, 6A"):
        standards.limit("insertion loss", grade="8", configuration="channel", frequency_mhz=1, edition="568-C.2")


def test_category_8_is_shown_and_governs_nothing():
    for parameter in ("insertion loss", "return loss", "propagation delay"):
        for line in lines(parameter, ("TIA", "568.2-D", "8", "channel")):
            assert not line.governs
    assert lines("NEXT", ("TIA", "568.2-D", "8", "channel")) == ()
    assert math.isnan(standards.limit("NEXT", grade="8", configuration="channel", frequency_mhz=100.0))
    assert np.isnan(standards.limit("NEXT", grade="8", configuration="channel", frequency_mhz=[1.0, 2.0])).all()


def test_rules_and_lengths_are_found_for_a_grade():
    rules = standards.pair_exemptions(VALUES, grade="6A", parameter="return loss")
    assert [(row["partner"], row["side"], row["threshold"]) for row in rules] == [("insertion loss", "below", 3.0)]
    assert standards.pair_exemptions(VALUES, grade="6A", edition="568-C.2", parameter="return loss") == rules
    assert standards.pair_exemptions(VALUES, grade="5e", parameter="NEXT")[0]["rule"] == "limit stops there"
    assert standards.pair_length(VALUES, grade="6A", configuration="permanent link")["max_length_m"] == 90
    assert standards.pair_length(VALUES, grade="8", configuration="channel")["max_length_m"] == 30
    assert standards.pair_length(VALUES, grade="6A", configuration="end-to-end link") is None


def test_caps_said_as_rules_are_the_caps_of_the_rows():
    compared = 0
    for rule in VALUES.rows("copper_exemptions"):
        if rule["rule"] != "limit stops there":
            continue
        for row in VALUES.rows("copper_limits"):
            same = row["edition"] == rule["edition"] and row["parameter"] == rule["parameter"]
            if same and row["grade"] in rule["grades"].split():
                assert row["cap"] == rule["threshold"], (rule["row_id"], row["row_id"])
                compared += 1
    assert compared > 100


# --- words -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("grade", ["6A", "6a", "Cat 6A", "cat.6A", "category 6a", " 6A "])
def test_grades_as_people_write_them(grade):
    assert standards.limit("next", grade=grade, configuration="Channel", frequency_mhz=100.0, standard="tia") > 0


@pytest.mark.parametrize(
    ("change", "part"),
    [
        ({"grade": "7"}, "known are 5e, 6, 6A, 8, D, E, EA, F, FA"),
        ({"configuration": "basic link"}, "known are channel, permanent link"),
        ({"parameter": "loss"}, "known are insertion loss, NEXT"),
        ({"standard": "EN"}, "known are TIA, ISO"),
        ({"condition": "E4"}, "known are without consolidation point"),
        ({"edition": "568.2-E"}, "known are 568-C.2, 568.2-D"),
        ({"grade": "EA"}, "TIA-568.2-D:2018 has no grade EA; it has 5e, 6, 6A, 8; give standard ISO for EA"),
        ({"standard": "ISO"}, "has no grade 6A; it has D, E, EA, F, FA"),
        ({"configuration": "end-to-end link"}, "no limits of its own here for 'end-to-end link'; known are channel"),
    ],
)
def test_what_is_not_known_is_refused_with_what_is(change, part):
    asked = {"parameter": "NEXT", "grade": "6A", "configuration": "channel", "frequency_mhz": 100.0, **change}
    parameter = asked.pop("parameter")
    with pytest.raises((OptionError, StandardsError)) as caught:
        standards.limit(parameter, **asked)
    assert part in str(caught.value)


def test_a_damaged_equation_is_named_by_file_line_and_row(tmp_path):
    folder = shutil.copytree(FOLDER, tmp_path / "values")
    path = folder / "copper_limits.csv"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("1.05*(1.82*sqrt(f)", "1.05*(1.82*root(f)"), encoding="utf-8")
    with pytest.raises(StandardsError, match=r"copper_limits\.csv, line \d+, row CL-.*-IL-1: .*'root' is not known"):
        standards.limit(
            "insertion loss", grade="6A", configuration="channel", frequency_mhz=1.0, values=standards.load(folder)
        )


def test_a_limit_that_is_no_number_is_not_hidden_by_its_cap(tmp_path):
    folder = shutil.copytree(FOLDER, tmp_path / "values")
    path = folder / "copper_limits.csv"
    text = path.read_text(encoding="utf-8")
    assert ",31-27.15*log10(f/330)," in text
    path.write_text(text.replace(",31-27.15*log10(f/330),", ",9**9**9,"), encoding="utf-8")
    values = standards.load(folder)
    got = standards.limit("NEXT", grade="6A", configuration="channel", frequency_mhz=[100.0, 400.0], values=values)
    assert np.isfinite(got[0])
    assert np.isinf(got[1])


def test_the_tolerated_end_is_the_same_in_a_rising_and_a_mixed_grid():
    end = 500 * (1 + EDGE_TOLERANCE)
    asked = {"grade": "6A", "configuration": "channel"}
    rising = standards.limit("NEXT", frequency_mhz=[100.0, end], **asked)
    mixed = standards.limit("NEXT", frequency_mhz=[end, 100.0], **asked)
    np.testing.assert_array_equal(rising, mixed[::-1])
    assert np.isfinite(rising).all()


def test_an_equation_cannot_be_overridden_by_a_number():
    with pytest.raises(StandardsError, match="it is an equation"):
        standards.load(overrides={"CL-TIA-D-6A-CH-NEXT-1": 40.0})


# --- nothing changes unnoticed, and it is quick ----------------------------------------------------------------------


def test_no_equation_changes_unnoticed(pytestconfig):
    # regression: an equation that changes also changes in this list, and in the changelog
    path = pytestconfig.rootpath / "tests" / "standards" / "data" / "copper_rows.txt"
    was = dict(line.split(maxsplit=1) for line in path.read_text(encoding="utf-8").splitlines())
    now = {row["row_id"]: said(row) for row in VALUES.rows("copper_limits")}
    assert len(was) == 566
    assert {row_id: now.get(row_id) for row_id in was} == was


def said(row):
    cap = "" if row["cap"] is None else f" stops at {row['cap']:g}"
    return f"{row['freq_min_mhz']:g}-{row['freq_max_mhz']:g} {row['sense']} {row['expression']} {row['unit']}{cap}"


def test_row_ids_say_what_the_row_is():
    words = {"channel": "CH", "permanent link": "PL"}
    for row in VALUES.rows("copper_limits"):
        parts = row["row_id"].split("-")
        assert parts[1] == row["standard"], row["row_id"]
        assert parts[3] == row["grade"], row["row_id"]
        assert parts[4] == words[row["configuration"]], row["row_id"]
        assert (parts[-1] == row["candidate"]) == (row["candidate"] is not None), row["row_id"]
        assert len(row["row_id"]) <= 32, row["row_id"]


def test_a_shared_grid_is_quick():
    f = np.linspace(1, 500, 500)
    asked = {"grade": "6A", "configuration": "permanent link", "frequency_mhz": f}
    standards.limit("NEXT", **asked)

    def once():
        begun = time.perf_counter()
        for _ in range(200):
            standards.limit("NEXT", **asked)
        return (time.perf_counter() - begun) / 200

    assert min(once() for _ in range(5)) < 200e-6  # measured 11 to 20 microseconds; room for a loaded machine
