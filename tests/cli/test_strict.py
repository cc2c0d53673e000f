"""--strict: whatever was set aside makes exit code 1, and the reason says so. Invented results."""

import pytest

from analyzer.cli.main import outcome

CLEAN = "Link,Fiber type,Length (m),850 nm (dB),1300 nm (dB)\nL1,OM4,100,0.4,0.3\nL2,OM4,100,0.4,0.3\n"
EXPORTS = {
    "clean": (CLEAN, "", 0),
    "cell": (CLEAN.replace("L2,OM4,100,0.4,0.3", "L2,OM4,100,0.4,0.3\nL2,OM4,100,x,0.3"), "1 row or cell was set aside (--strict)", 1),
    "row": (CLEAN + ",OM4,100,0.4,0.3\n", "3 rows or cells were set aside (--strict)", 1),
}  # fmt: skip


@pytest.mark.parametrize("name", EXPORTS)
def test_what_was_set_aside_is_told_in_the_reason(tmp_path, capsys, name):
    text, says, code = EXPORTS[name]
    file = tmp_path / "a.csv"
    file.write_text(text, encoding="utf-8")
    arguments = ["check", str(file), "--reference", "one-cord"]
    plain = outcome(arguments)
    assert "(--strict)" not in capsys.readouterr().out
    assert outcome([*arguments, "--strict"]) == (1 if code else plain)
    words = " ".join(capsys.readouterr().out.split())
    assert says in words
    assert ("(--strict)" in words) == bool(says)


def test_rows_of_the_schedule_count_too(tmp_path, capsys):
    (tmp_path / "a.csv").write_text(CLEAN, encoding="utf-8")
    (tmp_path / "schedule.csv").write_text("Label,Type,Length (m)\nL1,OM4,100\nL2,OM4,abc\n", encoding="utf-8")
    outcome(["check", str(tmp_path), "--reference", "one-cord"])
    assert "(--strict)" not in capsys.readouterr().out
    assert outcome(["check", str(tmp_path), "--reference", "one-cord", "--strict"]) == 1
    assert "1 row or cell was set aside (--strict)" in " ".join(capsys.readouterr().out.split())
