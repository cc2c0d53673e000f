"""Strands without a cable: the sheet names it where its name can be that of a cable."""

import io

import openpyxl
import pytest

from analyzer.importing import Source, read_source


def labels(*sheets):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name in sheets:
        page = book.create_sheet(name)
        for row in (["Strand", "Loss 850 nm A-B (dB)"], [1, 0.46], [2, 0.51]):
            page.append(row)
    data = io.BytesIO()
    book.save(data)
    return read_source(Source("strands.xlsx", data.getvalue())).records["label"].tolist()


def test_strands_of_several_sheets_are_no_one_link():
    assert labels("MX-01", "MX-02") == ["MX-01-01", "MX-01-02", "MX-02-01", "MX-02-02"]


def test_a_sheet_that_says_cable():
    assert labels("Cable TB-9") == ["TB-9-01", "TB-9-02"]


@pytest.mark.parametrize("name", ["Sheet1", "OM4", "2026-03-14", "Test 2", "Loss", "850 nm"])
def test_names_that_are_no_cable_name_none(name):
    assert labels(name) == ["1", "2"]
