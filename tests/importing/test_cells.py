"""Single cells, headings and words: texts of the trade and what they mean."""

import math

import pytest

from analyzer.importing import facts
from analyzer.importing.cells import ABOVE, BELOW, NO_BOUND, OVER_RANGE, mark_vote, parse_number
from analyzer.importing.headings import understand
from analyzer.importing.text_file import _rows_of, _split_fast
from analyzer.importing.words import phrases
from analyzer.schema import CATEGORIES


@pytest.mark.parametrize(
    ("text", "mark", "value", "bound", "decimals", "unit"),
    [
        ("0.42", None, 0.42, NO_BOUND, 2, ""), ("0,42 dB", None, 0.42, NO_BOUND, 2, "dB"), ("<0.05", None, 0.05, BELOW, 2, ""),
        ("> 60 dB", None, 60, ABOVE, 0, "dB"), ("1.2E-1", None, 0.12, NO_BOUND, 2, ""), ("\u22120.3", None, -0.3, NO_BOUND, 1, ""),
        ("1.234,5", None, 1234.5, NO_BOUND, 1, ""), ("1,234.5", None, 1234.5, NO_BOUND, 1, ""),
        ("1 234,5 m", None, 1234.5, NO_BOUND, 1, "m"), ("1,234", ",", 1.234, NO_BOUND, 3, ""),
        ("1,234", ".", 1234, NO_BOUND, 0, ""), ("1.234", ",", 1234, NO_BOUND, 0, ""), ("12 ft", None, 12, NO_BOUND, 0, "ft"),
        ("0.42*", None, 0.42, NO_BOUND, 2, ""), (".5", None, 0.5, NO_BOUND, 1, ""), ("\uff11\uff12", None, 12, NO_BOUND, 0, ""),
    ],
)  # fmt: skip
def test_numbers(text, mark, value, bound, decimals, unit):
    number = parse_number(text, mark)
    assert (number.value, number.bound, number.decimals, number.unit, number.problem) == (
        value,
        bound,
        decimals,
        unit,
        "",
    )


@pytest.mark.parametrize("text", ["OL", "no light", "∞", ">OL", "over range", "O.L.", "kein Licht"])
def test_over_range_is_a_bound_without_a_number(text):
    number = parse_number(text)
    assert number.bound == OVER_RANGE
    assert math.isnan(number.value)
    assert not number.problem


@pytest.mark.parametrize(
    ("text", "problem"),
    [("---", "not-measured"), ("n/a", "not-measured"), ("nicht gemessen", "not-measured"), ("abc", "not-a-number"),
     ("1,234", "ambiguous-number"), ("0.4.2", "not-a-number"), ("12 dBx", "not-a-number"), ("1e99", "impossible-value"),
     ("0.4 0.5", "not-a-number"), ("~0.4", "not-a-number")],
)  # fmt: skip
def test_cells_without_a_number(text, problem):
    assert parse_number(text).problem == problem


@pytest.mark.parametrize(
    ("text", "vote"),
    [("0,42", ","), ("0.42", "."), ("1.234,5", ","), ("1,234.5", "."), ("1,234", "?"), ("0,234", ","), ("12", None), ("1.234.567", ",")],
)  # fmt: skip
def test_votes_for_the_decimal_mark(text, vote):
    assert mark_vote(text) == vote


@pytest.mark.parametrize(
    ("text", "kind", "glass", "construction"),
    [("OM3 50/125", "OM3", "", ""), ("62.5/125", "", "62.5/125", ""), ("OS2 outside plant", "OS2", "", "outside plant"),
     ("G.652.D", "", "single-mode", ""), ("MM", "", "multimode", ""), ("OS1a", "OS1a", "", ""), ("Cat 6A", "", "", ""),
     ("OS2 indoor/outdoor", "OS2", "", "indoor-outdoor"), ("50µm", "", "", "")],
)  # fmt: skip
def test_fiber_types(text, kind, glass, construction):
    assert facts.fiber_type(text) == (kind, glass, construction)


@pytest.mark.parametrize(("text", "method"), [("1 Jumper", "one-cord"), ("Two jumpers", "two-cord"), ("Method B", ""), ("3", "three-cord"),
                                              ("TIA-526-14-A Method B", "one-cord"), ("B", "")])  # fmt: skip
def test_reference_methods_and_bare_letters(text, method):
    assert facts.reference(text) == method


@pytest.mark.parametrize(
    ("heading", "role", "parameter", "wave", "way", "unit"),
    [
        ("Attenuation @ 1550 nm [dB]", "value", "loss", 1550, "", "dB"), ("λ1310 A→B dB", "value", "loss", 1310, "A-B", "dB"),
        ("1.31 µm Loss B>A", "value", "loss", 1310, "B-A", ""), ("Dämpfung 1310 nm Rückrichtung", "value", "loss", 1310, "B-A", ""),
        ("Perte d'insertion 850 nm A vers B (dB)", "value", "loss|insertion loss", 850, "A-B", "dB"),
        ("Longueur d'onde", "wavelength", "", -1, "", ""), ("Cable length [ft]", "length", "length", -1, "", "ft"),
        ("850 Limit", "limit", "", 850, "", ""), ("Margin 1300 nm (dB)", "margin", "", 1300, "", "dB"),
        ("Fiber Type", "type", "", -1, "", ""), ("Test Date/Time", "tested at", "", -1, "", ""), ("Pass/Fail", "verdict", "", -1, "", ""),
        ("End A location", "place A", "", -1, "", ""), ("ELFEXT", "value", "ACR-F", -1, "", ""), ("wavelengthNm", "wavelength", "", -1, "", "nm"),
        ("Foo bar", "ignored", "", -1, "", ""),
    ],
)  # fmt: skip
def test_headings(heading, role, parameter, wave, way, unit):
    found = understand((heading,))
    assert (found.role, found.wavelength_nm, found.direction, found.unit) == (role, wave, way, unit)
    assert found.parameter in parameter.split("|")


def test_a_near_miss_is_told_with_its_score():
    found = understand(("Attenuaton 850 nm",))
    assert found.parameter == "loss"
    assert found.sure == pytest.approx(0.95, abs=0.01)
    assert "near miss" in found.why
    assert "0.95" in found.why


def test_the_vocabulary_knows_only_roles_and_parameters_of_the_schema():
    extra = {"type or grade"}
    for phrase, meanings in phrases().items():
        assert phrase
        for kind, value in meanings:
            if kind == "role":
                assert value in {*CATEGORIES["role"], *extra}
            if kind == "parameter":
                assert value in {*CATEGORIES["parameter"], "power"}


def test_the_fast_way_gives_the_same_cells_as_the_csv_module():
    lines = ["Link,Loss 850 nm (dB),Note"] + [f"L{n}, 0.{n % 97:02d} ,{'' if n % 3 else 'x y'}" for n in range(4000)]
    lines[1000] = ",,"
    text = "\n".join(lines)
    fast = _split_fast(text.encode(), ",")
    assert fast is not None
    columns, count = fast
    slow = _rows_of(text, ",")
    assert count == len(slow)
    for number, column in enumerate(columns):
        assert [column.texts[code] for code in column.codes] == [row[number].strip() for row in slow]
    assert _split_fast(f"{text}\nragged".encode(), ",") is None


def test_a_pair_that_a_spreadsheet_took_for_a_date_is_read_back():
    assert facts.pair("2026-03-06 00:00:00") == "3-6"
    for damaged in ("2026-06-03", "3-Jun", "06-Mar", "6. Mrz", "3 juin", "Mar-06"):
        assert facts.pair(damaged) == "3-6", damaged
    assert [facts.pair(text) for text in ("2-Jan", "01-Feb", "5-Apr", "4. Mai", "8-Jul", "7-Aug")] == ["1-2"] * 2 + [
        "4-5"
    ] * 2 + ["7-8"] * 2
    for date in ("5-May", "9-Jan", "2026-01-05", "Loss 2026-03-06", "3-Jan"):
        assert facts.undated(date) == date
    assert facts.pair("2026-05-09") == ""
    found = understand(("Insertion loss", "2026-03-06 00:00:00"))
    assert (found.parameter, found.pair) == ("insertion loss", "3-6")
    assert "read back" in found.why


VERDICTS = {
    "pass": "PASS|passed|OK|✓|✔|☑|✅|Yes|bestanden|i.O.|erfüllt|ja|réussi|conforme|validé|oui|apto|aprobado|cumple|sí|superato|"
    "positivo|sì|geslaagd|goedgekeurd|voldoet|aprovado|passou|sim|Pass (0.4 dB)",
    "fail": "FAIL|failed|NOK|✗|✘|☒|❌|No|nicht bestanden|n.i.O.|fehlgeschlagen|nein|échec|non conforme|refusé|non|no apto|"
    "no aprobado|no cumple|fallo|non superato|respinto|afgekeurd|mislukt|voldoet niet|nee|reprovado|não aprovado|não|Fail: 1310 nm",
    "marginal pass": "PASS*|*PASS|Pass (*)|PASS *|marginal|grenzwertig|knapp bestanden|marginaal|bestanden*",
    "marginal fail": "FAIL*|*Fail|FAIL (*)|marginal fail|nicht bestanden*",
    "": "conforme: no|pass / fail|not passed yet|OL|TB-01|0.42||pass oder fail|bestanden: nein",
}


@pytest.mark.parametrize("verdict", VERDICTS)
def test_verdict_words_and_ticks_in_seven_languages(verdict):
    # common practice, no source
    from analyzer.importing import facts

    said = {text: facts.verdict(text) for text in VERDICTS[verdict].split("|")}
    assert said == dict.fromkeys(said, verdict)
