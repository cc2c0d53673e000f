"""Every layout of one truth gives the same readings and facts."""

import sys
from pathlib import Path

import numpy as np
import pytest

from analyzer.importing import Source, read_source

sys.path.insert(0, str(Path(__file__).parent))
import layout_writer as truth


@pytest.mark.parametrize("name", truth.LAYOUTS)
def test_layout(name):
    file, write, tells = truth.LAYOUTS[name]
    imported = read_source(Source(file, write()))
    aside, counts = imported.set_aside, imported.file
    assert counts["rows_read"] == counts["rows_used"] + counts["rows_set_aside"]
    assert counts["cells_read"] == len(imported.readings) + (aside["counts_as"] == "reading cell").sum()
    assert aside.empty, aside[["row", "col", "code", "text"]]
    readings = imported.readings.merge(imported.records[["record", "label"]], on="record")
    assert (readings["parameter"] == "loss").all()
    found = {
        (label, int(wave), way): value
        for label, wave, way, value in zip(
            readings["label"], readings["wavelength_nm"], readings["direction"], readings["value"], strict=True
        )
    }
    assert len(readings) == len(truth.LOSS)
    assert found == truth.LOSS
    records = imported.records
    assert set(records["label"]) == set(truth.LINKS)
    if "length" in tells:
        expected = np.array([truth.LENGTH[label] for label in records["label"]])
        assert np.allclose(records["length_m"], expected, rtol=1e-12, atol=0)
    if "type" in tells:
        assert (records["type"] == truth.TYPE).all()
    assert (records["medium"] == "fiber").all()
