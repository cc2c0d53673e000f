"""Crews that worked from the other end: turned where the record tells, left alone where it does not."""

import numpy as np
import pytest

import analyzer

SCHEDULE = "Cable,Strands,Type,Length (m),From room,To room,Mated pairs,Splices\nTB-1,2,OM4,120,Hall,Loft,2,0\n"
HEAD = "Link,From room,To room,Loss 850 nm A-B (dB),Loss 850 nm B-A (dB),Loss 1300 nm A-B (dB)\n"


def run(tmp_path, *rows, head=HEAD):
    (tmp_path / "evidence").mkdir()
    (tmp_path / "schedule.csv").write_text(SCHEDULE)
    (tmp_path / "evidence" / "a.csv").write_text(head + "\n".join(rows) + "\n")
    return analyzer.analyze(tmp_path)


def told(found):
    return any(finding.code == "ends-exchanged" for finding in found.findings)


def losses(found, direction):
    rows = found.readings[(found.readings["direction"] == direction).to_numpy()]
    return rows["value"].tolist()


def test_a_record_with_the_ends_exchanged_is_turned(tmp_path):
    found = run(tmp_path, "TB-1-01,Loft,Hall,0.5,0.6,0.4", "TB-1-02,Hall,Loft,0.7,0.8,0.3")
    assert losses(found, "A-B") == [0.6, 0.7, 0.3]
    assert losses(found, "B-A") == [0.5, 0.4, 0.8]
    assert found.links["place_a"].tolist() == ["Hall", "Hall"]
    assert told(found)
    assert found.links["verdict"].tolist() == ["pass", "pass"]


@pytest.mark.parametrize(
    ("head", "row"),
    [
        (HEAD, "TB-1-01,Hall,Loft,0.5,0.6,0.4"),
        (HEAD, "TB-1-01,Loft,Attic,0.5,0.6,0.4"),
        (HEAD, "TB-1-01,Loft,,0.5,0.6,0.4"),
    ],
)
def test_anything_else_stays_as_the_file_says(tmp_path, head, row):
    found = run(tmp_path, row, head=head)
    np.testing.assert_array_equal(losses(found, "A-B"), [0.5, 0.4])
    assert not told(found)


@pytest.mark.parametrize(
    ("stated", "differs"), [("Type B", False), ("method b", False), ("Type A", True), ("A to A", True), ("", False)]
)
def test_a_polarity_that_is_not_the_scheduled_one_is_told(tmp_path, stated, differs):
    # duplex A-B and A-A, array types A, B and C: TIA-568.3, from memory
    (tmp_path / "evidence").mkdir()
    (tmp_path / "schedule.csv").write_text("Cable,Strands,Type,Length (m),Polarity\nTB-1,2,OM4,120,Type B\n")
    text = f"Link,Polarity,Loss 850 nm (dB)\nTB-1-01,{stated},0.5\n"
    (tmp_path / "evidence" / "a.csv").write_text(text)
    found = analyzer.analyze(tmp_path)
    told_of = [finding for finding in found.findings if finding.code == "polarity-differs"]
    assert bool(told_of) == differs
    if differs:
        assert "scheduled type B" in told_of[0].message
