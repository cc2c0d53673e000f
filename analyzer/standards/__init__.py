"""Published values, each with its source: in go CSV files, out come checked rows and typed frames.

Read `tables` first (what may stand in a values file), then `values` (loading), `editions`, `allowances`, `lookups`.
Limits of twisted pair are equations: `expressions` evaluates them, `lines` finds those that hold.
pandas is imported only when a frame is asked for, numpy only for limits over frequency.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from analyzer.standards.allowances import Allowances, allowances, medium_of
from analyzer.standards.describe import describe, is_unconfirmed
from analyzer.standards.editions import editions_in_force, pair_editions, pair_grades, resolve_edition
from analyzer.standards.lookups import (
    admissible,
    nominal_wavelength_nm,
    pair_exemptions,
    pair_length,
    pair_rows,
    reference_method,
)
from analyzer.standards.values import Values, load

if TYPE_CHECKING:
    from analyzer.standards.expressions import Expression, compile_expression
    from analyzer.standards.lines import LimitLine, limit, limit_lines, piece_at, strictest

__all__ = [
    "Allowances",
    "Expression",
    "LimitLine",
    "Values",
    "admissible",
    "allowances",
    "compile_expression",
    "describe",
    "editions_in_force",
    "is_unconfirmed",
    "limit",
    "limit_lines",
    "load",
    "medium_of",
    "nominal_wavelength_nm",
    "pair_editions",
    "pair_exemptions",
    "pair_grades",
    "pair_length",
    "pair_rows",
    "piece_at",
    "reference_method",
    "resolve_edition",
    "strictest",
]


def __getattr__(name: str) -> Any:
    """Import numpy only when a limit over frequency is asked for."""
    if name in {"Expression", "compile_expression"}:
        from analyzer.standards import expressions

        return getattr(expressions, name)
    if name in {"LimitLine", "limit", "limit_lines", "piece_at", "strictest"}:
        from analyzer.standards import lines

        return getattr(lines, name)
    raise AttributeError(name)
