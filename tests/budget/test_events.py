"""Events of traces judged: simulated fibers whose joints are known, and limits from the published tables.

The simulation is ours and shares no code with the product: a joint of true loss L between fibers whose backscatter
differs by d dB shows L + d one way and L - d the other, so the mean of both is L (the apparent gain is not real:
reference fibre/physics.csv, "joint loss single-mode", Marcuse 1977, formula recalled).
"""

import math

import numpy as np
import pytest

import analyzer

LENGTH_M, CORD_M = 1520.0, 150.0


def trace(way, joints, *, label="TB-1-01", wave=1310, cords=True, stated=True, extra=(), total=None):
    """CSV text of one trace. `joints`: (position from A [m], kind, true loss [dB], backscatter step [dB], reflectance)."""
    lines = [f"Fiber,{label}", f"Wavelength,{wave} nm", f"Direction,{way}"]
    lines += [f"Launch cord,{CORD_M:g} m", f"Receive cord,{CORD_M:g} m"] if cords and stated else []
    lines += [f"End-to-end loss,{total:.2f} dB"] if total is not None else []
    lines += ["", "Distance (m),Type,Loss (dB),Reflectance (dB)"]
    begin = CORD_M if cords else 0.0
    seen = []
    for at, kind, loss, step, shine in joints:
        there = begin + (at if way == "A-B" else LENGTH_M - at)
        seen.append((there, kind, loss + (step if way == "A-B" else -step), shine))
    end = begin + LENGTH_M + (CORD_M if cords else 0.0)
    rows = [(0.0, "start", None, -50.0), *seen, *extra, (end, "end", None, -14.5)]
    for at, kind, loss, shine in sorted(rows):
        cells = ["" if value is None else f"{value:.2f}" for value in (loss, shine)]
        lines.append(f"{at:.1f},{kind},{cells[0]},{cells[1]}")
    return "\n".join(lines) + "\n"


ENDS = [(0.0, "reflective", 0.31, 0.0, -52.0), (LENGTH_M, "reflective", 0.28, 0.0, -50.0)]
POWER = "Fiber,Type,Length (m),Loss 1310 nm (dB),Loss 1550 nm (dB),Mated pairs,Splices,Reference\n{},OS2,{},{},0.9,2,1,1-cord\n"


def run(tmp_path, *texts, power="TB-1-01", length=LENGTH_M, loss=1.3, job=""):
    folder = tmp_path / "evidence"
    folder.mkdir()
    for number, text in enumerate(texts):
        (folder / f"trace_{number}.csv").write_text(text)
    (folder / "power.csv").write_text(POWER.format(power, length, loss))
    if job:
        (tmp_path / "job.toml").write_text(job)
    return analyzer.analyze(tmp_path)


def joint(analysis, kind="splice"):
    return analysis.events[analysis.events["kind"] == kind]


def codes(analysis):
    return {found.code for found in analysis.findings}


@pytest.mark.parametrize("step", [0.25, *(pytest.param(step, marks=pytest.mark.slow) for step in (0.0, -0.25))])
def test_the_mean_of_both_directions_is_the_loss_of_a_joint(tmp_path, step):
    joints = [*ENDS, (750.0, "splice", 0.18, step, None)]
    found = run(tmp_path, trace("A-B", joints), trace("B-A", joints))
    both = joint(found)
    np.testing.assert_allclose(both["mean_db"], 0.18, atol=0.006)  # written with two decimals
    np.testing.assert_allclose(both["position_m"], 750.0, atol=0.06)
    # 0.3 dB a splice: TIA-568.3-E as recalled in reference fibre/components.csv
    np.testing.assert_allclose(both["limit_db"], 0.3)
    assert both["verdict"].tolist() == ["pass", "pass"]
    assert both["gainer"].tolist() == [step == -0.25, step == 0.25]


def test_a_gain_seen_one_way_alone_is_not_judged(tmp_path):
    found = run(tmp_path, trace("A-B", [*ENDS, (750.0, "splice", 0.18, -0.25, None)]))
    assert joint(found)["verdict"].tolist() == ["not judged"]
    assert "event-gains" in codes(found)


def test_a_failing_splice_beside_a_passing_total_is_a_finding_and_no_fail(tmp_path):
    found = run(tmp_path, trace("A-B", [*ENDS, (750.0, "splice", 0.52, 0.0, None)]))
    assert joint(found)["verdict"].tolist() == ["fail"]
    np.testing.assert_allclose(joint(found)["margin_db"], 0.3 - 0.52)
    assert found.links["verdict"].tolist() == ["pass"]
    assert "event-fails" in codes(found)
    assert found.exit_code == 0


def test_events_decide_where_the_job_orders_it(tmp_path):
    text = trace("A-B", [*ENDS, (750.0, "splice", 0.52, 0.0, None)])
    found = run(tmp_path, text, job='[rules]\nevents = "decide"\n')
    assert found.links["verdict"].tolist() == ["fail"]
    assert "splice at 900 m loses 0.52 dB, 0.30 dB allowed" in found.links["sentence"][0]
    assert (found.totals["fail"], found.exit_code) == (1, 1)
    assert "a joint of a time-domain trace that fails makes its link fail" in found.rules


def test_a_mated_pair_may_lose_more_than_a_splice(tmp_path):
    # 0.75 dB a mated pair: TIA-568.3-E as recalled in reference fibre/components.csv
    found = run(
        tmp_path,
        trace("A-B", [*ENDS, (750.0, "connection", 0.75, 0.0, -45.0), (900.0, "connection", 0.76, 0.0, -45.0)]),
    )
    pairs = joint(found, "connection")
    assert pairs["verdict"].tolist() == ["pass", "fail"]
    np.testing.assert_allclose(pairs["margin_db"], [0.0, -0.01], atol=1e-12)


def test_reflectance_against_the_return_loss_of_a_mated_pair(tmp_path):
    # 35 dB on single-mode, flat polish: TIA-568.3-E as recalled in reference fibre/limits_optical_return_loss.csv
    found = run(
        tmp_path, trace("A-B", [*ENDS, (750.0, "connection", 0.2, 0.0, -34.0), (900.0, "connection", 0.2, 0.0, -36.0)])
    )
    pairs = joint(found, "connection")
    assert pairs["reflectance_verdict"].tolist() == ["fail", "pass"]
    np.testing.assert_allclose(pairs["reflectance_margin_db"], [-1.0, 1.0])
    assert pairs["source"].str.contains("RL-TIA-E-PAIR-FLAT-SM").all()
    assert "event-reflects" in codes(found)


def test_cords_are_told_by_what_the_file_states(tmp_path):
    found = run(tmp_path, trace("A-B", [*ENDS, (750.0, "splice", 0.1, 0.0, None)]))
    assert found.traces[["begins_m", "ends_m", "cords_from"]].iloc[0].tolist() == [CORD_M, CORD_M + LENGTH_M, "stated"]
    assert found.events["place"].tolist() == ["launch cord", "near end", "inside", "far end", "tail cord"]
    assert found.events["component"].tolist() == ["none", "mated pair", "splice", "mated pair", "none"]


def test_cords_are_told_by_the_length_where_one_reading_of_the_trace_fits_it(tmp_path):
    found = run(tmp_path, trace("A-B", ENDS, stated=False))
    assert found.traces["cords_from"].tolist() == ["length"]
    assert found.traces["begins_m"].tolist() == [CORD_M]
    assert "cords-not-told" not in codes(found)


def test_cords_that_nothing_tells_are_a_missing_fact(tmp_path):
    found = run(tmp_path, trace("A-B", ENDS, stated=False), length=5000)
    assert found.traces["cords_from"].tolist() == ["missing"]
    assert set(found.events["place"]) == {"not known"}
    assert "cords-not-told" in codes(found)


def test_a_job_states_the_cords_for_every_trace(tmp_path):
    job = "[facts]\nlaunch_cord_m = 150\ntail_cord_m = 150\n"
    found = run(tmp_path, trace("A-B", ENDS, stated=False), length=5000, job=job)
    assert found.traces["cords_from"].tolist() == ["stated"]


def test_an_open_trace_without_cords_has_no_end_connections_to_judge(tmp_path):
    found = run(tmp_path, trace("A-B", [(750.0, "splice", 0.1, 0.0, None)], cords=False))
    assert found.traces["begins_m"].tolist() == [0.0]
    assert found.events["component"].tolist() == ["none", "splice", "none"]


@pytest.mark.parametrize(
    ("strength", "loss", "suspected"), [(-28.0, 0.0, True), (-28.0, 0.3, False), (-48.0, 0.0, False)]
)
def test_an_echo_stands_at_a_multiple_of_a_strong_reflection(tmp_path, strength, loss, suspected):
    # light that goes twice between port and connector arrives as if from twice the distance
    near = (0.0, "reflective", 0.31, 0.0, strength)
    echo = (2 * CORD_M, "reflective", loss, -55.0)
    found = run(tmp_path, trace("A-B", [near, ENDS[1]], extra=[echo]))
    at = found.events[found.events["distance_m"] == 2 * CORD_M]
    assert at["ghost"].tolist() == [suspected]
    assert ("event-echo" in codes(found)) == suspected


def test_an_echo_between_two_connectors(tmp_path):
    # reflections at 150 m and 400 m: the echo between them lies 250 m behind the second
    joints = [(0.0, "reflective", 0.3, 0.0, -30.0), (250.0, "reflective", 0.3, 0.0, -30.0), ENDS[1]]
    found = run(tmp_path, trace("A-B", joints, extra=[(650.0, "reflective", 0.0, -60.0)]))
    assert found.events[found.events["ghost"]]["distance_m"].tolist() == [650.0]


@pytest.mark.parametrize(
    ("total", "told"), [(1.35, False), (2.0, True), pytest.param(0.9, True, marks=pytest.mark.slow)]
)
def test_the_trace_beside_the_power_meter(tmp_path, total, told):
    found = run(tmp_path, trace("A-B", ENDS, total=total), loss=1.3)
    np.testing.assert_allclose(found.traces["difference_db"], total - 1.3)
    assert ("trace-unlike-power" in codes(found)) == told
    assert found.links["verdict"].tolist() == ["pass"]


def test_a_link_with_a_trace_alone_is_incomplete(tmp_path):
    found = run(tmp_path, trace("A-B", ENDS, label="TB-1-02", total=1.2))
    by_label = found.links.set_index("label")
    assert by_label.loc["TB-1-02", "verdict"] == "incomplete"
    assert by_label.loc["TB-1-02", "missing"] == "loss; length"


@pytest.mark.slow
def test_the_order_of_the_files_changes_nothing(tmp_path):
    joints = [*ENDS, (750.0, "splice", 0.18, 0.2, None)]
    texts = [trace("A-B", joints), trace("B-A", joints), trace("A-B", joints, wave=1550)]
    for name, order in (("one", texts), ("other", texts[::-1])):
        (tmp_path / name).mkdir()
        found = run(tmp_path / name, *order)
        means = found.events.groupby(["wavelength_nm", "direction", "distance_m"], observed=True)["mean_db"].first()
        if name == "one":
            first = means
    assert first.index.equals(means.index)
    np.testing.assert_array_equal(first, means)


@pytest.mark.slow
def test_each_joint_of_many_traces_finds_its_partner(tmp_path):
    joints = [*ENDS, *((50.0 + 100 * n, "splice", 0.05, 0.0, None) for n in range(13))]
    texts = [trace(way, joints, label=f"TB-1-{n:02d}") for n in range(1, 51) for way in ("A-B", "B-A")]
    found = run(tmp_path, *texts)
    assert len(found.traces) == 100
    inner = found.events[found.events["component"] != "none"]
    assert (inner["partner"] >= 0).all()
    assert math.isclose(inner["mean_db"].median(), 0.05, abs_tol=1e-9)
