"""Samples: the chance to miss what is bad, too small a sample, cables that it left out, alien crosstalk."""

import pytest
from crew import job_of, joined, om4, schedule_of
from scipy import stats

from analyzer.budget.looser import looser_than_standard
from analyzer.insights.chances import missed_by_sample
from analyzer.insights.completeness import missing_links
from analyzer.insights.samples import alien_sample_short
from analyzer.standards import load


@pytest.mark.parametrize(
    ("everybody", "bad", "drawn"), [(200, 5, 20), (200, 20, 20), (9, 1, 4), (50, 0, 10), (10, 4, 7)]
)
def test_the_chance_to_miss_is_hypergeometric(everybody, bad, drawn):
    assert missed_by_sample(everybody, bad, drawn) == pytest.approx(stats.hypergeom(everybody, bad, drawn).pmf(0))


# chances to meet at least one of d bad cables with 20 of 200: 19 %, 41 %, 66 %, 89 % (worked example, hypergeometric)
@pytest.mark.parametrize(("bad", "met"), [(2, 0.19), (5, 0.41), (10, 0.66), (20, 0.89)])
def test_twenty_of_two_hundred(bad, met):
    assert 1 - missed_by_sample(200, bad, 20) == pytest.approx(met, abs=0.005)


def run(tested, text, scheduled=40):
    labels = [f"TB-{101 + n // 10}-{n % 10 + 1:02d}" for n in range(scheduled)]
    table = schedule_of(*({"label": label, "cable": label[:6], "cable_key": label[:6].casefold()} for label in labels))
    return joined([om4(label) for label in labels[:tested]], schedule=table, job=job_of(text)).analysis


def test_without_a_declaration_what_is_missing_is_an_error():
    (found,) = missing_links(run(10, ""), whole_schedule=True)
    assert (found.code, len(found.links)) == ("missing-link", 30)


def test_a_sample_as_declared_is_told_with_what_it_may_miss_and_leaves_out():
    (found,) = missing_links(run(10, "[sampling]\nshare = 0.25\n"), whole_schedule=True)
    assert (found.code, found.severity, len(found.links)) == ("sample-tested", "note", 30)
    # 2 of 40: C(38, 10) / C(40, 10) = 0.558; 4 of 40: 0.300
    assert "56% if 2 are bad" in found.message
    assert "30% if 4 are bad" in found.message
    assert "of TB-102, TB-103, TB-104 nothing was tested" in found.message


def test_a_sample_that_is_too_small_is_an_error():
    (found,) = missing_links(run(9, "[sampling]\nshare = 0.25\n"), whole_schedule=True)
    assert (found.code, found.severity) == ("sample-too-small", "error")
    assert found.message == "a sample of 25 % is declared, 10 links of 40, and 9 have a result"


def test_links_that_the_sample_is_not_drawn_from_are_all_tested():
    text = '[sampling]\nshare = 0.5\nlinks = ["TB-101-*", "TB-102-*"]\n'
    codes = {found.code: len(found.links) for found in missing_links(run(10, text), whole_schedule=True)}
    assert codes == {"missing-link": 20, "sample-tested": 10}


def test_a_complete_sample_is_no_finding():
    assert missing_links(run(40, "[sampling]\nshare = 0.25\n"), whole_schedule=True) == []


def test_a_sample_is_looser_than_every_link():
    told = looser_than_standard(job_of("[sampling]\nshare = 0.1\n"), load())
    assert [item["key"] for item in told] == ["sampling.share"]
    assert looser_than_standard(job_of("[sampling]\nalien_crosstalk = 0.1\n"), load()) == []


def test_fiber_has_no_alien_crosstalk():
    assert alien_sample_short(joined([om4("A")], job=job_of("[sampling]\nalien_crosstalk = 0.1\n"))) == []


def test_a_sample_that_can_be_drawn_from_nothing_is_told():
    nothing = joined([om4("TB-101-01")], job=job_of("[sampling]\nshare = 0.5\n")).analysis
    (found,) = missing_links(nothing, whole_schedule=True)
    assert (found.code, found.severity) == ("sample-not-known", "warning")
    assert (
        found.message
        == "a sample of 50 % is declared, and there is no schedule: nothing tells whether enough was tested"
    )
    odd = run(10, '[sampling]\nshare = 0.5\nlinks = ["QQ-*"]\n')
    found = missing_links(odd, whole_schedule=True)
    assert [one.code for one in found] == ["missing-link", "sample-not-known"]
    assert "no scheduled link fits QQ-*" in found[1].message
    assert missing_links(joined([om4("TB-101-01")]).analysis, whole_schedule=True) == []
