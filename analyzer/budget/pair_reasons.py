"""Why twisted-pair readings were judged as they were: which causes of reasons.csv hold, and the words they need."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.budget.curve_points import ZERO_MARGIN
from analyzer.budget.pair_judge import NOT_JUDGED, WIRE_MAP, PairVerdicts
from analyzer.budget.pair_loaded import OTHER, UNNAMED, Loaded
from analyzer.budget.pair_partners import EXEMPT
from analyzer.budget.pair_proof import DECLARED_MARGIN, DECLARED_VERDICT, WORST_POINT
from analyzer.budget.pair_sides import DOUBT
from analyzer.schema import AS_RATIO, CATEGORIES

WORDS = ("open", "setting", "loaded", "ordered", "used", "nearest", "tested", "doubt")
"""Words in braces that only the reasons of twisted pair need."""


def flags_of(verdicts: PairVerdicts) -> dict[str, np.ndarray]:
    """For every cause that may hold of twisted pair: which of the k readings it holds of."""
    met = verdicts.columns
    codes, value, bound, basis, relation = (met[name] for name in ("verdict", "value", "bound", "basis", "relation"))
    judged, passes, fails = codes != NOT_JUDGED, codes < NOT_JUDGED, codes > NOT_JUDGED
    is_map, is_loss = (met["parameter"] == CATEGORIES["parameter"].index(name) for name in (WIRE_MAP, "insertion loss"))
    orders, order = verdicts.limits.orders, met["order"]
    no_grade = np.array([not one.grade for one in orders], dtype=bool)[order]
    governing = [verdicts.limits.governing_order(one) for one in orders]
    nearest = np.array([one.nearest is not None for one in governing], dtype=bool)[order]
    opened = met["open"]
    codes_open, distinct = pd.factorize(opened)
    only_doubt = np.array([text.startswith(DOUBT) for text in distinct] or [False])[codes_open]
    another, lone = met["another_limit"] & ~judged, met["lone_margin"] & ~judged
    negative, no_limit = met["negative"], met["no_limit"]
    over = bound == CATEGORIES["bound"].index("over range")
    silent = np.isnan(value) & ~over & ~is_map
    ratio = np.isin(met["parameter"], [CATEGORIES["parameter"].index(name) for name in AS_RATIO]) & no_limit & ~judged
    has_limit, hinges = ~no_limit & ~no_grade, met["hinges"] & ~another
    margin, decimals = met["margin"], met["decimals"]
    with np.errstate(invalid="ignore"):
        rounding = judged & (decimals >= 0) & (np.abs(margin) <= 0.5 * 10.0**-decimals + ZERO_MARGIN)
    return {
        "no-grade": no_grade & ~judged & ~is_map & ~ratio,
        "judged-as-ratio": ratio,
        "wire-map-silent": is_map & ~judged,
        "declared-only": silent & ~judged & has_limit & ~another & ~lone,
        "margin-unnamed": lone & (relation == UNNAMED) & has_limit,
        "another-limit": another & has_limit & ~negative & ~over,
        "exemption-open": met["hinges_on_loss"],
        "limit-in-doubt": hinges & only_doubt,
        "pair-missing-fact": hinges & ~only_doubt & (opened != ""),
        "out-of-range": met["out_of_range"] & ~judged,
        "no-sourced-limit": no_limit & ~no_grade & ~judged & ~is_map & ~ratio,
        "negative-value": negative & ~is_loss,
        "negative-loss": negative & is_loss,
        "bound-undecided": met["undecided"] & ~another,
        "over-range-floor": over & ~judged & has_limit,
        "over-range-pair": fails & over,
        "holds-in-every-case": met["several"] & judged,
        "fails-at-its-point": fails & (relation == OTHER) & (basis == WORST_POINT),
        "proven-by-margin": passes & met["bounded_by_loaded"],
        "declared-margin": judged & (basis == DECLARED_MARGIN) & (relation != OTHER),
        "declared-verdict": judged & (basis == DECLARED_VERDICT),
        "as-if-ordered": judged & (relation == UNNAMED) & (basis == WORST_POINT),
        "exempt": (met["exempt"] == EXEMPT) & judged,
        "not-taken-out": met["not_taken_out"],
        "for-information": met["informs"] & judged,
        "nearest-limits": nearest & judged & ~is_map,
        "plug-not-told": nearest & judged & ~is_map & _tested_otherwise(verdicts),
        "own-limit": judged & (met["own"] >= 0),
        "bound-value": judged & np.isin(bound, [CATEGORIES["bound"].index(name) for name in ("below", "above")]),
        "rounding": rounding,
    }


def words_of(verdicts: PairVerdicts) -> dict[str, np.ndarray]:
    """The words of `WORDS` for each of the k readings."""
    met, limits = verdicts.columns, verdicts.limits
    orders, order = limits.orders, met["order"]
    governing = [limits.governing_order(one) for one in orders]
    loaded = np.array([_name(one) for one in verdicts.loaded] or [""], dtype=object)

    def by_order(texts: list[str]) -> np.ndarray:
        return np.asarray(np.array(texts or [""], dtype=object)[order], dtype=object)

    opened = met["open"]
    return {
        "open": opened,
        "doubt": _doubts(opened),
        "setting": met["setting"],
        "loaded": loaded[met["loaded"]],
        "tested": _tested(verdicts),
        "ordered": by_order([one.configuration for one in orders]),
        "used": by_order([" or ".join(one.configurations) for one in governing]),
        "nearest": by_order([one.nearest["basis"] if one.nearest else "" for one in governing]),
    }


def _doubts(opened: np.ndarray) -> np.ndarray:
    """Name of the limit in doubt among what is open, "" where there is none."""
    codes, distinct = pd.factorize(opened)
    names = [text.partition(DOUBT)[2].removesuffix(")") for text in distinct]
    return np.asarray(np.array(names or [""], dtype=object)[codes], dtype=object)


def _tested(verdicts: PairVerdicts) -> np.ndarray:
    """Configuration that the export states for each reading."""
    texts = np.array([one.order.configuration for one in verdicts.loaded] or [""], dtype=object)
    return np.asarray(texts[verdicts.columns["loaded"]], dtype=object)


def _tested_otherwise(verdicts: PairVerdicts) -> np.ndarray:
    tested, order = _tested(verdicts), verdicts.columns["order"]
    ordered = np.array([one.configuration for one in verdicts.limits.orders] or [""], dtype=object)[order]
    return np.asarray((tested != "") & (tested != ordered), dtype=bool)


def _name(loaded: Loaded) -> str:
    """A loaded limit in words."""
    if not loaded.known:
        return "a limit that is not known here" if loaded.named else "none that the export names"
    order = loaded.order
    return f"{order.standard} {order.edition} {order.grade} {order.configuration}".replace("  ", " ")
