"""What each row of a table is called: a label, cable and strand, merged cells, titles, or what stands above."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.importing.blocks import Block
from analyzer.importing.cable_names import cable_in_file_name, cable_in_titles, cable_of_sheet
from analyzer.importing.cells import spaced
from analyzer.importing.columns import Use
from analyzer.importing.end_positions import numbers_positions, strands_by_position
from analyzer.importing.grid import DATE, CellColumn
from analyzer.importing.words import plain

_END_ROLES = {"end A label", "end B label", "place A", "place B"}


def texts_at(column: CellColumn, rows: np.ndarray) -> np.ndarray:
    """Cells of some rows as an object array of texts."""
    if len(rows) < len(column.texts) // 100:
        return np.asarray([column.texts[code] for code in column.codes[rows].tolist()], dtype=object)
    return np.asarray(np.asarray(column.texts, dtype=object)[column.codes[rows]])


def _held_once(texts: np.ndarray) -> CellColumn:
    """An object array of texts as a column."""
    codes, distinct = pd.factorize(np.concatenate([np.asarray([""], dtype=object), texts]))
    return CellColumn(codes[1:].astype(np.int32), [str(text) for text in distinct])


def label_cells(
    block: Block, uses: list[Use], rows: np.ndarray, measured: np.ndarray
) -> tuple[CellColumn, np.ndarray | None, np.ndarray | None, list[tuple[str, str]]]:
    """Label of each row, cable and strand where columns say so, and what had to be filled in."""
    naming = {use.role: use for use in reversed(uses) if use.role in {"label", "cable", "strand"}}
    if set(naming) == {"label"} and not block.sheet.merged and not any(numbers_positions(use) for use in uses):
        column = block.sheet.columns[naming["label"].col]
        codes = column.at(rows)
        if not (measured & (codes == 0)).any():
            damage: list[tuple[str, str]] = []
            _tell_damage(block, naming["label"], rows, damage)
            return CellColumn(codes, column.texts), None, None, damage
    labels, cable, strand, seeds = _label_texts(block, uses, naming, rows, measured)
    return _held_once(labels), cable, strand, seeds


def _label_texts(
    block: Block, uses: list[Use], at: dict[str, Use], rows: np.ndarray, measured: np.ndarray
) -> tuple[np.ndarray, np.ndarray | None, np.ndarray | None, list[tuple[str, str]]]:
    """Label of each row made of several columns, of merged cells, of titles, or of what stands above."""
    seeds: list[tuple[str, str]] = []
    cells = {
        role: _filled_from_merged(block, use.col, rows, texts_at(block.sheet.columns[use.col], rows))
        for role, use in at.items()
    }
    for use in at.values():
        _tell_damage(block, use, rows, seeds)
    label, cable, strand = cells.get("label"), cells.get("cable"), cells.get("strand")
    if strand is None and label is None and cable is not None:
        strand = strands_by_position(block, uses, rows)
    elif strand is None and cable is None and label is not None:
        positions = strands_by_position(block, uses, rows)
        if positions is not None and _strand_tells_apart(label, positions):
            label, cable, strand = None, label, positions
    if cable is not None and strand is not None:
        cable = _filled_down(cable, (strand != "") & measured, "cable", seeds)
    if label is not None:
        label = _filled_by_pattern(label, measured, uses, block, rows, seeds)
        if strand is not None and _strand_tells_apart(label, strand):
            seeds.append(("label-with-strand", "one label stands on several strands: link named by label and strand"))
            label = joined(label, strand)
        return label, cable, strand, seeds
    if cable is not None and strand is not None:
        return joined(cable, strand), cable, strand, seeds
    if cable is not None:
        return _filled_by_pattern(cable, measured, uses, block, rows, seeds), None, None, seeds
    if strand is not None:
        section, sheet = cable_in_titles(block, rows, seeds), block.sheet
        if section is not None:
            return joined(section, strand), section, strand, seeds
        bare_numbers = len(strand) > 0 and np.mean([str(text).isdigit() for text in pd.unique(strand)]) > 0.5
        route = _from_ends(block, uses, rows, seeds, of_strands=True) if bare_numbers else strand
        if bare_numbers and (route != "").any():
            return joined(route, strand), None, strand, seeds
        of_sheet = cable_of_sheet(sheet.name or "") if bare_numbers else ""
        if of_sheet:
            section = np.full(len(rows), of_sheet, dtype=object)
            seeds.append(("cable-from-title", f"the cable of the strands is named by their sheet: {of_sheet}"))
            return joined(section, strand), section, strand, seeds
        cable_of_file = cable_in_file_name(sheet.file) if bare_numbers else ""
        if cable_of_file:
            section = np.full(len(rows), cable_of_file, dtype=object)
            seeds.append(
                (
                    "cable-from-file-name",
                    f"only the name of the file says which cable the strands are of: {cable_of_file}",
                )
            )
            return joined(section, strand), section, strand, seeds
        if bare_numbers:
            seeds.append(("cable-not-named", "the strands have numbers, and nothing names their cable"))
        return _filled_by_pattern(strand, measured, uses, block, rows, seeds), None, strand, seeds
    return _from_ends(block, uses, rows, seeds), None, None, seeds


def _from_ends(
    block: Block, uses: list[Use], rows: np.ndarray, seeds: list[tuple[str, str]], *, of_strands: bool = False
) -> np.ndarray:
    """Links that are named by where they end: place and label of end A, and of end B where that tells more apart."""
    cells = {use.role: texts_at(block.sheet.columns[use.col], rows) for use in uses if use.role in _END_ROLES}
    ends = []
    for end in ("A", "B"):
        label, place = cells.get(f"end {end} label"), cells.get(f"place {end}")
        if label is not None:
            ends.append(label if place is None else joined(place, label))
        elif of_strands and place is not None:
            ends.append(place)
    if not ends:
        return np.full(len(rows), "", dtype=object)
    if of_strands:
        seeds.append(("label-from-ends", "no column names the cable: strands are named by the ends they join"))
        return joined(*ends) if len(ends) == 2 else ends[0]
    seeds.append(("label-from-ends", "no column names the link: it is named by the place and label of its end"))
    several = pd.Series(ends[0][ends[0] != ""], dtype=object).nunique()
    if len(ends) == 2 and pd.Series(joined(*ends), dtype=object).nunique() > several + 1:
        return joined(*ends)
    return ends[0]


def _tell_damage(block: Block, use: Use, rows: np.ndarray, seeds: list[tuple[str, str]]) -> None:
    """A spreadsheet that took a label for a date has lost it; say which cell."""
    column = block.sheet.columns[use.col]
    if not column.kinds:
        return
    dates = np.flatnonzero(np.asarray(column.kinds)[column.codes[rows]] == DATE)
    if len(dates):
        first = rows[dates[0]]
        said = (
            f"row {block.sheet.rows[first]}: the label stands as a date ({block.sheet.text(int(first), use.col)}), "
            f"as a spreadsheet does with labels such as 3-6; {len(dates)} such labels: format the column as text"
        )
        seeds.append(("label-damaged", said))


def joined(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """`cable-strand`, the strand alone where it already begins with the cable; empty where either is missing.

    A plain number gets two digits, three where the cable has a hundred strands or more: the name that the expansion of
    a schedule gives to the same strand.
    """
    first_codes, first_texts = pd.factorize(first)
    second_codes, second_texts = pd.factorize(second)
    pairs = first_codes.astype(np.int64) * len(second_texts) + second_codes
    codes, distinct = pd.factorize(pairs)
    texts = [
        (str(first_texts[number // len(second_texts)]), str(second_texts[number % len(second_texts)]))
        for number in distinct
    ]
    most: dict[str, int] = {}
    for cable, strand in texts:
        if _is_count(strand):
            most[cable] = max(most.get(cable, 0), int(strand))
    names = []
    for cable, strand in texts:
        if not cable or not strand:
            names.append(strand if strand and not strand.isdigit() and not cable else "")
        elif plain(strand).startswith(plain(cable)) and len(strand) > len(cable):
            names.append(strand)
        else:
            digits = 3 if most.get(cable, 0) >= 100 else 2
            names.append(f"{cable}-{int(strand):0{digits}d}" if _is_count(strand) else f"{cable}-{strand}")
    return np.asarray(names, dtype=object)[codes] if names else first


def _is_count(text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) <= 4


def _strand_tells_apart(label: np.ndarray, strand: np.ndarray) -> bool:
    """Whether most labels stand on several strands, so that the label alone names no strand."""
    frame = pd.DataFrame({"label": label, "strand": strand})
    frame = frame[(frame["label"] != "") & (frame["strand"] != "")]
    if frame.empty:
        return False
    several = frame.groupby("label", sort=False)["strand"].nunique()
    return bool((several > 1).mean() > 0.5)


def _filled_from_merged(block: Block, col: int, rows: np.ndarray, texts: np.ndarray) -> np.ndarray:
    """Cells of a merged range all show its first cell."""
    spans = [(r0, r1) for r0, c0, r1, c1 in block.sheet.merged if c0 <= col <= c1 and r1 > r0]
    if not spans:
        return texts
    out = texts.copy()
    for first, last in spans:
        inside = (rows >= first) & (rows <= last) & (out == "")
        if inside.any():
            out[inside] = block.sheet.text(first, col)
    return out


def _filled_down(texts: np.ndarray, where: np.ndarray, what: str, seeds: list[tuple[str, str]]) -> np.ndarray:
    blank = (texts == "") & where
    if not blank.any():
        return texts
    filled = pd.Series(texts).where(texts != "").ffill().fillna("").to_numpy(dtype=object)
    seeds.append((f"{what}-filled-down", f"{int(blank.sum())} rows name no {what}: the one above holds on"))
    return np.where(blank, filled, texts)


def _filled_by_pattern(
    label: np.ndarray,
    measured: np.ndarray,
    uses: list[Use],
    block: Block,
    rows: np.ndarray,
    seeds: list[tuple[str, str]],
) -> np.ndarray:
    """Labels written once for a group of rows that tell themselves apart.

    Either every group has the same number of rows, or the rows without a label also lack the facts of the link that
    stand beside each label: then they go on with it, whatever their number.
    """
    apart = [use for use in uses if use.role in {"wavelength", "direction", "pair", "parameter", "end"}]
    blank = (label == "") & measured
    if not apart or not blank.any():
        return label
    group = np.cumsum((label != "") & measured)
    sizes = np.bincount(group[measured])[1:]
    if not len(sizes) or (group[measured] == 0).any():
        return label
    uniform = len(sizes) > 1 and sizes.min() == sizes.max() and sizes[0] > 1
    if not uniform and not _go_on(block, uses, rows, blank, (label != "") & measured):
        return label
    keys = np.zeros(len(rows), dtype=np.int64)
    for use in apart:
        column = block.sheet.columns[use.col]
        keys = keys * len(column.texts) + column.codes[rows]
    if pd.DataFrame({"group": group[measured], "key": keys[measured]}).duplicated().any():
        return label
    return _filled_down(label, measured, "label", seeds)


OF_LINK = {
    "type", "grade", "length", "tester", "operator", "tested at", "date", "time", "calibrated on", "reference",
    "mated pairs", "splices", "construction", "configuration", "limit name", "edition", "standard", "area", "segment",
    "medium", "place A", "place B", "end types",
}  # fmt: skip
"""Facts of a link or of its test, which a table that writes the label once writes once as well."""


def _go_on(block: Block, uses: list[Use], rows: np.ndarray, blank: np.ndarray, named: np.ndarray) -> bool:
    """Whether facts stand beside every label and beside no row without one."""
    filled = [block.sheet.columns[use.col].codes[rows] != 0 for use in uses if use.role in OF_LINK and use.col < block.sheet.origin_width]  # fmt: skip
    beside = [column for column in filled if column[named].all()]
    return bool(beside) and not any(column[blank].any() for column in filled)


def identity_of(text: str) -> str:
    """NFC, trimmed, inner spaces collapsed, case folded."""
    return spaced(text).casefold()
