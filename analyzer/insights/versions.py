"""Versions of the tester's software, firmware and limit tables, and the name of the project on every record."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer.importing.words import word
from analyzer.insights.joined import Joined, counted_words
from analyzer.insights.register import finding
from analyzer.job.version_numbers import version_number
from analyzer.schema import Finding

NAMED = 3
"""Versions or projects that a sentence names at the most."""


class _Versioned(NamedTuple):
    """One thing that has a version: words for it, column of the records, key of the job below [required]."""

    words: str
    column: str
    key: str


_VERSIONED = (
    _Versioned("software", "software_version", "software_from"),
    _Versioned("firmware", "firmware_version", "firmware_from"),
    _Versioned("limit tables", "limit_table_version", "limit_table_from"),
)


def versions_mixed(job: Joined) -> list[Finding]:
    """Kinds of tester of which not all records in use bear the same version: 5.1 and v5.1.0 are the same."""
    found = []
    for what in _VERSIONED:
        if not _said(job, what.column).any():
            continue
        rows = _in_use(job, what.column)
        rows = rows[rows["said"] != ""]
        rows["same"] = rows["said"].map(_canonical)
        for kind, own in rows.groupby("kind", sort=True):
            links = own.groupby("same")["link"].nunique().sort_values(ascending=False, kind="stable")
            if len(links) < 2:
                continue
            usual = own[own["same"] == links.index[0]]
            odd = own[own["same"] != links.index[0]]
            message = (
                f"{kind}: {counted_words(odd['link'].nunique(), 'link')} with {what.words} {_named(odd)}, "
                f"{usual['link'].nunique()} with {_named(usual)}"
            )
            evidence = job.of_records(odd["record"].to_numpy(), _told(what, odd))
            found.append(finding("versions-mixed", message, job.labels(odd["link"]), evidence=evidence))
    return found


def versions_below_the_least(job: Joined) -> list[Finding]:
    """Records with a version below the lowest that the job states, and those whose version is no dotted number."""
    found = []
    for what, least in _stated(job):
        rows = _in_use(job, what.column)
        rows = rows[rows["said"] != ""]
        number = {text: version_number(text) for text in rows["said"].unique()}
        asked = version_number(least) or ()
        old = rows[
            rows["said"].map(lambda text, number=number, asked=asked: bool(number[text]) and number[text] < asked)
        ]
        unlike = rows[rows["said"].map(lambda text, number=number: number[text] is None)]
        for code, own, words in (
            ("version-too-old", old, f"below {least}, the lowest that required.{what.key} allows"),
            (
                "version-not-comparable",
                unlike,
                f"which is no dotted number to compare with {least} of required.{what.key}",
            ),
        ):
            if len(own):
                count = counted_words(own["link"].nunique(), "link")
                message = f"{count} tested with {what.words} {_named(own)}, {words}"
                evidence = job.of_records(own["record"].to_numpy(), _told(what, own))
                found.append(finding(code, message, job.labels(own["link"]), evidence=evidence))
    return found


def versions_missing(job: Joined) -> list[Finding]:
    """Links without a version that others of their kind of tester bear, or that the job asks for."""
    asked = {what.column for what, _ in _stated(job)}
    found = []
    for what in _VERSIONED:
        if what.column not in asked and not _said(job, what.column).any():
            continue
        for kind, own in _in_use(job, what.column).groupby("kind", sort=True):
            silent, bearing = _silent(own)
            if not len(silent) or (not bearing and what.column not in asked):
                continue
            why = f"which required.{what.key} asks for" if what.column in asked else _of_others(bearing)
            message = f"{kind}: {counted_words(silent['link'].nunique(), 'link')} without a version of the {what.words}, {why}"
            evidence = job.of_records(silent["record"].to_numpy(), f"no version of the {what.words}")
            found.append(finding("version-missing", message, job.labels(silent["link"]), evidence=evidence))
    return found


def project_names(job: Joined) -> list[Finding]:
    """Several names of a project in one job, or names that are neither that of the job nor its reference."""
    if not _said(job, "project").any():
        return []
    rows = _in_use(job, "project")
    rows = rows[rows["said"] != ""]
    rows["same"] = rows["said"].map(_plain)
    own_names = (
        {_plain(name) for name in (job.job.job.name, job.job.job.reference) if name} if job.job.job.name else set()
    )
    odd = rows[~rows["same"].isin(own_names)]
    against = f', while the job is named "{job.job.job.name}"'
    if not own_names:
        links = rows.groupby("same")["link"].nunique().sort_values(ascending=False, kind="stable")
        odd = rows[rows["same"] != links.index[0]] if len(links) else rows
        usual = rows[rows["same"] == links.index[0]] if len(links) else rows
        against = f", {usual['link'].nunique()} {_quoted(usual)}" if len(links) else ""
    if odd.empty:
        return []
    message = f"{counted_words(odd['link'].nunique(), 'link')} with the project {_quoted(odd)}{against}"
    words = [f"project {text}" for text in odd["said"]]
    evidence = job.of_records(odd["record"].to_numpy(), words)
    return [finding("project-names-differ", message, job.labels(odd["link"]), evidence=evidence)]


def project_missing(job: Joined) -> list[Finding]:
    """Links whose records name no project, where those of others do."""
    if not _said(job, "project").any():
        return []
    silent, bearing = _silent(_in_use(job, "project"))
    if not len(silent) or not bearing:
        return []
    message = f"{counted_words(silent['link'].nunique(), 'link')} without a name of the project, {_of_others(bearing)}"
    evidence = job.of_records(silent["record"].to_numpy(), "no project named")
    return [finding("project-missing", message, job.labels(silent["link"]), evidence=evidence)]


def _stated(job: Joined) -> Iterator[tuple[_Versioned, str]]:
    """What the job asks a version of, and the lowest."""
    for what in _VERSIONED:
        least = getattr(job.job.required, what.key)
        if least is not None:
            yield what, least


def _said(job: Joined, column: str) -> np.ndarray:
    """What each record says in a column, "" where nothing or a word for it, n texts."""
    texts = job.analysis.records[column]
    if texts.isna().all():
        return np.full(len(texts), "", dtype=object)
    codes, distinct = pd.factorize(texts)
    clean = [" ".join(str(text).split()) for text in distinct]
    known = ["" if not any(map(str.isalnum, text)) or word("not measured", text) else text for text in clean]
    return np.asarray([*known, ""], dtype=object)[codes]


def _in_use(job: Joined, column: str) -> pd.DataFrame:
    """Records in use: record, link, file, tester, kind of tester, and what they say in the column."""
    records = job.records
    rows = pd.DataFrame(
        {
            "record": np.arange(len(records)),
            **{name: records[name].to_numpy() for name in ("link", "file", "tester")},
            "kind": job.once("kind of tester", _kinds),
            "said": _said(job, column),
        }
    )
    return rows[records["in_use"].to_numpy()].reset_index(drop=True)


def _kinds(job: Joined) -> np.ndarray:
    """Kind of the tester of each record: as the job names it, else by what was tested, n texts."""
    medium = job.links["medium"].to_numpy()[job.link_of_record]
    kinds = np.where(medium == "twisted pair", "testers of twisted pair", "testers of fiber").astype(object)
    if job.analysis.events is not None:
        traced = job.analysis.events["record"].to_numpy()
        kinds[traced[traced >= 0]] = "time-domain reflectometers"
    stated = {one.tester.strip().casefold(): one.kind for one in job.job.instruments if one.kind}
    if stated:
        named = pd.Series(job.records["tester"]).str.strip().str.casefold().map(stated)
        kinds = np.where(named.notna(), 'testers of kind "' + named.fillna("") + '"', kinds)
    return kinds


def _silent(rows: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """Records of links of which no row of a file says anything, and of how many links some does.

    A table may write what holds for a test into the first of its rows alone.
    """
    says = (rows["said"] != "").groupby([rows["link"], rows["file"]]).transform("any").to_numpy()
    return rows[~says], rows.loc[says, "link"].nunique()


def _of_others(links: int) -> str:
    return f"which the records of {counted_words(links, 'other link')} state"


def _canonical(text: str) -> str:
    number = version_number(text)
    return text.casefold() if number is None else ".".join(map(str, number))


def _plain(name: str) -> str:
    """A name without case, signs and blanks at its joints."""
    known = unicodedata.normalize("NFKC", name).casefold()
    return " ".join("".join(letter if letter.isalnum() else " " for letter in known).split())


def _named(rows: pd.DataFrame) -> str:
    """Distinct versions with the testers that bear them: `5.0.3 (T-2), 5.1`; the most common first."""
    parts = []
    for said in rows["said"].value_counts().index[: NAMED + 1]:
        testers = sorted(set(rows.loc[rows["said"] == said, "tester"]) - {""})
        of = f" ({', '.join(testers[:NAMED])}{', …' if len(testers) > NAMED else ''})" if testers else ""
        parts.append(f"{said}{of}")
    return ", ".join(parts[:NAMED]) + (", …" if len(parts) > NAMED else "")


def _quoted(rows: pd.DataFrame) -> str:
    """Distinct names of projects, the most common first."""
    names = [f'"{said}"' for said in rows["said"].value_counts().index[: NAMED + 1]]
    return ", ".join(names[:NAMED]) + (", …" if len(names) > NAMED else "")


def _told(what: _Versioned, rows: pd.DataFrame) -> list[str]:
    return [f"{what.words} {text}" for text in rows["said"]]
