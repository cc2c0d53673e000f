"""A look at the room: `python -m analyzer.standards`."""

from __future__ import annotations

from analyzer.standards import allowances, describe, load


def main() -> None:
    """Print five value rows in words."""
    allowed = allowances(load(), "TIA")
    print(f"{allowed.document}: {len(allowed.coefficient_rows)} attenuation rows")  # noqa: T201 - this is the show
    for row in (*allowed.cable("OM4", 850), *allowed.cable("OS2", 1310)):
        print(f"  {row['row_id']}  {describe(row)}")  # noqa: T201
    if (pair := allowed.component("mated pair", "multimode")) is not None:
        print(f"  {pair['row_id']}  {describe(pair)}")  # noqa: T201


if __name__ == "__main__":
    main()
