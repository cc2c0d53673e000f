"""`cableproof limits` for twisted pair: which equations, the number at a frequency, what is in doubt, what is refused."""

import json

import pytest

from analyzer import standards
from analyzer.cli.limits import Wanted, limits, limits_json, limits_text, select

VALUES = standards.load()


def ids(**wanted):
    return [row["row_id"] for row in select(VALUES, Wanted(**wanted))]


def test_one_row_with_its_number_at_a_frequency(capsys):
    assert limits(grade="6A", configuration="permanent link", parameter="NEXT", frequency=100) == 0
    printed = capsys.readouterr().out.splitlines()
    # table of permanent link limits of 568.2-D, recalled: 41.8 dB at 100 MHz
    assert printed[0].startswith("TIA-568.2-D:2018, edition 568.2-D")
    assert "CL-TIA-D-6A-PL-NEXT-1 " in printed[1]
    assert "at least 41.84 dB at 100 MHz = -20*log10(" in printed[1]
    assert printed[3] == "1 rows, 1 unconfirmed"


def test_both_pieces_at_a_seam_and_both_candidates_are_listed():
    seam = {"grade": "6A", "configuration": "permanent link", "parameter": "NEXT", "frequency_mhz": 300}
    assert ids(**seam) == ["CL-TIA-D-6A-PL-NEXT-1", "CL-TIA-D-6A-PL-NEXT-300"]
    doubt = {"grade": "6A", "configuration": "permanent link", "parameter": "insertion loss"}
    assert ids(**doubt) == ["CL-TIA-D-6A-PL-IL-1-a", "CL-TIA-D-6A-PL-IL-1-b"]
    assert "Candidates contradict each other" in limits_text(VALUES, Wanted(**doubt))
    assert "Candidates" not in limits_text(VALUES, Wanted(**seam))


def test_a_grade_leaves_fiber_out_and_a_fiber_leaves_pairs_out():
    assert all(row_id.startswith("CL-") for row_id in ids(grade="EA"))
    assert not any(row_id.startswith("CL-") for row_id in ids(fiber="OM4"))
    assert {row_id.partition("-")[0] for row_id in ids()} >= {"CL", "FA", "FC", "RL"}


def test_an_edition_lists_what_is_in_force_under_it():
    assert ids(edition="568-C.2", grade="6A", configuration="channel", parameter="resistance unbalance") == [
        "CL-TIA-C2-6A-CH-RU"
    ]
    assert ids(edition="568-C.2", parameter="resistance unbalance pair to pair") == []
    assert "CL-TIA-D-6A-CH-NEXT-1" in ids(edition="568-C.2", grade="6A")
    assert all("ISO-2017" in row_id for row_id in ids(edition="11801-1:2017", grade="EA"))
    assert not any(row_id.startswith("CL-") for row_id in ids(edition="568.3-D"))


def test_category_8_is_marked_as_too_weak_for_a_verdict():
    text = limits_text(VALUES, Wanted(grade="8", parameter="return loss"))
    assert "* ~" in text
    assert "~ too weakly known for a verdict." in text
    assert "~" not in limits_text(VALUES, Wanted(grade="6A", parameter="return loss"))


def test_json_has_the_equation_and_the_number():
    wanted = Wanted(grade="6", configuration="channel", parameter="NEXT", frequency_mhz=100.0)
    (row,) = json.loads(limits_json(VALUES, wanted))["rows"]
    # table of a wiring device maker citing ANSI/TIA/EIA-568-B.2-1: 39.9 dB at 100 MHz, read
    assert row["value"] == pytest.approx(39.9, abs=0.05)
    assert (row["unit"], row["sense"], row["cap"], row["how_known"]) == ("dB", "min", 65.0, "memory")
    assert (row["unconfirmed"], row["candidate"], row["governs"]) == (True, None, True)
    whole = json.loads(limits_json(VALUES, Wanted(grade="6A", parameter="loop resistance")))["rows"]
    assert {row["value"] for row in whole} == {None}
    assert {row["expression"] for row in whole} == {"25", "21"}


def test_everything_prints_in_plain_ascii():
    assert limits_text(VALUES, Wanted(configuration="channel")).isascii()


def test_a_job_that_orders_a_grade_lists_it(tmp_path, capsys):
    job = tmp_path / "job.toml"
    job.write_text('[order]\ngrade = "6A"\nconfiguration = "permanent link"\n', encoding="utf-8")
    assert limits(job=job, parameter="NEXT") == 0
    printed = capsys.readouterr().out
    assert "CL-TIA-D-6A-PL-NEXT-1" in printed
    assert "CH-NEXT" not in printed
    assert "FA-" not in printed


def test_a_job_that_orders_a_class_is_one_of_iso(tmp_path, capsys):
    job = tmp_path / "job.toml"
    job.write_text('[order]\ngrade = "EA"\n', encoding="utf-8")
    assert limits(job=job, parameter="NEXT", configuration="channel") == 0
    printed = capsys.readouterr().out
    assert "CL-ISO-2017-EA-CH-NEXT-1" in printed
    assert "2002A2" not in printed


@pytest.mark.parametrize(
    ("options", "part"),
    [
        ({"grade": "9"}, "known are 5e, 6, 6A, 8, D, E, EA, F, FA"),
        ({"configuration": "basic link"}, "known are channel, permanent link"),
        ({"parameter": "attenuation"}, "insertion loss, NEXT"),
        ({"grade": "6A", "edition": "568.2-Z"}, "for twisted pair known are 568-C.2, 568.2-D"),
    ],
)
def test_what_is_not_known_ends_with_two_and_one_line(capsys, options, part):
    assert limits(**options) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert part in told.err
    assert len(told.err.splitlines()) == 1
