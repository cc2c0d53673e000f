"""Print layout × result: `python tests/importing/corpus_table.py [part of a name ...]`, from the top of the repository."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent.parent)]

import corpus_copper
import corpus_fiber
from corpus.writer import all_layouts


def outcome_of(layout, folder):
    """Differences of one layout from the truth."""
    compare = corpus_fiber.compare if layout.medium == "fiber" else corpus_copper.compare
    return compare(layout, folder)


def line(outcome):
    """One line of the table."""
    layout = outcome.layout
    return f"{layout.medium:<13} {layout.family:<22} {layout.name:<32} {outcome.result}"


def main(parts):
    """Print the table, the differences below each layout; how many differ."""
    differing = 0
    for layout in all_layouts():
        if parts and not any(part in layout.name for part in parts):
            continue
        with tempfile.TemporaryDirectory() as folder:
            outcome = outcome_of(layout, Path(folder))
        print(line(outcome))
        for difference in outcome.differences:
            print(f"        {difference[:600]}")
        differing += bool(outcome.differences)
    print(f"{differing} layouts differ")
    return differing


if __name__ == "__main__":
    sys.exit(min(1, main(sys.argv[1:])))
