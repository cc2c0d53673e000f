"""What losses tell of the reference: one that drifted, one that was set too high, one that is wrong in one direction."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.insights.chances import MAD_TO_SIGMA, at_least, threshold
from analyzer.insights.joined import Joined, chance_evidence, chance_words, counted, counted_words, group_numbers
from analyzer.insights.register import finding
from analyzer.insights.series import Spread, change_point, level_shift_chance, rest_of_line, spread_around, trend
from analyzer.schema import CATEGORIES, Finding

LEAST_SHIFT_DB = 0.1
"""Shift of the level that is told: about what one cleaning of a connector changes (common practice, no source)."""

FEWEST = 10
"""Fewest tests, or cables, in a series that is looked at."""

BORROW_FROM = 8
"""Series of a job from which a short one borrows its spread."""

WORTH = 20.0
"""Degrees of freedom that the borrowed spread is worth: about one more cable; a choice of ours, no source."""

STEADY, MOST_OF_LINE = 0.01, 1000
"""Chance of a trend that is called steady (P22 of the practice notes), and longest series that is looked at for one."""

NEAR_ZERO_DB = 0.05
"""A link with two connectors and some cable hardly loses less; a choice of ours, no source."""

USUAL_NEAR_ZERO = 0.02
"""Share of losses near zero where the job has no other session to learn from; a choice of ours, no source."""

FEWEST_OF_SESSION = 8
"""Fewest tests of a session (practice note P02)."""

_A_B, _B_A = (CATEGORIES["direction"].index(name) for name in ("A-B", "B-A"))


def drifted(job: Joined) -> list[Finding]:
    """Series of one tester and wavelength whose level changes: inside a cable strand by strand, else cable by cable."""
    losses = job.losses
    losses = losses[losses["dated"] & losses["cable"].notna()]
    if len(losses) < FEWEST:
        return []
    losses = losses.sort_values(["tested_s", "link", "reading"], kind="stable")
    # directions are averaged: a reference is set for a wavelength, and fewer looks see more
    by = ["tester", "cable", "wavelength_nm", "link"]
    strands = losses.assign(level=losses.groupby(by, dropna=False)["value"].transform("mean")).drop_duplicates(by)
    series = [rows for _, rows in strands.groupby(["tester", "cable", "wavelength_nm"], dropna=False)]
    series = [rows for rows in series if len(rows) >= FEWEST]
    told = _changes(job, series, "strands")
    cables = _levels_of_cables(losses)
    series = [rows for _, rows in cables.groupby(["tester", "wavelength_nm"], dropna=False) if len(rows) >= FEWEST]
    return _once_for_each([*told, *_changes(job, series, "cables")])


def set_too_high(job: Joined) -> list[Finding]:
    """Sessions (tester, day and cable) with many losses near or below zero: the reference was set with a loss in it."""
    losses = job.losses
    losses = losses[losses["dated"]].assign(day=losses["tested_s"] // 86_400)
    if len(losses) < FEWEST_OF_SESSION:
        return []
    session = group_numbers(losses, ["tester", "day", "cable", "wavelength_nm"])
    near = (losses["value"] <= NEAR_ZERO_DB).to_numpy()
    count, low = np.bincount(session), np.bincount(session, near)
    others, others_low = len(losses) - count, low.sum() - low
    usual = np.where(others >= 50, (others_low + 0.5) / (others + 1), USUAL_NEAR_ZERO)
    usual = np.maximum(usual, 0.5 / len(losses))
    hit = (count >= FEWEST_OF_SESSION) & (low >= count / 3)
    if not hit.any():
        return []
    hit &= at_least(low, count, usual) < threshold(len(count))
    # where every one is below zero, the error of the readings themselves says it better
    hit &= np.bincount(session, near & (losses["value"] > 0).to_numpy(), len(count)) > 0
    found = []
    told = losses.assign(session=session, usual=usual[session])[hit[session] & near]
    for _, rows in told.groupby(["tester", "day", "cable"], sort=True, dropna=False):
        sessions = rows.drop_duplicates("session")
        looked = int(count[sessions["session"]].sum())
        seen, expected = len(rows), float((count[sessions["session"]] * sessions["usual"]).sum())
        waves = " and ".join(f"{wave} nm" for wave in sorted(rows["wavelength_nm"].unique()))
        message = (
            f"{counted_words(seen, 'loss', 'losses')} at {waves}{_by(rows)} on {_day(rows)} are at most {NEAR_ZERO_DB} dB; "
            f"{chance_words(seen, expected, f'among {looked} tests of the session')}"
        )
        places = job.of_readings(rows.sort_values("value", kind="stable")["reading"].to_numpy())
        evidence = [*chance_evidence(seen, expected), *places]
        found.append(finding("reference-too-high", message, job.labels(rows["link"]), evidence=evidence))
    return found


def one_sided(job: Joined) -> list[Finding]:
    """Cables on which one direction loses more than the other by the same amount on every strand."""
    losses = job.losses[job.losses["cable"].notna()]
    keys = ["link", "wavelength_nm"]
    forth, back = (losses[losses["direction"] == way] for way in (_A_B, _B_A))
    if min(len(forth), len(back)) < FEWEST_OF_SESSION:
        return []
    both = forth.merge(back, on=keys, suffixes=("", "_b"))
    both = both.drop_duplicates(keys)
    both["apart"] = both["value"] - both["value_b"]
    told: dict[str, list[tuple[float, float, pd.DataFrame]]] = {}
    for (_, cable, _), rows in both.groupby(["tester", "cable", "wavelength_nm"], dropna=False):
        apart = rows["apart"].to_numpy()
        middle = float(np.median(apart))
        spread = MAD_TO_SIGMA * float(np.median(np.abs(apart - middle)))
        same_way = int((np.sign(apart) == np.sign(middle)).sum())
        plain = len(rows) >= FEWEST_OF_SESSION and abs(middle) >= LEAST_SHIFT_DB and spread <= abs(middle) / 3
        if plain and 2 * float(at_least(same_way, len(apart), 0.5)) < threshold(1):
            told.setdefault(str(cable), []).append((middle, spread, rows))
    return [_told_one_sided(job, cable, sides) for cable, sides in told.items()]


def _told_one_sided(job: Joined, cable: str, sides: list[tuple[float, float, pd.DataFrame]]) -> Finding:
    parts = []
    for middle, spread, rows in sides:
        more, less = ("A-B", "B-A") if middle > 0 else ("B-A", "A-B")
        wave = rows["wavelength_nm"].iloc[0]
        parts.append(f"{abs(middle):.2f} dB more {more} than {less} at {wave} nm (spread {spread:.2f} dB)")
    rows = pd.concat([rows for *_, rows in sides])
    middle = sides[0][0]
    same_way = int((np.sign(rows["apart"]) == np.sign(middle)).sum())
    message = (
        f"cable {cable} loses {' and '.join(parts)}, on nearly every strand; "
        f"{chance_words(same_way, len(rows) / 2, f'the same direction among {len(rows)} pairs of readings')}"
    )
    places = job.of_readings(rows[["reading", "reading_b"]].to_numpy().ravel())
    evidence = [counted("median difference of the directions", middle, "dB"), *places]
    return finding("reference-one-sided", message, job.labels(rows["link"]), evidence=evidence)


def _levels_of_cables(losses: pd.DataFrame) -> pd.DataFrame:
    """Median loss of each cable at a wavelength, what length and type explain taken out; in the order of testing."""
    keys = ["tester", "cable", "type", "wavelength_nm"]
    grouped = losses.groupby(keys, sort=False, dropna=False)
    cables = grouped.agg(
        value=("value", "median"), length_m=("length_m", "median"), tested_s=("tested_s", "min"),
        link=("link", "first"), reading=("reading", "first"),
    ).reset_index()  # fmt: skip
    cables["level"] = np.nan
    for _, rows in cables.dropna(subset="length_m").groupby(["type", "wavelength_nm"], dropna=False):
        if len(rows) >= FEWEST:
            cables.loc[rows.index, "level"] = rest_of_line(rows["length_m"].to_numpy(), rows["value"].to_numpy())
    return cables.dropna(subset="level").sort_values("tested_s", kind="stable")


def _changes(job: Joined, series: list[pd.DataFrame], what: str) -> list[tuple[float, Finding]]:
    changes = [change_point(rows["level"].to_numpy()) for rows in series]
    spreads = [spread_around(rows["level"].to_numpy(), one.at) for rows, one in zip(series, changes, strict=True)]
    usual = Spread(0.0, 0.0)
    if len(series) >= BORROW_FROM:
        usual = Spread(float(np.median([one.variance for one in spreads])), WORTH)
    found = []
    for rows, change in zip(series, changes, strict=True):
        if abs(change.shift) < LEAST_SHIFT_DB or change.chance > 0.05:
            continue
        chance = level_shift_chance(rows["level"].to_numpy(), change.at, usual)
        if chance >= threshold(len(series)):
            continue
        expected = chance * len(series)
        after = rows.iloc[change.at :]
        where = f"strands of {rows['cable'].iloc[0]}" if what == "strands" else "cables"
        message = (
            f"losses at {rows['wavelength_nm'].iloc[0]} nm{_by(rows)} are {abs(change.shift):.2f} dB "
            f"{'higher' if change.shift > 0 else 'lower'} from {_label(job, after)} on ({_time(after)}): after {change.at} of "
            f"{len(rows)} {where} the level changes{_how(rows['level'].to_numpy(), change.at)}; {chance_words(1, expected, f'among {len(series)} series')}"
        )
        around = rows.iloc[max(change.at - 4, 0) : change.at + 4]
        evidence = [counted("shift of the median", change.shift, "dB"), *job.of_readings(around["reading"].to_numpy())]
        found.append((chance, finding("reference-drifted", message, job.labels(after["link"]), evidence=evidence)))
    return found


def _how(level: np.ndarray, at: int) -> str:
    """Whether a line tells the change better than a step: then it is no reference that was set anew."""
    if not FEWEST <= len(level) <= MOST_OF_LINE:
        return ""
    line = trend(level)
    rest = level - line.slope * np.arange(len(level))
    steady = spread_around(rest, len(rest)).variance < spread_around(level, at).variance
    return ", step by step as with a cord that wears" if steady and line.rise_chance < STEADY else ""


def _once_for_each(told: list[tuple[float, Finding]]) -> list[Finding]:
    """The likeliest first; one that speaks of links already told is the same drift at another wavelength."""
    kept: list[Finding] = []
    seen: set[str] = set()
    for _, item in sorted(told, key=lambda pair: pair[0]):
        if not seen.intersection(item.links):
            kept.append(item)
        seen.update(item.links)
    return kept


def _label(job: Joined, rows: pd.DataFrame) -> str:
    return str(job.links["label"].to_numpy()[int(rows["link"].iloc[0])])


def _time(rows: pd.DataFrame) -> str:
    return str(np.datetime64(int(rows["tested_s"].iloc[0]), "s")).replace("T", " ")[:16]


def _day(rows: pd.DataFrame) -> str:
    return _time(rows)[:10]


def _by(rows: pd.DataFrame) -> str:
    tester = rows["tester"].iloc[0]
    return f" of tester {tester}" if isinstance(tester, str) and tester else ""
