"""Order of columns and rows never matters; dropping or repeating rows changes what is dropped or repeated, and nothing else."""

import csv
import io
import random
import sys
from pathlib import Path

import pytest

from analyzer.errors import InputError
from analyzer.importing import Source, read_source

sys.path.insert(0, str(Path(__file__).parent))
import layout_writer as truth

HEAD = ["Link", "Fiber type", "Length (m)", "850 nm A-B", "850 nm B-A", "1300 nm A-B", "1300 nm B-A"]
ROWS = [[link, truth.TYPE, truth.LENGTH[link], *truth.losses(link)] for link in truth.LINKS]


def values(rows):
    buffer = io.StringIO()
    csv.writer(buffer, delimiter=";", lineterminator="\n").writerows(rows)
    imported = read_source(Source("a.csv", buffer.getvalue().encode()))
    assert imported.set_aside.empty
    joined = imported.readings.merge(imported.records[["record", "label", "length_m"]], on="record")
    return sorted(
        zip(
            joined["label"],
            joined["wavelength_nm"],
            joined["direction"],
            joined["value"],
            joined["length_m"],
            strict=True,
        )
    )


@pytest.mark.parametrize("seed", range(12))
def test_columns_and_rows_in_any_order(seed):
    mix = random.Random(seed)
    order = mix.sample(range(len(HEAD)), len(HEAD))
    rows = mix.sample(ROWS, len(ROWS))
    shuffled = [[line[i] for i in order] for line in [HEAD, *rows]]
    assert values(shuffled) == values([HEAD, *ROWS])


@pytest.mark.parametrize("seed", range(8))
def test_rows_dropped_and_repeated(seed):
    mix = random.Random(seed)
    rows = [line for line in ROWS for _ in range(mix.choice([0, 1, 1, 2]))]
    assert len(values([HEAD, *rows])) == 4 * len(rows)


@pytest.mark.parametrize("name", truth.LAYOUTS)
def test_a_truncated_file_is_read_or_refused_and_adds_up(name):
    file, write, _ = truth.LAYOUTS[name]
    data = write()
    for part in (0.2, 0.5, 0.8):
        try:
            imported = read_source(Source(file, data[: int(len(data) * part)]))
        except InputError:
            continue
        assert imported.file["rows_read"] == imported.file["rows_used"] + imported.file["rows_set_aside"]
        aside = imported.set_aside
        assert imported.file["cells_read"] == len(imported.readings) + (aside["counts_as"] == "reading cell").sum()
