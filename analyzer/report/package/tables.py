"""The judged tables as plain tables that stand on their own: names instead of numbers of rows, a dictionary beside.

The same function makes them when a package is written and when it is judged again, so what differs is a difference.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Final

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.report.labels import column_letter
from analyzer.report.wording import unit_of
from analyzer.schema import Analysis

_READING: Final = (
    "parameter", "wavelength_nm", "pair", "end", "direction", "frequency_mhz", "value", "bound", "decimals",
    "declared_limit", "declared_margin", "declared_verdict",
)  # fmt: skip
_RECORD: Final = (
    "label", "cable", "strand", "label_a", "label_b", "place_a", "place_b", "area", "tested_at", "tester", "operator",
    "calibrated_on", "software_version", "firmware_version", "limit_table_version", "project", "record_no", "declared_limit", "declared_verdict", "declared_margin_db",
)  # fmt: skip
_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r")


def package_tables(analysis: Analysis) -> dict[str, pd.DataFrame]:
    """The tables of a package by name: links, readings, records, findings, set_aside, files, limits, schedule.

    Failed readings that a later test replaced stand where the owner asks: among the readings, in a table
    readings_replaced of their own, or nowhere.
    """
    readings = _readings(analysis)
    fate, failed = fate_of_failed(analysis), superseded_failures(analysis)
    if fate != "keep":
        replaced, readings = readings[failed].reset_index(drop=True), readings[~failed].reset_index(drop=True)
    return {
        "links": _links(analysis),
        "readings": readings,
        **({"readings_replaced": replaced} if fate == "keep apart" else {}),
        "records": _records(analysis),
        "findings": _findings(analysis),
        "set_aside": _with_file(analysis.set_aside, analysis),
        "files": analysis.files.drop(columns="file"),
        "limits": analysis.limits.drop_duplicates("rows").drop(columns="limit_id").reset_index(drop=True),
        "marks": analysis.marks.drop(columns="link"),
        "schedule": analysis.schedule,
    }


def superseded_failures(analysis: Analysis) -> np.ndarray:
    """Readings that failed and were replaced by a later test, n marks."""
    failed = analysis.judged["verdict"].isin(["fail", "marginal fail"]).to_numpy()
    marks: np.ndarray = failed & ~analysis.judged["in_force"].to_numpy()
    return marks


def fate_of_failed(analysis: Analysis) -> str:
    """What the owner asks to be done with failed tests that were replaced; "keep" where nothing is asked."""
    ask = analysis.job.closeout.get("failed_records") if analysis.job is not None else None
    return ask.fate if ask is not None and ask.fate else "keep"


def _links(analysis: Analysis) -> pd.DataFrame:
    links = analysis.links
    names = reading_names(analysis).reindex(links["decided_by"].to_numpy()).to_numpy()
    return links.drop(columns=["link", "first_record"]).assign(decided_by_reading=links["decided_by"], decided_by=names)


def reading_names(analysis: Analysis) -> pd.Series:
    """What each reading is called, by its number."""
    from analyzer.report.wording import reading_name

    readings = analysis.readings
    columns = ["parameter", "wavelength_nm", "pair", "end", "direction"]
    said = readings[columns].astype(object)
    which = said.groupby(columns, dropna=False, sort=False).ngroup().to_numpy()
    first = np.unique(which, return_index=True)[1]
    distinct = [
        "" if not isinstance(row[0], str) else reading_name(row[0], row[1], *row[2:])
        for row in said.iloc[first].to_numpy(dtype=object).tolist()
    ]
    return pd.Series(
        np.array(distinct, dtype=object)[which] if len(which) else [], index=readings["reading"].to_numpy(), dtype="str"
    )


def _readings(analysis: Analysis) -> pd.DataFrame:
    readings, judged = analysis.readings, analysis.judged
    at = analysis.records.set_index("record").reindex(readings["record"].to_numpy())
    link = analysis.links.set_index("link")["label"].reindex(at["link"].to_numpy()).to_numpy()
    blocks = analysis.blocks.set_index("block")
    names = blocks["file"].map(analysis.files.set_index("file")["name"])
    kept = [
        name for name in schema.TABLES["judged"] if name not in {"reading", "reason", "limit_id"} and name in judged
    ]
    out = pd.DataFrame({"reading": readings["reading"], "link": link})
    out = out.assign(**{name: readings[name] for name in _READING})
    out["unit"] = readings["parameter"].astype(object).map(unit_of, na_action="ignore").astype("str")
    out = out.assign(**{name: judged[name].to_numpy() for name in kept})
    out["limit_source"] = judged["limit_id"].map(analysis.limits.set_index("limit_id")["text"]).to_numpy()
    out["reason"] = judged["reason"].map(analysis.reasons.set_index("reason")["text"]).to_numpy()
    out["record"] = readings["record"]
    out["file"] = readings["block"].map(names).to_numpy()
    out["sheet"] = readings["block"].map(blocks["sheet"]).astype("str").to_numpy()
    out["row"] = readings["row"]
    out["column"] = (
        readings["col"].map({col: column_letter(int(col)) for col in readings["col"].unique()}).astype("str")
    )
    return out


def _records(analysis: Analysis) -> pd.DataFrame:
    records, facts = analysis.records, analysis.facts
    label = analysis.links.set_index("link")["label"].reindex(records["link"].to_numpy()).to_numpy()
    out = pd.DataFrame({"record": records["record"], "link": label})
    out = out.assign(**{f"written_{name}" if name == "label" else name: records[name] for name in _RECORD})
    return out.assign(
        **{name: facts[name].to_numpy() for name in schema.TABLES["facts"] if name != "record" and name in facts}
    )


def _findings(analysis: Analysis) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "code": [found.code for found in analysis.findings],
            "severity": [found.severity for found in analysis.findings],
            "message": [found.message for found in analysis.findings],
            "next_step": [found.next_step for found in analysis.findings],
            "links": ["; ".join(found.links) for found in analysis.findings],
        },
        dtype="str",
    )


def _with_file(table: pd.DataFrame, analysis: Analysis) -> pd.DataFrame:
    return table.assign(file=table["file"].map(analysis.files.set_index("file")["name"]).astype("str"))


def dictionary(tables: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """One row for every column of the tables: type, unit, meaning."""
    rows = [
        (name, column, str(frame[column].dtype), *_meaning(name, column))
        for name, frame in tables.items()
        for column in frame.columns
    ]
    return pd.DataFrame(rows, columns=["table", "column", "type", "unit", "meaning"])


def _meaning(table: str, column: str) -> tuple[str, str]:
    own = _OWN.get((table, column)) or _OWN.get(("", column))
    if own is not None:
        return own
    for name in (table, "judged", "readings", "records", "facts", "files", "links", "blocks"):
        spec = schema.TABLES.get(name, {}).get(column)
        if spec is not None:
            return spec.unit, spec.meaning
    return "", ""


_OWN: Final = {
    ("links", "decided_by"): ("", "the reading that decided, in words"),
    ("links", "decided_by_reading"): ("", "number of the reading that decided, as in the table readings; -1 none"),
    ("", "link"): ("", "label of the link"),
    ("", "file"): ("", "file of the evidence"),
    ("", "unit"): ("", "unit of value, limit and margin"),
    ("", "limit_source"): ("", "the limit in words, with its document"),
    ("readings", "reason"): ("", "why the verdict is as it is"),
    ("", "column"): ("", "column as a spreadsheet shows it"),
    ("", "written_label"): ("", "label as written in the file"),
    ("findings", "code"): ("", "stable code of the finding"),
    ("findings", "severity"): ("", "error, warning or note"),
    ("findings", "message"): ("", "what was found"),
    ("findings", "next_step"): ("", "what to do about it"),
    ("findings", "links"): ("", "labels of the links it is about"),
}


def as_csv(frame: pd.DataFrame) -> bytes:
    """UTF-8 with a byte order mark, numbers to their last digit.

    Text that a spreadsheet would run as a formula gets an apostrophe in front.
    """
    text = io.StringIO()
    _guarded(frame).to_csv(text, index=False, lineterminator="\r\n", date_format="%Y-%m-%dT%H:%M:%S")
    return b"\xef\xbb\xbf" + text.getvalue().encode("utf-8", "backslashreplace")


def _guarded(frame: pd.DataFrame) -> pd.DataFrame:
    out = frame.copy(deep=False)
    for name in out.columns:
        if out[name].dtype == "str":
            risky = out[name].str.startswith(_FORMULA_STARTS, na=False)
            if risky.any():
                out[name] = out[name].mask(risky, "'" + out[name])
    return out


def as_parquet(frame: pd.DataFrame) -> bytes:
    """The frame in Parquet, without the marks of whoever wrote it, so that equal tables are equal bytes."""
    import pyarrow as pa  # type: ignore[import-untyped]  # pyarrow carries no types
    import pyarrow.parquet as pq  # type: ignore[import-untyped]

    plain = frame.astype({name: "str" for name in frame.columns if isinstance(frame[name].dtype, pd.CategoricalDtype)})
    table = pa.Table.from_pandas(plain, preserve_index=False).replace_schema_metadata(None)
    sink = io.BytesIO()
    pq.write_table(table, sink, compression="zstd", store_schema=False)
    return sink.getvalue()
