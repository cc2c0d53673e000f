"""Why twisted-pair readings were judged as they were: which causes of reasons.csv hold, and the words they need."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.budget.curve_points import ZERO_MARGIN
from analyzer.budget.pair_judge import (
    DECLARED_MARGIN,
    DECLARED_VERDICT,
    NOT_JUDGED,
    WIRE_MAP,
    WORST_POINT,
    PairVerdicts,
)
from analyzer.budget.pair_loaded import OTHER, UNNAMED, Loaded
from analyzer.budget.pair_partners import EXEMPT
from analyzer.schema import CATEGORIES

WORDS = ("open", "setting", "loaded", "ordered", "used", "nearest", "tested", "doubt")
"""Words in braces that only the reasons of twisted pair need."""

_DOUBT = "limit in doubt ("


def flags_of(verdicts: PairVerdicts) -> dict[str, np.ndarray]:
    """For every cause that may hold of twisted pair: which of the k readings it holds of."""
    met = verdicts.columns
    codes = met["verdict"].to_numpy()
    judged, passes, fails = codes != NOT_JUDGED, codes < NOT_JUDGED, codes > NOT_JUDGED
    value, bound = met["value"].to_numpy(float), met["bound"].to_numpy()
    is_map = (met["parameter"] == WIRE_MAP).to_numpy()
    orders = verdicts.limits.orders
    order = met["order"].to_numpy()
    no_grade = np.array([not one.grade for one in orders], dtype=bool)[order]
    governing = [verdicts.limits.governing_order(one) for one in orders]
    nearest = np.array([one.nearest is not None for one in governing], dtype=bool)[order]
    hinges, relation = met["hinges"].to_numpy(bool), met["relation"].to_numpy()
    opened = met["open"].astype(str)
    only_doubt = opened.str.startswith(_DOUBT).to_numpy()
    another = met["another_limit"].to_numpy(bool) & ~judged
    negative = met["negative"].to_numpy(bool)
    over = bound == CATEGORIES["bound"].index("over range")
    basis = met["basis"].to_numpy()
    lone = met["lone_margin"].to_numpy(bool) & ~judged
    silent = np.isnan(value) & ~over & ~is_map
    no_limit = met["no_limit"].to_numpy(bool)
    has_limit = ~no_limit & ~no_grade
    hinges = hinges & ~another
    margin, decimals = met["margin"].to_numpy(float), met["decimals"].to_numpy(float)
    with np.errstate(invalid="ignore"):
        rounding = judged & (decimals >= 0) & (np.abs(margin) <= 0.5 * 10.0**-decimals + ZERO_MARGIN)
    return {
        "no-grade": no_grade & ~judged & ~is_map,
        "wire-map-silent": is_map & ~judged,
        "declared-only": silent & ~judged & has_limit & ~another & ~lone,
        "margin-unnamed": lone & (relation == UNNAMED) & has_limit,
        "another-limit": another & has_limit & ~negative & ~over,
        "exemption-open": met["hinges_on_loss"].to_numpy(bool),
        "limit-in-doubt": hinges & only_doubt,
        "pair-missing-fact": hinges & ~only_doubt & (opened != "").to_numpy(),
        "out-of-range": met["out_of_range"].to_numpy(bool) & ~judged,
        "no-sourced-limit": no_limit & ~no_grade & ~judged & ~is_map,
        "negative-value": negative & (met["parameter"] != "insertion loss").to_numpy(),
        "negative-loss": negative & (met["parameter"] == "insertion loss").to_numpy(),
        "bound-undecided": met["undecided"].to_numpy(bool) & ~another,
        "over-range-pair": fails & over,
        "holds-in-every-case": met["several"].to_numpy(bool) & judged,
        "fails-at-its-point": fails & (relation == OTHER) & (basis == WORST_POINT),
        "proven-by-margin": passes & met["bounded_by_loaded"].to_numpy(bool),
        "declared-margin": judged & (basis == DECLARED_MARGIN) & (relation != OTHER),
        "declared-verdict": judged & (basis == DECLARED_VERDICT),
        "as-if-ordered": judged & (relation == UNNAMED) & (basis == WORST_POINT),
        "exempt": (met["exempt"] == EXEMPT).to_numpy() & judged,
        "for-information": met["informs"].to_numpy(bool) & judged,
        "nearest-limits": nearest & judged & ~is_map,
        "plug-not-told": nearest & judged & ~is_map & _tested_otherwise(verdicts),
        "own-limit": judged & (met["own"] >= 0).to_numpy(),
        "bound-value": judged & np.isin(bound, [CATEGORIES["bound"].index(name) for name in ("below", "above")]),
        "rounding": rounding,
    }


def words_of(verdicts: PairVerdicts) -> dict[str, np.ndarray]:
    """The words of `WORDS` for each of the k readings."""
    met, limits = verdicts.columns, verdicts.limits
    orders, order = limits.orders, met["order"].to_numpy()
    governing = [limits.governing_order(one) for one in orders]
    loaded = np.array([_name(one) for one in verdicts.loaded] or [""], dtype=object)

    def by_order(texts: list[str]) -> np.ndarray:
        return np.asarray(np.array(texts or [""], dtype=object)[order], dtype=object)

    opened = met["open"].to_numpy(dtype=object)
    return {
        "open": opened,
        "doubt": pd.Series(opened, dtype="object")
        .str.extract(r"limit in doubt \((.*)\)")[0]
        .fillna("")
        .to_numpy(object),
        "setting": met["setting"].to_numpy(dtype=object),
        "loaded": loaded[met["loaded"].to_numpy()],
        "tested": _tested(verdicts),
        "ordered": by_order([one.configuration for one in orders]),
        "used": by_order([" or ".join(one.configurations) for one in governing]),
        "nearest": by_order([one.nearest["basis"] if one.nearest else "" for one in governing]),
    }


def _tested(verdicts: PairVerdicts) -> np.ndarray:
    """Configuration that the export states for each reading."""
    texts = np.array([one.order.configuration for one in verdicts.loaded] or [""], dtype=object)
    return np.asarray(texts[verdicts.columns["loaded"].to_numpy()], dtype=object)


def _tested_otherwise(verdicts: PairVerdicts) -> np.ndarray:
    tested, order = _tested(verdicts), verdicts.columns["order"].to_numpy()
    ordered = np.array([one.configuration for one in verdicts.limits.orders] or [""], dtype=object)[order]
    return np.asarray((tested != "") & (tested != ordered), dtype=bool)


def _name(loaded: Loaded) -> str:
    """A loaded limit in words."""
    if not loaded.known:
        return "a limit that is not known here" if loaded.named else "none that the export names"
    order = loaded.order
    return f"{order.standard} {order.edition} {order.grade} {order.configuration}".replace("  ", " ")
