"""Keys for end connections, decision rules and what a link done well should lose: forms, words, contradictions."""

import numpy as np
import pytest

from analyzer.budget.expected import ordered_workmanship
from analyzer.budget.loss_spread import Spread, fit_gamma
from analyzer.errors import JobError, OptionError
from analyzer.job import parse_job
from analyzer.job.models import MOST_SPREAD
from analyzer.schema import CATEGORIES
from analyzer.standards import load


def job(text):
    return parse_job(text.encode(), "job.toml")


def problem(text):
    with pytest.raises(JobError) as caught:
        job(text)
    (sentence,) = caught.value.problems
    return sentence


def test_one_number_holds_for_both_kinds_of_glass_and_a_table_for_its_own():
    both = {"multimode": 0.3, "single_mode": 0.3}
    assert job("[allowances]\nend_pair_db = 0.3\n").allowances.end_pair_db == both
    assert job("[allowances]\nend_pair_db = {single_mode = 0.5}\n").allowances.end_pair_db == {"single_mode": 0.5}


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("[allowances]\nend_pair_db = {attic = 0.3}\n", "attic is no kind of glass here"),
        ("[allowances]\nend_pair_db = {}\n", "no number stands there"),
        ('[allowances]\nend_pair_db = "0.3"\n', "a number of dB, 0 or more, or one for each glass"),
        ("[allowances]\nend_pair_db = {multimode = -0.1}\n", "allowances.end_pair_db.multimode is -0.1"),
        ('[rules]\ndecision = "wishful"\n', "accepted: simple acceptance, simple acceptance with flag"),
        ('[rules]\naccuracy_taken_as = "gut"\n', "accepted: even spread, coverage k=2"),
        ('[expected]\nconnection_grade = "E"\n', "accepted: A, B, C, D, Bm, Cm"),
        ("[expected]\narray_mean_db = 0.2\n", "given together or not at all"),
        ("[expected]\narray_mean_db = 0.2\narray_97_db = 0.2\n", "it must lie above array_mean_db"),
        ("[expected]\narray_mean_db = 0.1\narray_97_db = 0.36\n", "at 3.5 times that at most"),
    ],
)
def test_refused_in_one_sentence(text, part):
    assert part in problem(text)


def test_every_grade_and_kind_of_splice_has_a_spread():
    rows = load().rows("component_spread")
    grades = [row["grade"] for row in rows if row["component"] == "mated pair"]
    splices = [row["grade"] for row in rows if row["component"] == "splice"]
    assert list(dict.fromkeys(grades)) == list(CATEGORIES["connection_grade"])
    assert list(dict.fromkeys(splices)) == list(CATEGORIES["splice_kind"])


def test_what_the_job_accepts_can_be_fitted_and_what_lies_beyond_cannot():
    fit_gamma(Spread(0.1, MOST_SPREAD * 0.1))
    with pytest.raises(OptionError):
        fit_gamma(Spread(0.1, 1.01 * MOST_SPREAD * 0.1))


def test_the_job_gives_arrays_a_spread():
    done_well = ordered_workmanship(job("[expected]\narray_mean_db = 0.2\narray_97_db = 0.35\n"), load())
    assert done_well.array_pair == Spread(0.2, 0.35)
    assert ordered_workmanship(job(""), load()).array_pair is None
    assert np.isclose(fit_gamma(Spread(0.2, 0.35)).shape * fit_gamma(Spread(0.2, 0.35)).scale_db, 0.2)
