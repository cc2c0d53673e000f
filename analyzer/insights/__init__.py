"""What the judged tables tell together: in goes a whole analysis, out come findings.

Every code stands in register.csv. Read `completeness` (schedule against results) first, then `workmanship` (strands
that stand out), `twisted_pair` (conductors, velocities, split pairs) and `doubts` (assumptions, disagreements, what was set aside).
"""

from __future__ import annotations

import pandas as pd

from analyzer.insights import (
    batches,
    completeness,
    directions,
    done_well,
    doubts,
    physics,
    sweeps,
    traces,
    twisted_pair,
    workmanship,
)
from analyzer.insights.register import Code, finding, in_order, register
from analyzer.schema import Analysis, Finding

__all__ = ["Code", "all_findings", "finding", "in_order", "register"]


def all_findings(analysis: Analysis, seeds: pd.DataFrame, *, whole_schedule: bool) -> list[Finding]:
    """Every finding of a run, errors first.

    Args:
        analysis: the run; its `findings` are not looked at.
        seeds: code, record (-1: none), text; noticed while reading and judging.
        whole_schedule: completeness speaks of the whole schedule, not only of the cables that were touched.
    """
    sisters = workmanship.sisters_that_stand_out(analysis)
    return in_order(
        [
            *completeness.missing_links(analysis, whole_schedule=whole_schedule),
            *completeness.extra_links(analysis, whole_schedule=whole_schedule),
            *completeness.retests_by_suffix(analysis),
            *completeness.group_values(analysis),
            *twisted_pair.copper_clad_suspected(analysis),
            *twisted_pair.velocity_doubtful(analysis),
            *twisted_pair.split_pair_suspected(analysis),
            *sisters,
            *done_well.worse_than_links_done_well(analysis),
            *batches.off_the_line(analysis, {label for found in sisters for label in found.links}),
            *batches.batches_over_allowance(analysis),
            *doubts.end_allowance_missing(analysis),
            *traces.traces_findings(analysis),
            *physics.below_the_fiber(analysis),
            *directions.directions_that_differ(analysis),
            *doubts.judged_badly(analysis),
            *sweeps.sweeps_that_stop_short(analysis),
            *doubts.unlike_the_export(analysis),
            *doubts.from_seeds(analysis, seeds),
            *doubts.assumed_reference(analysis),
            *doubts.set_aside(analysis),
            *doubts.general_notes(analysis),
        ]
    )
