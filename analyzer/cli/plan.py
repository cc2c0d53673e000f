"""`cableproof plan`: the budget before the cable is pulled."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Group, Parameter

from analyzer.errors import FileMissing, OptionError
from analyzer.schema import OWN_MARK

if TYPE_CHECKING:
    import pandas as pd

    from analyzer.budget.one_link import FiberBudget
    from analyzer.budget.planned import PlannedLink

_BUILT = Group("What will be built", sort_key=10)
_ORDER = Group("What is ordered", sort_key=20)
_MANY = Group("Many links, and files", sort_key=30)


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
    schedule: Annotated[Path | None, Parameter(group=_MANY)] = None,
    csv: Annotated[Path | None, Parameter(group=_MANY)] = None,
    html: Annotated[Path | None, Parameter(group=_MANY)] = None,
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
    schedule
        A cable schedule: all its fiber links are planned, with what it and the job say; a CSV unless --html is given.
    csv
        Write the plan as CSV to this file; - is standard output.
    html
        Write the plan as one page that needs no network.
    """
    given: dict[str, Any] = {
        "fiber": fiber, "length": length, "ends": ends, "mated_pairs": mated_pairs, "array_pairs": array_pairs,
        "splices": splices, "construction": construction, "power_budget": power_budget, "other_loss": other_loss,
        "reference": reference, "wavelength": wavelength, "standard": standard, "edition": edition,
        "connection_grade": connection_grade, "job": job,
    }  # fmt: skip
    if schedule is not None:
        _refuse(given, ("fiber", "length", "ends", "mated_pairs", "array_pairs", "splices", "construction", "other_loss",
                        "standard", "edition"))  # fmt: skip
        many = _many(schedule, job, reference, wavelength, power_budget, connection_grade)
        _hand_out(many, csv or (None if html else Path("-")), html)
        return 0
    planned = planned_link(**given)
    if csv is not None:
        _hand_out(_one_as_table(planned), csv, None)
    if html is not None:
        from analyzer.report.plan_files import link_page

        _write(html, link_page(planned), (".html", ".htm"))
    if csv is None and html is None:
        from analyzer.report.plan_table import plan_lines

        print("\n".join(plan_lines(planned)))
    return 0


def _refuse(given: dict[str, Any], names: tuple[str, ...]) -> None:
    """The schedule says it for each link; what is not said there comes from the job."""
    said = [f"--{name.replace('_', '-')}" for name in names if given[name] not in {None, 0.0}]
    if said:
        raise OptionError(f"{', '.join(said)} and --schedule exclude each other; say it in the schedule or the job")


def _many(
    schedule: Path,
    job: Path | None,
    reference: str | None,
    wavelength: tuple[int, ...],
    power_budget: float | None,
    connection_grade: str | None,
) -> pd.DataFrame:
    """Every fiber link of a schedule, planned; what could not be used is told on standard error."""
    from analyzer.budget.planned_many import plan_links
    from analyzer.importing import ReadContext, Source, read_schedule
    from analyzer.job import CommandLine, Job, load_job

    if not schedule.is_file():
        raise FileMissing(f"{schedule}: there is no such schedule; check --schedule")
    known = Job() if job is None else load_job(job)
    method = CommandLine.parse(reference=reference).reference
    table, aside = read_schedule(
        Source(schedule.name, schedule.read_bytes()), ReadContext(), sheet=known.schedule.sheet
    )
    if len(aside):
        first = f"row {aside['row'].iloc[0]}: {aside['reason'].iloc[0]}"
        print(f"{schedule.name}: {len(aside)} rows or cells were set aside; {first}", file=sys.stderr)
    planned = plan_links(
        table, known, reference=method or "one-cord", power_budget_db=power_budget, connection_grade=connection_grade
    )
    if wavelength:
        planned = planned[planned["wavelength_nm"].isin(wavelength)].reset_index(drop=True)
    if planned.empty:
        raise OptionError(f"{schedule}: no fiber link to plan stands there")
    if left := int((table["medium"] == "twisted pair").sum()):
        print(f"{schedule.name}: {left} twisted-pair links are left out", file=sys.stderr)
    if problems := int((planned["problem"] != "").sum()):
        print(f"{problems} of {len(planned)} lines have a problem; the column problem says which", file=sys.stderr)
    return planned


def _one_as_table(planned: PlannedLink) -> pd.DataFrame:
    """One planned link in the columns of many, a row per wavelength and reference method."""
    import pandas as pd

    from analyzer.budget.planned_many import COLUMNS

    rows = [
        {
            "row": 0, "label": "", "type": planned.fiber, "construction": each.service.construction or "",
            "length_m": planned.length_m, "wavelength_nm": each.wavelength_nm, "mated_pairs": planned.mated_pairs,
            "array_pairs": planned.array_pairs, "splices": planned.splices, "reference": reading.reference,
            **(_budget_cells(reading.budget) if reading.budget else {}),
            "service_db": each.service.allowed_db, "power_margin_db": each.power_margin_db,
            "longest_length_m": each.longest_length_m, "most_mated_pairs": each.most_mated_pairs,
            "problem": reading.problem,
        }
        for each in planned.wavelengths
        for reading in each.readings
    ]  # fmt: skip
    return pd.DataFrame(rows).reindex(columns=list(COLUMNS))


def _budget_cells(budget: FiberBudget) -> dict[str, Any]:
    return {
        "matings_in_reading": budget.matings_in_reading, "cable_db": budget.cable_db, "matings_db": budget.matings_db,
        "splices_db": budget.splices_db, "allowed_db": budget.allowed_db, "expected_db": budget.expected_db,
        "expected_97_db": budget.expected_97_db, "limit": "; ".join(source.text for source in budget.sources),
        "not_expected": "; ".join(budget.expected_notes),
    }  # fmt: skip


def _hand_out(planned: pd.DataFrame, csv: Path | None, html: Path | None) -> None:
    from analyzer.report.plan_files import links_page, plan_csv

    if str(csv) == "-":
        sys.stdout.write(plan_csv(planned))
    elif csv is not None:
        _write(csv, plan_csv(planned), (".csv",))
    if html is not None:
        _write(html, links_page(planned), (".html", ".htm"))


def _write(path: Path, text: str, endings: tuple[str, ...]) -> None:
    """Write a file of ours; only an earlier one of ours is ever replaced."""
    if path.suffix.casefold() not in endings:
        raise OptionError(f"{path}: such a plan ends in {endings[0]}; write for example {path.with_suffix(endings[0])}")
    try:
        if path.exists() and OWN_MARK.encode() not in path.read_bytes():
            raise OptionError(f"{path}: exists and is no output of cableproof; choose another name or move it away")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise OptionError(f"{path}: cannot be written ({error.strerror or error}); choose another place") from error
    print(f"Plan: {path}")


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
