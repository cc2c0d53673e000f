"""Verdicts as exports write them: marks and words of nearness make them marginal, and words that say neither are told."""

import pytest

from analyzer.importing import Source, facts, read_source


@pytest.mark.parametrize(
    ("text", "verdict"),
    [
        ("PASS*", "marginal pass"), ("PASS !", "marginal pass"), ("PASS!", "marginal pass"), ("Pass (marginal)", "marginal pass"),
        ("Marginal pass", "marginal pass"), ("Pass, marginal", "marginal pass"), ("marginally passed", "marginal pass"),
        ("Bestanden (grenzwertig)", "marginal pass"), ("réussi (limite)", "marginal pass"), ("Aprobado marginal", "marginal pass"),
        ("pass with warning", "marginal pass"), ("PASS†", "marginal pass"), ("FAIL!", "marginal fail"), ("Fail, marginal", "marginal fail"),
        ("marginally failed", "marginal fail"), ("nicht bestanden, knapp", "marginal fail"), ("INFO", ""), ("WARNING", ""), ("N/A", ""),
        ("!PASS", ""), ("PASS?", ""), ("pass/fail", ""), ("not passed", "fail"), ("Passed with remark", "pass"), ("PASS1", ""),
    ],
)  # fmt: skip
def test_words_of_verdicts(text, verdict):
    assert facts.verdict(text) == verdict


def codes(*verdicts):
    rows = "".join(f"F-{number:02d},0.9,{text}\n" for number, text in enumerate(verdicts))
    imported = read_source(Source("a.csv", f"Link,Loss 850 nm (dB),Result\n{rows}".encode()))
    return list(zip(imported.set_aside["row"], imported.set_aside["code"], strict=True))


def test_words_that_say_neither_are_told_and_words_that_say_none_are_not():
    assert codes("PASS", "FAIL", "WARNING", "INFO", "n/a", "for information", "PASS") == [(4, "unclear-verdict")]
