"""Links from records: the verdict of every link, from the tests that are in force.

In: the records, facts, readings and judgements of all files together, in the order of the files.
Out: which link each record belongs to, which readings are in force, one row per link, and seeds of findings.
Which tests are in force stands in `retests`, what a link lacks in `required`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.beside_curves import beside_curves
from analyzer.budget.facts import LENGTH_DIFFERENCE_FLOOR_M, join_seeds
from analyzer.budget.glass import KIND_OF
from analyzer.budget.judge import ZERO_MARGIN
from analyzer.budget.required import DECLARED_FAIL, missing_of, some
from analyzer.budget.retests import SEVERITY, attempts_of, tests_in_force, tests_of
from analyzer.budget.wording import link_sentences
from analyzer.job import Job


@dataclass(frozen=True)
class Linked:
    """`link_of_record` (n records), `in_force` and `counts` (n readings), schema `links`, seeds (code, record, text)."""

    link_of_record: np.ndarray
    in_force: np.ndarray
    counts: np.ndarray
    links: pd.DataFrame
    seeds: pd.DataFrame


def link_up(
    records: pd.DataFrame, facts: pd.DataFrame, readings: pd.DataFrame, judged: pd.DataFrame, job: Job
) -> Linked:
    """Form the links.

    Args:
        records: schema `records`, with `key` already the scheduled one where a record stands in the schedule, and
            `schedule_row` (-1: none); where it is there, `own_places` (both places as the file says them).
        facts: schema `facts`, same order as records; `record` is the position.
        readings: schema `readings`; `record` is the position of the record.
        judged: schema `judged`, same order as readings.
        job: required tests and rules.
    """
    link = _link_of(records)
    count = int(link.max()) + 1 if len(link) else 0
    tests = tests_of(records, facts, readings, judged, link)
    beside = beside_curves(tests, readings, judged)
    tests["apart"] = beside.mask.astype(np.int64)
    tests["counts"] &= ~beside.mask
    force = tests_in_force(tests)
    unlike = _unlike_under_one_label(records, facts, link, count, job)
    # records that cannot be one link: nothing is superseded, the worse decides
    in_force = force.in_force | unlike[tests["link"].to_numpy()]
    links = _Maker(records, facts, readings, judged, link, count, job).links(tests, in_force)
    links["attempts"] = attempts_of(force, tests["link"].to_numpy(), count)
    seeds = [
        _seed("label-collision", records, tests.loc[force.collided, "record"].unique(),
              "the same label and time, other values: both are kept, the worse decides"),
        _seed("label-collision", records, np.flatnonzero(unlike[link]),
              "the same label with another length, type or room: both are kept, the worse decides"),
        _seed("retest-undated", records, tests.loc[force.undated, "record"].unique(),
              "tested more than once without a usable time: the worst decides"),
        _seed("identical-rows", records, tests.loc[force.identical, "record"].unique(),
              "the same test with the same values stands there more than once: it is used once"),
        _seed("worst-point-differs", records, beside.differs["record"].to_numpy(dtype=np.int64), beside.differs["text"].to_numpy()),
    ]  # fmt: skip
    return Linked(
        link,
        in_force,
        tests["counts"].to_numpy(),
        schema.conform("links", links),
        join_seeds([seed for seed in seeds if len(seed)]),
    )


def _link_of(records: pd.DataFrame) -> np.ndarray:
    """Number of the link of each record, by identity; a record without one is a link of its own."""
    key = records["key"].astype("object")
    nameless = key.isna()
    return pd.factorize(key.where(~nameless, pd.Series(np.arange(len(key)), index=key.index).astype("object")))[0]


def _unlike_under_one_label(
    records: pd.DataFrame, facts: pd.DataFrame, link: np.ndarray, count: int, job: Job
) -> np.ndarray:
    """For every link: its records tell of different lengths, fiber types, glass or rooms, so they cannot be one link."""
    grouped = records["length_m"].groupby(link)
    low, high = grouped.min().to_numpy(), grouped.max().to_numpy()
    tolerance = np.maximum(job.rules.length_difference_percent / 100 * high, LENGTH_DIFFERENCE_FLOOR_M)
    unlike: np.ndarray = (high - low) > tolerance
    said = [records["type"], facts["glass"].astype("object").map(KIND_OF)]
    said += [records["own_places"]] if "own_places" in records else []
    for column in said:
        pairs = pd.DataFrame({"link": link, "said": column.astype("object").to_numpy()}).dropna().drop_duplicates()
        unlike |= np.bincount(pairs["link"].to_numpy(), minlength=count) > 1
    return unlike


@dataclass(frozen=True)
class _Maker:
    """Makes the table of links; holds what does not depend on which tests are in force."""

    records: pd.DataFrame
    facts: pd.DataFrame
    readings: pd.DataFrame
    judged: pd.DataFrame
    link: np.ndarray
    count: int
    job: Job

    def links(self, tests: pd.DataFrame, in_force: np.ndarray) -> pd.DataFrame:
        rules = self.job.rules
        live = tests[in_force]
        by_mean = pd.Series(data=False, index=live.index)
        if rules.judge_mean:
            live, by_mean = decided_by_mean(live)
        frame = self._told(live)
        counting = live[live["counts"]]
        frame["missing"] = missing_of(self.records, self.facts, self.link, live, frame["medium"], self.job)
        near = counting["severity"] == SEVERITY["marginal pass"]
        marginal = some(counting.loc[near, "link"], self.count) & (rules.marginal != "accept")
        frame = frame.join(_worst(counting, self.count))
        by_reading = (frame["severity"] >= SEVERITY["marginal fail"]).to_numpy()
        anyway = ~by_reading & (not rules.judge_mean) & self._fails_anyway(tests, in_force)
        # no single reading decided, so none is shown
        frame.loc[anyway, ["decided_by", "margin_db"]] = [-1, np.nan]
        by_rule = marginal & (rules.marginal == "fail") & ~by_reading & ~anyway
        frame["fails_marginally"] = by_rule
        fails = by_reading | anyway | by_rule
        unexplained = self._declared_fail(tests, in_force) & ~fails
        missing = frame["missing"] + np.where(unexplained, "; " + DECLARED_FAIL, "")
        frame["missing"] = missing.str.removeprefix("; ")
        incomplete = (frame["missing"] != "").to_numpy()
        frame["verdict"] = np.select([fails, incomplete, marginal], ["fail", "incomplete", "marginal"], "pass")
        frame["by_mean"] = by_mean.reindex(frame["decided_by"], fill_value=False).to_numpy()
        frame["sentence"] = link_sentences(frame, self.readings, self.judged)
        return frame

    def _told(self, live: pd.DataFrame) -> pd.DataFrame:
        """What the records say of each link, the first that says it; lengths of records in force come first."""
        records, facts, link = self.records, self.facts, self.link
        first = np.unique(link, return_index=True)[1]
        frame = records.loc[first, ["label", "key"]].reset_index(drop=True)
        if "scheduled_label" in records:
            frame["label"] = records.loc[first, "scheduled_label"].reset_index(drop=True).fillna(frame["label"])
        frame["link"] = np.arange(self.count)
        frame["first_record"] = first
        frame["scheduled"] = some(link[(records["schedule_row"] >= 0).to_numpy()], self.count)
        for name in ("cable", "strand", "place_a", "place_b", "area"):
            frame[name] = self._first_known(records[name])
        frame["medium"] = self._first_known(facts["medium"])
        frame["type"] = self._first_known(facts["type"].astype("object").fillna(facts["grade"].astype("object")))
        frame["configuration"] = self._first_known(facts["configuration"])
        in_use = np.isin(np.arange(len(records)), live["record"].to_numpy())
        for name, source in (("length_m", "length_m"), ("length_from", "length_m_from")):
            said = facts[source].where(facts["length_m"].notna())
            here = pd.Series(self._first_known(said.where(in_use)), dtype="object")
            frame[name] = here.where(here.notna(), self._first_known(said))
        return frame

    def _first_known(self, values: pd.Series) -> np.ndarray:
        """First value of each link that is not missing."""
        known = np.flatnonzero(values.notna().to_numpy())
        link, first = np.unique(self.link[known], return_index=True)
        out = np.full(self.count, None, dtype=object)
        out[link] = values.astype("object").to_numpy()[known[first]]
        return out

    def _fails_anyway(self, tests: pd.DataFrame, in_force: np.ndarray) -> np.ndarray:
        """Links of which some reading fails in every world though no single one does, all its readings in force."""
        superseded = some(tests.loc[~in_force, "record"], len(self.records))
        fails = self.facts["fails_in_every_world"].to_numpy() & ~superseded
        return some(self.link[fails], self.count)

    def _declared_fail(self, tests: pd.DataFrame, in_force: np.ndarray) -> np.ndarray:
        """Links that the export calls failed by a test in force, and no superseded reading of that test explains it."""
        failed = ("fail", "marginal fail")
        record = tests["record"].to_numpy()
        by_reading = self.readings["declared_verdict"].isin(failed).to_numpy()
        ours = (tests["severity"] >= SEVERITY["marginal fail"]).to_numpy()
        explained = some(record[~in_force & (by_reading | ours)], len(self.records))
        superseded = some(record, len(self.records)) & ~some(record[in_force], len(self.records))
        by_record = self.records["declared_verdict"].isin(failed).to_numpy() & ~superseded & ~explained
        return some(np.r_[self.link[by_record], self.link[record[by_reading & in_force]]], self.count)


def decided_by_mean(live: pd.DataFrame) -> tuple[pd.DataFrame, pd.Series]:
    """Where both directions have a value, the mean of both decides in place of each; the mean of one is none.

    Only where the job says so. The limit is that of the reading, so the margin of the mean is the mean of the margins.
    """
    keys = ["link", "judged_wavelength_nm"]
    has_value = (live["bound"] < 0) & live["margin"].notna() & (live["direction"] >= 0) & live["counts"]
    pairs = live[has_value].groupby(keys)
    both = (pairs["direction"].transform("nunique") == 2) & (pairs["direction"].transform("size") == 2)
    both = both.reindex(live.index, fill_value=False)
    margin = pairs["margin"].transform("mean").reindex(live.index)
    accuracy = live["accuracy"].fillna(0.0)
    near = (margin.abs() <= accuracy + ZERO_MARGIN) & (accuracy > 0)
    passes = margin >= -ZERO_MARGIN
    severity = np.select(
        [passes & near, passes, near],
        [SEVERITY["marginal pass"], SEVERITY["pass"], SEVERITY["marginal fail"]],
        SEVERITY["fail"],
    )
    return live.assign(margin=live["margin"].mask(both, margin), severity=live["severity"].mask(both, severity)), both


_OTHER_UNITS = [schema.CATEGORIES["parameter"].index(name) for name in schema.UNIT_OF_PARAMETER]


def _worst(counting: pd.DataFrame, count: int) -> pd.DataFrame:
    """Per link: the worst severity among readings that decide, the least margin, the reading that decided.

    Margins in decibels are compared with each other; a reading in another unit decides only where no decibel does.
    """
    out = pd.DataFrame(
        {"severity": np.zeros(count, dtype=np.int64), "margin_db": np.nan, "decided_by": np.full(count, -1)}
    )
    told = counting[counting["severity"] != SEVERITY["not judged"]]
    # a fail is decided by its worst reading, beyond all range first; everything else by its least margin
    badness = -told["severity"].where(told["severity"] >= SEVERITY["marginal fail"], 0).to_numpy()
    margin = told["margin"].fillna(-np.inf).to_numpy()
    in_db = ~np.isin(told["parameter"].to_numpy(), _OTHER_UNITS)
    ranked = np.lexsort((told["order"].to_numpy(), margin, ~in_db, badness, told["link"].to_numpy()))
    decisive = told.iloc[ranked].drop_duplicates("link")
    at = decisive["link"].to_numpy()
    out.loc[at, "severity"] = decisive["severity"].to_numpy()
    out.loc[at, "decided_by"] = decisive["order"].to_numpy()
    # a link that is decided by a reading beyond all range, or in another unit, has no margin in dB to tell
    other = np.isin(decisive["parameter"].to_numpy(), _OTHER_UNITS)
    out.loc[at, "margin_db"] = np.where(other, np.nan, decisive["margin"].to_numpy())
    return out


def _seed(code: str, records: pd.DataFrame, at: np.ndarray, text: str | np.ndarray) -> pd.DataFrame:
    return pd.DataFrame({"code": code, "record": records["record"].to_numpy()[at], "text": text})
