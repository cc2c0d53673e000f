"""Versions compare part by part."""

import itertools
import random

import pytest
from packaging.version import Version

from analyzer.errors import JobError
from analyzer.job import load_job
from analyzer.job.version_numbers import version_number


@pytest.mark.parametrize(
    ("earlier", "later"), [("5.9", "5.10"), ("5", "5.0.1"), ("4.99.9", "5.0"), ("2026-03", "2026.11"), ("5,1", "5,2")]
)
def test_each_part_counts_as_a_number(earlier, later):
    assert version_number(earlier) < version_number(later)


def test_the_order_is_that_of_the_packaging_library():
    draw = random.Random(3)
    texts = [".".join(str(draw.choice((0, 1, 2, 9, 10, 11))) for _ in range(draw.randint(1, 4))) for _ in range(300)]
    for one, other in itertools.pairwise(texts):
        assert (version_number(one) < version_number(other)) == (Version(one) < Version(other)), (one, other)
        assert (version_number(one) == version_number(other)) == (Version(one) == Version(other)), (one, other)


@pytest.mark.parametrize("text", ["5.1", " v5.1.0", "Version 5.1", "5.1 build 2207", "5.1 (b2207)", "rev. 5.1", "5_1"])
def test_words_builds_and_last_zeros_do_not_count(text):
    assert version_number(text) == (5, 1)


@pytest.mark.parametrize(
    "text", ["", "beta", "5.1-rc", "5.1beta", "5..1", "A5.1", "\u0665.1", "5.1 2", "12345678901", "5.1 and 5.2"]
)
def test_what_is_no_dotted_number_is_none(text):
    assert version_number(text) is None


def test_the_job_refuses_what_no_version_can_be_compared_with(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text('[required]\nsoftware_from = "spring"\nfirmware_from = 2.0\n', encoding="utf-8")
    with pytest.raises(JobError) as caught:
        load_job(path)
    first, second = caught.value.problems
    assert "required.software_from" in first
    assert "no dotted numbers" in first
    assert "dotted numbers such as" in second
