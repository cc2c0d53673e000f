import json
from pathlib import Path

import pytest
from cli_fixture import Pipeline

from analyzer.cli.main import outcome
from analyzer.errors import FileMissing, FileUnreadable, JobError
from analyzer.job import CommandLine

with_pipeline = pytest.mark.usefixtures("pipeline")


def test_the_table_and_its_exit_code(pipeline, capsys):
    assert outcome(["check", "a.csv", "b.csv"]) == 1
    shown = capsys.readouterr()
    assert shown.out.startswith("cableproof 0.1.0: check of 30 links")
    assert "FAIL TB-02-3" in shown.out
    assert shown.err == ""
    assert pipeline.paths == [Path("a.csv"), Path("b.csv")]
    assert pipeline.given == CommandLine()


@pytest.mark.parametrize("code", [0, 1])
def test_the_exit_code_is_that_of_the_analysis(pipeline: Pipeline, code):
    pipeline.analysis.exit_code = code
    assert outcome(["check", "a.csv"]) == code
    assert outcome(["check", "a.csv", "--json"]) == code


@with_pipeline
def test_json_and_nothing_else_on_standard_output(capsys):
    outcome(["check", "a.csv", "--json"])
    assert json.loads(capsys.readouterr().out)["format"] == "cableproof-check/1"


@with_pipeline
def test_all_prints_each_link(capsys):
    outcome(["check", "a.csv", "--all"])
    assert "PASS TB-01-07" in capsys.readouterr().out


def test_options_become_facts(pipeline):
    outcome([
        "check", "a.csv", "--job", "j.toml", "--schedule", "s.xlsx", "--fiber", "om4", "--length", "120",
        "--mated-pairs", "2", "--splices", "0", "--ends", "panel,plug", "--reference", "one-cord", "--grade", "6a",
        "--configuration", "channel", "--standard", "tia", "--edition", "568.3-E",
        "--area", "West", "--segment", "backbone",
    ])  # fmt: skip
    assert pipeline.job == Path("j.toml")
    assert pipeline.given == CommandLine(
        fiber="OM4", length_m=120.0, mated_pairs=2, splices=0, ends=("panel", "plug"), reference="one-cord",
        grade="6A", configuration="channel", standard="TIA", edition="568.3-E",
        schedule=Path("s.xlsx"), area="West", segment="backbone",
    )  # fmt: skip


def test_both_spellings_of_fiber(pipeline):
    outcome(["check", "a.csv", "--fibre", "OS2", "--construction", "outside plant"])
    assert (pipeline.given.fiber, pipeline.given.construction) == ("OS2", "outside plant")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["check"], "say what to read"),
        (["check", "a.csv", "--fiber", "OM9"], "--fiber"),
        (["check", "a.csv", "--fibr", "OM4"], "Did you mean --fib"),
        (["check", "a.csv", "--mated-pairs", "two"], "--mated-pairs"),
        (["check", "a.csv", "--length"], "--length"),
        (["chek", "a.csv"], "did you mean 'check'"),
    ],
)
def test_a_mistyped_command_line_is_one_sentence_and_exit_code_2(pipeline, capsys, arguments, words):
    assert outcome(arguments) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert words in shown.err
    assert len(shown.err.splitlines()) == 1
    assert pipeline.paths is None


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (FileMissing("x.csv: no such file; check the path"), "cableproof: x.csv: no such file; check the path\n"),
        (
            FileUnreadable("x.csv", "is no table", "export it again"),
            "cableproof: x.csv: is no table; export it again\n",
        ),
        (JobError("job.toml", ["a", "b"]), "cableproof: job.toml: 2 mistakes\n  a\n  b\n"),
    ],
)
def test_what_cannot_be_used_is_told_without_a_traceback(pipeline, capsys, error, said):
    pipeline.raises = error
    assert outcome(["check", "x.csv"]) == 2
    assert capsys.readouterr() == ("", said)


def test_a_fault_of_ours_is_told_as_such(pipeline, capsys, monkeypatch):
    monkeypatch.delenv("CABLEPROOF_TRACEBACK", raising=False)
    pipeline.raises = ZeroDivisionError("no")
    assert outcome(["check", "x.csv"]) == 2
    said = capsys.readouterr().err
    assert said.startswith("cableproof: this is a fault of cableproof: ZeroDivisionError: no;")
    assert len(said.splitlines()) == 1
    monkeypatch.setenv("CABLEPROOF_TRACEBACK", "1")
    with pytest.raises(ZeroDivisionError):
        outcome(["check", "x.csv"])


def test_ctrl_c_is_quiet(pipeline, capsys):
    pipeline.raises = KeyboardInterrupt()
    assert outcome(["check", "x.csv"]) == 2
    assert capsys.readouterr() == ("", "cableproof: stopped\n")


def test_a_name_cannot_steer_the_terminal_through_an_error(pipeline, capsys):
    pipeline.raises = FileMissing("\x1b[2Jx.csv: no such file")
    outcome(["check", "x.csv"])
    assert "\x1b" not in capsys.readouterr().err


def test_strict_turns_anything_set_aside_into_exit_code_1(pipeline, capsys):
    pipeline.analysis.exit_code = 0
    pipeline.analysis.exit_reason = ""
    assert outcome(["check", "x.csv"]) == 0
    assert outcome(["check", "x.csv", "--strict"]) == 1
    assert "Exit code 1: 3 rows or cells were set aside (--strict)." in capsys.readouterr().out


@with_pipeline
def test_strict_keeps_the_other_causes(capsys):
    assert outcome(["check", "x.csv", "--strict"]) == 1
    assert "Exit code 1: 2 links fail, 10 are incomplete; 3 rows or cells were set aside" in capsys.readouterr().out


def test_strict_with_nothing_set_aside_changes_nothing(pipeline):
    pipeline.analysis.exit_code = 0
    pipeline.analysis.set_aside = pipeline.analysis.set_aside.iloc[:0]
    assert outcome(["check", "x.csv", "--strict"]) == 0
