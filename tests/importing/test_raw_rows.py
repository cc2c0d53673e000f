"""Rows read once more: what they show is what stands in the file, by other readers and by the truth that was written."""

import csv
import io
import re
import sys
from pathlib import Path

import numpy as np
import pytest
from workbook_bytes import ods, ods_row

from analyzer.importing import ReadContext, Source, read_source
from analyzer.importing.raw_rows import raw_tables

sys.path.insert(0, str(Path(__file__).parent))
import layout_writer as truth

FIBER = ["Link", "Fiber type", "Length (m)", "Loss 850 nm (dB)", "Serial", "Remark"]


def raw(source):
    """Tables of a file with the rows behind each of its records: {record: [(table, row in it)]}."""
    imported = read_source(source)
    kinds = imported.blocks["kind"].astype("object")
    places, owner = {}, {}
    for frame in (imported.records, imported.readings, imported.events, imported.curves):
        for block, row, col, record in frame[["block", "row", "col", "record"]].astype("int64").to_numpy().tolist():
            seen = owner.setdefault(block, {})
            place = (row, -1 if kinds[block] in {"upright", "long", "events"} else col)
            seen.setdefault(place, record)
    for block, seen in owner.items():
        places[block] = tuple(np.array(side, dtype=np.int64) for side in zip(*seen, strict=True))
    tables = raw_tables(source, ReadContext(), places)
    found = {}
    for block, table in tables.items():
        records = list(owner[block].values())
        for of, at in zip(table.of.tolist(), table.at.tolist(), strict=True):
            found.setdefault(records[of], []).append((table, at))
    return imported, tables, found


def texts(table, at):
    return [words[codes[at]] for codes, words in table.cells]


def numbers(words):
    """Numbers in some texts, however they are written."""
    bare = " ".join(words).replace(",", ".").replace("\u2212", "-")
    return {round(float(number), 4) for number in re.findall(r"\d+\.?\d*", bare)}


@pytest.mark.parametrize("name", truth.LAYOUTS)
def test_the_rows_of_each_link_hold_the_numbers_that_were_written_for_it(name):
    """Outside check: the truth of the layouts, which shares no code with the reader. Powers and feet are written otherwise."""
    file, write, _ = truth.LAYOUTS[name]
    imported, _, found = raw(Source(file, write()))
    rows = {label: set() for label in truth.LINKS}
    for record, pieces in found.items():
        rows[imported.records["label"][record]] |= numbers(word for piece in pieces for word in texts(*piece))
    for link, seen in rows.items():
        losses = {value for (label, *_), value in truth.LOSS.items() if label == link}
        assert losses <= seen or {round(1000 * value, 4) for value in losses} <= seen, link


def as_csv(rows):
    return Source("a.csv", truth.as_csv(rows))


def test_every_cell_with_its_heading_also_those_that_gave_no_reading():
    source = as_csv(
        [["Invented results"], ["Operator", "crew 1"], FIBER, ["L1", "OM4", 100, 0.61, "S-07", "=1+1 <b>"],
         ["L2", "OM4", 90, "", "", ""]]
    )  # fmt: skip
    _, tables, found = raw(source)
    (table,) = tables.values()
    written = list(csv.reader(io.StringIO(source.data.decode())))
    assert table.headings == FIBER
    assert table.heading_rows == [3]
    assert table.above == [(1, ["Invented results"]), (2, ["Operator", "crew 1"])]
    assert [texts(*piece) for piece in found[0]] == [written[3]]
    assert [texts(*piece) for piece in found[1]] == [written[4]]
    assert table.rows.tolist() == [4, 5]
    assert table.is_text


def test_headings_of_several_rows_and_tables_side_by_side_keep_their_own_columns():
    rows = [["Link", "Loss 850 nm", "", "", "Link", "Loss 850 nm", ""], ["", "A-B", "B-A", "", "", "A-B", "B-A"]]
    rows += [[f"L{n}", 0.5, 0.6, "", f"M{n}", 0.7, 0.8] for n in (1, 2)]
    imported, tables, found = raw(as_csv(rows))
    assert len(tables) == 2
    assert tables[0].headings == ["Link", "Loss 850 nm / A-B", "Loss 850 nm / B-A"]
    assert tables[0].heading_rows == [1, 2]
    by_label = {imported.records["label"][record]: texts(*pieces[0]) for record, pieces in found.items()}
    assert by_label["L2"] == ["L2", "0.5", "0.6"]
    assert by_label["M1"] == ["M1", "0.7", "0.8"]


def test_a_table_on_its_side_gives_the_column_of_its_link():
    file, write, _ = truth.LAYOUTS["transposed"]
    source = Source(file, write())
    imported, tables, found = raw(source)
    table = tables[0]
    written = [[*row, *[""] * 13][:13] for row in csv.reader(io.StringIO(source.data.decode()))]
    assert table.kind == "transposed"
    for record, pieces in found.items():
        (at,) = {at for _, at in pieces}
        col = int(table.rows[at])
        assert [written[row - 1][col] for row in table.places] == texts(table, at)
        assert imported.records["label"][record] in texts(table, at)
        assert [written[row - 1][0] for row in table.places] == table.headings


def test_a_form_gives_all_its_lines_and_no_line_of_the_next():
    links = [f"L{number}" for number in range(1, 7)]
    rows = []
    for link in links:
        rows += [["Link:", link, "", "Fiber type:", "OM4"], ["Length:", "10 m"], ["Lamp", f"<i>{link}</i> Watt"]]
        rows += [["Loss 850 nm A-B:", "0.5 dB"], ["Loss 850 nm B-A:", "0.4 dB"], ["Loss 1300 nm A-B:", "0.3 dB"], []]
    imported, tables, found = raw(as_csv(rows))
    assert tables[0].kind == "form"
    for at, label in enumerate(links):
        lines = rows[7 * at : 7 * at + 6]
        (record,) = np.flatnonzero(imported.records["label"] == label)
        assert {int(table.rows[row]) for table, row in found[record]} == {*range(7 * at + 1, 7 * at + 7)}
        shown = [[word for word in texts(*piece) if word] for piece in found[record]]
        assert [word for word in lines[2] if word] in shown


def test_a_sweep_tells_what_stands_around_its_points_and_counts_them():
    rows = [["Link", "C1"], ["Grade", "6A"], ["Frequency (MHz)", "Insertion loss 1-2 (dB)", "Note"]]
    rows += [[frequency, 1 + frequency / 100, "x"] for frequency in range(1, 102)]
    _, tables, _ = raw(as_csv(rows))
    (table,) = tables.values()
    assert (table.kind, table.points, table.rows.tolist(), table.last_row) == ("sweep", 101, [4], 104)
    assert table.headings == rows[2]
    assert table.above == [(1, ["Link", "C1"]), (2, ["Grade", "6A"])]


def test_cells_of_workbooks_are_those_that_they_hold():
    """Outside check: openpyxl shows the same cells; ODS by the bytes that were written."""
    import datetime as dt

    import openpyxl

    book = openpyxl.Workbook()
    book.active.append(["Link", "Length (m)", "Loss 850 nm (dB)", "Date", "Checked"])
    book.active.append(["L1", 120, 0.4251, dt.datetime(2026, 3, 4, 10, 15), True])  # noqa: DTZ001 (times carry no zone)
    book.active["C2"].number_format = "0.00"
    buffer = io.BytesIO()
    book.save(buffer)
    _, tables, found = raw(Source("a.xlsx", buffer.getvalue()))
    assert texts(*found[0][0]) == ["L1", "120", "0.4251", "2026-03-04 10:15:00", "true"]
    assert not tables[0].is_text
    lines = (["Link", "Loss 850 nm (dB)", "Remark"], ["L1", 0.5, "by hand"])
    _, _, found = raw(Source("a.ods", ods("".join(ods_row(*row) for row in lines))))
    assert texts(*found[0][0]) == ["L1", "0.5", "by hand"]


def test_a_network_file_gives_its_comments_and_no_point():
    data = b"! invented, by hand\n# MHz S RI R 50\n1 0 0 1 0\n! a later remark\n"
    table = raw_tables(Source("C-01.s4p", data), ReadContext(), {0: (np.array([-1]), np.array([-1]))})[0]
    assert table.kind == "network"
    assert table.above == [(1, ["! invented, by hand"]), (2, ["# MHz S RI R 50"]), (4, ["! a later remark"])]
