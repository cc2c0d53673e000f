"""Limit expressions: arithmetic in f, r_loop and r_pairs, checked by whitelist and compiled once to numpy calls.

Expressions come from values files, from job files and so from strangers. Nothing of them is ever executed as Python:
the text is cut into known words, parsed, checked node by node, and turned into nested numpy calls. Every number is a
float64, so that a tower of powers ends as inf at once instead of filling the memory.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from analyzer.errors import StandardsError

Floats = npt.NDArray[np.float64]
_Inputs = tuple[Any, ...]
_Step = Callable[[_Inputs], Any]

VARIABLES: Final = ("f", "r_loop", "r_pairs")
"""Frequency [MHz], loop resistance of a pair [ohm], sum of the parallel resistances of two pairs [ohm]."""

MAX_CHARACTERS: Final = 600
MAX_NODES: Final = 300
MAX_DEPTH: Final = 40

_UNKNOWN: Final = np.float64(np.nan)
_FUNCTIONS: Final[dict[str, tuple[Callable[..., Any], int]]] = {
    "sqrt": (np.sqrt, 1),
    "log10": (np.log10, 1),
    "minimum": (np.minimum, 2),
    "maximum": (np.maximum, 2),
}
_OPERATORS: Final[dict[type[ast.operator], Callable[..., Any]]] = {
    ast.Add: np.add,
    ast.Sub: np.subtract,
    ast.Mult: np.multiply,
    ast.Div: np.true_divide,
    ast.Pow: np.power,
}
_WORD: Final = re.compile(
    r"(?P<blank>[ \t]+)|(?P<number>(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)|(?P<name>[A-Za-z_]\w*)|(?P<sign>[-+*/(),])",
    re.ASCII,
)
_ALLOWED: Final = (
    f"allowed are numbers, {', '.join(VARIABLES)}, + - * / **, parentheses, {', '.join(_FUNCTIONS)} and a leading minus"
)


@dataclass(frozen=True, eq=False)
class Expression:
    """A checked expression; call it to evaluate."""

    text: str
    names: frozenset[str]
    """Which of `VARIABLES` stand in it; empty for a constant."""
    _step: _Step = field(repr=False)

    def __call__(self, f: Any = np.nan, r_loop: Any = np.nan, r_pairs: Any = np.nan) -> Floats:
        """Its value, float64, in the shape that the inputs in it have together.

        A variable that is not given is NaN, and so is then the result. Overflow gives inf, a root or logarithm of a
        negative number NaN: both are left for the caller, and no warning is raised.

        Args:
            f: frequency [MHz], a number or an array.
            r_loop: loop resistance of the pair [ohm].
            r_pairs: sum of the parallel resistances of the two pairs [ohm].
        """
        with np.errstate(all="ignore"):
            return np.asarray(self._step((_float(f), _float(r_loop), _float(r_pairs))), dtype=np.float64)

    def at_frequencies(self, f: Floats) -> Any:
        """Its value at float64 frequencies [MHz], without the care of a call: the caller keeps numpy's warnings quiet."""
        return self._step((f, _UNKNOWN, _UNKNOWN))


@lru_cache(maxsize=2048)
def compile_expression(text: str) -> Expression:
    """The expression as a numpy function; the same text is compiled once.

    Raises:
        StandardsError: the text is too long or too deep, or holds anything but the allowed words; one sentence says
            where in the text.
    """
    text = text.strip()
    if len(text) > MAX_CHARACTERS:
        raise _refused(text, f"it has {len(text)} characters; at most {MAX_CHARACTERS} are allowed")
    if not text:
        raise StandardsError(f"the expression is empty; {_ALLOWED}")
    _check_words(text)
    try:
        tree = ast.parse(text, mode="eval").body
    except SyntaxError as error:
        place = f"near position {error.offset}: " if error.offset else ""
        raise _refused(text, f"{place}this is no complete arithmetic; check operators and parentheses") from error
    except (RecursionError, MemoryError, ValueError) as error:
        raise _refused(text, f"it is nested too deeply; at most {MAX_DEPTH} levels are allowed") from error
    budget = _Budget(text)
    step = budget.build(tree, 1)
    if not callable(step):
        constant = step
        return Expression(text, frozenset(), lambda _: constant)
    return Expression(text, frozenset(budget.names), step)


class _Budget:
    """Builds the calls of one expression and counts what it spends."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.nodes = 0
        self.names: set[str] = set()

    def build(self, node: ast.expr, depth: int) -> Any:
        """A number where the node is constant, else a function of the inputs."""
        self.nodes += 1
        if self.nodes > MAX_NODES:
            raise _refused(self.text, f"it has more than {MAX_NODES} parts; split it")
        if depth > MAX_DEPTH:
            raise _refused(self.text, f"{_at(node)}: nested more than {MAX_DEPTH} levels deep")
        if isinstance(node, ast.Constant):
            return self._number(node)
        if isinstance(node, ast.Name):
            return self._variable(node)
        if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
            return _call(np.negative, (self.build(node.operand, depth + 1),))
        if isinstance(node, ast.BinOp) and type(node.op) in _OPERATORS:
            sides = (self.build(node.left, depth + 1), self.build(node.right, depth + 1))
            return _call(_OPERATORS[type(node.op)], sides)
        if isinstance(node, ast.Call):
            return self._function(node, depth)
        raise _refused(self.text, f"{_at(node)}: not allowed here; {_ALLOWED}")

    def _number(self, node: ast.Constant) -> np.float64:
        try:
            number = float(node.value) if type(node.value) in {int, float} else np.nan  # type: ignore[arg-type]  # checked
        except OverflowError:
            number = np.inf
        if not np.isfinite(number):
            raise _refused(self.text, f"{_at(node)}: this number is too large")
        return np.float64(number)

    def _variable(self, node: ast.Name) -> _Step:
        if node.id not in VARIABLES:
            raise _refused(self.text, f"{_at(node)}: {node.id} needs its arguments in parentheses")
        self.names.add(node.id)
        index = VARIABLES.index(node.id)
        return lambda inputs: inputs[index]

    def _function(self, node: ast.Call, depth: int) -> Any:
        name = node.func.id if isinstance(node.func, ast.Name) else ""
        if name not in _FUNCTIONS:
            raise _refused(self.text, f"{_at(node)}: only {', '.join(_FUNCTIONS)} take arguments; write * to multiply")
        function, count = _FUNCTIONS[name]
        if len(node.args) != count or node.keywords:
            raise _refused(self.text, f"{_at(node)}: {name} takes {count} argument{'s' if count > 1 else ''}")
        return _call(function, tuple(self.build(argument, depth + 1) for argument in node.args))


def _call(function: Callable[..., Any], parts: tuple[Any, ...]) -> Any:
    """The call on its parts, made at once where all are constant."""
    if not any(callable(part) for part in parts):
        with np.errstate(all="ignore"):
            return np.float64(function(*parts))
    if len(parts) == 1:
        only = parts[0]
        return lambda inputs: function(only(inputs))
    left, right = parts
    if not callable(left):
        return lambda inputs: function(left, right(inputs))
    if not callable(right):
        return lambda inputs: function(left(inputs), right)
    return lambda inputs: function(left(inputs), right(inputs))


def _check_words(text: str) -> None:
    """Only numbers, known names and signs may reach the parser."""
    place = 0
    while place < len(text):
        word = _WORD.match(text, place)
        if word is None:
            raise _refused(text, f"position {place + 1}: {text[place]!r} is not allowed; {_ALLOWED}")
        if word["name"] and word["name"] not in VARIABLES and word["name"] not in _FUNCTIONS:
            raise _refused(text, f"position {place + 1}: {_short(word['name'])!r} is not known; {_ALLOWED}")
        place = word.end()


def _float(value: Any) -> Any:
    return np.asarray(value, dtype=np.float64) if np.ndim(value) else np.float64(value)


def _at(node: ast.expr) -> str:
    return f"position {node.col_offset + 1}"


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:57]}..."


def _refused(text: str, why: str) -> StandardsError:
    return StandardsError(f"expression {_short(text)!r}, {why}")
