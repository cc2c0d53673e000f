"""Labels against the schedule and the job's pattern: near misses paired as a whole, one end's label, the pattern."""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from analyzer.importing.words import word
from analyzer.insights.joined import Joined, counted, counted_words
from analyzer.insights.register import finding
from analyzer.schema import Evidence, Finding

NEAR_ENOUGH = 88.0
"""Score of rapidfuzz (0 to 100) from which two labels are told as nearly the same; a choice of ours, no source."""

MOST_IN_BLOCK = 1_000_000
"""Pairs of labels compared inside one block at the most; a larger block is told apart by nothing but a number."""

PAIRS_TOLD = 3

_LOOK_ALIKE = str.maketrans({"o": "0", "l": "1", "i": "1", "s": "5", "b": "8", "z": "2"})
_NO_SIGN = re.compile(r"[\W_]+")
_ZEROS = re.compile(r"(?<![0-9])0+(?=[0-9])")


class Pair(NamedTuple):
    """A tested label and the scheduled one that it may stand for: places in the two lists, and their likeness."""

    tested: int
    scheduled: int
    score: float


def near_misses(extra: pd.Series, absent: pd.DataFrame) -> list[Finding]:
    """Tested labels that nearly match scheduled ones without a result, one finding for each scheduled cable.

    Args:
        extra: labels that the schedule does not know.
        absent: rows of the schedule without a result.
    """
    tested, scheduled = extra.to_numpy(dtype=object), absent["label"].to_numpy(dtype=object)
    by_cable: dict[str, list[Pair]] = defaultdict(list)
    cables = absent["cable"].astype("object").fillna("").to_numpy(dtype=object)
    for pair in best_pairs(tested, scheduled):
        by_cable[str(cables[pair.scheduled])].append(pair)
    found = []
    for pairs in by_cable.values():
        labels = [str(tested[pair.tested]) for pair in pairs]
        evidence = [
            Evidence(f"{tested[pair.tested]} for {scheduled[pair.scheduled]}: likeness of 100", round(pair.score, 1))
            for pair in pairs
        ]
        found.append(finding("label-near-miss", _sentence(pairs, tested, scheduled), labels, evidence=evidence))
    return found


def _sentence(pairs: list[Pair], tested: np.ndarray, scheduled: np.ndarray) -> str:
    first = pairs[0]
    if len(pairs) == 1:
        return (
            f'tested "{tested[first.tested]}" nearly matches scheduled "{scheduled[first.scheduled]}" without a result '
            f"(score {first.score:.0f} of 100)"
        )
    shown = ", ".join(f'"{tested[p.tested]}" for "{scheduled[p.scheduled]}"' for p in pairs[:PAIRS_TOLD])
    more = f" and {len(pairs) - PAIRS_TOLD} more" if len(pairs) > PAIRS_TOLD else ""
    return f"{len(pairs)} tested labels nearly match scheduled ones without a result: {shown}{more}"


def best_pairs(tested: Sequence[str] | np.ndarray, scheduled: Sequence[str] | np.ndarray) -> list[Pair]:
    """The pairing of the two lists with the most likeness in all, each label in one pair at the most.

    Optimal assignment (Kuhn 1955) within each set of labels that hang together; labels are only compared where they
    share a form: the same without signs, zeros and look-alike letters, or the same first or second half.
    """
    candidates = {(pair.tested, pair.scheduled): pair.score for pair in _candidates(tested, scheduled)}
    pairs: list[Pair] = []
    for left, right in _components(candidates):
        if len(left) == 1 and len(right) == 1:
            pairs.append(Pair(left[0], right[0], candidates[left[0], right[0]]))
        else:
            pairs += _assigned(left, right, candidates)
    return sorted(pairs)


def _assigned(left: list[int], right: list[int], candidates: dict[tuple[int, int], float]) -> list[Pair]:
    from scipy.optimize import linear_sum_assignment  # type: ignore[import-untyped]  # scipy brings no types

    row, column = {at: i for i, at in enumerate(left)}, {at: i for i, at in enumerate(right)}
    scores = np.zeros((len(left), len(right)))
    inside = set(left)
    for (one, other), score in candidates.items():
        if one in inside:
            # one more pair always outweighs a better likeness of the others
            scores[row[one], column[other]] = 1000 + score
    chosen = linear_sum_assignment(scores, maximize=True)
    return [
        Pair(left[i], right[j], candidates[left[i], right[j]])
        for i, j in zip(*(part.tolist() for part in chosen), strict=True)
        if scores[i, j] > 0
    ]


def _candidates(tested: Sequence[str] | np.ndarray, scheduled: Sequence[str] | np.ndarray) -> Iterator[Pair]:
    from rapidfuzz import fuzz, process

    ours, theirs = [folded(str(text)) for text in tested], [folded(str(text)) for text in scheduled]
    for left, right in _blocks(ours, theirs):
        if len(left) * len(right) > MOST_IN_BLOCK:
            continue
        names, others = [str(tested[i]) for i in left], [str(scheduled[j]) for j in right]
        written = process.cdist(names, others, scorer=fuzz.ratio, score_cutoff=NEAR_ENOUGH)
        for i, j in zip(*(part.tolist() for part in np.nonzero(written)), strict=True):
            yield Pair(left[i], right[j], float(written[i, j]))
    whole = defaultdict(list)
    for j, text in enumerate(theirs):
        whole[text].append(j)
    for i, text in enumerate(ours):
        for j in whole.get(text, []) if text else []:
            # the same but for signs, zeros and look-alikes: as near as can be, whatever the letters say
            yield Pair(i, j, max(float(fuzz.ratio(str(tested[i]), str(scheduled[j]))), NEAR_ENOUGH))


def _blocks(ours: list[str], theirs: list[str]) -> Iterator[tuple[list[int], list[int]]]:
    """Labels that share their first or their second half: one wrong letter leaves one of the halves whole."""
    for part in (0, 1):
        left: dict[str, list[int]] = defaultdict(list)
        right: dict[str, list[int]] = defaultdict(list)
        for table, texts in ((left, ours), (right, theirs)):
            for at, text in enumerate(texts):
                for half in _halves(text, part):
                    table[half].append(at)
        for half, members in left.items():
            if half in right:
                yield members, right[half]


def _halves(text: str, part: int) -> set[str]:
    """First or second half, one letter more and less as well: two labels may differ in length by two."""
    middle = len(text) // 2
    cuts = range(max(middle - 1, 1), min(middle + 1, len(text)) + 1)
    return {text[:cut] if part == 0 else text[len(text) - cut :] for cut in cuts}


def _components(candidates: dict[tuple[int, int], float]) -> list[tuple[list[int], list[int]]]:
    """Labels that hang together through candidate pairs: (tested, scheduled) of each set."""
    parent: dict[tuple[str, int], tuple[str, int]] = {}

    def root(node: tuple[str, int]) -> tuple[str, int]:
        while parent.setdefault(node, node) != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    for one, other in candidates:
        parent[root(("tested", one))] = root(("scheduled", other))
    sets: dict[tuple[str, int], tuple[list[int], list[int]]] = defaultdict(lambda: ([], []))
    for node in list(parent):
        sets[root(node)][0 if node[0] == "tested" else 1].append(node[1])
    return [(sorted(left), sorted(right)) for left, right in sets.values()]


def folded(label: str) -> str:
    """A label without signs, leading zeros and letters that look like digits: what two spellings have in common."""
    text = unicodedata.normalize("NFKC", label).casefold().translate(_LOOK_ALIKE)
    # zeros go before the signs do: 1-02 and 10-2 are two labels
    return _NO_SIGN.sub("", _ZEROS.sub("", text))


def by_one_end(job: Joined) -> list[Finding]:
    """Links that were found in the schedule through the label of one of their ends."""
    schedule = job.analysis.schedule
    ends = set(_spaced(schedule["label_a"].dropna())) | set(_spaced(schedule["label_b"].dropna()))
    if not ends:
        return []
    records = job.analysis.records
    scheduled = job.analysis.links["scheduled"].to_numpy()[job.link_of_record]
    written = pd.Series(_spaced(records["label"].fillna("")))
    own = pd.Series(_spaced(job.links["label"].take(job.link_of_record)))
    hit = np.flatnonzero((written.isin(ends) & (written != own)).to_numpy() & scheduled)
    if not len(hit):
        return []
    links = job.labels(job.link_of_record[hit])
    first = hit[0]
    message = (
        f"{counted_words(len(links), 'link')} tested under the label of one end and found through the schedule, such as "
        f'"{records["label"].iloc[first]}" for "{job.links["label"].iloc[job.link_of_record[first]]}"'
    )
    evidence = job.of_records(hit, [f"label {records['label'].iloc[i]}" for i in hit[:12]])
    return [finding("label-of-one-end", message, links, evidence=evidence)]


def places_against_schedule(job: Joined) -> list[Finding]:
    """Records that name other places for the two ends than the schedule, or the same place for both."""
    records, schedule = job.analysis.records, job.analysis.schedule
    said = records[["place_a", "place_b"]]
    if not said.notna().all(axis=1).any():
        return []
    ours = said.apply(lambda column: column.astype("object").map(_one_place, na_action="ignore"))
    both = ours.notna().all(axis=1).to_numpy()
    alike = both & (ours["place_a"] == ours["place_b"]).to_numpy()
    found = []
    if alike.any():
        rows = np.flatnonzero(alike)
        message = f"{counted_words(len(job.labels(job.link_of_record[rows])), 'link')} with one place for both ends"
        told = [f"both ends at {place}" for place in said["place_a"].iloc[rows[:12]]]
        links = job.labels(job.link_of_record[rows])
        found.append(finding("places-differ", message, links, evidence=job.of_records(rows, told)))
    asked = schedule.dropna(subset=["place_a", "place_b"]).drop_duplicates("key").set_index("key")
    if asked.empty:
        return found
    theirs = asked[["place_a", "place_b"]].reindex(records["key"])
    theirs_plain = theirs.apply(lambda column: column.astype("object").map(_one_place, na_action="ignore"))
    known = both & theirs_plain.notna().all(axis=1).to_numpy()
    wanted = [theirs_plain[name].to_numpy() for name in ("place_a", "place_b")]
    a, b = ours["place_a"].to_numpy(), ours["place_b"].to_numpy()
    fits = ((a == wanted[0]) & (b == wanted[1])) | ((a == wanted[1]) & (b == wanted[0]))
    rows = np.flatnonzero(known & ~fits & ~alike)
    if len(rows):
        links = job.labels(job.link_of_record[rows])
        first = rows[0]
        message = (
            f"{counted_words(len(links), 'link')} tested between other places than the schedule says, such as "
            f"{job.links['label'].iloc[job.link_of_record[first]]}: {said['place_a'].iloc[first]} to {said['place_b'].iloc[first]}, "
            f"scheduled {theirs['place_a'].iloc[first]} to {theirs['place_b'].iloc[first]}"
        )
        told = [f"{said['place_a'].iloc[i]} to {said['place_b'].iloc[i]}" for i in rows[:12]]
        found.append(finding("places-differ", message, links, evidence=job.of_records(rows, told)))
    return found


def _one_place(text: str) -> str | float:
    """A place without case, blanks and punctuation, which exports and schedules write differently; NaN for no place."""
    signs = "".join(sign for sign in str(text).casefold() if sign.isalnum())
    return signs if signs and not word("not measured", str(text)) else np.nan


def against_pattern(job: Joined) -> list[Finding]:
    """Labels that do not follow the pattern of the job."""
    pattern = job.job.labels.pattern
    if not pattern:
        return []
    labels = job.analysis.records["label"].dropna().drop_duplicates()
    wrong = labels[~_matches(labels, pattern)]
    if wrong.empty:
        return []
    shown = ", ".join(f'"{label}"' for label in wrong.head(PAIRS_TOLD))
    message = (
        f"{counted_words(len(wrong), 'label does', 'labels do')} not follow the pattern {pattern}, such as {shown}"
    )
    rows = wrong.index.to_numpy()
    evidence = [
        counted("labels looked at", len(labels)),
        *job.of_records(rows, [f"label {label}" for label in wrong[:12]]),
    ]
    return [finding("label-pattern", message, job.labels(job.link_of_record[rows]), evidence=evidence)]


def _matches(labels: pd.Series, pattern: str) -> np.ndarray:
    """Which labels follow the pattern as a whole.

    The engine (RE2) takes time in proportion to the label, whatever the pattern is.
    """
    import pyarrow as pa  # type: ignore[import-untyped]  # pyarrow carries no types
    import pyarrow.compute as pc  # type: ignore[import-untyped]

    inner = pattern.removeprefix("^").removesuffix("$")
    hit = pc.match_substring_regex(pa.array(labels.astype(str).tolist(), pa.string()), f"^(?:{inner})$")
    return np.asarray(hit.to_numpy(zero_copy_only=False), dtype=bool)


def _spaced(labels: pd.Series) -> list[str]:
    return [" ".join(str(label).split()).casefold() for label in labels]
