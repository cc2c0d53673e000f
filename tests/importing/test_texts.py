"""Long columns held by Arrow: every test over many texts at once says what the careful one says of each."""

import functools
import re

import numpy as np
import pandas as pd
import pytest

from analyzer.importing import Source, read_source
from analyzer.importing.distinct import codes_at, constant, is_constant, iso_times, spread, text_array
from analyzer.importing.texts import Texts, contains

ODD = ["TB-001", "", "tb-002", "Ä 7", "12", "1,234", "850 nm", "n/a", "x" * 300, "line\tbreak", "٣", "TB-001 "]
MANY = ODD + [f"L-{number:05d}" for number in range(3000)]


@pytest.mark.parametrize("pattern", [r"^\d+$", r"[.,]", r"^[^0-9]*$", r"nm$", r"^[A-Za-z]+-[0-9]{3}$", r"^$"])
def test_a_pattern_matches_the_same_texts_as_one_by_one(pattern):
    found = Texts.of(MANY).matching(pattern)
    assert found.tolist() == [bool(re.search(pattern, text, re.ASCII)) for text in MANY]


def test_a_slice_of_arrow_keeps_its_own_texts():
    cut = Texts(Texts.of(MANY).array.slice(5, 400))
    assert list(cut) == MANY[5:405]
    assert cut.matching(r"^L-\d+$").tolist() == [text.startswith("L-") for text in MANY[5:405]]


def test_texts_are_a_sequence():
    held = Texts.of(MANY)
    assert [held[at] for at in range(600)] == MANY[:600]
    assert (held[-1], held[2:4], len(held)) == (MANY[-1], MANY[2:4], len(MANY))


def test_small_letters_only_where_all_are_ascii():
    assert Texts.of(MANY).lowered() is None
    plain = [text for text in MANY if text.isascii()]
    assert list(Texts.of(plain).lowered()) == [text.lower() for text in plain]


def test_empty_texts_become_missing():
    column = text_array(["", "a", "b"], np.array([1, 0, 2, 0], dtype=np.int32))
    assert column.dtype == pd.Series(["a"], dtype="str").dtype
    assert pd.Series(column).fillna("-").tolist() == ["a", "-", "b", "-"]


def test_rows_without_a_gap_are_a_view_and_others_are_picked():
    codes = np.arange(10) * 10
    assert np.shares_memory(codes_at(codes, np.arange(2, 6)), codes)
    for rows in (np.arange(2, 6), np.array([1, 3, 8]), np.array([], dtype=int), np.array([4])):
        assert codes_at(codes, rows).tolist() == codes[rows].tolist()


def test_a_constant_takes_no_room_and_a_column_of_several_values_is_none():
    assert is_constant(spread(["m", "m"], np.array([0, 1, 1, 0]), object))
    assert not is_constant(spread(["m", "ft"], np.array([0, 0]), object))
    assert constant(-1, 3, np.int8).tolist() == [-1, -1, -1]


@pytest.mark.parametrize("odd", ["2026-02-30", "2026-13-01 08:00", "1850-01-01", "2026-01-05T08:00:05", "soon"])
def test_times_of_a_long_column_are_those_of_the_careful_parser(odd):
    texts = [f"2026-{1 + n % 12:02d}-{1 + n % 28:02d} {n % 24:02d}:{n % 60:02d}" for n in range(2500)] + [odd]
    stamps, known = iso_times(texts)
    fits = odd == "2026-01-05T08:00:05"
    assert known.tolist() == [True] * 2500 + [fits]
    assert stamps[:2500].tolist() == pd.to_datetime(texts[:2500]).to_pydatetime().tolist()


def test_a_pattern_is_found_in_bytes_wherever_it_stands():
    assert contains(b"a" * 5000 + b'r="AAA1"', r'r="[A-Z]{3}[0-9]')
    assert not contains(b'r="AA1"' * 5000, r'r="[A-Z]{3}[0-9]')


def _long_csv(rows=9000, end="\n"):
    lines = ["Link,Wavelength (nm),Direction,Loss (dB),Limit (dB),Result,Length (m),Tested at,Operator"]
    for n in range(rows):
        link, loss = (
            n // 4,
            ("OL" if n == 77 else "n/a" if n == 900 else "<0.05" if n == 1200 else f"0.{n % 89:02d} dB"),
        )
        label = "" if n == 40 else f" TB-{link:05d}" if n % 50 == 0 else f"TB-{link:05d}"
        length = f"{20 + link / 10:.1f}"
        lines.append(
            f"{label},{(1310, 1550)[n // 2 % 2]},{('A-B', 'B-A')[n % 2]},{loss},1.9,PASS,{length},2026-01-{1 + link % 28:02d},{'crew K' if n % 7 else ''}"
        )
    return end.join(lines)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_long_file_gives_the_same_tables_as_with_quotation_marks(end):
    """Quotation marks lead through the csv module and through texts of Python's."""
    plain = _long_csv(end=end)
    assert len(plain) > 200_000
    quoted = plain.replace("Link,", '"Link",', 1)
    fast, slow = (read_source(Source("long.csv", text.encode())) for text in (plain, quoted))
    for table in ("columns", "records", "readings", "set_aside", "seeds"):
        pd.testing.assert_frame_equal(getattr(fast, table), getattr(slow, table))
    assert {name: fast.file[name] for name in ("rows_read", "cells_read", "furniture_rows")} == {
        name: slow.file[name] for name in ("rows_read", "cells_read", "furniture_rows")
    }
    assert len(fast.records) == 8999
    assert fast.set_aside["code"].value_counts().to_dict() == {"no-label": 1, "no-label-cell": 1, "not-measured": 1}


@pytest.mark.parametrize("encoding", ["utf-8-sig", "cp1252", "utf-16"])
def test_a_long_file_in_other_encodings_gives_the_same_records(encoding):
    text = _long_csv().replace("crew K", "équipe K")
    there = read_source(Source("long.csv", text.encode(encoding)))
    pd.testing.assert_frame_equal(there.records, _records_of(text))


@functools.cache
def _records_of(text):
    return read_source(Source("long.csv", text.encode())).records


def test_a_long_file_with_a_torn_row_loses_nothing():
    text = _long_csv() + "\nTB-99999,1310,A-B,0.30"
    there = read_source(Source("long.csv", text.encode()))
    assert there.file["rows_read"] == 9001
    assert there.records["label"].iloc[-1] == "TB-99999"
