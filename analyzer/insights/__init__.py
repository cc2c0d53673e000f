"""What the judged tables tell together: in goes a whole analysis, out come findings.

Every code stands in register.csv. Read `completeness` (schedule against results) first, then `workmanship` (strands
that stand out) and `doubts` (assumptions, disagreements, what was set aside).
"""

from __future__ import annotations

import pandas as pd

from analyzer.insights import completeness, directions, doubts, physics, traces, workmanship
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
    return in_order(
        [
            *completeness.missing_links(analysis, whole_schedule=whole_schedule),
            *completeness.extra_links(analysis, whole_schedule=whole_schedule),
            *completeness.retests_by_suffix(analysis),
            *completeness.group_values(analysis),
            *workmanship.sisters_that_stand_out(analysis),
            *traces.traces_findings(analysis),
            *physics.below_the_fiber(analysis),
            *directions.directions_that_differ(analysis),
            *directions.polarity_that_differs(analysis),
            *doubts.judged_badly(analysis),
            *doubts.unlike_the_export(analysis),
            *doubts.from_seeds(analysis, seeds),
            *doubts.assumed_reference(analysis),
            *doubts.set_aside(analysis),
            *doubts.general_notes(analysis),
        ]
    )
