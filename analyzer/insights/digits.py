"""What the digits tell: too round for their decimals, steps that are all alike, decimals that change, no numbers.

First digits are not looked at: losses and margins span less than one decade, and Benford's law does not hold for them.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.insights.chances import EACH, even_digits, poisson_at_least, threshold
from analyzer.insights.joined import Joined, chance_evidence, chance_words, counted, counted_words, group_numbers
from analyzer.insights.lengths import lengths
from analyzer.insights.register import finding
from analyzer.insights.series import runs_of
from analyzer.schema import CATEGORIES, UNIT_OF_PARAMETER, Finding

FEWEST_DIGITS = 100
"""Fewest readings whose last digits are counted: below it the chi-square of ten cells is rough (common practice)."""

LEAST_SPREAD_STEPS = 5.0
"""Least standard deviation in last-place steps: below it honest last digits are uneven themselves. For a normal
distribution the largest deviation from even is about 2 exp(-2 π² (s/10)²): 1.4 % at s = 5 (derived)."""

RUN_OF_STEPS = 5
"""Equal steps in a row from which a progression is told; a choice of ours, no source."""

FEWEST_OF_A_KIND = 40
"""Fewest readings of a kind in a file among which other decimals are told; a choice of ours, no source."""

FEWEST_GAPS = 12
"""Fewest links with both wavelengths whose differences are compared; a choice of ours, no source."""

USUAL_SHARE = 0.3
"""Share of links with the same difference of wavelengths where no other tester tells it: with a spread of 0.02 dB and
cables of one length about 0.2 (derived), rounded up; a choice of ours."""

_DECIBELS = [number for number, name in enumerate(CATEGORIES["parameter"]) if name not in UNIT_OF_PARAMETER]


def round_readings(job: Joined) -> list[Finding]:
    """Files whose readings in dB prefer some last digits: written down by hand, or rounded before they were exported."""
    live = job.readings[job.readings["parameter"].isin(_DECIBELS) & (job.readings["decimals"] >= 0)]
    if len(live) < FEWEST_DIGITS:
        return []
    live = live.assign(file=job.records["file"].to_numpy()[live["record"].to_numpy()])
    live = live.assign(decimals=_with_zeros(live))
    groups = group_numbers(live, ["file", "parameter", "decimals"])
    found, chosen = [], []
    for number in range(int(groups.max()) + 1 if len(groups) else 0):
        rows = live[groups == number]
        steps = np.round(rows["value"].to_numpy() * 10.0 ** rows["decimals"].iloc[0])
        if len(rows) >= FEWEST_DIGITS and rows["decimals"].iloc[0] > 0 and steps.std() >= LEAST_SPREAD_STEPS:
            chosen.append((rows, np.bincount(np.abs(steps).astype(np.int64) % 10, minlength=10)))
    for rows, counts in chosen:
        statistic, chance = even_digits(counts)
        if chance >= threshold(len(chosen)):
            continue
        parameter = CATEGORIES["parameter"][int(rows["parameter"].iloc[0])]
        favorites = np.argsort(-counts, kind="stable")[:2]
        message = (
            f"{len(rows)} readings of {parameter} end in {favorites[0]} {counts[favorites[0]]} times and in "
            f"{favorites[1]} {counts[favorites[1]]} times: {chance_words(int(counts.max()), len(rows) / 10, 'of each digit')} "
            f"(chi-square {statistic:.0f}, 9 degrees of freedom; 27.9 is exceeded once in 1000)"
        )
        evidence = [counted(f"readings that end in {digit}", count) for digit, count in enumerate(counts.tolist())]
        found.append(finding("digits-too-round", message, job.labels(rows["link"]), evidence=evidence))
    return found


ZEROS_LOST = 0.2
"""Share of readings with fewer decimals up to which their last zeros were dropped: one in ten ends in zero by chance."""


def _with_zeros(live: pd.DataFrame) -> np.ndarray:
    """Decimals of each reading, those counted in whose last zero a spreadsheet dropped (0.50 written as 0.5)."""
    group = group_numbers(live, ["file", "parameter"])
    usual = live["decimals"].groupby(group).transform(lambda values: values.mode().iloc[0])
    fewer = live["decimals"] < usual
    lost = fewer.groupby(group).transform("mean") <= ZEROS_LOST
    return np.asarray(live["decimals"].where(~(fewer & lost), usual))


def equal_steps(job: Joined) -> list[Finding]:
    """Strands or links in a row whose losses, or lengths, rise or fall by the same step: numbers filled down."""
    losses = job.losses[
        ["link", "cable", "strand", "wavelength_nm", "direction", "value", "decimals", "reading", "record"]
    ]
    found = _progressions(job, losses, [*_OF_ONE_CABLE, "wavelength_nm", "direction"])
    stated = lengths(job)
    strand = job.links["strand"].to_numpy()[stated["link"].to_numpy()]
    decimals = np.where(np.isclose(stated["length_m"] % 1, 0), 0, 1)
    whole = stated.assign(
        strand=strand, value=stated["length_m"].round(1), decimals=decimals, wavelength_nm=-1, reading=-1
    )
    return found + _progressions(job, whole, _OF_ONE_CABLE)


_OF_ONE_CABLE = ["cable"]


def _progressions(job: Joined, rows: pd.DataFrame, keys: list[str]) -> list[Finding]:
    """Runs of equal steps along the numbers of strands, in one table of values."""
    rows = rows[(rows["strand"] >= 0) & rows["cable"].notna()]
    if len(rows) <= RUN_OF_STEPS:
        return []
    rows = rows.sort_values([*keys, "strand", "reading"], kind="stable")
    group = group_numbers(rows, keys)
    # 0.50 may be written as 0.5: the last place is that of the group
    unit = 10.0 ** rows["decimals"].clip(lower=0).groupby(group).transform("max").to_numpy()
    value = np.round(rows["value"].to_numpy() * unit)
    step = np.r_[0.0, np.diff(value)]
    inside = np.r_[False, group[1:] == group[:-1]]
    same = np.r_[False, (step[1:] == step[:-1]) & (step[1:] != 0) & inside[1:] & inside[:-1]]
    runs = runs_of(same)
    long = [(start, stop) for start, stop in runs if stop - start >= RUN_OF_STEPS - 1]
    if not long:
        return []
    repeats = float(same.sum() - sum(stop - start for start, stop in long)) / max(int(inside.sum()), 1)
    usual = max(repeats, 1 / max(len(rows), 1))
    expected = len(rows) * usual ** (RUN_OF_STEPS - 1)
    if poisson_at_least(len(long), expected) >= EACH:
        # few runs may be usual, and yet one of them longer than any chance makes it
        long = [(start, stop) for start, stop in long if len(rows) * usual ** (stop - start) < EACH]
    found = []
    for start, stop in long:
        run = rows.iloc[start - 2 : stop]
        wave = int(run["wavelength_nm"].iloc[0])
        what = f"at {wave} nm" if wave > 0 else "in length"
        message = (
            f"{counted_words(len(run), 'strand')} of {run['cable'].iloc[0]} in a row differ by the same step {what}; "
            f"{chance_words(len(long), expected, f'among {len(rows)} readings')}"
        )
        places = (
            job.of_readings(run["reading"].to_numpy())
            if wave > 0
            else job.of_records(run["record"].to_numpy(), "length", run["value"].to_numpy(), "m")
        )
        evidence = [*chance_evidence(len(long), expected), *places]
        found.append(finding("readings-in-steps", message, job.labels(run["link"]), evidence=evidence))
    return found


def other_decimals(job: Joined) -> list[Finding]:
    """A few readings of a file with more decimals than all others of their kind: worked out or typed, not exported."""
    live = job.readings[job.readings["decimals"] >= 0]
    if len(live) < FEWEST_OF_A_KIND:
        return []
    live = live.assign(file=job.records["file"].to_numpy()[live["record"].to_numpy()])
    groups = group_numbers(live, ["file", "parameter"])
    usual = live["decimals"].groupby(groups).transform(lambda values: values.mode().iloc[0])
    size = live["decimals"].groupby(groups).transform("size")
    more = live["decimals"] > usual
    share = more.groupby(groups).transform("mean")
    # decimals that change all the time are a way of writing numbers, not a sign
    odd = live[(more & (share <= 0.05) & (size >= FEWEST_OF_A_KIND)).to_numpy()]
    if odd.empty:
        return []
    count = "1 reading has" if len(odd) == 1 else f"{len(odd)} readings have"
    message = f"{count} more decimals than all others of the kind in the file"
    return [
        finding(
            "decimals-differ", message, job.labels(odd["link"]), evidence=job.of_readings(odd["reading"].to_numpy())
        )
    ]


def verdicts_without_numbers(job: Joined) -> list[Finding]:
    """Records that the export passes and that hold no reading, or nothing but zeros."""
    records, readings = job.analysis.records, job.readings
    passed = records["declared_verdict"].isin(["pass", "marginal pass"]).to_numpy()
    at = job.analysis.readings["record"].to_numpy()
    has_any = np.bincount(at, minlength=len(records)) > 0
    told = np.bincount(readings["record"], readings["value"] != 0, minlength=len(records)) > 0
    zeros = (np.bincount(readings["record"], minlength=len(records)) > 1) & ~told
    empty = passed & (~has_any | zeros)
    if not empty.any():
        return []
    count = "1 record is" if empty.sum() == 1 else f"{int(empty.sum())} records are"
    message = f"{count} declared passed by the export and hold no reading but zeros or none at all"
    rows = np.flatnonzero(empty)
    evidence = job.of_records(rows, "declared passed, no reading")
    return [finding("verdict-without-readings", message, job.labels(job.link_of_record[rows]), evidence=evidence)]


def wavelengths_in_step(job: Joined) -> list[Finding]:
    """Two wavelengths that differ by the same amount to the digit on cables of different length.

    The difference grows with length, since the shorter wavelength is attenuated more.
    """
    losses = job.losses.dropna(subset="cable")
    losses = losses.assign(direction=losses["direction"].clip(lower=-1)).drop_duplicates(
        ["link", "wavelength_nm", "direction"]
    )
    if len(losses) < 2 * FEWEST_GAPS:
        return []
    found = []
    waves = sorted(losses["wavelength_nm"].unique())
    pairs = [(low, high) for low in waves for high in waves if low < high <= low + 500]
    for low, high in pairs:
        both = losses[losses["wavelength_nm"] == low].merge(
            losses[losses["wavelength_nm"] == high], on=["link", "direction"], suffixes=("", "_high")
        )
        both["gap"] = np.round(both["value"] - both["value_high"], 4)
        groups = group_numbers(both, ["tester"])
        for number in range(int(groups.max()) + 1 if len(groups) else 0):
            rows = both[groups == number]
            lengths = rows["length_m"]
            if len(rows) < FEWEST_GAPS or not lengths.max() - lengths.min() >= 50:
                continue
            usual = rows["gap"].mode().iloc[0]
            same = rows[rows["gap"] == usual]
            others = both.loc[groups != number, "gap"]
            elsewhere = float(others.value_counts(normalize=True).max()) if len(others) >= FEWEST_GAPS else USUAL_SHARE
            if len(same) < 0.9 * len(rows) or same["length_m"].max() - same["length_m"].min() < 50:
                continue
            message = (
                f"{low} and {high} nm differ by {usual:.2f} dB on links from {lengths.min():.0f} to {lengths.max():.0f} m; "
                f"{chance_words(len(same), len(rows) * elsewhere, f'among {len(rows)} pairs of readings')}"
            )
            places = job.of_readings(same[["reading", "reading_high"]].to_numpy().ravel())
            evidence = [*chance_evidence(len(same), len(rows) * elsewhere), *places]
            found.append(finding("wavelengths-in-step", message, job.labels(same["link"]), evidence=evidence))
    return found
