"""The README of `sample_results/`, made from the same data as the exports, so that it cannot drift from them."""

from __future__ import annotations

from typing import Any

import scene_campus
from scene_campus import SITE, Trouble

HEAD = f"""# Sample results: {SITE}

Everything here is invented: the campus, its owner, its crews, their testers and every reading. No export copies the
layout of any tester or program; the headings are words of the trade put together for this scene.

A performing-arts and conference campus joins auditoria, control rooms and plant rooms with single-mode and multimode
trunks. Several crews tested them, each in its own way of writing.

- `campus/` is a job folder: `job.toml`, `schedule.xlsx` and the exports in `evidence/`. Try
  `cableproof check sample_results/campus`.
- `single_files/` holds four small exports that are checked with no job at all, as at the rack. Try
  `cableproof check sample_results/single_files/om4_trunk_clean.csv`.
"""

MADE = """## How it was made

`python tests/scene/make_scene.py` writes this folder again from a fixed seed ({seed}). Each reading is

    typical attenuation × length + matings + splices + difference of the directions + noise of the tester

and, on the strands named above, the extra loss of a planted trouble; then it is rounded as the export prints it.

| part | numbers |
|---|---|
{rows}

The two wavelengths of a strand share its matings and splices; a mating counts at the long wavelength by the factor
given. A single-mode reading rests on figures recalled for grade B of IEC 61755-1, a multimode one on a recollection of
grade Bm that no document confirms; attenuation, splices and spreads are common practice without a source. They make
the scene plausible; no verdict rests on them.
"""


def _files(plans: list[dict[str, Any]]) -> str:
    head = "## The exports\n\n| file | cables | what is special |\n|---|---|---|\n"
    rows = [f"| `{plan['file']}` | {', '.join(plan['cables'])} | {plan['about']} |" for plan in plans]
    return head + "\n".join(rows) + "\n"


def _numbers() -> list[tuple[str, str]]:
    numbers = scene_campus.parameters()
    spread, reading = numbers["attenuation_spread"], numbers["reading"]
    rows = [
        (f"{kind}, typical attenuation", f"{short} and {long} dB/km at the short and the long wavelength")
        for kind, (short, long) in numbers["attenuation_db_per_km"].items()
    ]
    rows.append(
        ("spread of attenuation", f"{spread['between_cables']:.1%} cables, {spread['between_strands']:.1%} strands")
    )
    for glass, grade in numbers["mating"].items():
        words = f"lognormal, mean {grade['mean_db']} dB, 97 % below {grade['percentile_97_db']} dB"
        factor = f"× {grade['long_wavelength_factor']} at the long wavelength"
        rows.append((f"one mating, {glass.replace('_', '-')}", f"{words}, {factor}"))
    splice = numbers["splice"]
    rows += [
        ("one splice", f"lognormal, mean {splice['mean_db']} dB, 97 % below {splice['percentile_97_db']} dB"),
        ("difference of the directions", f"normal, {reading['direction_spread_db']} dB"),
        ("noise of a reading", f"normal, {reading['noise_db']} dB"),
        ("measured length", f"normal, {numbers['length']['relative_spread']:.1%} around the true one"),
    ]
    return rows


def _trouble(trouble: Trouble) -> str:
    short, long = trouble.extra_db
    extra = f"{short:+.2f} / {long:+.2f}" if short or long else ""
    again = "" if trouble.retest_db is None else f"{trouble.retest_db[0]:+.2f} / {trouble.retest_db[1]:+.2f}"
    return f"| {trouble.link} | {trouble.words} | {extra} | {again} |"


def _troubles() -> str:
    lines = ["## What was planted", "", "Extra loss in dB at the short / long wavelength.", ""]
    lines += ["| strand | trouble | extra loss | left at the re-test |", "|---|---|---|---|"]
    lines += [_trouble(trouble) for trouble in scene_campus.troubles().values()]
    lines += [
        "",
        "Beside these: TB-105 states neither length nor reference method (the schedule has its length); TB-207 has no",
        "length anywhere; TB-205 was measured 12 % longer than scheduled; TB-302 belongs to phase 2, which the job",
        "leaves out; the crew of TB-102 had loaded a limit of 1.0 dB/km, looser than the order.",
        "A few more strands stand out a little (TB-102-05 and TB-203-07 among them): nothing was planted there, they are",
        "the upper tail of the matings' distribution, as in practice.",
    ]
    return "\n".join(lines) + "\n"


def text(plans: list[dict[str, Any]]) -> str:
    """The whole README."""
    rows = "\n".join(f"| {part} | {words} |" for part, words in _numbers())
    made = MADE.format(seed=scene_campus.parameters()["seed"], rows=rows)
    return "\n".join([HEAD, _files(plans), _troubles(), made])
