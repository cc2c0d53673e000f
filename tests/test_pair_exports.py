"""Whole exports of twisted pair, all invented: from the file to what an installer reads."""

import csv
import io

import pytest

from analyzer import analyze
from analyzer.job import CommandLine
from analyzer.report.terminal import print_check

SUMMARY = """\
Invented results
Cable ID,Limit,Wire Map,Length (m),Propagation Delay (ns),Delay Skew (ns),Insertion Loss (dB),Insertion Loss Frequency (MHz),\
Worst NEXT (dB),NEXT Margin (dB),Worst PSNEXT (dB),PSNEXT Margin (dB),Worst ACR-F (dB),ACR-F Margin (dB),\
Worst PSACR-F (dB),PSACR-F Margin (dB),Worst Return Loss (dB),Return Loss Margin (dB),Result
INV-01,TIA Cat 6A Perm. Link,PASS,48.0,228,12,22.4,500,38.2,4.1,36.0,4.4,24.0,9.8,22.9,10.1,12.4,3.1,PASS
INV-02,TIA Cat 6A Perm. Link,PASS,71.5,339,18,33.0,500,25.1,-1.4,24.2,-0.2,22.1,7.0,20.4,6.6,11.0,2.2,FAIL
INV-03,TIA Cat 6A Perm. Link,FAIL,71.5,339,18,33.0,500,35.1,1.4,34.2,1.2,22.1,7.0,20.4,6.6,11.0,2.2,FAIL
INV-04,TIA Cat 6A Perm. Link,PASS,88.9,420,22,42.6,500,35.1,1.4,34.2,1.2,22.1,7.0,20.4,6.6,11.0,2.2,PASS
"""

OLD = """\
Link;Test limit;Wire map;Length m;Delay ns;Skew ns;Insertion loss dB;IL frequency MHz;NEXT dB;NEXT frequency MHz;NEXT end;Status
INV-21;TIA Cat 5e Channel;PASS;61,0;290;20;14,0;100;31,0;88;A;PASS
INV-22;TIA Cat 5e Channel;PASS;61,0;290;20;14,0;100;61,0;88;A;PASS
"""

PAIRS = ("1-2", "3-6", "4-5", "7-8")
COMBINATIONS = ("1-2/3-6", "1-2/4-5", "1-2/7-8", "3-6/4-5", "3-6/7-8", "4-5/7-8")


def rows_of(label, ends="AB", low=()):
    """One category 6 permanent link, a row for each reading; `low` names a combination and an end with too little NEXT."""
    said = [
        ("Wire Map", "", "", "PASS", "", ""),
        ("Length", "", "", 42.0, "m", ""),
        ("Delay Skew", "", "", 15, "ns", ""),
    ]
    said += [("Propagation Delay", pair, "", 199, "ns", "") for pair in PAIRS]
    said += [("Insertion Loss", pair, "", 13.1, "dB", 250) for pair in PAIRS]
    said += [("PSACR-F", pair, "", 31.0, "dB", 150) for pair in PAIRS]
    said += [("ACR-F", pair, "", 33.0, "dB", 150) for pair in COMBINATIONS]
    for end in ends:
        said += [("NEXT", pair, end, 30.2 if (pair, end) == low else 41.0, "dB", 200) for pair in COMBINATIONS]
        said += [("PSNEXT", pair, end, 39.0, "dB", 200) for pair in PAIRS]
        said += [("Return Loss", pair, end, 15.5, "dB", 120) for pair in PAIRS]
    return [[label, "6", "permanent link", *one, "PASS"] for one in said]


@pytest.fixture
def long_export(tmp_path):
    text = io.StringIO()
    writer = csv.writer(text)
    head = "Cable,Category,Configuration,Parameter,Pair,End,Value,Unit,Frequency (MHz),Result"
    writer.writerow(head.split(","))
    writer.writerows([*rows_of("INV-11"), *rows_of("INV-12", "A"), *rows_of("INV-13", low=("3-6/4-5", "B"))])
    path = tmp_path / "long.csv"
    path.write_text(text.getvalue(), encoding="utf-8")
    return path


def run_of(path, text, **given):
    path.write_text(text, encoding="utf-8")
    return analyze(path, given=CommandLine(**given))


def told(analysis, capsys):
    print_check(analysis)
    return " ".join(capsys.readouterr().out.split())


def test_a_summary_with_margins_to_the_named_limit(tmp_path, capsys):
    analysis = run_of(tmp_path / "summary.csv", SUMMARY)
    assert analysis.links["verdict"].tolist() == ["pass", "fail", "fail", "incomplete"]
    # the least margin is that of return loss: 3.1 dB
    assert analysis.links["margin_db"].iloc[0] == pytest.approx(3.1)
    out = told(analysis, capsys)
    assert "the sources of this limit contradict each other" in out
    assert 'settles it in job.toml: [candidates] "6A permanent link insertion loss" = "a"' in out
    assert "Limits of TIA-568.2-D, 6A, permanent link for 4 links" in out


def test_a_long_export_by_pair_and_end(long_export, capsys):
    analysis = analyze(long_export)
    assert analysis.links["verdict"].tolist() == ["pass", "incomplete", "fail"]
    assert analysis.links["missing"].iloc[1] == "NEXT at end B; PSNEXT at end B; return loss at end B"
    # category 6 permanent link NEXT at 200 MHz: 36.9 dB in the recalled table (memory)
    assert "NEXT 3-6/4-5 at end B, 200 MHz: 30.20 dB, needed 36.93 dB" in told(analysis, capsys)


def test_old_cabling_tested_to_another_limit(tmp_path, capsys):
    analysis = run_of(tmp_path / "old.csv", OLD, grade="6", configuration="channel")
    assert analysis.links["verdict"].tolist() == ["fail", "incomplete"]
    out = told(analysis, capsys)
    assert "loaded was another limit (TIA 568.2-D 5e channel), and this point fails the ordered one" in out
    assert "grade: the export says 5e, ordered is 6" in out


LONG = "Link,Grade,Configuration,Wire map,Parameter,Pair,End,Frequency (MHz),{numbers},Result\n"


def test_margins_beside_a_wire_map_are_read_where_no_value_is_exported(tmp_path):
    rows = "".join(
        f"M-1,6,permanent link,pass,NEXT,1-2/3-6,{end},100,{margin},PASS\n" for end, margin in (("A", 4.0), ("B", 2.5))
    )
    analysis = run_of(tmp_path / "margins.csv", LONG.format(numbers="Margin (dB)") + rows)
    judged = analysis.judged[(analysis.readings["parameter"] == "NEXT").to_numpy()]
    assert judged["basis"].tolist() == ["declared margin"] * 2
    assert analysis.links["margin_db"].tolist() == [2.5]


def test_rows_that_pass_do_not_speak_of_a_wire_map_that_fails(tmp_path):
    rows = "".join(f"M-1,6,permanent link,open pin 4,NEXT,1-2/3-6,{end},100,60.0,PASS\n" for end in "AB")
    analysis = run_of(tmp_path / "wired.csv", LONG.format(numbers="Value (dB)") + rows)
    assert analysis.links["verdict"].tolist() == ["fail"]
    assert "declared-differs" not in {found.code for found in analysis.findings}
