"""Published values, each with its source: in go CSV files, out come checked rows and typed frames.

Read `tables` first (what may stand in a values file), then `values` (loading), `editions`, `allowances`, `lookups`.
pandas is imported only when a frame is asked for.
"""

from __future__ import annotations

from analyzer.standards.allowances import Allowances, allowances, medium_of
from analyzer.standards.describe import describe, is_unconfirmed
from analyzer.standards.editions import editions_in_force, resolve_edition
from analyzer.standards.lookups import admissible, nominal_wavelength_nm, reference_method
from analyzer.standards.values import Values, load

__all__ = [
    "Allowances",
    "Values",
    "admissible",
    "allowances",
    "describe",
    "editions_in_force",
    "is_unconfirmed",
    "load",
    "medium_of",
    "nominal_wavelength_nm",
    "reference_method",
    "resolve_edition",
]
