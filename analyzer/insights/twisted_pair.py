"""What readings of twisted pair tell together: copper-clad conductors, velocities that cannot be, split pairs."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.budget.pair_physics import nvp_percent
from analyzer.budget.temperature import resistance_factor
from analyzer.insights.chances import MAD_TO_SIGMA
from analyzer.insights.joined import Joined
from analyzer.insights.register import finding
from analyzer.schema import CATEGORIES, Analysis, Finding
from analyzer.standards import Values, load, pair_length

SPREADS = 4.0
"""How many robust standard deviations away stand out; a choice of ours, common practice, no source."""

LEAST_VELOCITY, MOST_VELOCITY = 55.0, 90.0
"""Velocities [% of that of light] between which every cable lies; common practice, no source. The typical values of
makers that the values files have (CC-NVP rows) are 60 to 82."""
VELOCITY_STEP = 1.0
"""Least distance from its group [percentage points] that is told, beside what rounding explains (owners' complaint P05)."""
LENGTH_DIGIT_M = 0.05
"""Half of the last digit of a length as testers write it."""
NEAR_MAXIMUM = 0.95
"""Share of the longest length from which a bent velocity may have made a link fit (owners' complaint P05)."""
MOST_SKEW = 0.8
"""Share of its limit from which delay skew is told though it passes (owners' complaint P23)."""
LEAST_GROUP = 6
"""Fewest links of one file and grade whose velocities are compared; a choice of ours."""
WARMEST_C = 40.0
"""Taken where no temperature is stated, so that warm copper is not accused; a choice of ours, no source."""
MOST_CONNECTIONS = 4
"""Connections of a channel (TIA-568.2-D, from memory); their resistance is granted to every link."""
SPLIT_PAIR_DB = 15.0
"""How far below its limit the crosstalk of a split pair lies at least: often 20 dB and more (copper_causes.csv,
CQ-NEXT-1); a little less is taken here. Common practice, no source."""

_SINGLE = CATEGORIES["pair"][:4]


def copper_clad_suspected(analysis: Analysis, values: Values | None = None) -> list[Finding]:
    """Links of which every measured pair has more resistance than copper of category cable may have at that length.

    The most that a solid conductor of category 5e to 6A may have is row CC-R-MAX, that of a connection CC-R-CONN. One
    bad pair is a bad contact; all of them are thin or copper-clad conductors. Nothing is told without a length or with
    fewer than two pairs.
    """
    values = values or load()
    loops = _of_links(analysis, "loop resistance")
    if loops.empty:
        return []
    per_link = loops.groupby("link")["value"].agg(["min", "nunique", "size"])
    pairs = loops.groupby("link")["pair"].nunique()
    length = analysis.links["length_m"].to_numpy(dtype=float)[per_link.index]
    warm = _temperature(analysis)[per_link.index]
    row = {one["row_id"]: one for one in values.rows("copper_cable")}
    conductor, contact = row["CC-R-MAX"]["value"], row["CC-R-CONN"]["value"]
    most = 2 * conductor * length / 100 * resistance_factor(warm, values) + MOST_CONNECTIONS * contact
    hit = (length > 0) & (per_link["min"].to_numpy() > most) & (pairs.reindex(per_link.index).to_numpy() >= 2)
    if not hit.any():
        return []
    labels = analysis.links["label"].take(per_link.index.to_numpy()[hit])
    worst = int(np.argmax(np.where(hit, per_link["min"].to_numpy() / most, 0)))
    count = "1 link has" if hit.sum() == 1 else f"{hit.sum()} links have"
    message = (
        f"{count} more loop resistance on every pair than copper of category cable may have at that length: "
        f"copper-clad or thin conductors ({analysis.links['label'].iloc[per_link.index[worst]]}: "
        f"{per_link['min'].to_numpy()[worst]:.1f} ohm at least, {most[worst]:.1f} ohm at most for {length[worst]:g} m)"
    )
    told = loops[loops["link"].isin(per_link.index[hit])].sort_values("value", ascending=False, kind="stable")
    evidence = Joined(analysis).of_readings(told["reading"].to_numpy())
    return [finding("copper-clad-suspected", message, labels, evidence=evidence)]


def velocity_doubtful(analysis: Analysis, values: Values | None = None) -> list[Finding]:
    """Links whose length and delay imply a velocity that no cable has, or that stands out in its file and grade.

    The spread is the median absolute deviation; what the last digits leave open is granted. Lengths that were themselves
    derived from the delay imply nothing. Delay is measured and length only worked out from it: a link that would be too
    long with the usual velocity of its group is told by itself.
    """
    told = _velocities(analysis)
    if told.empty:
        return []
    outside = ((told["velocity"] < LEAST_VELOCITY) | (told["velocity"] > MOST_VELOCITY)).to_numpy()
    inside = told["velocity"].where(~outside)
    group = told.groupby(["file", "type"], sort=False, dropna=False).ngroup()
    usual = inside.groupby(group).transform("median")
    apart = (inside - usual).abs()
    spread = MAD_TO_SIGMA * apart.groupby(group).transform("median")
    enough = (inside.groupby(group).transform("count") >= LEAST_GROUP).to_numpy()
    apart_from = enough & (apart > np.maximum(VELOCITY_STEP + told["rounding"], SPREADS * spread)).to_numpy()
    told = told.assign(usual=usual, straight_m=told["length"] * usual / told["velocity"])
    longest = _longest(analysis, told, values or load())
    near = (told["length"] > NEAR_MAXIMUM * longest) & (told["straight_m"] > told["length"])
    too_long = apart_from & (near | ((told["straight_m"] > longest) & (told["length"] <= longest))).to_numpy()
    stated = told["stated"].to_numpy()
    slack = (VELOCITY_STEP + told["rounding"]).to_numpy()
    # the length may be that of any pair, so the stated velocity must lie outside those of all pairs
    unlike_stated = (stated > told["velocity"].to_numpy() + slack) | (stated < told["lowest"].to_numpy() - slack)
    unlike_stated &= ~outside & ~apart_from
    return [
        *_velocities_told(
            analysis, told[unlike_stated], "velocity-doubtful",
            "imply a velocity unlike the one that the tester was set to",
        ),
        *_velocities_told(
            analysis, told[outside], "velocity-doubtful",
            f"imply a velocity that no cable has (below {LEAST_VELOCITY:g} or above {MOST_VELOCITY:g} % of that of light)",
        ),
        *_velocities_told(
            analysis, told[apart_from & ~too_long], "velocity-doubtful",
            "imply a velocity unlike that of the other links of their file",
        ),
        *_velocities_told(
            analysis, told[too_long], "velocity-hides-length",
            "near the longest allowed imply a velocity unlike that of the other links of their file, with which they would "
            "be longer",
        ),
    ]  # fmt: skip


def _velocities_told(analysis: Analysis, rows: pd.DataFrame, code: str, words: str) -> list[Finding]:
    if rows.empty:
        return []
    links = "1 link" if len(rows) == 1 else f"{len(rows)} links"
    first = rows.iloc[0]
    label = analysis.links["label"].iloc[int(first["link"])]
    would = f", {first['straight_m']:.1f} m in place of {first['length']:.1f} m" if code != "velocity-doubtful" else ""
    message = f"length and delay of {links} {words}: {label} {first['velocity']:.0f} %{would}"
    job = Joined(analysis)
    evidence = [
        *job.of_records(rows["record"].to_numpy(), "length over delay, of the velocity of light", rows["velocity"].to_numpy(), "%"),
        *job.of_readings(rows["reading"].to_numpy()[:4]),
    ]  # fmt: skip
    return [finding(code, message, analysis.links["label"].take(rows["link"].to_numpy()), evidence=evidence)]


def _longest(analysis: Analysis, told: pd.DataFrame, values: Values) -> np.ndarray:
    """Longest length of each link [m]; NaN where its grade and configuration have none."""
    facts = analysis.facts.iloc[told["record"].to_numpy()]
    kinds = facts[["grade", "configuration", "standard"]].astype("object").reset_index(drop=True)
    number = kinds.groupby(list(kinds), sort=False, dropna=False).ngroup()
    of_kind = []
    for grade, configuration, standard in kinds.groupby(number, sort=True).first().itertuples(index=False):
        row = None
        if isinstance(grade, str) and isinstance(configuration, str):
            family = standard if isinstance(standard, str) else "TIA"
            row = pair_length(values, grade=grade, configuration=configuration, standard=family)
        of_kind.append(np.nan if row is None else row["max_length_m"])
    return np.array(of_kind, dtype=float)[number.to_numpy()]


def delay_skew_high(analysis: Analysis) -> list[Finding]:
    """Links that pass with a delay skew beyond four fifths of its limit: some signals bear less than data does."""
    skew = _of_links(analysis, "delay skew")
    skew = skew[skew["verdict"].isin(["pass", "marginal pass"]) & skew["margin"].notna() & (skew["value"] > 0)]
    high = skew[skew["value"] > MOST_SKEW * (skew["value"] + skew["margin"])].drop_duplicates("link")
    if high.empty:
        return []
    links = "1 link passes" if len(high) == 1 else f"{len(high)} links pass"
    worst = high.sort_values("margin", kind="stable").iloc[0]
    message = (
        f"{links} with a delay skew beyond {MOST_SKEW:.0%} of the limit: {analysis.links['label'].iloc[int(worst['link'])]} "
        f"{worst['value']:.0f} of {worst['value'] + worst['margin']:.0f} ns"
    )
    evidence = Joined(analysis).of_readings(high["reading"].to_numpy())
    return [
        finding("delay-skew-high", message, analysis.links["label"].take(high["link"].to_numpy()), evidence=evidence)
    ]


def split_pair_suspected(analysis: Analysis) -> list[Finding]:
    """Links whose wire map does not fail while the NEXT of one combination of pairs alone lies far below its limit."""
    near = _of_links(analysis, "NEXT")
    if near.empty:
        return []
    by_pair = near.groupby(["link", "pair"])["margin"].min().dropna()
    bad = (by_pair < -SPLIT_PAIR_DB).groupby(level=0).sum()
    maps = _of_links(analysis, "wire map")
    failed = set(maps.loc[maps["verdict"].isin(["fail", "marginal fail"]), "link"])
    links = [link for link in bad.index[bad == 1].tolist() if link not in failed]
    if not links:
        return []
    worst = by_pair.loc[links].groupby(level=0).min()
    count = "1 link has" if len(links) == 1 else f"{len(links)} links have"
    message = (
        f"{count} one combination of pairs with NEXT far below its limit ({analysis.links['label'].iloc[links[0]]}: "
        f"{-worst.iloc[0]:.1f} dB): a split pair, which contacts alone cannot show"
    )
    lowest = near[near["link"].isin(links)].sort_values("margin", kind="stable").drop_duplicates("link")
    evidence = Joined(analysis).of_readings(lowest["reading"].to_numpy())
    return [finding("split-pair-suspected", message, analysis.links["label"].take(links), evidence=evidence)]


def _of_links(analysis: Analysis, parameter: str) -> pd.DataFrame:
    """Readings in force of one parameter: link, pair, value, margin, verdict; bounds left out."""
    readings, judged = analysis.readings, analysis.judged
    use = ((readings["parameter"] == parameter) & readings["bound"].isna() & judged["in_force"]).to_numpy()
    if parameter == "loop resistance":
        use = use & readings["pair"].isin(_SINGLE).to_numpy()
    record = readings["record"].to_numpy()[use]
    return pd.DataFrame(
        {
            "link": analysis.records["link"].to_numpy()[record],
            "record": record,
            "reading": np.flatnonzero(use),
            "pair": readings["pair"].astype("object").to_numpy()[use],
            "value": readings["value"].to_numpy()[use],
            "margin": judged["margin"].to_numpy()[use],
            "verdict": judged["verdict"].astype("object").to_numpy()[use],
            "decimals": readings["decimals"].to_numpy()[use],
        }
    )


def _temperature(analysis: Analysis) -> np.ndarray:
    """Highest stated temperature of each link [°C]; the warmest that is granted where none is stated."""
    records = analysis.records
    stated = records["temperature_c"].groupby(records["link"]).max().reindex(range(len(analysis.links)))
    return stated.fillna(WARMEST_C).to_numpy()


def _velocities(analysis: Analysis) -> pd.DataFrame:
    """link, velocity [% of that of light], file and type of every link with a delay and a length of its own."""
    delays = _of_links(analysis, "propagation delay")
    delays = delays[delays["value"] > 0]
    if delays.empty:
        return pd.DataFrame()
    least = delays.loc[delays.groupby("link")["value"].idxmin()]
    links = analysis.links.iloc[least["link"].to_numpy()]
    length = links["length_m"].where(links["length_from"] != "derived").to_numpy(dtype=float)
    block = analysis.records["block"].to_numpy()[least["record"].to_numpy()]
    known = dict(zip(analysis.blocks["block"], analysis.blocks["file"], strict=True))
    delay = least["value"].to_numpy()
    most = delays.groupby("link")["value"].max().reindex(least["link"]).to_numpy()
    velocity = nvp_percent(length, delay)
    half_digit = 0.5 * 10.0 ** -least["decimals"].clip(lower=0).to_numpy(dtype=float)
    told = pd.DataFrame(
        {
            "link": least["link"].to_numpy(),
            "record": least["record"].to_numpy(),
            "reading": least["reading"].to_numpy(),
            "length": length,
            "velocity": velocity,
            "lowest": nvp_percent(length, most),
            "stated": analysis.records["nvp_percent"].to_numpy()[least["record"].to_numpy()],
            "rounding": velocity * (half_digit / delay + LENGTH_DIGIT_M / np.maximum(length, LENGTH_DIGIT_M)),
            "file": [known.get(number, -1) for number in block],
            "type": links["type"].to_numpy(),
        }
    )
    return told[told["velocity"] >= 0].reset_index(drop=True)
