"""What the cells of a row say about its readings (long tables): parameter, wavelength, pair, end, direction, frequency."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analyzer.importing import facts
from analyzer.importing.blocks import Block
from analyzer.importing.columns import COPPER_PARAMETERS, Use
from analyzer.importing.distinct import constant, spread
from analyzer.importing.grid import CellColumn
from analyzer.importing.headings import understand
from analyzer.importing.pair_colors import SCHEMES, color_names, colors_in, scheme_in
from analyzer.importing.parsed import PARAMETERS, category_codes, factors, parse_column
from analyzer.importing.words import plain, units

_COPPER_CODES = [PARAMETERS.index(name) for name in sorted(COPPER_PARAMETERS)]


@dataclass
class RowAttributes:
    """What the cells of a row say about its readings (long tables); -1 or empty where they do not."""

    parameter: np.ndarray
    wavelength: np.ndarray
    pair: np.ndarray
    end: np.ndarray
    direction: np.ndarray
    unit: np.ndarray
    frequency: np.ndarray
    color: np.ndarray
    """Color that names the pair, a number in `pair_colors.color_names`."""
    scheme: np.ndarray
    """Wiring scheme, a number in `pair_colors.SCHEMES`."""


def row_attributes(block: Block, uses: list[Use], rows: np.ndarray, mark: str | None) -> RowAttributes:
    """Attributes of the readings that stand in cells rather than in headings."""
    count = len(rows)
    by_role = {use.role: use for use in reversed(uses)}
    sheet = block.sheet

    def codes(role: str, name: str, parse: Callable[[str], str]) -> np.ndarray:
        if role not in by_role:
            return np.full(count, -1, dtype=np.int16)
        column = sheet.columns[by_role[role].col]
        found = category_codes(name, column.map(lambda text, _: parse(text) if text else ""))
        return np.asarray(found[column.at(rows)])

    def numbers(role: str, names: tuple[str, ...], parse: Callable[[str], str]) -> np.ndarray:
        if role not in by_role:
            return constant(-1, count, np.int16)
        column = sheet.columns[by_role[role].col]
        found = [parse(text) if text else "" for text in column.texts]
        return spread([names.index(name) if name else -1 for name in found], column.at(rows), np.int16)

    wavelength, beside = np.full(count, -1, dtype=np.int16), np.full(count, -1, dtype=np.int16)
    if "wavelength" in by_role:
        column = sheet.columns[by_role["wavelength"].col]
        both = [facts.wavelength_and_direction(text) for text in column.texts]
        said = [key[0] if key else facts.wavelength_nm(text) for key, text in zip(both, column.texts, strict=True)]
        wavelength = np.asarray(said, dtype=np.int16)[column.at(rows)]
        beside = category_codes("direction", [key[1] if key else "" for key in both])[column.at(rows)]
    unit = constant("", count, object)
    if "unit" in by_role:
        column = sheet.columns[by_role["unit"].col]
        unit = spread(column.map(lambda text, _: units().get(plain(text), text)), column.at(rows), object)
    frequency = np.full(count, math.nan)
    if "frequency" in by_role:
        use = by_role["frequency"]
        parsed = parse_column(sheet.columns[use.col], rows, mark)
        frequency = parsed.value * factors(parsed.unit, use.unit or "MHz", "MHz")
    attributes = RowAttributes(
        np.full(count, -1, dtype=np.int16), wavelength, codes("pair", "pair", facts.pair), codes("end", "end", facts.end),
        codes("direction", "direction", facts.direction), unit, frequency,
        numbers("pair", color_names(), colors_in), numbers("wiring scheme", SCHEMES, scheme_in),
    )  # fmt: skip
    attributes.direction = np.where(attributes.direction < 0, beside, attributes.direction)
    if "parameter" in by_role:
        _parameter_cells(attributes, sheet.columns[by_role["parameter"].col], rows)
    if "direction" not in by_role and "end" in by_role:
        fiber = ~np.isin(attributes.parameter, _COPPER_CODES) & (wavelength > 0)
        attributes.direction = np.where(fiber, attributes.end, -1).astype(np.int16)
        attributes.end = np.where(fiber, -1, attributes.end).astype(np.int16)
    return attributes


def _parameter_cells(attributes: RowAttributes, column: CellColumn, rows: np.ndarray) -> None:
    """A cell such as `NEXT 12-36` names parameter and pair; `Loss 850 nm` names parameter and wavelength."""
    said = [understand((text,)) for text in column.texts]
    codes = column.at(rows)
    names = [heading.parameter or ("loss" if heading.wavelength_nm > 0 else "") for heading in said]
    attributes.parameter = category_codes("parameter", names)[codes]
    waves = np.asarray([heading.wavelength_nm for heading in said], dtype=np.int16)[codes]
    attributes.wavelength = np.where(attributes.wavelength < 0, waves, attributes.wavelength)
    mhz = np.asarray([heading.frequency_mhz for heading in said])[codes]
    attributes.frequency = np.where(np.isnan(attributes.frequency) & (mhz > 0), mhz, attributes.frequency)
    for name in ("pair", "end", "direction"):
        found = category_codes(name, [getattr(heading, name) for heading in said])[codes]
        now = getattr(attributes, name)
        setattr(attributes, name, np.where(now < 0, found, now))


def attributes_of(
    block: Block, uses: list[Use], use: Use, rows: np.ndarray, mark: str | None, known: dict[tuple[Use, ...], RowAttributes]
) -> RowAttributes:  # fmt: skip
    """What the rows say about the readings of one value column; `known` keeps what was read for the columns before.

    Pair, end and frequency columns that name a parameter or an end speak of its values alone, before those of the
    whole row. Where the rows name the parameter of a value, what they say is about that value, not about the columns
    with a parameter of their own; a wire map has no pair, end and frequency in any case, nor has a length. Of several
    that place a worst point, that of the margin speaks of margins, that of the value of values.
    """
    placing = {"pair", "end", "frequency"}
    by_rows = any(other.role == "parameter" for other in uses) and any(
        other.role in {"value", "margin"} and not other.parameter for other in uses
    )
    about_others = bool(use.parameter) and (by_rows or use.parameter in {"wire map", "length"})
    own = [
        other
        for other in uses
        if other.role in placing and other.parameter and other.parameter == use.parameter
        and other.end in {"", use.end} and other.pair in {"", use.pair}
    ]  # fmt: skip
    point = use.about or "value"
    own.sort(key=lambda other: (other.end == "", other.pair == "", other.about != point, other.about != ""))
    general = [
        other
        for other in uses
        if not (other.role in placing and (other.parameter or about_others))
        and not (other.role == "unit" and use.parameter and by_rows)
    ]
    wanted = (*own, *general)
    if wanted not in known:
        known[wanted] = row_attributes(block, list(wanted), rows, mark)
    return known[wanted]
