"""The closed set of causes: what the judge may say stands in reasons.csv, and everything there may be said."""

import ast
from pathlib import Path

import numpy as np
from bench import first, judged, om4

from analyzer import budget
from analyzer.budget import return_loss
from analyzer.budget.curve_reasons import SAID
from analyzer.budget.reasons import causes, reason_table

ROOM = Path(budget.__file__).parent


def flags_of(module, name):
    """Codes under which a function returns its marks."""
    (function,) = [
        node
        for node in ast.parse((ROOM / module).read_text()).body
        if isinstance(node, ast.FunctionDef) and node.name == name
    ]
    (told,) = [node.value for node in function.body if isinstance(node, ast.Return)]
    return [key.value for key in told.keys]


def test_every_cause_is_said_and_no_other():
    said = {*flags_of("judge.py", "_flags"), *flags_of("pair_reasons.py", "flags_of"), *SAID, *return_loss.CODES}
    assert said == set(causes())


def test_causes_that_keep_a_reading_from_being_judged_come_first():
    judged_or_not = [cause.judged for cause in causes().values()]
    assert judged_or_not == sorted(judged_or_not)


def test_every_cause_that_is_not_judged_has_a_mend():
    assert [cause.code for cause in causes().values() if not cause.judged and not cause.mend] == []


def test_nothing_to_say_is_no_reason():
    assert judged(om4())[0].judged["reason"].tolist() == [-1, -1]


def test_a_reason_joins_its_causes_and_bears_the_code_of_the_first():
    flags = {"own-limit": np.array([True, False]), "rounding": np.array([True, True])}
    numbers, table = reason_table(flags, {"missing": np.array(["", ""], dtype=object)}, {})
    one = table.iloc[numbers[0]]
    assert one.code == "own-limit"
    assert one.text == f"{causes()['own-limit'].text}; {causes()['rounding'].text}"
    assert table.iloc[numbers[1]].code == "rounding"


def test_equal_reasons_are_one_row():
    rows = [om4(f"L{number}", mated_pairs=None) for number in range(5)]
    assert len(judged(*rows)[0].reasons) == 1


def test_no_text_keeps_a_brace():
    rows = [om4(mated_pairs=None, splices=None, loss={850: 9.0}), om4("B", loss={850: -1.0})]
    assert not judged(*rows)[0].reasons["text"].str.contains(r"[{}]").any()
    assert first(rows[1]).code == "negative-loss"
