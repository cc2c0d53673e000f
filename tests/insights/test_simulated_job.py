"""Jobs of more than 2,000 links: every planted trouble is found, and clean jobs stay quiet.

The seeds were not used while the screenings were made. What was seen is printed (pytest -s).
"""

from __future__ import annotations

import pytest
from measure_false_alarms import false_alarms
from simulated_job import TROUBLES, clean_job, troubled_job, write

from analyzer.pipeline import analyze

PLANTED = {name for name, (code, _) in TROUBLES.items() if code}


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_every_planted_trouble_is_found(tmp_path):
    made = troubled_job(75)
    analysis = analyze(write(made, tmp_path))
    assert len(analysis.links) >= 2000
    missed = []
    for name in sorted(PLANTED):
        code, labels = made.planted[name]
        found = [item for item in analysis.findings if item.code == code]
        told = {label for item in found for label in item.links}
        share = len(told & labels) / len(labels) if labels else float(bool(found))
        print(f"{share:4.0%} of {len(labels):3d} links  {code:24s} {name}")  # noqa: T201
        if not found or share < 0.5:
            missed.append(name)
        assert all(item.severity != "error" for item in found) or code == "missing-link"
    assert missed == []
    assert len(PLANTED) >= 25


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_an_hour_at_the_end_of_summer_time_is_not_told(tmp_path):
    made = troubled_job(74)
    analysis = analyze(write(made, tmp_path))
    clocks = [item.message for item in analysis.findings if item.code == "clock-jumped"]
    assert [message for message in clocks if "T-15" in message] == []
    assert [message for message in clocks if "T-14" in message] != []


@pytest.mark.slow
@pytest.mark.timeout(900)
@pytest.mark.parametrize("seed", [91, 92, 93, 94, 95])
def test_a_clean_job_stays_quiet(tmp_path, seed):
    made = clean_job(seed)
    analysis = analyze(write(made, tmp_path))
    assert len(analysis.links) >= 2000
    alarms = false_alarms(analysis, made.dirty)
    print(f"clean job {seed}: {len(analysis.links)} links, false alarms {dict(alarms)}")  # noqa: T201
    # of the strands that are rightly told (2.4 % of all have a dirty connector) one in twenty more may be wrongly told
    assert set(alarms) <= {"worse-than-sisters"}
    assert alarms["worse-than-sisters"] <= 2
    # a link far off its line because its connector was dirty is told rightly, by one of the two
    warned = {
        item.code
        for item in analysis.findings
        if item.severity != "note" and not (item.code == "off-the-line" and set(item.links) <= made.dirty)
    }
    assert warned <= {"worse-than-sisters", "test-missing"}
