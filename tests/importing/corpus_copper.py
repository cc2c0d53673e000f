"""What the reader makes of a twisted-pair layout, beside what the truth says."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pandas as pd
from corpus.writer import write
from corpus_fiber import SAME, Outcome

from analyzer.errors import CableproofError
from analyzer.importing import ReadContext, Source, read_source, settle


def read_all(paths):
    """Every file read, settled, and read again with what all of them say."""
    sources = [Source(path.name, path.read_bytes()) for path in paths]
    first = [read_source(source, ReadContext()) for source in sources]
    decisions = settle([one.tallies for one in first])
    return [read_source(source, replace(ReadContext(), decisions=decisions)) for source in sources]


def counted(paths):
    """Accounts of the files, and the readings with their labels."""
    found = read_all(paths)
    counts = pd.DataFrame([one.file for one in found])
    return counts.assign(status="read"), _stack(found, "readings")


def compare(layout, folder):
    """Read the layout and tell every difference from the truth."""
    outcome = Outcome(layout)
    try:
        files = read_all(write(layout, folder))
    except CableproofError as error:
        outcome.say(f"refused: {error}")
        return outcome
    _accounts(outcome, files)
    readings = pd.concat([_stack(files, "readings"), _points(files)], ignore_index=True)
    records = _stack(files, "records")
    _readings(outcome, readings)
    _beside(outcome, readings)
    _facts(outcome, records)
    if "wire map" not in layout.absent:
        _wire_maps(outcome, readings)
    return outcome


def _accounts(outcome, files):
    for one in files:
        counts = one.file
        if counts["rows_read"] != counts["rows_used"] + counts["rows_set_aside"]:
            outcome.say(f"rows of {counts['name']} do not add up")
        if counts["cells_read"] != counts["cells_used"] + counts["cells_set_aside"]:
            outcome.say(f"cells of {counts['name']} do not add up")
        if len(one.set_aside) and not outcome.layout.may_set_aside:
            found = one.set_aside.groupby(["code", "reason"], observed=True).size()
            outcome.say(f"set aside: {[(code, reason[:140], int(n)) for (code, reason), n in found.head(3).items()]}")
            return


def _stack(files, table):
    """A table of all files with the label of each record."""
    parts = []
    for one in files:
        labels = one.records.set_index("record")["label"]
        parts.append(getattr(one, table).assign(label=lambda rows, labels=labels: rows["record"].map(labels)))
    return pd.concat(parts, ignore_index=True)


def _points(files):
    """Every point of every curve as a row beside the readings: a sweep is kept as curves."""
    parts = []
    for one in files:
        curves = _stack([one], "curves")
        sizes = np.diff(one.points.offset)
        grids = [one.points.curve(number)[0] for number in range(len(one.points))]
        rows = curves.loc[curves.index.repeat(sizes), ["label", "parameter", "pair", "end"]]
        parts.append(rows.assign(frequency_mhz=np.concatenate([*grids, []]), value=one.points.value))
    return pd.concat(parts, ignore_index=True)


def _text(value):
    return None if value is None or (isinstance(value, float) and math.isnan(value)) else str(value)


def _key(label, parameter, pair, end, mhz):
    known = mhz is not None and not math.isnan(mhz)
    return _text(label), parameter, _text(pair), _text(end), round(float(mhz), 9) if known else None


def _expected(layout):
    for link in layout.links():
        for reading in layout.view(link):
            mhz = None if "frequency_mhz" in layout.absent else reading.frequency_mhz
            yield _key(link.label, reading.parameter, reading.pair, reading.end, mhz), reading


def _measured(outcome, readings):
    """Readings over which the truth speaks: the length is a fact, the wire map has a check of its own."""
    own = readings[~readings["parameter"].isin(["length", "wire map"])]
    return own if "value" in outcome.layout.absent else own[own["value"].notna()]


def _keys_of(readings):
    columns = [readings[name].astype(object) for name in ("label", "parameter", "pair", "end", "frequency_mhz")]
    return [_key(*cells) for cells in zip(*columns, strict=True)]


def _readings(outcome, readings):
    measured = _measured(outcome, readings)
    column, name = ("declared_margin", "margin") if "value" in outcome.layout.absent else ("value", "value")
    found = Counter(zip(_keys_of(measured), measured[column].round(9), strict=True))
    expected = Counter((key, round(float(getattr(reading, name)), 9)) for key, reading in _expected(outcome.layout))
    missing, strange = expected - found, found - expected
    if missing:
        outcome.say(f"readings: {missing.total()} of {expected.total()} missing, such as {_first(missing)}")
    if strange:
        outcome.say(f"readings: {strange.total()} strange, such as {_first(strange)}")


def _first(counted):
    return "; ".join(f"{key} {value}" for key, value in list(counted)[:2])


def _beside(outcome, readings):
    """Limit and margin printed beside each value."""
    truth = dict(_expected(outcome.layout))
    measured = _measured(outcome, readings)
    for name, fact in (("limit", "limits"), ("margin", "margin")):
        if fact in outcome.layout.absent:
            continue
        pairs = zip(_keys_of(measured), measured[f"declared_{name}"], strict=True)
        wrong = [(key, value, getattr(truth[key], name)) for key, value in pairs
                 if key in truth and not abs(value - float(getattr(truth[key], name))) <= SAME]  # fmt: skip
        if wrong:
            key, value, true = wrong[0]
            outcome.say(f"printed {name}: {len(wrong)} differ; {key}: {true} was read as {value}")


def _facts(outcome, records):
    absent = outcome.layout.absent
    for link in outcome.layout.links():
        own = records[records["label"] == link.label]
        wrong = [] if len(own) else ["no record"]
        if "length_m" not in absent and not ((own["length_m"] - float(link.length_m)).abs() <= SAME).all():
            wrong.append(f"length {list(own['length_m'].unique())[:2]} instead of {link.length_m}")
        if "grade" not in absent and not (own["grade"].astype(object) == link.grade).all():
            wrong.append(f"grade {list(own['grade'].astype(str).unique())[:2]} instead of {link.grade}")
        if not (own["medium"].astype(object) == "twisted pair").all():
            wrong.append(f"medium {list(own['medium'].astype(str).unique())[:2]}")
        if wrong:
            outcome.say(f"facts of {link.label}: {'; '.join(wrong)}")
            return


def _wire_maps(outcome, readings):
    found = readings[readings["parameter"] == "wire map"]
    placed = found[["pair", "end", "frequency_mhz"]].notna().any(axis=1)
    if placed.any():
        outcome.say(f"wire map: {int(placed.sum())} of {len(found)} readings bear a pair, end or frequency")
    verdicts = dict(zip(found["label"], found["declared_verdict"].astype(object), strict=True))
    wrong = [f"{link.label} {verdicts.get(link.label)}" for link in outcome.layout.links()
             if verdicts.get(link.label) != ("pass" if link.wired_well else "fail")]  # fmt: skip
    if wrong:
        outcome.say(f"wire map: {len(wrong)} differ, such as {wrong[0]}")
