"""What the readings of a fiber link show: the signs from which its cause is guessed, each with its numbers.

`numbers()` holds where each sign begins, with source. Losses are compared after the cable's own typical loss is taken
off, so that a long link is not taken for a bent one; where length or type is unknown they are compared as they stand.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from functools import cache
from importlib.resources import files

import numpy as np
import pandas as pd

from analyzer.budget.wording import printed
from analyzer.insights.joined import cable_of
from analyzer.schema import Analysis
from analyzer.standards import Values

Sign = tuple[str, np.ndarray, np.ndarray]
"""Name, whether each link shows it, and the words for it (objects)."""

_PAIRS = ((1310, 1550), (1310, 1625), (850, 1300))
_WAVES = (850, 1300, 1310, 1550, 1625)


@cache
def numbers() -> dict[str, float]:
    """Thresholds and facts of cause_numbers.csv by name."""
    lines = (files("analyzer.insights") / "cause_numbers.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {row["name"]: float(row["value"]) for row in rows}


def losses(analysis: Analysis) -> pd.DataFrame:
    """Loss readings in force of every link: link, wavelength (nominal), way (-1, 0 A-B, 1 B-A), value, over (no light)."""
    readings, judged = analysis.readings, analysis.judged
    use = ((readings["parameter"] == "loss") & judged["in_force"]).to_numpy()
    taken = readings[use]
    return pd.DataFrame(
        {
            "link": analysis.records["link"].to_numpy()[taken["record"].to_numpy()],
            "wave": judged.loc[use, "judged_wavelength_nm"].to_numpy(),
            "way": taken["direction"].cat.codes.to_numpy(),
            "value": taken["value"].where(taken["bound"].isna()).to_numpy(),
            "over": (taken["bound"] == "over range").to_numpy(),
        }
    )


def typical_loss_db(analysis: Analysis, values: Values, wave: int) -> np.ndarray:
    """What the cable of each link typically loses at a wavelength [dB]; NaN where type or length is not known."""
    typical = {
        kind: float(row["typical_db_per_km"])
        for row in values.rows("typical_attenuation") if row["wavelength_nm"] == wave
        for kind in row["types"].split()
    }  # fmt: skip
    return (analysis.links["type"].map(typical) * analysis.links["length_m"] / 1000).to_numpy(dtype=np.float64)


def fiber_signs(analysis: Analysis, values: Values) -> Iterator[Sign]:
    """Every sign of every link, in the order of the links table."""
    table = losses(analysis)
    count = len(analysis.links)
    mean = _by_link(table.groupby(["link", "wave"])["value"].mean(), count)
    typical = {wave: typical_loss_db(analysis, values, wave) for wave in _WAVES}
    yield from _of_wavelengths(mean, typical, count)
    yield from _of_darkness(analysis, table, count)
    yield from _of_directions(analysis, table, count)
    yield from _of_sisters(analysis)
    yield from _of_reflections(analysis, count)
    yield from _of_traces(analysis, count)
    splices = analysis.facts["splices"].to_numpy()[analysis.links["first_record"].to_numpy()]
    yield "no splices", splices == 0, _same("no splice is stated", count)


def _by_link(grouped: pd.Series, count: int) -> dict[int, np.ndarray]:
    wide = grouped.unstack().reindex(range(count))
    return {wave: wide[wave].to_numpy() if wave in wide else np.full(count, np.nan) for wave in _WAVES}


def _same(text: str, count: int) -> np.ndarray:
    return np.full(count, text, dtype=object)


def _nowhere(count: int) -> tuple[np.ndarray, np.ndarray]:
    """A sign that no link shows."""
    return np.zeros(count, dtype=bool), _same("", count)


def _of_wavelengths(mean: dict[int, np.ndarray], typical: dict[int, np.ndarray], count: int) -> Iterator[Sign]:
    limit = numbers()
    worse, equal, like = (np.zeros(count, dtype=bool) for _ in range(3))
    worse_text, equal_text, like_text = (_same("", count) for _ in range(3))
    for short, long in _PAIRS:
        known = ~np.isnan(typical[short] + typical[long])
        low = mean[short] - np.where(known, typical[short], 0.0)
        high = mean[long] - np.where(known, typical[long], 0.0)
        more = high - low
        excess = np.maximum(low, high)
        beyond = np.where(known, " beyond what the cable itself loses", "").astype(object)
        with np.errstate(invalid="ignore", divide="ignore"):
            bent = more >= limit["bend_db"] - 1e-9
            alike = (np.minimum(low, high) >= limit["excess_db"]) & (
                np.abs(more) <= np.maximum(limit["equal_db"], limit["equal_share"] * excess)
            )
            ratio = (mean[short] / mean[long]) / (typical[short] / typical[long])
            steep = np.minimum(low, high) > 0.3 * np.minimum(typical[short], typical[long])
            fiber = (np.abs(ratio - 1) <= limit["ratio_share"]) & steep & (excess >= limit["excess_db"]) & ~bent
        alike &= ~fiber
        text = f"{long} nm loses " + printed(more) + f" dB more than {short} nm" + beyond
        worse_text = np.where(bent & ~worse, text, worse_text)
        text = (
            "about the same excess at both wavelengths ("
            + printed(low)
            + f" dB at {short} nm, "
            + printed(high)
            + f" dB at {long} nm)"
        )
        equal_text = np.where(alike & ~equal, text, equal_text)
        text = (
            f"{short} and {long} nm stand in the ratio of the cable's own attenuation ("
            + printed(mean[short])
            + " and "
            + printed(mean[long])
            + " dB)"
        )
        like_text = np.where(fiber & ~like, text, like_text)
        worse, equal, like = worse | bent, equal | alike, like | fiber
    yield "longer wavelength worse", worse, worse_text
    yield "equal excess", equal & ~worse, equal_text
    yield "like the fiber", like, like_text


def _of_darkness(analysis: Analysis, table: pd.DataFrame, count: int) -> Iterator[Sign]:
    if not table["over"].any():
        for name in ("dark", "dark at the longer wavelength only", "light in one direction", "neighbor dark"):
            yield name, *_nowhere(count)
        return
    over = np.bincount(table.loc[table["over"], "link"], minlength=count)
    lit = np.bincount(table.loc[table["value"].notna(), "link"], minlength=count)
    dark = (over > 0) & (lit == 0)
    yield "dark", dark, _same("no light arrives in any test", count)
    first, last = (table.groupby("link")["wave"].transform(name) for name in ("min", "max"))
    at_long = np.bincount(table.loc[table["over"] & (table["wave"] == last) & (first < last), "link"], minlength=count)
    yield (
        "dark at the longer wavelength only",
        (at_long > 0) & (at_long == over) & (lit > 0),
        _same("light arrives at the shorter wavelength only", count),
    )
    way_over, way_lit = (
        table[flag & (table["way"] >= 0)].groupby("link")["way"].agg("min").reindex(range(count)).to_numpy()
        for flag in (table["over"], table["value"].notna())
    )
    with np.errstate(invalid="ignore"):
        one_way = ~np.isnan(way_over) & ~np.isnan(way_lit) & (way_over != way_lit)
    yield "light in one direction", one_way, _same("light arrives in one direction", count)
    links = analysis.links
    strand = pd.to_numeric(links["label"].str.extract(r"(\d+)\D*$", expand=False), errors="coerce")
    place = pd.DataFrame(
        {
            "cable": cable_of(links).to_numpy(dtype=object),
            "strand": strand.to_numpy(),
            "label": links["label"].to_numpy(dtype=object),
        }
    )
    # the strands of a duplex pair are 1 and 2, 3 and 4, ...
    duplex = np.where(place["strand"] % 2 == 1, place["strand"] + 1, place["strand"] - 1)
    others = place[dark & place["cable"].notna() & place["strand"].notna()].drop_duplicates(["cable", "strand"])
    met = place.assign(strand=duplex).merge(others, on=["cable", "strand"], how="left", suffixes=("", "_other"))
    both = met["label_other"].notna().to_numpy() & dark
    yield (
        "neighbor dark",
        both,
        ("its duplex neighbor " + met["label_other"].astype("object").fillna("") + " is dark too").to_numpy(
            dtype=object
        ),
    )


def _of_directions(analysis: Analysis, table: pd.DataFrame, count: int) -> Iterator[Sign]:
    yield from _of_two_directions(analysis, table, count)
    limit = numbers()
    greatest = table.groupby("link")["value"].max().reindex(range(count)).to_numpy()
    with np.errstate(invalid="ignore"):
        huge = (greatest >= limit["into_multimode_low_db"]) & (greatest <= limit["into_multimode_high_db"])
    yield (
        "size of single-mode into multimode",
        huge,
        printed(greatest) + np.array(" dB is the size of multimode into single-mode", dtype=object),
    )


def _of_two_directions(analysis: Analysis, table: pd.DataFrame, count: int) -> Iterator[Sign]:
    if not (table["way"] >= 0).any():
        for name in ("directions differ", "directions agree", "size of a core mismatch"):
            yield name, *_nowhere(count)
        return
    limit = numbers()
    ways = table[table["way"] >= 0].groupby(["link", "wave", "way"])["value"].mean().unstack()
    ways = ways.reindex(columns=[0, 1])
    gap = (ways[0] - ways[1]).dropna()
    worst = gap.abs().groupby(level=0).max().reindex(range(count)).to_numpy()
    at = gap.abs().groupby(level=0).idxmax().dropna()
    wave = (
        pd.Series([key[1] for key in at], index=at.index, dtype="float64").reindex(range(count)).fillna(0).astype(int)
    )
    with np.errstate(invalid="ignore"):
        differ, agree = worst >= limit["differ_db"] - 1e-9, worst <= limit["agree_db"]
        step = differ & (worst >= limit["mismatch_low_db"]) & (worst <= limit["mismatch_high_db"])
    text = (
        "the two directions differ by " + printed(worst) + " dB at " + wave.astype("str").to_numpy(dtype=object) + " nm"
    )
    yield "directions differ", differ, text
    yield "directions agree", agree, _same("both directions agree", count)
    multimode = analysis.links["type"].fillna("").str.startswith("OM").to_numpy(dtype=bool)
    yield "size of a core mismatch", step & multimode, _same("a step of the size of 62.5 into 50 micrometers", count)


def _of_sisters(analysis: Analysis) -> Iterator[Sign]:
    """How the other strands of the cable fare: most pass, or most fail as well."""
    links = analysis.links
    cable = cable_of(links)
    fails = links["verdict"].isin(["fail"]).to_numpy()
    told = links["verdict"].isin(["fail", "pass", "marginal"]).to_numpy() & cable.notna().to_numpy()
    group = pd.factorize(cable)[0]
    safe = np.where(group < 0, 0, group)
    size = np.bincount(safe[told], minlength=max(safe.max(initial=0) + 1, 1))[safe] - told
    bad = np.bincount(safe[told & fails], minlength=max(safe.max(initial=0) + 1, 1))[safe] - (told & fails)
    enough = told & (size >= numbers()["sisters"])
    share = bad / np.maximum(size, 1)
    words = (
        (size - bad).astype(str).astype(object)
        + " of "
        + size.astype(str).astype(object)
        + " other strands of the cable pass"
    )
    yield "sisters fine", enough & (share <= 0.25), words
    words = (
        bad.astype(str).astype(object)
        + " of "
        + size.astype(str).astype(object)
        + " other strands of the cable fail too"
    )
    yield "sisters too", enough & (share >= 0.5), words


def _of_reflections(analysis: Analysis, count: int) -> Iterator[Sign]:
    limit = numbers()
    readings, judged = analysis.readings, analysis.judged
    use = ((readings["parameter"] == "optical return loss") & judged["in_force"] & readings["bound"].isna()).to_numpy()
    link = analysis.records["link"].to_numpy()[readings.loc[use, "record"].to_numpy()]
    least = readings.loc[use, "value"].abs().groupby(link).min().reindex(range(count)).to_numpy()
    with np.errstate(invalid="ignore"):
        strong, weak = least < limit["reflects_db"], least >= limit["quiet_db"]
    text = "optical return loss of " + printed(least, 1) + " dB"
    if analysis.traces is not None and not analysis.traces.empty:
        events = analysis.events
        owner = analysis.traces["link"].to_numpy()[events["trace"].to_numpy()]
        bad = events["reflectance_verdict"].to_numpy() == "fail"
        shows = np.bincount(owner[bad], minlength=count) > 0
        text = np.where(strong, text, "a connection in the trace reflects more than allowed")
        strong |= shows
        weak &= ~shows
    yield "reflects strongly", strong, text
    yield "reflects little", weak & ~strong, "optical return loss of " + printed(least, 1) + " dB"


def _of_traces(analysis: Analysis, count: int) -> Iterator[Sign]:
    if analysis.traces is None or analysis.traces.empty:
        return
    events = analysis.events
    owner = analysis.traces["link"].to_numpy()[events["trace"].to_numpy()]
    fails = (events["verdict"] == "fail").to_numpy()
    for component, name in (("splice", "a splice"), ("mated pair", "a connection")):
        hit = fails & (events["component"] == component).to_numpy()
        yield f"trace shows {name}", *_at_worst(events, owner, hit, f"the trace shows {name} of ", count)
    bend = (events["kind"] == "bend").to_numpy() | _longer_wave_worse(events, owner)
    yield "trace shows a bend", *_at_worst(events, owner, bend, "the trace shows a bend of ", count)


def _at_worst(
    events: pd.DataFrame, owner: np.ndarray, hit: np.ndarray, what: str, count: int
) -> tuple[np.ndarray, np.ndarray]:
    """Whether some event of each link is hit, and the words for the one that loses most."""
    rows = pd.DataFrame({"link": owner, "loss": events["loss_db"].to_numpy(), "at": events["distance_m"].to_numpy()})[
        hit
    ]
    worst = (
        rows.sort_values("loss", ascending=False, kind="stable")
        .drop_duplicates("link")
        .set_index("link")
        .reindex(range(count))
    )
    text = what + printed(worst["loss"].to_numpy()) + " dB at " + printed(worst["at"].to_numpy(), 0) + " m"
    return worst["at"].notna().to_numpy(), text.astype(object)


def _longer_wave_worse(events: pd.DataFrame, owner: np.ndarray) -> np.ndarray:
    """Joints without reflection that lose more at 1550 or 1625 nm than at 1310 nm at the same place."""
    out = np.zeros(len(events), dtype=bool)
    table = pd.DataFrame(
        {
            "link": owner, "way": events["direction"].cat.codes.to_numpy(), "wave": events["wavelength_nm"].to_numpy(),
            "at": events["distance_m"].to_numpy(), "loss": events["loss_db"].to_numpy(), "row": np.arange(len(events)),
        }
    )[(events["component"] == "splice").to_numpy() & events["loss_db"].notna().to_numpy()].sort_values("at", kind="stable")  # fmt: skip
    short, long = table[table["wave"] == 1310], table[table["wave"].isin([1550, 1625])]
    if short.empty or long.empty:
        return out
    met = pd.merge_asof(
        long, short, on="at", by=["link", "way"], direction="nearest", tolerance=3, suffixes=("", "_short")
    )
    out[met.loc[(met["loss"] - met["loss_short"]).to_numpy() >= numbers()["bend_db"] - 1e-9, "row"].to_numpy()] = True
    return out
