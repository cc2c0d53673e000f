"""How long `cableproof check` takes from the shell, start of Python included; run by hand, no test.

    python tests/benchmarks/small_check.py [runs]

A small fiber file, a small copper file, the sample campus, and an invented export of 1,008 strands with 4 readings
each. Each run is a process of its own; the first, which also compiles, is thrown away. Printed: the median and the least of wall
time and of processor time (user and system, which other work on the machine lengthens less), and the load.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_results"
RUNS = 5
STRANDS, IN_TRUNK = 1008, 24


def trunks() -> str:
    """A wide export of invented OM4 trunks: two wavelengths and both directions on a row; one strand in 50 is poor."""
    chance = np.random.default_rng(20260101)
    rows = ["Link label,Cable,Location A,Fiber type,Length (m),Mated pairs,Date,Tester,Operator," + ",".join(
        f"Loss {way} {wave} nm (dB)" for way in ("A-B", "B-A") for wave in (850, 1300)
    )]  # fmt: skip
    for strand in range(STRANDS):
        trunk, position = divmod(strand, IN_TRUNK)
        length = 40 + trunk * 79 % 260 + chance.uniform(0, 2)
        poor = 1.5 if strand % 50 == 17 else 0.0
        losses = [length / 1000 * rate + 0.3 + poor + chance.normal(0, 0.04) for rate in (2.4, 0.7, 2.4, 0.7)]
        minute = strand * 2
        rows.append(
            f"TR-{trunk:03}-{position + 1:02},TR-{trunk:03},Room {trunk // 6},OM4,{length:.1f},2,"
            f"2026-03-{2 + minute // 480:02} {8 + minute % 480 // 60:02}:{minute % 60:02}:{strand * 7 % 60:02},"
            f"T-{trunk % 2},crew {trunk % 3}," + ",".join(f"{loss:.2f}" for loss in losses)
        )
    return "\n".join(rows) + "\n"


def run_once(path: Path, environment: dict[str, str]) -> tuple[float, float]:
    """Wall time and processor time of one check [s]."""
    start = time.perf_counter()
    child = subprocess.Popen(
        [sys.executable, "-m", "analyzer", "check", str(path)], cwd=ROOT, env=environment, stdout=subprocess.DEVNULL
    )
    _, status, used = os.wait4(child.pid, 0)
    wall = time.perf_counter() - start
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode not in {0, 1}:
        sys.exit(f"{path.name} could not be checked")
    return wall, used.ru_utime + used.ru_stime


def main(runs: int = RUNS) -> None:
    """Print a line for each export."""
    with tempfile.TemporaryDirectory() as folder:
        generated = Path(folder) / "trunks.csv"
        generated.write_text(trunks(), encoding="utf-8")
        # users have compiled modules: keep them outside the checkout, whatever this shell says
        environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        environment["PYTHONPYCACHEPREFIX"] = str(Path(folder) / "compiled")
        exports = {
            "small fiber file": SAMPLES / "single_files" / "om4_trunk_clean.csv",
            "fiber with failures": SAMPLES / "single_files" / "os2_trunk_with_failures.csv",
            "small copper file": SAMPLES / "single_files" / "copper_6a_links.csv",
            "sample campus": SAMPLES / "campus",
            f"{STRANDS} strands x 4": generated,
        }
        for name, path in exports.items():
            run_once(path, environment)
            times = [run_once(path, environment) for _ in range(runs)]
            wall, core = (
                f"{statistics.median(each):5.2f} s (least {min(each):5.2f})" for each in zip(*times, strict=True)
            )
            sys.stdout.write(f"{name:20} wall {wall}   processor {core}   load {os.getloadavg()[0]:.1f}\n")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
