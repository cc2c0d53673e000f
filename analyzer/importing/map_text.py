"""The file of a column map: TOML that a person can edit. Every mistake in it becomes one sentence, all told at once."""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyzer.errors import FileMissing, FileUnreadable, JobError
from analyzer.importing.column_map import ColumnRule, TableMap, heading_key, heading_of, place_of
from analyzer.importing.words import plain, units
from analyzer.schema import CATEGORIES, UNIT_OF_PARAMETER

if TYPE_CHECKING:
    import pandas as pd

    from analyzer.importing.blocks import Block
    from analyzer.importing.columns import Use

FORMAT = "cableproof-columns/1"
_TABLE_KEYS = ("sheet", "fingerprint", "headings", "decimal_mark", "date_order", "column")
_COLUMN_KEYS = ("letter", "row", "heading", "role", "parameter", "wavelength", "direction", "end", "pair", "unit")
_MEASURED = frozenset({"value", "limit", "margin"})
_UNITS_OF = {
    "dB": {"dB", "dBm"}, "m": {"m", "ft", "km"}, "ns": {"ns", "us"}, "ohm": {"ohm", "kohm", "percent"}, "": set(),
}  # fmt: skip


class MapError(JobError):
    """A column map cannot be used; `problems` holds every mistake, one sentence each."""


def load_maps(named: Path | None, lying: Iterable[Path]) -> tuple[TableMap, ...]:
    """The tables of the map named on the command line, then those of the maps that lie in the job folder.

    Raises:
        FileMissing: there is no such file.
        FileUnreadable: it cannot be opened.
        MapError: its content is no map, or two maps of the folder speak of the same headings.
    """
    tables = list(load_map(named)) if named is not None else []
    said = {(one.fingerprint, one.sheet): one.source for one in tables}
    of_folder: dict[tuple[int, str], str] = {}
    for path in lying:
        if named is not None and path.resolve() == named.resolve():
            continue
        for one in load_map(path):
            shape = (one.fingerprint, one.sheet)
            if shape in of_folder and shape not in said:
                raise MapError(
                    path.name,
                    [
                        f"{of_folder[shape]} speaks of the same headings; delete one of the two, or name one with --columns"
                    ],
                )
            of_folder[shape] = one.source
            tables.append(one)
    return tuple(tables)


def load_map(path: Path) -> tuple[TableMap, ...]:
    """Read one map.

    Raises:
        FileMissing: there is no such file.
        FileUnreadable: it cannot be opened.
        MapError: its content is no map; every mistake is told.
    """
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        raise FileMissing(f"{path}: there is no such column map; write one with: cableproof columns FILE --write {path.name}") from None  # fmt: skip
    except OSError as error:
        why = f"cannot be opened ({error.strerror or error})"
        raise FileUnreadable(str(path), why, "give the path of a column map that you may read") from None
    return parse_map(content, path.name)


def check_used(path: Path, maps: Iterable[TableMap], blocks: Iterable[pd.DataFrame]) -> None:
    """A map that was named on the command line must speak of some table that was read.

    Raises:
        MapError: no table has the headings of the map.
    """
    read = {int(fingerprint) for frame in blocks for fingerprint in frame["fingerprint"]}
    said = [one for one in maps if one.source == path.name]
    if said and not any(one.fingerprint in read for one in said):
        mend = f"write one for the export: cableproof columns EXPORT --write {path.name}"
        raise MapError(path.name, [f"no table that was read has exactly the headings of this map; {mend}"])


def parse_map(content: bytes, name: str) -> tuple[TableMap, ...]:
    """The tables that a map speaks of; `name` is told in errors and in the table `columns`.

    Raises:
        MapError: the content is no map; every mistake is told.
    """
    try:
        data = tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise MapError(name, ["the text is not UTF-8; save the file as UTF-8"]) from None
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        what = f"this is not TOML ({error}); texts need quotes, every key needs = and a value"
        raise MapError(name, [what]) from None
    problems: list[str] = []
    if data.get("format") != FORMAT:
        problems.append(f'format: must be "{FORMAT}", the first line of every map')
    problems += _unknown_keys("", data, ("format", "table"))
    tables = data.get("table", [])
    if not isinstance(tables, list) or not tables or not all(isinstance(one, dict) for one in tables):
        problems.append("[[table]]: a map has at least one, with its headings and columns")
        tables = []
    found = [_table(name, f"table {number}", table, problems) for number, table in enumerate(tables, start=1)]
    shapes = [(one.fingerprint, one.sheet) for one in found]
    if len(set(shapes)) < len(shapes):
        problems.append("two [[table]] have the same headings and sheet; delete one of them")
    if problems:
        raise MapError(name, problems)
    return tuple(found)


def _table(name: str, where: str, table: Mapping[str, Any], problems: list[str]) -> TableMap:
    problems += _unknown_keys(f"{where}: ", table, _TABLE_KEYS)
    headings = table.get("headings")
    if not isinstance(headings, list) or not headings or not all(isinstance(text, str) for text in headings):
        problems.append(f'{where}: headings must list the headings of the table, as in headings = ["Link", "Loss 850 nm (dB)"]')  # fmt: skip
        headings = []
    fingerprint = fingerprint_of(headings)
    stated = table.get("fingerprint", "")
    if stated and stated != f"{fingerprint:016x}":
        problems.append(
            f"{where}: the headings are not those that the fingerprint was made of; "
            "undo the change, or delete the line fingerprint to bind the map to the new headings"
        )
    mark = _one_of(f"{where}: decimal_mark", table.get("decimal_mark", ""), (".", ","), problems)
    order = _one_of(f"{where}: date_order", table.get("date_order", ""), ("day first", "month first"), problems)
    columns = table.get("column", [])
    if not isinstance(columns, list) or not all(isinstance(one, dict) for one in columns):
        problems.append(f"{where}: columns are written as [[table.column]]")
        columns = []
    rules = [_rule(where, number, column, headings, problems) for number, column in enumerate(columns, start=1)]
    _check_together(where, rules, problems)
    return TableMap(name, fingerprint, tuple(headings), tuple(rules), str(table.get("sheet", "")), mark, order)


def fingerprint_of(headings: Sequence[str]) -> int:
    """The same hash of headings as `Block.fingerprint` gives."""
    text = "\x1f".join(heading_key(heading) for heading in headings)
    return int.from_bytes(hashlib.blake2b(text.encode("utf-8"), digest_size=8).digest(), "little")


def _rule(where: str, number: int, column: Mapping[str, Any], headings: list[str], problems: list[str]) -> ColumnRule:
    heading = column.get("heading", "")
    place = f"row {column['row']}" if "row" in column else str(column.get("letter", ""))
    at = f"{where}, column {place or number}" + (f" {heading!r}" if heading else "")
    problems += _unknown_keys(f"{at}: ", column, _COLUMN_KEYS)
    if not isinstance(heading, str) or heading_key(heading) not in {heading_key(text) for text in headings}:
        problems.append(f"{at}: this heading is not among the headings of the table{_nearest(heading, headings)}")
        heading = str(heading)
    if "role" not in column:
        problems.append(f'{at}: role is missing; "ignored" leaves the column out')
    role = _one_of(f"{at}: role", column.get("role", "ignored"), CATEGORIES["role"], problems)
    parameter = _one_of(f"{at}: parameter", column.get("parameter", ""), CATEGORIES["parameter"], problems)
    wave = column.get("wavelength", -1)
    if wave != -1 and (not isinstance(wave, int) or isinstance(wave, bool) or not 600 <= wave <= 1700):
        problems.append(f"{at}: wavelength {wave!r} is no whole number of nanometers from 600 to 1700")
        wave = -1
    if wave > 0 and role in _MEASURED and not parameter:
        parameter = "loss"
    if role == "length":
        parameter = "length"
    return ColumnRule(
        heading, place, role, parameter, wave, _pair(at, column.get("pair", ""), problems),
        _one_of(f"{at}: end", column.get("end", ""), CATEGORIES["end"], problems),
        _one_of(f"{at}: direction", column.get("direction", ""), CATEGORIES["direction"], problems),
        _unit(at, column.get("unit", ""), role, parameter, problems),
    )  # fmt: skip


def _pair(at: str, said: Any, problems: list[str]) -> str:
    from analyzer.importing import facts

    found = facts.pair(said) if isinstance(said, str) and said else ""
    return found or _one_of(f"{at}: pair", said, CATEGORIES["pair"], problems)


def _unit(at: str, said: Any, role: str, parameter: str, problems: list[str]) -> str:
    if said == "":
        return ""
    known = units().get(plain(said)) if isinstance(said, str) else None
    if known is None:
        problems.append(f"{at}: unit {said!r} is not known{_nearest(said, sorted(set(units().values())))}")
        return ""
    if role in _MEASURED | {"length"} and parameter:
        fitting = _UNITS_OF.get(UNIT_OF_PARAMETER.get(parameter, "dB"), set())
        if known not in fitting:
            accepted = ", ".join(sorted(fitting)) or "none"
            problems.append(f"{at}: unit {said!r} does not fit {parameter}; accepted: {accepted}")
    return known


def _one_of(at: str, said: Any, accepted: Sequence[str], problems: list[str]) -> str:
    """The accepted word that was meant, capitals apart; else a problem and an empty text."""
    if said == "":
        return ""
    for word in accepted:
        if isinstance(said, str) and word.casefold() == " ".join(said.split()).casefold():
            return word
    choice = "" if len(accepted) > 6 else f"; accepted: {', '.join(map(repr, accepted))}"
    problems.append(f"{at} {said!r} is not known{_nearest(said, accepted) or choice}")
    return ""


def _check_together(where: str, rules: list[ColumnRule], problems: list[str]) -> None:
    seen: set[tuple[str, str]] = set()
    for rule in rules:
        key = (heading_key(rule.heading), rule.place)
        if key in seen:
            problems.append(
                f"{where}: column {rule.place or rule.heading!r} stands in the map twice; delete one of them"
            )
        seen.add(key)
    labels = [rule.heading for rule in rules if rule.role == "label"]
    if len(labels) > 1:
        problems.append(f"{where}: {' and '.join(map(repr, labels))} are both the label; only one column can be")
    if any(rule.role == "parameter" for rule in rules):
        return
    problems += [
        f'{where}, column {rule.place} {rule.heading!r}: a value needs a parameter, such as parameter = "loss"'
        for rule in rules
        if rule.role == "value" and not rule.parameter and rule.unit != "dBm"
    ]  # fmt: skip


def _unknown_keys(at: str, table: Mapping[str, Any], known: Sequence[str]) -> list[str]:
    return [f"{at}{key!r} is no key of a map{_nearest(key, known)}" for key in table if key not in known]


def _nearest(said: Any, known: Sequence[str]) -> str:
    folded = {word.casefold(): word for word in known if word}
    found = get_close_matches(str(said).casefold(), list(folded), n=1, cutoff=0.5)
    return f"; nearest is {folded[found[0]]!r}" if found else ""


_HEAD = """\
# What the columns of {name} mean. Edit what is wrong; lines that begin with # are for you.
# Use it with --columns {map}, or let it lie in the job folder: it is found again for every
# table with the same headings.
#
# role       what the column is:
{roles}
# parameter  what a value, limit or margin measures:
{parameters}
# wavelength whole nanometers                  direction  "A-B" or "B-A"
# end        "A" or "B"                        pair       "1-2" or "1-2/3-6"
# unit       of the numbers as written: dB, dBm, m, ft, km, ns, us, MHz, kHz, Hz, ohm, kohm
# A column with role "ignored" is left out. A column that is not listed here is understood as without a map.
format = "{format}"
"""


def map_text(
    tables: Sequence[tuple[Block, list[Use]]], name: str, map_name: str, samples: Mapping[tuple[int, int], str]
) -> str:
    """A map that says what was understood of each table of file `name`; `samples[table, column]` stand as comments."""
    head = _HEAD.format(
        name=name, map=map_name, format=FORMAT, roles=_folded_list(CATEGORIES["role"]),
        parameters=_folded_list(CATEGORIES["parameter"]),
    )  # fmt: skip
    parts = [head]
    shapes: set[tuple[int, str | None]] = set()
    for number, (block, uses) in enumerate(tables):
        if (block.fingerprint, block.sheet.name) in shapes:
            continue
        shapes.add((block.fingerprint, block.sheet.name))
        parts.append(_table_text(number, block, uses, samples))
    return "\n".join(parts)


def _folded_list(words: Sequence[str], width: int = 96) -> str:
    import textwrap

    return textwrap.fill(
        ", ".join(words), width, initial_indent="#   ", subsequent_indent="#   ", break_on_hyphens=False
    )


def _table_text(number: int, block: Block, uses: list[Use], samples: Mapping[tuple[int, int], str]) -> str:
    lines = ["[[table]]"]
    if block.sheet.name:
        lines.append(f"sheet = {_quoted(block.sheet.name)}")
    headings = ",\n".join(f"    {_quoted(heading_of(parts))}" for parts in block.headings)
    lines += [
        f'fingerprint = "{block.fingerprint:016x}"', f"headings = [\n{headings},\n]",
        'decimal_mark = ""    # "." or ","; empty: told from the numbers',
        'date_order = ""      # "day first" or "month first"; empty: told from the dates',
    ]  # fmt: skip
    for use in uses:
        if use.col < block.sheet.origin_width:
            lines += _column_text(block, use, samples.get((number, use.col), ""))
    return "\n".join(lines) + "\n"


def _column_text(block: Block, use: Use, sample: str) -> list[str]:
    place = place_of(block, use.col)
    lines = ["", "[[table.column]]"]
    lines.append(f"row = {place.removeprefix('row ')}" if place.startswith("row ") else f'letter = "{place}"')
    lines.append(f"heading = {_quoted(use.heading)}" + (f"    # {_comment(sample)}" if sample else ""))
    lines.append(f"role = {_quoted(use.role)}" + (f"    # {_comment(use.why)}" if use.role == "ignored" else ""))
    if use.role == "ignored":
        return lines
    known = use.parameter if use.parameter in CATEGORIES["parameter"] and use.role != "length" else ""
    for key, text in (("parameter", known), ("direction", use.direction), ("end", use.end), ("pair", use.pair), ("unit", use.unit)):  # fmt: skip
        if text and (key != "pair" or text in CATEGORIES["pair"]):
            lines.append(f"{key} = {_quoted(text)}")
    if use.wavelength_nm > 0:
        lines.append(f"wavelength = {use.wavelength_nm}")
    if use.role == "length" and not use.unit:
        lines.append('unit = ""    # no unit is stated: write "m" or "ft"')
    return lines


def _quoted(text: str) -> str:
    """A TOML text: JSON's escapes are TOML's, the delete sign apart."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _comment(text: str) -> str:
    return "".join(sign if sign.isprintable() else " " for sign in text)
