"""A small invented job for the tests of the closeout package: 12 strands, one fails, one was tested twice."""

from __future__ import annotations

from pathlib import Path

HEAD = "Cable ID,Fiber,Type,Length (m),Mated pairs,Splices,Reference,Tested,Operator,Tester,Calibrated,From,To,Loss 1310 nm A-B (dB),Loss 1550 nm A-B (dB)\n"
MADE = "1795000000"
"""SOURCE_DATE_EPOCH of the tests: 2026-11-18."""

JOB = """\
[job]
name = "Invented Hall"
owner = "Invented Owner"
contractor = "Invented Crew"
reference = "INV-1"
invented = true

[order]
standard = "TIA"
edition = "568.3-E"
construction = "indoor-outdoor"

[closeout.every_link_tested]
says = "Test every strand."

[closeout.operator_recorded]
says = "Name of the technician."

[closeout.failed_records]
says = "Originals that failed are kept in a folder of their own."
fate = "keep apart"

[closeout.calibration_certificates]
says = "Supply the calibration certificates."

[evidence]
folder = "evidence"
"""


def row(strand: int, loss_1310: float, loss_1550: float, day: str = "2026-11-02 10:00:00") -> str:
    return f"HX-01,{strand},OS2,120.0,2,0,one-cord,{day},A. Invented,T-1,2026-03-01,Hall,Booth,{loss_1310:.2f},{loss_1550:.2f}\n"


def make_job(folder: Path, *, attachments: bool = True, job: str = JOB) -> Path:
    (folder / "evidence").mkdir(parents=True)
    rows = [row(strand, 0.30 + strand / 100, 0.25 + strand / 100) for strand in range(1, 12)]
    rows.append(row(12, 2.40, 0.40))  # fails at 1310 nm
    (folder / "evidence" / "trunk.csv").write_text(HEAD + "".join(rows))
    (folder / "evidence" / "again.csv").write_text(HEAD + row(12, 0.45, 0.39, "2026-11-03 09:00:00"))
    (folder / "schedule.csv").write_text("Cable,Fibers,Type,Length (m),Room A,Room B\nHX-01,12,OS2,120,Hall,Booth\n")
    (folder / "job.toml").write_text(job)
    if attachments:
        place = folder / "attachments" / "calibration_certificates"
        place.mkdir(parents=True)
        (place / "T-1.txt").write_text("invented certificate of tester T-1\n")
    return folder
