"""Troubles planted in whole jobs of 2,448 links are found, and nothing else of their kind is told."""

from __future__ import annotations

import pytest
from more_troubles import MORE_TROUBLES
from simulated_job import clean_job, write

from analyzer.pipeline import analyze

NEW = {"leads-worn", "losses-too-smooth", "curves-alike"}


@pytest.fixture(scope="module")
def troubled(tmp_path_factory):
    """One job with all of them: each is planted in links of its own."""
    made = clean_job(78)
    planted = {name: (code, plant(made)) for name, (code, plant) in MORE_TROUBLES.items()}
    return analyze(write(made, tmp_path_factory.mktemp("job"))), planted


@pytest.mark.slow
@pytest.mark.timeout(900)
@pytest.mark.parametrize("name", MORE_TROUBLES)
def test_every_planted_trouble_is_found(troubled, name):
    analysis, planted = troubled
    code, labels = planted[name]
    found = [item for item in analysis.findings if item.code == code]
    told = {label for item in found for label in item.links}
    if code == "reference-drifted":  # names one link of each cable
        told, labels = ({label[:6] for label in some} for some in (told, labels))
    print(f"{len(told & labels) / len(labels):4.0%} of {len(labels)}  {code}  {name}")  # noqa: T201
    assert len(told & labels) >= 0.5 * len(labels)


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_worn_tools_are_told_of_the_tester_that_has_them(troubled):
    analysis, _ = troubled
    told = {code: [item.message for item in analysis.findings if item.code == code] for code in NEW}
    assert [message[:40] for message in told["leads-worn"]] == ["margins of tester T-12 fall over its 240"]
    assert ["cable TB-118, tester T-" in message for message in told["losses-too-smooth"]] == [True]
    assert told["curves-alike"] == []
    drifts = [item.message for item in analysis.findings if item.code == "reference-drifted"]
    assert drifts
    assert all(" of tester T-11 " in message for message in drifts)
    assert any("step by step as with a cord that wears" in message for message in drifts)
