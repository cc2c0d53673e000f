"""The package as a stranger gets it: a wheel in a fresh environment, used from an empty folder."""

import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

import analyzer

REPOSITORY = Path(__file__).parent.parent
DATA_FILES = ("*.css", "*.csv", "*.html", "*.js", "*.json", "*.toml")
pytestmark = [pytest.mark.package, pytest.mark.timeout(1200)]


def _run(*command, cwd):
    env = {name: value for name, value in os.environ.items() if name not in {"PYTHONPATH", "VIRTUAL_ENV"}}
    return subprocess.run(
        [str(part) for part in command], cwd=cwd, env=env, capture_output=True, text=True, check=False, timeout=900
    )


def _told(done):
    return f"{' '.join(done.args)}\n{done.stdout}{done.stderr}"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    done = _run(sys.executable, "-m", "pip", "wheel", ".", "--no-deps", "--quiet", "-w", folder, cwd=REPOSITORY)
    assert done.returncode == 0, _told(done)
    (made,) = folder.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def cableproof(wheel, tmp_path_factory):
    room = tmp_path_factory.mktemp("room")
    venv.create(room, with_pip=True)
    scripts = room / ("Scripts" if os.name == "nt" else "bin")
    done = _run(scripts / "python", "-m", "pip", "install", "--quiet", wheel, cwd=room)
    assert done.returncode == 0, _told(done)
    return scripts / "cableproof"


def test_wheel_holds_the_product_and_its_samples_alone(wheel):
    with zipfile.ZipFile(wheel) as book:
        names = book.namelist()
    assert {name.split("/")[0].split("-")[0] for name in names} == {"analyzer", "cableproof"}
    samples = [
        str(path.relative_to(REPOSITORY)) for path in (REPOSITORY / "sample_results").rglob("*") if path.is_file()
    ]
    assert {f"analyzer/{name}" for name in samples} <= set(names)
    data = [path for kind in DATA_FILES for path in (REPOSITORY / "analyzer").rglob(kind)]
    assert {str(path.relative_to(REPOSITORY)) for path in data} <= set(names)


def test_version_is_told(cableproof, tmp_path):
    done = _run(cableproof, "--version", cwd=tmp_path)
    assert done.returncode == 0, _told(done)
    assert analyzer.__version__ in done.stdout


def test_help_names_the_commands(cableproof, tmp_path):
    done = _run(cableproof, "--help", cwd=tmp_path)
    assert done.returncode == 0, _told(done)
    assert all(command in done.stdout for command in ("check", "report", "limits", "demo"))


def test_demo_leaves_a_page_behind(cableproof, tmp_path):
    done = _run(cableproof, "demo", cwd=tmp_path)
    assert done.returncode == 0, _told(done)
    pages = list((tmp_path / "reports").rglob("*.html"))
    assert pages, _told(done)
    assert all("</html>" in page.read_text(encoding="utf-8") for page in pages)
    assert {path.name for path in tmp_path.iterdir()} == {"reports"}
