"""Value columns become readings, or cells set aside: whole columns, each distinct text parsed once."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analyzer.importing import wire_maps
from analyzer.importing.blocks import Block
from analyzer.importing.cells import ABOVE, BELOW, NO_BOUND, OVER_RANGE
from analyzer.importing.columns import COPPER_PARAMETERS, Use
from analyzer.importing.distinct import constant, is_constant, present
from analyzer.importing.grid import CellColumn
from analyzer.importing.pair_colors import color_names, pair_codes
from analyzer.importing.parsed import (
    PARAMETERS,
    PROBLEMS,
    VERDICTS,
    Parsed,
    category_codes,
    factors,
    parse_column,
    stated_unit,
    unit_inside,
    written_decimals,
)
from analyzer.importing.row_attributes import RowAttributes
from analyzer.importing.words import plain, units


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
    verdict = np.asarray([VERDICTS.index(text) if text else -1 for text in said], dtype=np.int8)[codes]
    known = np.asarray([bool(wire_maps.told(text)) for text in column.texts])[codes]
    problem = np.where(known, 0, np.where(parsed.problem == 0, PROBLEMS.index("not-a-number"), parsed.problem))
    return np.full(len(rows), math.nan), problem.astype(np.int8), verdict
