"""Like links together: what cable and connections of a batch really lose, and which links are off its line.

A batch is the links of one fiber type, wavelength and reference method; of a link that was measured in both directions
the mean counts, so that it does not weigh twice. The fit itself stands in `budget.batch`.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.budget.batch import fit_batches
from analyzer.budget.wording import printed
from analyzer.insights.evidence import records_of_links
from analyzer.insights.joined import Joined, counted
from analyzer.insights.register import finding
from analyzer.schema import Analysis, Evidence, Finding

NAMED = 5
"""Links that a message names; the finding lists them all."""
LEAST_OF_CABLE_DB = 0.05
"""What too much attenuation must make at the least between the shortest and the longest link; half the usual accuracy of
a reading, a choice of ours."""
_KEYS = ["type", "wavelength_nm", "reference"]


def batch_tables(analysis: Analysis) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Schema `batches` (one row for each batch that could be fitted) and `batch_links` (its links against its line)."""
    losses = like_losses(analysis)
    fits, each = fit_batches(losses)
    if fits.empty:
        return schema.empty("batches"), schema.empty("batch_links")
    fits = fits.rename(columns=_RENAMED)
    fits["batch"] = np.arange(len(fits))
    rows = losses.join(each).merge(fits[[*_KEYS, "batch"]], on=_KEYS, how="inner")
    rows = rows.rename(columns={"value": "loss_db"}).sort_values(["batch", "link"], kind="stable")
    off = rows["off_line"].ne(0).groupby(rows["batch"]).sum()
    fits["links_off"] = fits["batch"].map(off)
    limits = analysis.limits.set_index("limit_id")
    usual = rows.loc[rows["limit_id"] >= 0].groupby("batch")["limit_id"].agg(lambda ids: ids.mode().iloc[0])
    of_batch = fits["batch"].map(usual)
    for name in ("coefficient_db_per_km", "mated_pair_db", "splice_db"):
        fits[name] = of_batch.map(limits[name])
    return schema.conform("batches", fits), schema.conform("batch_links", rows)


_RENAMED = {
    f"{name}{end}": f"{name.replace('_db', '_loss_db')}{end}"
    for name in ("mating_db", "splice_db")
    for end in ("", "_low", "_high")
}


def like_losses(analysis: Analysis) -> pd.DataFrame:
    """One row per link and wavelength: mean loss over its directions, and the facts that a fit needs."""
    readings, judged, facts = analysis.readings, analysis.judged, analysis.facts
    use = (
        (readings["parameter"] == "loss") & readings["bound"].isna() & (readings["value"] >= 0) & judged["in_force"]
    ).to_numpy()
    at = readings["record"].to_numpy()[use]
    rows = pd.DataFrame(
        {
            "link": analysis.records["link"].to_numpy()[at],
            "type": facts["type"].astype("object").to_numpy()[at],
            "wavelength_nm": judged["judged_wavelength_nm"].to_numpy()[use],
            "reference": facts["reference"].astype("object").to_numpy()[at],
            "length_m": facts["length_m"].to_numpy()[at],
            "matings": facts["matings_in_reading"].to_numpy()[at],
            "splices": facts["splices"].to_numpy()[at],
            "value": readings["value"].to_numpy()[use],
            "limit_id": judged["limit_id"].to_numpy()[use],
        }
    ).dropna(subset=["type", "reference", "length_m", "matings", "splices"])
    same = ["link", *_KEYS]
    first = rows.drop_duplicates(same).reset_index(drop=True)
    mean = rows.groupby(same, sort=False)["value"].mean().to_numpy()
    return first.assign(value=mean)


def off_the_line(analysis: Analysis, told: set[str]) -> list[Finding]:
    """Links that lose far more, or far less, than the line of their batch.

    `told`: labels that another finding names as standing out already. What fails is told as failing.
    """
    rows, links = analysis.batch_links, analysis.links
    if rows.empty:
        return []
    rows = rows.assign(wavelength_nm=analysis.batches["wavelength_nm"].to_numpy()[rows["batch"].to_numpy()])
    excess = rows["loss_db"] - rows["line_db"]
    far = (rows["off_line"] != 0) & (excess.abs() >= analysis.job.rules.sister_min_excess_db - 1e-9)
    far &= (excess.abs() > beyond_chance_db(analysis.batches)[rows["batch"].to_numpy()]).to_numpy()
    table = rows[far].assign(excess=excess[far], label=links["label"].take(rows.loc[far, "link"]).to_numpy())
    failing = (links["verdict"] == "fail").to_numpy()[table["link"].to_numpy()]
    table = table[~table["label"].isin(told) & ~(failing & (table["excess"] > 0).to_numpy())]
    found = []
    for more, word, why in ((True, "more", ""), (False, "less", "; its length or counts may be wrong")):
        some = table[(table["excess"] > 0) == more]
        some = some.assign(size=some["excess"].abs()).sort_values(["size", "link"], ascending=[False, True])
        some = some.drop_duplicates("link")
        if len(some):
            evidence = _off_evidence(analysis, some)
            found.append(finding("off-the-line", _off_message(some, word) + why, some["label"], evidence=evidence))
    return found


def beyond_chance_db(batches: pd.DataFrame) -> np.ndarray:
    """For each batch the distance from its line that one link in twenty such batches may reach by chance [dB].

    Losses of connections scatter with long tails: taken as exponential on both sides (Laplace), whose median deviation
    is b ln 2, so that the spread (1.4826 times the median deviation) is 1.0277 b. Over n links the largest is beyond
    b ln(n / 0.05) once in twenty batches (Bonferroni). Our own choice, measured on clean simulated jobs.
    """
    scale = batches["spread_db"].to_numpy(float) / (_NORMAL_MAD * np.log(2.0))
    return np.asarray(scale * np.log(np.maximum(batches["links_used"].to_numpy(float), 1.0) / 0.05))


_NORMAL_MAD = 1.4826


def _off_evidence(analysis: Analysis, some: pd.DataFrame) -> list[Evidence]:
    """Loss and line of the links farthest off, at their records."""
    head = some.iloc[:NAMED]
    job = Joined(analysis)
    records = records_of_links(job, head["link"])
    waves = head["wavelength_nm"].astype("str")
    return [
        *job.of_records(records, [f"loss at {nm} nm" for nm in waves], head["loss_db"].to_numpy(), "dB"),
        *job.of_records(records, [f"line of like links at {nm} nm" for nm in waves], head["line_db"].to_numpy(), "dB"),
    ]


def _off_message(some: pd.DataFrame, word: str) -> str:
    count = "1 link loses" if len(some) == 1 else f"{len(some)} links lose"
    head = some.iloc[:NAMED]
    sizes = printed(head["size"].to_numpy())
    lines = printed(head["line_db"].to_numpy())
    waves = head["wavelength_nm"].astype("str").to_numpy()
    named = [
        f"{label} {size} dB {word} at {wave} nm (line {line} dB)"
        for label, size, wave, line in zip(head["label"], sizes, waves, lines, strict=True)
    ]
    rest = f"; and {len(some) - NAMED} more" if len(some) > NAMED else ""
    return f"{count} far {word} than the line of like links: {', '.join(named)}{rest}"


def batches_over_allowance(analysis: Analysis) -> list[Finding]:
    """Batches whose cable or connections lose, by the whole interval of the fit, more than one of them is allowed."""
    table = analysis.batches
    found = []
    grouped = analysis.batch_links.groupby("batch")["length_m"]
    range_km = (grouped.max() - grouped.min()).reindex(table["batch"]).to_numpy() / 1000
    for fitted, allowed, what, unit in (
        ("attenuation_db_per_km", "coefficient_db_per_km", "the cable", "dB/km"),
        ("mating_loss_db", "mated_pair_db", "a connection", "dB"),
    ):
        beyond = (table[f"{fitted}_low"] - table[allowed]).to_numpy()
        # an attenuation is told by links of different length, and by no less than readings can tell
        told = beyond * range_km >= LEAST_OF_CABLE_DB if unit == "dB/km" else beyond > 1e-9
        for row in table[told].to_dict("records"):
            value, low, high, limit = printed(
                np.array([row[fitted], row[f"{fitted}_low"], row[f"{fitted}_high"], row[allowed]])
            )
            message = (
                f"{row['type']} at {row['wavelength_nm']} nm, {row['reference']}: over {row['links_used']} links {what} "
                f"really loses {value} {unit} ({low} to {high}), more than the {limit} {unit} allowed"
            )
            job = Joined(analysis)
            evidence = [
                counted(f"{what}, as fitted", row[fitted], unit), counted("low end", row[f"{fitted}_low"], unit),
                counted("high end", row[f"{fitted}_high"], unit), counted("allowed", row[allowed], unit),
                counted("links of the batch", row["links_used"]),
            ]  # fmt: skip
            mine = analysis.batch_links.loc[analysis.batch_links["batch"] == row["batch"], "link"]
            evidence += job.of_records(records_of_links(job, mine)[:3], "one of the batch")
            found.append(finding("batch-over-allowance", message, evidence=evidence))
    return found
