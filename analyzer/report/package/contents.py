"""What a package holds, in the order in which it is written: from a judged run to a finished bag.

Everything is computed before the first file is renamed into place. The payload comes first, then the manifest, then
the cover letter, which quotes the manifest's own checksum and therefore stands beside the payload, not in it.
"""

from __future__ import annotations

import datetime as dt
import importlib.resources
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Literal

import pandas as pd

from analyzer import __version__
from analyzer.importing.gather import Gathered
from analyzer.job import CommandLine
from analyzer.report.package.as_built import as_built, labels_page
from analyzer.report.package.bag import BagWriter
from analyzer.report.package.checklist import Answer, Delivery, checklist
from analyzer.report.package.cover import Letter, cover_page, summary_sentence
from analyzer.report.package.draft import draft_reasons
from analyzer.report.package.evidence import INDEX, attachments_in, copy_attachments, copy_evidence, copy_job
from analyzer.report.package.limits_used import copy_limits
from analyzer.report.package.tables import (
    as_csv,
    as_parquet,
    dictionary,
    fate_of_failed,
    package_tables,
    superseded_failures,
)
from analyzer.schema import Analysis
from analyzer.standards.values import FOLDER

FORMAT: Final = "cableproof-package/1"
TABLES: Final = "tables/"
COVER: Final = "cover.html"
SIGNATURE: Final = "signature.ed25519"

Tell = Callable[[str], None]
"""Is told each step before it is done."""


@dataclass(frozen=True)
class Wanted:
    """How a package is to be made."""

    target: Path
    made: dt.datetime
    pdf: Literal["compact", "page"] = "compact"
    sign: Callable[[bytes], bytes] | None = None
    """Signs the tag manifest; None for no signature."""


@dataclass(frozen=True)
class Packed:
    """What was made."""

    target: Path
    manifest_sha256: str
    answers: list[Answer]
    draft: list[str] = field(default_factory=list)


def write_package(analysis: Analysis, gathered: Gathered, given: CommandLine, wanted: Wanted, tell: Tell) -> Packed:
    """Write the package of a judged run.

    Args:
        analysis: the run.
        gathered: the evidence that it judged.
        given: the options of the command line.
        wanted: where to, when, and how.
        tell: is told each step.

    Raises:
        OptionError: the place cannot be written to, or the evidence changed meanwhile. Nothing is left behind.
    """
    folder = gathered.job.folder
    attachments = pd.DataFrame(
        {
            "kind": [
                path.relative_to(folder / "attachments").parts[0] if path.parent != folder / "attachments" else ""
                for path in attachments_in(folder)
            ]
            if folder
            else []
        },
        dtype="str",
    )
    answers = checklist(Delivery(analysis, attachments, wanted.made, wanted.pdf == "page"))
    draft = draft_reasons(analysis, answers)
    shown = told_as(analysis)
    with BagWriter(wanted.target, wanted.made) as bag:
        tell("evidence")
        index = copy_evidence(bag, gathered, analysis)
        bag.add(INDEX, as_csv(index))
        copy_job(bag, gathered, given)
        added = copy_attachments(bag, folder)
        if len(added):
            bag.add("attachments.csv", as_csv(added))
        copy_limits(bag, analysis, FOLDER)
        tell("tables")
        write_tables(bag, package_tables(analysis))
        bag.add("as_built.csv", as_csv(as_built(analysis)))
        bag.add("labels.html", labels_page(analysis))
        bag.add("checklist.csv", as_csv(pd.DataFrame(answers, columns=Answer._fields, dtype="str")))
        tell("page")
        bag.add("report.html", _page(shown, draft))
        tell("workbook")
        bag.add("results.xlsx", _workbook(shown, draft, wanted))
        tell("PDF")
        bag.add("report.pdf", _pdf(shown, draft, wanted))
        bag.add(
            "HOW-TO-CHECK.txt", (importlib.resources.files("analyzer.report.package") / "how_to_check.txt").read_bytes()
        )
        tell("checksums")
        proof = bag.write_manifest()
        bag.add_tag(COVER, cover_page(Letter(analysis, answers, draft, wanted.made, proof, given.area)))
        bag.finish(_info(analysis, draft, wanted), _signed(wanted))
    return Packed(wanted.target, proof, answers, draft)


def _signed(wanted: Wanted) -> dict[str, Callable[[bytes], bytes]]:
    return {SIGNATURE: wanted.sign} if wanted.sign is not None else {}


def told_as(analysis: Analysis) -> Analysis:
    """The run as report and workbook show it: failed tests that a later test replaced are left out where the owner asks so."""
    if fate_of_failed(analysis) != "leave out":
        return analysis
    import dataclasses

    keep = ~superseded_failures(analysis)
    parts = {name: getattr(analysis, name)[keep].reset_index(drop=True) for name in ("readings", "judged")}
    again = analysis.read_again
    if again is not None:
        parts["read_again"] = dataclasses.replace(again, left_out=frozenset(analysis.readings["record"][~keep]))
    return dataclasses.replace(analysis, **parts)


def write_tables(bag: BagWriter, tables: dict[str, pd.DataFrame]) -> None:
    """Every table as CSV and Parquet, and the dictionary of their columns."""
    for name, frame in tables.items():
        bag.add(f"{TABLES}{name}.csv", as_csv(frame))
        bag.add(f"{TABLES}{name}.parquet", as_parquet(frame))
    bag.add(f"{TABLES}dictionary.csv", as_csv(dictionary(tables)))


def _info(analysis: Analysis, draft: list[str], wanted: Wanted) -> dict[str, str]:
    about = analysis.job.job if analysis.job is not None else None
    info = {
        "Source-Organization": about.contractor if about else None,
        "External-Description": summary_sentence(analysis),
        "External-Identifier": about.reference if about else None,
        "Internal-Sender-Identifier": about.name if about else None,
        "Bag-Software-Agent": f"cableproof {__version__}",
        "Cableproof-Package": FORMAT,
        "Cableproof-Status": "draft" if draft else "final",
        "Cableproof-Made": f"{wanted.made:%Y-%m-%dT%H:%M:%SZ}",
    }
    return {key: text for key, text in info.items() if text}


def _page(analysis: Analysis, draft: list[str]) -> bytes:
    from analyzer.report.page import page_text

    return page_text(analysis, notice=_notice(draft)).encode("utf-8", "backslashreplace")


def _notice(draft: list[str]) -> str:
    return "Draft: this package is not final. " + "; ".join(draft) + "." if draft else ""


def _workbook(analysis: Analysis, draft: list[str], wanted: Wanted) -> bytes:
    from analyzer.report.workbook import workbook_bytes

    return workbook_bytes(analysis, draft=draft, made=wanted.made)


def _pdf(analysis: Analysis, draft: list[str], wanted: Wanted) -> bytes:
    from analyzer.report.pdf import pdf_bytes

    return pdf_bytes(analysis, draft=draft, made=wanted.made, layout=wanted.pdf)
