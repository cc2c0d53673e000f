"""What the judged tables tell together: in goes a whole analysis, out come findings.

Every code stands in register.csv; what is a statistic and how often it errs, in screenings.csv. The rooms:

* against schedule and job: `completeness`, `samples`, `coverage` (what a link lacks), `labels`, `dates`, `people`, `versions`,
  `pace`, `limits_used`; `audit` (the owner's own measurements)
* doubtful tests: `copies`, `curve_copies` (by `sketches`), `digits`, `clocks`, `references`, `leads`, `lengths`,
  `numbering`, `smooth`; `doubts` tells what reading and
  judging noticed
* the glass and the pairs: `physics`, `directions`, `traces`, `twisted_pair`, `sweeps`; `causes` of failures
* workmanship: `workmanship` (strands that stand out), `done_well` and `batches` (against links done well), `rates`,
  `charts`, `positions`, `repairs`
* `evidence`: where findings stand · `declared`: the export's limits against ours; `importance`: what to read first

`chances` holds the statistics, `joined` the tables joined once. A screening asks a question and is never an error.
"""

from __future__ import annotations

import pandas as pd

from analyzer.insights import (
    audit,
    batches,
    charts,
    clocks,
    completeness,
    copies,
    coverage,
    curve_copies,
    dates,
    declared,
    digits,
    directions,
    done_well,
    doubts,
    labels,
    leads,
    lengths,
    limits_used,
    marked,
    numbering,
    pace,
    people,
    physics,
    positions,
    rates,
    references,
    repairs,
    samples,
    smooth,
    sweeps,
    traces,
    twisted_pair,
    versions,
    workmanship,
)
from analyzer.insights.evidence import with_places
from analyzer.insights.importance import most_important
from analyzer.insights.joined import Joined
from analyzer.insights.register import Code, finding, in_order, register
from analyzer.schema import Analysis, Finding

__all__ = ["Code", "all_findings", "finding", "in_order", "most_important", "register"]


def all_findings(analysis: Analysis, seeds: pd.DataFrame, *, whole_schedule: bool) -> list[Finding]:
    """Every finding of a run, errors first.

    Args:
        analysis: the run; its `findings` are not looked at.
        seeds: code, record (-1: none), text; noticed while reading and judging.
        whole_schedule: completeness speaks of the whole schedule, not only of the cables that were touched.
    """
    job = Joined(analysis)
    sisters = workmanship.sisters_that_stand_out(job)
    found = in_order(
        [
            *completeness.missing_links(analysis, whole_schedule=whole_schedule),
            *completeness.extra_links(analysis, whole_schedule=whole_schedule),
            *completeness.retests_by_suffix(analysis),
            *completeness.group_values(analysis),
            *twisted_pair.copper_clad_suspected(analysis),
            *twisted_pair.velocity_doubtful(analysis),
            *twisted_pair.split_pair_suspected(analysis),
            *twisted_pair.delay_skew_high(analysis),
            *sisters,
            *done_well.worse_than_links_done_well(analysis),
            *batches.off_the_line(analysis, {label for found in sisters for label in found.links}),
            *batches.batches_over_allowance(analysis),
            *doubts.end_allowance_missing(analysis),
            *traces.traces_findings(analysis),
            *physics.below_the_fiber(analysis),
            *directions.directions_that_differ(analysis),
            *directions.polarity_that_differs(analysis),
            *directions.polarity_against_positions(analysis),
            *doubts.judged_badly(analysis),
            *sweeps.sweeps_that_stop_short(analysis),
            *doubts.unlike_the_export(analysis),
            *doubts.from_seeds(analysis, seeds),
            *doubts.assumed_reference(analysis),
            *doubts.set_aside(analysis),
            *doubts.general_notes(analysis),
            *marked.findings_of_marks(analysis),
            *(item for insight in INSIGHTS for item in insight(job)),
        ]
    )
    return with_places(job, found)


INSIGHTS = (
    coverage.tests_missing, coverage.unlike_sisters, coverage.strand_gaps,
    labels.by_one_end, labels.against_pattern,
    labels.places_against_schedule, samples.alien_sample_short, audit.owners_measurements,
    dates.outside_the_job, dates.before_repair, dates.calibration, dates.calibration_unknown,
    people.not_on_the_list, people.certificate_lapsed, versions.versions_below_the_least, versions.versions_mixed,
    versions.versions_missing, versions.project_names, versions.project_missing, pace.busy_days, pace.left_to_the_end,
    limits_used.limits_mixed, limits_used.plug_tested_as_other,
    copies.same_readings, copies.near_copies, copies.directions_alike,
    curve_copies.same_curves, curve_copies.near_curves,
    digits.round_readings, digits.equal_steps, digits.other_decimals, digits.verdicts_without_numbers,
    digits.wavelengths_in_step,
    smooth.too_smooth,
    clocks.too_fast, clocks.two_places, clocks.out_of_order, clocks.clock_not_set,
    references.drifted, references.set_too_high, references.one_sided,
    leads.worn,
    lengths.differ_in_sheath, lengths.too_alike, lengths.units_mixed, lengths.index_bent,
    numbering.record_gaps, numbering.too_few_failures,
    rates.high_rates, charts.getting_worse, positions.strand_always_worst, positions.pair_always_worst,
    traces.traces_required, repairs.told_repairs, declared.against_computed,
)  # fmt: skip
"""What looks at the joined tables, in the order of the rooms."""
