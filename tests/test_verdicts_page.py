"""The sums worked by hand in docs/verdicts.md are right."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

PAGE = (
    (Path(__file__).parents[1] / "docs" / "verdicts.md")
    .read_text(encoding="utf-8")
    .replace("\u2212", "-")
    .replace("\u00d7", "*")
)
SUM = re.compile(r"(\d[\d.]*(?: [*+/-] \d[\d.]*)+) = (-?\d+(?:\.\d+)?)")
ALLOWED_DB = 1.86


def value_of(text):
    """A chain of sums, products and quotients, the latter two first."""
    total = 0.0
    for sign, product in re.findall(r"(^|[+-])\s*([^+-]+)", text):
        first, *rest = re.split(r"\s*([*/])\s*", product.strip())
        result = float(first)
        for operator, number in zip(rest[::2], rest[1::2], strict=True):
            result = result * float(number) if operator == "*" else result / float(number)
        total += -result if sign == "-" else result
    return total


def test_the_reader_of_sums_itself():
    assert value_of("0.36 + 4 * 0.75 + 2 * 0.3") == pytest.approx(3.96)
    assert value_of("3.0 * 120 / 1000") == pytest.approx(0.36)
    assert value_of("2 + 0 - 1") == pytest.approx(1.0)


def test_every_sum_on_the_page_is_right():
    sums = SUM.findall(" ".join(PAGE.split()))
    assert len(sums) == 12
    for left, right in sums:
        assert value_of(left) == pytest.approx(float(right), abs=1e-9), left


def test_every_margin_is_allowed_less_measured():
    rows = re.findall(r"= ([\d.]+) dB \| ([\d.]+) dB \| (-?[\d.]+) dB \|", PAGE)
    rows += [(limit, measured, margin) for measured, limit, margin in
             re.findall(r"^\| ([\d.]+) dB \|.*\| ([\d.]+) dB \| (-?[\d.]+) dB \|$", PAGE, re.MULTILINE)]  # fmt: skip
    rows += [
        (ALLOWED_DB, measured, margin)
        for measured, margin in re.findall(r"^\| >?([\d.]+) \| (-?[\d.]+) dB", PAGE, re.MULTILINE)
    ]
    assert len(rows) == 3 + 2 + 6
    for allowed, measured, margin in rows:
        assert float(allowed) - float(measured) == pytest.approx(float(margin), abs=1e-9)
