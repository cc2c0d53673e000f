"""Which files are evidence, ZIPs among them, and which column maps lie near. Everything here is invented."""

import io
import zipfile

import pytest

from analyzer.errors import FileUnreadable
from analyzer.importing.gather import TABLE_SUFFIXES, gather
from analyzer.importing.map_text import MapError
from analyzer.pipeline import analyze

EXPORT = "Link,Foo,Length (m)\nL1,0.4,120\nL2,0.5,121\n"
MAP = """format = "cableproof-columns/1"
[[table]]
headings = ["Link", "Foo", "Length (m)"]
[[table.column]]
heading = "Foo"
role = "value"
parameter = "loss"
wavelength = 850
unit = "dB"
"""


def put(folder, **files):
    for name, text in files.items():
        path = folder / name.replace("__", "/").replace("_dot_", ".")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())


def packed(**files):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in files.items():
            archive.writestr(name.replace("_dot_", "."), text)
    return buffer.getvalue()


@pytest.mark.parametrize("where", ["shape_dot_columns_dot_toml", "evidence__shape_dot_columns_dot_toml"])
@pytest.mark.parametrize("given", ["folder", "file"])
def test_a_map_in_the_job_folder_or_its_evidence_is_found_by_the_headings(tmp_path, where, given):
    put(tmp_path, evidence__a_dot_csv=EXPORT, **{where: MAP})
    analysis = analyze([tmp_path if given == "folder" else tmp_path / "evidence" / "a.csv"])
    assert analysis.readings["value"].tolist() == [0.4, 0.5]
    assert set(analysis.columns["why"]) >= {"said by shape.columns.toml"}
    assert len(analysis.files) == 1


def test_a_map_of_other_headings_lies_there_without_harm_unless_it_was_named(tmp_path):
    from analyzer.job import CommandLine

    put(tmp_path, a_dot_csv="Link,Loss 850 nm (dB)\nL1,0.4\n", shape_dot_columns_dot_toml=MAP)
    assert len(analyze([tmp_path]).readings) == 1
    with pytest.raises(MapError, match="no table that was read has exactly the headings"):
        analyze([tmp_path], given=CommandLine.parse(columns=tmp_path / "shape.columns.toml"))


def test_a_wrong_map_that_lies_there_is_refused(tmp_path):
    put(tmp_path, a_dot_csv=EXPORT, shape_dot_columns_dot_toml=MAP.replace("loss", "los"))
    with pytest.raises(MapError, match="'los' is not known; nearest is 'loss'"):
        analyze([tmp_path])


def test_every_suffix_that_the_reader_reads_is_gathered(tmp_path):
    for number, suffix in enumerate(TABLE_SUFFIXES):
        (tmp_path / f"{number}{suffix}").write_bytes(b"x")
    (tmp_path / "photo.jpg").write_bytes(b"x")
    found = gather([tmp_path], None).evidence
    assert [file.is_table for file in found] == [True] * len(TABLE_SUFFIXES) + [False]
    tables = {".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls", ".ods", ".parquet"}
    assert tables | {".s4p", ".s8p", ".s12p", ".s16p"} == set(TABLE_SUFFIXES)


def test_a_zip_inside_a_zip_is_told_and_not_opened(tmp_path):
    inner = packed(b_dot_csv="Link,Loss 850 nm (dB)\nL2,0.4\n")
    put(tmp_path, all_dot_zip=packed(a_dot_csv="Link,Loss 850 nm (dB)\nL1,0.4\n", inner_dot_zip=inner))
    analysis = analyze([tmp_path])
    assert analysis.records["label"].tolist() == ["L1"]
    assert analysis.files["name"].tolist() == ["all.zip!a.csv", "all.zip!inner.zip"]
    assert analysis.files["reason"].tolist()[1] == "a ZIP inside a ZIP is not opened: unpack it"


def test_a_zip_bomb_is_refused_before_anything_is_unpacked(tmp_path):
    put(tmp_path, bomb_dot_zip=packed(a_dot_csv=b"0" * (64 << 20)))
    with pytest.raises(FileUnreadable, match=r"bomb\.zip: the ZIP swells to an absurd size"):
        gather([tmp_path / "bomb.zip"], None)


def test_a_zip_on_standard_input(monkeypatch):
    import sys
    from types import SimpleNamespace

    data = packed(a_dot_csv="Link,Loss 850 nm (dB)\nL1,0.4\n", b_dot_csv="Link,Loss 850 nm (dB)\nL2,0.5\n")
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(data)))
    found = gather(["-"], None).evidence
    assert [file.name for file in found] == ["standard input!a.csv", "standard input!b.csv"]
    assert found[1].read() == b"Link,Loss 850 nm (dB)\nL2,0.5\n"


def test_a_binary_workbook_in_a_folder_is_refused_aloud(tmp_path):
    """Passed over as no table it would be a crew's results lost without a word."""
    (tmp_path / "good.csv").write_text("Link,Type,Length (m),Loss 850 nm (dB)\nTB-1,OM4,50,0.4\n", encoding="utf-8")
    with zipfile.ZipFile(tmp_path / "crew.xlsb", "w") as book:
        book.writestr("xl/workbook.bin", "x")
    found = analyze([tmp_path])
    files = found.files.set_index("name")
    assert files.loc["crew.xlsb", "status"] == "unreadable"
    assert "save it as XLSX" in files.loc["crew.xlsb", "reason"]
    assert found.exit_code == 1
