"""The judged tables as one JSON document, `cableproof-check/1`: every link, every reading, and where each came from.

The keys are a public surface: more may be added, none is renamed. Keys that do not apply are null, NaN and infinity
never stand in it, numbers are not rounded. Links follow the order of the files as given, then rows.

Whole columns become text at once, in chunks of links, so that a million readings neither take long nor fill memory.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, TextIO, TypeAlias

import numpy as np
import pandas as pd
import pyarrow as pa  # type: ignore[import-untyped]  # pyarrow carries no types
import pyarrow.compute as pc  # type: ignore[import-untyped]

from analyzer import __version__
from analyzer.budget.uncertainty import decision_rules
from analyzer.report.labels import column_letter
from analyzer.report.totals import verdicts_by_basis, verdicts_by_medium
from analyzer.report.wording import reading_name, unit_of, with_unit
from analyzer.schema import Analysis, Evidence

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analyzer.report.link_details import LinkDetails

FORMAT = "cableproof-check/1"
READINGS_PER_CHUNK = 100_000
FACTS = (
    "type", "construction", "configuration", "length_m", "mated_pairs", "splices", "end_type_a", "end_type_b",
    "reference", "standard", "edition",
)  # fmt: skip

_MARK = ("label", "mark", "note", "name", "at", "fingerprint", "state")

Texts: TypeAlias = Any
"""An arrow array of JSON fragments; pyarrow carries no types of its own."""


def check_document(analysis: Analysis) -> dict[str, Any]:
    """The document as plain Python objects: exactly what `write_check_json` writes, read back."""
    document: dict[str, Any] = json.loads("".join(_pieces(analysis)))
    return document


def write_check_json(analysis: Analysis, stream: TextIO) -> None:
    """Write the document to a text stream, in ASCII, one link a line."""
    stream.writelines(_pieces(analysis))


def _pieces(analysis: Analysis) -> Iterator[str]:
    head = json.dumps(_head(analysis), allow_nan=False, default=str)
    yield f'{head[:-1]},\n"links": ['
    separator = "\n"
    for chunk in _link_chunks(analysis):
        yield separator + chunk
        separator = ",\n"
    yield '\n],\n"set_aside": ['
    yield _lines(_set_aside(analysis))
    findings = [
        {
            "code": finding.code,
            "severity": finding.severity,
            "links": list(finding.links),
            "message": finding.message,
            "next_step": finding.next_step,
            "evidence": [_evidence(one) for one in finding.evidence],
        }
        for finding in analysis.findings
    ]
    yield f'\n],\n"findings": {json.dumps(findings, allow_nan=False)}}}\n'


def _evidence(one: Evidence) -> dict[str, Any]:
    finite = one.value is not None and math.isfinite(one.value)
    column = None if one.col is None else column_letter(one.col)
    where = {"file": one.file, "sheet": one.sheet, "row": one.row, "column": column}
    return {"what": one.what, "value": one.value if finite else None, "unit": one.unit, **where}


def _head(analysis: Analysis) -> dict[str, Any]:
    files = analysis.files
    accounts = {
        what: {which: int(files[f"{what}_{which}"].clip(lower=0).sum()) for which in ("read", "used", "set_aside")}
        for what in ("rows", "cells")
    }
    inputs = pd.DataFrame(
        {
            "file": files["name"],
            "sha256": files["sha256"],
            "rows": files["rows_read"].clip(lower=0),
            "used": files["rows_used"].clip(lower=0),
            "set_aside": files["rows_set_aside"].clip(lower=0),
            "status": files["status"].astype(object),
            "reason": files["reason"],
        }
    ).astype(object)
    return {
        "format": FORMAT,
        "software": {"name": "cableproof", "version": __version__},
        "totals": analysis.totals,
        "media": dict(verdicts_by_medium(analysis)),
        "judged_by": dict(verdicts_by_basis(analysis)),
        **accounts,
        "inputs": inputs.where(inputs.notna(), None).to_dict("records"),
        "rules": analysis.rules,
        "looser": analysis.looser,
        "marks": [
            dict(zip(_MARK, row, strict=True))
            for row in analysis.marks[list(_MARK)].astype("object").to_numpy(dtype=object).tolist()
        ],
        "decision": _decision(analysis),
        "batches": _batches(analysis),
        "exit": {"code": analysis.exit_code, "reason": analysis.exit_reason},
    }


def _decision(analysis: Analysis) -> dict[str, Any] | None:
    """The decision rule in force with its risk, and how a stated accuracy is taken; None where no job was at work."""
    if analysis.job is None:
        return None
    rules = analysis.job.rules
    rule = decision_rules()[rules.decision]
    return {
        "rule": rule.name, "accepts": list(rule.accepts), "words": rule.words, "risk": rule.risk, "source": rule.source,
        "accuracy_taken_as": rules.accuracy_taken_as,
    }  # fmt: skip


def _batches(analysis: Analysis) -> list[dict[str, Any]]:
    """What each batch of like links really loses, with intervals, beside its allowances."""
    table = analysis.batches.astype(object)
    rows = table.where(table.notna(), None).to_dict("records")
    return [{str(name): value for name, value in row.items()} for row in rows]


# ---------------------------------------------------------------- columns of JSON fragments


def _text(values: pd.Series[Any]) -> Texts:
    """JSON strings, each distinct text escaped once; missing is null."""
    codes, distinct = pd.factorize(values)
    fragments = [json.dumps(str(text)) for text in distinct]
    fragments.append("null")  # the code of a missing text is -1: the last fragment
    return pa.array(fragments, pa.string()).take(pa.array(np.where(codes < 0, len(fragments) - 1, codes)))


def _number(values: pd.Series[Any]) -> Texts:
    """JSON numbers that read back to the same float64; NaN and infinity are null."""
    numbers = values.to_numpy(dtype=np.float64) + 0.0  # turns -0.0 into 0.0
    return pc.fill_null(pc.cast(pa.array(numbers, mask=~np.isfinite(numbers)), pa.string()), "null")


def _whole(values: pd.Series[Any]) -> Texts:
    """JSON integers; negative ones mean missing and are null."""
    numbers = values.to_numpy(dtype=np.int64)
    return pc.fill_null(pc.cast(pa.array(numbers, mask=numbers < 0), pa.string()), "null")


def _truth(values: pd.Series[Any]) -> Texts:
    return pc.cast(pa.array(values.to_numpy(dtype=np.bool_)), pa.string())


def _objects(columns: Mapping[str, Texts]) -> Texts:
    """One JSON object for each row of the columns."""
    parts: list[Any] = []
    for name, fragments in columns.items():
        parts += [("{" if not parts else ", ") + json.dumps(name) + ": ", fragments]
    return pc.binary_join_element_wise(*parts, "}", "")


def _lists(fragments: Texts, offsets: NDArray[np.int64]) -> Texts:
    """One JSON list for each stretch of fragments between two offsets."""
    nested = pa.ListArray.from_arrays(pa.array(offsets, pa.int32()), fragments)
    return pc.binary_join_element_wise("[", pc.binary_join(nested, ", "), "]", "")


texts_of, numbers_of, whole_numbers, truths_of, objects_of, lists_of = _text, _number, _whole, _truth, _objects, _lists
"""The same for `link_details`."""


def _lines(fragments: Texts) -> str:
    return "".join(("\n" if not number else ",\n") + text for number, text in enumerate(fragments.to_pylist()))


# ---------------------------------------------------------------- links and their readings


def _link_chunks(analysis: Analysis) -> Iterator[str]:
    links = analysis.links.sort_values("link", kind="stable").reset_index(drop=True)
    by_record = pd.Series(analysis.records["link"].to_numpy(), index=analysis.records["record"].to_numpy())
    link_of_reading = by_record.reindex(analysis.readings["record"]).to_numpy()
    order = np.argsort(link_of_reading, kind="stable")
    numbers = links["link"].to_numpy()
    starts = np.searchsorted(link_of_reading[order], numbers, side="left")
    ends = np.searchsorted(link_of_reading[order], numbers, side="right")
    places = _Places(analysis)
    codes = _finding_codes(analysis)
    details = _details(analysis, places)
    first = 0
    while first < len(links):
        last = int(np.searchsorted(ends, starts[first] + READINGS_PER_CHUNK, side="right"))
        last = max(last, first + 1)
        mine = order[starts[first] : ends[last - 1]]
        offsets = np.append(starts[first:last], ends[last - 1]) - starts[first]
        yield ",\n".join(
            _links(
                analysis, links.iloc[first:last], mine, offsets, places=places, codes=codes, details=details
            ).to_pylist()
        )
        first = last


def _details(analysis: Analysis, places: _Places) -> LinkDetails:
    from analyzer.report.link_details import LinkDetails  # it uses the fragments of this module

    return LinkDetails(analysis, places)


def _links(
    analysis: Analysis,
    links: pd.DataFrame,
    mine: NDArray[np.intp],
    offsets: NDArray[np.int64],
    *,
    places: _Places,
    codes: Mapping[str, str],
    details: LinkDetails,
) -> Texts:
    readings = analysis.readings.take(mine)
    position = pd.Series(np.arange(len(mine)), index=readings["reading"].to_numpy())
    deciding = position.reindex(links["decided_by"]).fillna(-1).to_numpy(dtype=np.int64)
    within = np.where(deciding < 0, -1, deciding - offsets[:-1])
    found = links["label"].map(codes)
    return _objects(
        {
            "link": _text(links["label"]),
            "medium": _text(links["medium"]),
            "type": _text(links["type"]),
            "configuration": _text(links["configuration"]),
            "length_m": _number(links["length_m"]),
            "verdict": _text(links["verdict"]),
            "margin_db": _number(links["margin_db"]),
            "proved": _text(links["proved"]),
            "decided_by": _text(_deciding(analysis, links["decided_by"])),
            "decided_by_reading": _whole(pd.Series(within)),
            "attempts": _whole(links["attempts"]),
            "missing": _text(links["missing"].replace("", np.nan)),
            "sentence": _text(links["sentence"].replace("", np.nan)),
            "cable": _text(links["cable"]),
            "scheduled": _truth(links["scheduled"]),
            "fingerprint": _text(links["fingerprint"]),
            "facts": _facts(analysis, links),
            "readings": _lists(_readings(analysis, readings, mine, places), offsets),
            **details.of(links),
            "findings": pa.array(found.where(found.notna(), "[]").tolist(), pa.string()),
        }
    )


def _readings(analysis: Analysis, readings: pd.DataFrame, mine: NDArray[np.intp], places: _Places) -> Texts:
    judged = analysis.judged.take(mine)
    limit_text = judged["limit_id"].map(analysis.limits.set_index("limit_id")["text"])
    reason_text = judged["reason"].map(analysis.reasons.set_index("reason")["text"])
    points = analysis.curves[analysis.curves["reading"] >= 0].set_index("reading")["n"]
    return _objects(
        {
            "parameter": _text(readings["parameter"]),
            "wavelength_nm": _whole(readings["wavelength_nm"]),
            "judged_wavelength_nm": _whole(judged["judged_wavelength_nm"]),
            "pair": _text(readings["pair"]),
            "end": _text(readings["end"]),
            "direction": _text(readings["direction"]),
            "frequency_mhz": _number(readings["frequency_mhz"]),
            "value": _number(readings["value"]),
            "bound": _text(readings["bound"]),
            "limit": _number(judged["limit"]),
            "margin": _number(judged["margin"]),
            "unit": _text(readings["parameter"].astype(object).map(unit_of, na_action="ignore")),
            "accuracy": _number(judged["accuracy"]),
            "p_conform": _number(judged["p_conform"]),
            "expected_db": _number(judged["expected_db"]),
            "expected_97_db": _number(judged["expected_97_db"]),
            "place": _number(judged["place"]),
            "verdict": _text(judged["verdict"]),
            "basis": _text(judged["basis"]),
            "worst_value": _number(judged["worst_value"]),
            "worst_value_mhz": _number(judged["worst_value_mhz"]),
            "points": _whole(readings["reading"].map(points).fillna(-1)),
            "reason": _text(reason_text),
            "limit_source": _text(limit_text),
            "in_force": _truth(judged["in_force"]),
            "counts": _truth(judged["counts"]),
            "from": places.of(readings),
        }
    )


def _deciding(analysis: Analysis, numbers: pd.Series[Any]) -> pd.Series[Any]:
    """The deciding reading of each link by name, with its margin in its own unit; missing where none decided."""
    readings = analysis.readings.set_index("reading").reindex(numbers)
    margins = analysis.judged.set_index("reading")["margin"].reindex(numbers)
    names = ("parameter", "wavelength_nm", "pair", "end", "direction", "frequency_mhz", "bound")
    columns = [margins, *(readings[name].astype(object) for name in names)]
    return pd.Series([_deciding_text(*row) for row in zip(*columns, strict=True)], dtype="str")


def _deciding_text(margin: float, parameter: Any, *rest: Any) -> str | None:
    *what, bound = rest
    if not isinstance(parameter, str):
        return None
    name = reading_name(parameter, *what)
    if not math.isnan(margin):
        return f"{name}: margin {with_unit(margin, parameter, minus='-')}"
    return f"{name}: over range" if bound == "over range" else name


def _facts(analysis: Analysis, links: pd.DataFrame) -> Texts:
    """What the link was judged as, each fact with who said it; null for a scheduled link without a record."""
    facts = analysis.facts.set_index("record").reindex(links["first_record"]).reset_index(drop=True)
    columns = {
        name: _objects(
            {
                "value": _number(facts[name]) if facts[name].dtype == np.float64 else _text(facts[name]),
                "from": _text(facts[f"{name}_from"]),
            }
        )
        for name in FACTS
    }
    known = np.isin(links["first_record"].to_numpy(), analysis.facts["record"].to_numpy())
    return pc.if_else(pa.array(known), _objects(columns), "null")


class _Places:
    """Where each reading stands: the fragments of file, sheet, column and heading, made once for each column."""

    def __init__(self, analysis: Analysis) -> None:
        blocks = analysis.blocks.set_index("block")
        names = blocks["file"].map(analysis.files.set_index("file")["name"])
        named = analysis.columns[analysis.columns["col"] >= 0]  # facts above a table stand in no column of it
        headings = pd.Series(named["heading"].to_numpy(dtype=object), index=_place_key(named))
        self._headings = headings[~headings.index.duplicated()]
        self._files = pd.Series(names.to_numpy(dtype=object), index=blocks.index)
        self._sheets = pd.Series(blocks["sheet"].to_numpy(dtype=object), index=blocks.index)

    def of(self, readings: pd.DataFrame) -> Texts:
        keys = _place_key(readings)
        letters = readings["col"].map({col: column_letter(int(col)) or None for col in readings["col"].unique()})
        return _objects(
            {
                "file": _text(readings["block"].map(self._files)),
                "sheet": _text(readings["block"].map(self._sheets)),
                "row": _whole(readings["row"]),
                "column": _text(letters),
                "heading": _text(pd.Series(keys).map(self._headings)),
            }
        )


def _place_key(frame: pd.DataFrame) -> NDArray[np.int64]:
    """Block and column as one number: a spreadsheet has at most 16,384 columns."""
    key: NDArray[np.int64] = frame["block"].to_numpy(dtype=np.int64) * 65_536 + frame["col"].to_numpy(dtype=np.int64)
    return key


def _finding_codes(analysis: Analysis) -> dict[str, str]:
    """For each label that some finding names, its codes as a JSON list, in the order of the findings."""
    codes: dict[str, dict[str, None]] = {}
    for finding in analysis.findings:
        for label in finding.links:
            codes.setdefault(label, {})[finding.code] = None
    return {label: json.dumps(list(found)) for label, found in codes.items()}


def _set_aside(analysis: Analysis) -> Texts:
    table = analysis.set_aside
    letters = table["col"].map({col: column_letter(int(col)) or None for col in table["col"].unique()})
    return _objects(
        {
            "file": _text(table["file"].map(analysis.files.set_index("file")["name"])),
            "sheet": _text(table["sheet"]),
            "row": _whole(table["row"]),
            "column": _text(letters),
            "counts_as": _text(table["counts_as"]),
            "code": _text(table["code"]),
            "reason": _text(table["reason"]),
            "text": _text(table["text"]),
        }
    )
