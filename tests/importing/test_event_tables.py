"""Tables of events along a fiber: found in seven languages and six layouts, read whole, never taken for link losses.

All tables are invented. Reflectance is the negative of return loss by definition (IEC 61300-3-6, recalled).
"""

import csv
import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.importing import Source, read_source
from analyzer.importing.events import said_by_name

ROWS = [
    ("0.0", "start", "", "-48.1"),
    ("150.2", "reflective", "0.35", "-52.0"),
    ("900.5", "splice", "0.12", ""),
    ("1670.0", "end", "", "-14.5"),
]


def read(text, name="trace.csv"):
    return read_source(Source(name, text.encode()))


def table(heads, rows=ROWS, above=(), delimiter=","):
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="\n").writerows([*above, heads, *rows])
    return out.getvalue()


HEADS = ("Distance (m)", "Type", "Loss (dB)", "Reflectance (dB)")
ABOVE = (("Fiber", "TB-101-01"), ("Wavelength", "1310 nm"), ("Direction", "A-B"))


def test_a_trace_with_its_facts_above():
    found = read(table(HEADS, above=ABOVE))
    assert found.blocks["kind"].tolist() == ["events"]
    assert found.records["label"].tolist() == ["TB-101-01"]
    assert found.records["medium"].tolist() == ["fiber"]
    events = found.events
    assert events["distance_m"].tolist() == [0.0, 150.2, 900.5, 1670.0]
    assert events["kind"].tolist() == ["start", "reflective", "splice", "end"]
    np.testing.assert_array_equal(events["loss_db"], [np.nan, 0.35, 0.12, np.nan])
    np.testing.assert_array_equal(events["reflectance_db"], [-48.1, -52.0, np.nan, -14.5])
    assert set(events["wavelength_nm"]) == {1310}
    assert set(events["direction"]) == {"A-B"}
    assert events["row"].tolist() == [5, 6, 7, 8]
    assert found.readings.empty


@pytest.mark.parametrize(
    "heads",
    [
        ("Entfernung (m)", "Ereignistyp", "Dämpfung (dB)", "Reflexion (dB)"),
        ("Distance (m)", "Nature", "Perte d'épissure (dB)", "Réflectance (dB)"),
        ("Distancia (m)", "Tipo de evento", "Pérdida (dB)", "Reflectancia (dB)"),
        ("Distanza (m)", "Tipo di evento", "Perdita (dB)", "Riflettanza (dB)"),
        ("Afstand (m)", "Type gebeurtenis", "Lasverlies (dB)", "Reflectie (dB)"),
        ("Distância (m)", "Tipo de evento", "Perda (dB)", "Refletância (dB)"),
        ("Position", "Event type", "Splice loss", "Return loss"),
    ],
)
def test_headings_in_every_language(heads):
    found = read(table(heads, above=ABOVE))
    np.testing.assert_array_equal(found.events["loss_db"], [np.nan, 0.35, 0.12, np.nan])
    np.testing.assert_array_equal(found.events["reflectance_db"], [-48.1, -52.0, np.nan, -14.5])
    assert found.readings.empty


@pytest.mark.parametrize(
    ("name", "above"),
    [
        ("Fiber TB-101-01 1310nm A-B.csv", ()),
        ("job/TB-101-01_1310_AB.csv", ()),
        ("x.csv", (("Events of fiber TB-101-01, 1310 nm, A-B",),)),
    ],
)
def test_the_name_of_the_file_or_a_title_says_whose_trace_it_is(name, above):
    found = read(table(HEADS, above=above), name)
    assert found.records["label"].tolist() == ["TB-101-01"]
    assert set(found.events["wavelength_nm"]) == {1310}
    assert set(found.events["direction"]) == {"A-B"}


def test_the_name_of_a_sheet_says_it_too():
    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(out)
    for name, shift in (("TB-7-01 1310 A-B", 0.0), ("TB-7-02 1550 B-A", 1.0)):
        sheet = book.add_worksheet(name)
        sheet.write_row(0, 0, HEADS)
        for number, row in enumerate(ROWS, start=1):
            sheet.write_row(
                number, 0, [float(row[0]) + shift, row[1], *(float(cell) if cell else "" for cell in row[2:])]
            )
    book.close()
    found = read_source(Source("traces.xlsx", out.getvalue()))
    assert found.records["label"].tolist() == ["TB-7-01", "TB-7-02"]
    by_record = found.events.groupby("record")[["wavelength_nm", "direction"]].first()
    assert by_record["wavelength_nm"].tolist() == [1310, 1550]
    assert by_record["direction"].tolist() == ["A-B", "B-A"]


def test_a_long_table_with_label_columns_holds_several_traces():
    rows = [
        (label, wave, way, *row)
        for label in ("T-1", "T-2")
        for wave in ("1310", "1550")
        for way in ("A-B", "B-A")
        for row in ROWS
    ]
    found = read(table(("Fiber", "Wavelength (nm)", "Direction", *HEADS), rows))
    assert found.records["label"].tolist() == ["T-1", "T-2"]
    traces = found.events.groupby(["record", "wavelength_nm", "direction"], observed=True).size()
    assert traces.tolist() == [4] * 8
    assert found.events["number"].tolist() == [1, 2, 3, 4] * 8


def test_feet_and_kilometers_and_a_comma():
    rows = [("0,000", "Start", "", "45,0"), ("1,250", "Spleiss", "0,08", ""), ("2,500", "Faserende", "", "14,4")]
    found = read(table(("Ort (km)", "Typ", "Dämpfung (dB)", "Reflexion (dB)"), rows, ABOVE, ";"))
    np.testing.assert_allclose(found.events["distance_m"], [0, 1250, 2500])
    rows = [("0", "start", "", ""), ("1000", "splice", "0.1", ""), ("2000", "end", "", "-14")]
    found = read(table(("Distance (ft)", "Event type", "Loss (dB)", "Reflectance (dB)"), rows, ABOVE))
    np.testing.assert_allclose(found.events["distance_m"], [0, 304.8, 609.6])  # 1 ft = 0.3048 m, exact by definition


def test_return_loss_is_kept_as_reflectance_and_told():
    rows = [("0", "start", "", "48.1"), ("150", "reflective", "0.3", ">52"), ("300", "end", "", "<14.5")]
    found = read(table(HEADS, rows, ABOVE))
    assert found.events["reflectance_db"].tolist() == [-48.1, -52.0, -14.5]
    # more than 52 dB of return loss is less than -52 dB of reflectance
    assert found.events["reflectance_bound"].astype(object).where(
        found.events["reflectance_bound"].notna(), None
    ).tolist() == [None, "below", "above"]
    assert "reflectance-sign" in found.seeds["code"].tolist()
    assert "reflectance-sign" not in read(table(HEADS, above=ABOVE)).seeds["code"].tolist()


def test_launch_cord_and_total_stand_above_the_table():
    above = (*ABOVE, ("Launch cord", "150 m"), ("Receive fiber: 500 ft",), ("End-to-end loss", "0.92 dB"))
    found = read(table(HEADS, above=above))
    assert set(found.events["launch_m"]) == {150.0}
    np.testing.assert_allclose(found.events["tail_m"], 152.4)
    whole = found.events[found.events["kind"] == "end to end"]
    assert whole["loss_db"].tolist() == [0.92]
    assert whole["row"].tolist() == [6]
    assert found.readings.empty


def test_gains_keep_their_sign():
    rows = [
        ("0", "start", "", ""),
        ("100", "gain", "-0.11", ""),
        ("200", "gain", "-0.07", ""),
        ("300", "end", "", "-14"),
    ]
    found = read(table(HEADS, rows, ABOVE))
    np.testing.assert_array_equal(found.events["loss_db"], [np.nan, -0.11, -0.07, np.nan])


def test_what_cannot_be_used_is_set_aside():
    rows = [
        *ROWS,
        ("", "splice", "0.2", ""),
        ("1700", "splice", "see note 4", ""),
        ("1710", "splice", "<0.01", ""),
        ("1720", "end", "", "---"),
    ]
    found = read(table(HEADS, rows, ABOVE))
    assert found.set_aside["code"].tolist() == [
        "no-distance",
        "no-distance-cell",
        "not-a-number",
        "bound-in-event",
        "not-measured",
    ]
    file = found.file
    assert (file["rows_read"], file["rows_used"], file["rows_set_aside"]) == (8, 7, 1)
    assert file["cells_read"] == file["cells_used"] + file["cells_set_aside"] == 9


@given(st.lists(st.sampled_from(["", "0.1", "-0.05", "x", ">1", "---", "999", "12,5", "∞"]), min_size=3, max_size=12))
def test_every_row_and_cell_is_accounted_for(losses):
    rows = [(str(100 * n), "splice", loss, "-40") for n, loss in enumerate(losses)]
    found = read(table(HEADS, rows, ABOVE))
    file, aside = found.file, found.set_aside
    cells = sum(loss != "" for loss in losses) + len(losses)
    assert file["cells_read"] == cells
    assert file["cells_set_aside"] == (aside["counts_as"] == "reading cell").sum()
    used = found.events["loss_db"].notna().sum() + found.events["reflectance_db"].notna().sum()
    assert file["cells_used"] == used
    assert file["rows_read"] == len(losses)


LINK_TABLES = {
    "one row for each link": "Link,Distance (m),Loss 1310 nm (dB),Reflectance (dB)\nA-1,100,0.5,-40\nA-2,110,0.6,-41\n",
    "one row for each wavelength": "Fiber,Distance (m),Wavelength,Loss (dB),ORL\n1,100,1310,0.5,40\n1,100,1550,0.6,40\n2,120,1310,0.5,40\n2,120,1550,0.5,41\n",
    "numbered": "No,Distance,Loss 1310,Type\n1,100,0.5,OS2\n2,110,0.5,OS2\n3,111,0.5,OS2\n",
    "positions": "Position,Length (m),Loss 850 nm (dB),Type\n1,50,0.5,OM4\n2,51,0.6,OM4\n3,52,0.6,OM4\n",
}


@pytest.mark.parametrize("name", LINK_TABLES)
def test_tables_of_links_stay_tables_of_links(name):
    found = read(LINK_TABLES[name])
    assert found.events.empty
    assert "events" not in set(found.blocks["kind"])
    assert (found.readings["parameter"] == "loss").any()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Fiber TB-101-01, 1310 nm, A-B", ("TB-101-01", 1310, "A-B")),
        ("TB-7-01_1550_BA", ("TB-7-01", 1550, "B-A")),
        ("Events", ("", -1, "")),
        ("1310 nm and 1550 nm of TB-1-01", ("", -1, "")),
    ],
)
def test_names(text, said):
    found = said_by_name(text)
    assert (found.wavelength_nm, found.direction) == said[1:]
    assert found.label == said[0] or said[0] == ""


def test_one_table_for_two_wavelengths():
    rows = [("0", "start", "", "", ""), ("400", "splice", "0.05", "0.31", ""), ("800", "end", "", "", "-14")]
    found = read(
        table(("Distance (m)", "Type", "Loss 1310 nm (dB)", "Loss 1550 nm (dB)", "Reflectance (dB)"), rows, (ABOVE[0],))
    )
    splice = found.events[found.events["kind"] == "splice"].set_index("wavelength_nm")["loss_db"]
    assert splice.to_dict() == {1310: 0.05, 1550: 0.31}
    assert (found.file["rows_read"], found.file["cells_read"], found.file["cells_used"]) == (3, 3, 3)


CORDS = (
    "Fiber,Wavelength (nm),Event,Distance (m),Type,Loss (dB),Reflectance (dB),{0},Receive fiber length (ft)\n"
    "TB-01-01,1310,1,0,Start,,-45,{1},328.084\nTB-01-01,1310,2,150,Connection,0.3,-50,{2},\n"
    "TB-01-01,1310,3,450,Connection,0.4,-48,{1},328.084\nTB-01-01,1310,4,550,End,,-30,,328.084\n"
)


@pytest.mark.parametrize(
    "heading", ["Launch cord (m)", "Launch fiber length (m)", "Vorlauffaser (m)", "Bobine d'amorce (m)"]
)
def test_cords_in_columns_are_those_of_the_trace(heading):
    found = read_source(Source("a.csv", CORDS.format(heading, 150, 150).encode()))
    assert set(found.events["launch_m"]) == {150.0}
    assert set(found.events["tail_m"].round(3)) == {100.0}
    assert found.set_aside.empty


def test_cords_that_contradict_each_other_are_told():
    found = read_source(Source("a.csv", CORDS.format("Launch cord (m)", 150, 500).encode()))
    assert found.events["launch_m"].isna().all()
    assert found.set_aside["code"].tolist() == ["cord-varies"] * 3


def test_a_cord_without_a_unit_is_told():
    found = read_source(Source("a.csv", CORDS.format("Launch cord", 150, 150).encode()))
    assert found.events["launch_m"].isna().all()
    assert found.set_aside["code"].tolist() == ["unit-not-stated"] * 3
