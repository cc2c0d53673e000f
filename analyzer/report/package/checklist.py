"""The owner's demands on the package, each answered: met, not met, not applicable, and why.

Only what the owner asked under [closeout] of the job is looked at: owners contradict each other. A file among the
attachments ticks a demand as present; what it says is not checked, and the answer says so.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import numpy as np
import pandas as pd

from analyzer.insights.dates import days_since_calibration
from analyzer.insights.joined import Joined
from analyzer.insights.samples import alien_sample_short
from analyzer.job.closing import ClosingRule, closing_rules
from analyzer.report.package.tables import superseded_failures
from analyzer.report.wording import counted
from analyzer.schema import Analysis

MET: Final = "met"
NOT_MET: Final = "not met"
NOT_APPLICABLE: Final = "not applicable"
_SHOWN: Final = 5


class Answer(NamedTuple):
    """One demand and what the package says to it."""

    rule: str
    meaning: str
    says: str
    document: str
    status: str
    why: str
    granted: str
    """Who granted that it is not met; empty where nobody did."""

    @property
    def is_open(self) -> bool:
        """Not met, and nobody granted that."""
        return self.status == NOT_MET and not self.granted


@dataclass(frozen=True)
class Delivery:
    """What the answers rest on besides the judged tables."""

    analysis: Analysis
    attachments: pd.DataFrame
    made: dt.datetime
    page_per_link: bool


def checklist(delivery: Delivery) -> list[Answer]:
    """The answers, in the order of the rules."""
    job = delivery.analysis.job
    asked = job.closeout if job is not None else {}
    out = []
    for name, rule in closing_rules().items():
        if name not in asked:
            continue
        ask = asked[name]
        status, why = _answer(rule, ask, delivery)
        grant = job.grant_for(f"closeout.{name}") if status == NOT_MET else None
        granted = f"{grant.by}, {grant.date}, {grant.reference}" if grant else ""
        out.append(Answer(name, rule.meaning, ask.says, ask.document or "", status, why, granted))
    return out


def _answer(rule: ClosingRule, ask: Any, delivery: Delivery) -> tuple[str, str]:
    if rule.looks_at == "attachment":
        count = int((delivery.attachments["kind"] == rule.rule).sum())
        if not count:
            return NOT_MET, f"no file lies in attachments/{rule.rule}/"
        return MET, f"present: {counted(count, 'file')} in attachments/{rule.rule}/; what they say is not checked"
    if rule.looks_at == "person":
        return NOT_MET, "only a person can say; state it under [[grants]] of job.toml once it is done"
    return _CHECKS[rule.rule](delivery, ask)


def _links_where(
    delivery: Delivery, bad: np.ndarray | pd.Series, what: str, count: int | None = None
) -> tuple[str, str]:
    """Met where no link is bad; else how many of how many, and the first few by name."""
    labels = delivery.analysis.links["label"]
    at = np.asarray(bad, dtype=bool)
    if not len(labels) or count == 0:
        return NOT_APPLICABLE, "no such link stands in the evidence"
    if not at.any():
        return MET, f"holds for {counted(count if count is not None else len(labels), 'link')}"
    named = labels[at].tolist()
    return NOT_MET, f"{what}: {counted(len(named), 'link')} ({_named(named)})"


def _named(names: list[str]) -> str:
    rest = len(names) - _SHOWN
    return ", ".join(str(name) for name in names[:_SHOWN]) + (f" and {rest} more" if rest > 0 else "")


def _some_record(
    delivery: Delivery, holds: pd.Series | np.ndarray, medium: str | None = None
) -> tuple[np.ndarray, int]:
    """Links (of a medium) of which no record holds what is asked, and how many there are."""
    links = delivery.analysis.links
    known = np.zeros(len(links), dtype=bool)
    known[delivery.analysis.records.loc[np.asarray(holds, dtype=bool), "link"].to_numpy()] = True
    mine = np.ones(len(links), dtype=bool) if medium is None else (links["medium"] == medium).to_numpy()
    return mine & ~known, int(mine.sum())


def _every_link_tested(delivery: Delivery, _ask: Any) -> tuple[str, str]:
    analysis = delivery.analysis
    if analysis.schedule.empty:
        return NOT_MET, "there is no schedule to compare with; give one"
    untested = {"missing-link", "sample-too-small", "sample-tested"}
    missing = [found for found in analysis.findings if found.code in untested]
    if not missing:
        return MET, f"{counted(len(analysis.schedule), 'scheduled link')}, each with a result"
    names = [label for found in missing for label in found.links]
    return NOT_MET, f"without a result: {counted(len(names), 'link')} ({_named(names)})"


def _all_links_pass(delivery: Delivery, _ask: Any) -> tuple[str, str]:
    bad = delivery.analysis.links["verdict"].isin(["fail", "incomplete"])
    return _links_where(delivery, bad, "fail or incomplete")


def _fiber_readings(delivery: Delivery) -> tuple[pd.DataFrame, np.ndarray]:
    """Losses in force with the link of each, and which links are fiber."""
    analysis = delivery.analysis
    by_record = analysis.records.set_index("record")["link"]
    loss = (analysis.readings["parameter"] == "loss").to_numpy() & analysis.judged["in_force"].to_numpy()
    frame = pd.DataFrame(
        {
            "link": by_record.reindex(analysis.readings["record"].to_numpy()).to_numpy()[loss],
            "nm": analysis.judged["judged_wavelength_nm"].to_numpy()[loss],
            "direction": analysis.readings["direction"].cat.codes.to_numpy()[loss],
        }
    )
    return frame, (analysis.links["medium"] != "twisted pair").to_numpy()


def _both_directions(delivery: Delivery, _ask: Any) -> tuple[str, str]:
    loss, fiber = _fiber_readings(delivery)
    known = loss[loss["direction"] >= 0].drop_duplicates()
    per_wave = known.groupby(["link", "nm"]).size()
    waves = loss.drop_duplicates(["link", "nm"]).set_index(["link", "nm"]).index
    short = per_wave.reindex(waves, fill_value=0) < 2
    bad = fiber & ~np.isin(np.arange(len(fiber)), loss["link"].to_numpy())
    bad[np.unique(short[short].index.get_level_values("link").to_numpy()).astype(np.int64)] = True
    return _links_where(delivery, bad & fiber, "not in both directions", int(fiber.sum()))


def _both_wavelengths(delivery: Delivery, _ask: Any) -> tuple[str, str]:
    loss, fiber = _fiber_readings(delivery)
    waves = loss.drop_duplicates(["link", "nm"]).groupby("link").size().reindex(range(len(fiber)), fill_value=0)
    return _links_where(delivery, fiber & (waves.to_numpy() < 2), "fewer than two wavelengths", int(fiber.sum()))


def _copper_parameters(delivery: Delivery, _ask: Any) -> tuple[str, str]:
    links = delivery.analysis.links
    copper = links["medium"] == "twisted pair"
    bad = copper & links["missing"].fillna("").ne("")
    return _links_where(delivery, bad, "something is missing", int(copper.sum()))


_AT_BOTH_ENDS: Final = ("NEXT", "PSNEXT", "ACR-F", "return loss")
"""What owners ask to be measured from both ends (requirement R08)."""


def _both_ends_measured(delivery: Delivery, _ask: Any) -> tuple[str, str]:
    analysis = delivery.analysis
    by_record = analysis.records.set_index("record")["link"]
    asked = analysis.readings["parameter"].isin(_AT_BOTH_ENDS) & analysis.readings["end"].notna()
    frame = pd.DataFrame(
        {
            "link": by_record.reindex(analysis.readings["record"].to_numpy()).to_numpy()[asked.to_numpy()],
            "parameter": analysis.readings["parameter"].astype("str").to_numpy()[asked.to_numpy()],
            "end": analysis.readings["end"].astype("str").to_numpy()[asked.to_numpy()],
        }
    ).drop_duplicates()
    ends = frame.groupby("link").size().reindex(range(len(analysis.links)), fill_value=0).to_numpy()
    copper = (analysis.links["medium"] == "twisted pair").to_numpy()
    return _links_where(delivery, copper & (ends < 2 * len(_AT_BOTH_ENDS)), "not from both ends", int(copper.sum()))


def _permanent_link(delivery: Delivery, _ask: Any) -> tuple[str, str]:
    links = delivery.analysis.links
    copper = links["medium"] == "twisted pair"
    bad = copper & ~links["configuration"].isin(["permanent link", "modular plug terminated link", "end-to-end link"])
    return _links_where(delivery, bad, "tested as something else", int(copper.sum()))


def _fact(column: str, value: str | None, medium: str | None, what: str) -> Callable[[Delivery, Any], tuple[str, str]]:
    """A check that some record of each link states a fact itself (and, where given, states this value)."""

    def check(delivery: Delivery, _ask: Any) -> tuple[str, str]:
        facts = delivery.analysis.facts
        stated = facts[column].notna()
        if f"{column}_from" in facts:
            stated &= ~facts[f"{column}_from"].isin(["assumed", "admissible", "missing"])
        if value is not None:
            stated &= facts[column] == value
        bad, count = _some_record(delivery, stated, medium)
        return _links_where(delivery, bad, what, count)

    return check


def _record_says(*columns: str, what: str) -> Callable[[Delivery, Any], tuple[str, str]]:
    """A check that every record states all of these columns."""

    def check(delivery: Delivery, _ask: Any) -> tuple[str, str]:
        records = delivery.analysis.records
        silent = records.loc[records[list(columns)].isna().any(axis=1), "link"].to_numpy()
        bad = np.isin(np.arange(len(delivery.analysis.links)), silent)
        return _links_where(delivery, bad, what)

    return check


def _wire_map_recorded(delivery: Delivery, _ask: Any) -> tuple[str, str]:
    analysis = delivery.analysis
    with_map = analysis.readings.loc[analysis.readings["parameter"] == "wire map", "record"]
    holds = analysis.records["record"].isin(with_map)
    bad, count = _some_record(delivery, holds, "twisted pair")
    return _links_where(delivery, bad, "no wire map", count)


def _labels_match(delivery: Delivery, _ask: Any) -> tuple[str, str]:
    if delivery.analysis.schedule.empty:
        return NOT_MET, "there is no schedule to compare with; give one"
    return _links_where(delivery, ~delivery.analysis.links["scheduled"], "not in the schedule as written")


def _calibration(delivery: Delivery, ask: Any) -> tuple[str, str]:
    records = delivery.analysis.records
    age = days_since_calibration(Joined(delivery.analysis))
    old = records.loc[~((age >= 0) & (age <= ask.days)), "link"].to_numpy()
    bad = np.isin(np.arange(len(delivery.analysis.links)), old)
    return _links_where(delivery, bad, f"no calibration date within {ask.days} days before the test")


def _both_ends_named(delivery: Delivery, _ask: Any) -> tuple[str, str]:
    records = delivery.analysis.records
    ends = records[["place_a", "place_b"]].astype("object")
    alike = ends["place_a"].astype("str").str.casefold() == ends["place_b"].astype("str").str.casefold()
    silent = records.loc[(ends.isna().any(axis=1) | alike).to_numpy(), "link"].to_numpy()
    bad = np.isin(np.arange(len(delivery.analysis.links)), silent)
    return _links_where(delivery, bad, "an end is not named, or both bear one name")


def _alien_sample(delivery: Delivery, _ask: Any) -> tuple[str, str]:
    analysis = delivery.analysis
    share = analysis.job.sampling.alien_crosstalk
    if share is None:
        return NOT_MET, "state the share of the sample: sampling.alien_crosstalk in job.toml"
    short = alien_sample_short(Joined(analysis))
    if short:
        return NOT_MET, "; ".join(found.message for found in short)
    if not (analysis.links["medium"] == "twisted pair").any():
        return NOT_APPLICABLE, "no such link stands in the evidence"
    return MET, f"measured on {100 * share:g} % of the links of each grade that has limits for it"


def _notice_given(delivery: Delivery, ask: Any) -> tuple[str, str]:
    first = delivery.analysis.records["tested_at"].min()
    if pd.isna(first):
        return NOT_MET, "no test bears a date"
    days = (first.date() - ask.date).days
    told = f"told on {ask.date}, first test on {first.date()}: {days} days, {ask.days} are asked"
    return (MET if days >= ask.days else NOT_MET), told


def _plan_approved(delivery: Delivery, ask: Any) -> tuple[str, str]:
    first = delivery.analysis.records["tested_at"].min()
    if pd.isna(first):
        return NOT_MET, "no test bears a date"
    told = f"approved on {ask.date}, first test on {first.date()}"
    return (MET if ask.date <= first.date() else NOT_MET), told


def _no_plain_text(delivery: Delivery, _ask: Any) -> tuple[str, str]:
    files = delivery.analysis.files
    plain = files.loc[files["name"].str.lower().str.endswith(".txt") & (files["status"] == "read"), "name"].tolist()
    if plain:
        return NOT_MET, f"plain text among the evidence: {counted(len(plain), 'file')} ({_named(plain)})"
    return MET, f"none of {counted(len(files), 'file')} is plain text"


def _verdicts_agree(delivery: Delivery, _ask: Any) -> tuple[str, str]:
    names = {label for found in delivery.analysis.findings if found.code == "declared-differs" for label in found.links}
    return _links_where(delivery, delivery.analysis.links["label"].isin(names), "the export's verdict differs")


def _marginal(delivery: Delivery, ask: Any) -> tuple[str, str]:
    rule = delivery.analysis.job.rules.marginal
    count = delivery.analysis.totals["marginal"]
    if rule != ask.fate:
        return (
            NOT_MET,
            f'the job treats marginal passes otherwise: rules.marginal = "{rule}"; the owner asks "{ask.fate}"',
        )
    return MET, f'rules.marginal = "{rule}"; {counted(count, "link passes", "links pass")} marginally'


def _failed_records(delivery: Delivery, ask: Any) -> tuple[str, str]:
    count = int(superseded_failures(delivery.analysis).sum())
    said = counted(count, "failed reading that a later test replaced", "failed readings that later tests replaced")
    how = {
        "keep": f"{said}, kept among the readings and marked as not in force",
        "keep apart": f"{said}, in the table readings_replaced of their own",
        "leave out": f"{said}, left out of tables and report; the evidence itself is never altered",
    }
    return MET, how[ask.fate]


def _deadline(delivery: Delivery, ask: Any) -> tuple[str, str]:
    last = ask.date + dt.timedelta(days=ask.days)
    today = delivery.made.date()
    told = f"{ask.days} days from {ask.date} end on {last}; this package was made on {today}"
    return (MET if today <= last else NOT_MET), told


def _workbook(_delivery: Delivery, _ask: Any) -> tuple[str, str]:
    return MET, "results.xlsx lies in the payload"


def _page_per_link(delivery: Delivery, _ask: Any) -> tuple[str, str]:
    if delivery.page_per_link:
        return MET, "report.pdf has one page for each link"
    return NOT_MET, "report.pdf is compact; run closeout with --pdf page"


_CHECKS: Final[dict[str, Callable[[Delivery, Any], tuple[str, str]]]] = {
    "every_link_tested": _every_link_tested,
    "all_links_pass": _all_links_pass,
    "both_directions": _both_directions,
    "both_wavelengths": _both_wavelengths,
    "copper_parameters": _copper_parameters,
    "both_ends_measured": _both_ends_measured,
    "permanent_link": _permanent_link,
    "one_cord_reference": _fact("reference", "one-cord", "fiber", "not stated to be measured with one cord"),
    "reference_stated": _fact("reference", None, "fiber", "no reference method stated"),
    "length_recorded": _fact("length_m", None, None, "no length"),
    "wire_map_recorded": _wire_map_recorded,
    "labels_match_schedule": _labels_match,
    "time_recorded": _record_says("tested_at", what="no date and time"),
    "operator_recorded": _record_says("operator", what="no operator"),
    "tester_recorded": _record_says("tester", what="no tester"),
    "limit_named": _record_says("declared_limit", what="no limit named"),
    "both_ends_named": _both_ends_named,
    "alien_crosstalk_sample": _alien_sample,
    "notice_given": _notice_given,
    "plan_approved": _plan_approved,
    "no_plain_text": _no_plain_text,
    "calibration_current": _calibration,
    "verdicts_agree": _verdicts_agree,
    "marginal_passes": _marginal,
    "failed_records": _failed_records,
    "deadline": _deadline,
    "workbook": _workbook,
    "page_per_link": _page_per_link,
}
