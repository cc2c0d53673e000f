"""Strands with bare numbers: strand 1 of one file is not strand 1 of another."""

import pytest

from analyzer import analyze
from analyzer.importing import Source, read_source
from analyzer.importing.cable_names import cable_in_file_name

TEXT = "Strand,Type,Length (m),Loss 1310 nm (dB),Loss 1550 nm (dB)\n1,OS2,120,{0},0.31\n2,OS2,120,0.33,0.30\n"


@pytest.mark.parametrize(("file", "cable"), [
    ("MX-01.csv", "MX-01"), ("a.zip!yard/plant_house_TB-205.txt", "TB-205"), ("north.csv", "north"), ("results.csv", ""),
    ("results (1).csv", ""), ("2026-09-28_retest.csv", ""), ("TB-101 OM4 results.csv", "TB-101"), ("Loss 1310.csv", ""),
    ("20260105.csv", ""), ("-", ""),
])  # fmt: skip
def test_the_cable_in_the_name_of_a_file(file, cable):
    assert cable_in_file_name(file) == cable


def test_strands_of_two_files_are_never_one_link(tmp_path):
    for name, loss in (("MX-01.csv", "0.40"), ("MX-02.csv", "0.44")):
        (tmp_path / name).write_text(TEXT.format(loss))
    found = analyze([tmp_path / "MX-01.csv", tmp_path / "MX-02.csv"])
    assert [*found.links["label"]] == ["MX-01-01", "MX-01-02", "MX-02-01", "MX-02-02"]
    assert [*found.records["cable"]] == ["MX-01", "MX-01", "MX-02", "MX-02"]
    told = [finding for finding in found.findings if finding.code == "cable-from-file-name"]
    assert told


def test_a_file_that_names_no_cable_says_so():
    imported = read_source(Source("results.csv", TEXT.format("0.40").encode()))
    assert [*imported.records["label"]] == ["1", "2"]
    assert "cable-not-named" in set(imported.seeds["code"])


def test_a_title_counts_before_the_name_of_the_file():
    imported = read_source(Source("MX-01.csv", ("Cable TB-07\n" + TEXT.format("0.40")).encode()))
    assert [*imported.records["label"]] == ["TB-07-01", "TB-07-02"]
