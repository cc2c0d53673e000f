"""docs/glossary.md and the table contract say the same, in both directions."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyzer.schema import CATEGORIES, TABLES, UNIT_OF_PARAMETER

GLOSSARY = Path(__file__).parents[1] / "docs" / "glossary.md"
EXPLAINED = (
    "verdict",
    "link_verdict",
    "basis",
    "world",
    "said_by",
    "how_known",
    "bound",
    "reference",
    "end_type",
    "severity",
)


def rows_under(heading):
    """Cells of the table rows between a heading and the next one of the same depth, head and ruler left out."""
    _, _, rest = GLOSSARY.read_text(encoding="utf-8").partition(f"\n## {heading}\n")
    lines = [line for line in rest.split("\n## ", 1)[0].splitlines() if line.startswith("| ")]
    return [tuple(cell.strip() for cell in line.strip("|").split(" | ")) for line in lines[1:]]


def columns_of_schema():
    """(name, tables, unit, meaning): one row for each meaning that a name has."""
    tables = {}
    for table, columns in TABLES.items():
        for name, column in columns.items():
            tables.setdefault((name, column.unit, column.meaning), []).append(table)
    return {(f"`{name}`", ", ".join(where), unit, meaning) for (name, unit, meaning), where in tables.items()}


def test_every_column_stands_in_the_glossary_with_unit_and_meaning():
    missing = columns_of_schema() - set(rows_under("Columns"))
    assert not missing, "add to docs/glossary.md:\n" + "\n".join(sorted(f"| {' | '.join(row)} |" for row in missing))


def test_the_glossary_names_no_column_that_does_not_exist():
    surplus = set(rows_under("Columns")) - columns_of_schema()
    assert not surplus, "remove from docs/glossary.md:\n" + "\n".join(
        sorted(f"| {' | '.join(row)} |" for row in surplus)
    )


def test_columns_stand_once_and_in_order():
    rows = rows_under("Columns")
    assert rows == sorted(set(rows), key=lambda row: (row[0].casefold(), row[1]))


def test_parameters_have_the_names_and_units_of_the_tables():
    units = {f"`{name}`": UNIT_OF_PARAMETER.get(name, "dB") for name in CATEGORIES["parameter"]}
    assert {row[0]: row[1] for row in rows_under("Parameters")} == units
    assert all(len(row[2]) > 10 for row in rows_under("Parameters"))


@pytest.mark.parametrize("category", EXPLAINED)
def test_every_word_of_a_closed_set_is_explained(category):
    words = [row[1] for row in rows_under("Words of closed sets") if row[0] == f"`{category}`"]
    assert words == list(CATEGORIES[category])


def test_trade_terms_stand_once_and_in_order():
    terms = [row[0] for row in rows_under("Terms")]
    assert terms == sorted(set(terms), key=str.casefold)
    wanted = {
        "admissible world", "attempts", "channel", "furniture", "in force", "insertion loss", "launch cord", "margin",
        "mated pair", "permanent link", "reference method", "set aside", "sisters", "unconfirmed",
    }  # fmt: skip
    assert wanted <= set(terms)
