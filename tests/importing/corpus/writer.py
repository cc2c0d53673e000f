"""All layouts, family by family, and their files on disk."""

from __future__ import annotations

import importlib
from pathlib import Path

from corpus.layout import registered

FAMILIES = (
    "fiber_wide", "fiber_long", "fiber_heads", "fiber_furniture", "fiber_forms", "fiber_files", "fiber_cells",
    "fiber_tests", "fiber_languages", "copper_pairs", "copper_sweeps", "copper_spellings",
)  # fmt: skip


def all_layouts():
    """Every layout; names are unique."""
    for family in FAMILIES:
        importlib.import_module(f"corpus.{family}")
    found = sorted(registered(), key=lambda layout: FAMILIES.index(layout.write.__module__.removeprefix("corpus.")))
    names = [layout.name for layout in found]
    if len(set(names)) != len(names):
        raise ValueError(f"names used twice: {sorted({name for name in names if names.count(name) > 1})}")
    return found


def write(layout, folder):
    """The layout's files below the folder; their paths in order."""
    folder = Path(folder)
    paths = []
    for name, data in layout.files().items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        paths.append(path)
    return paths
