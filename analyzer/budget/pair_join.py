"""Verdicts of twisted pair written into the tables of a file, beside those of fiber."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.pair_judge import NOT_JUDGED, PairVerdicts
from analyzer.budget.pair_proof import BASES
from analyzer.budget.pair_reasons import WORDS, flags_of, words_of

_VERDICTS = np.array(["pass", "marginal pass", "not judged", "marginal fail", "fail"], dtype=object)


def write_pairs(
    judged: pd.DataFrame,
    flags: dict[str, np.ndarray],
    told: dict[str, np.ndarray],
    pairs: PairVerdicts,
    first_limit: int,
) -> None:
    """Write over what stands for twisted-pair readings, in place.

    Args:
        judged: schema `judged` but for the reason, n rows.
        flags: causes of reasons.csv, n marks each.
        told: words of the reasons, n texts each.
        pairs: verdicts of k of the readings.
        first_limit: number that the first of their limits gets.
    """
    at, met, n = pairs.at, pairs.columns, len(judged)
    if not len(at):
        return
    verdict = met["verdict"]
    limit_id = met["limit_id"]
    world = np.select(
        [~met["several"], verdict < NOT_JUDGED, verdict > NOT_JUDGED],
        ["certain", "strictest", "most generous"],
        "certain",
    )
    new = {
        "basis": np.array(BASES, dtype=object)[met["basis"]],
        "limit": met["limit"],
        "margin": met["margin"],
        "accuracy": met["accuracy"],
        "verdict": _VERDICTS[verdict],
        "limit_id": np.where(limit_id >= 0, limit_id + first_limit, -1),
        "world": world.astype(object),
        "counts": met["counts"],
    }
    for name, values in new.items():
        column = judged[name].to_numpy(copy=True)
        column[at] = values
        judged[name] = column
    for code, mask in flags_of(pairs).items():
        whole = np.array(flags.get(code, np.zeros(n, dtype=bool)), dtype=bool)
        whole[at] = mask
        flags[code] = whole
    for word, texts in words_of(pairs).items():
        told[word][at] = texts


def printed_limit_seeds(pairs: PairVerdicts, records: pd.DataFrame) -> pd.DataFrame:
    """Seeds where the export prints another limit than ours beside a reading, one for each record and parameter."""
    met = pairs.columns
    hit = np.flatnonzero(~np.isnan(met["printed_differs"]))
    names = np.array(schema.CATEGORIES["parameter"], dtype=object)[met["parameter"][hit]]
    told = pd.DataFrame({"record": met["record"][hit], "parameter": names, "away": met["printed_differs"][hit]})
    far = told.groupby(["record", "parameter"], sort=False)["away"].max().reset_index()
    if far.empty:
        return pd.DataFrame({"code": [], "record": [], "text": []})
    away = far["away"].map("{:.2f}".format)
    unit = far["parameter"].map(schema.UNIT_OF_PARAMETER).fillna("dB")
    return pd.DataFrame(
        {
            "code": "printed-limit-differs",
            "record": records["record"].to_numpy()[far["record"].to_numpy()],
            "text": far["parameter"] + ": the limit that the export prints is " + away + " " + unit + " from ours",
        }
    )


def no_words(n: int) -> dict[str, np.ndarray]:
    """The words that only reasons of twisted pair need, empty for n readings."""
    return {word: np.full(n, "", dtype=object) for word in WORDS}


def pair_limits_after(limits: pd.DataFrame, pairs: PairVerdicts) -> pd.DataFrame:
    """Schema `limits`: those of fiber, then those of twisted pair, numbered on."""
    own = pairs.limits.limits()
    if own.empty:
        return limits
    own["limit_id"] += len(limits)
    return schema.conform("limits", pd.concat([limits, own], ignore_index=True) if len(limits) else own)
