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
import scene_pair_limits
import scene_pair_readings
import scene_pairs
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
    for name in ("expected.csv", "expected_pairs.csv", "expected_files.csv", "expected_pair_files.csv"):
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
    assert all(link in text for link in [*scene_campus.troubles(), *scene_pairs.troubles()])
    assert all(plan["file"] in text for plan in [*make_scene.plans(), *make_scene.pair_plans()])


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


@pytest.fixture(scope="module")
def pair_links():
    return make_scene.expected_pair_links()


def test_every_twisted_pair_link_has_one_expected_row(pair_links):
    campus = [row["link"] for row in pair_links if row["source"] == "campus"]
    assert campus == list(scene_pairs.links())
    assert len(campus) == len(set(campus)) == 81


def test_only_planted_troubles_of_twisted_pair_fail(pair_links):
    got = {row["link"]: row["verdict"] for row in pair_links if row["verdict"] not in {"pass", "incomplete"}}
    assert got == {link: "no result" if link == "DP-126" else "fail" for link in scene_pairs.troubles()}


def test_old_cable_tested_to_another_category_is_proved_by_bounds_or_not_at_all(pair_links):
    """None of them fails, though most miss the category that the tester had loaded."""
    old = {row["link"]: (row["verdict"], row["proved"]) for row in pair_links if row["link"].startswith("OL-1")}
    assert set(old.values()) == {("pass", "5e"), ("pass", "6"), ("incomplete", "")}
    assert {link for link, (_, proved) in old.items() if proved == "6"} == {"OL-108", "OL-109", "OL-110"}


def test_no_verdict_of_a_sweep_hinges_on_an_exempted_point(pair_links):
    """The least margin of each link stands where insertion loss is above the thresholds that exempt echoes."""
    least_db = {row["link"]: row["least_margin_db"] for row in pair_links if row.get("least_margin_db") is not None}
    plans = [plan for plan in make_scene.pair_plans() if plan["layout"] == "sweep_csv"]
    for one in (scene_pair_readings.tested(plan)[0] for plan in plans):
        for key, curve in one.sweep.items():
            room = scene_pair_limits.margin(key[0], "6A", one.f_mhz, curve)
            exempt = ~scene_pair_readings.counts(key[0], one.sweep)
            assert room[exempt].min(initial=np.inf) > least_db[one.link.label], (one.link.label, key)


@pytest.mark.parametrize(
    ("parameter", "grade", "f_mhz", "recalled"),
    [
        # tabulated permanent link limits of categories 5e, 6 and 6A as recalled, apart from the equations
        ("NEXT", "5e", 100, 32.3), ("NEXT", "6", 100, 41.8), ("NEXT", "6A", 250, 35.3), ("NEXT", "6A", 500, 26.7),
        ("PSNEXT", "6", 250, 32.7), ("return loss", "5e", 100, 12.0), ("return loss", "6", 100, 14.0),
        ("return loss", "6A", 250, 10.0), ("insertion loss", "5e", 100, 21.0), ("insertion loss", "6", 250, 31.1),
        ("ACR-F", "5e", 100, 18.6), ("ACR-F", "6", 250, 16.2), ("PSACR-F", "6A", 100, 21.2), ("delay skew", "6", 1, 44),
        ("propagation delay", "6", 10, 498),
    ],
)  # fmt: skip
def test_limits_of_pairs_by_a_second_recollection(parameter, grade, f_mhz, recalled):
    """From memory, like the equations: support and no proof. Within what rounding and recollection leave open."""
    computed = float(scene_pair_limits.limit(parameter, grade, f_mhz))
    assert computed == pytest.approx(recalled, abs=0.5 if parameter == "propagation delay" else 0.1)


def test_power_sum_of_equal_pairs_is_ten_log_three_below_one():
    """Three equal powers: 10 lg 3 = 4.77 dB, by the definition of a sum of powers."""
    one = np.array([40.0])
    assert scene_pairs.power_sum(one, one, one)[0] == pytest.approx(40 - 10 * np.log10(3), abs=1e-12)


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
