"""Any generic export becomes tidy tables.

Grid (file -> cells), blocks (tables in the cells), headings (what a column means), cells (texts -> values),
records (-> the tables of `analyzer.schema`).

Read `read.py` first: the whole way on one page. Heading words stand in `vocabulary.csv`, cell words in
`cell_words.csv`, the reasons for setting aside in `set_aside_codes.csv`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from analyzer.importing.source import (
    Decisions,
    EmptyFile,
    HeadingsOnly,
    Imported,
    NoTable,
    OwnOutput,
    ReadContext,
    Source,
    Tallies,
)

if TYPE_CHECKING:
    from analyzer.importing.archive import is_archive, members
    from analyzer.importing.read import explain, read_source
    from analyzer.importing.schedule import read_schedule, strand_aliases
    from analyzer.importing.table import identity
    from analyzer.importing.votes import settle

__all__ = [
    "Decisions",
    "EmptyFile",
    "HeadingsOnly",
    "Imported",
    "NoTable",
    "OwnOutput",
    "ReadContext",
    "Source",
    "Tallies",
    "explain",
    "identity",
    "is_archive",
    "members",
    "read_schedule",
    "read_source",
    "settle",
    "strand_aliases",
]

_LATE = {
    "explain": "read",
    "is_archive": "archive",
    "members": "archive", "read_source": "read", "read_schedule": "schedule", "strand_aliases": "schedule",
    "identity": "table", "settle": "votes",
}  # fmt: skip


def __getattr__(name: str) -> Any:
    """Reading needs pandas; naming a source does not, so the heavy modules are imported when first asked for."""
    if name in _LATE:
        from importlib import import_module

        return getattr(import_module(f"analyzer.importing.{_LATE[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
