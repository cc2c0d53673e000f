"""Facts of twisted pair beside physics and beside each other."""

import math
import subprocess
import sys

import pytest
from scipy import constants

from analyzer import standards
from analyzer.errors import StandardsError

VALUES = standards.load()
CABLE = {row["row_id"]: row for row in VALUES.rows("copper_cable")}
WIRING = {row["row_id"]: row for row in VALUES.rows("copper_wiring")}


# AWG: d = 0.127 mm x 92 ** ((36 - n) / 39), ASTM B258; IEC 60028: 1.7241e-8 ohm m for annealed copper at 20 C
@pytest.mark.parametrize("gauge", [22, 23, 24, 25, 26, 28, 30])
def test_conductor_resistance_follows_from_its_diameter(gauge):
    diameter_m = 0.127e-3 * 92 ** ((36 - gauge) / 39)
    ohm = CABLE["CC-RHO-CU"]["value"] * 100 / (math.pi * diameter_m**2 / 4)
    assert CABLE[f"CC-R-AWG{gauge}"]["value"] == pytest.approx(ohm, abs=0.01)


def test_the_slowest_cable_follows_from_its_delay_and_the_speed_of_light():
    delay_ns = float(standards.compile_expression(CABLE["CC-TIA-PD"]["expression"])(100.0))
    assert CABLE["CC-NVP-LOWEST"]["value"] == pytest.approx(100 * 100 / (delay_ns * 1e-9 * constants.c), abs=0.1)
    for row in CABLE.values():
        if row["property"] == "nominal velocity of propagation":
            assert 50 < row["value"] < row["up_to"] < 100


def test_second_sources_of_the_temperature_coefficients_agree():
    # IEEE 802.3 reflector quoting TIA-568-C.2 6.4.7, and a Japanese note with the same three numbers
    for name in ("UTP-20", "UTP-40", "STP-20"):
        first, second = CABLE[f"CC-TEMP-{name}"], CABLE[f"CC-TEMP-{name}-JP"]
        assert not first["evidence"]
        assert second["evidence"]
        assert [first[k] for k in ("value", "low_c", "high_c")] == [second[k] for k in ("value", "low_c", "high_c")]


@pytest.mark.parametrize(
    ("cable", "limit"),
    [
        ("CC-TIA-IL-5e", "CL-TIA-D-5e-PL-IL-1"),
        ("CC-TIA-IL-6", "CL-TIA-D-6-PL-IL-1"),
        ("CC-TIA-IL-6A", "CL-TIA-D-6A-PL-IL-1-b"),
        ("CC-ISO-IL-5", "CL-ISO-2017-D-PL-IL-1"),
        ("CC-ISO-IL-6", "CL-ISO-2017-E-PL-IL-1"),
        ("CC-ISO-IL-6A", "CL-ISO-2017-EA-PL-IL-1"),
        ("CC-ISO-IL-7", "CL-ISO-2017-F-PL-IL-1"),
        ("CC-ISO-IL-7A", "CL-ISO-2017-FA-PL-IL-1"),
        ("CC-NEXT-CABLE-5e", "CL-TIA-D-5e-PL-NEXT-1"),
        ("CC-NEXT-CABLE-6", "CL-TIA-D-6-PL-NEXT-1"),
        ("CC-NEXT-CONN-5e", "CL-TIA-D-5e-PL-NEXT-1"),
        ("CC-NEXT-CONN-6", "CL-TIA-D-6-PL-NEXT-1"),
        ("CC-IL-CONN-5e", "CL-TIA-D-5e-PL-IL-1"),
        ("CC-IL-CONN-6", "CL-TIA-D-6-PL-IL-1"),
        ("CC-TIA-PD", "CL-TIA-D-6A-PL-PD-1"),
    ],
)
def test_what_cable_and_connections_lose_stands_in_the_limits(cable, limit):
    assert CABLE[cable]["expression"] in VALUES.row(limit)["expression"]


def test_every_expression_of_cable_is_one_that_can_be_evaluated():
    some = [row for row in CABLE.values() if row["expression"]]
    assert len(some) == 17
    for row in some:
        assert math.isfinite(float(standards.compile_expression(row["expression"])(100.0))), row["row_id"]


def test_pins_and_contact_pairs_agree():
    # TIA/EIA-568-B.1, table of a public encyclopedia: T568A and T568B swap pairs 2 and 3 and nothing else
    for row in WIRING.values():
        if row["kind"] != "contact pair":
            continue
        for contact in row["item"].split("-"):
            pin = WIRING[f"CW-PIN-{contact}"]
            assert (pin["t568a_pair"], pin["t568b_pair"]) == (row["t568a_pair"], row["t568b_pair"])
            assert row["t568a"] in pin["t568a"]
            assert row["t568b"] in pin["t568b"]
        sides = [WIRING[f"CW-PIN-{contact}"]["t568a_side"] for contact in row["item"].split("-")]
        assert sorted(sides) == ["ring", "tip"]
    swap = {"1": "1", "2": "3", "3": "2", "4": "4"}
    for row in WIRING.values():
        if row["t568a_pair"]:
            assert row["t568b_pair"] == swap[row["t568a_pair"]]
            assert row["t568a_side"] == row["t568b_side"]


def test_each_accuracy_level_reaches_to_the_top_of_its_grades():
    reached = 0
    for row in VALUES.rows("copper_accuracy"):
        if row["kind"] != "range":
            continue
        for grade in (row["grades"] or "").split():
            standard = "TIA" if grade in standards.pair_grades(VALUES, "TIA") else "ISO"
            (line,) = standards.limit_lines(
                VALUES, parameter="insertion loss", grade=grade, configuration="channel", standard=standard
            )
            assert row["freq_max_mhz"] == line.freq_max_mhz, (row["row_id"], grade)
            reached += 1
    assert reached == 9


def test_accuracy_rows_are_all_recalled_and_have_a_fixed_part():
    for row in VALUES.rows("copper_accuracy"):
        assert row["how_known"] == "memory"
        if row["kind"] == "accuracy":
            assert row["fixed"] > 0
            assert row["percent_of_reading"] is not None


def test_editions_name_the_documents_of_their_rows():
    documents = {row["edition"]: row["document"] for row in VALUES.rows("copper_editions")}
    for row in (*VALUES.rows("copper_limits"), *VALUES.rows("copper_exemptions")):
        if row["edition"] is not None:
            assert documents[row["edition"]] == row["document"], row["row_id"]


@pytest.mark.parametrize(
    ("standard", "written", "edition"),
    [
        ("TIA", None, "568.2-D"),
        ("TIA", "ANSI/TIA-568.2-D", "568.2-D"),
        ("TIA", "TIA 568-C.2", "568-C.2"),
        ("ISO", None, "11801-1:2017"),
        ("ISO", "ISO/IEC 11801:2002/A2:2010", "11801:2002+A2"),
    ],
)
def test_spellings_of_twisted_pair_editions(standard, written, edition):
    assert standards.pair_editions(VALUES, standard, written)[0] == edition


def test_twisted_pair_editions_are_none_of_fiber():
    for row in VALUES.rows("copper_editions"):
        if row["standard"] == "TIA":
            with pytest.raises(StandardsError, match="not known here"):
                standards.resolve_edition(VALUES, "TIA", row["edition"])


def test_rows_and_lookups_need_neither_pandas_nor_numpy():
    code = (
        "import sys; from analyzer import standards as s; v = s.load(); v.rows('copper_limits');"
        "s.pair_rows(v, 'TIA'); s.pair_exemptions(v, grade='6A');"
        "print('pandas' in sys.modules, 'numpy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]
