"""The judged tables as a page of text for the person at the rack: what fails comes first, the next action last.

Every verdict is said by its word; color only repeats it. Equal passes and equal causes fold to one line with a count.
`terminal_view` picks and folds, this file words, `console` knows what the terminal can show.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, TextIO

from analyzer import __version__
from analyzer.insights.importance import most_important
from analyzer.insights.marked import marked_words
from analyzer.report.console import Console, Line, columns, padded
from analyzer.report.labels import natural_key, ranges
from analyzer.report.likely import likeliest
from analyzer.report.mends import SISTERS
from analyzer.report.terminal_view import LinkLine, Remark, View
from analyzer.report.totals import verdicts_by_basis, verdicts_by_medium
from analyzer.report.wording import MINUS, counted, exit_sentence, number, sentence, without_stop
from analyzer.schema import STANDING_LINE, Analysis, Finding

if TYPE_CHECKING:
    import pandas as pd

SHOWN = 25
"""Failing or marginal links printed one by one; the labels of the others still stand in one line."""
RANGES_SHOWN = 8
LABEL_WIDTH = 24
"""Labels are set in a column up to this width; longer ones push their own line only."""
FINDINGS_SHOWN = 3
REMARKS_SHOWN = 6
SETTLE = "measure or state what is missing, then check again"
ASSUMED = "reference-assumed"
UNCONFIRMED = "limits-unconfirmed"
SET_ASIDE = "set-aside"
SETTLE_FIRST = "end-allowance-missing"
MISSING = "test-missing"
TOLD_ELSEWHERE = frozenset({SISTERS, ASSUMED, UNCONFIRMED, SET_ASIDE, SETTLE_FIRST, MISSING})
"""Findings with a place of their own: above the others, among the assumptions, behind the mark, in the accounts, with
the incomplete links."""


def print_check(
    analysis: Analysis,
    *,
    all_links: bool = False,
    stream: TextIO | None = None,
    width: int | None = None,
    color: bool | None = None,
    ascii_only: bool | None = None,
) -> None:
    """Print the check: failures, what is missing, what is marginal, the totals, the exit code and the next action.

    `all_links` prints each link instead of folding. `stream` is standard output where None. `width` in columns,
    `color` and `ascii_only` are found out from the stream and the environment (NO_COLOR, COLUMNS) where None.
    """
    console = Console(stream or sys.stdout, width, color=color, ascii_only=ascii_only)
    console.write(_Page(analysis, all_links=all_links).lines())


class _Page:
    def __init__(self, analysis: Analysis, *, all_links: bool) -> None:
        self.analysis = analysis
        self.all_links = all_links
        self.view = View(analysis)
        self.likely = likeliest(analysis)
        self.first = most_important(analysis, left_out=TOLD_ELSEWHERE)

    def lines(self) -> Iterator[Line]:
        yield from self.head()
        yield from self.first_of_all()
        yield from self.failing()
        yield from self.incomplete()
        yield from self.marginal()
        yield from self.findings()
        yield from self.passing()
        yield from self.accounts()
        yield from self.rules()
        yield from self.end()

    def head(self) -> Iterator[Line]:
        read = int((self.analysis.files["status"] == "read").sum())
        links = counted(self.analysis.totals["links"], "link")
        job = getattr(self.analysis.job, "job", None)
        said = getattr(job, "name", None)
        name = f", {said}" if said else ""
        yield Line(f"cableproof {__version__}: check of {links} from {counted(read, 'file')}{name}", style="strong")
        if getattr(job, "invented", False):
            yield Line("An example: every site, label and number in it is invented.")
        yield Line(STANDING_LINE, style="quiet")
        for finding in self.analysis.findings:
            if finding.code == SETTLE_FIRST:
                yield Line(f"{sentence(finding.message)}", "SETTLE FIRST", "incomplete", hanging=2)

    def first_of_all(self) -> Iterator[Line]:
        """The findings that matter most, above everything else; they are not told again below."""
        if self.first:
            yield from _heading("First of all")
        for severity, alike in groupby(self.first, key=lambda finding: finding.severity):
            yield from _alike(list(alike), severity.upper())

    def failing(self) -> Iterator[Line]:
        links = self.view.having("fail")
        if links.empty:
            return
        yield from _heading(f"{counted(len(links), 'link')} fail" + ("s" if len(links) == 1 else ""))
        shown = links if self.all_links else links.iloc[:SHOWN]
        lines = self.view.lines(shown)
        widths = _widths(lines)
        for line in lines:
            yield from self._link("FAIL", "fail", line, widths, detail=True)
        yield from self._rest("FAIL", links["label"].tolist()[len(shown) :])

    def incomplete(self) -> Iterator[Line]:
        links = self.view.having("incomplete")
        if links.empty:
            return
        count = len(links)
        yield from _heading(f"{counted(count, 'link')} {'is' if count == 1 else 'are'} incomplete")
        if self.all_links:
            yield from self._each_incomplete(links)
            return
        for cause in self.view.causes(links):
            text = f"{counted(len(cause.labels), 'link')}: {without_stop(cause.text)}"
            yield Line(text, word="INCOMPLETE", style="incomplete", indent=2, hanging=4)
            yield Line(_ranges(cause.labels), indent=6, hanging=2)
            if cause.least_margin_db >= 0:
                measured = f"What was measured passes, least margin {number(cause.least_margin_db)} dB."
                yield Line(measured, indent=6, hanging=2)
            yield Line(f"To do: {without_stop(cause.mend or SETTLE)}.", indent=6, hanging=2)

    def _each_incomplete(self, links: pd.DataFrame) -> Iterator[Line]:
        lines = self.view.lines(links)
        widths = _widths(lines)
        for cause in self.view.causes(links):
            for row in cause.rows:
                yield from self._link("INCOMPLETE", "incomplete", lines[row], widths, detail=False)
                yield Line(f"{without_stop(cause.text)}.", indent=6, hanging=2)
            yield Line(f"To do: {without_stop(cause.mend or SETTLE)}.", indent=6, hanging=2)

    def marginal(self) -> Iterator[Line]:
        links = self.view.having("marginal")
        if links.empty:
            return
        yield from _heading(f"{counted(len(links), 'link')} within measurement uncertainty of the limit")
        shown = links if self.all_links else links.iloc[:SHOWN]
        lines = self.view.lines(shown)
        widths = _widths(lines)
        for line in lines:
            yield from self._link("MARGINAL", "marginal", line, widths, detail=False)
            if line.accuracy:
                sure = f"; with {line.conforms} probability it keeps the limit" if line.conforms else ""
                beyond = line.margin.startswith(f"margin {MINUS}")
                what = "Beyond the limit, and accepted by the decision rule:" if beyond else "Passes, but"
                text = f"{what} the measurement is only good to ±{line.accuracy}{sure}. {line.where}"
                yield Line(text, indent=6, hanging=2)
        yield from self._rest("MARGINAL", links["label"].tolist()[len(shown) :])

    def findings(self) -> Iterator[Line]:
        links = self.analysis.links
        failing = set(links.loc[(links["verdict"] == "fail").to_numpy(), "label"])
        sisters = [
            finding
            for finding in self.analysis.findings
            if finding.code == SISTERS and not failing.issuperset(finding.links)  # a failing link is told above
        ]
        if sisters:
            yield from _heading("Passes, but stands out")
            yield from _alike(sorted(sisters, key=_by_label), "LOOK AT")
        weighty = [
            item
            for item in self.analysis.findings
            if item.severity != "note" and item.code not in TOLD_ELSEWHERE and item not in self.first
        ]
        if weighty:
            yield from _heading("Findings")
        for severity in ("error", "warning"):
            yield from self._folded([finding for finding in weighty if finding.severity == severity])

    def passing(self) -> Iterator[Line]:
        links = self.view.having("pass")
        if links.empty:
            return
        yield from _heading(f"{counted(len(links), 'link')} pass" + ("es" if len(links) == 1 else ""))
        if self.all_links:
            lines = self.view.lines(links)
            widths = _widths(lines)
            for line in lines:
                yield from self._link("PASS", "pass", line, widths, detail=False)
            return
        groups = self.view.passes(links)
        names = [_ranges(group.labels) for group in groups]
        label_width = _label_width(names)
        type_width = max(columns(group.type) for group in groups)
        for group, name in zip(groups, names, strict=True):
            told = f"{padded(group.type, type_width)}  {self._least(group.nearest, group.labels)}"
            if columns(name) > LABEL_WIDTH:
                yield Line(name, "PASS", "pass", indent=2, hanging=4)
                yield Line(told, indent=6, hanging=2)
            else:
                yield Line(f"{padded(name, label_width)}  {told}", "PASS", "pass", indent=2, hanging=4)

    def accounts(self) -> Iterator[Line]:
        yield from _heading("Accounts")
        files = self.analysis.files
        counts = files["status"].astype(str).value_counts()
        yield Line("Files: " + ", ".join(f"{counts[name]} {name}" for name in sorted(counts.index)), indent=2)
        for name, status, reason in zip(files["name"], files["status"], files["reason"], strict=True):
            if status in {"repeated", "unreadable", "own output", "not a table", "empty"}:
                why = f": {reason}" if isinstance(reason, str) else ""
                yield Line(f"{name}, {status}{why}", indent=4, hanging=2)
        for what in ("rows", "cells"):
            yield self._account(what)
        for cause in self.view.set_aside():
            text = f"{counted(cause.how_many, cause.counts_as)} set aside, {cause.code}; first: {cause.first}: {cause.reason}"
            yield Line(text, indent=4, hanging=2)
        old = int((~self.analysis.judged["in_force"]).sum())
        if old:
            yield Line(
                f"{counted(old, 'reading')} superseded by a later test or told twice, kept as history",
                indent=4,
                hanging=2,
            )
        totals = self.analysis.totals
        words = ", ".join(f"{totals[verdict]:,} {verdict}" for verdict in ("pass", "marginal", "fail", "incomplete"))
        yield Line(f"Links: {totals['links']:,} = {words}", style="strong", indent=2, hanging=2)
        yield from self._parts()
        for words in marked_words(self.analysis):
            yield Line(f"Marked: {words}; a mark changes no verdict.", indent=2, hanging=2)

    def _parts(self) -> Iterator[Line]:
        """The links of each medium, and what the verdicts rest on, where there is more than one kind."""
        media = verdicts_by_medium(self.analysis)
        if len(media) > 1:
            for medium, counts in media:
                words = ", ".join(f"{many:,} {verdict}" for verdict, many in counts.items() if verdict != "links")
                yield Line(f"{medium}: {counts['links']:,} = {words}", indent=4, hanging=2)
        bases = verdicts_by_basis(self.analysis)
        if [name for name, _ in bases] not in ([], ["value"]):
            words = ", ".join(counted(many, name) for name, many in bases)
            yield Line(f"Readings judged by: {words}", indent=2, hanging=2)

    def rules(self) -> Iterator[Line]:
        assumed = [finding for finding in self.analysis.findings if finding.code == ASSUMED]
        notes = [item for item in self.analysis.findings if item.severity == "note" and item.code not in TOLD_ELSEWHERE]
        verdicts, limits = self.view.unconfirmed()
        told = self.view.remarks()
        if self.analysis.rules or assumed or notes or self.analysis.looser or verdicts or told:
            yield from _heading("Rules and assumptions in force")
        for rule in self.analysis.rules:
            yield Line(sentence(rule), indent=2, hanging=2)
        yield from _alike(assumed, "ASSUMED")
        for item in self.analysis.looser:
            yield Line(f"LOOSER than the standard: {item['what']}, {_grant(item)}", indent=2, hanging=2)
        yield from self._remarks(told)
        yield from self._folded(notes)
        if verdicts:
            text = (
                f"* {counted(verdicts, 'verdict')} {'rests' if verdicts == 1 else 'rest'} on {counted(limits, 'limit')} "
                "not confirmed against the document itself: see cableproof limits --unconfirmed"
            )
            yield Line(text, indent=2, hanging=2)

    def _remarks(self, remarks: Sequence[Remark]) -> Iterator[Line]:
        shown = remarks if self.all_links else remarks[:REMARKS_SHOWN]
        for remark in shown:
            yield Line(f"{counted(remark.how_many, 'reading')}: {without_stop(remark.text)}", indent=2, hanging=4)
        if len(remarks) > len(shown):
            yield Line(f"{counted(len(remarks) - len(shown), 'more remark')} on readings (--all prints each)", indent=2)

    def end(self) -> Iterator[Line]:
        yield Line()
        text = f"{exit_sentence(self.analysis.exit_code, self.analysis.exit_reason)} Next: {self._next()}."
        yield Line(text, style="strong", unbroken=True)

    def _next(self) -> str:
        """The one action that brings most: the worst failure, else the commonest gap, else what stands out."""
        worst = self.view.worst()
        if worst is not None:
            return f"at {worst.label}, {without_stop(self._mend(worst))}"
        causes = self.view.causes(self.view.having("incomplete"))
        if causes:
            return f"{without_stop(causes[0].mend or SETTLE)} ({_ranges(causes[0].labels)})"
        for finding in self.analysis.findings:
            if finding.severity != "note" and finding.next_step:
                return without_stop(finding.next_step)
        return "nothing to mend; cableproof report PATH -o page.html makes the page to look into"

    def _link(self, word: str, style: str, line: LinkLine, widths: tuple[int, int], *, detail: bool) -> Iterator[Line]:
        head = f"{padded(line.label, widths[0])}  {padded(line.type, widths[1])}"
        mark = "*" if line.unconfirmed else ""
        numbers = ", ".join(
            text for text in (line.reading, line.allowed + mark if line.allowed else "", line.margin) if text
        )
        yield Line(f"{head}  {numbers}".rstrip(), word, style, indent=2, hanging=4)
        if not detail:
            return
        if line.where:
            yield Line(line.where, indent=6, hanging=2)
        if line.uncertain:
            sure = f"; with {line.conforms} probability it keeps the limit" if line.conforms else ""
            beyond = line.margin.startswith(f"margin {MINUS}")
            side, so = (
                ("Beyond", "it fails all the same") if beyond else ("Within", "the rules in force do not accept that")
            )
            text = f"{side} the limit by less than the uncertainty of the measurement, ±{line.accuracy}{sure}: {so}."
            yield Line(text, indent=6, hanging=2)
        if line.also:
            yield Line(f"Also fails: {line.also}", indent=6, hanging=2)
        if line.proved:
            yield Line(f"Best grade proved: {line.proved}", indent=6, hanging=2)
        if line.why:
            yield Line(f"Why: {without_stop(line.why)}.", indent=6, hanging=2)
        if line.label in self.likely:
            yield Line(f"Likely: {without_stop(self.likely[line.label].text)}.", indent=6, hanging=2)
        yield Line(f"To do: {without_stop(self._mend(line))}.", indent=6, hanging=2)

    def _mend(self, line: LinkLine) -> str:
        """The next step: what an error of the papers asks for, else what tests the likely cause, else the usual one."""
        if line.label in self.likely and not self.view.has_error(line.label):
            return self.likely[line.label].next_step
        return line.mend

    def _least(self, line: LinkLine, labels: Sequence[str]) -> str:
        if not line.margin:
            return counted(len(labels), "link")
        reading = line.reading
        allowed = line.allowed + ("*" if line.unconfirmed else "") if line.allowed else ""
        if len(labels) == 1:
            return ", ".join(part for part in (reading, allowed, line.margin) if part)
        least = f"{counted(len(labels), 'link')}, least {line.margin}: {line.label}, {reading}"
        return f"{least}, {allowed}" if allowed else least

    def _rest(self, word: str, labels: Sequence[str]) -> Iterator[Line]:
        if labels:
            text = f"{counted(len(labels), 'more link')}: {', '.join(ranges(labels))} (--all prints each)"
            yield Line(text, word, word.lower(), indent=2, hanging=4)

    def _account(self, what: str) -> Line:
        files = self.analysis.files
        read, used, aside = (
            int(files[f"{what}_{which}"].clip(lower=0).sum()) for which in ("read", "used", "set_aside")
        )
        wrong = "" if read == used + aside else " - THIS DOES NOT ADD UP: a fault of cableproof, please report it"
        name = "Rows" if what == "rows" else "Cells"
        return Line(f"{name}: {read:,} read = {used:,} used + {aside:,} set aside{wrong}", indent=2, hanging=2)

    def _folded(self, findings: Sequence[Finding]) -> Iterator[Line]:
        """Findings, those of one code beyond the first few folded to one line with a count."""
        by_code: dict[str, list[Finding]] = {}
        for finding in findings:
            by_code.setdefault(finding.code, []).append(finding)
        for code, found in by_code.items():
            above = sum(finding.code == code for finding in self.first)
            shown = found if self.all_links else found[: max(FINDINGS_SHOWN - above, 0)]
            yield from _alike(shown, found[0].severity.upper())
            rest = found[len(shown) :]
            if rest:
                labels = sorted({label for finding in rest for label in finding.links})
                about = f": {_ranges(labels)}" if labels else ""
                yield Line(f"{len(rest)} more like it ({code}){about}", indent=6, hanging=2)


def _alike(findings: Sequence[Finding], word: str) -> Iterator[Line]:
    """Findings of one kind; a next step that is the same for those in a row is told once, after the last."""
    for place, finding in enumerate(findings):
        message = finding.message
        if finding.links and not any(label in message for label in finding.links):
            message = f"{_ranges(finding.links)}: {message}"
        yield Line(sentence(message, capital=False), word, "strong", indent=2, hanging=4)
        following = findings[place + 1].next_step if place + 1 < len(findings) else None
        if finding.next_step and finding.next_step != following:
            yield Line(f"To do: {without_stop(finding.next_step)}.", indent=6, hanging=2)


def _by_label(finding: Finding) -> tuple[object, ...]:
    return natural_key(finding.links[0] if finding.links else finding.message)


def _widths(lines: Sequence[LinkLine]) -> tuple[int, int]:
    """Widths of the columns of labels and types."""
    return _label_width([line.label for line in lines]), max(columns(line.type) for line in lines)


def _label_width(labels: Sequence[str]) -> int:
    """Width of the column of labels: the widest that is not too wide for a column."""
    return max((width for width in map(columns, labels) if width <= LABEL_WIDTH), default=0)


def _heading(text: str) -> Iterator[Line]:
    yield Line()
    yield Line(text, style="strong")


def _ranges(labels: Sequence[str]) -> str:
    parts = ranges(labels)
    more = len(parts) - RANGES_SHOWN
    return ", ".join(parts) if more <= 1 else f"{', '.join(parts[:RANGES_SHOWN])} and {more} more"


def _grant(item: dict[str, object]) -> str:
    if not item.get("granted_by"):
        return "granted by nobody named"
    parts = [str(item[key]) for key in ("granted_by", "date", "reference") if item.get(key)]
    return "granted by " + ", ".join(parts)
