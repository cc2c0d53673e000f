"""Lengths without a unit: settled where physics leaves one unit, else carried beside. Sources stand beside each check."""

import numpy as np
import pytest

from analyzer.importing import Source, read_source
from analyzer.importing.length_unit import copper_speeds, fiber_speeds

FOOT = 0.3048  # international foot, exact: BIPM, The International System of Units, 9th edition, appendix; NIST SP 811
LIGHT = 0.299792458  # m/ns, exact: the same


def read(text):
    return read_source(Source("results.csv", text.encode()))


def told(imported):
    return imported.seeds.loc[imported.seeds["code"] == "unit-from-physics", "text"].tolist()


def test_two_columns_a_foot_apart_settle_which_is_which():
    imported = read("Link,Length,Cable length,Loss 850 nm (dB)\nL1,393.7,120.0,0.4\nL2,164.0,50.0,0.5\n")
    assert np.allclose(imported.records["length_m"], [120, 50], rtol=1e-3)
    assert len(told(imported)) == 1
    assert "unit-not-stated" not in imported.seeds["code"].tolist()


@pytest.mark.parametrize(
    "rows",
    [
        ["L1,393.7,120.0", "L2,164.0,80.0"],  # one row of another ratio
        ["L1,393.7,120.0"],  # one row proves nothing: any two numbers have some ratio
        ["L1,120.0,120.0", "L2,50.0,50.0"],
    ],
)
def test_other_ratios_settle_nothing(rows):
    imported = read("Link,Length,Cable length,Loss 850 nm (dB)\n" + "\n".join(f"{row},0.4" for row in rows) + "\n")
    assert imported.records["length_m"].isna().all()
    assert not told(imported)


def twisted_pair(length, nanoseconds):
    return read(
        "Link,Category,Length,Propagation delay 12 (ns),NEXT 12-36 (dB)\n"
        + "".join(f"C-{number},6A,{length:.1f},{nanoseconds:.0f},40\n" for number in range(3))
    )


@pytest.mark.parametrize("share", [0.62, 0.69, 0.79])
@pytest.mark.parametrize("unit", ["m", "ft"])
def test_delay_against_length_settles_the_unit_of_twisted_pair(share, unit):
    metres = 64.0
    imported = twisted_pair(metres if unit == "m" else metres / FOOT, metres / (share * LIGHT))
    assert np.allclose(imported.records["length_m"], metres, rtol=2e-3)
    lengths = imported.readings[imported.readings["parameter"] == "length"]
    assert np.allclose(lengths["value"], metres, rtol=2e-3)
    assert "no-unit" not in imported.set_aside["code"].tolist()
    assert "of the speed of light" in told(imported)[0]


@pytest.mark.parametrize("share", [0.3, 0.45, 1.1, 1.6])
def test_a_speed_that_no_cable_has_settles_nothing(share):
    imported = twisted_pair(64.0, 64.0 / (share * LIGHT))
    assert not told(imported)
    assert set(imported.set_aside["code"]) == {"no-unit"}


@pytest.mark.parametrize(("heading", "ways"), [("Delay (ns)", 1), ("Round trip delay (ns)", 2)])
@pytest.mark.parametrize("unit", ["m", "ft"])
def test_delay_against_length_settles_the_unit_of_fiber(heading, ways, unit):
    # G.652 fiber at 1310 nm: group index 1.4676, as makers' sheets of single-mode fiber print it
    metres, index = 420.0, 1.4676
    delay = ways * metres * index / LIGHT
    length = metres if unit == "m" else metres / FOOT
    imported = read(f"Link,Fiber type,Length,{heading},Loss 1310 nm (dB)\nS1,OS2,{length:.1f},{delay:.1f},0.4\n")
    assert np.allclose(imported.records["length_m"], metres, rtol=1e-3)
    assert len(told(imported)) == 1


def test_the_speeds_come_from_the_data_and_leave_no_doubt_between_metre_and_foot():
    for low, high in (copper_speeds(), fiber_speeds()):
        assert 0.5 < low <= high < 0.9
        assert high * 1.05 * FOOT < low * 0.95


def test_a_unit_that_is_written_is_never_touched():
    imported = read("Link,Length (ft),Cable length,Loss 850 nm (dB)\nL1,393.7,120.0,0.4\nL2,164.0,50.0,0.5\n")
    assert np.allclose(imported.records["length_m"], [120, 50], rtol=1e-3)
    assert not told(imported)
