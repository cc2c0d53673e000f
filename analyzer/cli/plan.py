"""`cableproof plan`: the budget before the cable is pulled."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Group, Parameter

if TYPE_CHECKING:
    from analyzer.budget.planned import PlannedLink

_BUILT = Group("What will be built", sort_key=10)
_ORDER = Group("What is ordered", sort_key=20)


def plan(
    *,
    fiber: Annotated[str | None, Parameter(name=["--fiber", "--fibre"], group=_BUILT)] = None,
    length: Annotated[str | None, Parameter(group=_BUILT)] = None,
    ends: Annotated[str | None, Parameter(group=_BUILT)] = None,
    mated_pairs: Annotated[str | None, Parameter(group=_BUILT)] = None,
    array_pairs: Annotated[int | None, Parameter(group=_BUILT)] = None,
    splices: Annotated[str | None, Parameter(group=_BUILT)] = None,
    construction: Annotated[str | None, Parameter(group=_BUILT)] = None,
    power_budget: Annotated[float | None, Parameter(group=_ORDER)] = None,
    other_loss: Annotated[float, Parameter(group=_ORDER)] = 0.0,
    reference: Annotated[str | None, Parameter(group=_ORDER)] = None,
    wavelength: Annotated[tuple[int, ...], Parameter(group=_ORDER, negative="")] = (),
    standard: Annotated[str | None, Parameter(group=_ORDER)] = None,
    edition: Annotated[str | None, Parameter(group=_ORDER)] = None,
    connection_grade: Annotated[str | None, Parameter(group=_ORDER)] = None,
    job: Annotated[Path | None, Parameter(group=_ORDER)] = None,
) -> int:
    """Say what a planned fiber link may lose, what it should lose, and what the tester should read on the day.

    Exit code 0; 2 where an option cannot be used.

    Parameters
    ----------
    fiber
        Fiber type: OM1 to OM5, OS1, OS1a, OS2.
    length
        Length in meters.
    ends
        What end A and end B are, for example panel,panel; they bring mated pairs and splices.
    mated_pairs
        Mated pairs of connectors in the link, those at panels counted.
    array_pairs
        How many of the mated pairs are array connections.
    splices
        Splices in the link.
    construction
        Cable of single-mode fiber: "inside plant", indoor-outdoor or "outside plant".
    power_budget
        Decibels that the light may lose between sender and receiver.
    other_loss
        Any other loss to allow in service, in decibels.
    reference
        Only this reference method: one-cord, two-cord or three-cord.
    wavelength
        Only these wavelengths in nanometers.
    standard
        TIA or ISO.
    edition
        Edition of the standard, for example 568.3-E.
    connection_grade
        Grade of the connections, for the loss to be expected: A to D, Bm, Cm.
    job
        A job.toml: its orders, facts and own allowances count where no option says otherwise.
    """
    from analyzer.report.plan_table import plan_lines

    planned = planned_link(
        fiber=fiber, length=length, ends=ends, mated_pairs=mated_pairs, array_pairs=array_pairs, splices=splices,
        construction=construction, power_budget=power_budget, other_loss=other_loss, reference=reference,
        wavelength=wavelength, standard=standard, edition=edition, connection_grade=connection_grade, job=job,
    )  # fmt: skip
    print("\n".join(plan_lines(planned)))
    return 0


def planned_link(
    *,
    fiber: str | None = None,
    length: str | None = None,
    ends: str | None = None,
    mated_pairs: str | None = None,
    array_pairs: int | None = None,
    splices: str | None = None,
    construction: str | None = None,
    power_budget: float | None = None,
    other_loss: float = 0.0,
    reference: str | None = None,
    wavelength: tuple[int, ...] = (),
    standard: str | None = None,
    edition: str | None = None,
    connection_grade: str | None = None,
    job: Path | None = None,
) -> PlannedLink:
    """The options as typed, what the job says where they are silent, and the plan that they ask for.

    Raises:
        OptionError: an option cannot be used, or too little was said.
        JobError: the job file cannot be used.
    """
    from analyzer.budget.planned import plan_link
    from analyzer.job import CommandLine, Job, load_job

    said = CommandLine.parse(
        fiber=fiber, length=length, ends=ends, mated_pairs=mated_pairs, splices=splices, construction=construction,
        reference=reference, standard=standard, edition=edition,
    )  # fmt: skip
    known = Job() if job is None else load_job(job)
    order, facts = known.order, known.facts
    # counts and ends are one statement: what the command line says of either replaces the job's
    counts_said = said.ends is not None or said.mated_pairs is not None or said.splices is not None
    return plan_link(
        fiber=said.fiber or order.fiber or facts.fiber,
        length_m=facts.length_m if said.length_m is None else said.length_m,
        ends=said.ends if counts_said else _two(facts.ends),
        mated_pairs=said.mated_pairs if counts_said else facts.mated_pairs,
        splices=said.splices if counts_said else facts.splices,
        array_pairs=array_pairs,
        construction=said.construction or order.construction or facts.construction,
        standard=said.standard or order.standard or "TIA",
        edition=said.edition if said.edition or said.standard else order.edition,
        connection_grade=connection_grade,
        power_budget_db=power_budget,
        other_db=other_loss,
        wavelengths_nm=wavelength,
        references=() if said.reference is None else (said.reference,),
        job=known,
    )


def _two(ends: list[str] | tuple[str, str] | None) -> tuple[str, str] | None:
    return None if ends is None else (ends[0], ends[1])
