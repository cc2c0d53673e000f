"""Links from records: which readings are in force, and the verdict of every link.

In: the records, facts, readings and judgements of all files together, in the order of the files.
Out: which link each record belongs to, which readings are in force, one row per link, and seeds of findings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.facts import LENGTH_DIFFERENCE_FLOOR_M, join_seeds
from analyzer.budget.wording import link_sentences
from analyzer.job import Job
from analyzer.schema import MULTIMODE_TYPES, SINGLE_MODE_TYPES

SEVERITY = {"pass": 0, "marginal pass": 1, "not judged": 2, "marginal fail": 3, "fail": 4}
"""How bad a verdict is; where no time tells which test is the later, the worst decides."""

MULTIMODE_GLASS = ("multimode", "50/125", "62.5/125")
SINGLE_MODE_GLASS = ("single-mode", "9/125")

LIKE = ("link", "parameter", "judged_wavelength_nm", "pair", "end", "direction", "configuration")
"""What a newer reading must share with an older one to supersede it."""


@dataclass(frozen=True)
class Linked:
    """`link_of_record` (n records), `in_force` (n readings), schema `links`, seeds (code, record, text)."""

    link_of_record: np.ndarray
    in_force: np.ndarray
    links: pd.DataFrame
    seeds: pd.DataFrame


def link_up(
    records: pd.DataFrame, facts: pd.DataFrame, readings: pd.DataFrame, judged: pd.DataFrame, job: Job
) -> Linked:
    """Form the links.

    Args:
        records: schema `records`, with `key` already the scheduled one where a record stands in the schedule, and two
            more columns: `file_order` (position of its file among those given) and `schedule_row` (-1: none).
        facts: schema `facts`, same order as records; `record` is the position.
        readings: schema `readings`; `record` is the position of the record.
        judged: schema `judged`, same order as readings.
        job: required tests and rules.
    """
    link = pd.factorize(records["key"])[0]
    tests = _tests(records, facts, readings, judged, link)
    in_force, collided, undated = _in_force(tests)
    unlike = _unlike_under_one_label(records, facts, link, job)
    # records that cannot be one link: nothing is superseded, the worse decides
    in_force |= unlike[tests["link"].to_numpy()]
    links = _links(records, facts, readings, judged, link, tests, in_force, job)
    seeds = [
        _seed("label-collision", records, tests.loc[collided, "record"].unique(),
              "the same label and time, other values: both are kept, the worse decides"),
        _seed("label-collision", records, np.flatnonzero(unlike[link] & (records["key"].notna().to_numpy())),
              "the same label with another length or type: both are kept, the worse decides"),
        _seed("retest-undated", records, tests.loc[undated, "record"].unique(),
              "tested more than once without a usable time: the worst decides"),
    ]  # fmt: skip
    return Linked(link, in_force, links, join_seeds([seed for seed in seeds if len(seed)]))


def _tests(
    records: pd.DataFrame, facts: pd.DataFrame, readings: pd.DataFrame, judged: pd.DataFrame, link: np.ndarray
) -> pd.DataFrame:
    """One row per reading: what it is like, when it was made, how bad it is."""
    at = readings["record"].to_numpy()
    configuration = facts["configuration"].cat.codes.to_numpy()[at]
    return pd.DataFrame(
        {
            "record": at,
            "link": link[at],
            "parameter": readings["parameter"].cat.codes.to_numpy(),
            "judged_wavelength_nm": judged["judged_wavelength_nm"].to_numpy(),
            "pair": readings["pair"].cat.codes.to_numpy(),
            "end": readings["end"].cat.codes.to_numpy(),
            "direction": readings["direction"].cat.codes.to_numpy(),
            "configuration": configuration,
            "tested_at": records["tested_at"].to_numpy()[at],
            "order": np.arange(len(readings)),
            "severity": judged["verdict"].astype("object").map(SEVERITY).to_numpy(dtype=np.int64),
            "margin": judged["margin"].to_numpy(),
            "accuracy": judged["accuracy"].to_numpy(),
            "value": readings["value"].to_numpy(),
            "bound": readings["bound"].cat.codes.to_numpy(),
        }
    )


def _in_force(tests: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """For every reading: in force; part of a collision; part of a retest without a usable time."""
    n = len(tests)
    in_force, collided, undated = np.ones(n, dtype=bool), np.zeros(n, dtype=bool), np.zeros(n, dtype=bool)
    repeated = tests.duplicated(list(LIKE), keep=False).to_numpy()
    if not repeated.any():
        return in_force, collided, undated
    again = tests[repeated].copy()
    groups = again.groupby(list(LIKE), sort=False)
    time = again["tested_at"]
    latest = groups["tested_at"].transform("max")
    at_latest = (time == latest).to_numpy()
    again["at_latest"] = at_latest
    by_day_only = (time.dt.normalize() == time).groupby([again[name] for name in LIKE]).transform("all")
    unusable = groups["tested_at"].transform(lambda times: times.isna().any())
    several_latest = groups["at_latest"].transform("sum") > 1
    latest_value = again["value"].where(at_latest)
    same = pd.Series(_all_same(again, latest_value), index=again.index)
    tie = several_latest & ~same & ~unusable
    day_tie = tie & by_day_only
    clash = tie & ~by_day_only
    worst = _worst_of(again, list(LIKE))
    last = again.groupby(list(LIKE), sort=False)["order"].transform("max") == again["order"]
    last_at_latest = again["order"].where(at_latest).groupby([again[name] for name in LIKE]).transform("max")
    newest = again["order"] == last_at_latest
    everything_same = pd.Series(_all_same(again, again["value"]), index=again.index)
    keep = np.select(
        [everything_same & unusable, unusable, day_tie, clash],
        [last, worst, worst & at_latest, pd.Series(at_latest, index=again.index)],
        newest,
    ).astype(bool)
    place = again["order"].to_numpy()
    in_force[place] = keep
    collided[place] = (clash & at_latest).to_numpy()
    undated[place] = ((unusable & ~everything_same) | day_tie).to_numpy()
    return in_force, collided, undated


def _all_same(again: pd.DataFrame, value: pd.Series) -> np.ndarray:
    keys = [again[name] for name in LIKE]
    marked = value.where(again["bound"] != _OVER_RANGE, np.inf)
    grouped = marked.groupby(keys)
    return (grouped.transform("max") == grouped.transform("min")).to_numpy()


_OVER_RANGE = schema.CATEGORIES["bound"].index("over range")


def _worst_of(again: pd.DataFrame, like: Sequence[str]) -> pd.Series:
    margin = again["margin"].fillna(-np.inf).where(again["severity"] != SEVERITY["not judged"], np.inf)
    ranked = again.assign(badness=-again["severity"], margin=margin).sort_values(
        ["badness", "margin", "order"], kind="stable"
    )
    return pd.Series(~ranked.duplicated(list(like)), index=ranked.index).reindex(again.index)


def _unlike_under_one_label(records: pd.DataFrame, facts: pd.DataFrame, link: np.ndarray, job: Job) -> np.ndarray:
    """For every link: its records tell of different lengths or fiber types, so they cannot be one link."""
    count = int(link.max()) + 1 if len(link) else 0
    by_file = facts["length_m"].where(facts["length_m_from"] == "file")
    grouped = by_file.groupby(link)
    low, high = grouped.min(), grouped.max()
    tolerance = np.maximum(job.rules.length_difference_percent / 100 * high, LENGTH_DIFFERENCE_FLOOR_M)
    unlike = ((high - low) > tolerance).to_numpy()
    types = records["type"].cat.codes.where(records["type"].notna())
    kinds = types.groupby(link).nunique().to_numpy() > 1
    out = np.zeros(count, dtype=bool)
    out[: len(unlike)] = unlike | kinds
    return out


def _links(
    records: pd.DataFrame,
    facts: pd.DataFrame,
    readings: pd.DataFrame,
    judged: pd.DataFrame,
    link: np.ndarray,
    tests: pd.DataFrame,
    in_force: np.ndarray,
    job: Job,
) -> pd.DataFrame:
    count = int(link.max()) + 1 if len(link) else 0
    first = np.unique(link, return_index=True)[1]
    live = tests[in_force]
    by_mean = pd.Series(data=False, index=live.index)
    if job.rules.judge_mean:
        live, by_mean = decided_by_mean(live)
    live_records = pd.Series(data=False, index=range(len(records)))
    live_records[live["record"].unique()] = True
    frame = records.loc[first, ["label", "key", "cable", "strand", "place_a", "place_b", "area", "medium"]]
    frame = frame.reset_index(drop=True)
    frame["label"] = records.loc[first, "scheduled_label"].reset_index(drop=True).fillna(frame["label"])
    frame["link"] = np.arange(count)
    frame["first_record"] = first
    frame["scheduled"] = (records["schedule_row"] >= 0).groupby(link).any().to_numpy()
    for name in ("cable", "strand", "place_a", "place_b", "area"):
        frame[name] = records[name].groupby(link).first().to_numpy()
    frame["medium"] = _first_known(facts["medium"], link)
    frame["type"] = _first_known(facts["type"].astype("object").fillna(facts["grade"].astype("object")), link)
    frame["configuration"] = _first_known(facts["configuration"], link)
    length = facts["length_m"].where(live_records.to_numpy() | facts["length_m"].notna())
    frame["length_m"] = _first_known(length, link)
    frame["length_from"] = _first_known(facts["length_m_from"].where(facts["length_m"].notna()), link)
    frame["attempts"] = _attempts(tests, count)
    counting = live[judged["counts"].to_numpy()[live["order"]]]
    frame = frame.join(_worst(counting, count))
    frame["missing"] = _missing(records, facts, link, live, frame, job)
    fails = frame["severity"] >= SEVERITY["marginal fail"]
    if not job.rules.judge_mean:
        fails |= _fails_anyway(facts, link, count, in_force, tests)
    marginal = _any(counting["severity"] == SEVERITY["marginal pass"], counting["link"], count)
    declared_fail = _declared_fail(records, readings, link, live, count)
    unexplained = declared_fail & ~fails.to_numpy()
    frame["declared_fail"] = unexplained
    frame.loc[unexplained, "missing"] = _joined(
        frame.loc[unexplained, "missing"], "declared failed, no reading explains it"
    )
    incomplete = frame["missing"] != ""
    if job.rules.marginal == "fail":
        fails |= pd.Series(marginal, index=frame.index)
    frame["verdict"] = np.select([fails, incomplete, marginal], ["fail", "incomplete", "marginal"], "pass")
    frame["by_mean"] = by_mean.reindex(frame["decided_by"], fill_value=False).to_numpy()
    frame["sentence"] = link_sentences(frame, readings, judged)
    return schema.conform("links", frame)


def decided_by_mean(live: pd.DataFrame) -> tuple[pd.DataFrame, pd.Series]:
    """Where both directions have a value, the mean of both decides in place of each; the mean of one is none.

    Only where the job says so. The limit is that of the reading, so the margin of the mean is the mean of the margins.
    """
    keys = ["link", "judged_wavelength_nm"]
    has_value = (live["bound"] < 0) & live["margin"].notna() & (live["direction"] >= 0)
    pairs = live[has_value].groupby(keys)
    both = (pairs["direction"].transform("nunique") == 2) & (pairs["direction"].transform("size") == 2)
    both = both.reindex(live.index, fill_value=False)
    margin = pairs["margin"].transform("mean").reindex(live.index)
    within = margin.abs() <= live["accuracy"].fillna(0.0)
    sure = np.where(margin >= -1e-9, SEVERITY["pass"], SEVERITY["fail"])
    near = np.where(margin >= -1e-9, SEVERITY["marginal pass"], SEVERITY["marginal fail"])
    severity = np.where(within & (live["accuracy"] > 0), near, sure)
    return live.assign(margin=live["margin"].mask(both, margin), severity=live["severity"].mask(both, severity)), both


def _first_known(values: pd.Series, link: np.ndarray) -> np.ndarray:
    return values.astype("object").groupby(link).first().to_numpy()


def _any(mask: pd.Series, link: pd.Series, count: int) -> np.ndarray:
    out = np.zeros(count, dtype=bool)
    out[link.to_numpy()[mask.to_numpy()]] = True
    return out


def _attempts(tests: pd.DataFrame, count: int) -> np.ndarray:
    out = np.ones(count, dtype=np.int64)
    if len(tests):
        sizes = tests.groupby(list(LIKE)).size().groupby(level=0).max()
        out[sizes.index.to_numpy()] = sizes.to_numpy()
    return out


def _worst(counting: pd.DataFrame, count: int) -> pd.DataFrame:
    """Per link: the worst severity among readings that decide, the least margin, the reading that decided."""
    out = pd.DataFrame(
        {"severity": np.zeros(count, dtype=np.int64), "margin_db": np.nan, "decided_by": np.full(count, -1)}
    )
    told = counting[counting["severity"] != SEVERITY["not judged"]]
    if told.empty:
        return out
    out.loc[told["link"].unique(), "margin_db"] = told.groupby("link")["margin"].min()
    severity = told.groupby("link")["severity"].max()
    out.loc[severity.index, "severity"] = severity
    # over range has no margin and is the worst there is
    ranked = told.assign(bad=-told["severity"], near=told["margin"].fillna(-np.inf)).sort_values(
        ["link", "bad", "near", "order"], kind="stable"
    )
    fails = ranked["severity"] >= SEVERITY["marginal fail"]
    decisive = pd.concat([ranked[fails], ranked[~fails].sort_values(["link", "near", "order"], kind="stable")])
    decisive = decisive.drop_duplicates("link")
    at = decisive["link"].to_numpy()
    out.loc[at, "decided_by"] = decisive["order"].to_numpy()
    # a link that is decided by a reading beyond all range has no margin to tell
    out.loc[at[decisive["margin"].isna().to_numpy()], "margin_db"] = np.nan
    return out


def _fails_anyway(
    facts: pd.DataFrame, link: np.ndarray, count: int, in_force: np.ndarray, tests: pd.DataFrame
) -> np.ndarray:
    """Links of which some reading fails in every world though no single one does, all its readings in force."""
    all_live = pd.Series(in_force).groupby(tests["record"].to_numpy()).all()
    live = np.zeros(len(facts), dtype=bool)
    live[all_live.index.to_numpy()] = all_live.to_numpy()
    out = np.zeros(count, dtype=bool)
    out[link[facts["fails_in_every_world"].to_numpy() & live]] = True
    return out


def _declared_fail(
    records: pd.DataFrame, readings: pd.DataFrame, link: np.ndarray, live: pd.DataFrame, count: int
) -> np.ndarray:
    failed = ("fail", "marginal fail")
    out = np.zeros(count, dtype=bool)
    record_fails = records["declared_verdict"].isin(failed).to_numpy()
    reading_fails = readings["declared_verdict"].isin(failed).to_numpy()
    at = live["record"].to_numpy()
    out[live["link"].to_numpy()[record_fails[at] | reading_fails[live["order"].to_numpy()]]] = True
    silent = ~np.isin(np.arange(len(records)), readings["record"].to_numpy())
    out[link[record_fails & silent]] = True
    return out


def _missing(
    records: pd.DataFrame,
    facts: pd.DataFrame,
    link: np.ndarray,
    live: pd.DataFrame,
    frame: pd.DataFrame,
    job: Job,
) -> pd.Series:
    """What is missing of the required set, as text per link ("" where nothing is)."""
    count = len(frame)
    text = pd.Series([""] * count, dtype="object")
    codes = schema.CATEGORIES["parameter"]
    loss = live[live["parameter"] == codes.index("loss")]
    fiber = (frame["medium"] != "twisted pair").to_numpy()
    multimode, single_mode = _glass(facts, link, frame)
    horizontal = (facts["segment"] == "horizontal").groupby(link).any().to_numpy()
    told = loss[loss["severity"] != SEVERITY["not judged"]]
    any_told = np.zeros(count, dtype=bool)
    any_told[told["link"].unique()] = True
    any_read = np.zeros(count, dtype=bool)
    any_read[loss["link"].unique()] = True
    for glass, key in ((multimode, "multimode"), (single_mode, "single_mode")):
        # one wavelength is enough for a horizontal link, unless the owner stated a list
        spared = horizontal & any_told & (not job.says(f"required.{key}"))
        for wave in getattr(job.required, key):
            needed = fiber & glass & ~spared
            text = _require(text, needed, loss, told, wave, job.required.directions)
    neither = fiber & ~multimode & ~single_mode
    text = text.mask(neither & ~any_read, _joined(text, "loss"))
    text = text.mask(neither & any_read & ~any_told, _joined(text, "loss could not be judged"))
    has_length = (facts["length_m"].notna() | records["length_unstated"].notna()).groupby(link).any().to_numpy()
    if job.required.length:
        text = text.mask(fiber & ~has_length, _joined(text, "length"))
    copper = ~fiber
    judged_any = np.zeros(count, dtype=bool)
    judged_any[live.loc[live["severity"] != SEVERITY["not judged"], "link"].unique()] = True
    return text.mask(copper & ~judged_any, _joined(text, "nothing could be judged"))


def _glass(facts: pd.DataFrame, link: np.ndarray, frame: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    types = pd.Series(frame["type"])
    glass = pd.Series(_first_known(facts["glass"], link))
    multimode = types.isin(MULTIMODE_TYPES) | (types.isna() & glass.isin(MULTIMODE_GLASS))
    single_mode = types.isin(SINGLE_MODE_TYPES) | (types.isna() & glass.isin(SINGLE_MODE_GLASS))
    return multimode.to_numpy(), single_mode.to_numpy()


def _require(
    text: pd.Series, needed: np.ndarray, loss: pd.DataFrame, told: pd.DataFrame, wave: int, directions: int
) -> pd.Series:
    count = len(text)

    def how_many(rows: pd.DataFrame) -> np.ndarray:
        at_wave = rows[rows["judged_wavelength_nm"] == wave]
        out = np.zeros(count, dtype=np.int64)
        sizes = at_wave.groupby("link")["direction"].nunique()
        out[sizes.index.to_numpy()] = sizes.to_numpy()
        return out

    read, judged = how_many(loss), how_many(told)
    text = text.mask(needed & (read == 0), _joined(text, f"{wave} nm"))
    text = text.mask(needed & (read > 0) & (judged == 0), _joined(text, f"{wave} nm could not be judged"))
    if directions > 1:
        text = text.mask(
            needed & (judged > 0) & (judged < directions), _joined(text, f"{wave} nm in the other direction")
        )
    return text


def _joined(text: pd.Series, what: str) -> pd.Series:
    return (text + "; " + what).str.removeprefix("; ")


def _seed(code: str, records: pd.DataFrame, at: np.ndarray, text: str) -> pd.DataFrame:
    return pd.DataFrame({"code": code, "record": records["record"].to_numpy()[at], "text": text})
