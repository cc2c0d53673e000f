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

    `links` needs `verdict`, `decided_by` (position of a reading or -1), `margin_db`, `missing`, `by_mean` (the mean of
    both directions decided) and `fails_marginally` (it passes, but the job lets no marginal pass stand).
    """
    told = (links["decided_by"] >= 0).to_numpy()
    sentences = np.where(
        links["verdict"] == "fail",
        "fail: in every admissible case some reading is over its limit",
        "incomplete: nothing could be judged; missing: " + links["missing"].astype("object"),
    ).astype(object)
    sentences[told] = _told_sentences(links[told].reset_index(drop=True), readings, judged)
    return pd.Series(sentences, index=links.index)


def _told_sentences(links: pd.DataFrame, readings: pd.DataFrame, judged: pd.DataFrame) -> np.ndarray:
    """Sentences of links that some reading decided."""
    at = links["decided_by"].to_numpy()
    readings, judged = readings.take(at).reset_index(drop=True), judged.take(at).reset_index(drop=True)
    by_mean, margin = links["by_mean"].to_numpy(), links["margin_db"].to_numpy()
    wave = readings["wavelength_nm"].astype("str").to_numpy(dtype=object) + " nm"
    words = what_was_read(readings)
    what = np.where(by_mean, "mean loss of both directions at " + wave, words.to_numpy(dtype=object))
    where = words.str.removeprefix("loss at ").to_numpy(dtype=object)
    where = np.where(by_mean, "the mean of both directions at " + wave, where)
    limit, measured = judged["limit"].to_numpy(), readings["value"].to_numpy()
    unit = " " + readings["parameter"].astype("object").map(UNIT_OF_PARAMETER).fillna("dB").to_numpy(dtype=object)
    margin = np.where(by_mean, margin, judged["margin"].to_numpy())
    value = np.where(by_mean, printed(limit - margin) + " dB", _value(readings).to_numpy(dtype=object))
    # below a limit that is not kept: that limit is a floor
    side = np.where(~by_mean & (measured < limit), [" under the "], [" over the "])
    need = np.where(~by_mean & (measured < limit), [" needed"], [" allowed"])
    beyond = ", " + _small(np.abs(margin), unit) + side + printed(limit) + unit + need
    beyond = np.where(np.isnan(limit), ", " + _small(np.abs(margin), unit) + " beyond its limit", beyond)
    fails = "fail: " + what + " " + value + np.where(np.isnan(margin), "", beyond)
    near = (judged["verdict"] == "marginal fail").to_numpy() & ~by_mean
    fails = np.where(near, fails + ", within uncertainty", fails)
    least = np.array("least margin ", dtype=object) + printed(margin) + unit + " at " + where
    least = np.where(np.isnan(margin), "by " + where, least)
    verdict = links["verdict"].to_numpy(dtype=object)
    return np.select(
        [
            links["fails_marginally"].to_numpy(),
            verdict == "fail",
            (verdict == "marginal") & (margin < 0),
            verdict == "incomplete",
            verdict == "marginal",
        ],
        [
            "fail: passes only within uncertainty, which the job counts as a fail, " + least,
            fails,
            "marginal: over its limit within uncertainty, which the decision rule accepts, " + least,
            "incomplete: all that was judged passes, "
            + least
            + "; missing: "
            + links["missing"].to_numpy(dtype=object),
            "marginal: passes within uncertainty, " + least,
        ],
        "pass: " + least,
    )


def with_wire_maps(
    links: pd.DataFrame, readings: pd.DataFrame, judged: pd.DataFrame, reasons: pd.DataFrame
) -> pd.Series:
    """The sentences of the links; those that a wire map decided with a fail say what is wrong with it."""
    at = links["decided_by"].to_numpy()
    told = np.flatnonzero((at >= 0) & (links["verdict"] == "fail").to_numpy())
    told = told[(readings["parameter"].to_numpy()[at[told]] == "wire map")]
    reason = judged["reason"].to_numpy()[at[told]]
    told, reason = told[reason >= 0], reason[reason >= 0]
    sentences = links["sentence"].to_numpy(dtype=object, copy=True)
    sentences[told] = "fail: wire map: " + reasons["text"].to_numpy(dtype=object)[reason]
    return pd.Series(sentences, index=links.index, dtype="object")


def _small(values: np.ndarray, unit: np.ndarray) -> np.ndarray:
    """Numbers with their unit as text; what would be printed as nothing is said to be less than the last digit."""
    return np.where(values < 0.005, "less than 0.01" + unit, printed(values) + unit)


def what_was_read(readings: pd.DataFrame) -> pd.Series:
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
    text = text.where(readings["bound"] != "over range", "beyond the range of the tester")
    declared = "as the export declares it"
    return text.where(readings["value"].notna() | readings["bound"].notna(), declared)
