"""The untouched evidence, the job it was judged by, and whatever lies in attachments/: copied, hashed, listed."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pandas as pd

from analyzer.importing.gather import JOB_FILE, STANDARD_INPUT, Gathered
from analyzer.job import CommandLine
from analyzer.report.package.bag import BagWriter
from analyzer.schema import Analysis

EVIDENCE: Final = "evidence/"
JOB: Final = "job/"
ATTACHMENTS: Final = "attachments/"
INDEX: Final = "evidence.csv"
OPTIONS: Final = "job/options.json"
INDEX_COLUMNS: Final = ("name", "path", "is_table", "sha256", "bytes")


def copy_evidence(bag: BagWriter, gathered: Gathered, analysis: Analysis) -> pd.DataFrame:
    """Copy every file of the evidence, an archive as the archive it is; returns the index: one row a file as read.

    Raises:
        EvidenceChanged: a file is no longer what was judged.
    """
    judged = dict(zip(analysis.files["name"], analysis.files["sha256"], strict=True))
    where: dict[Path | str, tuple[str, str]] = {}
    rows = []
    for found in gathered.evidence:
        key = found.path if found.data is None else found.name
        if key not in where:
            where[key] = _copy(bag, found, judged)
        path, digest = where[key]
        member = f"!{found.member}" if found.member is not None else ""
        rows.append((found.name, path + member, found.is_table, digest, 0))
    index = pd.DataFrame(rows, columns=list(INDEX_COLUMNS))
    index["sha256"] = index["name"].map(judged).fillna(index["sha256"])
    index["bytes"] = (
        index["name"]
        .map(dict(zip(analysis.files["name"], analysis.files["bytes"], strict=True)))
        .fillna(0)
        .astype("int64")
    )
    return index


def _copy(bag: BagWriter, found: Any, judged: dict[str, str]) -> tuple[str, str]:
    name = found.name.partition("!")[0] if found.member is not None else found.name
    path = bag.free_name(EVIDENCE + name.removeprefix("evidence/"))
    if found.data is not None:
        return path, bag.add(path, found.data)
    expected = judged.get(found.name) if found.member is None else None
    return path, bag.add_file(path, found.path, expected)


def copy_job(bag: BagWriter, gathered: Gathered, given: CommandLine) -> dict[str, str]:
    """Copy job.toml, schedule and column maps as they are, and write what the command line added, marked as such.

    Returns:
        Where each lies in the payload: keys job, schedule, columns (a map given by option) where they exist.
    """
    told: dict[str, str] = {}
    if gathered.job_path is not None:
        told["job"] = _keep(bag, gathered.job_path, JOB_FILE)
    if gathered.schedule is not None:
        told["schedule"] = _keep(bag, gathered.schedule, gathered.schedule.name)
    for path in (*gathered.maps, *gathered.marks):
        _keep(bag, path, path.name)
    if given.columns is not None:
        told["columns"] = _keep(bag, given.columns, given.columns.name)
    options = {
        "about": "Options of the command line: they stand above files, schedule and job.toml.",
        "said": {name: value for name, value in _said(given) if value is not None},
        "places": told,
        "whole_folder": gathered.is_folder,
    }
    bag.add(OPTIONS, (json.dumps(options, indent=2, ensure_ascii=False, sort_keys=True) + "\n").encode())
    return told


def _said(given: CommandLine) -> Iterator[tuple[str, Any]]:
    for field in dataclasses.fields(given):
        value = getattr(given, field.name)
        yield (
            field.name,
            (value.name if isinstance(value, Path) else list(value) if isinstance(value, tuple) else value),
        )


def _keep(bag: BagWriter, source: Path, name: str) -> str:
    path = bag.free_name(JOB + name)
    bag.add_file(path, source)
    return path


def attachments_in(folder: Path | None) -> list[Path]:
    """Files below attachments/ of the job folder, by name; none where there is no such folder."""
    root = folder / "attachments" if folder is not None else None
    if root is None or not root.is_dir():
        return []
    return sorted(
        (path for path in root.rglob("*") if path.is_file() and not path.name.startswith(".")),
        key=lambda path: path.as_posix(),
    )


def copy_attachments(bag: BagWriter, folder: Path | None) -> pd.DataFrame:
    """Copy what lies in attachments/ untouched; returns name, kind (the folder it lies in), path, sha256."""
    rows = []
    for source in attachments_in(folder):
        assert folder is not None
        name = source.relative_to(folder / "attachments").as_posix()
        path = bag.free_name(ATTACHMENTS + name)
        rows.append((name, name.partition("/")[0] if "/" in name else "", path, bag.add_file(path, source)))
    return pd.DataFrame(rows, columns=["name", "kind", "path", "sha256"], dtype="str")


def is_standard_input(gathered: Gathered) -> bool:
    """Whether some of the evidence came through a pipe."""
    return any(str(found.path) == STANDARD_INPUT for found in gathered.evidence)
