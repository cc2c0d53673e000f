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
    assert "loss at 850 nm A-B in dB - sure" in lines[at]
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


def test_the_same_words_at_80_columns_as_at_120(export, capsys, monkeypatch):
    shown = []
    for width in ("80", "120"):
        monkeypatch.setenv("COLUMNS", width)
        assert outcome(["columns", str(export)]) == 0
        lines = capsys.readouterr().out.splitlines()
        assert max(map(len, lines)) <= int(width)
        shown.append(" ".join(" ".join(lines).split()))
    assert shown[0] == shown[1]


def test_a_map_is_written_edited_used_and_found_again(export, tmp_path, capsys):
    target = tmp_path / "map.columns.toml"
    assert outcome(["columns", str(export), "--write", str(target)]) == 0
    assert "map.columns.toml written" in " ".join(capsys.readouterr().out.split())
    text = target.read_text(encoding="utf-8")
    assert 'heading = "Weather"    # rain, sun' in text
    target.write_text(text.replace('role = "ignored"', 'role = "area"', 1), encoding="utf-8")
    for arguments in (["columns", str(export), "--columns", str(target)], ["columns", str(export)]):
        assert outcome(arguments) == 0
        assert '  F  "Weather": area - sure: said by map.columns.toml' in capsys.readouterr().out


def test_a_map_is_never_overwritten(export, tmp_path, capsys):
    target = tmp_path / "map.columns.toml"
    target.write_text("mine", encoding="utf-8")
    assert outcome(["columns", str(export), "--write", str(target)]) == 2
    assert "exists" in capsys.readouterr().err
    assert target.read_text(encoding="utf-8") == "mine"


def test_a_file_of_unknown_words_gives_a_map_to_fill_in(tmp_path, capsys):
    file, target = tmp_path / "odd.csv", tmp_path / "odd.columns.toml"
    file.write_text("Spalte;Nummer1;Wert A\nx;L1;0,41\nx;L2;0,42\n", encoding="utf-8")
    assert outcome(["columns", str(file)]) == 2
    assert "--write" in capsys.readouterr().err
    assert outcome(["columns", str(file), "--write", str(target)]) == 0
    assert "Give each a role" in " ".join(capsys.readouterr().out.split())
    text = target.read_text(encoding="utf-8")
    text = text.replace('heading = "Nummer1"    # L1, L2\nrole = "ignored"', 'heading = "Nummer1"\nrole = "label"')
    text = text.replace(
        'heading = "Wert A"    # 0,41, 0,42\nrole = "ignored"', 'heading = "Wert A"\nrole = "value"\nwavelength = 850'
    )
    target.write_text(text, encoding="utf-8")
    assert outcome(["columns", str(file)]) == 0
    assert "loss at 850 nm - sure: said by odd.columns.toml" in capsys.readouterr().out


@pytest.mark.parametrize("how", ["option", "name", "job", "content"])
def test_a_schedule_is_explained_in_the_same_way(tmp_path, capsys, how):
    file = tmp_path / {"name": "schedule.csv"}.get(how, "cables.csv")
    file.write_text("Cable,Strands,Type,Foo\nT1,12,OS2,x\nT2,4,OM4,y\n", encoding="utf-8")
    if how == "job":
        (tmp_path / "job.toml").write_text('[schedule]\nfile = "cables.csv"\n', encoding="utf-8")
    assert outcome(["columns", str(file), *(["--schedule"] if how == "option" else [])]) == 0
    out = capsys.readouterr().out
    assert out.splitlines()[0].endswith(": 1 schedule found")
    assert '  B  "Strands": strands of the cable - sure' in out
    assert '  D  "Foo": IGNORED: no known word' in out
    assert "16 links scheduled in 2 cables" in out


def test_what_was_set_aside_and_noticed_is_listed(tmp_path, capsys):
    file = tmp_path / "x.csv"
    file.write_text("Results of cable TB-09\nStrand,850 nm (dB)\n1,0.41\n2,n/a\n", encoding="utf-8")
    outcome(["columns", str(file)])
    words = " ".join(capsys.readouterr().out.split())
    assert "Noticed while reading The cable of the strands is named by a title: TB-09" in words
    assert "1 cell, first in row 4 (n/a):" in words


def test_a_map_with_the_wrong_headings_is_told(export, tmp_path, capsys):
    target = tmp_path / "elsewhere.toml"
    target.write_text('format = "cableproof-columns/1"\n[[table]]\nheadings = ["Strand", "Loss"]\n', encoding="utf-8")
    assert outcome(["columns", str(export), "--columns", str(target)]) == 2
    assert "no table that was read has exactly the headings of this map" in capsys.readouterr().err


def test_a_strand_column_that_alone_names_the_link_says_so(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "140")
    file = tmp_path / "strands.csv"
    file.write_text(
        "Fiber,IL 850 (dB),NEXT 12-36 @ 100 MHz (dB),FEXT (dB),Status\nTB-1-01,0.61,44.1,30,PASS\n", encoding="utf-8"
    )
    assert outcome(["columns", str(file)]) == 0
    out = capsys.readouterr().out
    assert '"Fiber": strand of the cable, and the name of the link - sure' in out
    assert "NEXT 1-2/3-6 at 100 MHz in dB - sure" in out
    assert '"FEXT (dB)": FEXT in dB - sure' in out
    assert '"Status": verdict that the export declares - sure' in out
