"""The PDF, read back by pypdf."""

import datetime as dt
import re

import pytest
from pypdf import PdfReader

from analyzer import analyze
from analyzer.report.pdf import pdf_bytes
from analyzer.report.pdf.sheet import printable, width_of, wrapped

MADE = dt.datetime(2026, 11, 18, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def analysis(job_folder):
    return analyze(job_folder)


def read(tmp_path, content):
    place = tmp_path / "x.pdf"
    place.write_bytes(content)
    return PdfReader(place)


@pytest.mark.parametrize("layout", ["compact", "page"])
def test_every_link_stands_in_it_once(analysis, tmp_path, layout):
    pages = read(tmp_path, pdf_bytes(analysis, draft=[], made=MADE, layout=layout)).pages
    text = "\n".join(page.extract_text() for page in pages)
    heads = re.findall(r"^(HX-01-\d\d): pass", text, flags=re.MULTILINE)
    assert heads == analysis.links["label"].tolist()
    if layout == "page":
        assert sum("HX-01-" in page.extract_text() for page in pages) == 12


def test_bookmarks_page_numbers_and_metadata(analysis, tmp_path):
    reader = read(tmp_path, pdf_bytes(analysis, draft=[], made=MADE))
    names = [one.title for one in reader.outline if not isinstance(one, list)]
    assert names[0] == "Cover"
    assert {"Summary", "Exceptions", "Every link"} <= set(names)
    assert [f"page {number}" in page.extract_text() for number, page in enumerate(reader.pages, start=1)] == [
        True
    ] * len(reader.pages)
    assert reader.metadata.title == "Invented Hall"


def test_the_same_run_gives_the_same_bytes(analysis):
    assert pdf_bytes(analysis, draft=[], made=MADE) == pdf_bytes(analysis, draft=[], made=MADE)


def test_signs_that_the_typeface_lacks_are_written_by_their_code():
    assert printable("ä-ש-1") == "ä-[U+05E9]-1"


def test_wrapped_text_fits_and_loses_nothing():
    text = "short " + "x" * 400 + " end of the sentence"
    lines = wrapped(text, "Vera", 8, 200)
    assert all(width_of(line, "Vera", 8) <= 200 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
