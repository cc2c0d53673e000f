"""Writes the invented scene of `sample_results/` again, byte for byte, from its seed.

    python tests/scene/make_scene.py             the folder in the repository, and tests/scene/expected*.csv
    python tests/scene/make_scene.py FOLDER      the scene alone, into FOLDER

Needs numpy and xlsxwriter; nothing of the product is imported. Read in this order: `cables.csv`, `troubles.csv`,
`files.csv` and `parameters.toml` (what there is), `scene_physics.py` (how a reading comes about), `scene_layouts.py`
(how a crew writes it down), `scene_truth.py` (what the verdict must be). The twisted-pair links have files of the same
kinds, named `pair_*` and `scene_pair*`; `scene_pair_limits.py` holds the limits that they are judged by.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

import scene_campus
import scene_layouts
import scene_pair_layouts
import scene_pair_readings
import scene_pair_truth
import scene_pairs
import scene_readme
import scene_trace
import scene_truth
from scene_campus import HERE, Cable
from scene_physics import Shot, shots
from scene_truth import Facts

REPOSITORY = HERE.parent.parent
JOB = "campus/"
DIRECTIONS = {"A-B B-A": ["A-B", "B-A"], "A-B": ["A-B"], "not stated": [""], "as before": []}
"""Directions that an export states; a test made again is made in those that the first one had."""
EXPECTED_COLUMNS = (
    "source", "link", "cable", "strand", "verdict", "least_margin_db", "least_margin_db_at_schedule_length",
    "wavelength_nm", "direction", "loss_db", "limit_db", "attempts", "files_in_force", "planted",
)  # fmt: skip

EXPECTED_PAIR_COLUMNS = (
    "source", "link", "grade", "configuration", "verdict", "proved", "least_margin_db", "parameter", "pair", "end",
    "frequency_mhz", "value_db", "limit_db", "wire_map", "planted",
)  # fmt: skip


def plans() -> list[dict[str, Any]]:
    """Every export to be written: file, layout, cables, start, directions, decimals, length_m, shows_length, about."""
    with (HERE / "files.csv").open(encoding="utf-8", newline="") as lines:
        rows: list[dict[str, Any]] = list(csv.DictReader(lines))
    for row in rows:
        row["cables"] = row["cables"].split()
        row["directions"] = DIRECTIONS[row["directions"]]
        row["start"] = datetime.fromisoformat(row["start"])
        row["decimals"] = int(row["decimals"])
        row["length_m"] = float(row["length_m"]) if row["length_m"] else None
        row["shows_length"] = row["shows_length"] == "yes"
    return rows


def pair_plans() -> list[dict[str, Any]]:
    """Every export of twisted pair: file, layout, links, start, tested_to (a grade, where not the ordered one), about."""
    found: list[dict[str, Any]] = list(scene_pairs.rows("pair_files.csv"))
    for row in found:
        row["links"] = row["links"].split()
        row["start"] = datetime.fromisoformat(row["start"])
    return found


def single_cables() -> dict[str, Cable]:
    """The cables of the files that are checked without a job."""
    return scene_campus.cables("single_cables.csv")


def readings(plan: dict[str, Any]) -> list[Shot]:
    """Every reading of one export, in the order in which it is written."""
    before = {label: row["directions"] for row in plans() if row["directions"] for label in row["cables"]}
    known = scene_campus.cables() | single_cables()
    planted, numbers, order = scene_campus.troubles(), scene_campus.parameters(), list(known)
    retest = plan["layout"] == "labeled_long_csv"
    found: list[Shot] = []
    for label in plan["cables"]:
        stated = plan | {"directions": plan["directions"] or before[label]}
        found += shots(known[label], stated, planted, order.index(label), numbers, retest=retest)
    return found


def write_scene(folder: Path) -> None:
    """Write exports, schedule, job.toml and README below `folder`."""
    for plan in plans():
        path = folder / plan["file"]
        path.parent.mkdir(parents=True, exist_ok=True)
        layout, made = getattr(scene_layouts, plan["layout"]), readings(plan)
        if path.suffix == ".xlsx":
            layout(path, made)
        else:
            path.write_bytes(layout(made))
    for plan in pair_plans():
        path = folder / plan["file"]
        write, made_pairs = getattr(scene_pair_layouts, plan["layout"]), scene_pair_readings.tested(plan)
        if path.suffix == ".xlsx":
            write(path, made_pairs)
        else:
            path.write_bytes(write(made_pairs))
    (folder / scene_trace.FILE).write_bytes(scene_trace.trace_csv())
    scheduled = [*scene_campus.cables().values(), *scene_pairs.links().values()]
    scene_layouts.schedule_xlsx(folder / JOB / "schedule.xlsx", scheduled)
    (folder / JOB / "job.toml").write_bytes((HERE / "job.toml").read_bytes())
    (folder / "README.md").write_bytes(scene_readme.text(plans(), pair_plans()).encode())


def expected_links() -> list[dict[str, Any]]:
    """The truth about every link: those of the job first, scheduled order, then each single file."""
    evidence = [plan for plan in plans() if plan["file"].startswith(JOB)]
    by_label: dict[str, list[Shot]] = {}
    silent = {plan["file"] for plan in plans() if not plan["shows_length"]}
    for plan in evidence:
        for shot in readings(plan):
            by_label.setdefault(shot.label, []).append(shot)
    rows = []
    for cable in scene_campus.cables().values():
        if cable.area == "Phase 2":
            continue
        labels = [cable.link(strand) for strand in range(1, cable.strands + 1)]
        foreign = [label for label, made in by_label.items() if made[0].cable == cable and label not in labels]
        rows += [_row("campus", label, cable, by_label.get(label, []), silent) for label in [*labels, *foreign]]
    for plan in plans():
        if not plan["file"].startswith(JOB):
            strands = scene_layouts.by_strand(readings(plan))
            rows += [_row(plan["file"], made[0].label, made[0].cable, made, silent) for made in strands]
    return rows


def _row(source: str, label: str, cable: Cable, made: list[Shot], silent: set[str]) -> dict[str, Any]:
    in_job = source == "campus"
    latest = max(made, key=lambda shot: shot.tested_at, default=None)
    says_construction = in_job or source.endswith("failures.csv")
    says_counts = in_job or "trunk" in source
    facts = Facts(
        cable_type=cable.cable_type if says_construction else cable.type,
        file_length_m=latest.length_m if latest and latest.file not in silent else None,
        schedule_length_m=cable.length_m if in_job else None,
        mated_pairs=cable.mated_pairs if says_counts else 2,
        splices=cable.splices if says_counts else 0,
    )
    judged = scene_truth.judge_link(made, cable, facts, scene_truth.ACCURACY_DB if in_job else 0.0)
    trouble = scene_campus.troubles().get(label)
    head = {"source": source, "link": label, "cable": cable.cable, "strand": int(label.rsplit("-", 1)[1])}
    return {**head, **judged, "planted": trouble.trouble if trouble else ""}


def expected_files() -> list[dict[str, Any]]:
    """The truth about every export: its data rows, and the loss cells in them that are not empty."""
    long = {"long_csv", "labeled_long_csv", "long_xlsx"}
    rows = []
    for plan in plans():
        made = readings(plan)
        data_rows = len(made) if plan["layout"] in long else len(scene_layouts.by_strand(made))
        rows.append({"file": plan["file"], "data_rows": data_rows, "loss_cells": len(made)})
    return rows


def expected_pair_files() -> list[dict[str, Any]]:
    """The truth about every export of twisted pair: its data rows, and the reading cells in them that are not empty."""
    return [
        {"file": plan["file"], **scene_pair_layouts.accounts(plan["layout"], scene_pair_readings.tested(plan))}
        for plan in pair_plans()
    ]


def expected_pair_links() -> list[dict[str, Any]]:
    """The truth about every twisted-pair link: those of the job in scheduled order, then each single file."""
    found = {}
    for plan in pair_plans():
        source = "campus" if plan["file"].startswith(JOB) else plan["file"]
        for one in scene_pair_readings.tested(plan):
            if plan["layout"] == scene_pair_truth.SWEEP or (source, one.link.label) not in found:
                found[source, one.link.label] = one
    scheduled = [("campus", link) for link in scene_pairs.links().values()]
    single = [(source, one.link) for (source, _), one in found.items() if source != "campus"]
    return [
        scene_pair_truth.expected(source, link, found.get((source, link.label))) for source, link in scheduled + single
    ]


def _text(value: object) -> object:
    return "" if value is None else f"{value:.6f}" if isinstance(value, float) else value


def write_table(path: Path, rows: list[dict[str, Any]], columns: Iterable[str]) -> None:
    """Write rows as CSV; floats with six decimals, nothing where there is no value."""
    with path.open("w", encoding="utf-8", newline="") as lines:
        table = csv.DictWriter(lines, list(columns), lineterminator="\n")
        table.writeheader()
        table.writerows({name: _text(value) for name, value in row.items()} for row in rows)


def write_expected(folder: Path) -> None:
    """Write the expected links, and the expected rows and cells of each file, into `folder`."""
    write_table(folder / "expected.csv", expected_links(), EXPECTED_COLUMNS)
    write_table(folder / "expected_pairs.csv", expected_pair_links(), EXPECTED_PAIR_COLUMNS)
    write_table(folder / "expected_files.csv", expected_files(), ("file", "data_rows", "loss_cells"))
    write_table(folder / "expected_pair_files.csv", expected_pair_files(), ("file", "data_rows", "reading_cells"))


if __name__ == "__main__":
    write_scene(Path(sys.argv[1]) if len(sys.argv) > 1 else REPOSITORY / "sample_results")
    if len(sys.argv) == 1:
        write_expected(HERE)
