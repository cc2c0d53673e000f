"""An invented run of twisted pair for terminal, document and page: no real place, company, person or product stands in it.

Values and limits are made up and agree with each other (a floor's margin is value less limit); they prove nothing of any
standard. Every kind of thing that the reports must tell of twisted pair occurs once; some texts are hostile on purpose.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.schema import NO_POINT, PICTURE_BINS, Analysis, Finding

NAN = float("nan")
HOSTILE_LABEL = "<script>document.title='owned'</script>"
HOSTILE_PROVED = '6"><img src=x onerror=alert(1)>'
HOSTILE_REASON = "open <b>7-8</b>: pins 7 and 8 reach no contact at end B"
PAIRS = ("1-2", "3-6", "4-5", "7-8")
COMBINATIONS = ("1-2/3-6", "1-2/4-5", "1-2/7-8", "3-6/4-5", "3-6/7-8", "4-5/7-8")
CEILINGS = ("insertion loss", "propagation delay", "delay skew")
REASONS = [
    ("wire-map", HOSTILE_REASON, "find where pair 7-8 ends, terminate it, test again"),
    ("worst-point-of-another-limit", "worst point of another limit", "test to the limit that was ordered"),
    ("exempt", "return loss counts only where insertion loss is at least 3 dB", ""),
]


class Rows:
    """Collects the rows of the tables, one link after the other."""

    def __init__(self) -> None:
        self.links: list[dict[str, object]] = []
        self.records: list[dict[str, object]] = []
        self.readings: list[dict[str, object]] = []
        self.judged: list[dict[str, object]] = []
        self.curves: list[dict[str, object]] = []
        self.pictures: list[np.ndarray] = []

    def link(self, label: str, verdict: str, *, grade: str = "6A", **more: object) -> None:
        self.links.append(
            {
                "link": len(self.links), "label": label, "key": label.casefold(), "medium": "twisted pair",
                "type": grade, "configuration": "permanent link", "length_m": 54.3, "length_from": "file",
                "verdict": verdict, "attempts": 1, "cable": label, "scheduled": True,
                "first_record": len(self.records), "decided_by": -1, "margin_db": NAN, **more,
            }
        )  # fmt: skip
        self.records.append(
            {
                "record": len(self.records), "block": 0, "row": 4 + len(self.records), "col": -1, "label": label,
                "key": label.casefold(), "medium": "twisted pair", "grade": grade, "length_m": 54.3, "strands": 1,
                "configuration": "permanent link", "link": len(self.links) - 1,
            }
        )  # fmt: skip

    def reading(self, parameter: str, value: float, limit: float = NAN, **more: object) -> int:
        margin = limit - value if parameter in CEILINGS else value - limit
        number = len(self.readings)
        told = {"verdict": "not judged" if np.isnan(margin) else "pass" if margin >= 0 else "fail", **more}
        self.readings.append(
            {
                "reading": number, "record": len(self.records) - 1, "block": 0, "row": 3 + len(self.records),
                "col": 5, "parameter": parameter, "wavelength_nm": -1, "value": value, "decimals": 1, **more,
            }
        )  # fmt: skip
        self.judged.append(
            {
                "reading": number, "judged_wavelength_nm": -1, "basis": "worst point", "limit": limit,
                "margin": margin, "reason": -1, "limit_id": 0, "world": "certain", "in_force": True, "counts": True,
                **told,
            }
        )  # fmt: skip
        return number

    def decide(self, number: int | None = None) -> None:
        """The link's least margin and what decided: the reading named, else the nearest to its limit."""
        link = self.links[-1]
        mine = [row for row, reading in zip(self.judged, self.readings, strict=True)
                if reading["record"] == len(self.records) - 1 and row["counts"] and not np.isnan(row["margin"])
                and schema.UNIT_OF_PARAMETER.get(str(reading["parameter"]), "dB") == "dB"]  # fmt: skip
        nearest = min(mine, key=lambda row: row["margin"])
        link["margin_db"] = nearest["margin"]
        link["decided_by"] = nearest["reading"] if number is None else number

    def curve(self, parameter: str, pair: str, end: str | None, least_db: float, at_mhz: float) -> None:
        """A curve whose margin falls towards `at_mhz`; below 2 MHz no point was judged."""
        f = np.geomspace(1, 500, PICTURE_BINS + 1)[:-1]
        margin = least_db + 6 * np.abs(np.log10(f / at_mhz))
        limit = 60 - 12 * np.log10(f)
        value = limit + (-margin if parameter in CEILINGS else margin)
        picture = np.round(np.stack([margin, value]) * 100).astype(np.int16)
        picture[:, f < 2] = NO_POINT
        at = int(np.argmin(margin))
        number = self.reading(parameter, float(value[at]), float(limit[at]), pair=pair, end=end, basis="curve",
                              frequency_mhz=at_mhz)  # fmt: skip
        self.curves.append(
            {
                "curve": len(self.curves), "record": len(self.records) - 1, "block": 0, "row": 9, "col": 1,
                "parameter": parameter, "pair": pair, "end": end, "n": 102, "f_min_mhz": 1.0, "f_max_mhz": 500.0,
                "reading": number, "picture": len(self.pictures), "limit_min_mhz": 1.0, "limit_max_mhz": 500.0,
            }
        )  # fmt: skip
        self.pictures.append(picture)


def _scalars(rows: Rows, *, weak: float = 0.0) -> None:
    rows.reading("wire map", NAN, verdict="pass", basis="value")
    rows.reading("insertion loss", 24.1, 43.8, pair="3-6", frequency_mhz=500.0)
    for end in "AB":
        off = weak if end == "B" else 0.0
        rows.reading("NEXT", 45.2 - off, 41.8, pair="3-6/4-5", end=end, frequency_mhz=100.0)
        rows.reading("PSNEXT", 43.4 - off, 39.3, pair="4-5", end=end, frequency_mhz=62.5)
        rows.reading("return loss", 16.1, 10.0, pair="7-8", end=end, frequency_mhz=250.0)
    rows.reading("propagation delay", 268.0, 498.4, pair="7-8")
    rows.reading("delay skew", 13.0, 44.0)


def copper_analysis() -> Analysis:
    """One strand of fiber and eight links of twisted pair, fresh each time."""
    rows = Rows()
    rows.link("TB-01-01", "pass", medium="fiber", configuration=None, cable="TB-01", type="OM4")
    rows.records[-1] |= {"medium": "fiber", "grade": None, "type": "OM4", "configuration": None}
    rows.reading("loss", 1.1, 1.86, wavelength_nm=850, basis="value", verdict="pass", margin=0.76)
    rows.links[-1] |= {"margin_db": 0.76, "decided_by": 0}
    for label in ("DP-01", "DP-02", "DP-03"):
        rows.link(label, "pass", sentence="pass", proved="6A permanent link")
        _scalars(rows)
        rows.decide()
    rows.link("DP-04", "fail", sentence="fail", proved="5e permanent link")
    _scalars(rows, weak=4.5)
    rows.decide()
    rows.link("DP-05", "fail", sentence="fail: wire map")
    open_pair = rows.reading("wire map", NAN, verdict="fail", basis="value", reason=0)
    rows.reading("NEXT", 46.0, 41.8, pair="1-2/3-6", end="A", frequency_mhz=100.0)
    rows.decide(open_pair)
    rows.link("CM-01", "incomplete", configuration="modular plug terminated link", missing="return loss at end B",
              sentence="incomplete")  # fmt: skip
    rows.reading("NEXT", 46.0, pair="1-2/3-6", end="A", frequency_mhz=100.0, reason=1)
    rows.reading("return loss", 14.0, 10.0, pair="1-2", end="A", frequency_mhz=250.0, counts=False, reason=2)
    rows.link(HOSTILE_LABEL, "pass", proved=HOSTILE_PROVED, area='"><b>area</b>', sentence="pass <i>at</i> once")
    _scalars(rows)
    rows.decide()
    rows.link("RH-01", "fail", sentence="fail", proved="6 permanent link")
    for place, pair in enumerate(COMBINATIONS):
        for end in "AB":
            rows.curve("NEXT", pair, end, -1.2 if (pair, end) == ("4-5/7-8", "B") else 1.5 + place, 140.0)
    for place, pair in enumerate(PAIRS):
        rows.curve("insertion loss", pair, None, 0.9 + place, 1.0)
        for end in "AB":
            rows.curve("return loss", pair, end, 4.0 + place, 400.0)
    rows.decide()
    return _analysis(rows)


def _analysis(rows: Rows) -> Analysis:
    records = schema.conform("records", pd.DataFrame(rows.records))
    facts = pd.DataFrame(rows.records).assign(
        grade_from="schedule", configuration_from="schedule", length_m_from="file", standard="TIA",
        standard_from="job", edition="568.2-D", edition_from="assumed",
    )  # fmt: skip
    links = schema.conform("links", pd.DataFrame(rows.links))
    counts = links["verdict"].value_counts()
    limit = {"limit_id": 0, "rows": "CL-X", "standard": "TIA", "document": "an invented document", "edition": "1",
             "how_known": "memory", "confirmed": False, "text": "an invented limit"}  # fmt: skip
    file = {"file": 0, "name": "evidence/data points.csv", "sha256": "0" * 64, "status": "read", "rows_read": 9,
            "rows_used": 9, "rows_set_aside": 0, "cells_read": 90, "cells_used": 90, "cells_set_aside": 0}  # fmt: skip
    heading = {"block": 0, "col": 5, "heading": "<u>Value</u>", "role": "value", "sure": 1.0}
    reasons = [{"reason": at, "code": code, "text": text, "mend": mend or None}
               for at, (code, text, mend) in enumerate(REASONS)]  # fmt: skip
    return Analysis(
        files=schema.conform("files", pd.DataFrame([file])),
        blocks=schema.conform("blocks", pd.DataFrame([{"block": 0, "file": 0, "kind": "upright"}])),
        columns=schema.conform("columns", pd.DataFrame([heading])),
        records=records.assign(link=pd.Series([row["link"] for row in rows.records], dtype="int32")),
        facts=schema.conform("facts", facts),
        readings=schema.conform("readings", pd.DataFrame(rows.readings)),
        judged=schema.conform("judged", pd.DataFrame(rows.judged)),
        limits=schema.conform("limits", pd.DataFrame([limit])),
        reasons=schema.conform("reasons", pd.DataFrame(reasons)),
        set_aside=schema.empty("set_aside"),
        links=links,
        schedule=schema.empty("schedule"),
        curves=schema.conform("curves", pd.DataFrame(rows.curves)),
        pictures=np.stack(rows.pictures),
        findings=[Finding("missing-link", "error", "1 scheduled link has no result", "test it", ("DP-09",))],
        totals={"links": len(links), **{word: int(counts.get(word, 0)) for word in schema.CATEGORIES["link_verdict"]}},
        rules=["Limits of an invented document."],
        exit_code=1,
        exit_reason="3 links fail",
    )
