"""Wavelength and direction in one cell."""

import pytest

from analyzer.importing import Source, read_source


def keys(head, rows):
    imported = read_source(Source("keys.csv", f"{head}\n{rows}\n".encode()))
    readings = imported.readings.astype({"direction": object})
    return list(zip(readings["wavelength_nm"], readings["direction"], readings["value"], strict=True))


@pytest.mark.parametrize("heading", ["Test", "Test name", "Wavelength", "Direction", "Remark"])
@pytest.mark.parametrize("form", ["{} nm {}", "{}nm {}", "{} {}"])
def test_both_keys_are_read(heading, form):
    rows = f"L1,{form.format(850, 'A-B')},0.46\nL1,{form.format(850, 'B-A')},0.79"
    assert keys(f"Link,{heading},Loss (dB)", rows) == [(850, "A-B", 0.46), (850, "B-A", 0.79)]


def test_a_wavelength_column_beside_leaves_the_direction():
    rows = "L1,850,850 nm forward,0.46\nL1,850,850 nm reverse,0.79"
    assert keys("Link,Wavelength (nm),Test,Loss (dB)", rows) == [(850, "A-B", 0.46), (850, "B-A", 0.79)]


def test_other_parameters_in_such_cells_are_not_taken_for_loss():
    rows = "L1,Loss 850 nm A-B,0.46\nL1,ORL 850 nm A-B,35.2"
    imported = read_source(Source("keys.csv", f"Link,Test item,Value (dB)\n{rows}\n".encode()))
    assert imported.readings["parameter"].astype(str).tolist() == ["loss", "optical return loss"]
