"""What the tables themselves tell: assumptions, disagreements, collisions, what was set aside."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from analyzer.budget.end_connections import missing_sentence
from analyzer.budget.required import DECLARED_FAIL
from analyzer.insights.declared import ROUNDING
from analyzer.insights.evidence import of_set_aside, of_texts
from analyzer.insights.joined import EVIDENCE_SHOWN, Joined, counted
from analyzer.insights.register import finding
from analyzer.schema import Analysis, Evidence, Finding
from analyzer.standards import load


def assumed_reference(analysis: Analysis) -> list[Finding]:
    """How many verdicts assume one-cord, and what two and three cords would make of them."""
    facts, judged = analysis.facts, analysis.judged
    assumed = (facts["reference_from"] == "assumed").to_numpy()[analysis.readings["record"]]
    told = judged["in_force"] & (judged["verdict"] != "not judged") & assumed & (judged["limit_id"] >= 0)
    if not told.any():
        return []
    rows = judged[told]
    # every cord more takes one end connection out of the reading, and its allowance out of the limit
    each = analysis.limits["end_pair_db"].fillna(analysis.limits["mated_pair_db"])
    pair = each.to_numpy()[rows["limit_id"].to_numpy()]
    passes = rows["margin"].to_numpy() >= 0
    two = int((passes & (rows["margin"].to_numpy() < pair - 1e-9)).sum())
    three = int((passes & (rows["margin"].to_numpy() < 2 * pair - 1e-9)).sum())
    verdicts = "1 verdict assumes" if len(rows) == 1 else f"{len(rows)} verdicts assume"
    message = f"{verdicts} one-cord: with two-cord {two} of the passes would fail, with three-cord {three}"
    links = _labels(analysis, analysis.readings.loc[told.to_numpy(), "record"])
    evidence = [
        Evidence("verdicts that assume one-cord", float(len(rows))),
        Evidence("of them passes that would fail with two-cord", float(two)),
        Evidence("of them passes that would fail with three-cord", float(three)),
    ]
    return [finding("reference-assumed", message, links, evidence=evidence)]


def end_allowance_missing(analysis: Analysis) -> list[Finding]:
    """Readings that are not judged because their end connections have no sourced allowance, told once for all."""
    numbers = (analysis.reasons["code"] == "no-end-allowance").to_numpy().nonzero()[0]
    hit = pd.Series(analysis.judged["reason"].to_numpy()).isin(numbers) & analysis.judged["in_force"]
    if not hit.any():
        return []
    count = "1 reading is" if hit.sum() == 1 else f"{hit.sum()} readings are"
    message = f"{count} not judged: {missing_sentence(load())}"
    labels = _labels(analysis, analysis.readings.loc[hit, "record"])
    evidence = Joined(analysis).of_readings(np.flatnonzero(hit))
    return [finding("end-allowance-missing", message, labels, evidence=evidence)]


def unlike_the_export(analysis: Analysis) -> list[Finding]:
    """Verdicts of the export that are not ours, and failures that the export declares and nothing explains."""
    links = analysis.links
    unexplained = links["missing"].str.contains(DECLARED_FAIL, regex=False).fillna(value=False).astype(bool)
    found: list[Finding] = []
    if unexplained.any():
        count = "1 link is" if unexplained.sum() == 1 else f"{unexplained.sum()} links are"
        message = f"{count} declared failed by the export and no reading explains it"
        evidence = _declared_evidence(analysis, unexplained.to_numpy())
        found.append(finding("declared-fail-unexplained", message, links.loc[unexplained, "label"], evidence=evidence))
    links_fail = (links["verdict"] == "fail").to_numpy()
    passed = _declared(analysis, ("pass", "marginal pass"), ("fail", "marginal fail"), links_fail)
    if len(passed):
        words = "1 link passes" if len(passed) == 1 else f"{len(passed)} links pass"
        fails = "fails" if len(passed) == 1 else "fail"
        message = f"{words} by the export's own verdict and {fails} by the limits that were ordered"
        message += _expected(analysis, passed)
        evidence = _declared_evidence(analysis, analysis.links.index.isin(passed.index))
        found.append(finding("declared-differs", message, passed, evidence=evidence))
    failed = _declared(analysis, ("fail", "marginal fail"), ("pass", "marginal pass"), None)
    failed = failed[~failed.index.isin(links.index[unexplained])]
    if len(failed):
        words = "1 link has a reading" if len(failed) == 1 else f"{len(failed)} links have a reading"
        message = f"{words} that fails by the export's own verdict and passes by the limits that were ordered"
        message += _near_the_limit(analysis, failed) + _expected(analysis, failed)
        evidence = _declared_evidence(analysis, analysis.links.index.isin(failed.index))
        found.append(finding("declared-differs", message, failed, evidence=evidence))
    return found


def _declared(
    analysis: Analysis, said: tuple[str, ...], ours: tuple[str, ...], whole: np.ndarray | None
) -> pd.Series[str]:
    """Labels of links with a reading in force of which the export says one thing and we the other.

    `whole`: links that differ from what the export says of their whole record; None where that is not compared.
    """
    records, readings, judged = analysis.records, analysis.readings, analysis.judged
    link, at = records["link"].to_numpy(), readings["record"].to_numpy()
    live = judged["in_force"].to_numpy()
    differs = readings["declared_verdict"].isin(said).to_numpy() & judged["verdict"].isin(ours).to_numpy() & live
    # a fail that is exempt, or for information, fails nothing by the limits that were ordered
    differs &= judged["counts"].to_numpy() | ("fail" not in ours)
    hit = np.zeros(len(analysis.links), dtype=bool)
    hit[link[at[differs]]] = True
    if whole is not None:
        in_use = np.zeros(len(records), dtype=bool)
        in_use[at[live]] = True
        # with one row for each reading a link passes only if no row of it says otherwise
        said_so, otherwise = np.zeros(len(hit), dtype=bool), np.zeros(len(hit), dtype=bool)
        said_so[link[records["declared_verdict"].isin(said).to_numpy() & in_use]] = True
        otherwise[link[records["declared_verdict"].isin(ours).to_numpy() & in_use]] = True
        hit |= said_so & ~otherwise & whole & ~_failed_by_its_own_words(analysis, live)
    return analysis.links.loc[hit, "label"]


_TO_ANOTHER_LIMIT = ("another-limit", "fails-at-its-point", "proven-by-margin")
"""Reasons that only readings have whose tester had another limit loaded than the ordered one."""


def _expected(analysis: Analysis, labels: pd.Series[str]) -> str:
    """How many of some links were tested against another limit than the ordered one, in words; empty for none.

    The limit printed beside a reading differs, or the one that the tester had loaded is another by its name.
    """
    readings, judged = analysis.readings, analysis.judged
    apart = (readings["declared_limit"] - judged["limit"]).abs().to_numpy()
    codes = analysis.reasons["code"].reindex(judged["reason"]).isin(_TO_ANOTHER_LIMIT).to_numpy()
    other = judged["in_force"].to_numpy() & ((apart > ROUNDING) | codes)
    at = readings["record"].to_numpy()[other]
    links = np.intersect1d(analysis.records["link"].to_numpy()[at], labels.index)
    if not len(links):
        return ""
    mine = np.isin(analysis.records["link"].to_numpy(), links)
    names = sorted(analysis.records.loc[mine, "declared_limit"].dropna().unique())[:2]
    named = f" ({', '.join(names)})" if names else ""
    how_many = "it was" if len(labels) == 1 else f"{len(links)} of them {'was' if len(links) == 1 else 'were'}"
    return f"; {how_many} tested against another limit than the ordered one{named}, so that was to be expected"


def _near_the_limit(analysis: Analysis, labels: pd.Series[str]) -> str:
    """Whether readings that the export fails pass here by no more than the accuracy, in words; empty where none does."""
    readings, judged = analysis.readings, analysis.judged
    near = judged["in_force"] & judged["verdict"].eq("marginal pass") & readings["declared_verdict"].isin(_FAILED)
    links = np.intersect1d(analysis.records["link"].to_numpy()[readings["record"].to_numpy()[near]], labels.index)
    if not len(links):
        return ""
    return (
        ", marginally: the difference lies within the accuracy of the measurement"
        if len(links) == len(labels)
        else (f", {len(links)} of them marginally: there the difference lies within the accuracy of the measurement")
    )


_FAILED = ("fail", "marginal fail")


def _failed_by_its_own_words(analysis: Analysis, live: np.ndarray) -> np.ndarray:
    """Marks of the links of several rows of which the export itself says that one thing fails.

    Where each row tells of one reading, the verdicts of the other rows do not speak of a wire map that fails.
    """
    link = analysis.records["link"].to_numpy()[analysis.readings["record"].to_numpy()]
    own = live & analysis.readings["declared_verdict"].eq("fail").to_numpy()
    own &= analysis.judged["verdict"].eq("fail").to_numpy()
    several = np.bincount(analysis.records["link"], minlength=len(analysis.links)) > 1
    out = np.zeros(len(analysis.links), dtype=bool)
    out[link[own]] = True
    return np.asarray(out & several, dtype=bool)


def _declared_evidence(analysis: Analysis, hit: np.ndarray) -> tuple[Evidence, ...]:
    """What decided these links, and what their records are declared to be."""
    job = Joined(analysis)
    decided = analysis.links["decided_by"].to_numpy()[hit]
    declared = analysis.records["declared_verdict"].astype("object")
    rows = np.flatnonzero(hit[job.link_of_record] & declared.notna().to_numpy())
    said = [f"declared {verdict}" for verdict in declared.to_numpy()[rows]]
    return (*job.of_readings(decided[decided >= 0]), *job.of_records(rows, said))


def judged_badly(analysis: Analysis) -> list[Finding]:
    """Readings that prove a bad reference or an impossible method."""
    codes = analysis.reasons["code"].to_numpy()
    reason = analysis.judged["reason"].to_numpy()
    found = []
    sentences = {
        "negative-loss": "loss below zero: the reference was bad",
        "method-and-ends": "the reference method takes away more matings than the link has",
    }
    for code, sentence in sentences.items():
        numbers = (codes == code).nonzero()[0]
        hit = pd.Series(reason).isin(numbers) & analysis.judged["in_force"]
        if hit.any():
            count = "1 reading" if hit.sum() == 1 else f"{hit.sum()} readings"
            evidence = Joined(analysis).of_readings(np.flatnonzero(hit))
            links = _labels(analysis, analysis.readings.loc[hit, "record"])
            found.append(finding(code, f"{count}: {sentence}", links, evidence=evidence))
    return found


def from_seeds(analysis: Analysis, seeds: pd.DataFrame) -> list[Finding]:
    """Findings that importing and budget noticed while they worked: one for each cause, with a count.

    What is told of records has its cause before the first colon (`length: the file says 120 m, the schedule 150 m`);
    what is told of a file or the schedule is one cause whatever the row.
    """
    found = []
    texts = seeds["text"].astype("str")
    head, anywhere = texts.str.split(":").str[0], texts.str.replace(r"\brow \d+", "row", regex=True)
    cause = head.where(seeds["record"] >= 0, anywhere)
    for (code, _), rows in seeds.assign(text=texts).groupby(["code", cause], sort=False):
        records = rows.loc[rows["record"] >= 0, "record"]
        distinct = rows["text"].drop_duplicates()
        message = distinct.iloc[0]
        if len(distinct) > 1:
            message += f"; and {max(len(distinct), len(_labels(analysis, records))) - 1} more of this kind"
        at, told = records.to_numpy(dtype=np.int64), rows.loc[rows["record"] >= 0, "text"].tolist()
        evidence = [*Joined(analysis).of_records(at, told), *of_texts(analysis, distinct if not len(at) else [])]
        found.append(finding(str(code), message, _labels(analysis, records), evidence=evidence))
    return found


def set_aside(analysis: Analysis) -> list[Finding]:
    """One finding per cause of what was set aside."""
    found = []
    for code, rows in analysis.set_aside[analysis.set_aside["row"] >= 0].groupby("code", sort=False):
        kinds = rows["counts_as"].astype("object").value_counts()
        counts = " and ".join(f"{count} {name}{'' if count == 1 else 's'}" for name, count in kinds.items())
        message = f"{counts} set aside ({code}): {rows['reason'].iloc[0]}"
        evidence = [counted("set aside", len(rows)), *of_set_aside(analysis, rows.head(EVIDENCE_SHOWN))]
        found.append(finding("set-aside", message, evidence=evidence))
    return found


def general_notes(analysis: Analysis) -> list[Finding]:
    """Files read once, accuracy unknown, limits unconfirmed."""
    found = []
    repeated = analysis.files[analysis.files["status"] == "repeated"]
    if len(repeated):
        evidence = [
            Evidence(str(reason), None, "", str(name))
            for name, reason in zip(repeated["name"], repeated["reason"], strict=True)
        ]
        message = f"read once: {'; '.join(repeated['reason'])}"
        found.append(finding("file-repeated", message, evidence=evidence[:EVIDENCE_SHOWN]))
    unreadable = analysis.files[analysis.files["status"].isin(["unreadable", "own output"])]
    found += [
        finding("file-unreadable", str(reason), evidence=[Evidence("not read", None, "", str(name))])
        for name, reason in zip(unreadable["name"], unreadable["reason"], strict=True)
    ]
    told = analysis.judged["verdict"] != "not judged"
    if told.any() and analysis.judged.loc[told, "accuracy"].isna().all():
        message = "no measurement accuracy is known: nothing is called within uncertainty"
        evidence = [counted("readings judged without an accuracy", int(told.sum()))]
        found.append(finding("accuracy-unknown", message, evidence=evidence))
    used = analysis.judged.loc[told & (analysis.judged["limit_id"] >= 0), "limit_id"].unique()
    open_rows = analysis.limits.iloc[used]
    open_rows = open_rows[~open_rows["confirmed"]]
    if len(open_rows):
        ids = sorted({row for rows in open_rows["rows"] for row in rows.split() if not row.startswith("job.toml")})
        message = f"{len(ids)} values that the limits rest on are recalled or derived and not confirmed"
        evidence = [
            counted("values not confirmed", len(ids)),
            *(Evidence(f"row {row} of the values") for row in ids[: EVIDENCE_SHOWN - 1]),
        ]
        found.append(finding("limits-unconfirmed", message, evidence=evidence))
    return found


def _labels(analysis: Analysis, records: Iterable[int] | pd.Series) -> pd.Series:
    links = pd.unique(analysis.records["link"].to_numpy()[pd.Series(records, dtype="int64").to_numpy()])
    return analysis.links["label"].take(links)
