"""An invented run for the page: no real place, company, person or product stands in it.

Labels are hostile on purpose. Numbers follow the sum `coefficient x length + matings x pair + splices x splice`, so that
the parts of each limit add up; the coefficients are those of the tests' own imagination and prove nothing.
"""

from __future__ import annotations

import math
import random

import pandas as pd

from analyzer import schema
from analyzer.insights.marked import fingerprints

HOSTILE = (
    "<script>document.title='owned'</script>",
    '"><img src=x onerror=alert(1)>',
    'O\'Hara & "Sons" <b>bold</b>',
    "\u202e\u05de\u05e1\u05d3\u05e8\u05d5\u05df 7\u202c",
    '=HYPERLINK("http://example.invalid")',
)
COEFFICIENT = {("OM4", 850): 3.0, ("OM4", 1300): 1.5, ("OS2", 1310): 0.5, ("OS2", 1550): 0.5}
PAIR_DB, SPLICE_DB = 0.75, 0.3
FILES = ("exports/north trunk.csv", "exports/stage house.xlsx", "exports/<i>old</i>.csv", "notes/readme.txt")


class Builder:
    """Rows of every table, link by link."""

    def __init__(self, seed: int = 7) -> None:
        self.chance = random.Random(seed)
        self.links: list[dict] = []
        self.records: list[dict] = []
        self.facts: list[dict] = []
        self.readings: list[dict] = []
        self.judged: list[dict] = []
        self.limits: dict[tuple, dict] = {}
        self.reasons = [
            "within the limit",
            "above the limit",
            "length is missing",
            "over range: no light arrives",
            "superseded by a later test",
            "within measurement uncertainty of the limit",
        ]

    def limit_id(self, fiber: str, wavelength: int) -> int:
        entry = self.limits.setdefault(
            (fiber, wavelength),
            {
                "limit_id": len(self.limits),
                "rows": f"att-{fiber}-{wavelength} mp splice",
                "standard": "TIA",
                "document": "invented document 1",
                "edition": "first",
                "how_known": "memory" if wavelength == 1550 else "read",
                "confirmed": wavelength != 1550,
                "coefficient_db_per_km": COEFFICIENT[fiber, wavelength],
                "mated_pair_db": PAIR_DB,
                "splice_db": SPLICE_DB,
                "text": f"{fiber} {wavelength} nm {COEFFICIENT[fiber, wavelength]} dB/km, 0.75 dB a mated pair, 0.3 dB a splice",
            },
        )
        return entry["limit_id"]

    def link(
        self,
        label: str,
        fiber: str,
        *,
        cable: str,
        area: str,
        length: float | None,
        pairs: int = 2,
        splices: int = 0,
        excess: float = 0.0,
        both: bool = False,
        one_wavelength: bool = False,
        over_range: bool = False,
        retested: bool = False,
        scheduled: bool = True,
    ) -> None:
        """One link with its records and readings; `excess` is dB above the invented typical loss."""
        number = len(self.links)
        first = len(self.records)
        verdicts: list[str] = []
        margins: list[tuple[float, int]] = []
        for attempt in range(2 if retested else 1):
            in_force = attempt == (1 if retested else 0)
            self._record(
                link=number,
                label=label,
                fiber=fiber,
                cable=cable,
                area=area,
                length=length,
                pairs=pairs,
                splices=splices,
                attempt=attempt,
            )
            waves = [w for f, w in COEFFICIENT if f == fiber][: 1 if one_wavelength else 2]
            for wave in waves:
                for direction in ("A-B", "B-A") if both else ("A-B",):
                    bad = 1.2 if retested and not in_force else excess
                    verdict, margin = self._reading(
                        fiber=fiber,
                        wave=wave,
                        direction=direction,
                        length=length,
                        pairs=pairs,
                        splices=splices,
                        excess=bad,
                        over_range=over_range,
                        in_force=in_force,
                    )
                    if in_force:
                        verdicts.append(verdict)
                        if not math.isnan(margin):
                            margins.append((margin, len(self.readings) - 1))
        missing = (
            "length"
            if length is None
            else f"{[w for f, w in COEFFICIENT if f == fiber][1]} nm"
            if one_wavelength
            else None
        )
        margin, decided = min(margins, default=(math.nan, -1))
        if "fail" in verdicts:
            verdict, decided = "fail", decided if decided >= 0 else len(self.readings) - 1
        elif missing:
            verdict = "incomplete"
        else:
            verdict = "marginal" if "marginal pass" in verdicts else "pass"
        said = {
            "fail": "Fails: no light arrives." if over_range else f"Fails with margin {margin:.2f} dB.",
            "incomplete": f"Incomplete: {missing} missing"
            + (
                f"; all that was measured passes, least margin {margin:.2f} dB."
                if margins
                else "; nothing could be judged."
            ),
            "marginal": f"Passes within measurement uncertainty, margin {margin:.2f} dB.",
            "pass": f"Passes, least margin {margin:.2f} dB.",
        }[verdict]
        self.links.append(
            {
                "link": number,
                "label": label,
                "key": label.casefold(),
                "medium": "fiber",
                "type": fiber,
                "length_m": length,
                "length_from": "missing" if length is None else "file",
                "verdict": verdict,
                "margin_db": margin,
                "decided_by": decided,
                "attempts": 2 if retested else 1,
                "missing": missing,
                "sentence": said,
                "cable": cable,
                "strand": label[-2:],
                "place_a": "Plant room 1",
                "place_b": "Control room <2>",
                "area": area,
                "scheduled": scheduled,
                "first_record": first,
            }
        )

    def unmeasured(self, label: str, cable: str, area: str) -> None:
        """A scheduled link without a result."""
        self.links.append(
            {
                "link": len(self.links),
                "label": label,
                "key": label.casefold(),
                "medium": "fiber",
                "type": "OM4",
                "length_from": "missing",
                "verdict": "incomplete",
                "decided_by": -1,
                "attempts": 0,
                "missing": "every result",
                "sentence": "Incomplete: in the schedule, but no record names it.",
                "cable": cable,
                "area": area,
                "scheduled": True,
                "first_record": -1,
            }
        )

    def _record(self, *, link, label, fiber, cable, area, length, pairs, splices, attempt) -> None:
        record = len(self.records)
        block = 0 if fiber == "OM4" else 1
        self.records.append(
            {
                "record": record,
                "block": block,
                "row": 5 + record,
                "col": -1,
                "label": label,
                "key": label.casefold(),
                "cable": cable,
                "strands": 1,
                "area": area,
                "medium": "fiber",
                "type": fiber,
                "length_m": length,
                "tested_at": pd.Timestamp(2026, 3, 4 + attempt, 10, 15),
                "tester": "unit 12",
                "operator": "crew <1>",
                "software_version": "5.1 <b>",
                "limit_table_version": "7.4",
                "project": "Invented Hall",
                "record_no": str(1000 + record),
                "declared_limit": "house limit" if link % 5 == 0 else None,
                "declared_verdict": "pass" if link % 5 == 0 else None,
                "link": link,
            }
        )
        self.facts.append(
            {
                "record": record,
                "medium": "fiber",
                "medium_from": "derived",
                "type": fiber,
                "type_from": "file",
                "length_m": length,
                "length_m_from": "missing" if length is None else "file",
                "mated_pairs": pairs,
                "mated_pairs_from": "schedule",
                "splices": splices,
                "splices_from": "schedule",
                "end_type_a": "panel",
                "end_type_a_from": "schedule",
                "end_type_b": "panel",
                "end_type_b_from": "schedule",
                "reference": "one-cord",
                "reference_from": "assumed",
                "standard": "TIA",
                "standard_from": "job",
                "accuracy_db": 0.1,
                "accuracy_db_from": "job",
                "construction_from": "missing",
                "plug_ends": 0,
                "matings_in_reading": pairs,
                "worlds": 1 if length is not None else 2,
                "missing": "length" if length is None else None,
            }
        )

    def _reading(self, *, fiber, wave, direction, length, pairs, splices, excess, over_range, in_force):
        meters = length or 0.0
        cable, matings, joints = COEFFICIENT[fiber, wave] * meters / 1000, pairs * PAIR_DB, splices * SPLICE_DB
        limit = cable + matings + joints
        value = round(0.8 * cable + 0.25 * pairs + 0.1 * splices + self.chance.uniform(0, 0.12) + excess, 2)
        margin = limit - value
        verdict = "pass" if margin > 0.1 else "marginal pass" if margin >= 0 else "fail"
        reason = {"pass": 0, "marginal pass": 5, "fail": 1}[verdict]
        bound = None
        if over_range:
            value, margin, verdict, reason, bound = math.nan, math.nan, "fail", 3, "over range"
        if length is None:
            limit = margin = cable = matings = joints = math.nan
            verdict, reason = "not judged", 2
        block = 0 if fiber == "OM4" else 1
        number = len(self.readings)
        self.readings.append(
            {
                "reading": number,
                "record": len(self.records) - 1,
                "block": block,
                "row": 4 + len(self.records),
                "col": 3 + (wave in (1300, 1550)),
                "parameter": "loss",
                "wavelength_nm": wave,
                "direction": direction,
                "value": value,
                "bound": bound,
                "decimals": 2,
                "declared_limit": 2.0 if number % 7 == 0 else None,
                "declared_margin": 2.0 - value if number % 7 == 0 else None,
                "declared_verdict": "pass" if number % 7 == 0 else None,
            }
        )
        self.judged.append(
            {
                "reading": number,
                "judged_wavelength_nm": wave,
                "basis": "value",
                "limit": limit,
                "margin": margin,
                "accuracy": 0.1,
                "verdict": verdict,
                "reason": reason if in_force else 4,
                "limit_id": self.limit_id(fiber, wave),
                "world": "certain",
                "cable_db": cable,
                "matings_db": matings,
                "splices_db": joints,
                "in_force": in_force,
                "counts": in_force,
            }
        )
        return verdict, margin

    def analysis(self, findings: list[schema.Finding]) -> schema.Analysis:
        """The tables cast to their types, with accounts that add up."""
        records = schema.conform("records", pd.DataFrame(self.records))
        records["link"] = pd.Series([row["link"] for row in self.records], dtype="int32")
        links = schema.conform("links", pd.DataFrame(self.links))
        counts = links["verdict"].value_counts()
        totals = {"links": len(links)} | {name: int(counts.get(name, 0)) for name in schema.CATEGORIES["link_verdict"]}
        whole = schema.Analysis(
            files=_files(self.records, self.readings),
            blocks=schema.conform(
                "blocks",
                pd.DataFrame(
                    {"block": [0, 1], "file": [0, 1], "sheet": [None, "Sheet <1>"], "kind": ["upright", "upright"]}
                ),
            ),
            columns=_columns(),
            records=records,
            facts=schema.conform("facts", pd.DataFrame(self.facts)),
            readings=schema.conform("readings", pd.DataFrame(self.readings)),
            judged=schema.conform("judged", pd.DataFrame(self.judged)),
            limits=schema.conform("limits", pd.DataFrame(list(self.limits.values()))),
            reasons=schema.conform(
                "reasons",
                pd.DataFrame(
                    {
                        "reason": range(len(self.reasons)),
                        "code": [f"r{i}" for i in range(len(self.reasons))],
                        "text": self.reasons,
                        "mend": [
                            "clean, inspect, test again" if i in (1, 3) else None for i in range(len(self.reasons))
                        ],
                    }
                ),
            ),
            set_aside=_set_aside(),
            links=links,
            schedule=schema.empty("schedule"),
            findings=findings,
            totals=totals,
            rules=["Invented standard, first edition, one-cord reference.", "Marginal passes are listed apart."],
            looser=[
                {
                    "what": "mated pair 1.0 dB instead of 0.75 dB in area <East>",
                    "granted_by": "A. Person, owner's side",
                    "date": "2026-02-01",
                    "reference": "letter 4",
                },
                {
                    "what": "one wavelength is enough on horizontal links",
                    "granted_by": None,
                    "date": None,
                    "reference": None,
                },
            ],
            exit_code=1 if totals["fail"] or totals["incomplete"] else 0,
            exit_reason="links fail",
        )
        whole.links["fingerprint"] = fingerprints(whole)
        return whole


def _files(records: list[dict], readings: list[dict]) -> pd.DataFrame:
    rows = [sum(row["block"] == block for row in records) for block in (0, 1)]
    cells = [sum(row["block"] == block for row in readings) for block in (0, 1)]
    return schema.conform(
        "files",
        pd.DataFrame(
            {
                "file": range(4),
                "name": FILES,
                "sha256": [f"{n:02x}" * 32 for n in (17, 34, 51, 68)],
                "bytes": [4096, 9000, 80, 12],
                "status": ["read", "read", "unreadable", "not a table"],
                "reason": [None, None, "binary rubbish; save it again as CSV", "no table in it"],
                "rows_read": [rows[0] + 1, rows[1], 0, 0],
                "rows_used": [*rows, 0, 0],
                "rows_set_aside": [1, 0, 0, 0],
                "cells_read": [cells[0], cells[1] + 1, 0, 0],
                "cells_used": [*cells, 0, 0],
                "cells_set_aside": [0, 1, 0, 0],
                "furniture_rows": [6, 3, 0, 0],
                "encoding": ["cp1252", None, None, None],
                "delimiter": [";", None, None, None],
                "decimal_mark": [",", None, None, None],
            }
        ),
    )


def _columns() -> pd.DataFrame:
    headings = ["Strand", "Date", "Length m", "Loss 850 <nm>", "Loss 1300 nm"]
    second = ["Strand", "Date", "Length m", "Loss 1310 nm", "Loss 1550 nm"]
    return schema.conform(
        "columns",
        pd.DataFrame(
            {"block": [0] * 5 + [1] * 5, "col": [*range(5), *range(5)], "heading": headings + second, "sure": 1.0}
        ),
    )


def _set_aside() -> pd.DataFrame:
    return schema.conform(
        "set_aside",
        pd.DataFrame(
            {
                "file": [0, 1],
                "sheet": [None, "Sheet <1>"],
                "row": [31, 9],
                "col": [-1, 4],
                "counts_as": ["row", "reading cell"],
                "code": ["no-label", "not-a-number"],
                "reason": [
                    "The row has values but no label; write the strand's label in column A.",
                    "The cell is no number; write the loss in dB.",
                ],
                "text": ["; 2026-03-04; 61; 0,51; 0,42", "see <note>"],
            }
        ),
    )


def make_analysis() -> schema.Analysis:
    """About 40 links with every kind of verdict."""
    build = Builder()
    for strand in range(1, 13):
        build.link(
            f"NT-A-{strand:02d}",
            "OM4",
            cable="NT-A",
            area="North",
            length=118.0 + strand,
            both=strand <= 4,
            excess=1.4 if strand == 7 else 0.95 if strand in (3, 11) else 0.0,
        )
    for strand in range(1, 13):
        build.link(
            f"SH-B-{strand:02d}",
            "OS2",
            cable="SH-B",
            area="Stage house",
            length=612.0 + 3 * strand,
            pairs=2,
            splices=2,
            excess=2.1 if strand == 5 else 0.0,
            over_range=strand == 9,
            retested=strand == 2,
        )
    for strand in range(1, 7):
        build.link(
            f"CR-C-{strand:02d}",
            "OM4",
            cable="CR-C",
            area="Control rooms",
            length=None if strand in (2, 3) else 64.0,
            pairs=3,
            one_wavelength=strand == 5,
        )
    for number, label in enumerate(HOSTILE):
        build.link(
            label,
            "OM4",
            cable="<u>Loft</u>",
            area='Loft & "Grid"',
            length=30.0 + number,
            excess=1.6 if number == 0 else 0.0,
        )
    build.unmeasured("CR-C-07", "CR-C", "Control rooms")
    build.unmeasured("CR-C-08", "CR-C", "Control rooms")
    return build.analysis(_make_findings(build))


def _make_findings(build: Builder) -> list[schema.Finding]:
    incomplete = tuple(row["label"] for row in build.links if row["verdict"] == "incomplete")
    return [
        schema.Finding(
            "reference-assumed", "note", "24 verdicts assume one-cord.", "State the reference method in job.toml."
        ),
        schema.Finding(
            "stands-out",
            "warning",
            "One strand is 1.05 dB worse than its sisters: <NT-A>.",
            "Inspect, clean, test again before leaving.",
            ("NT-A-07", "NT-A-03"),
        ),
        schema.Finding(
            "no-result", "error", "2 scheduled links have no result.", "Test them.", ("CR-C-07", "CR-C-08", "Nowhere-9")
        ),
        schema.Finding(
            "facts-missing", "warning", f"{len(incomplete)} links lack a fact.", "Give it in job.toml.", incomplete
        ),
        schema.Finding("file-unreadable", "error", f"{FILES[2]} cannot be read.", "Save it again as CSV."),
        *(
            schema.Finding("repeated-row", "warning", f"Row {row} stands twice.", "Look at the export.")
            for row in range(40, 45)
        ),
    ]


def many_links(count: int) -> schema.Analysis:
    """A large run: `count` links, two wavelengths, both directions."""
    build = Builder(seed=11)
    for number in range(count):
        build.link(
            f"TR-{number // 24:04d}-{number % 24 + 1:02d}",
            "OM4" if number % 3 else "OS2",
            cable=f"TR-{number // 24:04d}",
            area=f"Area {number % 9}",
            length=40.0 + number * 7919 % 400,
            both=True,
            excess=build.chance.choice([0] * 60 + [1.0, 1.9]),
        )
    return build.analysis(_make_findings(build))
