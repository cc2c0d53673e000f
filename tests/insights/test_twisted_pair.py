"""Findings about twisted pair. Resistance of conductors: AWG diameters and IACS copper (derived), the most that solid
category cable may have 9.38 ohm per 100 m (TIA-568.2-D from memory); copper-clad aluminum has 1.5 to 1.6 times the
resistance of copper (common practice, no source)."""

from __future__ import annotations

import pytest

from analyzer import analyze
from analyzer.budget.pair_physics import delay_ns

HEAD = (
    "Link,Grade,Wire map,Length (m),Temperature (°C),Delay 12 (ns),Loop resistance 12 (ohm),Loop resistance 36 (ohm)\n"
)
AWG_24_LOOP_100_M = 16.84
"""worked_examples.csv of the reference: loop resistance of 100 m of 24 AWG solid pair at 20 °C."""


def run(tmp_path, *rows):
    lines = [
        f"{label},6A,PASS,{length},{degrees},{delay},{one},{other}"
        for label, length, degrees, delay, one, other in rows
    ]
    file = tmp_path / "results.csv"
    file.write_text(HEAD + "\n".join(lines) + "\n", encoding="utf-8")
    return analyze(file)


def found(analysis, code):
    return [(one.links, one.message) for one in analysis.findings if one.code == code]


def test_copper_is_not_accused(tmp_path):
    loop = AWG_24_LOOP_100_M * 0.9
    assert found(run(tmp_path, ("C1", 90, "", 435, loop, loop)), "copper-clad-suspected") == []


def test_copper_clad_conductors_are_suspected(tmp_path):
    loop = AWG_24_LOOP_100_M * 0.9 * 1.55
    ((links, message),) = found(
        run(tmp_path, ("C1", 90, "", 435, loop, loop), ("C2", 90, "", 435, 15, 15)), "copper-clad-suspected"
    )
    assert links == ("C1",)
    assert "23.5 ohm at least" in message


def test_a_stated_temperature_sharpens_the_suspicion(tmp_path):
    # 23 AWG copper-clad: 13.36 ohm per 100 m (worked_examples.csv) times 1.55 and four contacts of 0.4 ohm
    loop = 13.36 * 0.9 * 1.55 + 1.0
    assert found(run(tmp_path, ("C1", 90, "", 435, loop, loop)), "copper-clad-suspected") == []
    assert found(run(tmp_path, ("C1", 90, 20, 435, loop, loop)), "copper-clad-suspected") != []


def test_one_bad_pair_is_a_contact_and_no_conductor(tmp_path):
    assert found(run(tmp_path, ("C1", 90, "", 435, 30, 15)), "copper-clad-suspected") == []


def test_a_velocity_that_no_cable_has(tmp_path):
    # 90 m headed metres that are feet: the velocity comes out 3.28 times too high
    ((links, message),) = found(run(tmp_path, ("C1", 295, "", 435, 15, 15)), "velocity-doubtful")
    assert links == ("C1",)
    assert "no cable has" in message


def test_a_velocity_unlike_its_file(tmp_path):
    rows = [(f"C{n}", 90 - n, "", round(delay_ns(90 - n, 69), 1), 15, 15) for n in range(7)]
    odd = ("C9", 60, "", round(delay_ns(60, 76), 1), 9, 9)
    ((links, message),) = found(run(tmp_path, *rows, odd), "velocity-doubtful")
    assert links == ("C9",)
    assert "unlike that of the other links" in message
    assert found(run(tmp_path, *rows), "velocity-doubtful") == []


def test_lengths_that_were_derived_imply_no_velocity(tmp_path):
    file = tmp_path / "results.csv"
    file.write_text("Link,Grade,Wire map,NVP,Delay 12 (ns)\nC1,6A,PASS,40,435\n", encoding="utf-8")
    analysis = analyze(file)
    assert analysis.links["length_m"].tolist() == [pytest.approx(435 * 0.4 * 0.299792458)]
    assert analysis.links["length_from"].tolist() == ["derived"]
    assert found(analysis, "velocity-doubtful") == []
    assert len(found(analysis, "length-derived")) == 1


def test_a_link_of_no_length_has_no_velocity_of_a_cable(tmp_path):
    analysis = run(tmp_path, ("C1", 0, "", 435, 15, 15))
    ((links, message),) = found(analysis, "velocity-doubtful")
    assert links == ("C1",)
    assert "no cable has" in message
    assert found(analysis, "copper-clad-suspected") == []
