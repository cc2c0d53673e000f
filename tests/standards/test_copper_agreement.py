"""Limits of twisted pair beside published values, and beside worked examples. Sources stand in the data files."""

import re
from collections import Counter

import numpy as np
import pytest
from copper_agreement import published, recalled, report, rows_of, table

from analyzer import standards

VALUES = standards.load()
PUBLISHED = published()
RECALLED = recalled()


def told(comparison):
    return f"{comparison.grade}-{comparison.part}-{comparison.parameter}-{comparison.frequency_mhz:g}"


def of(standing):
    return [pytest.param(c, id=f"{n}-{told(c)}") for n, c in enumerate(PUBLISHED) if c.standing == standing]


# published by the page named in `source`, read there; limits of TIA/EIA-568-B, TIA-568-C or ISO/IEC 11801:2002
@pytest.mark.parametrize("comparison", of("as printed"))
def test_a_published_value_is_the_limit_within_its_rounding(comparison):
    assert comparison.agrees, comparison
    assert comparison.source


# a label of the page was overruled: agreement is by construction and shows only that nothing changed
@pytest.mark.parametrize("comparison", of("reinterpreted"))
def test_a_reinterpreted_value_still_fits_where_it_was_put(comparison):
    assert comparison.agrees, comparison


# kept as printed; if one of these begins to agree, a limit changed and somebody must look
@pytest.mark.parametrize("comparison", of("disagrees"))
def test_a_value_known_to_disagree_still_does(comparison):
    assert not comparison.agrees, comparison
    assert np.isfinite(comparison.computed)


def test_all_values_were_compared_and_counted_apart():
    assert Counter(c.standing for c in PUBLISHED) == {"as printed": 226, "reinterpreted": 22, "disagrees": 24}
    counted = table(PUBLISHED, counted=("as printed", "disagrees"))
    channel = {grade: cell for (grade, part), cell in counted.items() if part == "channel"}
    assert channel == {
        "5e": (22, 22), "6": (28, 28), "6A": (14, 14), "8": (0, 2), "D": (1, 1), "E": (85, 103), "F": (1, 3),
    }  # fmt: skip
    assert sum(good for (_, part), (good, _) in counted.items() if part != "channel") == 75


def test_terms_stand_letter_by_letter_in_the_limits():
    for row in rows_of("copper_terms.csv"):
        assert row["term"] in VALUES.row(row["row_id"])["expression"], row


# a check from memory: the tables were recalled apart from the equations, nothing was read
@pytest.mark.parametrize("comparison", [pytest.param(c, id=f"{n}-{told(c)}") for n, c in enumerate(RECALLED)])
def test_recalled_tables_agree_but_for_one(comparison):
    assert comparison.agrees == (comparison.standing == "recalled"), comparison
    assert comparison.agrees == (told(comparison) != "5e-permanent link-insertion loss-1"), comparison


def test_without_candidate_a_six_recalled_values_of_6a_insertion_loss_disagree():
    rows = [row for row in rows_of("copper_check_values_recalled.csv")
            if row["grade"] == "6A" and row["parameter"] == "insertion loss"]  # fmt: skip
    f = np.array([float(row["frequency_mhz"]) for row in rows])
    value = np.array([float(row["value"]) for row in rows])
    asked = {"grade": "6A", "configuration": "permanent link", "frequency_mhz": f}
    with_a = standards.limit("insertion loss", candidate="a", **asked)
    with_b = standards.limit("insertion loss", candidate="b", **asked)
    assert (np.abs(with_a - value) <= 0.1 + 1e-9).all()
    assert (np.abs(with_b - value) > 0.1).sum() == 6
    assert len(rows) == 15


def test_the_table_prints():
    printed = "\n".join(report())
    assert "6A  channel        14 / 14" in printed
    assert "Permanent link tables recalled apart: 221 / 222" in printed


def cell(row_id, column="value"):
    return VALUES.row(row_id)[column]


def channel(parameter, grade, frequency, edition):
    standard = "TIA" if edition.startswith("568") else "ISO"
    return standards.limit(
        parameter, grade=grade, configuration="channel", frequency_mhz=frequency, standard=standard, edition=edition
    )


def expression(row_id, f):
    return float(standards.compile_expression(cell(row_id, "expression"))(f))


def conductor(row_id, celsius):
    """Resistance of 100 m of one conductor [ohm], corrected to a temperature."""
    return cell(row_id) * (1 + cell("CC-R-TEMP") / 100 * (celsius - cell(row_id, "low_c")))


def cord_length_rule(row_id, horizontal_m):
    rule = re.match(r"C=([^;]+);", cell(row_id, "rule"))[1].replace("H", "f")
    return float(standards.compile_expression(rule)(horizontal_m))


ISO_2002 = "11801:2002+A2"
WORKED = {
    "class D channel insertion loss at 100 MHz": lambda: channel("insertion loss", "D", 100, ISO_2002),
    "class E channel insertion loss at 100 MHz": lambda: channel("insertion loss", "E", 100, ISO_2002),
    "class E channel insertion loss at 250 MHz": lambda: channel("insertion loss", "E", 250, ISO_2002),
    "class D equation carried on to 250 MHz (beyond the class)": lambda: expression("CL-ISO-2002A2-D-CH-IL-1", 250),
    "effective length of a 100 m channel with 10 m of cord that loses 50 % more": lambda: (
        cell("CM-ISO-PL", "max_length_m") + 10 * (1 + cell("CC-CORD-26") / 100)
    ),
    "one branch has 6 % more resistance than the other: resistance unbalance": lambda: round(100 * 0.06 / 2.06),
    "resistance of 24 AWG copper, 1000 ft": lambda: conductor("CC-R-AWG24", 25) * 3.048,
    "longest work area cord, 24 AWG, multi-user outlet": lambda: cell("CM-TIA-MUO", "max_length_m"),
    "class D to FA channel delay at 1 MHz from the corrigendum equation": lambda: channel(
        "propagation delay", "FA", 1, ISO_2002
    ),
    "loop resistance of 100 m of 24 AWG solid pair at 20 C": lambda: 2 * conductor("CC-R-AWG24", 20),
    "loop resistance of 100 m of 23 AWG solid pair at 20 C": lambda: 2 * conductor("CC-R-AWG23", 20),
    "loop resistance of 90 m of 24 AWG pair at 45 C": lambda: 2 * 0.9 * conductor("CC-R-AWG24", 45),
    "propagation delay limit of a channel at 100 MHz": lambda: channel("propagation delay", "6A", 100, "568.2-D"),
    "delay of 100 m cable at 10 MHz by the limit equation": lambda: expression("CC-TIA-PD", 10),
    "insertion loss of 90 m category 6A UTP at 40 C against 20 C": lambda: 20 * cell("CC-TEMP-UTP-20"),
    "insertion loss of 90 m UTP at 60 C against 20 C": lambda: (
        20 * cell("CC-TEMP-UTP-20") + 20 * cell("CC-TEMP-UTP-40")
    ),
    "insertion loss of screened cable at 60 C against 20 C": lambda: 40 * cell("CC-TEMP-STP-20"),
    "horizontal length of UTP at 40 C that keeps 90 m loss at 20 C": lambda: (
        cell("CM-TIA-PL", "max_length_m") / (1 + 20 * cell("CC-TEMP-UTP-20") / 100)
    ),
    "multi-user outlet: total cord length for H = 70 m, 24 AWG": lambda: cord_length_rule("CC-MUO-24", 70),
}
NOT_OF_THESE_VALUES = {
    "PoE class 8: power lost in the cable, PSE 90 W and PD 71.3 W",
    "propagation delay of 100 m at velocity 69 % of c",
    "return loss ripple: period 1.4 MHz at 69 % of c gives distance",
    "power lost in a 4-pair type 4 channel at 12.5 ohm per pairset and 0.867 A per pairset",
}
"""Power and velocity: no value of this room enters, so nothing here could be wrong about them."""
EXAMPLES = rows_of("copper_worked_examples.csv")


@pytest.mark.parametrize("row", [r for r in EXAMPLES if r["example"] in WORKED], ids=lambda r: r["example"][:50])
def test_worked_examples(row):
    last_digit = 10.0 ** -len(row["answer"].partition(".")[2])
    tolerance = 0.501 * last_digit
    if "slides" in row["edition"]:
        tolerance = 1.001 * last_digit  # printed as the sum of two parts, each rounded
    if "electricianmath" in row["source"]:
        tolerance = 0.03  # at about 25 C, and the source does not say how nearly
    assert WORKED[row["example"]]() == pytest.approx(float(row["answer"]), abs=tolerance)


def test_every_worked_example_is_accounted_for():
    assert {row["example"] for row in EXAMPLES} == set(WORKED) | NOT_OF_THESE_VALUES
    assert len(EXAMPLES) == 23


def test_a_class_ends_where_its_range_ends():
    # slides of IEEE 802.3, March 2004: the class D equation carried to 250 MHz is no class D limit
    assert np.isnan(channel("insertion loss", "D", 250, ISO_2002))


# Power over Ethernet Interoperability Guide, chapter 9: 6 % difference of the branches is 3 % unbalance, rounded
def test_six_percent_between_the_conductors_is_within_three_percent_of_the_loop():
    allowed = standards.limit("resistance unbalance", grade="6A", configuration="channel", r_loop_ohm=20.6)
    assert 0.6 < allowed == pytest.approx(0.618)


def test_conductor_tables_agree_with_the_diameter_rule():
    # electricianmath.com: 22, 24, 28, 30 AWG per 1000 ft at about 25 C; ours from diameter and IACS resistivity
    for gauge in ("22", "24", "28", "30"):
        assert conductor(f"CC-R-AWG{gauge}", 25) == pytest.approx(cell(f"CC-R-AWG{gauge}-TABLE"), rel=0.003)
