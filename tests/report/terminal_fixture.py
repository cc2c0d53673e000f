"""An invented analysis of thirty links, built by hand from the tables of `schema`: no file was read for it.

Everything in it is made up. Every kind of line that the terminal and the JSON document must print occurs once.
"""

from __future__ import annotations

import hashlib
import math

import pandas as pd

from analyzer import schema
from analyzer.schema import Analysis, Finding

NAN = float("nan")
OM4_WAVELENGTHS, OS2_WAVELENGTHS = (850, 1300), (1310, 1550)
ALLOWED_DB = {850: 1.86, 1300: 1.68, 1310: 1.62, 1550: 1.50}
ACCURACY_DB = 0.1

REASONS = [
    ("missing-fact", "the verdict hinges on what nothing states: length", "state it with --length or in the schedule"),
    ("negative-loss", "loss below zero proves a bad reference", "set the reference again and repeat the test"),
    (
        "over-range",
        "beyond the range of the tester: open, break or crossed strand",
        "trace the strand, look for a break",
    ),
]
LIMITS = [
    ("OM4", "read", True, "TIA 568.3-E, OM4, one-cord: 3.0/1.5 dB/km, 0.75 dB a mated pair, 0.3 dB a splice"),
    ("OS2", "memory", False, "TIA 568.3-E, OS2 inside plant, one-cord: 1.0 dB/km, 0.75 dB a mated pair"),
]


class _Rows:
    """Collects the rows of the tables, one link after the other."""

    def __init__(self) -> None:
        self.links: list[dict[str, object]] = []
        self.records: list[dict[str, object]] = []
        self.readings: list[dict[str, object]] = []
        self.judged: list[dict[str, object]] = []

    def link(self, label: str, fiber: str, verdict: str, *, length_m: float = 120.0, **more: object) -> None:
        number = len(self.links)
        self.links.append(
            {
                "link": number, "label": label, "key": label.casefold(), "medium": "fiber", "type": fiber,
                "length_m": length_m, "length_from": "missing" if math.isnan(length_m) else "file",
                "verdict": verdict, "margin_db": NAN, "decided_by": -1, "attempts": 1, "first_record": -1,
                "cable": label.rsplit("-", 1)[0], "strand": label.rsplit("-", 1)[1], "scheduled": True, **more,
            }
        )  # fmt: skip

    def record(self, block: int, row: int) -> None:
        link = self.links[-1]
        if link["first_record"] == -1:
            link["first_record"] = len(self.records)
        self.records.append(
            {
                "record": len(self.records), "block": block, "row": row, "col": -1, "label": link["label"],
                "key": link["key"], "medium": "fiber", "type": link["type"], "length_m": link["length_m"],
                "strands": 1, "link": link["link"],
            }
        )  # fmt: skip

    def reading(self, col: int, wavelength_nm: int, value: float, verdict: str, **more: object) -> None:
        record, number = self.records[-1], len(self.readings)
        single_mode = self.links[-1]["type"] == "OS2"
        limit = ALLOWED_DB[wavelength_nm] if verdict != "not judged" else NAN
        self.readings.append(
            {
                "reading": number, "record": record["record"], "block": record["block"], "row": record["row"],
                "col": col, "parameter": "loss", "wavelength_nm": wavelength_nm, "direction": "A-B",
                "value": value, "decimals": 2, **more,
            }
        )  # fmt: skip
        self.judged.append(
            {
                "reading": number, "judged_wavelength_nm": wavelength_nm, "basis": "value", "limit": limit,
                "margin": limit - value, "accuracy": ACCURACY_DB, "verdict": verdict, "reason": -1,
                "limit_id": -1 if verdict == "not judged" else int(single_mode), "world": "certain",
                "in_force": True, "counts": True, **more,
            }
        )  # fmt: skip

    def decide(self) -> None:
        """The link's margin and its deciding reading: the least margin among those that count."""
        link = self.links[-1]
        mine = [
            row for row, reading in zip(self.judged, self.readings, strict=True)
            if self.records[int(str(reading["record"]))]["link"] == link["link"] and row["in_force"]
        ]  # fmt: skip
        known = [row for row in mine if row["margin"] == row["margin"]]
        if known:
            worst = min(known, key=lambda row: float(str(row["margin"])))
            link["margin_db"], link["decided_by"] = worst["margin"], worst["reading"]
        over = [row for row in mine if row["verdict"] == "fail" and row["margin"] != row["margin"]]
        if over:
            link["decided_by"] = over[0]["reading"]


def _trunk_of_passes(rows: _Rows) -> None:
    for strand in range(1, 13):
        rows.link(f"TB-01-{strand:02d}", "OM4", "pass", sentence="passes")
        rows.record(0, 5 + strand)
        rows.reading(2, 850, 1.02 + 0.01 * strand, "pass")
        rows.reading(3, 1300, 1.37 if strand == 9 else 0.80 + 0.01 * strand, "pass")
        rows.decide()


def _single_mode_trunk(rows: _Rows) -> None:
    for strand, (verdict, at_1550, said) in enumerate(
        [
            ("pass", 1.01, "pass"), ("pass", 1.02, "pass"), ("fail", 1.92, "fail"),
            ("marginal", 1.45, "marginal pass"), ("pass", 0.99, "pass"), ("pass", 1.00, "pass"),
        ],
        start=1,
    ):  # fmt: skip
        rows.link(f"TB-02-{strand}", "OS2", verdict, attempts=2 if strand == 5 else 1)
        rows.record(1, 11 + strand)
        if strand == 5:
            rows.reading(6, 1550, 2.40, "fail", in_force=False, counts=False)
            rows.record(1, 30)
        rows.reading(5, 1310, 1.70 if strand == 3 else 0.90, "fail" if strand == 3 else "pass")
        rows.reading(6, 1550, at_1550, said)
        rows.decide()


def _incomplete(rows: _Rows) -> None:
    for strand in range(1, 5):
        rows.link(f"CR-A-{strand}", "OM4", "incomplete", missing="1300 nm")
        rows.record(0, 20 + strand)
        rows.reading(2, 850, 0.9, "pass")
        rows.decide()
    for strand in range(1, 4):
        rows.link(
            f"PR-{strand}",
            "OM4",
            "incomplete",
            length_m=NAN,
            missing="850 nm could not be judged; 1300 nm could not be judged; length",
        )
        rows.record(0, 30 + strand)
        for wavelength_nm in OM4_WAVELENGTHS:
            rows.reading(2 if wavelength_nm == 850 else 3, wavelength_nm, 1.9, "not judged", reason=0)
    rows.link("FOH-2", "OS2", "incomplete", missing="1310 nm could not be judged")
    rows.record(1, 42)
    rows.reading(5, 1310, -0.31, "not judged", reason=1)
    rows.reading(6, 1550, 0.80, "pass")
    rows.decide()
    for strand in (5, 6):
        rows.link(f"SC-{strand:02d}", "OM4", "incomplete", length_m=NAN, missing="850 nm; 1300 nm; length")


def _odd_ones(rows: _Rows) -> None:
    rows.link("FOH-1", "OS2", "fail")
    rows.record(1, 41)
    rows.reading(5, 1310, NAN, "fail", bound="over range", reason=2)
    rows.reading(6, 1550, 0.81, "pass")
    rows.decide()
    rows.link("Bühne-7", "OM4", "pass")
    rows.record(0, 50)
    rows.reading(2, 850, 1.86, "pass")
    rows.reading(3, 1300, 0.7, "pass")
    rows.decide()
    rows.judged[-2]["margin"] = -0.0  # exactly at the limit: must print 0.00, never -0.00


FINDINGS = [
    Finding("no-result", "error", "2 scheduled links have no result", "test SC-05 and SC-06", ("SC-05", "SC-06")),
    Finding("file-unreadable", "error", "broken.xlsx: not a workbook", "export broken.xlsx again"),
    Finding(
        "worse-than-sisters", "warning",
        "TB-01-09 passes, but 0.49 dB worse than its sisters at 1300 nm",
        "inspect, clean and test TB-01-09 again before leaving", ("TB-01-09",),
    ),
    Finding("break-likely", "warning", "FOH-1 shows no light at 1310 nm", "trace FOH-1 with a light source", ("FOH-1",)),
    Finding(
        "reference-assumed", "note", "47 verdicts assume one-cord; two-cord would allow 0.75 dB less",
        "state the reference method with --reference",
    ),
]  # fmt: skip


def _files() -> pd.DataFrame:
    def row(number: int, name: str, status: str, *counts: int, reason: str | None = None) -> dict[str, object]:
        names = [f"{what}_{which}" for what in ("rows", "cells") for which in ("read", "used", "set_aside")]
        return {
            "file": number, "name": name, "sha256": hashlib.sha256(name.encode()).hexdigest(), "status": status,
            "reason": reason, **dict(zip(names, counts, strict=True)),
        }  # fmt: skip

    return schema.conform(
        "files",
        pd.DataFrame(
            [
                row(0, "evidence/trunks.csv", "read", 22, 20, 2, 41, 40, 1),
                row(1, "evidence/hall.xlsx", "read", 9, 9, 0, 17, 17, 0),
                row(2, "evidence/copy of trunks.csv", "repeated", 0, 0, 0, 0, 0, 0,
                    reason="the same bytes as evidence/trunks.csv"),
                row(3, "evidence/broken.xlsx", "unreadable", 0, 0, 0, 0, 0, 0, reason="not a workbook"),
                row(4, "schedule.csv", "schedule", 0, 0, 0, 0, 0, 0),
            ]
        ),
    )  # fmt: skip


def _columns() -> pd.DataFrame:
    def loss(block: int, col: int, wavelength_nm: int) -> dict[str, object]:
        return {
            "block": block, "col": col, "heading": f"Loss A-B {wavelength_nm} nm", "role": "value",
            "parameter": "loss", "wavelength_nm": wavelength_nm, "unit": "dB", "sure": 1.0,
        }  # fmt: skip

    label = [{"block": block, "col": 0, "heading": "Link", "role": "label", "sure": 1.0} for block in (0, 1)]
    return schema.conform(
        "columns", pd.DataFrame([*label, loss(0, 2, 850), loss(0, 3, 1300), loss(1, 5, 1310), loss(1, 6, 1550)])
    )


def _set_aside() -> pd.DataFrame:
    return schema.conform(
        "set_aside",
        pd.DataFrame(
            [
                {"file": 0, "row": 25, "col": -1, "counts_as": "row", "code": "no-label",
                 "reason": "row 25 has no label; write one", "text": ",,0.91,0.80"},
                {"file": 0, "row": 26, "col": -1, "counts_as": "row", "code": "no-label",
                 "reason": "row 26 has no label; write one", "text": ",,0.90,0.83"},
                {"file": 0, "row": 22, "col": 3, "counts_as": "reading cell", "code": "not-a-number",
                 "reason": "'see note' is no number", "text": "see note"},
            ]
        ),
    )  # fmt: skip


def thirty_links() -> Analysis:
    """The whole invented analysis, fresh each time."""
    rows = _Rows()
    _trunk_of_passes(rows)
    _single_mode_trunk(rows)
    _incomplete(rows)
    _odd_ones(rows)
    records = schema.conform("records", pd.DataFrame(rows.records))
    facts = pd.DataFrame(rows.records).assign(
        mated_pairs=2.0, mated_pairs_from="job", splices=0.0, splices_from="admissible",
        reference="one-cord", reference_from="assumed", length_m_from="file", standard="TIA", standard_from="job",
        edition="568.3-E", edition_from="job",
    )  # fmt: skip
    links = schema.conform("links", pd.DataFrame(rows.links))
    counts = links["verdict"].value_counts()
    return Analysis(
        files=_files(),
        blocks=schema.conform(
            "blocks",
            pd.DataFrame([{"block": 0, "file": 0, "kind": "upright"},
                          {"block": 1, "file": 1, "sheet": "Trunk 2", "kind": "upright"}]),
        ),
        columns=_columns(),
        records=records.assign(link=pd.Series([row["link"] for row in rows.records], dtype="int32")),
        facts=schema.conform("facts", facts),
        readings=schema.conform("readings", pd.DataFrame(rows.readings)),
        judged=schema.conform("judged", pd.DataFrame(rows.judged)),
        limits=schema.conform(
            "limits",
            pd.DataFrame(
                [{"limit_id": number, "rows": f"{fiber}-a {fiber}-b", "standard": "TIA", "document": "TIA",
                  "edition": "568.3-E", "how_known": how, "confirmed": confirmed, "text": text}
                 for number, (fiber, how, confirmed, text) in enumerate(LIMITS)]
            ),
        ),
        reasons=schema.conform(
            "reasons",
            pd.DataFrame([{"reason": number, "code": code, "text": text, "mend": mend}
                          for number, (code, text, mend) in enumerate(REASONS)]),
        ),
        set_aside=_set_aside(),
        links=links,
        schedule=schema.empty("schedule"),
        findings=list(FINDINGS),
        totals={"links": len(links), **{verdict: int(counts[verdict])
                                        for verdict in ("pass", "marginal", "fail", "incomplete")}},
        rules=["Allowances of TIA 568.3-E.", "Marginal passes are listed apart."],
        looser=[{"what": "required.multimode = [850]", "granted_by": None, "date": None, "reference": None}],
        exit_code=1,
        exit_reason="2 links fail, 10 are incomplete",
    )  # fmt: skip


def empty_analysis() -> Analysis:
    """Nothing in any table: the least that the reports must survive."""
    names = [name for name in schema.TABLES if name in Analysis.__dataclass_fields__]
    tables = {name: schema.empty(name) for name in names}
    tables["records"] = tables["records"].assign(link=pd.Series([], dtype="int32"))
    totals = dict.fromkeys(("links", "pass", "marginal", "fail", "incomplete"), 0)
    return Analysis(**tables, findings=[], totals=totals)
