"""The tour: where its samples are found, what it writes, what it leaves alone."""

import re
import shlex
import sys
from pathlib import Path
from types import ModuleType

import pytest

from analyzer.cli import demo
from analyzer.cli.main import outcome

PAGE = "<!doctype html>\n<p>Computed with cableproof</p>\n"


@pytest.fixture
def page(monkeypatch):
    module = ModuleType("analyzer.report.page")
    module.write_page = lambda _analysis, path: path.write_text(PAGE, encoding="utf-8")
    monkeypatch.setitem(sys.modules, "analyzer.report.page", module)


@pytest.mark.usefixtures("page")
def test_the_tour_prints_the_check_writes_the_page_and_says_what_next(pipeline, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert outcome(["demo"]) == 0
    assert (tmp_path / "reports" / "demo.html").read_text(encoding="utf-8") == PAGE
    shown = capsys.readouterr().out
    assert "check of 30 links" in shown
    assert "everything in it is invented" in shown
    assert f"Page: {Path('reports') / 'demo.html'}" in shown
    (samples,) = pipeline.paths
    assert (samples / "job.toml").is_file()
    offered = re.findall(r"^  cableproof (.*)$", shown, re.MULTILINE)
    files = [Path(word) for line in offered for word in shlex.split(line) if "sample_results" in word]
    assert files
    assert all(file.exists() for file in files)


@pytest.mark.usefixtures("page", "pipeline")
def test_the_tour_can_be_made_twice(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert [outcome(["demo"]), outcome(["demo"])] == [0, 0]


@pytest.mark.usefixtures("page")
def test_a_file_of_somebody_else_in_its_place_is_left_alone(pipeline, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    other = tmp_path / "reports" / "demo.html"
    other.parent.mkdir()
    other.write_text("mine", encoding="utf-8")
    assert outcome(["demo"]) == 2
    assert other.read_text(encoding="utf-8") == "mine"
    assert "no page of cableproof" in capsys.readouterr().err
    assert pipeline.paths is None


def test_the_samples_are_named_as_one_would_type_them(monkeypatch):
    monkeypatch.chdir(Path(demo.__file__).parents[2])
    with demo.sample_results() as samples:
        assert samples == Path("sample_results")


def test_an_installation_without_samples_says_so(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr(demo, "__file__", str(tmp_path / "a" / "b" / "demo.py"))
    monkeypatch.setattr(demo, "files", lambda _package: tmp_path)
    monkeypatch.chdir(tmp_path)
    assert outcome(["demo"]) == 2
    assert capsys.readouterr().err == (
        "cableproof: the sample results are missing from this installation; install cableproof again\n"
    )
