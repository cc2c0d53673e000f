"""Values files: what loads, what does not, and what they say about themselves."""

import shutil
import subprocess
import sys
import time
from pathlib import Path

import pandas as pd
import pytest

from analyzer import standards
from analyzer.errors import StandardsError
from analyzer.standards.tables import TABLES
from analyzer.standards.values import FOLDER, Values

ROW_IDS = Path(__file__).with_name("data") / "row_ids.txt"
FRAMES = [name for name in TABLES if name != "sources"]


@pytest.fixture
def folder(tmp_path):
    return Path(shutil.copytree(FOLDER, tmp_path / "values"))


def change(folder, file, old, new):
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def line_of(folder, file, text):
    lines = (folder / file).read_text(encoding="utf-8").splitlines()
    return next(number for number, line in enumerate(lines, start=1) if text in line)


@pytest.mark.parametrize("name", TABLES)
def test_every_table_loads_as_a_typed_frame(name):
    frame = getattr(standards.load(), name)
    table = TABLES[name]
    assert tuple(frame.columns) == table.columns
    assert len(frame) > 0
    assert all(frame[column].dtype == "float64" for column in table.numbers)
    assert all(frame[column].dtype == "int16" for column in table.counts)
    assert all(isinstance(frame[column].dtype, pd.StringDtype) for column in ("source_id",))


def test_row_ids_are_unique_across_files_and_none_was_lost():
    values = standards.load()
    ids = [row["row_id"] for name in FRAMES for row in values.rows(name)]
    assert len(ids) == len(set(ids))
    once = ROW_IDS.read_text(encoding="utf-8").split()
    assert set(once) <= set(ids), "a row id is permanent: withdraw a row by its note, never by deleting it"
    assert all(len(row_id) <= 32 for row_id in ids)


def test_every_source_is_used_and_every_row_of_an_edition_names_a_known_one():
    values = standards.load()
    used = {row["source_id"] for name in FRAMES for row in values.rows(name)}
    assert used == {row["source_id"] for row in values.rows("sources")}
    editions = {row["edition"]: row["document"] for row in values.rows("editions")}
    for row in values.rows("attenuation"):
        assert editions[row["edition"]] == row["document"], row["row_id"]


def test_row_ids_say_what_the_row_is():
    for row in standards.load().rows("attenuation"):
        assert row["row_id"].endswith(f"-{row['wavelength_nm']}")
        kinds = {None: (), "inside plant": ("ISP",), "indoor-outdoor": ("IO",), "outside plant": ("OSP",)}
        assert all(kind in row["row_id"].split("-") for kind in kinds[row["construction"]]), row["row_id"]


@pytest.mark.parametrize(
    ("file", "old", "new", "part"),
    [
        ("fiber_attenuation.csv", ",memory,tia568_3_d,,\n", ",memory,,,\n", "no source_id; a value without a source"),
        ("fiber_attenuation.csv", ",memory,tia568_3_d,,\n", ",memory,nowhere,,\n", "'nowhere' does not stand in"),
        ("fiber_attenuation.csv", ",memory,tia568_3_d,,\n", ",heard,tia568_3_d,,\n", "how_known 'heard' is none of"),
        ("fiber_attenuation.csv", ",memory,tia568_3_d,,\n", ",,tia568_3_d,,\n", "no how_known"),
        ("fiber_attenuation.csv", "OM1,,850,3.5,TIA", "OM1,,850,3.x,TIA", "'3.x' is no number"),
        ("fiber_attenuation.csv", "OM1,,850,3.5,TIA", "OM1,,850,-3.5,TIA", "'-3.5' is no number of zero or more"),
        ("fiber_attenuation.csv", "OM1,,850,3.5,TIA", "OM1,,850,,TIA", "no max_attenuation_db_per_km"),
        ("fiber_attenuation.csv", "OM1,,850,3.5,TIA", "OM1,,850,3.5,x,TIA", "cells where"),
        ("fiber_attenuation.csv", "FA-TIA-E-OM1-1300", "FA-TIA-E-OM1-850", "stands twice"),
        ("fiber_attenuation.csv", "FA-TIA-E-OM1-1300", "XX-TIA-E-OM1-1300", "must begin with FA-"),
        ("fiber_components.csv", "PAIR-MM,mated pair,multimode", "PAIR-MM,mated pair,glass", "'glass' is none of"),
        ("reference_methods.csv", ",2,yes,", ",two,yes,", "no whole number"),
        ("reference_methods.csv", ",2,yes,", ",2,maybe,", "must be yes or no"),
    ],
)
def test_a_damaged_row_does_not_load_and_its_line_is_named(folder, file, old, new, part):
    change(folder, file, old, new)
    wanted = line_of(folder, file, new.strip("\n")) if new.strip("\n") != "FA-TIA-E-OM1-850" else None
    name = next(name for name, table in TABLES.items() if table.file == file)
    with pytest.raises(StandardsError) as caught:
        standards.load(folder).rows(name)
    assert part in str(caught.value)
    assert str(caught.value).startswith(f"{file}, line ")
    if wanted is not None:
        assert f"line {wanted}:" in str(caught.value)


def test_a_missing_file_and_a_changed_header_are_named(folder):
    (folder / "wavelengths.csv").unlink()
    change(folder, "end_types.csv", "row_id,end_type", "row,end_type")
    values = standards.load(folder)
    with pytest.raises(StandardsError, match=r"wavelengths\.csv"):
        values.rows("wavelengths")
    with pytest.raises(StandardsError, match=r"end_types\.csv, line \d+: the columns must be row_id"):
        values.rows("ends")


def test_overrides_are_own_and_keep_what_was_published():
    values = standards.load(overrides={"FC-TIA-E-PAIR-MM": 0.5})
    row = values.row("FC-TIA-E-PAIR-MM")
    assert (row["max_loss_db"], row["published"], row["how_known"]) == (0.5, 0.75, "own")
    assert standards.load().row("FC-TIA-E-PAIR-MM")["max_loss_db"] == 0.75
    frame = values.components.set_index("row_id")
    assert frame.loc["FC-TIA-E-PAIR-MM", "max_loss_db"] == 0.5
    assert frame.loc["FC-TIA-E-PAIR-MM", "how_known"] == "own"


def test_an_empty_value_can_be_given_by_the_job():
    assert standards.load().row("FC-TIA-E-REFSTD-MM")["max_loss_db"] is None
    values = standards.load(overrides={"FC-TIA-E-REFSTD-MM": 0.4})
    assert values.row("FC-TIA-E-REFSTD-MM")["max_loss_db"] == 0.4


@pytest.mark.parametrize(
    ("overrides", "part"),
    [
        ({"FA-TIA-E-OM4-580": 3.0}, "nearest known are FA-TIA-E-OM4-850"),
        ({"nonsense": 3.0}, "no value row 'nonsense'"),
        ({"FE-ASNZS-OM3-850": 3.0}, "governs no limit"),
        ({"FA-TIA-E-OM4-850": -1.0}, "zero or more"),
        ({"FA-TIA-E-OM4-850": float("nan")}, "zero or more"),
    ],
)
def test_overrides_that_make_no_sense(overrides, part):
    with pytest.raises(StandardsError, match=r".") as caught:
        standards.load(overrides=overrides)
    assert part in str(caught.value)


def test_default_is_loaded_once():
    assert standards.load() is standards.load()


def test_rows_need_no_pandas():
    code = "import sys; from analyzer.standards import load; load().rows('attenuation'); print('pandas' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_loading_what_a_run_needs_is_quick():
    def once():
        begun = time.process_time()
        values = Values()
        for name in ("attenuation", "components", "references", "ends", "admissible", "wavelengths"):
            getattr(values, name)
        _ = standards.allowances(values).coefficients
        return time.process_time() - begun

    assert min(once() for _ in range(5)) < 0.040


def test_room_shows_itself():
    done = subprocess.run([sys.executable, "-m", "analyzer.standards"], capture_output=True, text=True, check=True)
    assert len(done.stdout.splitlines()) == 5
    assert "FA-TIA-E-OM4-850" in done.stdout
