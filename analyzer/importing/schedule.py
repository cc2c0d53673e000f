"""The cable schedule: any table, read by the same path, one row for each link that was ordered.

A fiber cable row expands to its strands: `TB-01` with strands `1-12` becomes `TB-01-01` to `TB-01-12` (three digits
where a strand number has three). A row without strands, and every copper row, stays one link.
"""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.importing.assemble import conform_codes
from analyzer.importing.blocks import Block, find_blocks
from analyzer.importing.column_map import heading_rows, overrule, overrule_decisions
from analyzer.importing.columns import Use, settle_columns
from analyzer.importing.fact_columns import read_facts
from analyzer.importing.grid import read_sheets
from analyzer.importing.row_labels import texts_at
from analyzer.importing.source import HeadingsOnly, NoTable, ReadContext, Source
from analyzer.importing.table import identity
from analyzer.importing.votes import settle, votes_of
from analyzer.importing.words import plain, set_aside_codes, word

_MOST_STRANDS = 10_000
_NAMES = {
    "end A label": "label_a",
    "end B label": "label_b",
    "place A": "place_a",
    "place B": "place_b",
    "area": "area",
}


def read_schedule(
    source: Source, context: ReadContext | None = None, sheet: str | None = None
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Tables `schedule` and `set_aside` of one file; `sheet` names the sheet of a workbook, else the best one is taken.

    Raises:
        FileUnreadable: broken, locked, no text; `NoTable` where no column holds labels; `HeadingsOnly` without rows.
    """
    context = context or ReadContext()
    block, uses = schedule_table(source, context, sheet)
    decisions = context.decisions if context.decisions is not None else settle([votes_of(block, uses)])
    decisions = overrule_decisions(decisions, [block], context.maps)
    rows = block.data_rows
    labels, strands = _labels(block, uses, rows)
    filled = np.zeros(len(rows), dtype=bool)
    for use in uses:
        filled |= block.sheet.columns[use.col].codes[rows] != 0
    total = np.asarray([bool(word("total", text)) for text in labels], dtype=bool)
    single = _filled_count(block, uses, rows) <= 1
    note = single & (len(uses) > 1) & np.asarray([" " in text and len(text) > 20 for text in labels], dtype=bool)
    data = filled & ~total & ~note
    named = data & (labels != "")
    aside = _rows_without_label(block, rows[data & ~named])
    found = read_facts(
        lambda use: block.sheet.columns[use.col], uses, rows[named], decisions.decimal_mark(block.fingerprint),
        lambda use: decisions.date_order(block.fingerprint, use.col),
    )  # fmt: skip
    for at, use, code in found.rejected:
        aside.append(_cells_aside(block, rows[named][at], use, code))
    unstated = np.isfinite(found.arrays.get("length_unstated", np.full(int(named.sum()), np.nan)))
    if unstated.any():
        use = next(use for use in uses if use.role == "length")
        aside.append(_cells_aside(block, rows[named][unstated], use, "unit-not-stated"))
    frame = _expand(block, labels[named], strands[named], found.arrays, rows[named], aside)
    return conform_codes("schedule", frame), _aside_table(aside)


def schedule_table(source: Source, context: ReadContext, wanted: str | None = None) -> tuple[Block, list[Use]]:
    """The best table of a file for a schedule, with what each column was taken for; `wanted` names its sheet.

    Raises:
        FileUnreadable: as `read_schedule`.
    """
    sheets = read_sheets(source)
    if wanted is not None:
        names = [one.name or "" for one in sheets]
        sheets = [one for one in sheets if one.name is not None and plain(one.name) == plain(wanted)]
        if not sheets:
            raise NoTable(source.name, f"it has no sheet {wanted!r}", f"name one of: {', '.join(names) or 'none'}")
    best: tuple[int, Block, list[Use]] | None = None
    bare = ""
    for one in sheets:
        for block in find_blocks(one, least_headings=1.0, known=heading_rows(context.maps)):
            uses = overrule(block, settle_columns(block, context.medium, schedule=True), context.maps)
            if not any(use.role in {"label", "cable", "strand"} for use in uses):
                continue
            if not any((one.columns[use.col].codes[block.data_rows] != 0).any() for use in uses):
                bare = f"row {one.rows[block.heading_rows[0]]}"
                continue
            score = sum(use.role != "ignored" for use in uses) * 1000 + min(len(block.data_rows), 999)
            if best is None or score > best[0]:
                best = (score, block, uses)
    if best is None:
        if bare:
            raise HeadingsOnly(source.name, f"headings stand in {bare}, and no row under them", "add the cables")
        raise NoTable(source.name, "no schedule was found", "one column must be headed Label, Link or Cable")
    return best[1], best[2]


def _filled_count(block: Block, uses: list[Use], rows: np.ndarray) -> np.ndarray:
    count = np.zeros(len(rows), dtype=np.int32)
    for use in uses:
        count += block.sheet.columns[use.col].codes[rows] != 0
    return count


def _labels(block: Block, uses: list[Use], rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Label of each row (of the cable where strands follow) and the text that says which strands."""
    at = {use.role: texts_at(block.sheet.columns[use.col], rows) for use in reversed(uses)}
    blank = np.full(len(rows), "", dtype=object)
    label = at.get("label", at.get("cable"))
    strands = at.get("strands", at.get("strand", blank))
    if label is None:
        return at.get("strand", blank), blank
    if "cable" in at and "label" in at and "strand" in at:
        return label, blank
    return label, strands


def strand_numbers(text: str) -> list[int] | None:
    """`12` is 1 to 12; `13-24`, `1..12`, `1 to 12`, `1-6, 9` are ranges; None where the text is neither."""
    bare = re.sub(r"\b(strands?|fibers?|fibres?|fasern?|fo|f|fibras?|cores?|adern?)\b", " ", plain(text)).strip()
    if re.fullmatch(r"\d{1,5}(\.0)?", bare):
        count = int(float(bare))
        return list(range(1, count + 1)) if 0 < count <= _MOST_STRANDS else None
    numbers: list[int] = []
    for part in re.split(r"\s*[,;+&]\s*", bare):
        match = re.fullmatch(r"0*(\d{1,5})(?:\s*(?:-|–|—|\.\.+|to|bis|a|au|hasta|tot|ate|~)\s*0*(\d{1,5}))?", part)
        if not match:
            return None
        first, last = int(match[1]), int(match[2] or match[1])
        if not 0 < first <= last or last - first >= _MOST_STRANDS:
            return None
        numbers.extend(range(first, last + 1))
    return numbers if len(set(numbers)) == len(numbers) else None


def _expand(
    block: Block,
    labels: np.ndarray,
    strands: np.ndarray,
    arrays: dict[str, np.ndarray],
    rows: np.ndarray,
    aside: list[Any],
) -> pd.DataFrame:
    codes, texts = pd.factorize(strands)
    said = [strand_numbers(str(text)) if text else None for text in texts]
    said = [None if word("not measured", str(text)) else one for one, text in zip(said, texts, strict=True)]
    bad = np.asarray(
        [
            one is None and bool(text) and not word("not measured", str(text))
            for one, text in zip(said, texts, strict=True)
        ],
        dtype=bool,
    )
    medium = arrays.get("medium", np.full(len(labels), -1))
    copper = (medium == 1) | (arrays.get("grade", np.full(len(labels), -1)) >= 0)
    if len(texts) and bad[codes].any():
        use = next(use for use in settle_columns(block, "fiber", schedule=True) if use.role in {"strands", "strand"})
        aside.append(_cells_aside(block, rows[bad[codes]], use, "not-a-fact"))
    if _row_for_each_strand(labels, codes, said):
        numbers = [[one[-1]] if one else [-1] for one in said]
    else:
        numbers = [one or [-1] for one in said]
    lists = [[-1] if copper[i] else numbers[code] for i, code in enumerate(codes)]
    counts = np.asarray([len(one) for one in lists], dtype=np.int64)
    source_row = np.repeat(np.arange(len(labels)), counts)
    strand = np.asarray([number for one in lists for number in one], dtype=np.int32)
    cable = labels[source_row]
    cable_key = identity(cable)
    wide = (
        pd.Series(strand).groupby(pd.Series(cable_key, dtype=object)).transform("max").to_numpy() >= 100
        if len(strand)
        else strand
    )
    digits = np.where(wide, 3, 2)
    names = np.asarray(
        [
            name if number < 0 else f"{name}-{number:0{width}d}"
            for name, number, width in zip(cable, strand, digits, strict=True)
        ],
        dtype=object,
    )
    frame = pd.DataFrame(
        {
            "key": identity(names), "label": names, "cable": cable, "cable_key": cable_key, "strand": strand,
            "row": block.sheet.rows[rows][source_row],
            **{name: values[source_row] for name, values in arrays.items() if name in schema.TABLES["schedule"]},
        }
    )  # fmt: skip
    if "medium" not in frame:
        frame["medium"] = -1
    known_fiber = (
        (frame["strand"] > 0)
        | (frame.get("type", pd.Series(-1, index=frame.index)) >= 0)
        | (frame.get("glass", pd.Series(-1, index=frame.index)) >= 0)
    )
    frame["medium"] = np.where(
        frame["medium"] >= 0, frame["medium"], np.where(copper[source_row], 1, np.where(known_fiber, 0, -1))
    )
    return frame


def _row_for_each_strand(labels: np.ndarray, codes: np.ndarray, said: list[list[int] | None]) -> bool:
    """Cables repeated over rows with single strand numbers: each row is one strand, not a count."""
    if not len(labels) or not said:
        return False
    single = all(one is None or one == list(range(1, len(one) + 1)) for one in said)
    repeated = pd.Series(labels, dtype=object).duplicated(keep=False).mean() > 0.5
    pairs = pd.DataFrame({"label": labels, "code": codes})
    return bool(single and repeated and not pairs.duplicated().any())


def _rows_without_label(block: Block, rows: np.ndarray) -> list[Any]:
    if not len(rows):
        return []
    counts_as, reason = set_aside_codes()["no-label"]
    texts = [" | ".join(text for text in block.sheet.row_texts(int(row)) if text)[:200] for row in rows]
    return [
        {
            "sheet": block.sheet.name, "row": block.sheet.rows[rows], "col": -1, "counts_as": counts_as, "code": "no-label",
            "reason": reason.replace("readings but", "entries but"), "text": np.asarray(texts, dtype=object),
        }
    ]  # fmt: skip


def _cells_aside(block: Block, rows: np.ndarray, use: Use, code: str) -> dict[str, Any]:
    counts_as, reason = set_aside_codes()[code]
    texts = texts_at(block.sheet.columns[use.col], rows)
    return {
        "sheet": block.sheet.name, "row": block.sheet.rows[rows], "col": use.col, "counts_as": counts_as, "code": code,
        "reason": f"{reason} ({use.heading}, taken for {use.role})", "text": np.asarray([text[:200] for text in texts], dtype=object),
    }  # fmt: skip


def _aside_table(aside: list[Any]) -> pd.DataFrame:
    if not aside:
        return schema.empty("set_aside")
    frames = [pd.DataFrame(one).assign(file=0).astype({"sheet": object, "text": object}) for one in aside]
    return schema.conform("set_aside", pd.concat(frames, ignore_index=True))


_TAIL = r"[\s\-/.:_#]*"
_WORDS = r"(?:f|fo|fib|fiber|fibre|strand|core|port|faser|ader|fibra|vezel|no\.?|nr\.?)"
_SEPARATORS_AT_END = re.compile(_TAIL + r"$")
_WORD_AT_END = re.compile(rf"(?:(?<=\d)|(?<=[\s\-/.:_#])){_WORDS}{_TAIL}$")


class StrandAliases(dict[str, int]):
    """Usual spellings of expanded strands: key -> row of the schedule. Found when asked for; -1 where there is none.

    `tb-01-3`, `tb-01/03`, `tb-01.003`, `tb-01 f3`, `tb-0103`, `tb-01 strand 3` all mean strand 3 of `tb-01`, as long as
    only one strand can be meant. This follows from the definition of the expansion, so it counts as an exact key. So
    does the label of one end, as long as the schedule writes it at one end of one link only: owners may want other texts
    at either end.
    """

    def __init__(self, schedule: pd.DataFrame) -> None:
        super().__init__()
        self._exact = {str(key): row for row, key in enumerate(schedule["key"].tolist())}
        numbered = schedule["strand"].to_numpy()
        self._strands = {
            (str(cable), int(strand)): row
            for row, (cable, strand) in enumerate(zip(schedule["cable_key"].tolist(), numbered.tolist(), strict=True))
            if strand > 0
        }
        self._cables = {cable for cable, _ in self._strands}
        self._ends, self._cable_of_end = _by_one_end(schedule)

    def __missing__(self, key: str) -> int:
        self[key] = row = self._find(key)
        return row

    def get(self, key: object, default: Any = None) -> Any:
        """Row of the schedule, or the default."""
        row = self[key] if isinstance(key, str) else -1
        return row if row >= 0 else default

    def __contains__(self, key: object) -> bool:
        return isinstance(key, str) and self[key] >= 0

    def _find(self, key: str) -> int:
        if not isinstance(key, str):
            return -1
        if key in self._exact:
            return self._exact[key]
        found = set()
        for size in (1, 2, 3):
            head, digits = key[:-size], key[-size:]
            if len(digits) < size or not digits.isdigit() or not head:
                continue
            for cable in self._heads(head):
                row = self._strands.get((cable, int(digits)))
                if row is not None:
                    found.add(row)
        return found.pop() if len(found) == 1 else self._ends.get(key, -1)

    def _heads(self, head: str) -> set[str]:
        bare = _SEPARATORS_AT_END.sub("", head)
        heads = {head, bare}
        match = _WORD_AT_END.search(head)
        if match:
            heads.add(_SEPARATORS_AT_END.sub("", head[: match.start()]))
        return (heads & self._cables) | {self._cable_of_end[head] for head in heads & self._cable_of_end.keys()}


def _by_one_end(schedule: pd.DataFrame) -> tuple[dict[str, int], dict[str, str]]:
    """Identity of an end's label -> row, and -> cable, where only one row or one cable of the schedule bears it."""
    if schedule.empty:
        return {}, {}
    ends = pd.concat([schedule["label_a"], schedule["label_b"]]).dropna()
    table = pd.DataFrame({"key": identity(ends.to_numpy(dtype=object)), "row": ends.index.to_numpy()})
    table["cable"] = schedule["cable_key"].to_numpy(dtype=object)[table["row"]]
    rows, cables = (table[["key", name]].dropna().drop_duplicates() for name in ("row", "cable"))
    rows, cables = (one[~one["key"].duplicated(keep=False)] for one in (rows, cables))
    own = set(schedule["cable_key"].dropna())
    return (
        dict(zip(rows["key"], rows["row"].tolist(), strict=True)),
        {key: cable for key, cable in zip(cables["key"], cables["cable"], strict=True) if key not in own},
    )


def strand_aliases(schedule: pd.DataFrame) -> StrandAliases:
    """Mapping from the usual spellings of the strands of a schedule to its rows."""
    return StrandAliases(schedule)


__all__ = ["StrandAliases", "read_schedule", "schedule_table", "strand_aliases", "strand_numbers"]
