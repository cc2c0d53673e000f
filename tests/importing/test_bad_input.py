"""What is hostile or broken ends in one sentence, with time and memory bounded; what is merely odd loses nothing."""

import io
import resource
import sys
import time

import pytest
from workbook_bytes import XLSX_TABLE, compound_file, ods, ods_row, xlsx, xlsx_text

from analyzer.errors import FileUnreadable
from analyzer.importing import Source, is_archive, members, read_source

ENTITIES = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">' + "".join(
    f'<!ENTITY {chr(98 + level)} "{10 * ("&" + chr(97 + level) + ";")}">' for level in range(12)
) + "]>"  # fmt: skip
CORNER = '<row r="1048576">' + xlsx_text("XFD1048576", "x") + "</row>"
TALL = '<row r="1048576">' + xlsx_text("ZZ1048576", "x") + "</row>"
ENCRYPTED = {"EncryptionInfo": b"\x04\x00\x04\x00\x40\x00\x00\x00<encryption/>", "EncryptedPackage": b"\x00" * 5000}

REFUSED = {
    "corner.xlsx": (lambda: xlsx(XLSX_TABLE + CORNER), "spans 1,048,576 rows of 16,384 columns"),
    "tall.xlsx": (lambda: xlsx(XLSX_TABLE + TALL), "spans 1,048,576 rows of 702 columns"),
    "entities.xlsx": (lambda: xlsx(f'{XLSX_TABLE}<row r="3">{xlsx_text("A3", "&m;")}</row>', before=ENTITIES), "broken"),
    "swollen.xlsx": (lambda: xlsx(XLSX_TABLE + " " * (80 << 20)), "absurd size"),
    "locked.xlsx": (lambda: compound_file(ENCRYPTED), "locked by a password"),
    "letter.doc": (lambda: compound_file({"WordDocument": b"abc"}), "cannot be opened"),
    "rubbish.xls": (lambda: compound_file({"Workbook": b"\xff" * 900}), "cannot be opened"),
    "repeated.ods": (
        lambda: ods(ods_row("Link", "Loss 850 nm (dB)") + ods_row(*["x"] * 300, repeated=1_048_570)), "broken|too many",
    ),
    "wide.csv": (lambda: b"Link,Loss 850 nm (dB)\nL1,0.4" + b"," * 5_000_000, "too many"),
    "control.csv": (lambda: b"Link,Loss 850 nm (dB)\nL\x002,0.\x015\n", "not text"),
    "gzip.csv": (lambda: b"\x1f\x8b\x08\x00" + b"\x01\x02" * 500, "not text"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_refused_in_one_sentence(name):
    make, says = REFUSED[name]
    source = Source(name, make())
    begun = time.perf_counter()
    with pytest.raises(FileUnreadable, match=says) as caught:
        read_source(source)
    assert time.perf_counter() - begun < 20
    assert str(caught.value).startswith(f"{name}: ")
    assert "\n" not in str(caught.value)


ROWS = "".join(f'<row r="{row}"/>' for row in range(3, 1_000_001))
READ = {
    "empty_rows.xlsx": (lambda: xlsx(XLSX_TABLE + ROWS), 1, 1),
    "last_row.xlsx": (lambda: xlsx(f'{XLSX_TABLE}<row r="1048576">{xlsx_text("A1048576", "L9")}</row>'), 2, 1),
    "blank_lines.csv": (lambda: b"Link,Loss 850 nm (dB)\nL1,0.4\n" + b"\n" * 1_000_000 + b"L2,0.5\n", 2, 2),
    "bare_commas.csv": (lambda: b"Link,Loss 850 nm (dB)\nL1,0.4\n" + b",\n" * 1_000_000 + b"L2,0.5\n", 2, 2),
    "gap.ods": (
        lambda: ods(ods_row("Link", "Loss 850 nm (dB)") + ods_row("L1", 0.4)
        + '<table:table-row table:number-rows-repeated="900000"><table:table-cell table:number-columns-repeated="16384"/></table:table-row>'
        + ods_row("L2", 0.5)), 2, 2,
    ),
}  # fmt: skip


LARGE = {"last_row.xlsx", "blank_lines.csv"}


@pytest.mark.parametrize("name", [pytest.param(name, marks=pytest.mark.slow if name in LARGE else []) for name in READ])
def test_a_million_empty_rows_cost_little_and_lose_nothing(name):
    make, rows, readings = READ[name]
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    imported = read_source(Source(name, make()))
    assert imported.file["rows_read"] == imported.file["rows_used"] == rows
    assert len(imported.readings) == readings
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    assert sys.platform != "linux" or grown < 2_000_000  # kilobytes


@pytest.mark.parametrize("quoted", [False, True])
def test_a_cell_of_five_megabytes_is_set_aside_and_the_rows_around_it_are_read(quoted):
    cell = '"' + "x\n" * 2_500_000 + '"' if quoted else "x" * 5_000_000
    imported = read_source(Source("big.csv", f"Link,Loss 850 nm (dB)\nL1,0.4\nL2,{cell}\nL3,0.5\n".encode()))
    assert imported.records["label"].tolist() == ["L1", "L2", "L3"]
    assert imported.readings["value"].tolist() == [0.4, 0.5]
    assert imported.set_aside["code"].tolist() == ["not-a-number"]
    assert imported.set_aside["text"].str.len().max() <= 200


def test_text_that_looks_like_a_formula_stays_text():
    imported = read_source(Source("f.csv", b"Link,Loss 850 nm (dB)\n=HYPERLINK(1),0.4\n+L2,=1+1\n"))
    assert imported.records["label"].tolist() == ["=HYPERLINK(1)", "+L2"]
    assert imported.set_aside["text"].tolist() == ["=1+1"]


def test_ragged_rows_lose_nothing():
    imported = read_source(
        Source("r.csv", b"Link,Loss 850 nm (dB),Loss 1300 nm (dB)\nL1\nL2,0.4\nL3,0.4,0.3\nL4,0.4,0.3,7\n")
    )
    assert imported.records["label"].tolist() == ["L1", "L2", "L3", "L4"]
    assert len(imported.readings) == 5
    assert imported.set_aside["code"].tolist() == ["beyond-headings"]


def test_a_zip_that_lies_about_its_sizes_is_broken():
    import zipfile

    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.csv", b"0" * 100_000)
    data = buffer.getvalue().replace((100_000).to_bytes(4, "little"), (1_000).to_bytes(4, "little"))
    assert is_archive(Source("a.zip", data))
    with pytest.raises(FileUnreadable, match="the ZIP is broken"):
        members(Source("a.zip", data))


def test_a_zip_with_a_password_and_one_of_an_unknown_kind_say_so():
    import zipfile

    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr("a.csv", b"Link,Loss\n")
    data = bytearray(buffer.getvalue())
    central = data.find(b"PK\x01\x02")
    for place in (6, central + 8):
        data[place] |= 1
    with pytest.raises(FileUnreadable, match="locked by a password"):
        members(Source("a.zip", bytes(data)))
    data = bytearray(buffer.getvalue())
    data[central + 6 : central + 8] = (184).to_bytes(2, "little")  # version needed to unpack: found by random search
    with pytest.raises(FileUnreadable, match="the ZIP is broken"):
        members(Source("a.zip", bytes(data)))


@pytest.mark.parametrize("blank", [" ", "\u2003", "\u200a \t"])
def test_a_cell_of_blanks_alone_is_no_number(blank):
    from analyzer.importing.cells import parse_number

    assert parse_number(blank).problem == "not-a-number"  # found by random search: it ended in an IndexError
