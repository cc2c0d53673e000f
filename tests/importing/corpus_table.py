"""Print layout × result: `PYTHONPATH=. python tests/importing/corpus_table.py [part of a name ...]`."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import corpus_copper
import corpus_fiber
from corpus.writer import all_layouts


def outcome_of(layout, folder):
    """Differences of one layout from the truth."""
    compare = corpus_fiber.compare if layout.medium == "fiber" else corpus_copper.compare
    return compare(layout, folder)


def _outcome_or_traceback(layout, folder):
    """For the table: a traceback is a difference like any other, so that the other layouts are printed as well."""
    try:
        return outcome_of(layout, folder)
    except Exception as error:  # noqa: BLE001 (whatever it is, it is printed)
        return corpus_fiber.Outcome(layout, [f"{type(error).__name__}: {error}"])


def line(outcome):
    """One line of the table."""
    layout = outcome.layout
    return f"{layout.medium:<13} {layout.family:<22} {layout.name:<32} {outcome.result}"


def _say(text):
    sys.stdout.write(f"{text}\n")


def main(parts):
    """Print the table, the differences below each layout; how many differ."""
    differing = 0
    for layout in all_layouts():
        if parts and not any(part in layout.name for part in parts):
            continue
        with tempfile.TemporaryDirectory() as folder:
            outcome = _outcome_or_traceback(layout, Path(folder))
        _say(line(outcome))
        for difference in outcome.differences:
            _say(f"        {difference[:600]}")
        differing += bool(outcome.differences)
    _say(f"{differing} layouts differ")
    return differing


if __name__ == "__main__":
    sys.exit(min(1, main(sys.argv[1:])))
