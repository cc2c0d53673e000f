"""The same readings under different labels: whole records, stretches of a cable, near-copies, both directions alike.

No pair of links is compared with every other: equal readings meet in one hash, near ones in a cell of a few random
projections (Datar, Immorlica, Indyk and Mirrokni 2004, Symp. Comput. Geom. 253). What two honest links have in common
by chance is worked out from the spread of the job itself and printed beside what was seen.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer.insights.chances import EACH, MAD_TO_SIGMA, at_least, poisson_at_least, same_cell, threshold
from analyzer.insights.joined import Joined, chance_evidence, chance_words, counted_words, group_numbers
from analyzer.insights.register import finding
from analyzer.schema import CATEGORIES, Evidence, Finding

FEWEST_NUMBERS = 2
"""Fewest readings of a link that are compared with those of another."""

NEAR_NUMBERS = 8
"""Fewest readings for a near-copy: with fewer, honest links come as near (T1 of the practice notes, common practice)."""

NEAR_STEPS = 2.0
"""How many last-place steps each reading of a near-copy may differ by; a choice of ours, no source."""

STRETCH = 4
"""Neighboring strands that must agree one by one before a copied stretch is told; a choice of ours, no source."""

REPEATABILITY_DB = 0.02
"""Spread of two honest readings of one strand, where the job has none to learn from (common practice, no source)."""

CROWD, MANY_TIMES = 4, 3
"""Where some pairs are equal by chance, links are told that agree four and more together, and only if the job has more
than three times as many equal pairs as chance gives; choices of ours, no source."""

_A_B, _B_A = (CATEGORIES["direction"].index(name) for name in ("A-B", "B-A"))


class Vectors(NamedTuple):
    """Links of one job that were read in the same ways: their numbers in last-place steps."""

    link: np.ndarray
    """n links."""
    kind: np.ndarray
    """k kinds, rising."""
    steps: np.ndarray
    """n × k values in units of the last digit written."""
    cable: np.ndarray
    """Number of the cable of each link, n."""


def same_readings(job: Joined) -> list[Finding]:
    """Links whose readings are the same to the digit, ends exchanged or not, where chance does not make it so."""
    found = []
    for vectors in job.once("vectors", _all_vectors):
        exact = _canonical(job, vectors)
        groups = _groups_of_equals(exact)
        if groups:
            expected = _expected_equal(vectors)
            seen = sum(len(group) * (len(group) - 1) // 2 for group in groups)
            beyond = poisson_at_least(seen, expected) < EACH
            if beyond and expected < EACH * 10:
                found += _told_equal(job, vectors, groups, expected)
                continue
            crowds = [group for group in groups if len(group) >= CROWD]
            if beyond and crowds and seen > MANY_TIMES * expected:
                found += _told_equal(job, vectors, crowds, expected)
                # links that crowd hide no copied stretch of the others
                exact = _apart(exact, np.concatenate(crowds))
        found += _copied_stretches(job, vectors, exact)
    return found


def _apart(exact: np.ndarray, told: np.ndarray) -> np.ndarray:
    """The hashes of the links, those that are told already made unlike any other."""
    apart = exact.copy()
    apart[told] = _mix(exact[told] + told.astype(np.uint64))
    return apart


def near_copies(job: Joined) -> list[Finding]:
    """Links whose many readings differ by hardly more than the last digit, though not all are equal."""
    found = []
    for vectors in job.once("vectors", _all_vectors):
        if len(vectors.kind) < NEAR_NUMBERS or len(vectors.link) < 3:
            continue
        pairs = [
            (one, other)
            for one, other in near_pairs(vectors.steps, NEAR_STEPS)
            if (vectors.steps[one] != vectors.steps[other]).any()
        ]
        if not pairs:
            continue
        expected = _pairs_of(len(vectors.link)) * same_cell(_spread(vectors.steps, vectors.cable), 2 * NEAR_STEPS)
        if poisson_at_least(len(pairs), expected) >= EACH:
            continue
        looked = f"among {counted_words(len(vectors.link), 'link')} with {len(vectors.kind)} readings each"
        for one, other in pairs:
            links = job.labels(vectors.link[[one, other]])
            most = int(np.abs(vectors.steps[one] - vectors.steps[other]).max().round())
            message = (
                f"{links[0]} and {links[1]} agree in all {len(vectors.kind)} readings to {most} of the last digit; "
                f"{chance_words(len(pairs), expected, looked)}"
            )
            rows = _rows_of(job, vectors.link[[one, other]])
            found.append(finding("near-copy", message, links, evidence=[*chance_evidence(len(pairs), expected), *rows]))
    return found


def directions_alike(job: Joined) -> list[Finding]:
    """Cables of which both directions read the same to the digit far more often than two honest readings do."""
    losses = job.losses
    keys = ["link", "wavelength_nm"]
    forth, back = (losses[losses["direction"] == way] for way in (_A_B, _B_A))
    if forth.empty or back.empty:
        return []
    both = forth.merge(back, on=keys, suffixes=("", "_back")).drop_duplicates(keys)
    if both.empty:
        return []
    step = 10.0 ** -both[["decimals", "decimals_back"]].max(axis=1).clip(lower=0).to_numpy()
    apart = (both["value"] - both["value_back"]).to_numpy()
    equal = np.abs(apart) < step / 2
    cable = group_numbers(both, ["cable"])
    count, alike = np.bincount(cable), np.bincount(cable, equal)
    if not (alike >= count / 2).any():
        return []
    rate = _usual_share(apart, equal, cable, float(np.median(step)))
    chance = at_least(alike, count, rate)
    found = []
    for number in np.flatnonzero((chance < threshold(len(count))) & (alike >= count / 2)).tolist():
        rows = both[(cable == number) & equal]
        name = rows["cable"].iloc[0]
        seen, expected = int(alike[number]), float(count[number] * rate[number])
        message = (
            f"{f'cable {name}' if isinstance(name, str) else 'these links'}: both directions read the same to the last "
            f"digit; {chance_words(seen, expected, f'among {count[number]} pairs of readings')}"
        )
        links = job.labels(rows["link"])
        places = job.of_readings(rows[["reading", "reading_back"]].to_numpy().ravel())
        found.append(finding("directions-alike", message, links, evidence=[*chance_evidence(seen, expected), *places]))
    return found


def _usual_share(apart: np.ndarray, equal: np.ndarray, cable: np.ndarray, step: float) -> np.ndarray:
    """For each cable: share of readings that honest directions have equal, from the spread on the other cables."""
    rest = np.abs(apart - pd.Series(apart).groupby(cable).transform("median").to_numpy())
    cables = pd.Series(rest[~equal]).groupby(cable[~equal]).agg(["median", "size"])
    cables = cables[cables["size"] >= 3].reindex(np.arange(int(cable.max()) + 1))
    own = cables["median"].to_numpy(dtype=float)
    known = np.flatnonzero(np.isfinite(own))
    spread = np.full(len(own), REPEATABILITY_DB)
    if len(known) >= 2:
        # the median of the others is the middle of all or a neighbor of it
        ranked = np.sort(own[known])
        place = np.searchsorted(ranked, own)
        middle = np.where(
            np.isfinite(own) & (place <= (len(ranked) - 1) // 2), len(ranked) // 2, (len(ranked) - 1) // 2
        )
        spread = np.maximum(MAD_TO_SIGMA * ranked[middle], REPEATABILITY_DB)
    return np.asarray([same_cell(np.array([[one**2]]), step) for one in spread])


def near_pairs(points: np.ndarray, reach: float, tables: int = 10, axes: int = 4) -> list[tuple[int, int]]:
    """Pairs of rows that differ by no more than `reach` in every column, found without comparing all with all.

    Args:
        points: n × k.
        reach: largest difference in any column.
        tables: how many times the space is cut into cells; more find more.
        axes: random projections that make one cell.

    Returns:
        (i, j) with i < j, sorted. Two rows at the very edge of `reach` may be missed; rows beyond it never come.
    """
    generator = np.random.default_rng(20260926)
    centered = points - np.median(points, axis=0)
    pairs: set[tuple[int, int]] = set()
    width = 10 * reach
    for _ in range(tables):
        directions = generator.normal(size=(points.shape[1], axes))
        directions /= np.linalg.norm(directions, axis=0)
        cells = np.floor((centered @ directions) / width + generator.random(axes)).astype(np.int64)
        mixed = _mix(cells.astype(np.uint64) @ generator.integers(1, 2**62, axes).astype(np.uint64))
        for group in _groups_of_equals(mixed):
            if len(group) <= MOST_IN_CELL:
                pairs |= _near_in_cell(points, group, reach)
    return sorted(pairs)


MOST_IN_CELL = 64
"""A cell with more rows tells nothing apart: its pairs are left to the finer cells of other tables."""


def _near_in_cell(points: np.ndarray, group: np.ndarray, reach: float) -> set[tuple[int, int]]:
    inside = points[group]
    apart = np.abs(inside[:, None, :] - inside[None, :, :]).max(axis=2)
    first, second = np.nonzero(np.triu(apart <= reach + 1e-6, k=1))
    return {(int(group[i]), int(group[j])) for i, j in zip(first, second, strict=True)}


def _all_vectors(job: Joined) -> list[Vectors]:
    return list(_vectors(job))


def _vectors(job: Joined) -> Iterator[Vectors]:
    """Links with the same set of readings, as a matrix; links of another set stand in another matrix."""
    live = job.kinds
    # a curve is one reading here, at the place of its worst margin: curves are compared by `curve_copies`
    live = live[~(job.analysis.judged["basis"] == "curve").to_numpy()[live["reading"].to_numpy()]]
    if live.empty or len(job.links) < 2:
        return
    once = live.drop_duplicates(["link", "kind"], keep="first")
    signature = np.zeros(len(job.links), dtype=np.uint64)
    np.add.at(signature, once["link"].to_numpy(), _mix(once["kind"].to_numpy().astype(np.uint64)))
    # what most are written with: a few typed in with more decimals do not make the others finer
    decimals = once["decimals"].clip(lower=0).groupby(once["kind"]).transform("median").astype(int)
    once = once.assign(steps=np.round(once["value"] * 10.0**decimals), signature=signature[once["link"].to_numpy()])
    cables = group_numbers(job.links, ["cable"])
    cables = np.where(job.links["cable"].isna(), -1 - np.arange(len(job.links)), cables)
    for _, rows in once.groupby("signature", sort=False):
        link, at = np.unique(rows["link"].to_numpy(), return_inverse=True)
        kind, column = np.unique(rows["kind"].to_numpy(), return_inverse=True)
        if len(kind) < FEWEST_NUMBERS or len(link) < 2:
            continue
        steps = np.zeros((len(link), len(kind)))
        steps[at, column] = rows["steps"].to_numpy()
        yield Vectors(link, kind, steps, cables[link])


def _canonical(job: Joined, vectors: Vectors) -> np.ndarray:
    """One hash for the readings of each link, the same where the ends are exchanged."""
    live = job.kinds
    known = live.drop_duplicates("kind").set_index("kind")["swapped"]
    swapped = known.reindex(vectors.kind).to_numpy()
    values = vectors.steps.astype(np.int64).astype(np.uint64)
    hashes = [
        _mix(values ^ _mix(kinds.astype(np.uint64))[None, :]).sum(axis=1, dtype=np.uint64)
        for kinds in (vectors.kind, swapped)
    ]
    return np.asarray(np.minimum(hashes[0], hashes[1]))


def _mix(numbers: np.ndarray) -> np.ndarray:
    """Scrambled 64-bit numbers (the finalizer of splitmix64, Steele, Lea and Flood 2014)."""
    x = numbers.astype(np.uint64) + np.uint64(0x9E3779B97F4A7C15)
    x = (x ^ (x >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    x = (x ^ (x >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.asarray(x ^ (x >> np.uint64(31)))


def _groups_of_equals(numbers: np.ndarray) -> list[np.ndarray]:
    """Positions of the numbers that stand there more than once, one array for each."""
    order = np.argsort(numbers, kind="stable")
    ordered = numbers[order]
    starts = np.flatnonzero(np.r_[True, ordered[1:] != ordered[:-1]])
    sizes = np.diff(np.r_[starts, len(ordered)])
    several = np.flatnonzero(sizes > 1)
    return [order[starts[i] : starts[i] + sizes[i]] for i in several]


def _spread(steps: np.ndarray, cable: np.ndarray) -> np.ndarray:
    """Covariance of the readings within cables, single wild strands drawn in; over all links where cables are single."""
    frame = pd.DataFrame(steps)
    _, sizes = np.unique(cable, return_counts=True)
    grouped = frame.groupby(cable) if (sizes > 1).sum() >= 1 else None
    rest = (frame - (grouped.transform("median") if grouped is not None else frame.median())).to_numpy()
    if grouped is not None:
        several = grouped[0].transform("size").to_numpy() > 1
        rest = rest[several]
    bound = 3 * MAD_TO_SIGMA * np.median(np.abs(rest), axis=0) + 1
    covariance = np.atleast_2d(np.cov(np.clip(rest, -bound, bound), rowvar=False))
    return np.asarray(np.nan_to_num(covariance))


def _expected_equal(vectors: Vectors) -> float:
    """Pairs of honest links that would agree in every digit: within cables by their spread, between them by all."""
    n = len(vectors.link)
    _, sizes = np.unique(vectors.cable, return_counts=True)
    inside = float((sizes * (sizes - 1) / 2).sum())
    within_cables = same_cell(_spread(vectors.steps, vectors.cable))
    between = same_cell(_spread(vectors.steps, np.zeros(n)))
    return inside * within_cables + (_pairs_of(n) - inside) * between


def _pairs_of(n: int) -> float:
    return n * (n - 1) / 2


def _told_equal(job: Joined, vectors: Vectors, groups: list[np.ndarray], expected: float) -> list[Finding]:
    """One finding for the equal links of the same cables: a cable copied strand by strand is one copy."""
    together: dict[tuple[int, ...], list[np.ndarray]] = {}
    for group in groups:
        together.setdefault(tuple(np.unique(vectors.cable[group]).tolist()), []).append(group)
    seen = sum(len(group) * (len(group) - 1) // 2 for group in groups)
    looked = f"among {counted_words(len(vectors.link), 'link')}"
    found = []
    for some in together.values():
        links = vectors.link[np.concatenate(some)]
        first = job.links["label"].to_numpy()[vectors.link[some[0]]]
        also = f", and {counted_words(len(some) - 1, 'more group')} of these cables" if len(some) > 1 else ""
        message = (
            f"{' and '.join(map(str, first[:4]))} have the same {len(vectors.kind)} readings to the last digit{also}; "
            f"{chance_words(seen, expected, looked)}"
        )
        evidence = [*chance_evidence(seen, expected), *_rows_of(job, vectors.link[some[0]])]
        found.append(finding("same-readings", message, job.labels(links), evidence=evidence))
    return found


def _rows_of(job: Joined, links: np.ndarray) -> tuple[Evidence, ...]:
    live = job.kinds
    rows = live[live["link"].isin(links)]
    # side by side: the same reading of each link, so that the eye can compare
    return job.of_readings(rows.sort_values(["kind", "link"], kind="stable")["reading"].to_numpy())


def _copied_stretches(job: Joined, vectors: Vectors, exact: np.ndarray) -> list[Finding]:
    """Stretches of neighboring strands that agree one by one with a stretch of another cable.

    Two losses of a strand alone prove nothing, many strands in the same order do.
    """
    n = len(vectors.link)
    strand = job.links["strand"].to_numpy()[vectors.link]
    order = np.lexsort((strand, vectors.cable))
    values, cable, numbers = exact[order], vectors.cable[order], strand[order]
    last = n - STRETCH + 1
    if last < 2:
        return []
    window = np.zeros(last, dtype=np.uint64)
    whole = np.ones(last, dtype=bool)
    for step in range(STRETCH):
        window = _mix(window) + values[step : last + step]
        whole &= (cable[step : last + step] == cable[:last]) & (numbers[step : last + step] == numbers[:last] + step)
    at = np.flatnonzero(whole & (cable[:last] >= 0))
    equal = sum(len(group) * (len(group) - 1) / 2 for group in _groups_of_equals(exact)) / _pairs_of(n)
    expected = _pairs_of(len(at)) * equal**STRETCH
    groups = [at[group] for group in _groups_of_equals(window[at])]
    groups = [group for group in groups if len(np.unique(cable[group])) > 1]
    if not groups or poisson_at_least(len(groups), expected) >= EACH:
        return []
    taken = np.unique(np.concatenate(groups)[:, None] + np.arange(STRETCH))
    links = job.labels(vectors.link[order[taken]])
    cables = pd.unique(job.links["cable"].to_numpy()[vectors.link[order[taken]]])
    looked = f"among {counted_words(len(at), 'stretch', 'stretches')} of {STRETCH} strands"
    message = (
        f"strands of {' and '.join(map(str, cables[:4]))} have the same readings in the same order; "
        f"{chance_words(len(groups), expected, looked)}"
    )
    rows = _rows_of(job, vectors.link[order[taken]])
    return [finding("same-readings", message, links, evidence=[*chance_evidence(len(groups), expected), *rows])]
