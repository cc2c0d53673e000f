"""The same curves under different labels: point for point, or near enough that only one measurement can be behind them.

What is compared are the sketches that curves leave behind (`budget.curve_sketches`). Constant, tilt and bend are taken off
first, and what is usual for the kind of curve, for links of one cable type share them. What is left of insertion loss
is no more than the last digit, so it proves nothing and is not looked at; NEXT and return loss are told apart by their
ripple, which no two links share.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer.budget.curve_sketches import SKETCHED
from analyzer.insights.chances import EACH
from analyzer.insights.joined import Joined, chance_evidence, chance_words, counted, counted_words
from analyzer.insights.register import finding
from analyzer.insights.sketches import apart, chance_below, detrended, near_in_cells, together
from analyzer.schema import CATEGORIES, NO_POINT, Evidence, Finding

REACH_DB = 0.2
"""Distance of near-copies: two of the tenths that most exports print; a choice of ours, no source. Where the honest
curves of a job come so near as to make this common, it is less."""

FINEST_DB = 0.02
"""With less reach than a last digit nothing is looked for."""

FEWEST_LINKS, FEWEST_CURVES, FEWEST_BINS = 6, 4, 12
"""Fewest links of one kind of sweep, curves of a link and bins of a sketch that are compared; choices of ours."""

FILLED = 0.9
"""Share of the curves that must have a bin for it to be compared, and of those bins that a curve must have."""

TABLES = 12
"""How often the space of sketches is cut into cells at the least, over all kinds of curves."""

SAMPLE = 6000
"""Pairs of links whose distance is measured to learn how near honest links come."""

_CHUNK = 1024
_A, _B = 0, 1


class Sweeps(NamedTuple):
    """Links that were swept over the same frequencies."""

    link: np.ndarray
    """n links."""
    sketch: np.ndarray
    """n × k × 2 × b: links, kinds of curve (parameter and pair), ends, bins [dB]; NaN where there is no such curve."""
    reading: np.ndarray
    """n × k × 2 numbers of readings; -1 none."""
    hash: np.ndarray
    """n × k × 2 hashes of the points; 0 none."""


class Alike(NamedTuple):
    """Pairs of links whose curves agree."""

    pair: np.ndarray
    """p × 2 places in the sweeps."""
    turned: np.ndarray
    """p: end A of the one is end B of the other."""
    agree: np.ndarray
    """p curves that agree."""
    of: np.ndarray
    """p curves that both have."""
    apart_db: np.ndarray
    """p: median distance of the curves that agree [dB]."""


def same_curves(job: Joined) -> list[Finding]:
    """Curves with the same points to the digit under different labels."""
    curves = getattr(job.analysis, "curves", None)
    if curves is None or len(curves) < 2:
        return []
    table = pd.DataFrame({"hash": curves["hash"].to_numpy(), "link": job.link_of_record[curves["record"].to_numpy()]})
    table = table[table["hash"] != 0].drop_duplicates()
    shared = table[table.groupby("hash")["link"].transform("size") > 1]
    found = []
    links_of = shared.groupby("hash", sort=False)["link"].agg(lambda links: " ".join(map(str, sorted(links))))
    for links, count in links_of.value_counts(sort=False).items():
        labels = job.labels(np.array(str(links).split(), dtype=np.int64))
        message = (
            f"{counted_words(int(count), 'curve')} of {' and '.join(labels[:4])} are the same point for point, of {len(curves)} "
            "curves in all"
        )
        evidence = [counted("curves that are the same", int(count)), counted("curves looked at", len(curves))]
        found.append(finding("same-readings", message, labels, evidence=evidence))
    return found


def near_curves(job: Joined) -> list[Finding]:
    """Links of which at least half of the curves agree to hardly more than the last digit, ends exchanged or not."""
    found = []
    for sweeps in _sweeps(job):
        reach, chance = reach_of(sweeps)
        if reach < FINEST_DB:
            continue
        alike = alike_links(sweeps, reach)
        if len(alike.pair):
            n = len(sweeps.link)
            found += _told(job, sweeps, alike, n * (n - 1) * chance)
    return found


def _sweeps(job: Joined) -> Iterator[Sweeps]:
    """The curves in force of NEXT and return loss, those over the same frequencies together."""
    analysis = job.analysis
    curves = analysis.curves
    if len(curves) < FEWEST_LINKS * FEWEST_CURVES or len(job.links) < FEWEST_LINKS:
        return
    reading = curves["reading"].to_numpy()
    use = (curves["sketch"].to_numpy() >= 0) & (reading >= 0)
    use &= analysis.judged["in_force"].to_numpy()[np.maximum(reading, 0)]
    table = curves[use].reset_index(drop=True)
    table["link"] = job.link_of_record[table["record"].to_numpy()]
    codes = [table[name].cat.codes.astype(np.int64) for name in ("parameter", "pair", "direction")]
    table["kind"] = (codes[0] * 16 + codes[1] + 1) * 4 + codes[2] + 1
    table["side"] = np.where(table["end"] == CATEGORIES["end"][_B], _B, _A)
    table = table.drop_duplicates(["link", "kind", "side"])
    span = ["n", "f_min_mhz", "f_max_mhz"]
    wide = table.groupby(["parameter", *span], observed=True, sort=False).ngroup()
    # a sweep is known by the spans of all its parameters, so that one link stands in one of them
    first = wide.groupby([table["link"], table["parameter"]], observed=True).transform("first")
    table = table[(wide == first).to_numpy()]
    mark = table.assign(wide=first).drop_duplicates(["link", "wide"]).sort_values(["link", "wide"])
    sweep = mark.groupby("link")["wide"].agg(lambda spans: " ".join(map(str, spans)))
    for _, rows in table.groupby(table["link"].map(sweep), sort=False):
        made = _sketched(rows, analysis.sketches)
        if made is not None:
            yield made


def _sketched(rows: pd.DataFrame, sketches: np.ndarray) -> Sweeps | None:
    link, at = np.unique(rows["link"].to_numpy(), return_inverse=True)
    kinds, kind = np.unique(rows["kind"].to_numpy(), return_inverse=True)
    if len(link) < FEWEST_LINKS or len(rows) < FEWEST_LINKS * FEWEST_CURVES:
        return None
    side, at_sketch = rows["side"].to_numpy(), rows["sketch"].to_numpy()
    parts = []
    for number in range(len(kinds)):
        own = np.flatnonzero(kind == number)
        steps = sketches[at_sketch[own]]
        value = np.where(steps == NO_POINT, np.nan, steps.astype(np.float32) / 100)
        bins = np.isfinite(value).mean(axis=0) >= FILLED
        whole = np.isfinite(value[:, bins]).sum(axis=1) >= FILLED * bins.sum()
        if bins.sum() >= FEWEST_BINS and whole.sum() >= FEWEST_LINKS:
            parts.append((own[whole], detrended(value[whole][:, bins])))
    if not parts:
        return None
    # kinds swept over other frequencies fill other bins: the shorter are drawn out with nothing
    width = max(part.shape[1] for _, part in parts)
    sketch = np.full((len(link), len(parts), 2, width), np.nan, dtype=np.float32)
    reading = np.full(sketch.shape[:3], -1, dtype=np.int64)
    hashes = np.zeros(sketch.shape[:3], dtype=np.uint64)
    for number, (own, part) in enumerate(parts):
        place = at[own], number, side[own]
        sketch[place] = 0.0
        sketch[(*place, slice(part.shape[1]))] = part * np.sqrt(width / part.shape[1])
        reading[place] = rows["reading"].to_numpy()[own]
        hashes[place] = rows["hash"].to_numpy()[own]
    return Sweeps(link, sketch, reading, hashes)


def reach_of(sweeps: Sweeps) -> tuple[float, float]:
    """How far apart near-copies may be, and the chance that two honest links come as near, one way round.

    The distance of two links is the one that half of their curves keep. Pairs that are nearer than twice the largest
    reach are taken for copies and left out: were they honest, there would be others a little farther apart.
    """
    n = len(sweeps.link)
    if n * (n - 1) // 2 <= SAMPLE:
        one, other = np.triu_indices(n, 1)
    else:
        one, other = np.random.default_rng(20261130).integers(0, n, (2, SAMPLE))
        one, other = one[one != other], other[one != other]
    both = [_half(_distances(sweeps, np.c_[one, other], np.full(len(one), way))) for way in (False, True)]
    distances = np.concatenate(both)
    distances = distances[distances > 2 * REACH_DB]
    tried = np.geomspace(REACH_DB, FINEST_DB, 16)
    chance = chance_below(distances, tried)
    fits = n * (n - 1) * chance < EACH
    if not fits.any():
        return 0.0, 1.0
    widest = int(np.argmax(fits))
    return float(tried[widest]), float(chance[widest])


def alike_links(sweeps: Sweeps, reach_db: float) -> Alike:
    """Pairs of links of which at least half of the curves are no farther apart than `reach_db`.

    Found through any one of their curves: the links are compared as a whole only where some curve of the one lies in a
    cell with that of the other.
    """
    n, kinds, _, width = sweeps.sketch.shape
    generator = np.random.default_rng(20261130)
    keys = []
    for number in list(range(kinds)) * -(-TABLES // kinds):
        rows = sweeps.sketch[:, number].reshape(2 * n, width)
        there = np.flatnonzero(np.isfinite(rows[:, 0]))
        near = there[near_in_cells(rows[there], reach_db, generator)]
        near = np.sort(near, axis=1)
        link, side = near // 2, near % 2
        keys.append(np.unique((link[:, 0] * n + link[:, 1]) * 2 + (side[:, 0] != side[:, 1])))
    key = np.unique(np.concatenate(keys))
    pair, turned = np.c_[key // 2 // n, key // 2 % n], key % 2 == 1
    pair, turned = pair[pair[:, 0] != pair[:, 1]], turned[pair[:, 0] != pair[:, 1]]
    distance = _distances(sweeps, pair, turned)
    of, agree = np.isfinite(distance).sum(axis=1), (distance <= reach_db).sum(axis=1)
    kept = np.flatnonzero((of >= FEWEST_CURVES) & (2 * agree >= of) & ~_same_points(sweeps, pair, turned))
    distance = np.where(distance <= reach_db, distance, np.nan)[kept]
    middle = np.nanmedian(distance, axis=1) if len(kept) else np.empty(0)
    return Alike(pair[kept], turned[kept], agree[kept], of[kept], middle)


def _distances(sweeps: Sweeps, pair: np.ndarray, turned: np.ndarray) -> np.ndarray:
    """Distances of the curves of pairs of links, p × 2k [dB]; NaN where one of them lacks the curve."""
    out = np.empty((len(pair), sweeps.sketch.shape[1] * 2), dtype=np.float32)
    for begin in range(0, len(pair), _CHUNK):
        part = slice(begin, begin + _CHUNK)
        one, other = (sweeps.sketch[pair[part, side]] for side in (0, 1))
        other = np.where(turned[part, None, None, None], other[:, :, ::-1], other)
        out[part] = apart(one, other).reshape(len(one), -1)
    return out


def _half(distance: np.ndarray) -> np.ndarray:
    """The distance that half of the curves of each pair keep; pairs with too few curves are left out."""
    of = np.isfinite(distance).sum(axis=1)
    distance, of = distance[of >= FEWEST_CURVES], of[of >= FEWEST_CURVES]
    ordered = np.sort(distance, axis=1)
    return np.asarray(ordered[np.arange(len(of)), (of + 1) // 2 - 1])


def _same_points(sweeps: Sweeps, pair: np.ndarray, turned: np.ndarray) -> np.ndarray:
    """Pairs of links with curves that are the same to the digit: those are told as such."""
    one, other = (sweeps.hash[pair[:, side]] for side in (0, 1))
    other = np.where(turned[:, None, None], other[:, :, ::-1], other)
    return np.asarray(((one == other) & (one != 0)).any(axis=(1, 2)))


def _told(job: Joined, sweeps: Sweeps, alike: Alike, expected: float) -> list[Finding]:
    """One finding for the groups of links of the same cables: a room copied link by link is one copy."""
    cables = job.links["cable"].astype("object").fillna("").to_numpy()
    groups: dict[tuple[str, ...], list[np.ndarray]] = {}
    for group in together(alike.pair):
        groups.setdefault(tuple(sorted(set(map(str, cables[sweeps.link[group]])))), []).append(group)
    looked = f"among {len(sweeps.link)} links with curves"
    found = []
    for some in groups.values():
        at = int(np.flatnonzero(np.isin(alike.pair[:, 0], some[0]))[0])
        names = job.links["label"].to_numpy()[sweeps.link[some[0]]]
        more = f" and {len(names) - 4} more" if len(names) > 4 else ""
        also = f", and {counted_words(len(some) - 1, 'more group')} of these cables" if len(some) > 1 else ""
        ends = ", the ends exchanged," if alike.turned[at] else ""
        message = (
            f"{' and '.join(map(str, names[:4]))}{more} agree{ends} in {alike.agree[at]} of {alike.of[at]} curves "
            f"of {' and '.join(SKETCHED)} to about {max(alike.apart_db[at], 0.01):.2f} dB over all frequencies, a "
            f"constant and a smooth trend taken off{also}; {chance_words(len(alike.pair), expected, looked)}"
        )
        evidence = [
            *chance_evidence(len(alike.pair), expected),
            counted("curves that agree", int(alike.agree[at])), counted("curves looked at", int(alike.of[at])),
            counted("median distance of the curves that agree", float(alike.apart_db[at]), "dB"),
            *_side_by_side(job, sweeps, alike, at),
        ]  # fmt: skip
        links = job.labels(sweeps.link[np.concatenate(some)])
        found.append(finding("curves-alike", message, links, evidence=evidence))
    return found


def _side_by_side(job: Joined, sweeps: Sweeps, alike: Alike, at: int) -> tuple[Evidence, ...]:
    """The same curve of each of two links one after the other, where they stand in the files."""
    one, other = (sweeps.reading[place] for place in alike.pair[at])
    other = other[:, ::-1] if alike.turned[at] else other
    both = np.c_[one.ravel(), other.ravel()]
    return job.of_readings(both[(both >= 0).all(axis=1)].ravel())
