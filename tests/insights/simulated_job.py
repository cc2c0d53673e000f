"""A simulated job of about 2,000 links as a folder of CSV files, clean or with known troubles in it. All invented.

The generator knows nothing of how troubles are looked for: losses are sums of cable, skewed connectors and noise,
people walk between rooms and take breaks, testers count their records. A trouble is planted by changing the finished
rows the way a person or a broken tool would. `python tests/insights/simulated_job.py FOLDER [SEED]` writes one to look at.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

FIBER_CABLES, STRANDS = 72, 24
SPARE_CABLES = range(48, 54)
"""Cables of which no trouble is named by its number; those behind them all have the bad strand 7."""
ROOMS, PORTS = 30, 24
PAIRS = ("1-2", "3-6", "4-5", "7-8")
COMBINATIONS = ("1-2/3-6", "1-2/4-5", "1-2/7-8", "3-6/4-5", "3-6/7-8", "4-5/7-8")
ATTENUATION = {850: 2.3, 1300: 0.6, 1310: 0.34, 1550: 0.21}
"""dB/km of good cable (common practice, no source)."""

CREWS = {"T-11": "Ada Invented", "T-12": "Ben Invented", "T-13": "Cleo Invented"}
FIRST_DAY = np.datetime64("2026-09-07T08:00:00")
LOSSES = {"OM4": ("850", "1300"), "OS2": ("1310", "1550")}

JOB = """
[job]
name = "Simulated job (invented)"
invented = true

[order]
standard = "TIA"
edition = "568.3-E"
grade = "6A"

[dates]
installed = 2026-09-01
handover = 2026-12-15

[people]
operators = ["Ada Invented", "Ben Invented", "Cleo Invented"]

[labels]
pattern = '(?:TB|WA)-\\d{3}-\\d{2}'

[history]
links = 4000
failures = 48

[schedule]
file = "schedule.csv"

[evidence]
folder = "evidence"
"""
INSTRUMENTS = "".join(f'\n[[instruments]]\ntester = "{tester}"\n' for tester in CREWS)


@dataclass
class Simulated:
    """Rows of the exports and of the schedule, the job file, and what was planted: trouble -> (code, labels)."""

    fiber: pd.DataFrame
    copper: pd.DataFrame
    schedule: pd.DataFrame
    job: str = JOB + INSTRUMENTS
    planted: dict[str, tuple[str, set[str]]] = field(default_factory=dict)
    rng: np.random.Generator = field(default_factory=np.random.default_rng)
    dirty: set[str] = field(default_factory=set)
    """Labels of strands with a connector that was dirty at the first test."""
    typed: dict[tuple[str, int], str] = field(default_factory=dict)
    """Cells (column, row) that stand in the export as somebody typed them."""


def clean_job(seed: int) -> Simulated:
    """A job as careful crews hand it over: failures happen, are mended and tested again."""
    rng = np.random.default_rng(seed)
    fiber, schedule = _fiber(rng)
    copper, more = _copper(rng)
    schedule = pd.concat([schedule, more], ignore_index=True)
    whole = pd.concat([fiber.assign(kind="fiber"), copper.assign(kind="copper")], ignore_index=True)
    whole = _worked_off(whole, rng)
    parts = {kind: whole[whole["kind"] == kind].dropna(axis=1, how="all") for kind in ("fiber", "copper")}
    dirty = set(fiber.loc[fiber["dirty"], "Label"])
    made = Simulated(parts["fiber"].drop(columns="dirty"), parts["copper"].copy(), schedule, rng=rng, dirty=dirty)
    _retest_failures(made)
    return made


def _connector(rng: np.random.Generator, size: tuple[int, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Losses of good mated pairs: skewed, now and then a dirty one; and which those are."""
    loss = rng.lognormal(np.log(0.16), 0.5, size)
    dirty = rng.random(size) < 0.012
    return np.where(dirty, loss + rng.exponential(1.6, size), loss), dirty


def _fiber(rng: np.random.Generator) -> tuple[pd.DataFrame, pd.DataFrame]:
    tables, schedule = [], []
    for number in range(FIBER_CABLES):
        cable = f"TB-{101 + number}"
        kind = "OM4" if number % 2 else "OS2"
        length = float(rng.uniform(45, 320))
        places = f"Hub room {number % 6 + 1}, panel {number // 6 + 1}", f"Room {number + 1:03d}, panel 1"
        strand = np.arange(1, STRANDS + 1)
        stretch = length * (1 + rng.normal(0.0, 0.0015, STRANDS))
        ends, dirty = _connector(rng, (STRANDS, 2))
        table = pd.DataFrame(
            {
                "Label": [f"{cable}-{n:02d}" for n in strand], "Cable": cable, "Strand": strand, "From": places[0],
                "To": places[1], "Fiber type": "OM4" if kind == "OM4" else "OS2 indoor-outdoor",
                "Length (m)": np.round(stretch, 1), "Group index": 1.4820 if kind == "OM4" else 1.4680,
                "Mated pairs": 2, "Splices": 0, "Reference": "one-cord",
            }
        )  # fmt: skip
        for wave in LOSSES[kind]:
            color = 1.0 if wave in {"850", "1310"} else rng.normal(0.85, 0.05, (STRANDS, 1))
            for way in ("A-B", "B-A"):
                noise = rng.normal(0, 0.02, STRANDS)
                loss = stretch / 1000 * ATTENUATION[int(wave)] + (ends * color).sum(axis=1) + noise
                table[f"Loss {wave} {way} (dB)"] = np.round(np.maximum(loss, 0.02), 2)
        table["dirty"] = dirty.any(axis=1)
        table["crew"] = list(CREWS)[number % 3]
        table["Limit"] = "Backbone fiber A" if kind == "OM4" else "Backbone fiber B"
        tables.append(table)
        schedule.append(
            {"Cable": cable, "Label end A": f"H{number % 6 + 1}-P{number + 1:02d}", "Place end A": places[0],
             "Label end B": f"R{number + 1:03d}-P1", "Place end B": places[1], "Medium": "fiber",
             "Fiber type": "OM4" if kind == "OM4" else "OS2", "Construction": "" if kind == "OM4" else "indoor-outdoor",
             "Strands": STRANDS, "Length (m)": round(length), "Mated pairs": 2, "Splices": 0}
        )  # fmt: skip
    return pd.concat(tables, ignore_index=True), pd.DataFrame(schedule)


def _copper(rng: np.random.Generator) -> tuple[pd.DataFrame, pd.DataFrame]:
    n = ROOMS * PORTS
    room, port = np.arange(n) // PORTS, np.arange(n) % PORTS + 1
    label = [f"WA-{601 + r:03d}-{p:02d}" for r, p in zip(room, port, strict=True)]
    length = np.round(rng.gamma(9, 4.6, n).clip(8, 88), 1)
    table = pd.DataFrame(
        {
            "Label": label, "From": [f"Closet {r % 8 + 1}, panel {r // 8 + 1}" for r in room],
            "To": [f"Floor {r % 5 + 1}, room {601 + r}" for r in room], "Category": "6A",
            "Configuration": "permanent link",
        }
    )  # fmt: skip
    quality = rng.normal(0, 1.5, n)
    for name in COMBINATIONS:
        middle = 6.0 if name == "3-6/4-5" else 9.0
        for end in ("A", "B"):
            table[f"NEXT {name} end {end} (dB)"] = np.round(36 + middle + quality + rng.normal(0, 2, n), 1)
    for pair in PAIRS:
        for end in ("A", "B"):
            table[f"Return loss {pair} end {end} (dB)"] = np.round(17 + quality + rng.normal(0, 1.8, n), 1)
    twist = {"1-2": 1.000, "3-6": 1.012, "4-5": 1.004, "7-8": 1.018}
    for pair in PAIRS:
        own = length * twist[pair] * (1 + rng.normal(0, 0.002, n))
        table[f"Length {pair} (m)"] = np.round(own, 1)
        table[f"Delay {pair} (ns)"] = np.round(own / 0.299792458 / 0.69, 0)
    table["crew"] = np.array(list(CREWS))[room % 3]
    table["Limit"] = "Category 6A permanent link"
    schedule = pd.DataFrame(
        {
            "Cable": label, "Label end A": [f"C{r % 8 + 1}-{r // 8 + 1}-{p:02d}" for r, p in zip(room, port, strict=True)],
            "Place end A": table["From"], "Label end B": [f"R{601 + r}-{p:02d}" for r, p in zip(room, port, strict=True)],
            "Place end B": table["To"], "Medium": "twisted pair", "Grade": "6A", "End type B": "jack",
        }
    )  # fmt: skip
    return table, schedule


def _worked_off(rows: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Every crew tests cable after cable: seconds for a strand, minutes to the next room, nights between days."""
    rows["Tester"], rows["Operator"] = rows["crew"], rows["crew"].map(CREWS)
    rows["Calibrated on"] = "2026-03-02"
    parts = []
    for place, (_, own) in enumerate(rows.groupby("crew", sort=True)):
        group = own["Label"].str[:6]
        order = np.argsort(rng.permutation(group.nunique())[pd.factorize(group)[0]], kind="stable")
        tested = own.iloc[order].copy()
        gap = 22 + rng.lognormal(np.log(14), 0.6, len(tested))
        moved = (tested["Label"].str[:6] != tested["Label"].str[:6].shift()).to_numpy()
        gap = np.where(moved, gap + rng.uniform(240, 900, len(tested)), gap)
        elapsed = np.cumsum(gap)
        day = (elapsed // 25_200).astype(np.int64)
        tested["when"] = FIRST_DAY + (elapsed + day * (86_400 - 25_200)).astype(np.int64).astype("timedelta64[s]")
        tested["Record no"] = 1000 * (place + 1) + np.arange(len(tested))
        parts.append(tested)
    return pd.concat(parts).drop(columns="crew")


def loss_columns(rows: pd.DataFrame) -> list[str]:
    return [name for name in rows if name.startswith("Loss ")]


def _retest_failures(made: Simulated) -> None:
    """Strands that plainly fail are cleaned and tested again at the end of the job."""
    worst = made.fiber[loss_columns(made.fiber)].max(axis=1)
    failing = made.fiber[worst > 1.5 + 0.0035 * made.fiber["Length (m)"]]
    again = failing.copy()
    for name in loss_columns(again):
        glass = again["Length (m)"] / 1000 * ATTENUATION[int(name.split()[1])]
        mended = glass + 0.22 + made.rng.gamma(2, 0.05, len(again))
        again[name] = np.round(again[name].where(again[name].isna(), mended), 2)
    last = made.fiber["when"].max() + np.timedelta64(1, "D")
    again["when"] = last + np.arange(len(again)) * np.timedelta64(75, "s")
    highest = pd.concat([made.fiber, made.copper]).groupby("Tester")["Record no"].max()
    again["Record no"] = again["Tester"].map(highest).astype(float) + again.groupby("Tester").cumcount() + 1
    made.fiber = pd.concat([made.fiber, again], ignore_index=True)


# ---------------------------------------------------------------- troubles


def troubled_job(seed: int) -> Simulated:
    """The same kind of job, nothing tested again, with every trouble of `TROUBLES` planted in links of its own."""
    made = clean_job(seed)
    # a later test would supersede what is planted in the first
    made.fiber = made.fiber[~made.fiber["Label"].duplicated()].copy()
    for number, (name, (code, plant)) in enumerate(TROUBLES.items()):
        labels = plant(made, number)
        made.planted[name] = (code, set(labels))
    return made


def _cable(made: Simulated, number: int) -> np.ndarray:
    """Places of the first tests of fiber cable `number`, in the order of strands."""
    rows = made.fiber[made.fiber["Cable"] == f"TB-{101 + number}"].drop_duplicates("Label")
    return rows.index.to_numpy()


def _room(made: Simulated, number: int) -> np.ndarray:
    """Places of the copper links of room `number`."""
    return made.copper.index[made.copper["Label"].str.startswith(f"WA-{601 + number % ROOMS:03d}-")].to_numpy()


def _set(made: Simulated, at: np.ndarray, **values: object) -> list[str]:
    """Change columns of fiber rows (`_` stands for a blank); returns their labels as they were."""
    labels = made.fiber.loc[at, "Label"].tolist()
    for name, value in values.items():
        made.fiber.loc[at, name.replace("_", " ")] = value
    return labels


def _losses(made: Simulated, at: np.ndarray, change: Callable[[pd.Series], object], only: str = "") -> list[str]:
    """Change the losses of fiber rows; `only` picks columns that hold this text."""
    for name in loss_columns(made.fiber):
        if only in name:
            measured = at[made.fiber.loc[at, name].notna().to_numpy()]
            if len(measured):
                made.fiber.loc[measured, name] = np.round(change(made.fiber.loc[measured, name]), 2)
    return made.fiber.loc[at, "Label"].tolist()


def missing_links(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)[[3, 9, 15]]
    labels = made.fiber.loc[at, "Label"].tolist()
    made.fiber = made.fiber[~made.fiber["Label"].isin(labels)]
    return labels


def extra_links(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)[:1]
    extra = made.fiber.loc[at].assign(Label="TB-990-01", Cable="TB-990")
    extra[loss_columns(extra)] += 0.13
    extra = extra.assign(**{"Record no": np.nan, "Length (m)": 12.3})
    extra[loss_columns(extra)] = extra[loss_columns(extra)].round(2)
    made.fiber = pd.concat([made.fiber, extra], ignore_index=True)
    return ["TB-990-01"]


def damaged_labels(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)
    wrong = [label.replace("TB-1", "TB-I").replace("-0", "-O") for label in made.fiber.loc[at[4:7], "Label"]]
    made.fiber.loc[at[4:7], "Label"] = wrong
    return wrong


def one_end_label(made: Simulated, number: int) -> list[str]:
    at = _room(made, number)[:6]
    labels = made.copper.loc[at, "Label"].tolist()
    ends = made.schedule.set_index("Cable")["Label end B"]
    made.copper.loc[at, "Label"] = ends.reindex(labels).to_numpy()
    return labels


def wavelength_missing(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)[8:12]
    for name in loss_columns(made.fiber):
        if "1300" in name or "1550" in name:
            made.fiber.loc[at, name] = np.nan
    return made.fiber.loc[at, "Label"].tolist()


def direction_missing(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)[10:13]
    for name in loss_columns(made.fiber):
        if "B-A" in name:
            made.fiber.loc[at, name] = np.nan
    return made.fiber.loc[at, "Label"].tolist()


def calibration_lapsed(made: Simulated, number: int) -> list[str]:
    return _set(made, _cable(made, number), Calibrated_on="2025-03-02")


def unknown_operator(made: Simulated, number: int) -> list[str]:
    return _set(made, _cable(made, number), Operator="Dan Invented")


def unknown_tester(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)
    made.fiber.loc[at, "Record no"] = 70_000 + np.arange(len(at))
    return _set(made, at, Tester="T-77")


def before_install(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)
    made.fiber.loc[at, "when"] -= np.timedelta64(40, "D")
    made.fiber.loc[at, "Record no"] = np.nan
    return made.fiber.loc[at, "Label"].tolist()


def before_repair(made: Simulated, number: int) -> list[str]:
    cable = f"TB-{101 + number}"
    made.job += f'\n[[repairs]]\nlinks = ["{cable}-*"]\ndate = 2026-12-01\nnote = "cable moved (invented)"\n'
    return made.fiber.loc[_cable(made, number), "Label"].tolist()


def other_pattern(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)[:2]
    wrong = [f"spare {n}" for n in (1, 2)]
    made.fiber.loc[at, "Label"] = wrong
    return wrong


def mixed_limits(made: Simulated, number: int) -> list[str]:
    return _set(made, _cable(made, number)[18:], Limit="Application limit C")


def copied_cable(made: Simulated, number: int) -> list[str]:
    at, other = _cable(made, number)[:12], _cable(made, number - 2)[:12]
    columns = [*loss_columns(made.fiber), "Length (m)"]
    made.fiber.loc[at, columns] = made.fiber.loc[other, columns].to_numpy()
    return made.fiber.loc[np.r_[at, other], "Label"].tolist()


def copied_pair(made: Simulated, number: int) -> list[str]:
    one, other = _room(made, number)[:2]
    columns = [name for name in made.copper if name.endswith(("(dB)", "(m)", "(ns)"))]
    made.copper.loc[one, columns] = made.copper.loc[other, columns].to_numpy()
    return made.copper.loc[[one, other], "Label"].tolist()


def copied_ends_exchanged(made: Simulated, number: int) -> list[str]:
    one, other = _room(made, number)[5], _room(made, number - 1)[9]
    for name in [name for name in made.copper if name.endswith(("(dB)", "(m)", "(ns)"))]:
        swapped = name.replace("end A", "end X").replace("end B", "end A").replace("end X", "end B")
        made.copper.loc[one, name] = made.copper.loc[other, swapped]
    return made.copper.loc[[one, other], "Label"].tolist()


def tested_twice(made: Simulated, number: int) -> list[str]:
    one, other = _room(made, number)[:2]
    for name in [name for name in made.copper if name.endswith(("(dB)", "(m)", "(ns)"))]:
        value = made.copper.loc[other, name]
        made.copper.loc[one, name] = value if "ns" in name else round(value + made.rng.choice([-0.1, 0.0, 0.1]), 1)
    return made.copper.loc[[one, other], "Label"].tolist()


def rounded(made: Simulated, number: int) -> list[str]:
    at = np.concatenate([_cable(made, number), _cable(made, number + 2)])
    _set(made, at, file="rounded", Operator="Ada Invented")
    return _losses(made, at, lambda loss: np.round(loss / 0.05) * 0.05)


def too_fast(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)
    made.fiber.loc[at[8:16], "when"] = made.fiber.loc[at[8], "when"] + np.arange(8) * np.timedelta64(3, "s")
    return made.fiber.loc[at[8:16], "Label"].tolist()


def out_of_order(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)[12:13]
    made.fiber.loc[at, "when"] -= np.timedelta64(5, "D")
    return made.fiber.loc[at, "Label"].tolist()


def clock_set_back(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)
    start = made.fiber.loc[at, "when"].min()
    made.fiber.loc[at, "Tester"] = "T-14"
    made.fiber.loc[at, "Record no"] = 4000 + np.arange(len(at))
    made.fiber.loc[at, "when"] = start + np.arange(len(at)) * np.timedelta64(41, "s")
    made.fiber.loc[at[11:], "when"] -= np.timedelta64(9, "h")
    made.job += '\n[[instruments]]\ntester = "T-14"\n'
    return made.fiber.loc[at[11:], "Label"].tolist()


def summer_time_ends(made: Simulated, number: int) -> list[str]:
    """No trouble: on the last Sunday of October clocks go back by an hour."""
    at = _cable(made, number)
    made.fiber.loc[at, "Tester"] = "T-15"
    made.fiber.loc[at, "Record no"] = 5000 + np.arange(len(at))
    made.fiber.loc[at, "when"] = np.datetime64("2026-10-25T02:30:00") + np.arange(len(at)) * np.timedelta64(75, "s")
    made.fiber.loc[at[18:], "when"] -= np.timedelta64(1, "h")
    made.job += '\n[[instruments]]\ntester = "T-15"\n'
    return []


def reference_drifted(made: Simulated, number: int) -> list[str]:
    return _losses(made, _cable(made, number)[11:], lambda loss: loss + 0.6)


def reference_too_high(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)
    return _losses(made, at, lambda loss: np.maximum(loss - loss.median() + 0.03, 0.01))


def directions_copied(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)
    for name in loss_columns(made.fiber):
        if "B-A" in name:
            made.fiber.loc[at, name] = made.fiber.loc[at, name.replace("B-A", "A-B")].to_numpy()
    return made.fiber.loc[at, "Label"].tolist()


def other_length(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)[20:22]
    made.fiber.loc[at, "Length (m)"] = np.round(made.fiber.loc[at, "Length (m)"] * 1.07 + 4, 1)
    return made.fiber.loc[at, "Label"].tolist()


def equal_lengths(made: Simulated, number: int) -> list[str]:
    at = np.concatenate([_room(made, number)[:12], _room(made, number + 1)[:12]])
    for pair in PAIRS:
        made.copper.loc[at, f"Length {pair} (m)"] = 41.5
    return made.copper.loc[at, "Label"].tolist()


def bent_index(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)
    made.fiber.loc[at[4:9], "Length (m)"] = np.round(made.fiber.loc[at[4:9], "Length (m)"] * 0.98, 1)
    return _set(made, at[4:9], Group_index=1.5130)


def numbers_left_out(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)
    made.fiber.loc[at, "Tester"] = "T-16"
    made.fiber.loc[at, "Record no"] = 6000 + np.arange(len(at)) + 3 * (np.arange(len(at)) > 13)
    made.job += '\n[[instruments]]\ntester = "T-16"\n'
    return made.fiber.loc[at[13:15], "Label"].tolist()


def history_of_failures(made: Simulated, _number: int) -> list[str]:
    made.job = made.job.replace("failures = 48", "failures = 400")
    return []


def feet(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)[6:10]
    made.fiber.loc[at, "Length (m)"] = np.round(made.fiber.loc[at, "Length (m)"] / 0.3048, 1)
    return made.fiber.loc[at, "Label"].tolist()


def bad_panel(made: Simulated, number: int) -> list[str]:
    return _losses(made, _cable(made, number)[:12], lambda loss: loss + made.rng.uniform(2.5, 4, len(loss)))


def worst_position(made: Simulated, _number: int) -> list[str]:
    worn = {SPARE_CABLES[0], SPARE_CABLES[3]}
    at = np.array([_cable(made, n)[6] for n in range(SPARE_CABLES[0], FIBER_CABLES) if n not in worn])
    for one in at:
        _losses(made, np.array([one]), lambda loss: loss + 0.7)
    return made.fiber.loc[at, "Label"].tolist()


def falling_margins(made: Simulated, _number: int) -> list[str]:
    """A worn cord: at the end of the job the last strands of one cable and the first of the next lose more and more."""
    first, second = _cable(made, SPARE_CABLES[0]), _cable(made, SPARE_CABLES[3])
    both = np.r_[first, second]
    made.fiber.loc[both, "when"] = made.fiber["when"].max() + np.arange(600, 648) * np.timedelta64(55, "s")
    made.fiber.loc[both, "Record no"] = np.nan
    worn = np.r_[first[13:], second[:11]]
    return _losses(made, worn, lambda loss: loss + np.linspace(0.5, 0.9, len(loss)))


def fixed_offset(made: Simulated, number: int) -> list[str]:
    """The second wavelength was worked out from the first."""
    labels = []
    for cable in (number, number + 2):
        at = _cable(made, cable)
        _set(made, at, Tester="T-18")
        made.fiber.loc[at, "Record no"] = np.nan
        low, high = ("850", "1300") if cable % 2 else ("1310", "1550")
        for way in ("A-B", "B-A"):
            made.fiber.loc[at, f"Loss {high} {way} (dB)"] = np.round(
                made.fiber.loc[at, f"Loss {low} {way} (dB)"] - 0.11, 2
            )
        labels += made.fiber.loc[at, "Label"].tolist()
    first, second = _cable(made, number), _cable(made, number + 2)
    for at, length in ((first, 61.2), (second, 188.4)):
        made.fiber.loc[at, "Length (m)"] = length
        made.schedule.loc[made.schedule["Cable"] == made.fiber.loc[at[0], "Cable"], "Length (m)"] = length
    made.job += '\n[[instruments]]\ntester = "T-18"\n'
    return labels


def filled_down(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)[4:12]
    for name in loss_columns(made.fiber):
        if "A-B" in name and made.fiber.loc[at, name].notna().all():
            made.fiber.loc[at, name] = np.round(0.41 + 0.03 * np.arange(8), 2)
    return made.fiber.loc[at, "Label"].tolist()


def typed_later(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)[3:5]
    name = next(name for name in loss_columns(made.fiber) if made.fiber.loc[at, name].notna().all())
    made.typed |= {(name, at[0]): "0.4137", (name, at[1]): "0.3862"}
    return made.fiber.loc[at, "Label"].tolist()


def pass_without_readings(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)[2:4]
    for name in loss_columns(made.fiber):
        if made.fiber.loc[at, name].notna().all():
            made.fiber.loc[at, name] = 0.0
    return _set(made, at, Result="PASS")


def two_places(made: Simulated, number: int) -> list[str]:
    at, other = _cable(made, number)[5:8], _cable(made, number + 2)[5:8]
    both = np.r_[_cable(made, number), _cable(made, number + 2)]
    made.fiber.loc[both, "Record no"] = np.nan
    made.fiber.loc[both, "Tester"] = made.fiber.loc[at[0], "Tester"]
    made.fiber.loc[other, "when"] = made.fiber.loc[at, "when"].to_numpy()
    return made.fiber.loc[np.r_[at, other], "Label"].tolist()


def clock_never_set(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)[:8]
    made.fiber.loc[at, "Record no"] = np.nan
    made.fiber.loc[at, "when"] = np.datetime64("2010-01-01T00:07:00") + np.arange(8) * np.timedelta64(48, "s")
    return made.fiber.loc[at, "Label"].tolist()


def wrong_one_way(made: Simulated, number: int) -> list[str]:
    return _losses(made, _cable(made, number), lambda loss: loss + 0.24, only="B-A")


def plug_ends(made: Simulated, number: int) -> list[str]:
    labels = made.copper.loc[_room(made, number)[:4], "Label"].tolist()
    made.schedule.loc[made.schedule["Cable"].isin(labels), "End type B"] = "plug"
    return labels


def declared_limits(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)
    made.fiber.loc[at, "file"] = "limits"
    wave = "850" if (number % 2) else "1310"
    made.fiber.loc[at, f"Limit {wave} (dB)"] = 9.9
    return []


def later_than_handover(made: Simulated, number: int) -> list[str]:
    at = _cable(made, number)[:5]
    made.fiber.loc[at, "Record no"] = np.nan
    made.fiber.loc[at, "when"] = np.datetime64("2026-12-20T09:00:00") + np.arange(5) * np.timedelta64(60, "s")
    return made.fiber.loc[at, "Label"].tolist()


TROUBLES: dict[str, tuple[str, Callable[[Simulated, int], list[str]]]] = {
    "links without a test": ("missing-link", missing_links),
    "a link nobody ordered": ("extra-link", extra_links),
    "letters for digits in labels": ("label-near-miss", damaged_labels),
    "labels of the other end": ("label-of-one-end", one_end_label),
    "one wavelength missing": ("test-missing", wavelength_missing),
    "one direction missing": ("test-unlike-sisters", direction_missing),
    "calibration lapsed": ("calibration-lapsed", calibration_lapsed),
    "operator not on the list": ("operator-not-listed", unknown_operator),
    "tester not on the list": ("tester-not-listed", unknown_tester),
    "tested before the cable came": ("test-before-install", before_install),
    "tested before a repair": ("test-before-repair", before_repair),
    "labels of another form": ("label-pattern", other_pattern),
    "two limits in one cable": ("limits-mixed", mixed_limits),
    "half a cable copied": ("same-readings", copied_cable),
    "one copper link copied": ("same-readings", copied_pair),
    "one copper link copied, ends exchanged": ("same-readings", copied_ends_exchanged),
    "one copper link tested twice": ("near-copy", tested_twice),
    "readings rounded to 0.05": ("digits-too-round", rounded),
    "eight tests in 24 seconds": ("tests-too-fast", too_fast),
    "(second cable of the rounded ones)": ("", lambda _made, _number: []),
    "one record out of order": ("times-out-of-order", out_of_order),
    "clock set back by nine hours": ("clock-jumped", clock_set_back),
    "an hour at the end of summer time": ("", summer_time_ends),
    "reference drifted by 0.6 dB": ("reference-drifted", reference_drifted),
    "losses near zero": ("reference-too-high", reference_too_high),
    "second direction copied": ("directions-alike", directions_copied),
    "two strands longer than the sheath": ("lengths-differ", other_length),
    "24 copper links of one length": ("lengths-alike", equal_lengths),
    "index bent until the length fits": ("group-index-odd", bent_index),
    "three records left out": ("record-numbers-missing", numbers_left_out),
    "few failures for this contractor": ("too-few-failures", history_of_failures),
    "four lengths in feet": ("units-mixed", feet),
    "half a panel fails": ("failure-rate-high", bad_panel),
    "the same half panel, as repairs": ("best-repairs", bad_panel),
    "strand 7 always the worst": ("position-always-worst", worst_position),
    "cord wears out": ("margins-falling", falling_margins),
    "losses filled down": ("readings-in-steps", filled_down),
    "two cells typed later": ("decimals-differ", typed_later),
    "second wavelength worked out": ("wavelengths-in-step", fixed_offset),
    "passed without readings": ("verdict-without-readings", pass_without_readings),
    "(second cable of the worked-out ones)": ("", lambda _made, _number: []),
    "one tester in two rooms": ("two-places-at-once", two_places),
    "clock never set": ("clock-not-set", clock_never_set),
    "one direction with a bad reference": ("reference-one-sided", wrong_one_way),
    "plugs tested as permanent links": ("plug-tested-as-other", plug_ends),
    "tested after hand-over": ("test-after-handover", later_than_handover),
    "limits of the export": ("declared-against-computed", declared_limits),
}


# ---------------------------------------------------------------- writing


def write(made: Simulated, folder: Path) -> Path:
    """The job as a folder: job.toml, schedule.csv and one CSV for each crew and medium, and for files set apart."""
    evidence = folder / "evidence"
    evidence.mkdir(parents=True, exist_ok=True)
    (folder / "job.toml").write_text(made.job, encoding="utf-8")
    made.schedule.to_csv(folder / "schedule.csv", index=False)
    for medium, table in (("fiber", made.fiber), ("copper", made.copper)):
        rows = _printed(made, table)
        apart = rows["file"] if "file" in rows else pd.Series(index=rows.index, dtype=object)
        glass = rows["Fiber type"].str[:3] if medium == "fiber" else pd.Series("", index=rows.index)
        names = apart.fillna("").astype(str) + glass.astype(str) + rows["Operator"].str[:3]
        for name, own in rows.drop(columns=["file", "kind"], errors="ignore").groupby(names, sort=True):
            own.replace("", np.nan).dropna(axis=1, how="all").to_csv(evidence / f"{medium}_{name}.csv", index=False)
    return folder


def _printed(made: Simulated, rows: pd.DataFrame) -> pd.DataFrame:
    """Numbers as the tester prints them, times to the second, records in their order."""
    printed = rows.copy()
    for name in rows:
        decimals = 2 if name.startswith(("Loss", "Limit ")) else 1 if name.endswith(("(dB)", "(m)")) else None
        if decimals is not None and name != "Limit":
            printed[name] = rows[name].map(lambda value, d=decimals: "" if pd.isna(value) else f"{value:.{d}f}")
    for (name, row), text in made.typed.items():
        if name in printed and row in printed.index:
            printed.loc[row, name] = text
    if "Strand" in rows:
        printed["Strand"] = rows["Strand"].astype("int64")
    printed["Record no"] = rows["Record no"].map(lambda value: "" if pd.isna(value) else f"{int(value)}")
    if "Group index" in rows:
        printed["Group index"] = rows["Group index"].map(lambda value: f"{value:.4f}")
    printed["Tested at"] = rows["when"].dt.strftime("%Y-%m-%d %H:%M:%S")
    return printed.sort_values("when", kind="stable").drop(columns="when")


if __name__ == "__main__":
    target = Path(sys.argv[1])
    write(troubled_job(int(sys.argv[2]) if len(sys.argv) > 2 else 1), target)
