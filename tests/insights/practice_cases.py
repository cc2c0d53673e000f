"""Small invented job folders, one trouble each: what owners ask for and what goes wrong, as exports, schedule and job file.

A case changes a clean export of eight strands (or of six twisted-pair links) and says which finding codes must be told of
it and of nothing else. All labels, people and places are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from analyzer.pipeline import analyze
from analyzer.schema import Analysis

PAIRS = ("1-2", "3-6", "4-5", "7-8")


def fiber(strands: int = 8, cable: str = "TB-101", seed: int = 5) -> pd.DataFrame:
    """Strands as a careful crew hands them over."""
    rng = np.random.default_rng(seed)
    n = np.arange(1, strands + 1)
    ends = rng.uniform(0.2, 0.5, strands)
    table = pd.DataFrame(
        {
            "Label": [f"{cable}-{k:02d}" for k in n], "Cable": cable, "Strand": n, "From location": "Hub 1, panel 2",
            "To location": "Room 7, panel 1", "Fiber type": "OM4", "Length (m)": np.round(118 + rng.normal(0, 0.2, strands), 1),
            "Mated pairs": 2, "Splices": 0, "Reference": "one-cord", "Accuracy (dB)": 0.1, "Limit": "Backbone A",
            "Verdict": "PASS", "Tester": "T-1", "Operator": "Ada Invented", "Calibrated on": "2026-03-02",
            "Record no": 1000 + n,
            "Tested at": [f"2026-09-14 {8 + k // 60:02d}:{k % 60:02d}:{7 + k % 40:02d}" for k in n * 2],
        }
    )  # fmt: skip
    for wave, base, share in ((850, 0.28, 1.0), (1300, 0.07, 0.85)):
        for way in ("A-B", "B-A"):
            table[f"Loss {wave} {way} (dB)"] = np.round(base + share * ends + rng.normal(0, 0.015, strands), 2)
    return table


def copper(links: int = 8, seed: int = 6) -> pd.DataFrame:
    """Permanent links of category 6A with readings as single values."""
    rng = np.random.default_rng(seed)
    n = np.arange(1, links + 1)
    length = np.round(rng.uniform(30, 60, links), 1)
    table = pd.DataFrame(
        {
            "Label": [f"WA-601-{k:02d}" for k in n], "From location": "Closet 1, panel 1", "To location": "Floor 1, room 601",
            "Category": "6A", "Configuration": "permanent link", "Limit": "Category 6A permanent link", "Wire map": "PASS",
            "Tester": "T-9", "Operator": "Ben Invented", "Calibrated on": "2026-03-02", "Length (m)": length,
            "Tested at": [f"2026-09-14 09:{2 * k:02d}:{3 + k:02d}" for k in n],
        }
    )  # fmt: skip
    for pair in PAIRS:
        table[f"Delay {pair} (ns)"] = np.round(length / 0.299792458 / 0.69, 0)
    table["Delay skew (ns)"] = 12.0
    return table


def schedule_of(*tables: pd.DataFrame) -> pd.DataFrame:
    """The schedule of what was tested: fiber by its cable, twisted pair by its link."""
    rows = []
    for table in tables:
        if "Cable" in table:
            for cable, own in table.groupby("Cable", sort=False):
                rows.append({"Cable": cable, "Place end A": own["From location"].iloc[0], "Place end B": own["To location"].iloc[0],
                             "Medium": "fiber", "Fiber type": "OM4", "Strands": int(own["Strand"].max()),
                             "Length (m)": 118, "Mated pairs": 2, "Splices": 0})  # fmt: skip
        else:
            rows += [{"Cable": row["Label"], "Place end A": row["From location"], "Place end B": row["To location"],
                      "Medium": "twisted pair", "Grade": "6A", "End type B": "jack"} for row in table.to_dict("records")]  # fmt: skip
    return pd.DataFrame(rows)


@dataclass
class Folder:
    """What is written: exports by name, the schedule, the job file."""

    exports: dict[str, pd.DataFrame] = field(default_factory=dict)
    schedule: pd.DataFrame | None = None
    job: str = ""

    def write(self, folder: Path) -> Path:
        (folder / "evidence").mkdir(parents=True)
        for name, table in self.exports.items():
            path = folder / "evidence" / name
            path.parent.mkdir(exist_ok=True)
            table.to_csv(path, index=False)
        if self.schedule is not None:
            self.schedule.to_csv(folder / "schedule.csv", index=False)
        (folder / "job.toml").write_text(self.job, encoding="utf-8")
        return folder

    def analyzed(self, folder: Path) -> Analysis:
        return analyze(self.write(folder))


def clean_fiber() -> Folder:
    table = fiber()
    return Folder({"strands.csv": table}, schedule_of(table), "[rules]\naccuracy_db = 0.1\n")


def clean_copper() -> Folder:
    table = copper()
    job = '[order]\ngrade = "6A"\nconfiguration = "permanent link"\n[required]\ntwisted_pair = ["wire map", "length"]\n'
    return Folder({"links.csv": table}, schedule_of(table), job)


Change = Callable[[Folder], None]
CASES: dict[str, tuple[tuple[str, ...], set[str], Callable[[], Folder], Change]] = {}
"""name -> (rules, codes that must be told, clean folder, change)."""


def case(rules: str, codes: str, of: Callable[[], Folder] = clean_fiber) -> Callable[[Change], Change]:
    def keep(change: Change) -> Change:
        CASES[change.__name__] = (tuple(rules.split()), set(codes.split()), of, change)
        return change

    return keep


def at(folder: Folder, name: str = "") -> pd.DataFrame:
    return folder.exports[name or next(iter(folder.exports))]


def put(folder: Folder, rows: object, **values: object) -> None:
    """Change columns (`_` stands for a blank) of some rows."""
    table = at(folder)
    for name, value in values.items():
        column = name.replace("_", " ")
        if table[column].dtype != object:
            table[column] = table[column].astype(object)
        table.loc[rows, column] = value


def losses(table: pd.DataFrame) -> list[str]:
    return [name for name in table if name.startswith("Loss")]


@case("R01 R54 P07 R50", "missing-link")
def one_strand_without_a_result(folder: Folder) -> None:
    folder.exports["strands.csv"] = at(folder).drop(index=3)


@case("R01 P07", "strands-missing")
def a_number_is_missing_and_there_is_no_schedule(folder: Folder) -> None:
    folder.exports["strands.csv"], folder.schedule = at(folder).drop(index=3), None


@case("R21 P06 R54 R22", "extra-link label-near-miss missing-link")
def a_label_with_a_letter_for_a_digit(folder: Folder) -> None:
    put(folder, 3, Label="TB-1O1-04", Cable="TB-1O1")


@case("R22", "label-pattern")
def a_label_of_another_form(folder: Folder) -> None:
    folder.schedule = None
    folder.job += "[labels]\npattern = 'TB-[0-9]{3}-[0-9]{2}'\n"
    put(folder, 3, Label="spare 4")


@case("R14", "trace-missing")
def no_trace_though_required(folder: Folder) -> None:
    folder.job += "[required]\ntraces_from_m = 90\n"


@case("R09 P08", "test-missing")
def one_direction_though_two_are_required(folder: Folder) -> None:
    folder.job += "[required]\ndirections = 2\n"
    put(folder, [2, 3], **{"Loss_850_B-A_(dB)": "", "Loss_1300_B-A_(dB)": ""})


@case("R10 R11 P08", "test-missing")
def one_wavelength(folder: Folder) -> None:
    put(folder, [2, 3], **{"Loss_1300_A-B_(dB)": "", "Loss_1300_B-A_(dB)": ""})


@case("R30 R62", "fact-differs")
def a_length_unlike_the_schedule(folder: Folder) -> None:
    put(folder, 4, **{"Length_(m)": 171.0})


@case("R30", "test-missing")
def no_length(folder: Folder) -> None:
    folder.schedule = folder.schedule.drop(columns="Length (m)")
    put(folder, 4, **{"Length_(m)": ""})


@case("R27 P11", "calibration-lapsed")
def calibrated_too_long_ago(folder: Folder) -> None:
    put(folder, slice(None), Calibrated_on="2025-03-02")


@case("R27 P11", "tested-before-calibration")
def calibrated_after_the_test(folder: Folder) -> None:
    put(folder, [1, 2], Calibrated_on="2026-10-02")


@case("R26 P11", "calibration-unknown")
def no_calibration_of_one_tester(folder: Folder) -> None:
    put(folder, [1, 2], Calibrated_on="", Tester="T-2")


@case("R26", "tester-not-listed")
def a_tester_that_is_not_listed(folder: Folder) -> None:
    folder.job += '[[instruments]]\ntester = "T-1"\n'
    put(folder, [1, 2], Tester="T-2", Record_no="")


@case("R26", "tester-not-listed")
def no_tester_named(folder: Folder) -> None:
    folder.job += '[[instruments]]\ntester = "T-1"\n'
    put(folder, [1, 2], Tester="", Record_no="")


@case("R25", "operator-not-listed")
def an_operator_who_is_not_listed(folder: Folder) -> None:
    folder.job += '[people]\noperators = ["Ada Invented"]\n'
    put(folder, [1, 2], Operator="Dan Invented")


@case("R25", "operator-not-listed")
def no_operator_named(folder: Folder) -> None:
    folder.job += '[people]\noperators = ["Ada Invented"]\n'
    put(folder, [1, 2], Operator="")


@case("R25 R56", "certificate-lapsed")
def a_certificate_that_ended(folder: Folder) -> None:
    folder.job += '[people]\ncertified_until = {"ada invented" = 2026-09-13}\n'


@case("R37", "declared-fail-unexplained", clean_copper)
def a_fail_that_nothing_explains(folder: Folder) -> None:
    table = at(folder)
    table["Verdict"] = ["FAIL", *["PASS"] * 7]


@case("R20 R05", "test-missing", clean_copper)
def no_wire_map(folder: Folder) -> None:
    put(folder, [0, 1], Wire_map="")


@case("R20", "polarity-differs")
def another_polarity_than_scheduled(folder: Folder) -> None:
    at(folder)["Polarity"] = ["A-A", *["A-B"] * 7]
    folder.schedule["Polarity"] = "A-B"


@case("R05 R08", "test-missing", clean_copper)
def the_full_set_is_required(folder: Folder) -> None:
    folder.job = folder.job.replace('["wire map", "length"]', '["wire map", "NEXT"]')


@case("R02 R03 P01", "order-differs", clean_copper)
def channel_where_permanent_link_was_ordered(folder: Folder) -> None:
    put(folder, [0, 1], Configuration="channel", Limit="Category 6A channel")


@case("R03 P01", "order-differs", clean_copper)
def permanent_link_where_channel_was_ordered(folder: Folder) -> None:
    folder.job = folder.job.replace("permanent link", "channel")


@case("R28", "versions-mixed")
def two_versions_of_the_software(folder: Folder) -> None:
    at(folder)["Software version"] = ["5.1.0", "5.1", "v5.1", *["5.1"] * 3, "5.0.9", "5.0.9"]


@case("R28", "version-too-old", clean_copper)
def limit_tables_of_another_year(folder: Folder) -> None:
    folder.job += 'limit_table_from = "7.10"\n'
    at(folder)["Limit table version"] = "7.9"


@case("R28", "version-not-comparable")
def a_version_that_is_a_name(folder: Folder) -> None:
    folder.job += '[required]\nfirmware_from = "2.0"\n'
    at(folder)["Firmware"] = "spring edition"


@case("R28", "version-missing")
def no_version_though_the_job_asks_for_it(folder: Folder) -> None:
    folder.job += '[required]\nsoftware_from = "5.1"\n'


@case("R28", "version-missing")
def some_records_without_their_version(folder: Folder) -> None:
    at(folder)["Software version"] = [*["5.1"] * 6, "", "n/a"]


@case("R34", "project-names-differ")
def two_projects_in_one_job(folder: Folder) -> None:
    at(folder)["Project"] = [*["Invented Hall"] * 7, "Invented Annex"]


@case("R34", "project-names-differ")
def another_project_than_the_job(folder: Folder) -> None:
    folder.job += '[job]\nname = "Invented Hall"\n'
    at(folder)["Job name"] = "Invented Annex"


@case("R34", "project-missing")
def no_project_on_some_records(folder: Folder) -> None:
    at(folder)["Project name"] = [*["Invented Hall"] * 6, "", ""]


@case("R29 P01", "limits-mixed")
def two_limits_in_one_cable(folder: Folder) -> None:
    put(folder, [1, 2], Limit="Backbone B")


@case("R04 P16", "plug-tested-as-other", clean_copper)
def plugs_tested_as_permanent_link(folder: Folder) -> None:
    folder.schedule.loc[:2, "End type B"] = "plug"


@case("R06 R64", "alien-sample-short", clean_copper)
def no_alien_crosstalk_though_asked(folder: Folder) -> None:
    folder.job += "[sampling]\nalien_crosstalk = 0.25\n"


@case("R32 P02", "reference-assumed")
def no_reference_method(folder: Folder) -> None:
    folder.exports["strands.csv"] = at(folder).drop(columns="Reference")


@case("R39", "fact-differs")
def another_fiber_type_than_scheduled(folder: Folder) -> None:
    put(folder, [1, 2], Fiber_type="OM3")


@case("R24 P10", "test-before-install")
def tested_before_the_cable_came(folder: Folder) -> None:
    folder.job += "[dates]\ninstalled = 2026-09-20\n"


@case("R24 R47 P10", "test-after-handover")
def tested_after_hand_over(folder: Folder) -> None:
    folder.job += "[dates]\nhandover = 2026-09-10\n"


@case("R24 P10", "clock-not-set")
def a_clock_that_was_never_set(folder: Folder) -> None:
    put(folder, 2, Tested_at="2010-01-01 00:03:11", Record_no="", Calibrated_on="")


@case("R37 P01", "declared-differs")
def the_export_passes_what_fails(folder: Folder) -> None:
    put(folder, 2, **{"Loss_850_A-B_(dB)": 2.61, "Loss_850_B-A_(dB)": 2.58})


@case("R35", "declared-against-computed")
def limits_of_the_export_are_others(folder: Folder) -> None:
    at(folder)["Limit 850 A-B (dB)"] = 2.9


@case("R36 R54", "places-differ")
def another_room_than_scheduled(folder: Folder) -> None:
    put(folder, [1, 2], To_location="Room 9, panel 1")


@case("R36", "places-differ")
def one_place_for_both_ends(folder: Folder) -> None:
    folder.schedule = None
    put(folder, [1, 2], To_location="Hub 1, panel 2")


@case("R63 P24", "test-before-repair")
def a_cable_that_was_touched_later(folder: Folder) -> None:
    folder.job += '[[repairs]]\nlinks = ["TB-101-0[12]"]\ndate = 2026-10-02\n'


@case("R63 P24", "test-before-repair")
def a_touched_cable_whose_test_has_no_date(folder: Folder) -> None:
    folder.job += '[[repairs]]\nlinks = ["TB-101-0[12]"]\ndate = 2026-09-01\n'
    put(folder, slice(None), Tested_at="")


@case("R63 P24", "test-before-repair")
def a_touched_cable_that_was_not_tested(folder: Folder) -> None:
    folder.job += '[[repairs]]\nlinks = ["TB-999-*"]\ndate = 2026-09-01\n'


@case("R31 P05 R30", "velocity-hides-length", clean_copper)
def a_velocity_bent_until_the_length_fits(folder: Folder) -> None:
    put(folder, 3, **{"Length_(m)": 89.6} | {f"Delay_{pair}_(ns)": 462 for pair in PAIRS})


@case("R31 P05", "velocity-doubtful", clean_copper)
def a_velocity_unlike_that_of_the_others(folder: Folder) -> None:
    put(folder, 3, **{"Length_(m)": 40.0} | {f"Delay_{pair}_(ns)": 205 for pair in PAIRS})


@case("R31 P05", "velocity-doubtful", clean_copper)
def a_velocity_unlike_the_one_that_was_set(folder: Folder) -> None:
    at(folder)["NVP (%)"] = [69, 69, 69, 72, 69, 69, 69, 69]


@case("P23", "delay-skew-high", clean_copper)
def skew_near_its_limit(folder: Folder) -> None:
    put(folder, 3, **{"Delay_skew_(ns)": 41.0})


@case("P21 P14", "copper-clad-suspected", clean_copper)
def more_resistance_than_copper_has(folder: Folder) -> None:
    for pair in PAIRS:
        at(folder)[f"Loop resistance {pair} (ohm)"] = np.round(at(folder)["Length (m)"] * 0.30, 1)


@case("P02", "negative-loss")
def a_loss_below_zero(folder: Folder) -> None:
    put(folder, 3, **{name.replace(" ", "_"): -0.45 for name in losses(at(folder))})


@case("R65", "audit-differs audit-compared")
def the_owner_measures_otherwise(folder: Folder) -> None:
    folder.job += '[audit]\nfiles = ["owner/*"]\n'
    own = at(folder).iloc[:4].copy()
    own.loc[2, "Loss 850 A-B (dB)"] += 0.31
    own.loc[3, "Length (m)"] *= 1.03
    own.loc[1, "Limit"] = "Backbone B"
    own["Tested at"] = own["Tested at"].str.replace("09-14", "10-02")
    folder.exports["owner/again.csv"] = own


@case("R65", "audit-unmatched audit-compared")
def the_owner_measures_what_nobody_tested(folder: Folder) -> None:
    folder.job += '[audit]\nfiles = ["owner/*", "gone.csv"]\n'
    own = at(folder).iloc[:2].copy()
    own.loc[1, "Label"] = "TB-999-01"
    own.loc[1, "Cable"] = "TB-999"
    folder.exports["owner/again.csv"] = own


@case("P18 R64", "sample-tested")
def a_sample_as_declared(folder: Folder) -> None:
    folder.job += "[sampling]\nshare = 0.5\n"
    folder.exports["strands.csv"] = at(folder).iloc[:5]


@case("P18", "sample-too-small")
def a_sample_too_small(folder: Folder) -> None:
    folder.job += "[sampling]\nshare = 0.9\n"
    folder.exports["strands.csv"] = at(folder).iloc[:5]


@case("P09 R62", "units-mixed fact-differs")
def feet_among_meters(folder: Folder) -> None:
    put(folder, [1, 2, 3, 4], **{"Length_(m)": 387.0})


@case("P03 T1 T2", "same-readings")
def a_strand_copied(folder: Folder) -> None:
    table = at(folder)
    table["ORL 850 (dB)"] = np.round(
        np.linspace(31.13, 38.77, 8) + np.array([0.3, -1.2, 0.7, 2.2, -0.4, 0.9, -2.1, 1.6]), 2
    )
    table["ORL 1300 (dB)"] = np.round(
        np.linspace(33.33, 37.97, 8) + np.array([1.3, -0.2, -0.7, 1.2, 0.4, -1.9, 2.1, -0.6]), 2
    )
    for name in [*losses(table), "ORL 850 (dB)", "ORL 1300 (dB)"]:
        table.loc[5, name] = table.loc[1, name]


@case("T14", "verdict-without-readings")
def passed_without_numbers(folder: Folder) -> None:
    put(folder, 3, **{name.replace(" ", "_"): "" for name in losses(at(folder))})


@case("T13", "readings-in-steps")
def losses_filled_down(folder: Folder) -> None:
    for name in losses(at(folder)):
        at(folder)[name] = np.round(0.41 + 0.03 * np.arange(8), 2)


@case("T8 P04", "record-numbers-missing")
def a_record_left_out(folder: Folder) -> None:
    table = fiber(16)
    folder.exports["strands.csv"], folder.schedule = table, schedule_of(table)
    put(folder, slice(9, 15), Record_no=list(range(1011, 1018)))


@case("T5", "tests-too-fast")
def tests_in_seconds(folder: Folder) -> None:
    put(folder, slice(None), Tested_at=[f"2026-09-14 08:00:{7 + 3 * k:02d}" for k in range(8)])


@case("T15 P10", "times-out-of-order")
def a_row_out_of_time(folder: Folder) -> None:
    put(folder, 4, Tested_at="2026-09-14 11:44:09")


@case("T13", "readings-in-steps", clean_copper)
def lengths_filled_down(folder: Folder) -> None:
    folder.exports["links.csv"] = table = copper(12)
    folder.schedule = schedule_of(table)
    table["Length (m)"] = np.round(31.4 + 1.5 * np.arange(12), 1)
    for pair in PAIRS:
        table[f"Delay {pair} (ns)"] = np.round(table["Length (m)"] / 0.299792458 / 0.69, 0)


@case("T10 R09", "directions-alike")
def the_second_direction_copied(folder: Folder) -> None:
    for wave in (850, 1300):
        at(folder)[f"Loss {wave} B-A (dB)"] = at(folder)[f"Loss {wave} A-B (dB)"]


@case("R15", "launch-cord-short event-gains")
def a_launch_cord_too_short(folder: Folder) -> None:
    folder.job += "[required]\nlaunch_cord_m = 500\n[facts]\nlaunch_cord_m = 100\n"
    folder.exports["trace.csv"] = pd.DataFrame(
        {
            "Cable": "TB-101", "Strand": 1, "Wavelength (nm)": 850, "Direction": "A-B", "Event": [1, 2, 3, 4],
            "Distance (m)": [0.0, 100.0, 160.0, 218.0], "Event type": ["start", "connection", "splice", "end"],
            "Event loss (dB)": [np.nan, 0.3, -0.05, np.nan], "Reflectance (dB)": [-45.0, -46.0, np.nan, -44.0],
        }
    )  # fmt: skip


@case("R19", "event-fails")
def a_splice_beyond_the_owners_own_limit(folder: Folder) -> None:
    folder.job += "[allowances]\nsplice_db = 0.1\n[facts]\nlaunch_cord_m = 100\n"
    folder.exports["trace.csv"] = pd.concat([_trace("A-B", 160.0, 0.22), _trace("B-A", 158.0, 0.16)])


def _trace(way: str, splice_m: float, loss_db: float) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "Cable": "TB-101", "Strand": 1, "Wavelength (nm)": 1300, "Direction": way, "Event": [1, 2, 3, 4],
            "Distance (m)": [0.0, 100.0, splice_m, 218.0], "Event type": ["start", "connection", "splice", "end"],
            "Event loss (dB)": [np.nan, 0.3, loss_db, np.nan], "Reflectance (dB)": [-45.0, -46.0, np.nan, -44.0],
            "Calibrated on": "2026-03-02",
        }
    )  # fmt: skip


@case("R23 P06", "label-of-one-end", clean_copper)
def the_label_of_the_other_end(folder: Folder) -> None:
    folder.schedule["Label end A"] = [f"C1-{k:02d}" for k in range(1, 9)]
    folder.schedule["Label end B"] = [f"R601-{k:02d}" for k in range(1, 9)]
    put(folder, [2, 3], Label=["R601-03", "R601-04"])


@case("R52", "retest-suffix")
def a_retest_under_a_label_of_its_own(folder: Folder) -> None:
    folder.schedule = None
    again = at(folder).iloc[[2]].assign(Label="TB-101-03-R", Strand="3-R")
    folder.exports["strands.csv"] = pd.concat([at(folder), again.drop(columns="Strand")])
    folder.exports["strands.csv"] = folder.exports["strands.csv"].drop(columns=["Strand", "Record no"])


@case("R16", "directions-differ")
def one_direction_loses_far_more(folder: Folder) -> None:
    put(folder, 2, **{"Loss_850_B-A_(dB)": 1.61, "Loss_1300_B-A_(dB)": 1.32})


@case("R60 R17", "worse-than-sisters")
def a_dirty_connector_that_passes(folder: Folder) -> None:
    for name in losses(at(folder)):
        at(folder).loc[2, name] += 0.9


@case("P18", "group-value")
def one_value_for_a_range_of_strands(folder: Folder) -> None:
    first = at(folder).iloc[[0]].assign(Label="TB-101-01..08").drop(columns=["Strand", "Record no"])
    folder.exports["strands.csv"] = first


@case("P17", "busy-day tests-at-the-end")
def everything_on_the_last_day(folder: Folder) -> None:
    table = fiber(140)
    days = [min(k // 4, 11) for k in range(140)]
    table["Tested at"] = [
        f"2026-09-{7 + day:02d} {8 + k // 40:02d}:{k % 40:02d}:{7 + k % 40:02d}" for k, day in enumerate(days)
    ]
    folder.exports["strands.csv"], folder.schedule = table, schedule_of(table)
