"""`cableproof limits`: which rows, how they are printed, what is refused."""

import json
from dataclasses import dataclass

import pytest

from analyzer import standards
from analyzer.cli.limits import Wanted, limits, limits_json, limits_text, select

VALUES = standards.load()


@dataclass
class Confirmation:
    by: str
    document: str
    date: str


def ids(**wanted):
    return {row["row_id"] for row in select(VALUES, Wanted(**wanted))}


def test_filters_narrow():
    assert ids(fiber="OM4", edition="D", component="cable") == {"FA-TIA-D-OM4-850", "FA-TIA-D-OM4-1300"}
    assert ids(component="splice", standard="ISO", parameter="loss") == {
        "FC-ISO-2017-SPLICE-MM",
        "FC-ISO-2017-SPLICE-SM",
    }
    assert ids(parameter="optical return loss", edition="568-C.3", fiber="OS2") == {
        "RL-TIA-C-PAIR-SM", "RL-TIA-C-PAIR-VIDEO-SM", "RL-TIA-C-SPLICE-SM",
    }  # fmt: skip
    assert ids(row_ids={"FA-TIA-D-OM4-850"}) == {"FA-TIA-D-OM4-850"}
    assert {row_id.partition("-")[0] for row_id in ids(evidence=True)} == {"FE", "FCE", "FS", "FT", "DR"}
    assert ids(evidence=True, parameter="decision rule") == {row["row_id"] for row in VALUES.rows("decision_rules")}
    assert {row_id for row_id in ids(evidence=True, fiber="OS2") if row_id.startswith("FT-")} == {
        "FT-SINO-OS2-1310", "FT-SINO-OS2-1383", "FT-SINO-OS2-1550", "FT-SINO-OS2-1625",
    }  # fmt: skip


def test_what_the_expected_loss_rests_on_is_printed_with_its_doubt(capsys):
    assert limits(evidence=True, fiber="OM4", component="mated pair") == 0
    told = capsys.readouterr().out
    assert "mean 0.3 dB, 97 % 0.6 dB" in told
    assert "doubtful" in told
    assert limits(evidence=True, parameter="decision rule", json=True) == 0
    rows = json.loads(capsys.readouterr().out)["rows"]
    figures = {row["row_id"]: row["figures"] for row in rows}
    assert figures["DR-GUARDED-ACCEPT"] == {"accept_guard": 1.0, "reject_guard": 0.0}


def test_confirmed_rows_leave_the_unconfirmed_list():
    everything = ids(edition="568.3-D", unconfirmed=True)
    confirmed = {"FA-TIA-D-OM4-850": Confirmation("A. Reader", "TIA-568.3-D, page 12", "2026-11-02")}
    assert everything - ids(edition="568.3-D", unconfirmed=True, confirmed=confirmed) == {"FA-TIA-D-OM4-850"}
    text = limits_text(VALUES, Wanted(fiber="OM4", edition="568.3-D", component="cable", confirmed=confirmed))
    assert "confirmed by A. Reader against TIA-568.3-D, page 12 on 2026-11-02" in text
    assert "2 rows, 1 unconfirmed" in text


def test_text_is_plain_aligned_and_says_where_each_value_stands():
    text = limits_text(VALUES, Wanted(fiber="OM4", edition="568.3-D", component="cable"))
    assert text.isascii()
    lines = text.splitlines()
    assert lines[0] == "TIA-568.3-D:2016, edition 568.3-D: cable transmission performance table"
    assert "FA-TIA-D-OM4-850" in lines[1]
    assert lines[1].index("at most") == lines[2].index("at most")
    assert "3.0 dB/km *" in lines[1]
    assert sum(line.startswith("* unconfirmed") for line in lines) == 1


def test_json_carries_the_same_rows():
    told = json.loads(limits_json(VALUES, Wanted(fiber="OM4", edition="568.3-D", component="cable")))
    assert told["format"] == "cableproof-limits/1"
    assert [row["value"] for row in told["rows"]] == [3.0, 1.5]
    assert all(row["unit"] == "dB/km" and row["unconfirmed"] is True for row in told["rows"])


def test_override_is_shown_as_own():
    values = standards.load(overrides={"FA-TIA-D-OM4-850": 2.5})
    text = limits_text(values, Wanted(fiber="OM4", edition="568.3-D", component="cable"))
    assert "2.5 dB/km " in text
    assert "own figure, published 3.0" in text


def test_everything_prints_in_plain_ascii():
    assert limits_text(VALUES, Wanted()).isascii()
    assert limits_text(VALUES, Wanted(evidence=True)).isascii()


@pytest.mark.parametrize(
    ("options", "part"),
    [
        ({"fiber": "OM9"}, "known are OM1"),
        ({"standard": "EN"}, "known are TIA, ISO"),
        ({"edition": "568.3-Z"}, "known are 568-C.3"),
        ({"parameter": "color"}, "known are loss, optical return loss"),
        ({"component": "screw"}, "known are cable, mated pair"),
    ],
)
def test_what_is_not_known_ends_with_two_and_one_line(capsys, options, part):
    assert limits(**options) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert part in told.err
    assert len(told.err.splitlines()) == 1


def test_command_prints_and_returns_zero(capsys):
    assert limits(fiber="OS2", edition="11801-1:2017", json=True) == 0
    assert json.loads(capsys.readouterr().out)["rows"][0]["row_id"] == "FA-ISO-2017-OS2-1310"


def test_unconfirmed_rows_of_a_job_are_those_its_verdicts_rest_on(tmp_path, capsys):
    (tmp_path / "job.toml").write_text('[order]\nstandard = "TIA"\nedition = "568.3-E"\n', encoding="utf-8")
    only_short = "Link,Fiber type,Length (m),Mated pairs,Splices,Loss 850 nm (dB)\nA-1,OM4,100,2,0,0.9\n"
    (tmp_path / "one.csv").write_text(only_short, encoding="utf-8")
    assert limits(unconfirmed=True, job=tmp_path / "job.toml") == 0
    said = capsys.readouterr().out
    assert [line.split()[0] for line in said.splitlines() if line.startswith("  F")] == [
        "FA-TIA-E-OM4-850",
        "FC-TIA-E-PAIR-MM",
        "FC-TIA-E-SPLICE-MM",
    ]
