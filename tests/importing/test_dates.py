"""Order of day and month: proved by the column, else by the table, else told as ambiguous. Dates are invented."""

import pytest

from analyzer.importing import ReadContext, Source, read_source, settle

HEAD = "Link,Date,Cal date,Loss 850 (dB)\n"


def read(rows, context=None):
    return read_source(Source("r.csv", (HEAD + rows).encode()), context)


def days(imported, column):
    return [str(stamp)[:10] for stamp in imported.records[column]]


def test_a_column_that_proves_its_order_needs_no_other():
    imported = read("L1,13/04/2026,04/25/2025,0.4\nL2,05/04/2026,03/04/2025,0.5\n")
    assert days(imported, "tested_at") == ["2026-04-13", "2026-04-05"]
    assert days(imported, "calibrated_on") == ["2025-04-25", "2025-03-04"]
    assert imported.set_aside.empty


def test_a_column_that_proves_nothing_follows_the_table():
    imported = read("L1,13/04/2026,03/04/2025,0.4\n")
    assert days(imported, "calibrated_on") == ["2025-04-03"]


def test_a_column_that_contradicts_itself_keeps_what_is_certain_and_sets_the_rest_aside():
    imported = read("L1,13/04/2026,2025-01-01,0.4\nL2,04/13/2026,2025-01-01,0.5\nL3,03/04/2026,2025-01-01,0.5\n")
    assert days(imported, "tested_at") == ["2026-04-13", "2026-04-13", "NaT"]
    assert imported.set_aside["code"].tolist() == ["ambiguous-date"]


def test_another_file_with_the_same_headings_settles_it():
    here, there = read("L1,03/04/2026,2025-01-01,0.4\n"), read("L2,04/13/2026,2025-01-01,0.4\n")
    again = read("L1,03/04/2026,2025-01-01,0.4\n", ReadContext(settle([here.tallies, there.tallies])))
    assert days(again, "tested_at") == ["2026-03-04"]


@pytest.mark.parametrize(
    ("written", "day"),
    [
        ("13.04.26", "2026-04-13"), ("13.04.69", "2069-04-13"), ("13.04.70", "1970-04-13"), ("13 Apr 26", "2026-04-13"),
        ("13 avril 2026", "2026-04-13"), ("April 13, 2026", "2026-04-13"), ("13. März 2026", "2026-03-13"), ("20260413", "2026-04-13"),
        ("13 de abril de 2026", "2026-04-13"), ("2026/04/13", "2026-04-13"), ("13-dic-2026", "2026-12-13"),
    ],
)  # fmt: skip
def test_usual_ways_to_write_a_day(written, day):
    imported = read_source(Source("r.csv", f'Link,Date,Loss 850 (dB)\nL1,"{written}",0.4\n'.encode()))
    assert days(imported, "tested_at") == [day]
