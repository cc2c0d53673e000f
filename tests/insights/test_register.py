"""Every finding code of the code stands in the register, every code of the register is used, and the page is current."""

import ast
from functools import cache
from pathlib import Path

import analyzer
from analyzer.insights.register import findings_page, register, rows_of, screenings
from analyzer.schema import CATEGORIES

PACKAGE = Path(analyzer.__file__).parent
PAGE = PACKAGE.parent / "docs" / "findings.md"
MAKERS = {"finding", "_seed", "order_seeds"}


def _texts(tree):
    return {node.value for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str)}


def _made(tree):
    """Codes that stand first in a call that makes a finding, or under "code" in a seed beside "record"."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in MAKERS and node.args:
            first = node.args[0]
            if isinstance(first, ast.Constant) and node.func.id != "order_seeds":
                yield first.value
        if isinstance(node, ast.Dict):
            keys = [key.value for key in node.keys if isinstance(key, ast.Constant)]
            for key, value in zip(node.keys, node.values, strict=True):
                named = isinstance(key, ast.Constant) and key.value == "code" and isinstance(value, ast.Constant)
                if named and "record" in keys:
                    yield value.value


def _trees(*rooms):
    return [_tree(path) for room in rooms for path in sorted(PACKAGE.glob(room))]


@cache
def _tree(path):
    return ast.parse(path.read_text(encoding="utf-8"))


def test_every_code_that_is_made_is_registered():
    made = {code for tree in _trees("budget/*.py", "insights/*.py", "pipeline.py") for code in _made(tree)}
    assert {"missing-link", "fact-differs", "order-differs", "label-collision", "edition-unknown"} <= made
    assert made - set(register()) == set()


def test_every_code_that_reading_a_sweep_tells_is_registered():
    told = {
        node.args[0].value
        for tree in _trees("importing/*.py")
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and getattr(node.func, "attr", "") == "_tell"
        and isinstance(node.args[0], ast.Constant)
    }
    assert {"impossible-frequency", "column-not-understood", "frequencies-fall"} <= told
    assert told - set(register()) == set()


def test_every_registered_code_stands_in_the_code():
    texts = set().union(*(_texts(tree) for tree in _trees("**/*.py")))
    fillings = {"label-filled-down", "cable-filled-down"}  # made from a role and "-filled-down"
    assert set(register()) - texts - fillings == set()


def test_codes_are_unique_and_severities_known():
    lines = (PACKAGE / "insights" / "register.csv").read_text(encoding="utf-8").splitlines()
    rows = [line for line in lines if not line.startswith("#")][1:]
    assert len(rows) == len(register())
    assert {row.severity for row in register().values()} <= set(CATEGORIES["severity"])


def test_errors_and_warnings_have_a_next_step():
    assert [row.code for row in register().values() if row.severity != "note" and not row.next_step] == []


def test_the_page_is_made_from_the_register():
    assert PAGE.read_text(encoding="utf-8") == findings_page()


def test_the_page_names_every_code_once():
    page = findings_page()
    assert [code for code in register() if page.count(f"| `{code}` |") != 1] == []


SCREENING_MODULES = (
    "copies", "curve_copies", "leads", "smooth", "digits", "clocks", "references", "lengths", "numbering", "rates", "charts", "positions", "repairs",
    "workmanship",
)  # fmt: skip


def test_every_code_of_the_screening_modules_has_its_statistic_and_a_measured_rate():
    trees = [_trees(f"insights/{name}.py")[0] for name in SCREENING_MODULES]
    made = {code for tree in trees for code in _made(tree)}
    assert len(made) > 20
    assert made - {row["code"] for row in rows_of("screenings.csv")} == set()


def test_statistics_and_measured_rates_are_of_the_same_registered_codes():
    described, measured = ({row["code"] for row in rows_of(name)} for name in ("screenings.csv", "false_alarms.csv"))
    assert described == measured
    assert described - set(register()) == set()


def test_false_alarms_were_measured_on_more_than_five_clean_jobs():
    assert all(row.jobs >= 5 and row.links >= 2000 * row.jobs for row in screenings().values())


def test_screenings_are_right_about_a_clean_job_but_for_one_in_a_hundred():
    # what all screenings together may cost; strands that stand out are told one by one and by another rule
    rows = [row for row in screenings().values() if row.code != "worse-than-sisters"]
    assert sum(row.false_alarms for row in rows) <= 1
