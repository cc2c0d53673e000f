"""The page's data: an analysis as plain lists and numbers, by columns, ready for JSON.

A column is a list with one entry a row, or ``{"words": [...], "codes": [...]}`` where few texts repeat; code -1 and
``None`` mean missing. Rows of records and readings stand link by link, and ``start`` says where each link begins, so
that the page opens a link without searching. Nothing here is markup: the page writes every text as text.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from analyzer import __version__
from analyzer.report.page_curves import curve_data
from analyzer.report.page_events import event_data
from analyzer.report.page_figure import loss_against_length
from analyzer.report.page_map import job_map
from analyzer.report.page_margins import margin_spread
from analyzer.report.wording import CEILINGS
from analyzer.schema import CATEGORIES, STANDING_LINE, TABLES, UNIT_OF_PARAMETER, empty

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analyzer.schema import Analysis

FORMAT = "cableproof-page/1"
CAUTIONS = (
    "Never look into a fiber or connector end: the laser light is invisible (IEC 60825 series).",
    "Remote power heats bundles: bundle size and cable rating follow the local electrical code.",
    "Fire rating of cable, separation from mains, bonding and earthing of screens: local codes and licensed practice decide.",
    "A computed verdict does not replace a calibrated test or the standard's own text.",
)
MOST_READINGS = 1_000_000
"""Beyond these the page holds the worst reading of each link and parameter alone."""
ESTIMATES = ("expected_db", "expected_97_db", "place", "p_conform")
ESTIMATE_DECIMALS = 7
"""Estimates carry no more digits than that in the page: they weigh most of all columns, and are printed with two."""
MANY = 256
"""Rows from which repeated numbers are worth codes."""
SEVERITY_ORDER = CATEGORIES["severity"]


HEAD = (
    "format", "software", "sentence", "standing_line", "cautions", "totals", "exit", "rules", "looser", "unconfirmed",
    "findings", "files", "detail", "batches",
)  # fmt: skip
"""What the head of the page needs; the rest is unpacked after it is painted."""
FEW = 12
"""Links that a finding names at once."""


def split(data: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """The data as two packs: what the head needs, and the rest with the links of each finding as ``named``."""
    head = {name: data[name] for name in HEAD}
    head["findings"] = [{key: said for key, said in each.items() if key != "links"} for each in data["findings"]]
    rest = {name: told for name, told in data.items() if name not in HEAD}
    rest["named"] = [each["links"] for each in data["findings"]]
    return head, rest


def page_data(analysis: Analysis, raw: tuple[int, int] = (0, 0)) -> dict[str, Any]:
    """Everything the page shows but the rows of the files.

    Args:
        analysis: a whole run; ``judged`` in the order of ``readings``, ``records`` with the column ``link``.
        raw: links that bring the rows of their files, and links that have any.

    Returns:
        JSON-able dict; numbers unrounded, in the units of `analyzer.schema`, missing ones ``None``.
    """
    link_of_reading = links_of_readings(analysis)
    held = held_readings(analysis, link_of_reading, MOST_READINGS)
    figure, margins = loss_against_length(analysis, link_of_reading), margin_spread(analysis)
    unconfirmed, of_readings = _unconfirmed(analysis), len(analysis.readings)
    if len(held) < of_readings:
        readings = analysis.readings.iloc[held].reset_index(drop=True)
        analysis = replace(analysis, readings=readings, judged=analysis.judged.iloc[held].reset_index(drop=True))
    place = _Placing(analysis)
    curves = curve_data(analysis, place.link_of_reading, place.row_of_reading)
    return {
        "format": FORMAT,
        "software": {"name": "cableproof", "version": __version__},
        "sentence": sentence(analysis),
        "standing_line": STANDING_LINE,
        "cautions": list(CAUTIONS),
        "totals": {name: int(count) for name, count in analysis.totals.items()},
        "exit": {"code": int(analysis.exit_code), "reason": analysis.exit_reason},
        "rules": list(analysis.rules),
        "looser": [_plain(entry) for entry in analysis.looser],
        "unconfirmed": unconfirmed,
        "units": {name: UNIT_OF_PARAMETER.get(name, "dB") for name in CATEGORIES["parameter"]},
        "ceilings": [name for name in CATEGORIES["parameter"] if name in CEILINGS],
        "findings": _findings(analysis),
        "files": _table(analysis.files, TABLES["files"]),
        "blocks": _table(analysis.blocks, ("block", "file", "sheet")),
        "headings": _table(analysis.columns, ("heading",)),
        "limits": _table(analysis.limits, [name for name in TABLES["limits"] if name != "limit_id"]),
        "reasons": _table(analysis.reasons, ("code", "text", "mend")),
        "set_aside": _table(analysis.set_aside, TABLES["set_aside"]),
        "links": _links(analysis, place),
        "records": _records(analysis, place),
        "readings": _readings(analysis, place),
        "curves": curves,
        "events": event_data(analysis),
        "marks": _marks(analysis),
        "detail": {
            "held": len(held),
            "left_out": of_readings - len(held),
            "most": MOST_READINGS,
            "undrawn": curves["left_out"],
            "most_links": curves["most_links"],
            "set_aside": len(analysis.set_aside),
            "raw": raw[0],
            "raw_of": raw[1],
        },
        "batches": _table(analysis.batches, TABLES["batches"]),
        "causes": _causes(analysis),
        "figure": figure,
        "margins": margins,
        "map": _table(job_map(analysis), ("building", "room", "panel", "port")),
    }


def links_of_readings(analysis: Analysis) -> NDArray[np.int64]:
    """For each reading the row of its link in the table of links."""
    of_record = pd.Index(analysis.links["link"]).get_indexer(pd.Index(analysis.records["link"]))
    at = pd.Index(analysis.records["record"]).get_indexer(pd.Index(analysis.readings["record"]))
    rows: NDArray[np.int64] = of_record[at]
    return rows


def held_readings(analysis: Analysis, link_of_reading: NDArray[np.int64], most: int) -> NDArray[np.int64]:
    """Positions of the readings that the page holds: all, or the worst of each link and parameter if there are too many.

    The worst is a failure without a number (no light arrives), else the least margin, among readings in force; the
    reading that decided its link is always among them.
    """
    readings, judged = analysis.readings, analysis.judged
    if len(readings) <= most:
        return np.arange(len(readings))
    order = np.lexsort((_nearness(judged), ~judged["in_force"].to_numpy()))
    keys = pd.DataFrame({"link": link_of_reading, "parameter": readings["parameter"].cat.codes.to_numpy()}).iloc[order]
    worst = order[~keys.duplicated().to_numpy()]
    deciding = np.flatnonzero(readings["reading"].isin(analysis.links["decided_by"]).to_numpy())
    return np.union1d(worst, deciding)


def _nearness(judged: pd.DataFrame) -> NDArray[np.float64]:
    """Margin, with a failure without a number nearest of all and other missing margins farthest."""
    failed = judged["verdict"].isin(["fail", "marginal fail"]).to_numpy()
    margin = judged["margin"].to_numpy()
    near: NDArray[np.float64] = np.where(np.isnan(margin), np.where(failed, -np.inf, np.inf), margin)
    return near


def sentence(analysis: Analysis) -> str:
    """The one answer to "can I sign this?", from the counts alone: no text of a file stands in it."""
    totals = analysis.totals
    links, failed, incomplete, marginal = (totals.get(n, 0) for n in ("links", "fail", "incomplete", "marginal"))
    errors = sum(finding.severity == "error" for finding in analysis.findings)
    if links == 0:
        return "There is nothing to sign: the records name no link."
    if failed or incomplete:
        parts = [_count(failed, "fails", "fail"), _count(incomplete, "is incomplete", "are incomplete")]
        whole = " and ".join(part for part in parts if part)
        return f"Not yet: of {links:,} {'link' if links == 1 else 'links'}, {whole}."
    whole = "The one link passes" if links == 1 else f"All {links:,} links pass"
    if errors or analysis.exit_code:
        cause = (
            f"{errors} {'finding' if errors == 1 else 'findings'} of severity error" if errors else "the rules in force"
        )
        return f"Not yet: {whole[0].lower()}{whole[1:]}, but {cause} stand{'s' if errors == 1 else ''} against it."
    close = f", {marginal:,} of them within measurement uncertainty" if marginal else ""
    basis = ", by rules looser than the standard" if analysis.looser else ", by the rules in force"
    return f"Yes{basis}: {whole[0].lower()}{whole[1:]}{close}."


def _count(number: int, one: str, many: str) -> str:
    return f"{number:,} {one if number == 1 else many}" if number else ""


class _Placing:
    """Where each record and reading stands on the page.

    ``record_order`` and ``reading_order`` are positions in the analysis' tables, link by link; readings nearest to
    their limit first, superseded ones after those in force, those without a margin last (an over-range fail first).
    """

    def __init__(self, analysis: Analysis) -> None:
        self.links = len(analysis.links)
        link_index = pd.Index(analysis.links["link"])
        records, readings, judged = analysis.records, analysis.readings, analysis.judged
        self.link_of_record = link_index.get_indexer(pd.Index(records["link"]))
        record_of_reading = pd.Index(records["record"]).get_indexer(pd.Index(readings["record"]))
        assert len(judged) == len(readings), "judged rows stand in the order of readings"
        assert not (self.link_of_record < 0).any(), "every record belongs to a link"
        assert not (record_of_reading < 0).any(), "every reading belongs to a record"
        self.link_of_reading = self.link_of_record[record_of_reading]
        self.record_order = np.argsort(self.link_of_record, kind="stable")
        self.reading_order = np.lexsort((_nearness(judged), ~judged["in_force"].to_numpy(), self.link_of_reading))
        self.row_of_reading = np.empty(len(readings), dtype=np.int64)
        self.row_of_reading[self.reading_order] = np.arange(len(readings))
        new_record = np.empty(len(records), dtype=np.int64)
        new_record[self.record_order] = np.arange(len(records))
        self.record_of_reading = new_record[record_of_reading]

    def starts(self, link_of_row: NDArray[np.int64]) -> list[int]:
        """First row of each link and, last, the number of rows."""
        counts = np.bincount(link_of_row, minlength=self.links)
        ends: list[int] = np.concatenate([[0], np.cumsum(counts)]).tolist()
        return ends


def _links(analysis: Analysis, place: _Placing) -> dict[str, Any]:
    names = [name for name in TABLES["links"] if name not in {"link", "key", "decided_by", "first_record"}]
    table = _table(analysis.links, names)
    position = pd.Index(analysis.readings["reading"].to_numpy()[place.reading_order])
    table["decided_by"] = position.get_indexer(pd.Index(analysis.links["decided_by"])).tolist()
    return table


def _records(analysis: Analysis, place: _Placing) -> dict[str, Any]:
    records = analysis.records.iloc[place.record_order]
    own = ["block", "row", "col", "strands", "label_a", "label_b", "tested_at", "tester", "operator", "calibrated_on",
           "software_version", "firmware_version", "limit_table_version", "project", "record_no", "declared_limit",
           "declared_verdict", "declared_margin_db"]  # fmt: skip
    table = _table(records, own)
    found = pd.Index(analysis.facts["record"]).get_indexer(pd.Index(records["record"]))
    assert not (found < 0).any(), "every record has its facts"
    facts = analysis.facts.iloc[found]
    named = [name for name in TABLES["facts"] if f"{name}_from" in TABLES["facts"]]
    table["facts"] = {name: column(facts[name]) for name in named}
    table["said_by"] = {name: column(facts[f"{name}_from"]) for name in named}
    table |= _table(facts, ("plug_ends", "matings_in_reading", "worlds", "missing", "fails_in_every_world"))
    table["start"] = place.starts(place.link_of_record)
    return table


def _readings(analysis: Analysis, place: _Placing) -> dict[str, Any]:
    readings = analysis.readings.iloc[place.reading_order]
    judged = analysis.judged.iloc[place.reading_order]
    table = _table(readings, [name for name in TABLES["readings"] if name not in {"reading", "record"}])
    judged = judged.assign(**{name: judged[name].round(ESTIMATE_DECIMALS) for name in ESTIMATES})
    table |= _table(judged, [name for name in TABLES["judged"] if name not in {"reading", "limit_id", "reason"}])
    table["record"] = place.record_of_reading[place.reading_order].tolist()
    table["limit_row"] = pd.Index(analysis.limits["limit_id"]).get_indexer(pd.Index(judged["limit_id"])).tolist()
    table["reason_row"] = pd.Index(analysis.reasons["reason"]).get_indexer(pd.Index(judged["reason"])).tolist()
    cells = pd.MultiIndex.from_frame(readings[["block", "col"]].astype("int64"))
    known = analysis.columns[["block", "col"]].astype("int64").drop_duplicates()
    at = pd.MultiIndex.from_frame(known).get_indexer(cells)
    table["heading_row"] = np.where(at < 0, -1, known.index.to_numpy()[at] if len(known) else -1).tolist()
    table["start"] = place.starts(place.link_of_reading)
    return table


def _marks(analysis: Analysis) -> list[dict[str, str]]:
    """Marks that came with the job, in the keys of a file of marks; the page lays them on the links itself."""
    marks = analysis.marks.rename(columns={"link": "number", "label": "link"})
    keys = ["link", "mark", "note", "name", "at", "fingerprint"]
    texts = marks[keys].astype("object").fillna("").to_numpy(dtype=object).tolist()
    return [dict(zip(keys, row, strict=True)) for row in texts]


def _causes(analysis: Analysis) -> dict[str, Any]:
    """Likely causes of links that do not plainly pass, link by link, the likeliest first; ``link`` is a row of links."""
    causes = analysis.causes if analysis.causes is not None else empty("causes")
    row = pd.Index(analysis.links["link"]).get_indexer(pd.Index(causes["link"]))
    ordered = causes.assign(link=row).sort_values(["link", "rank"], kind="stable")
    return _table(ordered, ("link", "cause", "speaks_for", "speaks_against", "next_step", "basis"))


def _findings(analysis: Analysis) -> list[dict[str, Any]]:
    """Findings in order of severity, the order inside one severity kept; links as rows of the table of links."""
    labels = pd.Index(analysis.links["label"])
    labels = labels[~labels.duplicated()]
    rows = pd.Index(analysis.links["label"].drop_duplicates().index)
    ordered = sorted(analysis.findings, key=lambda finding: SEVERITY_ORDER.index(finding.severity))
    found = []
    for finding in ordered:
        at = labels.get_indexer(pd.Index(list(finding.links), dtype=labels.dtype))
        entry = {
            "code": finding.code,
            "severity": finding.severity,
            "message": finding.message,
            "next_step": finding.next_step,
            "links": rows.to_numpy()[at[at >= 0]].tolist(),
            "many": int((at >= 0).sum()),
            "labels": [str(label) for label in np.asarray(finding.links, dtype=object)[at >= 0][:FEW]],
            "elsewhere": [label for label, row in zip(finding.links, at, strict=True) if row < 0],
        }
        found.append(entry)
    return found


def _unconfirmed(analysis: Analysis) -> dict[str, Any]:
    """How many verdicts in force rest on limits that nobody has confirmed, and which limits those are."""
    limits = analysis.limits
    doubtful = limits["limit_id"].to_numpy()[~limits["confirmed"].to_numpy()]
    judged = analysis.judged
    judged_now = judged["in_force"] & (judged["verdict"] != "not judged") & (judged["limit_id"] >= 0)
    resting = judged_now & judged["limit_id"].isin(doubtful)
    used = limits["limit_id"].isin(judged["limit_id"][resting])
    return {
        "readings": int(resting.sum()),
        "of": int(judged_now.sum()),
        "texts": limits["text"][used].drop_duplicates().dropna().tolist(),
    }


def _table(frame: pd.DataFrame, names: Iterable[str]) -> dict[str, Any]:
    return {name: column(frame[name]) for name in names}


def column(series: pd.Series) -> list[Any] | dict[str, list[Any]]:
    """One column as plain data.

    Floats stay as they are (rounding here would print other halves than the terminal), NaN becomes ``None``; integers stay, -1 meaning missing as in the schema; bool
    becomes 0 or 1; times become text as written; text becomes words and codes unless nearly every row differs.
    """
    if isinstance(series.dtype, pd.CategoricalDtype):
        used = series.cat.remove_unused_categories()
        return {"words": used.cat.categories.tolist(), "codes": used.cat.codes.tolist()}
    if pd.api.types.is_bool_dtype(series.dtype):
        return _listed(series.to_numpy(dtype="int8"))
    if pd.api.types.is_integer_dtype(series.dtype):
        return _listed(series.to_numpy())
    if pd.api.types.is_float_dtype(series.dtype):
        numbers = series.to_numpy(dtype="f8") + 0.0  # adding zero turns -0.0 into 0.0
        return _numbers(numbers)
    if pd.api.types.is_datetime64_any_dtype(series.dtype):
        series = series.dt.strftime("%Y-%m-%d %H:%M:%S").astype("str")
    codes, words = pd.factorize(series)
    if len(words) * 2 > len(series):
        text = series.to_numpy(dtype=object, copy=True)
        text[codes < 0] = None
        return _listed(text)
    return {"words": [str(word) for word in words], "codes": codes.tolist()}


def _numbers(numbers: NDArray[np.float64]) -> list[Any] | dict[str, list[Any]]:
    """Floats as a list, or as different numbers and codes where few repeat: a browser reads codes several times faster."""
    codes, different = pd.factorize(numbers)
    if len(numbers) >= MANY and len(different) * 4 <= len(numbers):
        missing = ~np.isfinite(different)
        if missing.any():
            codes = np.where(missing[codes], -1, codes)
            different = np.where(missing, 0.0, different)
        return {"words": different.tolist(), "codes": codes.tolist()}
    plain = numbers.astype(object)
    plain[~np.isfinite(numbers)] = None
    return _listed(plain)


def _listed(values: NDArray[Any]) -> list[Any]:
    plain: list[Any] = values.tolist()
    return plain


def _plain(entry: Mapping[str, Any]) -> dict[str, str | None]:
    """A grant with its values as text, so that a date of job.toml can stand in JSON."""
    return {key: None if value is None else str(value) for key, value in entry.items()}
