"""Likely causes: each planted trouble is named first, and the rules are whole.

The troubles are planted by what the reference says of them: fibre/physics.csv (wavelength signature, macrobend, core
mismatch, contamination) and twisted_pair/diagnosis.csv; rules without a source there are "common practice, no source".
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "budget"))

from bench import OL, analysis, om4

from analyzer import schema
from analyzer.insights.causes import likely_causes, rows_of, sources, weighed
from analyzer.insights.signs_fiber import fiber_signs, numbers
from analyzer.insights.signs_pairs import pair_signs
from analyzer.standards import load

OS2 = {"type": "OS2", "construction": "outside plant", "length_m": 2000.0}


def os2(label, short, long, **more):
    return om4(label, **OS2, loss={1310: short, 1550: long}, **more)


def causes_of(label, *rows, **more):
    run = analysis(*rows, **more)
    found = likely_causes(run, load())
    return found[run.links["label"].to_numpy()[found["link"]] == label].reset_index(drop=True)


GOOD = [os2(f"TB-1-{n:02d}", 1.0, 0.8) for n in range(1, 7)]


def test_a_bend_weighs_more_at_the_longer_wavelength():
    # "larger at the long wavelength: bend": physics.csv, wavelength signature; bend loss rises with wavelength (1997)
    found = causes_of("TB-1-09", *GOOD, os2("TB-1-09", 1.1, 3.2))
    assert found["cause"][0] == "macrobend"
    assert "1550 nm loses 2.40 dB more than 1310 nm beyond what the cable itself loses" in found["speaks_for"][0]
    assert "6 of 6 other strands of the cable pass" in found["speaks_for"][0]


def test_the_cable_s_own_slope_is_taken_off_first():
    # 20 km of OS2 lose 3 dB less at 1550 than at 1310 nm (0.37 and 0.22 dB/km): equal readings mean a bend
    long = {"type": "OS2", "construction": "outside plant", "length_m": 20000.0, "mated_pairs": 2}
    found = causes_of("A", om4("A", **long, loss={1310: 10.2, 1550: 9.8}))
    assert found["cause"][0] == "macrobend"
    assert "2.60 dB more" in found["speaks_for"][0]


def test_dirt_adds_about_as_much_at_both_wavelengths():
    # "loss nearly equal at both wavelengths: connector or splice": physics.csv
    found = causes_of("TB-1-09", *GOOD, os2("TB-1-09", 3.3, 3.1))
    assert found["cause"].tolist() == ["dirty or damaged end face", "misaligned or worn connection"]


def test_without_splices_a_splice_is_not_blamed_and_with_one_it_is_named():
    names = causes_of("A", *GOOD, os2("A", 3.6, 3.4, splices=1))["cause"].tolist()
    assert "poor splice" in names
    assert "poor splice" not in causes_of("A", *GOOD, os2("A", 3.6, 3.4, splices=0))["cause"].tolist()


def test_no_light_is_a_break_and_two_of_a_duplex_pair_may_be_crossed():
    dark = {1310: OL, 1550: OL}
    assert causes_of("TB-1-09", *GOOD, os2("TB-1-09", 0, 0) | {"loss": dark})["cause"][0] == "break or open connection"
    both = [os2("TB-1-09", 0, 0) | {"loss": dark}, os2("TB-1-10", 0, 0) | {"loss": dark}]
    found = causes_of("TB-1-09", *GOOD, *both)
    assert found["cause"][0] == "crossed strands"
    assert "TB-1-10 is dark too" in found["speaks_for"][0]
    # 10 and 11 are no duplex pair
    apart = [os2("TB-1-10", 0, 0) | {"loss": dark}, os2("TB-1-11", 0, 0) | {"loss": dark}]
    assert causes_of("TB-1-10", *GOOD, *apart)["cause"][0] == "break or open connection"


def test_unlike_cores_lose_one_way_only():
    # 62.5 into 50 micrometers: 0.9 to 4.7 dB by source and launch, none the other way: physics.csv, core mismatch
    loss = {(850, "A-B"): 3.2, (850, "B-A"): 1.0, (1300, "A-B"): 3.0, (1300, "B-A"): 0.9}
    found = causes_of("A", om4("A", loss=loss))
    assert found["cause"][0] == "core or mode-field mismatch"
    assert "2.20 dB at 850 nm" in found["speaks_for"][0]
    equal = dict.fromkeys(loss, 3.1)
    assert "core or mode-field mismatch" not in causes_of("A", om4("A", loss=equal))["cause"].tolist()


def test_a_whole_cable_that_fails_points_at_the_test_set_up():
    rows = [os2(f"TB-1-{n:02d}", 3.3, 3.1) for n in range(1, 9)]
    assert causes_of("TB-1-03", *rows)["cause"][0] == "launch condition or test cord"


def test_a_loss_in_the_ratio_of_the_fiber_points_at_its_length():
    # 2.0 km stated, 6 km there: 0.37 and 0.22 dB/km typical (fiber_typical_attenuation.csv), and 0.4 dB of matings
    long = {"type": "OS2", "construction": "outside plant", "length_m": 2000.0, "mated_pairs": 0}
    found = causes_of("A", om4("A", **long, loss={1310: 2.42, 1550: 1.42}))
    assert found["cause"][0] == "longer or other fiber than stated"


def test_passing_links_have_no_cause():
    assert likely_causes(analysis(*GOOD), load()).empty
    assert likely_causes(analysis(*GOOD), load()).columns.tolist() == list(schema.TABLES["causes"])


def pairs_run(*failing, verdict="fail"):
    """A twisted-pair link whose readings fail as told: (parameter, pair, end, margin)."""
    readings = pd.DataFrame(
        [
            {"reading": n, "record": 0, "parameter": p, "pair": pair, "end": end}
            for n, (p, pair, end, _) in enumerate(failing)
        ]
    )
    judged = pd.DataFrame(
        {"reading": range(len(failing)), "margin": [row[3] for row in failing], "verdict": verdict, "in_force": True}
    )
    run = analysis(om4("A"))
    run.links = run.links.assign(
        medium=pd.Categorical(["twisted pair"], categories=schema.CATEGORIES["medium"]),
        verdict=pd.Categorical(["fail"], categories=schema.CATEGORIES["link_verdict"]),
    )
    run.readings, run.judged = schema.conform("readings", readings), schema.conform("judged", judged)
    return likely_causes(run, load())


@pytest.mark.parametrize(
    ("failing", "cause"),
    [
        ([("wire map", None, None, np.nan)], "wrong wiring"),
        ([("NEXT", "3-6/4-5", "A", -22.0), ("NEXT", "3-6/4-5", "B", -21.0)], "split pair"),
        ([("NEXT", "3-6/4-5", "A", -2.0), ("NEXT", "1-2/3-6", "A", -1.0)], "poor termination at one end"),
        ([("NEXT", "3-6/4-5", "A", -2.0), ("NEXT", "3-6/4-5", "B", -3.0)], "cable or component of a lower grade"),
        ([("return loss", "3-6", "B", -2.0)], "poor termination at one end"),
        ([("return loss", "3-6", "A", -2.0), ("return loss", "3-6", "B", -2.0)], "crushed wet or kinked cable"),
        ([("insertion loss", "3-6", None, -1.0), ("loop resistance", "3-6", None, -4.0)], "bad contact on one pair"),
        ([("loop resistance", pair, None, -4.0) for pair in ("1-2", "3-6", "4-5", "7-8")], "small or copper-clad conductors"),
        ([("insertion loss", pair, None, -1.0) for pair in ("1-2", "3-6", "4-5", "7-8")] + [("length", None, None, -8.0)], "link too long or wrong velocity setting"),
    ],
)  # fmt: skip
def test_causes_of_twisted_pair_links(failing, cause):
    # signatures: reference twisted_pair/diagnosis.csv, common practice of the trade
    found = pairs_run(*failing)
    assert found["cause"][0] == cause
    assert found["next_step"][0]


def test_against_and_for_are_weighed():
    signs = [
        ("equal excess", np.array([True]), np.array(["equal"], dtype=object)),
        ("reflects little", np.array([True]), np.array(["quiet"], dtype=object)),
    ]
    found = weighed("fiber", signs, np.array([True])).set_index("cause")
    assert found.loc["misaligned or worn connection", ["speaks_for", "speaks_against"]].tolist() == ["equal; quiet", ""]
    # 2 for dirt and 2 against it: it is not told
    assert "dirty or damaged end face" not in found.index


def test_every_rule_has_a_cause_a_sign_a_weight_and_a_source():
    run = analysis(*GOOD)
    made = {name for name, _, _ in [*fiber_signs(run, load()), *pair_signs(run)]}
    made |= {"trace shows a splice", "trace shows a connection", "trace shows a bend"}  # only where traces were read
    causes = {(row["medium"], row["cause"]) for row in rows_of("causes.csv")}
    rules = rows_of("cause_signs.csv")
    assert {rule["sign"] for rule in rules} == made
    assert {(rule["medium"], rule["cause"]) for rule in rules} == causes
    named = {source for rule in [*rules, *rows_of("cause_numbers.csv")] for source in rule["source"].split()}
    assert named <= set(sources())
    assert all(int(rule["weight"]) != 0 for rule in rules)
    assert {rule["how_known"] for rule in rules} <= set(schema.CATEGORIES["how_known"])
    assert len(numbers()) == len(rows_of("cause_numbers.csv"))
