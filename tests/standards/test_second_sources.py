"""Governing values against what others print, and against facts of physics between the rows."""

import pytest

from analyzer import standards
from analyzer.standards.tables import TABLES

VALUES = standards.load()
SECONDED = [row for name in ("attenuation", "components") for row in VALUES.rows(name) if row["second_source"]]


@pytest.mark.parametrize("row", SECONDED, ids=lambda row: row["row_id"])
def test_value_agrees_with_its_second_source(row):
    # the evidence rows name document and page: consortium page, AS/NZS draft note, owner standard, association paper
    for row_id in row["second_source"].split():
        evidence = VALUES.row(row_id)
        table = next(table for table in TABLES.values() if table.prefix == row_id.partition("-")[0])
        column = "max_attenuation_db_per_km" if "types" in row else "max_loss_db"
        assert row[column] == evidence[table.numbers[0]], row_id
        assert evidence["how_known"] in {"read", "secondary"}
        assert evidence["source_id"] != row["source_id"]
        if "types" in row:
            assert evidence["wavelength_nm"] == row["wavelength_nm"]


def test_how_many_values_have_a_second_source():
    # counted by hand: 568.3-D 3, 568.3-E 3, 568-C.3 8, 11801-1:2017 9, 11801:2002 2, its amendment 2; and 2 mated pairs
    assert sum("types" in row for row in SECONDED) == 27
    assert sum("component" in row for row in SECONDED) == 2


@pytest.mark.parametrize(
    ("fiber", "wavelength_nm", "db_per_km"),
    [("OM3", 850, 3.5), ("OM4", 850, 3.5), ("OM5", 850, 3.0), ("OS1a", 1310, 1.0), ("OS2", 1550, 0.4)],
)
def test_iso_2017_as_a_trade_note_prints_it(fiber, wavelength_nm, db_per_km):
    # VTI news note on AS/NZS 11801.1 draft (ISO/IEC 11801-1:2017, MOD): read
    (row,) = standards.allowances(VALUES, "ISO", "11801-1:2017").cable(fiber, wavelength_nm)
    assert row["coefficient_db_per_km"] == db_per_km


def test_cable_ceilings_are_not_below_bare_fiber():
    # IEC 60793-2-10 and -2-50: cabling can only add loss
    bare = {(row["fiber"].removeprefix("A1-"), row["wavelength_nm"]): row["attenuation_db_per_km"]
            for row in VALUES.rows("attenuation_evidence") if row["source_id"] == "iec60793_2_10"}  # fmt: skip
    compared = 0
    for row in VALUES.rows("attenuation"):
        for fiber in row["types"].split():
            if (fiber, row["wavelength_nm"]) in bare:
                assert row["max_attenuation_db_per_km"] >= bare[fiber, row["wavelength_nm"]], row["row_id"]
                compared += 1
    assert compared >= 30


def test_the_short_multimode_wavelength_always_allows_more():
    for edition in VALUES.rows("editions"):
        book = standards.allowances(VALUES, edition["standard"], edition["edition"])
        for fiber in ("OM1", "OM2", "OM3", "OM4", "OM5"):
            short, long = book.cable(fiber, 850), book.cable(fiber, 1300)
            assert len(short) == len(long) <= 1
            if short:
                assert short[0]["coefficient_db_per_km"] > long[0]["coefficient_db_per_km"]
