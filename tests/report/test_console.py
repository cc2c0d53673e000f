import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.report.console import Console, Line, columns, wrapped


class Terminal(io.StringIO):
    def isatty(self):
        return True


def _stream(encoding):
    return io.TextIOWrapper(io.BytesIO(), encoding=encoding, newline="\n")


def _shown(stream):
    stream.flush()
    return stream.buffer.getvalue().decode(stream.encoding)


@pytest.mark.parametrize(
    ("encoding", "text"),
    [
        ("utf-8", "Bühne-1 … −0.42 ± 黒\n"),
        ("cp1252", "Bühne-1 .. -0.42 +/- \\u9ed2\n"),
        ("ascii", "B\\xfchne-1 .. -0.42 +/- \\u9ed2\n"),
    ],
)
def test_signs_that_the_console_lacks_are_written_in_ascii(encoding, text):
    stream = _stream(encoding)
    Console(stream, 80).write([Line("Bühne-1 … −0.42 ± 黒")])
    assert _shown(stream) == text


def test_color_only_on_a_terminal_that_wants_it(monkeypatch):
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    line = Line("T-1", word="FAIL", style="fail")
    for stream, colored in ((Terminal(), True), (io.StringIO(), False)):
        Console(stream, 80).write([line])
        assert ("\x1b[" in stream.getvalue()) is colored
    monkeypatch.setenv("NO_COLOR", "1")
    stream = Terminal()
    Console(stream, 80).write([line])
    assert stream.getvalue() == "FAIL T-1\n"


def test_a_label_cannot_steer_the_terminal():
    stream = io.StringIO()
    Console(stream, 80, color=False).write([Line("T-1\x1b[2J\r\u202eevil")])
    assert stream.getvalue() == "T-1?[2J??evil\n"


def test_a_number_stays_with_its_unit_and_a_margin_with_its_name():
    rows = wrapped("loss at 1550 nm A-B 1.92 dB, allowed 1.50 dB, margin −0.42 dB", 30, 0, 2)
    assert rows == ["loss at 1550 nm A-B 1.92 dB,", "  allowed 1.50 dB,", "  margin −0.42 dB"]


def test_a_range_stays_whole():
    assert wrapped("TB-01 … TB-24, TB-30 … TB-48", 20, 0, 2) == ["TB-01 … TB-24,", "  TB-30 … TB-48"]
    assert wrapped("TB-A .. TB-B, TB-C .. TB-D", 20, 0, 2) == ["TB-A .. TB-B,", "  TB-C .. TB-D"]


@given(st.text(st.sampled_from("ab 黒é"), max_size=80), st.integers(10, 40))
def test_rows_fit_and_no_word_is_lost(text, width):
    rows = wrapped(text, width, 0, 2)
    assert "".join(rows).replace(" ", "") == text.replace(" ", "")
    longest = max((columns(word) for word in text.split(" ")), default=0)
    assert all(columns(row) <= max(width, longest + 2) for row in rows)


def test_a_last_line_is_whole_for_programs_and_wrapped_for_people():
    line = Line("word " * 40, unbroken=True)
    piped, watched = io.StringIO(), Terminal()
    Console(piped, 60, color=False).write([line])
    Console(watched, 60, color=False).write([line])
    assert piped.getvalue().count("\n") == 1
    assert watched.getvalue().count("\n") > 1
