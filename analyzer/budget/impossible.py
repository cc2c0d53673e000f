"""Facts that cannot all be true of one link, each told once per link with its mend; no verdict hinges on them.

What an impossible fact makes of the limit is told by the verdict itself; these sentences say which fact to doubt.
A negative length never comes this far: the cell is set aside where it is read, and job and command line refuse one.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from analyzer.budget.facts import join_seeds
from analyzer.budget.orders import no_seeds
from analyzer.schema import CATEGORIES, MULTIMODE_TYPES
from analyzer.standards import Values, medium_of, nominal_wavelength_nm

LONGEST_MULTIMODE_M: Final = 2000.0
"""Longest multimode channel class of ISO/IEC 11801, OF-2000 (recalled); no application reaches farther on it."""
TIMES_AS_LONG: Final = 10.0
"""Lengths of file and schedule this many times apart are no cord or slack: unit or label (common practice, no source)."""
CODE: Final = "impossible-fact"


def impossible_facts(
    facts: pd.DataFrame, records: pd.DataFrame, schedule_rows: pd.DataFrame, readings: pd.DataFrame, values: Values
) -> pd.DataFrame:
    """Seeds (code, record, text) for one file.

    Args:
        facts: schema `facts`, n records, counts expanded and matings counted.
        records: schema `records`, same order.
        schedule_rows: schema `schedule`, same order; all missing where a record is not scheduled.
        readings: schema `readings`; `record` is the position of the record.
        values: wavelengths of each medium.
    """
    fiber = (facts["medium"] != "twisted pair").to_numpy() & (readings_of(readings, len(facts)) > 0)
    told = [
        _no_mating(facts, records, fiber),
        _too_long(facts, records, fiber),
        _lengths_apart(records, schedule_rows, fiber),
        _not_carried(facts, records, readings, values),
    ]
    return join_seeds(told)


def readings_of(readings: pd.DataFrame, count: int) -> np.ndarray:
    """How many losses each record has."""
    loss = (readings["parameter"] == "loss").to_numpy()
    return np.bincount(readings["record"].to_numpy()[loss], minlength=count)


def _seeds(records: pd.DataFrame, hit: np.ndarray, text: pd.Series | str) -> pd.DataFrame:
    """Seeds of the records hit; one text for all, or one for each of them in order."""
    said = text if isinstance(text, str) else text.to_numpy(dtype=object)
    return pd.DataFrame({"code": CODE, "record": records["record"].to_numpy()[hit], "text": said})


def _no_mating(facts: pd.DataFrame, records: pd.DataFrame, fiber: np.ndarray) -> pd.DataFrame:
    """No mated pair and no plug end: light cannot get from the tester into such a link."""
    none = (facts["mated_pairs"] + facts["plug_ends"] == 0).to_numpy() & (facts["reference"] == "one-cord").to_numpy()
    text = (
        "no mated pair and no plug end: a tester is connected to both ends of a link, so with one cord two matings stand "
        "in the reading; state mated pairs (each panel end is one) or the ends"
    )
    return _seeds(records, fiber & none, text)


def _too_long(facts: pd.DataFrame, records: pd.DataFrame, fiber: np.ndarray) -> pd.DataFrame:
    hit = fiber & (facts["length_m"] > LONGEST_MULTIMODE_M).to_numpy()
    hit &= facts["type"].isin(MULTIMODE_TYPES).to_numpy()
    if not hit.any():
        return no_seeds()
    told = facts[hit]
    text = (
        f"more than {LONGEST_MULTIMODE_M:g} m of multimode: "
        + told["length_m"].round(1).astype("str")
        + " m of "
        + told["type"].astype("str")
        + "; correct the length, its unit or the type"
    )
    return _seeds(records, hit, text)


def _lengths_apart(records: pd.DataFrame, schedule_rows: pd.DataFrame, fiber: np.ndarray) -> pd.DataFrame:
    file, schedule = records["length_m"].to_numpy(float), schedule_rows["length_m"].to_numpy(float)
    low, high = np.minimum(file, schedule), np.maximum(file, schedule)
    hit = fiber & (low > 0) & (high >= TIMES_AS_LONG * low)
    if not hit.any():
        return no_seeds()
    text = (
        f"lengths at least {TIMES_AS_LONG:g} times apart: the file says "
        + pd.Series(file[hit]).round(1).astype("str")
        + " m, the schedule "
        + pd.Series(schedule[hit]).round(1).astype("str")
        + " m; the unit or the label of one of them is wrong"
    )
    return _seeds(records, hit, text)


def _not_carried(facts: pd.DataFrame, records: pd.DataFrame, readings: pd.DataFrame, values: Values) -> pd.DataFrame:
    """Losses at a wavelength that the fiber type is not used at, once per record and wavelength."""
    loss = (readings["parameter"] == "loss").to_numpy() & (readings["wavelength_nm"] >= 0).to_numpy()
    at = readings["record"].to_numpy()[loss]
    wave = readings["wavelength_nm"].to_numpy()[loss].astype(np.int64)
    code = facts["type"].cat.codes.to_numpy()[at]
    strange = np.zeros(len(at), dtype=bool)
    for each in np.unique(wave):
        for number, fiber in enumerate(CATEGORIES["type"]):
            if nominal_wavelength_nm(values, int(each), medium_of(fiber)) is None:
                strange |= (wave == each) & (code == number)
    if not strange.any():
        return no_seeds()
    hit = pd.DataFrame({"at": at[strange], "code": code[strange], "wave": wave[strange]}).drop_duplicates()
    text = (
        pd.Series(np.array(CATEGORIES["type"], dtype=object)[hit["code"].to_numpy()], index=hit.index, dtype="str")
        + " does not carry "
        + hit["wave"].astype("str")
        + " nm: the reading is kept and not judged; correct the type, or the wavelength of the column"
    )
    return pd.DataFrame({"code": CODE, "record": records["record"].to_numpy()[hit["at"].to_numpy()], "text": text})
