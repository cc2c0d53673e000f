"""The tidy tables: columns, units, types, meanings. The contract between all rooms.

Every table is a pandas frame with a plain range index. Units stand at the end of a name. Types:

* ``c:NAME``  categorical with the closed set of categories `CATEGORIES[NAME]`; missing is NaN
* ``i1 i2 i4 u8``  integers; a missing one is -1 (there is no missing `u8`)
* ``f8``  float64; missing is NaN
* ``b``  bool
* ``t``  datetime64[s]; missing is NaT; as written, no time zone
* ``s``  text (pandas `str`); missing is NaN

Read `TABLES` first. `empty(name)` makes a table, `conform(name, frame)` casts one and adds absent columns.
The glossary in docs/ is compared with this file by a test.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

MULTIMODE_TYPES = ("OM1", "OM2", "OM3", "OM4", "OM5")
SINGLE_MODE_TYPES = ("OS1", "OS1a", "OS2")

CATEGORIES: Mapping[str, tuple[str, ...]] = {
    "medium": ("fiber", "twisted pair"),
    "type": (*MULTIMODE_TYPES, *SINGLE_MODE_TYPES),
    "glass": ("multimode", "single-mode", "50/125", "62.5/125", "9/125"),
    "construction": ("inside plant", "indoor-outdoor", "outside plant"),
    "grade": ("5e", "6", "6A", "8", "D", "E", "EA", "F", "FA"),
    "configuration": ("channel", "permanent link", "modular plug terminated link", "end-to-end link"),
    "reference": ("one-cord", "two-cord", "three-cord"),
    "end_type": ("panel", "pigtail", "cassette", "plug", "jack"),
    "segment": ("horizontal", "backbone"),
    "accuracy_level": ("IIe", "III", "IIIe", "IV", "V", "VI", "2G"),
    "wiring_scheme": ("T568A", "T568B"),
    "screen": ("continuous", "open"),
    "standard": ("TIA", "ISO"),
    "parameter": (
        "loss", "length", "optical return loss", "insertion loss", "NEXT", "PSNEXT", "ACR-F", "PSACR-F", "ACR-N",
        "PSACR-N", "return loss", "propagation delay", "delay skew", "loop resistance", "resistance unbalance",
        "wire map", "TCL", "ELTCTL", "PSANEXT", "PSAACR-F", "FEXT", "PSFEXT",
    ),
    "pair": (
        "1-2", "3-6", "4-5", "7-8", "1-2/3-6", "1-2/4-5", "1-2/7-8", "3-6/4-5", "3-6/7-8", "4-5/7-8",
    ),
    "end": ("A", "B"),
    "direction": ("A-B", "B-A"),
    "bound": ("below", "above", "over range"),
    "declared_verdict": ("pass", "marginal pass", "marginal fail", "fail"),
    "verdict": ("pass", "marginal pass", "marginal fail", "fail", "not judged"),
    "link_verdict": ("pass", "marginal", "fail", "incomplete"),
    "basis": ("curve", "worst point", "value", "declared margin", "declared verdict"),
    "world": ("certain", "strictest", "most generous", "tried at 0 m"),
    "kind": ("upright", "long", "transposed", "form", "sweep", "events", "network"),
    "role": (
        "label", "end A label", "end B label", "place A", "place B", "cable", "strand", "value", "limit", "limit name",
        "margin", "verdict", "wavelength", "direction", "end", "pair", "parameter", "frequency", "unit", "length",
        "type", "construction", "grade", "configuration", "mated pairs", "splices", "end types", "reference",
        "tested at", "date", "time", "tester", "operator", "calibrated on", "record number", "segment", "area",
        "medium", "edition", "accuracy", "group index", "note", "ignored", "strands", "standard", "reference power",
        "velocity", "temperature", "accuracy level", "wiring scheme", "screen", "polarity",
        "event number", "event position", "event kind", "event loss", "event reflectance", "event cumulative loss",
        "launch cord", "tail cord", "software version", "firmware version", "limit table version", "project",
    ),
    "status": ("read", "not a table", "unreadable", "own output", "repeated", "empty", "schedule"),
    "said_by": ("command line", "file", "schedule", "job", "derived", "assumed", "admissible", "missing"),
    "how_known": ("read", "secondary", "derived", "memory", "own"),
    "counts_as": ("row", "reading cell", "fact cell"),
    "severity": ("error", "warning", "note"),
    "mark": ("accept", "query", "retest"),
    "mark_state": ("holds", "conflict", "replaced", "lapsed", "no such link"),
    "decision_rule": (
        "simple acceptance", "simple acceptance with flag", "guarded acceptance", "guarded rejection",
        "non-binary with guard band", "guarded acceptance 0.83 U", "guarded acceptance 1.5 U", "guarded acceptance 3 U",
    ),
    "taken_as": ("even spread", "coverage k=2"),
    "connection_grade": ("A", "B", "C", "D", "Bm", "Cm"),
    "splice_kind": ("fusion", "mechanical"),
    "polarity": ("A-B", "A-A", "type A", "type B", "type C"),
    "event_kind": (
        "start", "connection", "splice", "reflective", "not reflective", "gain", "bend", "ghost", "end", "end to end",
    ),
    "event_place": ("launch cord", "near end", "inside", "far end", "tail cord", "not known"),
    "component": ("mated pair", "splice", "none"),
    "cords_from": ("stated", "length", "missing"),
}  # fmt: skip

UNIT_OF_PARAMETER: Mapping[str, str] = {
    "length": "m", "propagation delay": "ns", "delay skew": "ns", "loop resistance": "ohm",
    "resistance unbalance": "ohm", "wire map": "",
}  # fmt: skip
"""Unit of each parameter inside the product; those not named are in dB."""

AS_RATIO = ("FEXT", "PSFEXT")
"""Parameters without a limit of their own: judged as ACR-F and PSACR-F, and never required."""

PICTURE_BINS = 64
"""Frequency bins of the thinned picture of a curve."""

SKETCH_BINS = 32
"""Frequency bins of the sketch of a curve."""

NO_POINT = -32768
"""What stands in a picture or sketch where a bin holds no point."""

OWN_MARK = "Computed with cableproof"
"""Stands in everything we write: our own output is refused as evidence by it."""

STANDING_LINE = f"{OWN_MARK} from the records named; not a test instrument's record."
"""On page one of page and package, and above the table of the terminal."""


class Column(NamedTuple):
    """One column: its type, unit and meaning."""

    dtype: str
    unit: str
    meaning: str


def _facts() -> dict[str, Column]:
    """Columns that say what was built or ordered; the same names in records (as imported) and facts (as settled)."""
    return {
        "medium": Column("c:medium", "", "fiber or twisted pair"),
        "type": Column("c:type", "", "fiber type"),
        "construction": Column("c:construction", "", "where the single-mode cable is made to lie"),
        "grade": Column("c:grade", "", "category or class of a twisted-pair link"),
        "configuration": Column("c:configuration", "", "channel, permanent link, or a plug-ended form"),
        "length_m": Column("f8", "m", "length of the link"),
        "mated_pairs": Column("f8", "", "matings inside the link and at panel ends"),
        "array_pairs": Column("f8", "", "how many of the mated pairs are array connections"),
        "splices": Column("f8", "", "splices in the link"),
        "end_type_a": Column("c:end_type", "", "what end A is: panel, pigtail, cassette, plug, jack"),
        "end_type_b": Column("c:end_type", "", "what end B is"),
        "reference": Column("c:reference", "", "reference method: cords used when the reference was set"),
        "standard": Column("c:standard", "", "family of standards that was ordered"),
        "edition": Column("s", "", "edition of the standard, for example 568.3-E"),
        "segment": Column("c:segment", "", "horizontal or backbone"),
        "accuracy_db": Column("f8", "dB", "measurement accuracy stated for the readings"),
    }


_PROVENANCE = {
    "block": Column("i4", "", "number of the block the row stands in"),
    "row": Column("i4", "", "row as a spreadsheet shows it, the first is 1, blank rows counted"),
    "col": Column("i2", "", "column, the first is 0; -1 where a whole row is meant"),
}

TABLES: Mapping[str, Mapping[str, Column]] = {
    "files": {
        "file": Column("i4", "", "number of the file, in the order given"),
        "name": Column("s", "", "path relative to the job folder; members of a ZIP as a.zip!b.csv"),
        "sha256": Column("s", "", "hash of the bytes"),
        "bytes": Column("i4", "", "size"),
        "status": Column("c:status", "", "what became of the file"),
        "reason": Column("s", "", "why it was not read, and how to mend it"),
        "rows_read": Column("i4", "", "data rows found"),
        "rows_used": Column("i4", "", "data rows used"),
        "rows_set_aside": Column("i4", "", "data rows set aside"),
        "cells_read": Column("i4", "", "cells of reading columns that are not empty"),
        "cells_used": Column("i4", "", "cells that became readings"),
        "cells_set_aside": Column("i4", "", "cells set aside"),
        "furniture_rows": Column("i4", "", "titles, headings, units rows, totals, notes, blank rows"),
        "encoding": Column("s", "", "text encoding found"),
        "delimiter": Column("s", "", "field delimiter found"),
        "decimal_mark": Column("s", "", "decimal mark found"),
    },
    "blocks": {
        "block": Column("i4", "", "number of the block"),
        "file": Column("i4", "", "number of the file"),
        "sheet": Column("s", "", "name of the sheet; missing for text files"),
        "kind": Column("c:kind", "", "layout of the block"),
        "first_row": Column("i4", "", "first heading row"),
        "last_row": Column("i4", "", "last row"),
        "fingerprint": Column("u8", "", "hash of the headings: blocks of one shape share it"),
    },
    "columns": {
        "block": Column("i4", "", "number of the block"),
        "col": Column("i2", "", "column, the first is 0"),
        "heading": Column("s", "", "heading as written, group heading first"),
        "role": Column("c:role", "", "what the column was taken for"),
        "parameter": Column("c:parameter", "", "parameter of the values"),
        "wavelength_nm": Column("i2", "nm", "wavelength named by the heading"),
        "pair": Column("c:pair", "", "pair or combination named by the heading"),
        "end": Column("c:end", "", "end named by the heading"),
        "direction": Column("c:direction", "", "direction named by the heading"),
        "frequency_mhz": Column("f8", "MHz", "frequency named by the heading"),
        "unit": Column("s", "", "unit of the numbers as written"),
        "sure": Column("f8", "", "1 where the vocabulary knows every word, less for a near miss"),
        "why": Column("s", "", "what the decision rests on"),
    },
    "records": {
        "record": Column("i4", "", "number of the record"),
        **_PROVENANCE,
        "label": Column("s", "", "label of the link as written"),
        "key": Column("s", "", "label after NFC, trim, inner spaces collapsed, case folded"),
        "cable": Column("s", "", "cable the strand belongs to, where a column says so"),
        "strand": Column("s", "", "strand or port, where a column says so"),
        "strands": Column("i2", "", "strands that a range label speaks for; 1 for a single link"),
        "label_a": Column("s", "", "label at end A"),
        "label_b": Column("s", "", "label at end B"),
        "position_a": Column("f8", "", "position in the array, counted from 1 at end A"),
        "position_b": Column("f8", "", "position in the array, counted from 1 at end B"),
        "place_a": Column("s", "", "place of end A"),
        "place_b": Column("s", "", "place of end B"),
        "area": Column("s", "", "area or building"),
        **_facts(),
        "glass": Column("c:glass", "", "what is known of the glass where the type is not stated"),
        "polarity": Column("c:polarity", "", "polarity: duplex A-B or A-A, array type A, B or C (TIA-568.3, recalled)"),
        "length_unstated": Column("f8", "m or ft", "length as written where no unit is stated"),
        "wire_map": Column("s", "", "wire map as written; several cells joined by ;"),
        "wire_map_told": Column("s", "", "what the wire map says, in the one notation of docs/pair_facts.md"),
        "wiring_scheme_a": Column("c:wiring_scheme", "", "scheme that end A is wired to"),
        "wiring_scheme_b": Column("c:wiring_scheme", "", "scheme that end B is wired to"),
        "screen": Column("c:screen", "", "whether the screen is continuous, where the export says so"),
        "nvp_percent": Column("f8", "% of c", "nominal velocity of propagation that the tester was set to"),
        "temperature_c": Column("f8", "°C", "temperature of the cable or of the air during the test"),
        "accuracy_level": Column("c:accuracy_level", "", "accuracy level of the tester as the record states it"),
        "tested_at": Column("t", "", "when the test was made, as written"),
        "tester": Column("s", "", "tester or its serial number"),
        "operator": Column("s", "", "who tested"),
        "calibrated_on": Column("t", "", "calibration date of the tester"),
        "software_version": Column("s", "", "version of the tester's software, as written"),
        "firmware_version": Column("s", "", "version of the tester's firmware, as written"),
        "limit_table_version": Column("s", "", "version of the limit tables in the tester, as written"),
        "project": Column("s", "", "name of the project as the record states it"),
        "record_no": Column("s", "", "the tester's own record number"),
        "group_index": Column("f8", "", "group index of refraction that the tester was set to"),
        "declared_limit": Column("s", "", "name of the limit the tester had loaded"),
        "declared_verdict": Column("c:declared_verdict", "", "verdict of the whole record in the export"),
        "declared_margin_db": Column("f8", "dB", "margin of the whole record in the export"),
    },
    "facts": {
        "record": Column("i4", "", "number of the record"),
        **_facts(),
        **{f"{name}_from": Column("c:said_by", "", f"who said {name}") for name in _facts()},
        "accuracy_level": Column("c:accuracy_level", "", "accuracy level of the tester as the record states it"),
        "glass": Column("c:glass", "", "glass: from the type, else file, schedule, or the measured wavelengths"),
        "plug_ends": Column("f8", "", "plug ends: each adds a mating with the test cord"),
        "matings_in_reading": Column("f8", "", "mated pairs + plug ends - (0, 1, 2 for one-, two-, three-cord)"),
        "worlds": Column("i2", "", "how many admissible worlds the record was judged in"),
        "missing": Column("s", "", "missing facts, separated by ;"),
        "fails_in_every_world": Column("b", "", "some reading fails whatever the missing facts are"),
    },
    "readings": {
        "reading": Column("i4", "", "number of the reading"),
        "record": Column("i4", "", "number of the record"),
        **_PROVENANCE,
        "parameter": Column("c:parameter", "", "what was measured"),
        "wavelength_nm": Column("i2", "nm", "wavelength as measured"),
        "pair": Column("c:pair", "", "pair or combination of pairs"),
        "end": Column("c:end", "", "end measured from"),
        "direction": Column("c:direction", "", "direction measured"),
        "frequency_mhz": Column("f8", "MHz", "frequency of the value"),
        "value": Column("f8", "unit of the parameter", "value; the bound where `bound` is set; NaN for over range"),
        "bound": Column("c:bound", "", "below: less than value; above: more; over range: no number at all"),
        "decimals": Column("i1", "", "decimals as written; -1 unknown"),
        "declared_limit": Column("f8", "unit of the parameter", "numeric limit printed beside the value"),
        "declared_margin": Column("f8", "unit of the parameter", "margin printed beside the value"),
        "declared_verdict": Column("c:declared_verdict", "", "verdict printed beside the value"),
        "worst": Column("b", "", "headed worst: of all pairs and both ends that are not named"),
    },
    "curves": {
        "curve": Column("i4", "", "number of the curve; its points stand in `analyzer.points.Points`"),
        "record": Column("i4", "", "number of the record"),
        **_PROVENANCE,
        "parameter": Column("c:parameter", "", "what was measured"),
        "pair": Column("c:pair", "", "pair or combination of pairs"),
        "end": Column("c:end", "", "end measured from"),
        "direction": Column("c:direction", "", "direction measured"),
        "n": Column("i4", "", "points of the curve"),
        "lost": Column("i4", "", "cells of the curve that were set aside, repeats left out"),
        "f_min_mhz": Column("f8", "MHz", "lowest frequency of the curve"),
        "f_max_mhz": Column("f8", "MHz", "highest frequency of the curve"),
        "grid": Column("i4", "", "number of the grid of frequencies that it shares"),
        "hash": Column("u8", "", "hash of the points: curves with the same points share it"),
        "has_limit": Column("b", "", "a limit is printed beside the curve"),
        "reading": Column("i4", "", "number of the judged reading of the curve; -1 none"),
        "picture": Column("i4", "", "number of its thinned picture in `Analysis.pictures`; -1 none"),
        "sketch": Column("i4", "", "number of its sketch in `Analysis.sketches`; -1 none"),
        "limit_min_mhz": Column("f8", "MHz", "where its picture begins: the lowest frequency of the limit"),
        "limit_max_mhz": Column("f8", "MHz", "where its picture ends: the highest frequency of the limit"),
    },
    "events": {
        "event": Column("i4", "", "number of the event in the table of all traces"),
        "record": Column("i4", "", "number of the record"),
        **_PROVENANCE,
        "wavelength_nm": Column("i2", "nm", "wavelength as measured"),
        "direction": Column("c:direction", "", "direction measured"),
        "number": Column("i2", "", "number of the event in its trace, as written, else counted from 1"),
        "distance_m": Column("f8", "m", "distance of the event from the instrument; NaN where a row sums up the trace"),
        "kind": Column("c:event_kind", "", "what the export calls the event"),
        "loss_db": Column("f8", "dB", "loss of the event; negative where it seems to gain"),
        "reflectance_db": Column("f8", "dB", "reflectance of the event, zero or negative; the bound where one is set"),
        "reflectance_bound": Column("c:bound", "", "below: weaker than the number; above: stronger"),
        "cumulative_db": Column("f8", "dB", "loss from the beginning of the trace to the event"),
        "launch_m": Column("f8", "m", "length of the launch cord, as the file states it"),
        "tail_m": Column("f8", "m", "length of the tail cord, as the file states it"),
    },
    "traces": {
        "trace": Column("i4", "", "number of the trace: one link, wavelength, direction and record"),
        "link": Column("i4", "", "number of the link"),
        "record": Column("i4", "", "number of the record"),
        "wavelength_nm": Column("i2", "nm", "wavelength as measured"),
        "direction": Column("c:direction", "", "direction measured"),
        "begins_m": Column(
            "f8", "m", "distance of the link's first end from the instrument: length of the launch cord"
        ),
        "ends_m": Column("f8", "m", "distance of the link's other end from the instrument"),
        "cords_from": Column("c:cords_from", "", "what tells launch and tail cord from the link"),
        "trace_loss_db": Column("f8", "dB", "loss of the link from end to end, as the trace tells it"),
        "power_loss_db": Column("f8", "dB", "loss of the same link and wavelength by power meter"),
        "difference_db": Column("f8", "dB", "trace less power meter"),
    },
    "judged_events": {
        "event": Column("i4", "", "number of the event in the table of all traces"),
        "trace": Column("i4", "", "number of the trace: one link, wavelength, direction and record"),
        "position_m": Column("f8", "m", "distance from end A of the link; NaN where that is not known"),
        "place": Column("c:event_place", "", "where along the trace the event stands; near is the instrument's end"),
        "component": Column("c:component", "", "what the event was judged as"),
        "partner": Column("i4", "", "the same joint seen from the other end; -1 none"),
        "mean_db": Column("f8", "dB", "mean loss of both directions"),
        "limit_db": Column("f8", "dB", "most that the component may lose"),
        "margin_db": Column("f8", "dB", "distance to that limit, of the mean where there is one"),
        "verdict": Column(
            "c:verdict", "", "verdict of the loss of the event; decides no link unless the job orders it"
        ),
        "reflectance_limit_db": Column("f8", "dB", "strongest reflectance that the component may have"),
        "reflectance_margin_db": Column("f8", "dB", "distance to that limit, positive on the good side"),
        "reflectance_verdict": Column("c:verdict", "", "verdict of the reflectance, for information"),
        "source": Column("s", "", "where the limits stand, with their row ids"),
        "gainer": Column("b", "", "loses less than nothing in this direction"),
        "ghost": Column("b", "", "suspected to be an echo of stronger reflections"),
    },
    "causes": {
        "link": Column("i4", "", "number of the link"),
        "rank": Column("i2", "", "1 for the likeliest cause"),
        "cause": Column("s", "", "likely cause of a failing or marginal link"),
        "speaks_for": Column("s", "", "what the readings show that speaks for the cause"),
        "speaks_against": Column("s", "", "what speaks against it"),
        "next_step": Column("s", "", "the next thing to measure or do"),
        "basis": Column("s", "", "what the rules rest on"),
    },
    "judged": {
        "reading": Column("i4", "", "number of the reading, same order as readings"),
        "judged_wavelength_nm": Column("i2", "nm", "nominal wavelength whose limit was used"),
        "basis": Column("c:basis", "", "what the verdict rests on"),
        "limit": Column("f8", "unit of the parameter", "limit that decided"),
        "margin": Column("f8", "unit of the parameter", "distance to the limit, positive on the good side"),
        "accuracy": Column("f8", "unit of the parameter", "measurement accuracy used; NaN unknown"),
        "p_conform": Column(
            "f8", "", "probability that the true value keeps the limit, 0 to 1; NaN without an accuracy"
        ),
        "verdict": Column("c:verdict", "", "verdict of the reading"),
        "reason": Column("i4", "", "number in the table reasons"),
        "limit_id": Column("i4", "", "number in the table limits"),
        "world": Column("c:world", "", "in which admissible world the shown limit stands"),
        "cable_db": Column("f8", "dB", "part of the limit allowed to the cable"),
        "matings_db": Column("f8", "dB", "part of the limit allowed to matings"),
        "splices_db": Column("f8", "dB", "part of the limit allowed to splices"),
        "worst_value": Column(
            "f8", "unit of the parameter", "worst value of a curve, seldom at its worst margin; NaN where none"
        ),
        "worst_value_mhz": Column("f8", "MHz", "frequency of the worst value of a curve"),
        "proves": Column("i4", "", "grades that the reading proves: one bit each, see `budget/grades_proved`; 0 none"),
        "refutes": Column("i4", "", "grades that the reading fails, bits as in `proves`"),
        "expected_db": Column("f8", "dB", "loss that half of such links done well stay under"),
        "expected_97_db": Column("f8", "dB", "loss that 97 of 100 such links done well stay under"),
        "place": Column("f8", "", "share of such links done well that lose less than the value, 0 to 1"),
        "in_force": Column("b", "", "not superseded by a later test of its like"),
        "counts": Column("b", "", "may decide the verdict of the link"),
    },
    "limits": {
        "limit_id": Column("i4", "", "number of the limit"),
        "rows": Column("s", "", "ids of the values rows it rests on, separated by a blank"),
        "standard": Column("c:standard", "", "family"),
        "document": Column("s", "", "document"),
        "edition": Column("s", "", "edition"),
        "how_known": Column("c:how_known", "", "the weakest of its rows"),
        "confirmed": Column("b", "", "nothing recalled or derived in it that the job has not confirmed"),
        "coefficient_db_per_km": Column("f8", "dB/km", "attenuation allowed to the cable"),
        "mated_pair_db": Column("f8", "dB", "allowance for one mated pair"),
        "splice_db": Column("f8", "dB", "allowance for one splice"),
        "end_pair_db": Column("f8", "dB", "allowance for one end connection; NaN: that of any mating"),
        "text": Column("s", "", "the limit in words, for print"),
    },
    "reasons": {
        "reason": Column("i4", "", "number of the reason"),
        "code": Column("s", "", "short code; folding counts by it"),
        "text": Column("s", "", "one sentence"),
        "mend": Column("s", "", "how to mend it"),
    },
    "set_aside": {
        "file": Column("i4", "", "number of the file"),
        "sheet": Column("s", "", "sheet"),
        "row": Column("i4", "", "row; -1 where the whole file is meant"),
        "col": Column("i2", "", "column; -1 where the whole row is meant"),
        "counts_as": Column("c:counts_as", "", "which account it stands in"),
        "code": Column("s", "", "short code of the cause"),
        "reason": Column("s", "", "one sentence: what is wrong and how to mend it"),
        "text": Column("s", "", "the cell or row as written, at most 200 characters"),
    },
    "links": {
        "link": Column("i4", "", "number of the link, in the order of first appearance"),
        "label": Column("s", "", "label as scheduled, else as first written"),
        "key": Column("s", "", "identity"),
        "medium": Column("c:medium", "", "fiber or twisted pair"),
        "type": Column("s", "", "fiber type or copper grade"),
        "configuration": Column("c:configuration", "", "configuration"),
        "length_m": Column("f8", "m", "length"),
        "length_from": Column("c:said_by", "", "who said the length"),
        "verdict": Column("c:link_verdict", "", "verdict of the link"),
        "margin_db": Column("f8", "dB", "least margin of the dB readings that count"),
        "decided_by": Column("i4", "", "number of the reading that decided; -1 none"),
        "attempts": Column("i2", "", "tests of the most often tested reading"),
        "missing": Column("s", "", "what is missing or could not be judged, folded"),
        "sentence": Column("s", "", "the verdict in one sentence"),
        "proved": Column("s", "", "best grade that the readings of a copper link prove, for example 6 permanent link"),
        "cable": Column("s", "", "cable"),
        "strand": Column("s", "", "strand"),
        "place_a": Column("s", "", "place of end A"),
        "place_b": Column("s", "", "place of end B"),
        "area": Column("s", "", "area"),
        "scheduled": Column("b", "", "stands in the schedule"),
        "first_record": Column("i4", "", "number of its first record"),
        "fingerprint": Column("s", "", "hash over its readings and their files: marks are tied to it"),
    },
    "batches": {
        "batch": Column("i4", "", "number of the batch of like links"),
        "type": Column("c:type", "", "fiber type"),
        "wavelength_nm": Column("i2", "nm", "nominal wavelength"),
        "reference": Column("c:reference", "", "reference method"),
        "links_used": Column("i4", "", "links of the batch"),
        "links_off": Column("i4", "", "links far off its line"),
        "spread_db": Column("f8", "dB", "robust standard deviation of the links about the line"),
        **{
            f"{name}{end}": Column("f8", unit, f"{what}{words}")
            for name, unit, what in (
                ("attenuation_db_per_km", "dB/km", "attenuation that the batch really has"),
                ("mating_loss_db", "dB", "loss of one mating that the batch really has"),
                ("splice_loss_db", "dB", "loss of one splice that the batch really has"),
            )
            for end, words in (("", ""), ("_low", ", low end of its interval"), ("_high", ", high end of its interval"))
        },
        "coefficient_db_per_km": Column("f8", "dB/km", "attenuation allowed to the cable"),
        "mated_pair_db": Column("f8", "dB", "allowance for one mated pair"),
        "splice_db": Column("f8", "dB", "allowance for one splice"),
        "note": Column("s", "", "what the batch cannot tell apart"),
    },
    "batch_links": {
        "batch": Column("i4", "", "number of the batch of like links"),
        "link": Column("i4", "", "number of the link"),
        "length_m": Column("f8", "m", "length"),
        "matings": Column("f8", "", "matings in the reading"),
        "splices": Column("f8", "", "splices of the link"),
        "loss_db": Column("f8", "dB", "measured loss, the mean of its directions"),
        "line_db": Column("f8", "dB", "loss on the line of the batch"),
        "off_line": Column("i1", "", "1: far more than the line; -1: far less; 0: neither"),
    },
    "marks": {
        "link": Column("i4", "", "number of the link; -1 where no such link is here"),
        "label": Column("s", "", "label of the link as marked"),
        "mark": Column("c:mark", "", "what the reviewer decided"),
        "note": Column("s", "", "why"),
        "name": Column("s", "", "who marked it"),
        "at": Column("s", "", "when, as written"),
        "fingerprint": Column("s", "", "fingerprint of the link when it was marked"),
        "file": Column("s", "", "file of marks that it stands in"),
        "state": Column("c:mark_state", "", "whether it holds"),
    },
    "schedule": {
        "key": Column("s", "", "identity of the scheduled link (strand)"),
        "label": Column("s", "", "label as expanded"),
        "cable": Column("s", "", "label of the cable row"),
        "cable_key": Column("s", "", "identity of the cable"),
        "strand": Column("i4", "", "number of the strand in its cable; -1 where the row is one link"),
        "label_a": Column("s", "", "label at end A"),
        "label_b": Column("s", "", "label at end B"),
        "place_a": Column("s", "", "place of end A"),
        "place_b": Column("s", "", "place of end B"),
        "area": Column("s", "", "area or building"),
        **_facts(),
        "glass": Column("c:glass", "", "what is known of the glass"),
        "polarity": Column("c:polarity", "", "polarity: duplex A-B or A-A, array type A, B or C (TIA-568.3, recalled)"),
        "row": Column("i4", "", "row in the schedule"),
    },
}


def empty_pictures() -> np.ndarray:
    """No pictures of curves, in their type and shape (0, 2, PICTURE_BINS)."""
    import numpy as np

    return np.empty((0, 2, PICTURE_BINS), dtype=np.int16)


def empty_sketches() -> np.ndarray:
    """No sketches of curves, in their type and shape (0, SKETCH_BINS)."""
    import numpy as np

    return np.empty((0, SKETCH_BINS), dtype=np.int16)


class Evidence(NamedTuple):
    """One number that a finding rests on, and where it stands in the files."""

    what: str
    """What the number is, for example "loss at 850 nm"; of a whole record, what it says."""
    value: float | None = None
    """The number, in `unit`; None where `what` says it all."""
    unit: str = ""
    file: str | None = None
    """Name of the file; None for a number that was counted or computed."""
    sheet: str | None = None
    row: int | None = None
    """Row as a spreadsheet shows it."""
    col: int | None = None
    """Column, the first is 0; None where the whole row is meant."""


@dataclass(frozen=True)
class Finding:
    """What the judged tables tell: stable code, severity, the links it is about, a sentence and the next step."""

    code: str
    severity: str
    message: str
    next_step: str
    links: tuple[str, ...] = ()
    """Labels of the links, in the order of the links table."""
    evidence: tuple[Evidence, ...] = ()
    """The numbers it rests on, the most telling first; a few where there are many."""


@dataclass
class Analysis:
    """A whole run: every table of `TABLES` by name, the findings, and what was in force.

    `records` carries one more column here, `link` (i4): the number of the link it belongs to.
    """

    files: pd.DataFrame
    blocks: pd.DataFrame
    columns: pd.DataFrame
    records: pd.DataFrame
    facts: pd.DataFrame
    readings: pd.DataFrame
    judged: pd.DataFrame
    limits: pd.DataFrame
    reasons: pd.DataFrame
    set_aside: pd.DataFrame
    links: pd.DataFrame
    schedule: pd.DataFrame
    findings: list[Finding]
    totals: dict[str, int]
    """links, pass, marginal, fail, incomplete"""
    curves: pd.DataFrame = field(default_factory=lambda: empty("curves"))
    """Every curve, measured and computed, with the number of its reading; its points are gone."""
    pictures: np.ndarray = field(default_factory=empty_pictures)
    """Thinned pictures of the curves, int16 (n, 2, 64): [., 0, .] the least margin in each of 64 logarithmic frequency
    bins between the first and the last frequency of the limit, [., 1, .] the value at that point, both in 0.01 dB
    (0.1 ns for delays); `NO_POINT` where the bin holds no point that was judged."""
    sketches: np.ndarray = field(default_factory=empty_sketches)
    """Sketches of measured curves of NEXT and return loss, int16 (n, 32): means of logarithmic frequency bins between
    the first and the last frequency of the curve, in 0.01 dB; bins without a point of the grid are left out and
    `NO_POINT` fills the rest."""
    rules: list[str] = field(default_factory=list)
    """The rules in force, one sentence each."""
    looser: list[dict[str, Any]] = field(default_factory=list)
    """What is looser than the standard: `what`, `granted_by`, `date`, `reference` (None where no grant stands)."""
    marks: pd.DataFrame = field(default_factory=lambda: empty("marks"))
    """Reviewers' marks and whether they hold; they change no verdict."""
    batches: pd.DataFrame = field(default_factory=lambda: empty("batches"))
    batch_links: pd.DataFrame = field(default_factory=lambda: empty("batch_links"))
    events: Any = None
    """Events of optical time-domain traces, with the columns of `judged_events`; None where there are none."""
    traces: Any = None
    """One row for each trace; None where there are none."""
    causes: Any = None
    """Likely causes of failing and marginal links, the likeliest first; None where they were not looked for."""
    audit: Any = None
    """The owner's own measurements (`budget.owners_own`), which decide nothing; None where the job names none."""
    job: Any = None
    read_again: Any = None
    """How the files can be read once more (`analyzer.importing.raw_rows.ReadAgain`); None where they cannot."""
    exit_code: int = 0
    exit_reason: str = ""


@cache
def _dtype(spec: str) -> Any:
    import pandas as pd

    if spec.startswith("c:"):
        return pd.CategoricalDtype(list(CATEGORIES[spec[2:]]))
    return pd.Series(dtype=_PLAIN[spec]).dtype


_PLAIN = {
    "i1": "int8", "i2": "int16", "i4": "int32", "u8": "uint64", "f8": "float64", "b": "bool", "t": "datetime64[s]",
    "s": "str",
}  # fmt: skip


def _fill(spec: str) -> Any:
    if spec in {"i1", "i2", "i4"}:
        return -1
    if spec == "u8":
        return 0
    if spec == "b":
        return False
    return None


def empty(name: str) -> pd.DataFrame:
    """A table without rows, with every column in its type."""
    return _empty(name).copy(deep=False)


@cache
def _empty(name: str) -> pd.DataFrame:
    import pandas as pd

    return _conformed(name, pd.DataFrame(index=pd.RangeIndex(0)))


def conform(name: str, frame: pd.DataFrame) -> pd.DataFrame:
    """The frame with exactly the columns of table `name`, in order and type; absent columns are filled as missing."""
    return _conformed(name, frame) if len(frame) else empty(name)


def _conformed(name: str, frame: pd.DataFrame) -> pd.DataFrame:
    import pandas as pd

    rows = len(frame)
    if _conforms(name, frame):
        return frame.reset_index(drop=True)
    there = set(frame.columns)
    columns = {
        column: _cast(column, frame[column], spec.dtype) if column in there else _absent(spec.dtype, rows)
        for column, spec in TABLES[name].items()
    }
    return pd.DataFrame(columns, index=pd.RangeIndex(rows), copy=False)


def _conforms(name: str, frame: pd.DataFrame) -> bool:
    """Whether nothing is left to do: told from the types alone, which spares looking into each column."""
    return list(frame.columns) == list(TABLES[name]) and list(frame.dtypes) == [
        _dtype(spec.dtype) for spec in TABLES[name].values()
    ]


def categorical(name: str, codes: np.ndarray) -> pd.Categorical:
    """Codes in the closed set `name`, -1 for a missing one, as its column."""
    import numpy as np
    import pandas as pd

    return pd.Categorical.from_codes(codes.astype(np.int8), dtype=_dtype(f"c:{name}"), validate=False)


def _absent(kind: str, rows: int) -> Any:
    """A column of which nothing is known."""
    import numpy as np

    if kind.startswith("c:"):
        return categorical(kind[2:], np.full(rows, -1, dtype=np.int8))
    if kind == "s":
        return _no_texts(rows).copy()
    if kind == "t":
        return np.full(rows, np.datetime64("NaT"), dtype="datetime64[s]")
    return np.full(rows, math.nan if kind == "f8" else _fill(kind), dtype=_dtype(kind))


@lru_cache(maxsize=64)
def _no_texts(rows: int) -> Any:
    import pandas as pd
    import pyarrow as pa  # type: ignore[import-untyped]

    return pd.array(pa.nulls(rows, pa.large_string()), dtype="str")


def _cast(column: str, values: pd.Series, kind: str) -> Any:
    import pandas as pd

    dtype = _dtype(kind)
    if values.dtype != dtype:
        if kind in {"i1", "i2", "i4", "u8", "b"} and values.dtype.kind not in "iub" and values.isna().any():
            values = values.fillna(_fill(kind))
        if kind.startswith("c:"):
            if isinstance(values.dtype, pd.CategoricalDtype):
                _refuse_unknown(column, values, dtype)
            else:
                return _coded(column, values, kind[2:])
        values = values.astype(dtype)
    return values.array


def _coded(column: str, values: pd.Series, name: str) -> pd.Categorical:
    """Words as codes into the closed set `name`: each distinct word is looked up once."""
    import numpy as np
    import pandas as pd

    places, distinct = pd.factorize(values)
    codes = [_code_of(name).get(word, -1) for word in distinct]
    if -1 in codes:
        _refuse_unknown(column, values, _dtype(f"c:{name}"))
    return categorical(name, np.array([*codes, -1], dtype=np.int8)[places])


@cache
def _code_of(name: str) -> dict[str, int]:
    return {word: code for code, word in enumerate(CATEGORIES[name])}


def _refuse_unknown(column: str, values: pd.Series, dtype: Any) -> None:
    """A word outside the closed set would silently become missing: that is an error of the program."""
    words = values.dropna()
    unknown = set(words.unique()) - set(dtype.categories)
    if unknown:
        raise ValueError(f"{column}: {sorted(map(str, unknown))} not in {list(dtype.categories)}")
