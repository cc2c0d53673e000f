import sys
from types import ModuleType

import pytest

from analyzer.cli.main import outcome

PAGE = "<!doctype html>\n<p>Computed with cableproof from the records named; not a test instrument's record.</p>\n"


@pytest.fixture
def pages(monkeypatch):
    """Stands in for the page room: writes a page in a few words and remembers where."""
    written = []

    def write_page(analysis, path):
        path.write_text(PAGE, encoding="utf-8")
        written.append((analysis, path))

    module = ModuleType("analyzer.report.page")
    module.write_page = write_page
    monkeypatch.setitem(sys.modules, "analyzer.report.page", module)
    return written


def test_the_page_is_written_and_its_place_told(pipeline, pages, capsys, tmp_path):
    output = tmp_path / "new folder" / "page.html"
    assert outcome(["report", "a.csv", "-o", str(output)]) == 1
    assert capsys.readouterr().out.splitlines() == [
        f"Page: {output}",
        "30 links: 17 pass, 1 marginal, 2 fail, 10 incomplete",
        "Exit code 1: 2 links fail, 10 are incomplete.",
    ]
    assert pages == [(pipeline.analysis, output)]


@pytest.mark.usefixtures("pipeline")
def test_an_earlier_page_of_ours_is_replaced(pages, tmp_path):
    output = tmp_path / "page.html"
    output.write_text(PAGE, encoding="utf-8")
    assert outcome(["report", "a.csv", "-o", str(output)]) == 1
    assert len(pages) == 1


@pytest.mark.parametrize(
    "content", ["", "<!doctype html><p>a page of somebody else", "Link,Loss\nComputed with cableproof"]
)
def test_no_other_file_is_written_over(pipeline, pages, capsys, tmp_path, content):
    output = tmp_path / "page.html"
    output.write_text(content, encoding="utf-8")
    assert outcome(["report", "a.csv", "-o", str(output)]) == 2
    assert "exists and is no page of cableproof" in capsys.readouterr().err
    assert output.read_text(encoding="utf-8") == content
    assert pages == []
    assert pipeline.paths is None


@pytest.mark.usefixtures("pipeline")
def test_evidence_is_never_written_over(pages, capsys, tmp_path):
    evidence = tmp_path / "export.html"
    evidence.write_text(PAGE, encoding="utf-8")
    assert outcome(["report", str(evidence), "-o", str(tmp_path / "." / "export.html")]) == 2
    assert "evidence is never altered" in capsys.readouterr().err
    assert pages == []


@pytest.mark.usefixtures("pages")
@pytest.mark.parametrize(
    ("output", "words"), [(None, "-o page.html"), ("page.csv", "a page ends in .html"), ("folder.html", "is a folder")]
)
def test_a_wrong_place_is_refused_before_anything_is_read(pipeline, capsys, tmp_path, monkeypatch, output, words):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "folder.html").mkdir()
    assert outcome(["report", "a.csv", *(["-o", output] if output else [])]) == 2
    assert words in capsys.readouterr().err
    assert pipeline.paths is None


@pytest.mark.usefixtures("pipeline", "pages")
def test_a_place_that_cannot_be_written_is_told(capsys, tmp_path):
    (tmp_path / "file").write_text("x", encoding="utf-8")
    assert outcome(["report", "a.csv", "-o", str(tmp_path / "file" / "page.html")]) == 2
    assert "cannot be written" in capsys.readouterr().err
