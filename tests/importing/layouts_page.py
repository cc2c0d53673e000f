"""docs/layouts.md from the declarations of the corpus: `python tests/importing/layouts_page.py` writes it."""

from __future__ import annotations

from pathlib import Path

from corpus.writer import all_layouts

PAGE = Path(__file__).parent.parent.parent / "docs" / "layouts.md"
HEAD = """# Layouts that are read

Exports never look alike, so layouts like these are read without a map. Each line is a test: a writer that
shares no code with the reader writes the same {fiber_links} fiber links, or the same {pair_links} twisted-pair links, in that layout, and
what comes out must equal the truth to the last digit: labels, values, limits, margins, verdicts, the facts of each
link, and accounts of rows and cells that add up. All links, places and headings are invented.

A layout that does not carry a fact (the last column) takes it from the cable schedule, as judging needs it. A layout
that is not in the list may well be read too; `cableproof columns FILE` shows how any export is understood.

{count} layouts; {open} of them are *not read right yet* and say so, and a test fails as soon as one of those is, so
that the list stays true. A column map (`cableproof columns FILE --write`) helps with most of them. This page is written by `python tests/importing/layouts_page.py` from what the tests declare.
"""
WORDS = {
    "length_m": "length", "mated_pairs": "mated pairs", "frequency_mhz": "frequency", "limits": "limit",
}  # fmt: skip


def not_read_yet():
    """Names of layouts that the reader does not give right yet, one a line in corpus/not_read_yet.txt."""
    lines = (Path(__file__).parent / "corpus" / "not_read_yet.txt").read_text(encoding="utf-8").splitlines()
    return {line.strip() for line in lines if line.strip() and not line.startswith("#")}


def _row(layout):
    absent = ", ".join(sorted(WORDS.get(name, name) for name in layout.absent)) or "–"
    what = layout.what.replace("|", "\\|")
    if layout.name in not_read_yet():
        what += " **(not read right yet)**"
    return f"| {what} | {absent} |"


def page():
    """The whole page."""
    layouts = all_layouts()
    counts = {
        medium: max(len(x.links()) for x in layouts if x.medium == medium) for medium in ("fiber", "twisted pair")
    }
    parts = [
        HEAD.format(
            count=len(layouts), open=len(not_read_yet()), fiber_links=counts["fiber"], pair_links=counts["twisted pair"]
        )
    ]
    for family in dict.fromkeys(layout.family for layout in layouts):
        own = [layout for layout in layouts if layout.family == family]
        parts.append(f"## {family[0].upper()}{family[1:]}\n")
        parts.append("| what is special | facts it does not carry |\n|---|---|")
        parts.append("\n".join(_row(layout) for layout in own) + "\n")
    return "\n".join(parts)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
