"""Whatever stands in a file, the accounts of rows and cells add up, or the file is refused in one sentence."""

import csv
import io

import damaged
import pandas as pd
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyzer import schema
from analyzer.errors import InputError
from analyzer.importing import Source, read_schedule, read_source

QUIET = settings(
    derandomize=True,
    max_examples=settings().max_examples,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
HEADINGS = [
    "Link", "Cable", "Fiber", "Length (m)", "Length", "850 nm A-B (dB)", "850 nm B-A", "1300 nm", "Loss", "Wavelength",
    "Direction", "Limit", "Margin (dB)", "Result", "Fiber type", "Date", "Mated pairs", "Splices", "", "Nonsense", "NEXT 12-36",
    "Parameter", "Unit", "Reference (dBm)", "Power (dBm)", "From", "To", "Average 850 nm", "Wire map", "Pair", "End", "Time",
]  # fmt: skip
CELLS = [
    "", "L1", "L2", "TB-01", "1", "2", "12", "0.42", "0,42", "-0.3", "<0.05", ">60", "OL", "---", "n/a", "0.42 dB", "12 m", "12 ft",
    "1.234", "1,234", "1.234,5", "850", "1300 nm", "A-B", "B>A", "PASS", "FAIL*", "OM4", "OS2", "31.12.2026", "03/04/2026", "x",
    "Total", "Average", "Note: one cord", "dB", "m", "-20.5 dBm", "1e400", "NaN", "inf", "12-36", "loss", "length", "10:20", "∞",
    "\u00a00.3\u00a0", "\uff11\uff12", "0.4\n0.5", '"', "=1+1", "9" * 40, "Link", "850 nm",
]  # fmt: skip


def adds_up(imported):
    file, aside = imported.file, imported.set_aside
    assert file["rows_read"] == file["rows_used"] + file["rows_set_aside"]
    assert file["rows_used"] == len(imported.records)
    assert file["rows_set_aside"] == (aside["counts_as"] == "row").sum()
    assert file["cells_read"] == len(imported.readings) + (aside["counts_as"] == "reading cell").sum()
    assert file["furniture_rows"] >= 0
    assert imported.readings["record"].isin(imported.records["record"]).all()
    assert not imported.readings.duplicated(["row", "col", "block"]).any()
    for name in ("blocks", "columns", "records", "readings", "set_aside"):
        pd.testing.assert_frame_equal(getattr(imported, name), schema.conform(name, getattr(imported, name)))


def read_or_refuse(name, data):
    try:
        imported = read_source(Source(name, data))
    except InputError as error:
        refused = str(error)
    else:
        adds_up(imported)
        return imported
    assert refused.startswith(name)
    assert "\n" not in refused
    return None


@QUIET
@given(
    st.lists(st.sampled_from(HEADINGS), min_size=1, max_size=9),
    st.lists(st.lists(st.sampled_from(CELLS), max_size=10), max_size=14),
    st.lists(st.lists(st.sampled_from([*HEADINGS, *CELLS]), max_size=4), max_size=4),
    st.sampled_from([",", ";", "\t", "|"]),
)
def test_grids_of_headings_and_odd_cells(headings, rows, titles, delimiter):
    buffer = io.StringIO()
    csv.writer(buffer, delimiter=delimiter, lineterminator="\n").writerows([*titles, headings, *rows])
    read_or_refuse("odd.csv", buffer.getvalue().encode())


@QUIET
@given(st.binary(max_size=400))
def test_any_bytes(data):
    read_or_refuse("any.csv", data)


@QUIET
@given(st.text(max_size=200))
def test_any_text_under_headings(text):
    read_or_refuse("any.csv", f"Link,Length (m),Loss 850 nm (dB)\n{text}\nL1,10,0.4\n".encode())


@QUIET
@given(
    st.lists(st.sampled_from(["Cable", "Label", "Strands", "Type", "Length (m)", "Splices", "From room", ""]), min_size=1, max_size=6),
    st.lists(st.lists(st.sampled_from(CELLS), max_size=6), max_size=10),
)  # fmt: skip
def test_schedules(headings, rows):
    buffer = io.StringIO()
    csv.writer(buffer, lineterminator="\n").writerows([headings, *rows])
    try:
        schedule, aside = read_schedule(Source("schedule.csv", buffer.getvalue().encode()))
    except InputError:
        return
    assert (schedule["label"].notna()).all()
    pd.testing.assert_frame_equal(schedule, schema.conform("schedule", schedule))
    pd.testing.assert_frame_equal(aside, schema.conform("set_aside", aside))


@QUIET
@given(damaged.damaged(), st.sampled_from([",", ";", "\t"]))
def test_every_cell_of_a_damaged_table_is_used_or_told(grid, delimiter):
    assert damaged.lost(grid, delimiter) == []
