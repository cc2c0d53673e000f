"""The house rules: what lies where, what is public, which room may lean on which, and that text and links are in order."""

import ast
import importlib
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import analyzer

REPOSITORY = Path(__file__).parent.parent
TOP_LEVEL = {
    "DEVELOPERS.md",
    "README.md",
    "analyzer",
    "docs",
    "pyproject.toml",
    "reports",
    "sample_results",
    "tests",
}
UNFINISHED = ["TO" + "DO", "FIX" + "ME", "XX" + "X", "NotImplemented" + "Error", "x" + "fail"]
PRODUCT_TEXT = ("*.py", "*.toml", "*.md", "*.csv", "*.html", "*.js", "*.css")


def _run(*command):
    return subprocess.run(command, cwd=REPOSITORY, capture_output=True, text=True, check=False, timeout=280)


def _told(done):
    return f"{' '.join(map(str, done.args))}\n{done.stdout}{done.stderr}"


def _texts():
    for folder in ("analyzer", "docs", "tests", "sample_results"):
        for pattern in PRODUCT_TEXT:
            yield from (REPOSITORY / folder).rglob(pattern)
    yield from REPOSITORY.glob("*.md")
    yield REPOSITORY / "pyproject.toml"


def _product_lines():
    for path in _texts():
        raw = path.read_bytes()
        for number, line in enumerate(raw.decode("utf-8", errors="replace").splitlines(), start=1):
            yield f"{path.relative_to(REPOSITORY)}:{number}", line


def test_top_level_holds_what_the_developers_page_says():
    found = {path.name for path in REPOSITORY.iterdir() if not path.name.startswith(".")}
    assert found == TOP_LEVEL


def test_public_names_are_these():
    assert analyzer.__all__ == ["Analysis", "__version__", "analyze"]
    assert all(getattr(analyzer, name) is not None for name in analyzer.__all__)


def test_every_module_imports():
    modules = sorted((REPOSITORY / "analyzer").rglob("*.py"))
    names = [".".join(path.relative_to(REPOSITORY).with_suffix("").parts) for path in modules]
    assert names
    for name in names:
        if not name.endswith("__main__"):
            importlib.import_module(name.removesuffix(".__init__"))


def test_every_module_says_what_it_is_for():
    silent = [
        str(path.relative_to(REPOSITORY))
        for path in (REPOSITORY / "analyzer").rglob("*.py")
        if not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert silent == []


def test_ruff_finds_nothing():
    done = _run(sys.executable, "-m", "ruff", "check", "--no-cache", ".")
    assert done.returncode == 0, _told(done)


def test_ruff_would_format_nothing():
    done = _run(sys.executable, "-m", "ruff", "format", "--no-cache", "--check", ".")
    assert done.returncode == 0, _told(done)


@pytest.mark.slow
def test_types_hold(tmp_path):
    done = _run(sys.executable, "-m", "mypy", "--cache-dir", str(tmp_path))
    assert done.returncode == 0, _told(done)


def test_rooms_import_downward_only():
    here = Path(sys.executable).parent / "lint-imports"
    command = str(here) if here.exists() else shutil.which("lint-imports")
    assert command, "import-linter is missing: install the extra named test"
    done = _run(command, "--no-cache")
    assert done.returncode == 0, _told(done)


def test_nothing_is_left_unfinished():
    marks = re.compile("|".join(rf"\b{mark}\b" for mark in UNFINISHED))
    assert [place for place, line in _product_lines() if marks.search(line)] == []


def test_no_path_of_one_machine_stands_in_the_text():
    machine = re.compile(r"(?<![\w.])/(?:work|home|Users|root)/")
    places = [place for place, line in _product_lines() if machine.search(line)]
    assert [place for place in places if not place.startswith("tests/test_house.py:")] == []


def test_links_between_pages_lead_somewhere():
    link = re.compile(r"\]\((?!https?://|mailto:|#)([^)#\s]+)")
    pages = [
        *REPOSITORY.glob("*.md"),
        *(REPOSITORY / "docs").rglob("*.md"),
        REPOSITORY / "sample_results" / "README.md",
    ]
    broken = [
        f"{page.relative_to(REPOSITORY)}: {target}"
        for page in pages
        for target in link.findall(page.read_text(encoding="utf-8"))
        if not (page.parent / target).exists()
    ]
    assert broken == []
