"""Events of optical time-domain traces judged: each joint against what its kind may lose and reflect.

A joint of two fibers that scatter unequally seems to lose more one way and less, or even to gain, the other; the mean of
both directions is its loss (the apparent gain is not real: Marcuse 1977, by recall; the two-direction mean is common
practice). So where both directions are there the mean is judged, and a gain seen one way alone is not judged.

Event verdicts are shown and judged, and decide no link unless the job says `rules.events = "decide"`: what a link must
prove is its loss by light source and power meter.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.event_limits import event_limits
from analyzer.budget.glass import KIND_OF
from analyzer.budget.traces import PORT_M, tolerance_m, traces_of
from analyzer.budget.uncertainty import ZERO_MARGIN
from analyzer.budget.wording import printed
from analyzer.standards import medium_of

if TYPE_CHECKING:
    from analyzer.schema import Analysis
    from analyzer.standards import Values

GHOST_LOSS_DB = 0.05
"""An echo takes no light from the fiber: more loss than this is a joint. Common practice, no source."""
STRONG_DB = -35.0
"""Reflections at least this strong throw echoes that are seen; common practice, no source."""
GHOST_TOLERANCE_SHARE = 0.005
ECHOES = (1, 2)
"""How often the light goes between two reflections before the echo is too weak to be seen."""


def judge_traces(analysis: Analysis, values: Values) -> None:
    """Set `analysis.events` and `analysis.traces`: every event with its place, limits and verdicts.

    Events that fail make their link fail where the job orders it.
    """
    events = analysis.events
    if not len(events):
        return
    job, links = analysis.job, analysis.links
    launch, tail = (
        np.nan if length is None else float(length) for length in (job.facts.launch_cord_m, job.facts.tail_cord_m)
    )
    traces, trace = traces_of(events, analysis.records["link"].to_numpy(), links["length_m"].to_numpy(), launch, tail)
    traces["power_loss_db"] = _by_power_meter(analysis, traces)
    traces["difference_db"] = traces["trace_loss_db"] - traces["power_loss_db"]
    judged = judged_events(events, traces, trace, _ordered(analysis, traces), analysis)
    limits = event_limits(judged[["standard", "edition", "component", "glass"]], job, values)
    judged = judged.assign(**{str(name): limits[name].to_numpy() for name in limits})
    _set_verdicts(judged)
    table = schema.conform("judged_events", judged)
    analysis.events = pd.concat([events, table.drop(columns="event")], axis=1)
    analysis.traces = schema.conform("traces", traces)
    if job.rules.events == "decide":
        fail_by_events(analysis)


def fail_by_events(analysis: Analysis) -> None:
    """Links with a joint in them that fails: verdict fail, as the job orders; their sentence says so."""
    events, links = analysis.events, analysis.links
    failing = events[(events["verdict"] == "fail") & events["place"].isin(["near end", "inside", "far end"])]
    worst = failing.assign(link=analysis.traces["link"].to_numpy()[failing["trace"].to_numpy()])
    worst = worst.sort_values("margin_db", kind="stable").drop_duplicates("link")
    at = worst["link"].to_numpy()
    told = (
        "fail: " + worst["component"].astype("object") + " at " + printed(worst["distance_m"].to_numpy(), 0) + " m loses "
        + printed(worst["limit_db"].to_numpy() - worst["margin_db"].to_numpy()) + " dB, "
        + printed(worst["limit_db"].to_numpy()) + " dB allowed; the job lets events decide"
    )  # fmt: skip
    passed = links["verdict"].to_numpy()[at] != "fail"
    links.loc[at[passed], "verdict"] = "fail"
    links.loc[at[passed], "sentence"] = told.to_numpy(dtype=object)[passed]


def _ordered(analysis: Analysis, traces: pd.DataFrame) -> pd.DataFrame:
    """Standard, edition and glass of each trace; glass "" where neither link, record nor wavelength tells it."""
    facts = analysis.facts.take(traces["record"].to_numpy()).reset_index(drop=True)
    link_type = analysis.links["type"].to_numpy(dtype=object)[traces["link"].to_numpy()]
    types, names = pd.factorize(link_type)
    by_type = np.array([*(medium_of(str(name)) for name in names), None], dtype=object)[types]
    glass = pd.Series(by_type).fillna(facts["glass"].astype("object").map(KIND_OF))
    wave = traces["wavelength_nm"].to_numpy()
    by_wave = np.select(
        [np.isin(wave, (850, 1300)), np.isin(wave, (1490, 1550, 1577, 1625, 1650))], ["multimode", "single-mode"], ""
    )
    return pd.DataFrame(
        {
            "standard": facts["standard"].astype("object"), "edition": facts["edition"].astype("object"),
            "glass": glass.where(glass.notna(), by_wave),
        }
    )  # fmt: skip


def judged_events(
    events: pd.DataFrame, traces: pd.DataFrame, trace: np.ndarray, ordered: pd.DataFrame, analysis: Analysis
) -> pd.DataFrame:
    """Place, component, partner and mean of every event; limits and verdicts come after."""
    frame = pd.DataFrame(
        {
            "event": events["event"].to_numpy(), "trace": trace, "at": events["distance_m"].to_numpy(),
            "loss": events["loss_db"].to_numpy(), "reflectance": events["reflectance_db"].to_numpy(),
            "bound": events["reflectance_bound"].cat.codes.to_numpy(), "kind": events["kind"].astype("object").to_numpy(),
        }
    )  # fmt: skip
    for name in ("begins_m", "ends_m", "link", "wavelength_nm"):
        frame[name] = traces[name].to_numpy()[trace]
    frame["way"] = traces["direction"].cat.codes.to_numpy()[trace]
    frame["last"] = frame.groupby("trace")["at"].transform("max")
    frame["place"] = _places(frame)
    frame["position_m"] = np.select(
        [frame["way"] == 0, frame["way"] == 1], [frame["at"] - frame["begins_m"], frame["ends_m"] - frame["at"]], np.nan
    )
    frame["ghost"] = _ghosts(frame)
    frame["component"] = _components(frame)
    frame["gainer"] = frame["loss"].to_numpy() < -ZERO_MARGIN
    frame["partner"] = _partners(frame, _latest(traces, analysis)[trace])
    mate = frame["partner"].to_numpy()
    other = np.where(mate >= 0, frame["loss"].to_numpy()[mate], np.nan)
    frame["mean_db"] = (frame["loss"] + other) / 2
    return frame.assign(**{str(name): ordered[name].to_numpy(dtype=object)[trace] for name in ordered})


def _places(frame: pd.DataFrame) -> np.ndarray:
    at, begins, ends = (frame[name].to_numpy() for name in ("at", "begins_m", "ends_m"))
    near = tolerance_m(np.zeros(len(frame)))
    with np.errstate(invalid="ignore"):
        return np.select(
            [
                np.isnan(begins) | np.isnan(at),
                np.abs(at - begins) <= near,
                np.abs(at - ends) <= near,
                at < begins,
                at > ends,
            ],
            ["not known", "near end", "far end", "launch cord", "tail cord"],
            "inside",
        )


def _components(frame: pd.DataFrame) -> np.ndarray:
    """What each event is judged as: nothing at the port, in the cords, at an open end, and where it is no joint."""
    kind = frame["kind"].fillna("").to_numpy(dtype=object)
    shines = ~np.isnan(frame["reflectance"].to_numpy())
    pair = np.isin(kind, ["connection", "reflective"]) | ((kind == "") & shines)
    splice = np.isin(kind, ["splice", "not reflective", "gain"]) | (
        (kind == "") & ~shines & frame["loss"].notna().to_numpy()
    )
    at = frame["at"].to_numpy()
    open_end = (at >= frame["last"].to_numpy() - 1e-6) | (kind == "end")
    nothing = (
        (at <= PORT_M)
        | open_end
        | frame["ghost"].to_numpy()
        | frame["place"].isin(["launch cord", "tail cord"]).to_numpy()
    )
    return np.select([nothing | np.isnan(at), pair, splice], ["none", "mated pair", "splice"], "none")


def _ghosts(frame: pd.DataFrame) -> np.ndarray:
    """Reflections without loss where an echo of two stronger reflections would be seen.

    Light that goes once more between reflections at d1 and d2 comes back as if from d2 + (d2 - d1); the port of the
    instrument is one of them. The echo must be weaker than both.
    """
    out = np.zeros(len(frame), dtype=bool)
    at, strength = frame["at"].to_numpy(), frame["reflectance"].to_numpy()
    row = np.arange(len(frame))
    placed = ~np.isnan(at)
    table = pd.DataFrame({"trace": frame["trace"], "row": row, "at": at, "strength": strength})
    echo = table[placed & ~np.isnan(strength) & (at > PORT_M) & ~(frame["loss"].to_numpy() > GHOST_LOSS_DB)]
    strong = table[placed & (strength >= STRONG_DB) & (at > PORT_M)]
    if echo.empty or strong.empty:
        return out
    port = strong.drop_duplicates("trace").assign(row=-1, at=0.0, strength=0.0)
    nearer = pd.concat([strong, port], ignore_index=True)
    both = strong.merge(nearer, on="trace", suffixes=("", "_nearer"))
    both = both[both["at"] - both["at_nearer"] > PORT_M]
    met = echo.merge(both, on="trace", suffixes=("_echo", ""))
    gap = met["at"] - met["at_nearer"]
    weaker = met["strength_echo"] < np.minimum(met["strength"], met["strength_nearer"])
    close = np.maximum(1.0, GHOST_TOLERANCE_SHARE * met["at_echo"])
    hit = np.zeros(len(met), dtype=bool)
    for times in ECHOES:
        hit |= ((met["at_echo"] - met["at"] - times * gap).abs() <= close).to_numpy()
    out[met.loc[hit & weaker.to_numpy(), "row_echo"].to_numpy()] = True
    return out | (frame["kind"] == "ghost").to_numpy()


def _latest(traces: pd.DataFrame, analysis: Analysis) -> np.ndarray:
    """Whether each trace is the latest of its link, wavelength and direction."""
    tested = analysis.records["tested_at"].to_numpy()[traces["record"].to_numpy()]
    ranked = traces.assign(tested=tested).sort_values(["tested", "trace"], na_position="first", kind="stable")
    last = ranked.drop_duplicates(["link", "wavelength_nm", "direction"], keep="last")["trace"].to_numpy()
    return np.isin(traces["trace"].to_numpy(), last)


def _partners(frame: pd.DataFrame, latest: np.ndarray) -> np.ndarray:
    """Row of the same joint seen from the other end; -1 where there is none.

    At position L - x from the other end; where the cords are not told apart the two traces are taken to have the same
    cords in place, and the distances of one joint add up to the length of the trace.
    """
    out = np.full(len(frame), -1)
    joint = frame["component"].isin(["mated pair", "splice"]) & frame["loss"].notna() & (frame["way"] >= 0) & latest
    known = frame["position_m"].notna()
    along = frame["position_m"].where(known, np.where(frame["way"] == 0, frame["at"], frame["last"] - frame["at"]))
    table = pd.DataFrame(
        {
            "link": frame["link"], "wave": frame["wavelength_nm"], "known": known, "along": along, "way": frame["way"],
            "component": frame["component"], "last": frame["last"], "row": np.arange(len(frame)),
        }
    )[joint].sort_values("along", kind="stable")  # fmt: skip
    forth, back = table[table["way"] == 0], table[table["way"] == 1]
    if forth.empty or back.empty:
        return out
    by = ["link", "wave", "known", "component"]
    there = _nearest(forth, back, by)
    again = _nearest(back, forth, by)
    mutual = there.merge(again, left_on=["row", "row_other"], right_on=["row_other", "row"], suffixes=("", "_again"))
    out[mutual["row"].to_numpy()] = mutual["row_other"].to_numpy()
    out[mutual["row_other"].to_numpy()] = mutual["row"].to_numpy()
    return out


def _nearest(one: pd.DataFrame, other: pd.DataFrame, by: list[str]) -> pd.DataFrame:
    """Rows of `one` with the nearest row of `other` that is the same place."""
    met = pd.merge_asof(
        one, other.assign(along_other=other["along"]), on="along", by=by, direction="nearest", suffixes=("", "_other")
    )
    met = met[met["row_other"].notna()]
    same = (met["along"] - met["along_other"]).abs() <= tolerance_m(met["last"])
    traces_agree = met["known"] | ((met["last"] - met["last_other"]).abs() <= tolerance_m(met["last"]))
    return met.loc[same & traces_agree, ["row", "row_other"]].astype("int64")


def _by_power_meter(analysis: Analysis, traces: pd.DataFrame) -> np.ndarray:
    """Loss in force of the same link and wavelength by power meter, of the same direction where there is one, else the mean."""
    readings, judged = analysis.readings, analysis.judged
    use = (
        (readings["parameter"] == "loss") & readings["bound"].isna() & readings["value"].notna() & judged["in_force"]
    ).to_numpy()
    loss = pd.DataFrame(
        {
            "link": analysis.records["link"].to_numpy()[readings["record"].to_numpy()[use]],
            "wavelength_nm": readings["wavelength_nm"].to_numpy()[use],
            "way": readings["direction"].cat.codes.to_numpy()[use], "value": readings["value"].to_numpy()[use],
        }
    )  # fmt: skip
    both = loss.groupby(["link", "wavelength_nm"])["value"].mean()
    each = loss.groupby(["link", "wavelength_nm", "way"])["value"].mean()
    link, wave, way = traces["link"], traces["wavelength_nm"], traces["direction"].cat.codes
    one = each.reindex(pd.MultiIndex.from_arrays([link, wave, way])).to_numpy()
    mean = both.reindex(pd.MultiIndex.from_arrays([link, wave])).to_numpy()
    return np.where(np.isnan(one), mean, one)


def _set_verdicts(judged: pd.DataFrame) -> None:
    """Margins and verdicts of loss and of reflectance."""
    loss, mean, limit = (judged[name].to_numpy() for name in ("loss", "mean_db", "limit_db"))
    value = np.where(np.isnan(mean), loss, mean)
    margin = limit - value
    margin = np.where(np.abs(margin) <= ZERO_MARGIN, 0.0, margin)
    blind = np.isnan(margin) | (judged["gainer"].to_numpy() & np.isnan(mean))
    judged["margin_db"] = np.where(blind, np.nan, margin)
    judged["verdict"] = np.select([blind, margin >= 0], ["not judged", "pass"], "fail")
    strongest, shines = judged["reflectance_limit_db"].to_numpy(), judged["reflectance"].to_numpy()
    below, above = (judged["bound"].to_numpy() == code for code in (_BELOW, _ABOVE))
    away = strongest - shines
    away = np.where(np.abs(away) <= ZERO_MARGIN, 0.0, away)
    unsure = np.isnan(away) | (below & (away < 0)) | (above & (away > 0))
    judged["reflectance_margin_db"] = np.where(unsure, np.nan, away)
    judged["reflectance_verdict"] = np.select([unsure, (away >= 0) & ~above], ["not judged", "pass"], "fail")


_BELOW, _ABOVE = (schema.CATEGORIES["bound"].index(name) for name in ("below", "above"))
