"""The owner's own measurements against the contractor's readings in force of the same label.

Two honest tests of one link differ by the repeatability of the testers only: by twice the accuracy at the most. The
owner's records decide no verdict; what they tell otherwise is told.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from analyzer.budget.owners_own import OwnersOwn
from analyzer.budget.wording import printed, what_was_read
from analyzer.insights.joined import EVIDENCE_SHOWN, LOSS, Joined, counted, counted_words
from analyzer.insights.register import finding
from analyzer.schema import UNIT_OF_PARAMETER, Evidence, Finding

ACCURACIES = 2.0
"""Accuracies by which a reading of the owner and one of the contractor may differ (owners' rule R65)."""
LENGTH_SHARE = 0.02
"""Share by which their lengths may differ (owners' rule R65)."""
NAMED = 4
_LIKE = ["link", "parameter", "wavelength", "pair", "end", "direction"]


def owners_measurements(job: Joined) -> list[Finding]:
    """What the owner measured again: how much of it agrees, what differs, and what has no counterpart."""
    own = job.analysis.audit
    if own is None:
        return []
    keys = {key: number for number, key in enumerate(job.analysis.links["key"])}
    link = own.records["key"].map(keys).fillna(-1).astype("int64").to_numpy()
    found = _unmatched(job, own, link)
    both = _both(job, own, link)
    records = _records(job, own, link)
    if both.empty and records.empty:
        return found
    reasons = pd.concat([_readings_that_differ(both), _records_that_differ(records)], ignore_index=True)
    looked_at = np.unique(link[link >= 0])
    differing = np.unique(reasons["link"].to_numpy(dtype=np.int64))
    unknown = both[both["allowed"].isna() & ~both["same_verdict_only"]]
    if len(differing):
        found.append(_differs(job, own, reasons, differing, len(looked_at)))
    alone = np.setdiff1d(looked_at, np.r_[both["link"].to_numpy(dtype=np.int64), differing])
    agree = len(looked_at) - len(differing) - len(alone)
    message = (
        f"{counted_words(len(looked_at), 'link')} measured again by the owner, {agree} of them without a difference"
    )
    if len(alone):
        message += f"; {counted_words(len(alone), 'link')} without a reading that the contractor has too"
    if len(unknown):
        message += (
            f"; {counted_words(len(unknown), 'reading')} without a known accuracy could not be compared "
            f"({_where_accuracy_stands(unknown)} in job.toml)"
        )
    evidence = [
        counted("links measured again", len(looked_at)), counted("readings compared", len(both) - len(unknown)),
        counted("largest difference in allowed differences", float(both["share"].max()) if both["share"].notna().any() else 0.0),
    ]  # fmt: skip
    found.append(finding("audit-compared", message, job.labels(looked_at), evidence=evidence))
    return found


def _where_accuracy_stands(rows: pd.DataFrame) -> str:
    fiber = (rows["parameter"] == LOSS).to_numpy()
    return " and ".join(
        name
        for name, any_of in (("rules.accuracy_db", fiber.any()), ("rules.accuracy_level", (~fiber).any()))
        if any_of
    )


def _unmatched(job: Joined, own: OwnersOwn, link: np.ndarray) -> list[Finding]:
    """Patterns of files that are not here, and labels that only the owner measured."""
    records, without = own.records, own.without_file
    alone = np.flatnonzero(link < 0)
    if not len(alone) and not without:
        return []
    parts = []
    if without:
        parts.append(f"[audit] files names what is not among the evidence: {', '.join(without)}")
    labels = records["label"].iloc[alone].astype("object").drop_duplicates()
    if len(labels):
        shown = ", ".join(str(label) for label in labels[:NAMED])
        parts.append(f"{counted_words(len(labels), 'label')} that only the owner measured, such as {shown}")
    where = _of_the_owner(job, own, link)
    evidence = [
        counted("labels that only the owner measured", len(labels)),
        *(
            Evidence(f"{label}: measured by the owner alone", None, "", *place)
            for label, place in zip(
                records["label"].iloc[alone][:EVIDENCE_SHOWN], where.places(records.iloc[alone][:EVIDENCE_SHOWN]), strict=True
            )
        ),
    ]  # fmt: skip
    return [finding("audit-unmatched", "; ".join(parts), evidence=evidence)]


def _of_the_owner(job: Joined, own: OwnersOwn, link: np.ndarray) -> Joined:
    """The owner's records as a run of their own, for evidence."""
    records = own.records.assign(link=np.maximum(link, 0))
    return Joined(replace(job.analysis, records=records, facts=own.facts, readings=own.readings, judged=own.judged))


def _told(readings: pd.DataFrame, judged: pd.DataFrame, link: np.ndarray) -> pd.DataFrame:
    """One row per judged reading: what it is like, and its numbers."""
    return pd.DataFrame(
        {
            "link": link[readings["record"].to_numpy()],
            "parameter": readings["parameter"].cat.codes.to_numpy().astype(np.int64),
            "wavelength": judged["judged_wavelength_nm"].to_numpy(),
            "pair": readings["pair"].cat.codes.to_numpy(),
            "end": readings["end"].cat.codes.to_numpy(),
            "direction": readings["direction"].cat.codes.to_numpy(),
            "reading": np.arange(len(readings)),
            "value": readings["value"].where(readings["bound"].isna()).to_numpy(),
            "bound": readings["bound"].astype("object").to_numpy(),
            "number": readings["value"].to_numpy(),
            "margin": judged["margin"].to_numpy(),
            "accuracy": judged["accuracy"].to_numpy(),
            "passes": judged["verdict"].isin(["pass", "marginal pass"]).to_numpy(),
            "fails": judged["verdict"].isin(["fail", "marginal fail"]).to_numpy(),
            "decibels": ~readings["parameter"].isin(list(UNIT_OF_PARAMETER)).to_numpy(),
            "words": what_was_read(readings).to_numpy(dtype=object),
        }
    )


def _both(job: Joined, own: OwnersOwn, link: np.ndarray) -> pd.DataFrame:
    """Like readings of owner and contractor side by side, with their difference and what it may be."""
    theirs = _told(own.readings, own.judged, link)
    ours = _told(job.analysis.readings, job.analysis.judged, job.link_of_record)
    ours = ours[job.analysis.judged["in_force"].to_numpy()].drop_duplicates(_LIKE)
    both = theirs[theirs["link"] >= 0].merge(ours, on=_LIKE, suffixes=("", "_theirs"))
    by_value = (both["parameter"] == LOSS) | both["margin"].isna() | both["margin_theirs"].isna()
    difference = (both["value"] - both["value_theirs"]).where(by_value, both["margin"] - both["margin_theirs"])
    allowed = ACCURACIES * both[["accuracy", "accuracy_theirs"]].max(axis=1)
    allowed = allowed.where(both["decibels"] & (allowed > 0))
    return both.assign(
        difference=difference, allowed=allowed, share=difference.abs() / allowed,
        same_verdict_only=~both["decibels"] | difference.isna(),
        of=np.where(by_value, "", "margin of "),
    )  # fmt: skip


def _readings_that_differ(both: pd.DataFrame) -> pd.DataFrame:
    """link, reading, reading_theirs and words of readings that differ by more than is allowed, or are judged otherwise."""
    far = (both["share"] > 1 + 1e-9).to_numpy()
    other = (both["fails"] & both["passes_theirs"]) | (both["passes"] & both["fails_theirs"])
    rows = both[far | other.to_numpy()]
    verdict = np.where(rows["fails"] & rows["passes_theirs"], "; it fails where the contractor's passes", "")
    verdict = np.where(rows["passes"] & rows["fails_theirs"], "; it passes where the contractor's fails", verdict)
    words = [
        f"{of}{what} {value}{by}{judged}"
        for of, what, value, by, judged in zip(
            rows["of"], rows["words"], _against(rows), _allowance(rows), verdict, strict=True
        )
    ]
    return rows[["link", "reading", "reading_theirs"]].assign(words=words)


def _against(rows: pd.DataFrame) -> list[str]:
    by_margin = (rows["of"] != "").to_numpy()
    sides = [
        np.where(by_margin, printed(rows[f"margin{of}"].to_numpy()), _as_read(rows[f"number{of}"], rows[f"bound{of}"]))
        for of in ("", "_theirs")
    ]
    unit = np.where(rows["decibels"], " dB", "")
    return [f"{a} against {b}{u}" for a, b, u in zip(*sides, unit, strict=True)]


def _as_read(number: pd.Series, bound: pd.Series) -> np.ndarray:
    """Values as text, with the word of their bound: `above 40.00`, `over range`."""
    words = bound.fillna("").to_numpy(dtype=object)
    text = words + np.where(words == "", "", " ") + printed(number.to_numpy())
    return np.where(words == "over range", words, text)


def _allowance(rows: pd.DataFrame) -> list[str]:
    allowed = printed(rows["allowed"].to_numpy())
    far = (rows["share"] > 1 + 1e-9).to_numpy()
    return [f", {limit} dB apart at the most" if more else "" for limit, more in zip(allowed, far, strict=True)]


def _records(job: Joined, own: OwnersOwn, link: np.ndarray) -> pd.DataFrame:
    """Each record of the owner with a record in use of the contractor: limits, set-ups and lengths of both."""
    sides = []
    for records, facts, of in (
        (own.records, own.facts, link),
        (job.analysis.records, job.analysis.facts, np.where(job.records["in_use"], job.link_of_record, -1)),
    ):
        limit = (
            records["declared_limit"]
            .astype("object")
            .map(lambda text: " ".join(str(text).split()).casefold(), na_action="ignore")
        )
        side = pd.DataFrame(
            {
                "link": of, "record": np.arange(len(records)), "limit": limit.to_numpy(),
                "configuration": facts["configuration"].astype("object").to_numpy(),
                "reference": facts["reference"].astype("object").where(facts["reference_from"] == "file").to_numpy(),
                "length": facts["length_m"].where(facts["length_m_from"] == "file").to_numpy(),
            }
        )  # fmt: skip
        sides.append(side[side["link"] >= 0])
    return (
        sides[0]
        .drop_duplicates("link")
        .merge(sides[1].drop_duplicates("link", keep="last"), on="link", suffixes=("", "_theirs"))
    )


def _records_that_differ(records: pd.DataFrame) -> pd.DataFrame:
    """Link and words of records with another limit, configuration, reference method or length."""
    parts = []
    for name, words in (("limit", "limit"), ("configuration", "configuration"), ("reference", "reference method")):
        theirs = records[f"{name}_theirs"]
        rows = records[records[name].notna() & theirs.notna() & (records[name] != theirs)]
        said = [f"{words} {a} against {b}" for a, b in zip(rows[name], rows[f"{name}_theirs"], strict=True)]
        parts.append(rows[["link"]].assign(words=said))
    apart = (records["length"] - records["length_theirs"]).abs()
    rows = records[apart > LENGTH_SHARE * records["length_theirs"] + 1e-9]
    said = [f"length {a:g} m against {b:g} m" for a, b in zip(rows["length"], rows["length_theirs"], strict=True)]
    parts.append(rows[["link"]].assign(words=said))
    return pd.concat(parts, ignore_index=True)


def _differs(job: Joined, own: OwnersOwn, reasons: pd.DataFrame, differing: np.ndarray, looked_at: int) -> Finding:
    label = job.links["label"].to_numpy()
    first = reasons.drop_duplicates("link").head(NAMED)
    named = "; ".join(f"{label[row]}: {words}" for row, words in zip(first["link"], first["words"], strict=True))
    rest = f"; and {len(differing) - NAMED} more" if len(differing) > NAMED else ""
    message = (
        f"{len(differing)} of {counted_words(looked_at, 'link')} that the owner measured again "
        f"{'does' if len(differing) == 1 else 'do'} not agree: {named}{rest}"
    )
    keys = {key: number for number, key in enumerate(job.analysis.links["key"])}
    link = own.records["key"].map(keys).fillna(-1).astype("int64").to_numpy()
    at = reasons.dropna(subset="reading").head(EVIDENCE_SHOWN // 2) if "reading" in reasons else reasons.iloc[:0]
    theirs = _of_the_owner(job, own, link).of_readings(at["reading"].to_numpy(dtype=np.int64)) if len(at) else ()
    ours = job.of_readings(at["reading_theirs"].to_numpy(dtype=np.int64)) if len(at) else ()
    evidence = [
        *(piece._replace(what=f"{piece.what}, by the owner") for piece in theirs),
        *(piece._replace(what=f"{piece.what}, by the contractor") for piece in ours),
        *(Evidence(f"{label[row]}: {words}") for row, words in zip(first["link"], first["words"], strict=True)),
        counted("links measured again", looked_at),
    ]  # fmt: skip
    return finding("audit-differs", message, job.labels(differing), evidence=evidence)
