"""The cover letter: one page without scripts that says what the package is, what holds in it and what does not."""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import html
import importlib.resources
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from analyzer import __version__
from analyzer.insights.marked import marked_words
from analyzer.report.package.checklist import Answer
from analyzer.report.page_data import CAUTIONS
from analyzer.report.project import project_lines
from analyzer.report.wording import counted, sentence
from analyzer.schema import STANDING_LINE, Analysis

_MOST_EXCEPTIONS: Final = 200


@dataclass(frozen=True)
class Letter:
    """What the cover letter says besides the judged tables."""

    analysis: Analysis
    answers: Sequence[Answer]
    draft: Sequence[str]
    made: dt.datetime
    manifest_sha256: str
    area: str | None


def cover_page(letter: Letter) -> bytes:
    """The letter as one HTML file that asks no network and runs no script."""
    style = (importlib.resources.files("analyzer.report") / "templates" / "cover.css").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode("ascii")
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    head = (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{html.escape(policy)}">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{html.escape(_title(letter))}</title>\n<style>{style}</style>\n</head>\n<body>\n"
    )
    return (head + "\n".join(_parts(letter)) + "\n</body>\n</html>\n").encode("utf-8", "backslashreplace")


def _title(letter: Letter) -> str:
    name = letter.analysis.job.job.name if letter.analysis.job else None
    return ("DRAFT: " if letter.draft else "") + f"Closeout of {name or 'cabling'}"


def _parts(letter: Letter) -> Iterable[str]:
    analysis = letter.analysis
    yield f"<h1>{_text(_title(letter))}</h1>"
    yield f"<p>{_text(summary_sentence(analysis))}</p>"
    yield f'<p class="soft">{_text(STANDING_LINE)}</p>'
    if letter.draft:
        yield f'<div class="draft"><p><strong>This package is a draft.</strong> What keeps it from being final:</p>{_list(letter.draft)}</div>'
    yield "<h2>Project</h2>" + _table(None, _project(letter))
    yield (
        "<h2>Totals</h2>"
        + _table(("verdict", "links"), _totals(analysis))
        + _table(("basis", "readings in force"), _by_basis(analysis))
    )
    yield f"<p>{_text(_accounts(analysis))}</p>"
    yield "<h2>Rules in force</h2>" + _list(analysis.rules)
    yield "<h2>Looser than the standard</h2>" + _looser(analysis)
    yield "<h2>Exceptions</h2>" + _exceptions(analysis)
    marked = marked_words(analysis)
    if marked:
        yield "<h2>Marks of reviewers</h2><p>A mark changes no verdict.</p>" + _list(marked)
    yield "<h2>What the owner asks</h2>" + _answers(letter.answers)
    yield "<h2>Limits</h2>" + f"<p>{_text(_limits(analysis))}</p>"
    yield "<h2>What is in the package</h2>" + _list(CONTENTS)
    yield (
        "<h2>Proof</h2>"
        f"<p>SHA-256 of manifest-sha256.txt, which lists the checksum of every file in data/:<br><code>{letter.manifest_sha256}</code></p>"
        "<p>data/HOW-TO-CHECK.txt says how to compare it without any program of ours.</p>"
    )
    yield "<h2>Cautions</h2>" + _list(CAUTIONS)


CONTENTS: Final = (
    "report.html: every link, to sort, filter and look into; needs no network",
    "report.pdf: the same to print, exceptions first",
    "results.xlsx: the same as a workbook, fiber allowances as formulas",
    "tables/: the judged tables as CSV and Parquet, with a dictionary of every column",
    "evidence/: the exports as they came, untouched",
    "job/: what was ordered, the schedule, column maps, and the options of the command line",
    "limits/: the values that were used, each with its source",
    "attachments/: what was added by hand, untouched; that a file is there does not say that it was checked",
)


def summary_sentence(analysis: Analysis) -> str:
    """The whole package in one sentence."""
    totals = analysis.totals
    told = [
        f"{totals[name]:,} {word}"
        for name, word in (
            ("pass", "pass"),
            ("marginal", "pass within uncertainty of the limit"),
            ("fail", "fail"),
            ("incomplete", "incomplete"),
        )
        if totals[name]
    ]
    return f"{counted(totals['links'], 'link')}: {', '.join(told) if told else 'none judged'}."


def _project(letter: Letter) -> list[tuple[str, str]]:
    rows = project_lines(letter.analysis)
    rows.append(("scope", f"area {letter.area}" if letter.area else _scope(letter.analysis)))
    rows.append(("made", f"{letter.made:%Y-%m-%d %H:%M} UTC with cableproof {__version__}"))
    return rows


def _scope(analysis: Analysis) -> str:
    scope = analysis.job.scope if analysis.job else None
    said = [
        f"{word} {', '.join(getattr(scope, name))}"
        for name, word in (
            ("areas", "areas"),
            ("exclude_areas", "without areas"),
            ("labels", "labels"),
            ("exclude_labels", "without labels"),
        )
        if scope is not None and getattr(scope, name)
    ]
    return "; ".join(said) or (
        "the whole schedule" if len(analysis.schedule) else "the links of the evidence; there is no schedule"
    )


def _totals(analysis: Analysis) -> list[tuple[str, str]]:
    words = {"pass": "pass", "marginal": "marginal", "fail": "fail", "incomplete": "incomplete"}
    return [(word, f"{analysis.totals[name]:,}") for name, word in words.items()]


def _by_basis(analysis: Analysis) -> list[tuple[str, str]]:
    force = analysis.judged[analysis.judged["in_force"] & (analysis.judged["verdict"] != "not judged")]
    counts = force["basis"].value_counts()
    rows = [(str(name), f"{int(count):,}") for name, count in counts.items() if count]
    open_ones = int((analysis.judged["in_force"] & (analysis.judged["verdict"] == "not judged")).sum())
    return [*rows, ("not judged", f"{open_ones:,}")] if open_ones else rows


def _accounts(analysis: Analysis) -> str:
    files = analysis.files
    count = {
        what: int(files[what].clip(lower=0).sum())
        for what in ("rows_read", "rows_used", "rows_set_aside", "cells_read", "cells_used", "cells_set_aside")
    }
    return sentence(
        f"{counted(len(files), 'file')}; {count['rows_read']:,} rows read, {count['rows_used']:,} used, {count['rows_set_aside']:,} set aside; "
        f"{count['cells_read']:,} cells of readings, {count['cells_used']:,} used, {count['cells_set_aside']:,} set aside"
    )


def _looser(analysis: Analysis) -> str:
    if not analysis.looser:
        return "<p>Nothing.</p>"
    rows = [
        (
            str(item["what"]),
            ", ".join(str(item[key]) for key in ("granted_by", "date", "reference") if item.get(key))
            or "granted by nobody",
        )
        for item in analysis.looser
    ]
    return _table(("what", "granted by"), rows)


def exceptions(analysis: Analysis) -> list[tuple[str, str, str]]:
    """Links that are not a plain pass: label, verdict, sentence; fails first."""
    links = analysis.links
    parts = [links[links["verdict"] == verdict] for verdict in ("fail", "incomplete", "marginal")]
    rows = [
        row
        for part in parts
        for row in zip(part["label"].astype(str), part["verdict"].astype(str), part["sentence"].fillna(""), strict=True)
    ]
    untested = {"missing-link", "sample-too-small"}
    missing = [label for found in analysis.findings if found.code in untested for label in found.links]
    return [*rows, *((label, "no result", "scheduled, and not in the evidence") for label in missing)]


def _exceptions(analysis: Analysis) -> str:
    rows = exceptions(analysis)
    if not rows:
        return "<p>None: every link passes.</p>"
    more = len(rows) - _MOST_EXCEPTIONS
    rest = f"<p>And {more:,} more; report.html and results.xlsx hold them all.</p>" if more > 0 else ""
    return _table(("link", "verdict", "reason"), rows[:_MOST_EXCEPTIONS]) + rest


def _answers(answers: Sequence[Answer]) -> str:
    if not answers:
        return "<p>Nothing is asked under [closeout] of job.toml.</p>"
    rows = [
        (
            answer.meaning,
            f"“{answer.says}”" + (f" ({answer.document})" if answer.document else ""),
            answer.status + (f", granted by {answer.granted}" if answer.granted else ""),
            answer.why,
        )
        for answer in answers
    ]
    return _table(("demand", "in the owner's words", "answer", "why"), rows)


def _limits(analysis: Analysis) -> str:
    used = analysis.limits.drop_duplicates("rows")
    confirmed = int(used["confirmed"].sum())
    return sentence(
        f"{counted(len(used), 'limit')} used; {confirmed} confirmed, {len(used) - confirmed} unconfirmed "
        "(a value that was recalled or derived and that nobody has compared with the document itself); "
        "limits/used.csv names each with its source"
    )


def _list(items: Iterable[str]) -> str:
    return "<ul>" + "".join(f"<li>{_text(item)}</li>" for item in items) + "</ul>"


def _table(head: Sequence[str] | None, rows: Iterable[Sequence[str]]) -> str:
    first = (
        "<thead><tr>" + "".join(f'<th scope="col">{_text(cell)}</th>' for cell in head) + "</tr></thead>"
        if head
        else ""
    )
    body = "".join("<tr>" + "".join(f"<td>{_text(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<table>{first}<tbody>{body}</tbody></table>" if body else ""


def _text(text: str) -> str:
    """Text from a file never becomes markup, and never turns the direction of what stands beside it."""
    shown = "".join(sign if sign.isprintable() or sign == "\n" else "\N{REPLACEMENT CHARACTER}" for sign in str(text))
    return f"<bdi>{html.escape(shown)}</bdi>"
