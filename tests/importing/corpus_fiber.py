"""What the product makes of a fiber layout, beside what the truth says; a difference is a sentence."""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass, field

import pandas as pd
from corpus.layout import BUILT
from corpus.writer import write

from analyzer.errors import CableproofError
from analyzer.job import CommandLine
from analyzer.pipeline import analyze

SAME = 1e-9  # limits and margins are sums of float64; the product itself takes less than this as nothing
JOB = '[order]\nstandard = "TIA"\nedition = "568.3-E"\n'
TEXT_FACTS = {"type": "type", "construction": "construction", "reference": "reference"}
NUMBER_FACTS = ("length_m", "mated_pairs", "splices")


@dataclass
class Outcome:
    """Differences between what was read and what is true."""

    layout: object
    differences: list = field(default_factory=list)

    def say(self, what):
        self.differences.append(what)

    @property
    def result(self):
        return "same" if not self.differences else f"{len(self.differences)} differences"


def _schedule(layout, path):
    """The facts that the layout cannot carry, as a schedule; None where it carries all that decide."""
    lacking = [name for name in BUILT if name in layout.absent]
    if not lacking and "label" not in layout.absent:
        return None
    headings = {
        "type": "Fiber type", "construction": "Construction", "length_m": "Length (m)", "mated_pairs": "Mated pairs",
        "splices": "Splices", "reference": "Reference method",
    }  # fmt: skip
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["Link", "Cable", "Strand", *(headings[name] for name in lacking)])
        for link in layout.links():
            writer.writerow([link.label, link.cable, link.strand, *(getattr(link, name) for name in lacking)])
    return path


def run(layout, folder):
    """Write the layout, analyze it; the analysis."""
    paths = write(layout, folder / "evidence")
    job = folder / "job.toml"
    job.write_text(JOB, encoding="utf-8")
    given = CommandLine(schedule=_schedule(layout, folder / "schedule.csv"))
    return analyze(paths, job, given=given)


def compare(layout, folder):
    """Analyze the layout and tell every difference from the truth."""
    outcome = Outcome(layout)
    try:
        analysis = run(layout, folder)
    except CableproofError as error:
        outcome.say(f"refused: {error}")
        return outcome
    _files(outcome, analysis)
    _accounts(outcome, analysis)
    _labels(outcome, analysis)
    if _keys(outcome, analysis):
        _judged(outcome, analysis)
        _declared(outcome, analysis)
        _facts(outcome, analysis)
    return outcome


def _files(outcome, analysis):
    unread = analysis.files[~analysis.files["status"].isin(["read", "schedule"])]
    for name, status, reason in zip(unread["name"], unread["status"], unread["reason"], strict=True):
        outcome.say(f"{name} is {status}: {reason}")


def accounts(files):
    """Files whose sums do not add up."""
    read = files[files["status"] == "read"]
    rows = read["rows_read"] != read["rows_used"] + read["rows_set_aside"]
    cells = read["cells_read"] != read["cells_used"] + read["cells_set_aside"]
    return read[rows | cells]


def _accounts(outcome, analysis):
    if len(accounts(analysis.files)):
        outcome.say("the accounts do not add up")
    aside = analysis.set_aside
    if len(aside) and not outcome.layout.may_set_aside:
        counts = aside.groupby(["code", "reason"], observed=True).size()
        outcome.say(f"set aside: {[(code, reason[:140], int(n)) for (code, reason), n in counts.head(4).items()]}")


def _labels(outcome, analysis):
    expected = [link.label for link in outcome.layout.links()]
    found = list(analysis.links["label"])
    if sorted(expected) != sorted(found):
        missing = [label for label in expected if label not in set(found)]
        strange = [label for label in found if label not in set(expected)]
        outcome.say(f"{len(found)} links; {len(missing)} missing {missing[:3]}, {len(strange)} strange {strange[:3]}")


def judged_table(analysis):
    """Readings in force of losses with label, judgment beside them."""
    joined = analysis.readings.merge(analysis.judged, on="reading", validate="one_to_one", suffixes=("", "_judged"))
    records = analysis.records.set_index("record")
    labels = analysis.links.set_index("link")["label"]
    joined["label"] = joined["record"].map(records["link"]).map(labels)
    return joined[joined["in_force"] & (joined["parameter"] == "loss")].reset_index(drop=True)


def _truth(links):
    rows = []
    for link in links:
        for (nm, way), loss in link.losses:
            margin = link.margin_db(nm, way)
            rows.append({
                "label": link.label, "wavelength_nm": nm, "direction": way,
                "value": math.nan if loss.value_db is None else float(loss.value_db), "bound": loss.bound,
                "limit": float(link.limit_db(nm)), "margin": math.nan if margin is None else float(margin),
                "verdict": "pass" if link.passes(nm, way) else "fail",
            })  # fmt: skip
    return pd.DataFrame(rows)


_KEYS = ["label", "wavelength_nm", "direction"]


def _keys(outcome, analysis):
    """Whether the same readings are there, by label, wavelength and direction."""
    found = {tuple(row) for row in judged_table(analysis)[_KEYS].astype(object).to_numpy()}
    expected = {tuple(row) for row in _truth(outcome.layout.links())[_KEYS].astype(object).to_numpy()}
    missing, strange = expected - found, found - expected
    if missing or strange:
        some = [sorted(map(str, group))[:2] for group in (missing, strange)]
        outcome.say(f"readings: {len(missing)} missing {some[0]}, {len(strange)} strange {some[1]}")
    return not missing


def _beside(outcome, analysis):
    return _truth(outcome.layout.links()).merge(judged_table(analysis), on=_KEYS, how="left", suffixes=("_true", ""))


def _differ(outcome, rows, name, wrong, true):
    if wrong.any():
        first = rows[wrong].iloc[0]
        where = " ".join(str(first[key]) for key in _KEYS)
        outcome.say(
            f"{name}: {int(wrong.sum())} differ; {where}: {true[wrong].iloc[0]} was read as {rows[name][wrong].iloc[0]}"
        )


def _judged(outcome, analysis):
    rows = _beside(outcome, analysis)
    same = (rows["value"] == rows["value_true"]) | (rows["value"].isna() & rows["value_true"].isna())
    _differ(outcome, rows, "value", ~same, rows["value_true"])
    bound = rows["bound"].astype("object").where(rows["bound"].notna(), None)
    true = rows["bound_true"].astype("object").where(rows["bound_true"].notna(), None)
    _differ(outcome, rows, "bound", bound.map(str) != true.map(str), true)
    for name in ("limit", "margin"):
        near = (rows[name] - rows[f"{name}_true"]).abs() <= SAME
        _differ(outcome, rows, name, ~(near | (rows[name].isna() & rows[f"{name}_true"].isna())), rows[f"{name}_true"])
    _differ(outcome, rows, "verdict", rows["verdict"].astype(object) != rows["verdict_true"], rows["verdict_true"])
    verdicts = analysis.links.set_index("label")["verdict"].astype(object).to_dict()
    wrong = [
        f"{link.label} {verdicts.get(link.label)} instead of {link.verdict}"
        for link in outcome.layout.links()
        if verdicts.get(link.label) != link.verdict
    ]
    if wrong:
        outcome.say(f"verdicts of links: {len(wrong)} differ; {wrong[0]}")


def _declared(outcome, analysis):
    """Limits and margins printed beside the values, where the layout prints them."""
    rows = _beside(outcome, analysis)
    for name in sorted(outcome.layout.prints):
        stated = rows[f"{name}_true"].notna()
        near = (rows[f"declared_{name}"] - rows[f"{name}_true"]).abs() <= SAME
        renamed = rows.rename(columns={f"declared_{name}": f"printed {name}"})
        _differ(outcome, renamed, f"printed {name}", stated & ~near, rows[f"{name}_true"])


def _facts(outcome, analysis):
    """Facts as the file says them, in every record."""
    records = analysis.records.merge(analysis.links[["link", "label"]], on="link", suffixes=("_written", ""))
    facts = analysis.facts.merge(records[["record", "label"]], on="record").set_index("label")
    records = records.set_index("label")
    absent = outcome.layout.absent
    for link in outcome.layout.links():
        own, settled = records.loc[[link.label]], facts.loc[[link.label]]
        wrong = [f"{name} {_shown(settled[name])}" for name in NUMBER_FACTS
                 if not ((settled[name] - float(getattr(link, name))).abs() <= SAME).all()]  # fmt: skip
        wrong += [f"{name} {_shown(settled[name])}" for name in TEXT_FACTS
                  if getattr(link, name) is not None and not (settled[name].astype(object) == getattr(link, name)).all()]  # fmt: skip
        wrong += [f"{name} from {_shown(settled[f'{name}_from'])}" for name in BUILT
                  if name not in absent and getattr(link, name) is not None and not (settled[f"{name}_from"] == "file").all()]  # fmt: skip
        for name in ("tester", "operator"):
            if name not in absent and not (own[name].astype(object) == getattr(link, name)).all():
                wrong.append(f"{name} {_shown(own[name])}")
        said = _said(analysis, own)
        if "verdict" not in absent and said != link.verdict:
            wrong.append(f"printed verdict {said}")
        if "date" not in absent and not (own["tested_at"] == pd.Timestamp(link.tested_at)).all():
            wrong.append(f"tested at {_shown(own['tested_at'])} instead of {link.tested_at}")
        if wrong:
            outcome.say(f"facts of {link.label}: {'; '.join(wrong)}")
            return


def _said(analysis, records):
    """Verdict that the export prints: of the records, else of their readings; the worse counts."""
    readings = analysis.readings[analysis.readings["record"].isin(records["record"])]
    said = {*records["declared_verdict"].dropna(), *readings["declared_verdict"].dropna()}
    return "fail" if "fail" in said else "pass" if "pass" in said else None


def _shown(column):
    return list(column.astype(str).unique())[:3]
