"""The README of `sample_results/`, made from the same data as the exports, so that it cannot drift from them."""

from __future__ import annotations

from typing import Any

import scene_campus
import scene_pair_readings
import scene_pairs
import scene_trace
from scene_campus import SITE, Trouble

HEAD = f"""# Sample results: {SITE}

Everything here is invented: the campus, its owner, its crews, their testers and every reading. No export copies the
layout of any tester or program; the headings are words of the trade put together for this scene.

A performing-arts and conference campus joins auditoria, control rooms and plant rooms with single-mode and multimode
trunks, its guest wing, cameras and stage boxes with new category cable, and means to use the old category cable of its
library again. Several crews tested all this, each in its own way of writing.

- `campus/` is a job folder: `job.toml`, `schedule.xlsx` and the exports in `evidence/`. Try
  `cableproof check sample_results/campus`.
- `single_files/` holds six small exports that are checked with no job at all, as at the rack. Try
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


PAIRS_MADE = """## How the twisted-pair readings were made

The same script makes them, from a seed of their own ({seed}). Insertion loss is that of the cable, with the usual three
terms, for the length of the link and two connections; crosstalk of the cable falls by 15 dB a decade (ACR-F by 20) and
that of a connection by 20, both add in phase; power sums are summed from the pairs; a seeded ripple makes the notches;
delay follows the length and the lay of each pair. On the links named above the trouble takes its decibels off: nothing
up to 6 MHz, all of it from 250 MHz upwards. Values are rounded as the export prints them. What a tester prints of a link is the point of least
margin to the limit that it had loaded, but for insertion loss, which these crews print of each pair where it is largest.

All numbers of this are chosen to look like installed cable (common practice, no source); no verdict rests on them. The
limits that the exports print and that `expected_pairs.csv` judges by are those of TIA-568.2-D for a permanent link as
its author recalled them, written down once more for this scene; nobody has read them in the document.
"""


def _files(plans: list[dict[str, Any]], pair_plans: list[dict[str, Any]]) -> str:
    head = "## The exports\n\n| file | cables | what is special |\n|---|---|---|\n"
    rows = [f"| `{plan['file']}` | {', '.join(plan['cables'])} | {plan['about']} |" for plan in plans]
    rows += [f"| `{plan['file']}` | {_first_and_last(plan)} | {plan['about']} |" for plan in pair_plans]
    rows.append(f"| `{scene_trace.FILE}` | {scene_trace.CABLE} | {scene_trace.ABOUT} |")
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


def _first_and_last(plan: dict[str, Any]) -> str:
    labels = [one.label for one in scene_pair_readings.plan_links(plan)]
    return labels[0] if len(labels) == 1 else f"{labels[0]} to {labels[-1]}"


def _pair_troubles() -> str:
    lines = ["## What was planted on twisted pair", "", "| link | trouble | taken off |", "|---|---|---|"]
    for trouble in scene_pairs.troubles().values():
        taken = f"{trouble.weaker_db:.1f} dB" if trouble.weaker_db else ""
        lines.append(f"| {trouble.link} | {trouble.words} | {taken} |")
    lines += [
        "",
        "Beside these: the old library was tested to category 6 throughout, though OL-101 to OL-110 need only be 5e. A",
        "worst point against one limit proves another only by its bound: of most it is enough, of a few it is not, and",
        "those stay incomplete although nothing fails. OL-108 to OL-110 are newer than the schedule says and prove 6.",
    ]
    return "\n".join(lines) + "\n"


def text(plans: list[dict[str, Any]], pair_plans: list[dict[str, Any]]) -> str:
    """The whole README."""
    rows = "\n".join(f"| {part} | {words} |" for part, words in _numbers())
    made = MADE.format(seed=scene_campus.parameters()["seed"], rows=rows)
    pairs_made = PAIRS_MADE.format(seed=scene_pairs.numbers()["seed"])
    return "\n".join([HEAD, _files(plans, pair_plans), _troubles(), _pair_troubles(), made, pairs_made])
