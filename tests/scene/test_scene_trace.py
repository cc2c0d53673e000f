"""The trace of the scene: as the generator writes it, and as its physics says that it must be read."""

from pathlib import Path

import numpy as np
import pytest
import scene_trace

import analyzer

SAMPLE = Path(__file__).parent.parent.parent / "sample_results" / scene_trace.FILE


@pytest.fixture(scope="module")
def found():
    return analyzer.analyze(SAMPLE)


def test_the_file_is_what_the_generator_writes():
    assert SAMPLE.read_bytes() == scene_trace.trace_csv()


def test_the_strand_passes_by_its_power_meter_loss(found):
    assert found.links["label"].tolist() == [scene_trace.LABEL]
    assert found.links["verdict"].tolist() == ["pass"]
    assert found.set_aside.empty


def test_the_cords_are_told_apart_from_the_link(found):
    assert found.traces["direction"].tolist() == ["A-B", "B-A"]
    np.testing.assert_allclose(found.traces["begins_m"], scene_trace.CORD_M)
    np.testing.assert_allclose(found.traces["ends_m"], scene_trace.CORD_M + sum(scene_trace.PIECES_M))


def test_both_directions_of_a_trace_average_to_the_true_loss(found):
    # what unlike backscatter feigns cancels in the mean of both directions (IEC 61280-4-2, recalled)
    assert found.traces["trace_loss_db"].mean() == pytest.approx(scene_trace.loss_db(), abs=0.006)
    splice = found.events.loc[found.events["kind"].isin(["splice", "gain"]).to_numpy(), "loss_db"]
    assert splice.mean() == pytest.approx(scene_trace.SPLICE_DB, abs=0.006)
    assert splice.min() < 0


def test_the_seeming_gain_is_told_and_nothing_else_is_wrong(found):
    codes = {finding.code for finding in found.findings}
    assert "event-gains" in codes
    assert not codes & {"event-fails", "event-reflects", "trace-unlike-power", "cords-not-told"}
