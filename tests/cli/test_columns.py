"""How the headings of a file were understood, shown for small files written here."""

import pytest

from analyzer.cli.main import outcome

EXPORT = """\
Link,Fiber type,Length (m),Loss 850 nm A to B (dB),Loss 1300 nm A to B (dB),Weather
T-1,OM4,120.5,0.61,0.42,rain
T-2,OM4,120.7,0.64,n/a,sun
T-3,OM4,121.0,0.58,0.40,sun
"""


@pytest.fixture
def export(tmp_path):
    file = tmp_path / "export.csv"
    file.write_text(EXPORT, encoding="utf-8")
    return file


def test_each_column_is_shown_with_its_letter_heading_meaning_and_samples(export, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "140")
    assert outcome(["columns", str(export)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "export.csv: 1 table found"
    at = next(number for number, line in enumerate(lines) if line.startswith('  D  "Loss 850 nm A to B (dB)"'))
    assert "loss at 850 nm A-B, value in dB - sure" in lines[at]
    assert lines[at + 1].strip() == 'For example "0.61", "0.64", "0.58"'
    assert any(line.startswith('  C  "Length (m)": length in m - sure') for line in lines)


def test_a_column_that_means_nothing_here_is_shown_as_ignored(export, capsys):
    outcome(["columns", str(export)])
    assert '  F  "Weather": IGNORED' in capsys.readouterr().out


def test_rows_and_cells_are_accounted_for(export, capsys):
    outcome(["columns", str(export)])
    lines = capsys.readouterr().out.splitlines()
    assert lines[-2] == "Rows: 3 read = 3 used + 0 set aside"
    assert lines[-1].startswith("Cells: ")


@pytest.mark.parametrize("make", ["missing", "folder", "empty", "prose"])
def test_what_is_no_table_is_told_in_one_sentence(tmp_path, capsys, make):
    file = tmp_path / "x.csv"
    if make == "folder":
        file.mkdir()
    elif make != "missing":
        file.write_text({"empty": "", "prose": "Dear all,\nnothing to see here.\n"}[make], encoding="utf-8")
    assert outcome(["columns", str(file)]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "x.csv" in shown.err
    assert len(shown.err.splitlines()) == 1
