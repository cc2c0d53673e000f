"""The verdict of a link as one sentence, and numbers as people read them."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.schema import UNIT_OF_PARAMETER


def printed(values: np.ndarray, decimals: int = 2) -> np.ndarray:
    """Numbers as text with fixed decimals; a zero has no sign; NaN is "unknown"."""
    rounded = np.round(np.asarray(values, dtype=float), decimals) + 0.0
    text = np.char.mod(f"%.{decimals}f", rounded).astype(object)
    return np.where(np.isnan(rounded), "unknown", text)


def link_sentences(links: pd.DataFrame, readings: pd.DataFrame, judged: pd.DataFrame) -> pd.Series:
    """One sentence per link: what decided, in its own unit, and what is missing.

    `links` needs `verdict`, `decided_by` (position of a reading or -1), `margin_db`, `missing`, and `by_mean` (the mean
    of both directions decided).
    """
    decided = links["decided_by"].to_numpy()
    told = decided >= 0
    at = np.where(told, decided, 0)
    if len(readings) == 0:
        return "incomplete: " + links["missing"] + " missing"
    words = _what(readings)
    what = words.to_numpy(dtype=object)[at]
    where = words.str.removeprefix("loss at ").to_numpy(dtype=object)[at]
    wave = readings["wavelength_nm"].astype("str").to_numpy(dtype=object)[at] + " nm"
    value = _value(readings).to_numpy(dtype=object)[at]
    limit = printed(judged["limit"].to_numpy()[at]) + " dB"
    over = (readings["bound"] == "over range").to_numpy()[at]
    by_mean = links["by_mean"].to_numpy()
    margin = np.where(by_mean, links["margin_db"], judged["margin"].to_numpy()[at])
    where = np.where(by_mean, "the mean of both directions at " + wave, where)
    value = np.where(by_mean, printed(judged["limit"].to_numpy()[at] - margin) + " dB", value)
    what = np.where(by_mean, "mean loss of both directions at " + wave, what)
    beyond = np.where(over, "", ", " + _small(np.abs(margin)) + " over the " + limit + " allowed")
    fails = "fail: " + what + " " + value + np.where(np.isnan(margin) & ~over, "", beyond)
    marginal_fail = (judged["verdict"] == "marginal fail").to_numpy()[at] & ~by_mean
    fails = np.where(marginal_fail, fails + ", within uncertainty", fails)
    # a link may fail in every admissible world though no single reading does
    none_fails = ~told | ~(judged["verdict"].isin(["fail", "marginal fail"]).to_numpy()[at] | by_mean)
    anyway = np.full(len(links), "fail: in every admissible case some reading is over its limit", dtype=object)
    least = np.array("least margin ", dtype=object) + printed(margin) + " dB at " + where
    least = np.where(np.isnan(margin), "no reading has a margin", least)
    part = np.where(told, "all that was judged passes, " + least + "; ", "nothing could be judged; ")
    sentences = np.select(
        [
            (links["verdict"] == "fail") & ~none_fails,
            links["verdict"] == "fail",
            links["verdict"] == "incomplete",
            links["verdict"] == "marginal",
        ],
        [
            fails,
            anyway,
            "incomplete: " + part + "missing: " + links["missing"].to_numpy(dtype=object),
            "marginal: passes within uncertainty, " + least,
        ],
        "pass: " + least,
    )
    return pd.Series(sentences, index=links.index)


def _small(values: np.ndarray) -> np.ndarray:
    """Decibels as text; what would be printed as nothing is said to be less than the last digit."""
    return np.where(values < 0.005, "less than 0.01 dB", printed(values) + " dB")


def _what(readings: pd.DataFrame) -> pd.Series:
    """Parameter, wavelength, pair and direction of every reading in words."""
    wave = readings["wavelength_nm"]
    words = readings["parameter"].astype("object").fillna("reading")
    words = words.where(wave < 0, words + " at " + wave.astype("str") + " nm")
    for name, before in (("pair", " pair "), ("direction", " "), ("end", " from end ")):
        part = readings[name].astype("object")
        words = words.where(part.isna(), words + before + part.fillna(""))
    return words


def _value(readings: pd.DataFrame) -> pd.Series:
    unit = readings["parameter"].astype("object").map(UNIT_OF_PARAMETER).fillna("dB")
    sign = readings["bound"].astype("object").map({"below": "<", "above": ">"}).fillna("")
    text = sign + pd.Series(printed(readings["value"].to_numpy()), index=readings.index) + " " + unit
    return text.where(readings["bound"] != "over range", "beyond the range of the tester")
