"""Value columns become readings, or cells set aside: whole columns, each distinct text parsed once."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analyzer.importing import facts, wire_maps
from analyzer.importing.blocks import Block
from analyzer.importing.cells import ABOVE, BELOW, FACTORS, NO_BOUND, OVER_RANGE, Number, parse_cell
from analyzer.importing.columns import COPPER_PARAMETERS, Use
from analyzer.importing.distinct import constant, is_constant, present, spread
from analyzer.importing.grid import NUMBER, TEXT, CellColumn
from analyzer.importing.headings import understand
from analyzer.importing.pair_colors import SCHEMES, color_names, colors_in, pair_codes, scheme_in
from analyzer.importing.words import plain, units
from analyzer.schema import CATEGORIES, UNIT_OF_PARAMETER

PARAMETERS = CATEGORIES["parameter"]
PROBLEMS = (
    "", "not-measured", "not-a-number", "ambiguous-number", "impossible-value", "power-level", "wrong-unit",
    "unknown-parameter", "no-label-cell", "no-unit", "pair-by-color",
    "below-zero",
)  # fmt: skip
_COPPER_CODES = [PARAMETERS.index(name) for name in sorted(COPPER_PARAMETERS)]
_VERDICTS = CATEGORIES["declared_verdict"]


@dataclass
class Parsed:
    """One column parsed: an entry per row. `problem` numbers `PROBLEMS`; 0 is none."""

    filled: np.ndarray
    value: np.ndarray
    bound: np.ndarray
    decimals: np.ndarray
    unit: np.ndarray
    problem: np.ndarray
    verdict: np.ndarray


def parse_column(column: CellColumn, rows: np.ndarray, mark: str | None) -> Parsed:
    """Numbers of a column at some rows."""
    numbers = column.parsed.get(mark)
    if numbers is None:
        read: list[Number] = column.map(lambda text, kind: parse_cell(text, kind, mark, column.decimals))
        numbers = column.parsed[mark] = list(zip(*read, strict=True))
        numbers[_PROBLEM] = [PROBLEMS.index(problem) for problem in numbers[_PROBLEM]]
        numbers[_VERDICT] = [_VERDICTS.index(verdict) if verdict else -1 for verdict in numbers[_VERDICT]]
    values, bounds, decimals, written, problems, verdicts = numbers
    codes = column.at(rows)
    return Parsed(
        codes != 0,
        np.asarray(values, dtype=np.float64)[codes],
        spread(bounds, codes, np.int8),
        spread(decimals, codes, np.int8),
        spread(written, codes, object),
        np.asarray(problems, np.int8)[codes],
        spread(verdicts, codes, np.int8),
    )


_PROBLEM, _VERDICT = Number._fields.index("problem"), Number._fields.index("verdict")


def written_decimals(column: CellColumn, rows: np.ndarray, parsed: Parsed) -> np.ndarray:
    """Decimals with which each cell was written, at most 9; those of a number cell are its own, not those shown."""
    kinds = column.kinds or [TEXT] * len(column.texts)
    own = [
        min(len(text.partition(".")[2]) if "e" not in text.lower() else 9, 9) if kind == NUMBER else -1
        for text, kind in zip(column.texts, kinds, strict=True)
    ]
    typed = np.asarray(own, dtype=np.int64)[column.at(rows)]
    return np.minimum(np.where(typed >= 0, typed, np.where(parsed.decimals >= 0, parsed.decimals, 9)), 9)


@dataclass
class Reference:
    """Reference power of each row in dBm, and the decimals it was written with."""

    power_dbm: np.ndarray
    decimals: np.ndarray


def reference_power(block: Block, use: Use, uses: list[Use], rows: np.ndarray, mark: str | None) -> Reference | None:
    """Reference of a power column: of its own wavelength and direction; None where none or several could be meant."""

    def fits(other: Use) -> int:
        score = 0
        for name in ("wavelength_nm", "direction", "end"):
            mine, its = getattr(use, name), getattr(other, name)
            if its in {"", -1}:
                continue
            if mine != its:
                return -1
            score += 1
        return score

    scored = [(fits(other), other) for other in uses if other.role == "reference power"]
    best = max((score for score, _ in scored), default=-1)
    chosen = [other for score, other in scored if score == best >= 0]
    if len(chosen) != 1:
        return None
    column = block.sheet.columns[chosen[0].col]
    parsed = parse_column(column, rows, mark)
    usable = (parsed.problem == 0) & (parsed.bound == NO_BOUND)
    return Reference(np.where(usable, parsed.value, math.nan), written_decimals(column, rows, parsed))


def _loss_from_powers(
    column: CellColumn, rows: np.ndarray, parsed: Parsed, reference: Reference
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Reference less measured power, rounded to the digits written: value in dB, decimals, and bound.

    The difference of two written numbers has no more digits than they; what float64 adds is not measured. A power
    below what the meter sees is a loss above.
    """
    decimals = np.maximum(written_decimals(column, rows, parsed), reference.decimals)
    loss = reference.power_dbm - parsed.value
    for digits in present(decimals):
        at = decimals == digits
        loss[at] = np.round(loss[at], digits)
    bound = parsed.bound.copy()
    bound[parsed.bound == BELOW], bound[parsed.bound == ABOVE] = ABOVE, BELOW
    return loss, decimals.astype(parsed.decimals.dtype), bound


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


def category_codes(name: str, texts: list[str]) -> np.ndarray:
    """Codes of texts in a closed set, -1 for empty or foreign ones."""
    index = {text: code for code, text in enumerate(CATEGORIES[name])}
    return np.fromiter((index.get(text, -1) for text in texts), np.int16, len(texts))


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


def factors(written: np.ndarray, default: str, inside: str) -> np.ndarray:
    """Factor from each unit as written (else the default) to the unit inside; NaN where they do not fit."""
    table = FACTORS[inside]
    usual = table.get(default or inside, math.nan)
    if is_constant(written):
        return constant(table.get(written[0], math.nan) if written[0] else usual, len(written), np.float64)
    out = np.full(len(written), usual)
    for unit in set(written[written != ""].tolist()):
        out[written == unit] = table.get(unit, math.nan)
    return out


def stated_unit(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """The unit of each cell: what `first` states, else what `second` does."""
    if is_constant(first):
        return first if first[0] else np.broadcast_to(second, len(first))
    return np.asarray(np.where(first != "", first, second))


def unit_inside(parameter: str) -> str:
    """Unit of a parameter inside the product."""
    return UNIT_OF_PARAMETER.get(parameter, "dB")


@dataclass
class Readings:
    """Readings of one value column: an entry per reading; `rows` numbers the data rows."""

    use: Use
    rows: np.ndarray
    parameter: np.ndarray
    wavelength: np.ndarray
    pair: np.ndarray
    end: np.ndarray
    direction: np.ndarray
    frequency: np.ndarray
    value: np.ndarray
    bound: np.ndarray
    decimals: np.ndarray
    verdict: np.ndarray
    row_unit: np.ndarray
    """Unit that the row states for the reading, empty where it states none."""


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


def read_value_column(
    block: Block, use: Use, rows: np.ndarray, attributes: RowAttributes, mark: str | None, reference: Reference | None,
    parsed: Parsed | None = None,
) -> tuple[Readings, np.ndarray, np.ndarray]:  # fmt: skip
    """Readings of one column, problem of each row's cell (numbers `PROBLEMS`), and which cells are readings at all.

    `parsed`: what the cells say, where that is no numbers.
    """
    column = block.sheet.columns[use.col]
    parsed = parsed or parse_column(column, rows, mark)
    own = -1 if use.parameter in {"", "power"} else PARAMETERS.index(use.parameter)
    parameter = constant(own, len(rows), np.int16) if own >= 0 else attributes.parameter
    wavelength = constant(use.wavelength_nm, len(rows), np.int16) if use.wavelength_nm > 0 else attributes.wavelength
    if use.parameter == "power":
        parameter = constant(PARAMETERS.index("loss"), len(rows), np.int16)
    parameter = _on_this_medium(parameter, wavelength, attributes, use)
    value, problem = parsed.value, parsed.problem.copy()
    mapped = parameter == PARAMETERS.index("wire map")
    if mapped.any():
        no_number, no_verdict, verdict = _wire_map(column, rows, parsed)
        value, problem = np.where(mapped, no_number, value), np.where(mapped, no_verdict, problem)
        parsed.verdict = np.where(mapped, verdict, parsed.verdict)
    for code in present(parameter[parsed.filled]):
        at = parameter == code
        if code < 0:
            problem[at & parsed.filled] = PROBLEMS.index("unknown-parameter")
        elif PARAMETERS[code] != "wire map":
            value = _in_unit_inside(
                PARAMETERS[code], at, value, problem, parsed, use, column, attributes, rows, reference
            )
    pair = constant(category_codes("pair", [use.pair])[0], len(rows), np.int16)
    pair = attributes.pair if len(pair) and pair[0] < 0 else pair
    color = (
        constant(color_names().index(use.pair), len(rows), np.int16) if use.pair in color_names() else attributes.color
    )
    if not use.pair or use.pair in color_names():
        pair = _of_color(pair, color, attributes.scheme, problem)
    problem = np.where(parsed.filled, problem, 0)
    fact = parsed.filled & (parameter == PARAMETERS.index("length"))
    if fact.any():
        fact &= ~_is_copper(attributes, rows, use)
    good = parsed.filled & (problem == 0) & ~fact
    kept = slice(None) if good.all() else good

    def either(name: str, own: str, from_rows: np.ndarray) -> np.ndarray:
        code = category_codes(name, [own])[0]
        return np.asarray((constant(code, len(rows), np.int16) if code >= 0 else from_rows)[kept])

    frequency = constant(use.frequency_mhz, len(rows), np.float64) if use.frequency_mhz > 0 else attributes.frequency
    readings = Readings(
        use, np.flatnonzero(good), parameter[kept], wavelength[kept], pair[kept],
        either("end", use.end, attributes.end), either("direction", use.direction, attributes.direction),
        frequency[kept], value[kept], parsed.bound[kept], parsed.decimals[kept], parsed.verdict[kept],
        attributes.unit[kept],
    )  # fmt: skip
    return readings, problem, parsed.filled & ~fact


def _of_color(pair: np.ndarray, color: np.ndarray, scheme: np.ndarray, problem: np.ndarray) -> np.ndarray:
    """Pairs, those that only a color names by the wiring scheme of their row; `problem` takes those it does not settle."""
    if not ((color >= 0) & (pair < 0)).any():
        return pair
    found = np.where((color >= 0) & (pair < 0), pair_codes(color, scheme), pair)
    problem[(color >= 0) & (found < 0) & (problem == 0)] = PROBLEMS.index("pair-by-color")
    return found


def _in_unit_inside(
    name: str, at: np.ndarray, value: np.ndarray, problem: np.ndarray, parsed: Parsed, use: Use, column: CellColumn,
    attributes: RowAttributes, rows: np.ndarray, reference: Reference | None,
) -> np.ndarray:  # fmt: skip
    """The values of one parameter, at some rows, in its unit inside; `problem` takes those that cannot be so."""
    inside = unit_inside(name)
    written = stated_unit(parsed.unit, _UNSTATED if use.parameter and use.unit else attributes.unit)
    default = use.unit or column.unit
    if inside == "m" and not default:
        problem[at & (written == "") & (problem == 0) & parsed.filled] = PROBLEMS.index("no-unit")
    factor = factors(written, units().get(plain(default), default) or inside, inside)
    if not (is_constant(factor) and factor[0] == 1.0):
        value = np.where(at, value * factor, value)
        wrong = at & np.isnan(factor) & (problem == 0) & parsed.filled
        power = wrong & ((written == "dBm") | ((written == "") & (use.unit == "dBm")))
        if reference is not None and power.any():
            loss, decimals, bound = _loss_from_powers(column, rows, parsed, reference)
            value = np.where(power, loss, value)
            parsed.decimals = np.where(power, decimals, parsed.decimals)
            parsed.bound = np.where(power, bound, parsed.bound)
            problem[power & np.isnan(value) & (parsed.bound != OVER_RANGE)] = PROBLEMS.index("power-level")
            wrong &= ~power
        problem[wrong] = np.where(power[wrong], PROBLEMS.index("power-level"), PROBLEMS.index("wrong-unit"))
    if inside != "dB":
        problem[at & (value < 0) & (problem == 0)] = PROBLEMS.index("below-zero")
    absurd = np.abs(value) > _MOST_DB
    if inside == "dB" and absurd.any():
        problem[at & absurd & (problem == 0) & (parsed.bound != OVER_RANGE)] = PROBLEMS.index("impossible-value")
    return value


_UNSTATED = np.asarray("", dtype=object)
_MOST_DB = 200.0
"""No decibel value of cabling is as large; what is was torn from another column or lost its decimal mark."""


def _is_copper(attributes: RowAttributes, rows: np.ndarray, use: Use) -> np.ndarray:
    copper = [PARAMETERS.index(name) for name in COPPER_PARAMETERS | {"insertion loss"}]
    some = np.isin(attributes.parameter, copper).any()
    return np.full(len(rows), bool(some) or use.parameter == "length")


def _on_this_medium(parameter: np.ndarray, wavelength: np.ndarray, attributes: RowAttributes, use: Use) -> np.ndarray:
    """`insertion loss` with a wavelength is fiber loss; so it is where no row names a copper parameter."""
    if use.parameter not in {"", "power"}:
        return parameter
    out = parameter.copy()
    copper = bool(
        np.isin(parameter, [PARAMETERS.index(name) for name in COPPER_PARAMETERS]).any() or (attributes.pair >= 0).any()
    )
    fiber = (wavelength > 0) | (not copper)
    out[(parameter == PARAMETERS.index("insertion loss")) & fiber] = PARAMETERS.index("loss")
    out[(parameter == PARAMETERS.index("return loss")) & fiber] = PARAMETERS.index("optical return loss")
    out[(parameter == PARAMETERS.index("loss")) & ~fiber] = PARAMETERS.index("insertion loss")
    return out


def _wire_map(column: CellColumn, rows: np.ndarray, parsed: Parsed) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A wire map is right or wrong: no number, a declared verdict where one is declared."""
    codes = column.at(rows)
    said = [wire_maps.declared_verdict(text) for text in column.texts]
    verdict = np.asarray([_VERDICTS.index(text) if text else -1 for text in said], dtype=np.int8)[codes]
    known = np.asarray([bool(wire_maps.told(text)) for text in column.texts])[codes]
    problem = np.where(known, 0, np.where(parsed.problem == 0, PROBLEMS.index("not-a-number"), parsed.problem))
    return np.full(len(rows), math.nan), problem.astype(np.int8), verdict


__all__ = ["NO_BOUND", "PARAMETERS", "PROBLEMS", "Parsed", "Readings", "attributes_of", "category_codes", "parse_column", "read_value_column", "reference_power", "row_attributes"]  # fmt: skip
