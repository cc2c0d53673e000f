"""The evaluator of limit expressions: right where arithmetic is right, closed against everything else."""

import math
import re
import time
import warnings

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from analyzer.errors import StandardsError
from analyzer.standards.expressions import MAX_CHARACTERS, MAX_DEPTH, MAX_NODES, compile_expression

WORDS = ["f", "r_loop", "r_pairs", "sqrt", "log10", "minimum", "maximum", "(", ")", ",", "+", "-", "*", "**", "/", "//",
         "1", "2.5", ".5", "3.", "1e3", "9", "0", " ", "\t", "e", "j", "_", "__class__", ".", "lambda", "if", "else", "not",
         "[", "]", "{", "}", "'", '"', "\\", "\n", "\x00", "=", ":", "@", "~", "%", "<", "\u0660", "\u00b2", "\ud800",
         "import", "exec", "0x1", "1_0", "True", "None"]  # fmt: skip


def numbers():
    return st.one_of(st.integers(0, 120).map(str), st.floats(0.001, 200, allow_nan=False).map(lambda x: f"{x:.4g}"))


def grown(inner):
    pair = st.tuples(inner, inner)
    return st.one_of(
        st.tuples(inner, st.sampled_from("+-*/"), inner).map(lambda t: f"({t[0]}{t[1]}{t[2]})"),
        pair.map(lambda t: f"({t[0]})**({t[1]})"),
        inner.map(lambda t: f"(-{t})"),
        inner.map(lambda t: f"sqrt({t})"),
        inner.map(lambda t: f"log10({t})"),
        pair.map(lambda t: f"minimum({t[0]},{t[1]})"),
        pair.map(lambda t: f"maximum({t[0]}, {t[1]})"),
    )


ARITHMETIC = st.recursive(st.one_of(numbers(), st.sampled_from(["f", "r_loop", "r_pairs"])), grown, max_leaves=25)
RUBBISH = st.one_of(st.text(max_size=80), st.lists(st.sampled_from(WORDS), max_size=60).map("".join))


def by_python(text, f, r_loop, r_pairs):
    """The same by Python's own arithmetic; None where that gives no finite real number on the way."""
    if "inf" in text or "nan" in text:
        return None
    names = {"f": f, "r_loop": r_loop, "r_pairs": r_pairs, "sqrt": math.sqrt, "log10": math.log10,
             "minimum": min, "maximum": max, "__builtins__": {}}  # fmt: skip
    try:
        value = eval(text, names)  # noqa: S307 - the text is made by the strategy above
    except (ArithmeticError, ValueError, TypeError):
        return None
    return value if isinstance(value, int | float) and math.isfinite(value) else None


def floated(text):
    """Whole numbers written as floats, so that Python too counts in float64."""
    return re.sub(r"(?<![\w.])(\d+)(?![\w.])", r"\1.0", text)


# Python's own evaluation is the outside check
@given(ARITHMETIC, st.floats(1, 2000), st.floats(0.1, 60), st.floats(0.1, 60))
@example("(-2)**(2)", 1.0, 1.0, 1.0)
@example("-2**2", 3.0, 1.0, 1.0)
@example("2**-1**2", 3.0, 1.0, 1.0)
@example("2-3-4/2/2", 3.0, 1.0, 1.0)
def test_finite_results_are_those_of_plain_arithmetic(text, f, r_loop, r_pairs):
    try:
        compiled = compile_expression(text)
    except StandardsError as error:
        assert "levels deep" in str(error) or "parts" in str(error) or "characters" in str(error)  # noqa: PT017
        return
    value = compiled(f, r_loop, r_pairs)
    wanted = by_python(floated(text), f, r_loop, r_pairs)
    assert value.dtype == np.float64
    assert value.shape == ()
    if wanted is not None and np.isfinite(value):
        assert float(value) == pytest.approx(wanted, rel=1e-9, abs=1e-9)


@given(ARITHMETIC)
def test_an_array_gives_at_each_point_what_the_point_gives(text):
    try:
        compiled = compile_expression(text)
    except StandardsError:
        return
    f = np.array([1.0, 31.25, 100.0, 500.0])
    together = np.broadcast_to(compiled(f, 9.4, 4.7), f.shape)
    alone = np.array([float(compiled(point, 9.4, 4.7)) for point in f])
    np.testing.assert_allclose(together, alone, rtol=1e-9, atol=1e-300)


@given(RUBBISH)
@example("(" * 300)
@example("-" * 590 + "1")
@example("f**" * 190 + "f")
@example("minimum(" * 60)
@example("9" * 599)
@example("1" + "0" * 400)
@example("sqrt(" * 30 + "f" + ")" * 30)
def test_any_text_gives_an_expression_or_one_sentence_quickly(text):
    begun = time.perf_counter()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            value = compile_expression(text)(np.array([1.0, 100.0]), 1.0, 1.0)
        except StandardsError as error:
            told = str(error)
            assert told
            assert len(told.splitlines()) == 1
            assert len(told) < 400
        else:
            assert value.dtype == np.float64
            assert value.shape in {(), (2,)}
    assert time.perf_counter() - begun < 2


@pytest.mark.parametrize("text", ["9**9**9", "9**9**9**9**9", "10**400", "-(9**9**9)", "1/0", "f/0", "2**(f*1e9)"])
def test_towers_of_powers_and_division_by_zero_end_as_infinite_at_once(text):
    begun = time.perf_counter()
    assert np.isinf(compile_expression(text)(4.0))
    assert time.perf_counter() - begun < 0.2


@pytest.mark.parametrize("text", ["log10(-f)", "sqrt(-1)", "0/0", "(-8)**(1/3)", "9**9**9-9**9**9", "r_loop"])
def test_what_is_no_number_stays_nan(text):
    assert np.isnan(compile_expression(text)(4.0))


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("", "empty"),
        ("  ", "empty"),
        ("g+1", "position 1: 'g' is not known; allowed are numbers, f"),
        ("f+abs(f)", "position 3: 'abs'"),
        ("f.real", "position 2: '.'"),
        ("f[0]", "position 2: '['"),
        ("'f'", 'position 1: "\'"'),
        ("1j", "position 2: 'j'"),
        ("0x10", "position 2: 'x10'"),
        ("1_000", "position 2: '_000'"),
        ("True", "position 1: 'True'"),
        ("f if f else f", "position 3: 'if'"),
        ("f//2", "position 1: not allowed here"),
        ("+f", "position 1: not allowed here"),
        ("1,2", "position 1: not allowed here"),
        ("sqrt(*f)", "position 6: not allowed here"),
        ("f(2)", "write * to multiply"),
        ("2(f)", "write * to multiply"),
        ("sqrt", "sqrt needs its arguments"),
        ("2*sqrt+1", "position 3: sqrt needs its arguments"),
        ("sqrt(f,f)", "sqrt takes 1 argument"),
        ("minimum(f)", "minimum takes 2 arguments"),
        ("minimum(1,2,f)", "minimum takes 2 arguments"),
        ("f f", "near position 3: this is no complete arithmetic"),
        ("(f", "this is no complete arithmetic"),
        ("1e999", "too large"),
        ("1" * 400, "too large"),
        ("f\n+1", "position 2"),
        ("\u0664", "position 1"),
    ],
)
def test_refusals_name_the_place(text, place):
    with pytest.raises(StandardsError) as caught:
        compile_expression(text)
    assert place in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


def test_bounds_of_length_depth_and_parts_hold_on_both_sides():
    longest = "1.0" + "0" * (MAX_CHARACTERS - 3)
    assert compile_expression(f"  {longest}  ")(1.0) == 1.0
    with pytest.raises(StandardsError, match=f"at most {MAX_CHARACTERS}"):
        compile_expression(longest + "0")
    deepest = "-" * (MAX_DEPTH - 1) + "f"
    assert compile_expression(deepest)(2.0) == -2.0
    with pytest.raises(StandardsError, match="levels deep"):
        compile_expression("-" + deepest)
    thirty = "(" + "+".join("f" * 30) + ")"
    assert compile_expression("+".join([thirty] * 5))(2.0) == 300.0
    assert MAX_NODES < 6 * (2 * 30 - 1)
    with pytest.raises(StandardsError, match=f"more than {MAX_NODES} parts"):
        compile_expression("+".join([thirty] * 6))


def test_names_tell_what_an_expression_needs():
    assert compile_expression("maximum(0.03*r_loop,0.2)").names == {"r_loop"}
    assert compile_expression("19").names == frozenset()
    assert compile_expression("19") is compile_expression("19")
