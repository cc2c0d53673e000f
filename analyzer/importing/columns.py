"""The columns of one table together: what one heading leaves open, its neighbors and the cells settle.

In: the headings of a block, one by one understood. Out: one `Use` per column, with roles of the schema alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from analyzer.importing.blocks import Block
from analyzer.importing.cells import parse_cell
from analyzer.importing.column_cells import BOTH_KEYS, by_content, number_or_blank, sample, share
from analyzer.importing.headings import GUESSED_LOSS, Heading, is_exact, parameters_in, understand
from analyzer.schema import CATEGORIES

COPPER_PARAMETERS = frozenset(CATEGORIES["parameter"]) - {
    "loss",
    "length",
    "optical return loss",
    "return loss",
    "insertion loss",
}


@dataclass(frozen=True)
class Use:
    """What one column is used for; the fields of the table `columns`."""

    col: int
    heading: str
    role: str
    parameter: str = ""
    wavelength_nm: int = -1
    pair: str = ""
    end: str = ""
    direction: str = ""
    unit: str = ""
    sure: float = 0.0
    why: str = ""
    frequency_mhz: float = -1.0
    worst: bool = False
    """Headed "worst": of all pairs and both ends that the heading does not name."""
    about: str = ""
    """Of a column that places a worst point: whose point, "margin", "limit" or "value"."""

    def because(self, why: str, **changes: object) -> Use:
        """The same with changes and one more reason."""
        told = why if self.why in {"", "every word is known"} else f"{self.why}; {why}"
        return replace(self, why=told, **changes)  # type: ignore[arg-type]


def settle_columns(block: Block, medium: str, *, schedule: bool = False) -> list[Use]:
    """One `Use` for each column of the block; in a schedule `strands` stays a count or a range."""
    outer = _from_sheet_name(block)
    uses = []
    for col, parts in zip(block.columns, block.headings, strict=True):
        heading = understand(parts)
        cells = sample(block.sheet.columns[col], block.data_rows)
        uses.append(by_content(_first_use(col, heading), heading, cells))
    uses = _parameter_of_pairs(uses, block)
    uses = _medium(_told_by_rows(uses, block), block, medium)
    uses = _from_outside(uses, outer)
    uses = _generic_values(uses, block)
    uses = _ends_to_directions(uses)
    uses = _powers_beside(uses)
    uses = _greatest_allowed(uses, [understand(parts) for parts in block.headings], block)
    uses = _means(uses, [understand(parts) for parts in block.headings])
    uses = _one_length(_both_keys(_wire_map_verdicts(uses)))
    uses = _beside_each_value(uses)
    return _labels(uses, schedule=schedule)


def _first_use(col: int, heading: Heading) -> Use:
    role = heading.role
    parameter = heading.parameter
    return Use(
        col, heading.text, role, parameter, heading.wavelength_nm, heading.pair, heading.end, heading.direction,
        heading.unit, heading.sure, heading.why, heading.frequency_mhz,
        heading.statistic == "worst", heading.about,
    )  # fmt: skip


def role_of_fact(heading: Heading, text: str) -> str:
    """Role of a label/value line: what its label says, settled by its value as that of a column by its cells."""
    return by_content(_first_use(-1, heading), heading, [text]).role


def _medium(uses: list[Use], block: Block, default: str) -> list[Use]:
    """`insertion loss` and `return loss` mean other parameters on fiber than on balanced cabling."""
    copper = any(
        use.parameter in COPPER_PARAMETERS or use.pair or use.role in {"pair", "grade"} or use.frequency_mhz > 0
        for use in uses
    )
    fiber = any(use.wavelength_nm > 0 or use.role in {"wavelength", "type", "strand"} for use in uses)
    names = _long_parameters(uses, block)
    copper = copper or bool(names & COPPER_PARAMETERS)
    is_fiber = fiber or (not copper and default == "fiber")
    out = []
    for use in uses:
        on_fiber = use.wavelength_nm > 0 or (is_fiber and not copper)
        if use.parameter == "insertion loss" and on_fiber:
            out.append(replace(use, parameter="loss"))
        elif use.parameter == "return loss" and on_fiber:
            out.append(replace(use, parameter="optical return loss"))
        elif use.parameter == "loss" and not on_fiber and copper:
            out.append(replace(use, parameter="insertion loss"))
        elif use.parameter == "optical return loss" or use.parameter != "power":
            out.append(use)
        else:
            out.append(use if use.role == "value" else replace(use, parameter=""))
    return out


def _told_by_rows(uses: list[Use], block: Block) -> list[Use]:
    """`Value (dB)` is loss only where no column says row by row what was measured."""
    if not _long_parameters(uses, block) - {""}:
        return uses
    return [
        use.because("another column names the parameter of each row", parameter="")
        if use.role == "value" and use.parameter == "loss" and GUESSED_LOSS in use.why
        else use
        for use in uses
    ]


def _long_parameters(uses: list[Use], block: Block) -> frozenset[str]:
    found: set[str] = set()
    for use in uses:
        if use.role == "parameter":
            for text in sample(block.sheet.columns[use.col], block.data_rows):
                found.add(understand((text,)).parameter)
    return frozenset(found)


def _from_sheet_name(block: Block) -> Heading | None:
    if not block.sheet.name:
        return None
    heading = understand((block.sheet.name,))
    return heading if heading.wavelength_nm > 0 or heading.direction else None


_IN_COPPER = {"loss": "insertion loss", "optical return loss": "return loss"}


def _parameter_of_pairs(uses: list[Use], block: Block) -> list[Use]:
    """Columns headed by pairs alone measure what the line above the table says, else the name of the sheet."""
    if any(use.role == "parameter" for use in uses):
        return uses
    bare = [use for use in uses if use.pair and not use.parameter and use.role in {"value", "limit", "margin"}]
    if not bare:
        return uses
    above = [text for row in reversed(block.above[-4:]) for text in block.sheet.row_texts(row) if text]
    for text in [*above, block.sheet.name or ""]:
        said = understand((text,))
        parameter = _IN_COPPER.get(said.parameter, said.parameter)
        if said.role == "value" and parameter and len(parameters_in(text)) == 1:
            return [
                use.because(f"{text!r} says it", parameter=parameter, end=use.end or said.end) if use in bare else use
                for use in uses
            ]
    return uses


def _from_outside(uses: list[Use], outer: Heading | None) -> list[Use]:
    """The sheet's name says the wavelength or direction that no heading says."""
    if outer is None or any(use.role == "wavelength" for use in uses):
        return uses
    measured = {"value", "limit", "margin"}
    if not any(use.role in measured for use in uses) or any(use.wavelength_nm > 0 for use in uses):
        return uses
    return [
        use.because(
            f"the sheet's name {outer.text!r} says it",
            wavelength_nm=outer.wavelength_nm,
            direction=use.direction or outer.direction,
        )
        if use.role in measured and use.parameter in {"loss", "optical return loss", ""}
        else use
        for use in uses
    ]


def _pair_of_row(use: Use, block: Block) -> Use:
    """A column of numbers headed by a pair alone, in rows that name the parameter, holds values of that pair."""
    numbers = share(sample(block.sheet.columns[use.col], block.data_rows), number_or_blank)
    if use.role != "ignored" or not use.pair or use.parameter or numbers < 0.5:
        return use
    return use.because("the rows name the parameter", role="value", sure=0.9)


def _generic_values(uses: list[Use], block: Block) -> list[Use]:
    """Number columns that name no parameter: told by a parameter column, else loss where nothing else is measured."""
    if any(use.role == "parameter" for use in uses):
        return [_pair_of_row(use, block) for use in uses]
    named = any(use.role == "value" and use.parameter and use.parameter != "power" for use in uses)
    waves = any(use.role == "wavelength" or use.wavelength_nm > 0 for use in uses)
    fiber = waves or any(use.role in {"type", "strand"} for use in uses)
    out = []
    for use in uses:
        if use.role != "value" or use.parameter or use.pair:
            out.append(use)  # a pair without a parameter: its cells are set aside and told
        elif named and not use.direction:
            out.append(use.because("names no parameter, and others do", role="ignored"))
        elif not fiber or use.unit not in {"", "dB"} or use.frequency_mhz > 0:
            out.append(use.because("names no parameter", role="ignored"))
        elif share(sample(block.sheet.columns[use.col], block.data_rows), number_or_blank) < 0.3:
            out.append(use.because("names no parameter and holds no numbers", role="ignored"))
        else:
            out.append(use.because("names no parameter: taken as loss", parameter="loss", sure=min(use.sure, 0.7)))
    return out


def _ends_to_directions(uses: list[Use]) -> list[Use]:
    """Loss measured from end A is loss in the direction A-B."""
    out = []
    for use in uses:
        if (
            use.end
            and not use.direction
            and use.role in {"value", "limit", "margin", "verdict"}
            and use.parameter == "loss"
        ):
            towards = "A-B" if use.end == "A" else "B-A"
            out.append(use.because(f"measured from end {use.end}: taken as {towards}", direction=towards, end=""))
        else:
            out.append(use)
    return out


def _powers_beside(uses: list[Use]) -> list[Use]:
    """A power beside the loss made from it is no second reading; the loss column is the reading."""
    losses = [use for use in uses if use.role == "value" and use.parameter == "loss" and use.unit != "dBm"]

    def told(power: Use) -> bool:
        return any(
            (power.wavelength_nm < 0 or loss.wavelength_nm in {-1, power.wavelength_nm})
            and (not power.direction or loss.direction in {"", power.direction})
            for loss in losses
        )

    return [
        use.because("the loss itself stands beside this power, and is the reading", role="ignored")
        if use.role == "value" and use.parameter == "power" and told(use)
        else use
        for use in uses
    ]


def _greatest_allowed(uses: list[Use], headings: list[Heading], block: Block) -> list[Use]:
    """A bare `Maximum` beside one value and its margin is the limit where maximum less value is the margin."""
    greatest = [
        heading.statistic == "worst" and use.role in {"ignored", "value"} and not (use.direction or use.end)
        for use, heading in zip(uses, headings, strict=True)
    ]
    rest = [use for use, other in zip(uses, greatest, strict=True) if not other]
    three = [[use.col for use in rest if use.role == role] for role in ("value", "margin")]
    three.append([use.col for use, other in zip(uses, greatest, strict=True) if other])
    if any(len(cols) != 1 for cols in three) or any(use.role == "limit" for use in rest):
        return uses
    if not any(_adds_up(block, [cols[0] for cols in three], mark) for mark in ".,"):
        return uses
    why = "maximum less value is the margin: taken as the limit"
    return [use.because(why, role="limit") if other else use for use, other in zip(uses, greatest, strict=True)]


def _adds_up(block: Block, cols: list[int], mark: str, most: int = 200) -> bool:
    """Whether the first column and the second make the third, within rounding, in nine rows of ten."""
    parts = []
    for col in cols:
        column = block.sheet.columns[col]
        numbers = column.map(lambda text, kind: parse_cell(text, kind, mark).value if text else math.nan)
        parts.append(np.asarray(numbers, dtype=np.float64)[column.codes[block.data_rows[:most]]])
    gap = np.abs(parts[0] + parts[1] - parts[2])
    gap = gap[np.isfinite(gap)]
    return bool(len(gap)) and bool((gap < 0.02).mean() >= 0.9)


def _means(uses: list[Use], headings: list[Heading]) -> list[Use]:
    """A mean of two directions is no reading where the directions themselves stand beside it."""
    single = {
        (use.parameter, use.wavelength_nm)
        for use, heading in zip(uses, headings, strict=True)
        if use.role == "value" and not heading.statistic
    }
    out = []
    for use, heading in zip(uses, headings, strict=True):
        if use.role != "value" or heading.statistic not in {"mean", "worst"}:
            out.append(
                use.because("a statistic, not a reading", role="ignored")
                if heading.statistic
                and use.role not in {"value", "limit", "margin", "verdict", "frequency", "pair", "end"}
                else use
            )
        elif (use.parameter, use.wavelength_nm) in single or (use.parameter, -1) in single:
            word_ = "mean" if heading.statistic == "mean" else "worst value"
            out.append(
                use.because(f"{word_} of columns that stand beside it: not a reading of its own", role="ignored")
            )
        elif heading.statistic == "mean":
            out.append(use.because("a mean, and the only reading there is: no direction", direction="", end=""))
        else:
            out.append(use)
    return out


def _wire_map_verdicts(uses: list[Use]) -> list[Use]:
    """A verdict on the wire map beside no wire map is the reading itself."""
    if any(use.role == "value" and use.parameter == "wire map" for use in uses):
        return uses
    return [
        use.because("the only column that tells of the wire map", role="value")
        if use.role == "verdict" and use.parameter == "wire map"
        else use
        for use in uses
    ]


def _both_keys(uses: list[Use]) -> list[Use]:
    """A column of both keys gives the direction alone where another column is the wavelength."""
    waves = [use for use in uses if use.role == "wavelength"]
    both = [use for use in waves if BOTH_KEYS in use.why]
    if not both or len(both) == len(waves) or any(use.role == "direction" for use in uses):
        return uses
    return [
        use.because("another column is the wavelength", role="direction") if use is both[0] else use for use in uses
    ]


def _beside_each_value(uses: list[Use]) -> list[Use]:
    """Several bare `Pair` or `Frequency` columns: each speaks of the value to its left."""
    out = list(uses)
    for role in ("pair", "frequency"):
        bare = [use for use in uses if use.role == role and not use.parameter]
        for use in bare if len(bare) > 1 else []:
            value = max(
                (other for other in uses if other.role == "value" and other.parameter and other.col < use.col),
                key=lambda other: other.col,
                default=None,
            )
            if value is not None:
                why = f"follows {value.heading!r}"
                out[uses.index(use)] = use.because(why, parameter=value.parameter, end=value.end)
    return out


def _one_length(uses: list[Use]) -> list[Use]:
    """Of several length columns the one in metres is used, else the first with a unit, else the first."""
    lengths = [use for use in uses if use.role == "length"]
    if len(lengths) < 2:
        return uses
    order = {"m": 0, "km": 1, "ft": 2, "": 3}
    best = min(lengths, key=lambda use: (order.get(use.unit, 4), use.col))
    return [
        use if use is best or use.role != "length" else use.because("another length column is used", role="ignored")
        for use in uses
    ]


_ONE_COLUMN = (
    "cable", "strand", "wavelength", "parameter", "direction", "pair", "unit", "tested at", "type", "grade",
    "construction", "configuration", "mated pairs", "splices", "reference", "date", "tester", "operator", "limit name",
    "edition", "standard", "area", "segment", "medium", "polarity", "accuracy", "accuracy level", "velocity",
    "temperature", "group index", "calibrated on", "screen", "software version", "firmware version",
    "limit table version", "project",
)  # fmt: skip
"""Roles of which a table uses one column: one whose heading is known as it stands, before a guessed one."""


def _labels(uses: list[Use], *, schedule: bool) -> list[Use]:
    """Which column is the label: a label column, else cable with strand, else whichever stands alone."""
    by_role: dict[str, list[Use]] = {}
    for use in uses:
        by_role.setdefault(use.role, []).append(use)
    change: dict[int, Use] = {}
    if len(by_role.get("label", [])) > 1:
        best = max(by_role["label"], key=lambda use: (use.sure, -use.col))
        for use in by_role["label"]:
            if use is not best:
                change[use.col] = use.because("another column is the label", role="ignored")
    if not schedule and "strands" in by_role and "strand" not in by_role:
        change[by_role["strands"][0].col] = by_role["strands"][0].because("strand", role="strand")
    for name in _ONE_COLUMN:
        columns = [use for use in by_role.get(name, []) if name != "pair" or not use.parameter]
        ordered = sorted(columns, key=lambda use: (not is_exact(use.heading), -use.sure, use.col))
        for use in ordered[1:]:
            change[use.col] = use.because(f"another column is the {name}", role="ignored")
    naming = ("label", "cable", "strand", "strands", "end A label", "end B label")
    if by_role.get("record number") and not any(by_role.get(name) for name in naming):
        use = by_role["record number"][0]
        change[use.col] = use.because("the only column that names the link", role="label", sure=min(use.sure, 0.7))
    return [change.get(use.col, use) for use in uses]
