"""`cableproof plan`: options as typed, the job where they are silent, and what is refused."""

import inspect
import subprocess
import sys

import pytest
from cyclopts import App

from analyzer.cli.plan import plan, planned_link
from analyzer.errors import OptionError

TYPED = ["--fiber", "om4", "--length", "120 m", "--ends", "panel,panel", "--edition", "568.3-E"]


@pytest.fixture
def run():
    app = App(result_action="return_value", exit_on_error=False, print_error=False)
    app.command(plan)
    return lambda *options: app(["plan", *options])


def test_options_as_typed_become_a_plan(run, capsys):
    assert run(*TYPED, "--power-budget", "2.6") == 0
    told = capsys.readouterr().out
    assert told.startswith("Plan: OM4, 120 m, panel to panel: 2 mated pairs, 0 splices")
    assert "1.86 dB allowed in service" in told
    assert "Power budget 2.60 dB: 0.74 dB are left" in told


def test_one_method_and_one_wavelength(run, capsys):
    run(*TYPED, "--reference", "two-cord", "--wavelength", "1300")
    told = capsys.readouterr().out
    assert "850 nm " not in told
    assert "two-cord" in told
    assert "one-cord" not in told


def test_both_spellings_of_fiber(run, capsys):
    assert run("--fibre", "OS2", "--length", "500", "--mated-pairs", "2", "--splices", "0") == 0
    assert "OS2, 500 m" in capsys.readouterr().out


def test_the_job_says_what_the_options_do_not(tmp_path):
    job = tmp_path / "job.toml"
    job.write_text(
        '[order]\nstandard = "TIA"\nedition = "568-C.3"\n'
        '[facts]\nfiber = "OM3"\nlength_m = 100\nends = ["panel", "panel"]\n'
        "[allowances]\nsplice_db = 0.1\n",
        encoding="utf-8",
    )
    planned = planned_link(job=job)
    assert (planned.fiber, planned.length_m, planned.ends) == ("OM3", 100.0, ("panel", "panel"))
    # 568-C.3 for OM3: 3.5 dB/km (recalled)
    assert planned.wavelengths[0].service.allowed_db == pytest.approx(0.35 + 1.5)
    # counts that are typed replace the ends of the job; the job's own allowance stays
    typed = planned_link(job=job, mated_pairs="3", splices="2", length="0", standard="TIA")
    assert typed.ends is None
    assert typed.wavelengths[0].service.allowed_db == pytest.approx(3 * 0.75 + 2 * 0.1)
    assert typed.wavelengths[0].service.edition == "568.3-E"


@pytest.mark.parametrize(
    ("options", "part"),
    [
        ({}, "no type to plan with"),
        ({"fiber": "OM9"}, '--fiber "OM9" is not known'),
        ({"fiber": "OM4"}, "no length"),
        ({"fiber": "OM4", "length": "far"}, '--length "far" is no length'),
        ({"fiber": "OM4", "length": "10"}, "say both ends"),
        ({"fiber": "OM4", "length": "10", "ends": "panel"}, "does not name two ends"),
        ({"fiber": "OM4", "length": "10", "ends": "panel,panel", "reference": "method b"}, "--reference"),
        ({"fiber": "OM4", "length": "10", "ends": "panel,panel", "edition": "568.3-Z"}, "known are 568-C.3"),
    ],
)
def test_refused_with_the_options_name_and_what_is_accepted(options, part):
    with pytest.raises(OptionError) as caught:
        planned_link(**options)
    assert part in str(caught.value)


def test_the_command_and_the_function_behind_it_take_the_same_options():
    files = {"schedule", "csv", "html"}  # where the plan comes from and goes to
    assert set(inspect.signature(plan).parameters) == set(inspect.signature(planned_link).parameters) | files


def test_a_plan_needs_neither_pandas_nor_the_heavy_parts_of_scipy():
    code = (
        "import sys; from analyzer.cli.plan import planned_link; from analyzer.report.plan_table import plan_lines; "
        "plan_lines(planned_link(fiber='OM4', length='120', ends='panel,panel')); "
        "print([name for name in ('pandas', 'scipy.stats', 'scipy.signal', 'scipy.optimize') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
