"""Lines above a sweep that hold a reading: `Wire map: pass`, `Propagation delay 1-2 (ns): 480`.

They are no part of the curves and hold for the one link whose curves stand below them. What is measured without a
frequency is read; every other value is set aside, for nothing says at which frequency it was measured.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from analyzer.importing import wire_maps
from analyzer.importing.blocks import Block
from analyzer.importing.columns import Use
from analyzer.importing.distinct import spread
from analyzer.importing.forms import Pair
from analyzer.importing.grid import TEXT, CellColumn, Sheet
from analyzer.importing.parsed import VERDICTS
from analyzer.importing.sweep_constants import OF_THE_LINK
from analyzer.schema import CATEGORIES

WITHOUT_FREQUENCY = OF_THE_LINK | {"propagation delay", "delay skew", "wire map"}
"""Parameters whose single value above a sweep says all there is to say."""
ALONE = "value-above-sweep"
"""Code of a value that needs a frequency, and of one above the curves of several links."""


def is_reading(pair: Pair) -> bool:
    """Whether a label/value line holds a reading and no fact of the link."""
    heading = pair.heading
    wire_map = heading.parameter == "wire map" and heading.role in {"value", "verdict"}
    return wire_map or (heading.role == "value" and heading.parameter not in {"", "length"})


def add_readings_above(block: Block, uses: list[Use], lines: Sequence[Pair]) -> tuple[Block, list[Use]]:
    """The block with one more column for each line above it that holds a reading, the same in every row."""
    if not lines:
        return block, uses
    sheet = block.sheet
    columns, extra = list(sheet.columns), []
    for pair in lines:
        row, col = sheet.place(np.asarray([pair.row]), np.asarray([pair.col]))
        codes = np.ones(len(sheet.rows), dtype=np.int32)
        columns.append(CellColumn(codes, ["", pair.text], [TEXT, pair.kind], stands=(int(row[0]), int(col[0]))))
        heading, why = pair.heading, f"stands above the table in row {sheet.rows[pair.row]}"
        extra.append(
            Use(
                len(columns) - 1, heading.text, "value", heading.parameter, -1, heading.pair, heading.end, "", heading.unit,
                heading.sure, why,
            )
        )  # fmt: skip
    wider = Sheet(**{**sheet.__dict__, "columns": columns, "width": sheet.origin_width})
    return Block(wider, block.heading_rows, block.data_rows, block.columns, block.headings, block.above, block.kind), [*uses, *extra]  # fmt: skip


def wire_map_reading(column: CellColumn, line: int) -> pd.DataFrame:
    """One reading of record 0: no number, the declared verdict where one is declared; empty where no word is known.

    Args:
        column: cells that hold the wire map.
        line: position in the sheet of a row that has it.
    """
    codes = column.codes[[line]]
    if not wire_maps.told(column.texts[int(codes[0])]):
        return pd.DataFrame()
    said = [wire_maps.declared_verdict(text) for text in column.texts]
    verdict = spread([VERDICTS.index(text) if text else -1 for text in said], codes, np.int8)
    return pd.DataFrame(
        {
            "record": [0], "line": [line], "parameter": [CATEGORIES["parameter"].index("wire map")], "wavelength_nm": [-1],
            "pair": [-1], "end": [-1], "direction": [-1], "frequency_mhz": [math.nan], "value": [math.nan], "bound": [-1],
            "decimals": [-1], "declared_limit": [math.nan], "declared_margin": [math.nan], "declared_verdict": verdict,
            "worst": [False],
        }
    )  # fmt: skip
