"""The scene in the repository is what its generator writes, and holds the troubles that its README tells."""

import csv
import shutil
import subprocess
import sys
import zipfile
from collections import Counter
from pathlib import Path

import make_scene
import numpy as np
import pytest
import scene_campus
import scene_physics
import scene_truth
from scene_truth import Facts

REPOSITORY = Path(__file__).parent.parent.parent
SAMPLES = REPOSITORY / "sample_results"
LARGEST_SCENE_BYTES = 400_000


def _files(folder):
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def _content(path):
    """Bytes of a file; of a workbook the bytes of each member, since compression differs between builds of zlib."""
    if path.suffix != ".xlsx":
        return path.read_bytes()
    with zipfile.ZipFile(path) as book:
        return {name: book.read(name) for name in book.namelist()}


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("scene")
    make_scene.write_scene(folder)
    return folder


@pytest.fixture(scope="module")
def links():
    return make_scene.expected_links()


def test_the_repository_holds_what_the_generator_writes(made):
    assert _files(SAMPLES) == _files(made)
    differ = [name for name in _files(made) if _content(SAMPLES / name) != _content(made / name)]
    assert differ == []


def test_expected_tables_are_what_the_generator_writes(tmp_path):
    make_scene.write_expected(tmp_path)
    for name in ("expected.csv", "expected_files.csv"):
        assert (tmp_path / name).read_bytes() == (REPOSITORY / "tests" / "scene" / name).read_bytes()


def test_the_script_writes_into_the_folder_named_and_nowhere_else(tmp_path):
    script = tmp_path / "scripts"
    shutil.copytree(REPOSITORY / "tests" / "scene", script, ignore=shutil.ignore_patterns("__pycache__"))
    before = {name: (script / name).stat().st_mtime_ns for name in _files(script)}
    command = [sys.executable, "-B", str(script / "make_scene.py"), "out"]
    subprocess.run(command, cwd=tmp_path, check=True, timeout=60)
    assert {path.name for path in tmp_path.iterdir()} == {"scripts", "out"}
    assert {name: (script / name).stat().st_mtime_ns for name in _files(script)} == before
    assert _files(tmp_path / "out") == _files(SAMPLES)


def test_the_scene_stays_small(made):
    assert sum((made / name).stat().st_size for name in _files(made)) < LARGEST_SCENE_BYTES


def test_readme_says_that_all_is_invented_and_names_every_trouble():
    text = (SAMPLES / "README.md").read_text(encoding="utf-8")
    assert "Everything here is invented" in text
    assert all(link in text for link in scene_campus.troubles())
    assert all(plan["file"] in text for plan in make_scene.plans())


def test_every_link_of_the_scope_has_one_expected_row(links):
    campus = [row["link"] for row in links if row["source"] == "campus"]
    in_scope = [cable for cable in scene_campus.cables().values() if cable.area != "Phase 2"]
    scheduled = [cable.link(strand) for cable in in_scope for strand in range(1, cable.strands + 1)]
    assert len(campus) == len(set(campus))
    assert set(campus) - set(scheduled) == {"TB-2O1-14"}
    assert set(scheduled) <= set(campus)


def test_only_planted_troubles_fail(links):
    """Verdicts other than pass stand exactly where trouble was planted; the physics adds none of its own."""
    got = {row["link"]: row["verdict"] for row in links if row["verdict"] != "pass" and row["cable"] != "TB-207"}
    assert got == {
        "TB-101-07": "fail",
        "TB-102-33": "fail",
        "TB-103-09": "fail",
        "TB-202-17": "fail",
        "TB-204-12": "marginal",
        "TB-201-14": "no result",
        "TB-204-48": "no result",
        "TB-206-03": "incomplete",
        "TB-206-08": "incomplete",
        "TB-301-09": "incomplete",
        "TB-301-10": "incomplete",
        "TB-301-11": "incomplete",
        "TB-301-12": "incomplete",
        "SF-102-04": "fail",
        "SF-102-08": "fail",
        "SF-102-11": "fail",
    }
    without_length = [row["verdict"] for row in links if row["cable"] == "TB-207"]
    assert without_length == ["incomplete"] * 24


def test_totals_of_the_campus(links):
    count = Counter(row["verdict"] for row in links if row["source"] == "campus")
    assert count == {"pass": 252, "marginal": 1, "fail": 4, "incomplete": 30, "no result": 2}


def test_retests_are_in_force(links):
    again = {row["link"]: row for row in links if row["attempts"] == 2}
    assert set(again) == {"TB-102-40", "TB-201-05", "TB-202-17"}
    assert {row["files_in_force"] for row in again.values()} == {"campus/evidence/retest_2026-09-28.csv"}


def test_the_looser_limit_of_a_crew_calls_the_bad_splice_a_pass():
    text = (SAMPLES / "campus/evidence/konferenzhaus_TB-102.csv").read_text(encoding="cp1252")
    rows = {row["Bezeichnung"]: row for row in csv.DictReader(text.splitlines(), delimiter=";")}
    assert rows["TB-102-33"]["Bewertung"] == "bestanden"
    assert rows["TB-102-40"]["Bewertung"] == "nicht bestanden"


@pytest.mark.parametrize(
    ("facts", "wavelength_nm", "by_hand_db"),
    [
        (Facts("OS2 outside plant", 420, 420, 2, 2), 1550, 2.268),  # 0.42 km at 0.4 dB/km, 2 pairs, 2 splices
        (Facts("OS2 indoor-outdoor", 330, 330, 2, 0), 1310, 1.665),  # 0.33 km at 0.5 dB/km, 2 pairs
        (Facts("OM4", 165, 165, 3, 0), 850, 2.745),  # 0.165 km at 3.0 dB/km, 3 pairs
        (Facts("OM3", 268, 240, 2, 0), 1300, 1.86),  # 0.24 km at 1.5 dB/km, 2 pairs: the shorter length governs
    ],
)
def test_limits_by_hand(facts, wavelength_nm, by_hand_db):
    length_m = scene_truth.governing_length_m(facts)
    assert scene_truth.limit_db(facts, wavelength_nm, length_m) == pytest.approx(by_hand_db, abs=1e-12)


def test_lognormal_has_the_mean_and_percentile_asked_for():
    location, scale = scene_physics.lognormal(0.12, 0.25)
    draws = np.exp(location + scale * np.random.default_rng(1).standard_normal(400_000))
    assert draws.mean() == pytest.approx(0.12, rel=0.01)
    assert np.quantile(draws, 0.97) == pytest.approx(0.25, rel=0.01)


def test_nothing_of_the_product_is_imported_by_the_generator():
    """The expected verdicts are an outside check: they must not lean on the code that they check."""
    code = "import sys; sys.path.insert(0, sys.argv[1]); import make_scene; sys.exit('analyzer' in sys.modules)"
    command = [sys.executable, "-c", code, str(REPOSITORY / "tests" / "scene")]
    assert subprocess.run(command, cwd=REPOSITORY, check=False, timeout=60).returncode == 0
