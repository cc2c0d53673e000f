"""Facts given on the command line are understood or refused, never guessed."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyzer.errors import OptionError
from analyzer.job import CommandLine
from analyzer.job.words import word
from analyzer.schema import CATEGORIES


def test_nothing_said_is_none_everywhere():
    assert set(vars(CommandLine()).values()) == {None}
    assert CommandLine.parse() == CommandLine()


def test_every_option_is_understood():
    said = CommandLine.parse(
        fiber="om4", construction="Inside Plant", length="120.5 m", mated_pairs="2", splices=0, ends="Panel, plug",
        reference="one cord", grade="Cat 6A", configuration="Permanent-Link", standard="iso", edition="11801-1:2017",
        segment="BACKBONE", area="North", columns="map.columns.toml", schedule="s.csv",
    )  # fmt: skip
    assert said == CommandLine(
        fiber="OM4", construction="inside plant", length_m=120.5, mated_pairs=2, splices=0, ends=("panel", "plug"),
        reference="one-cord", grade="6A", configuration="permanent link", standard="ISO", edition="11801-1:2017",
        segment="backbone", area="North", columns=Path("map.columns.toml"), schedule=Path("s.csv"),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("one-cord", "one-cord"), ("1", "one-cord"), ("One Cord", "one-cord"), ("1-cord", "one-cord"),
        ("two-cord", "two-cord"), ("2", "two-cord"), ("2 jumper", "two-cord"), ("two jumpers", "two-cord"),
        ("three-cord", "three-cord"), ("3", "three-cord"), ("three test cord method", "three-cord"),
        ("B", None), ("Method B", None), ("4", None), ("", None), ("cord", None), ("one-cord two-cord", None),
    ],
)  # fmt: skip
def test_reference_methods(text, meant):
    assert word("reference", text) == meant


@pytest.mark.parametrize(
    ("text", "meant"),
    [("6a", "6A"), ("Category 5e", "5e"), ("class EA", "EA"), ("D", "D"), ("cat", None), ("7", None)],
)
def test_grades(text, meant):
    assert word("grade", text) == meant


@pytest.mark.parametrize(
    "category",
    ["type", "construction", "grade", "configuration", "reference", "end_type", "segment", "standard", "parameter"],
)
def test_each_member_of_a_set_means_itself_in_any_case(category):
    for member in CATEGORIES[category]:
        assert word(category, member) == member
        assert word(category, f" {member.upper()} ") == member


@pytest.mark.parametrize(
    ("option", "text", "sentence"),
    [
        ("fiber", "OM9", '--fiber "OM9" is not known; accepted: OM1, OM2, OM3, OM4, OM5, OS1, OS1a, OS2'),
        ("ends", "panel", '--ends "panel" does not name two ends'),
        ("ends", "panel,wall", '--ends "panel,wall" does not name two ends'),
        ("ends", "panel,plug,plug", '--ends "panel,plug,plug" does not name two ends'),
        ("reference", "Method B", '--reference "Method B" is not known (a letter names different methods'),
        ("length", "-1", '--length "-1" is no length'),
        ("length", "1,5", '--length "1,5" is no length'),
        ("length", "nan", '--length "nan" is no length'),
        ("length", "inf", '--length "inf" is no length'),
        ("length", "1_0", '--length "1_0" is no length'),
        ("length", "", '--length "" is no length'),
        ("length", float("nan"), '--length "nan" is no length'),
        ("mated_pairs", "2.5", '--mated-pairs "2.5" is no count'),
        ("mated_pairs", -1, '--mated-pairs "-1" is no count'),
        ("splices", "²", '--splices "²" is no count'),
        ("splices", True, '--splices "True" is no count'),
        ("edition", " ", "--edition is empty"),
        ("standard", "IEC", '--standard "IEC" is not known; accepted: TIA, ISO'),
    ],
)
def test_what_is_not_understood_is_refused_with_what_is_accepted(option, text, sentence):
    with pytest.raises(OptionError) as caught:
        CommandLine.parse(**{option: text})
    assert str(caught.value).startswith(sentence)


def test_all_wrong_options_are_told_at_once():
    with pytest.raises(OptionError) as caught:
        CommandLine.parse(fiber="OM9", length="x", splices="y")
    assert [line.split()[0] for line in str(caught.value).splitlines()] == ["--fiber", "--length", "--splices"]
