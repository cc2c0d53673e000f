"""cableproof: what each cabling link is allowed, what was measured, and whether that is enough.

Data flows importing -> budget -> insights -> report; `pipeline` is the whole run, readable top to bottom.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"
__all__ = ["Analysis", "__version__", "analyze"]

if TYPE_CHECKING:
    from analyzer.schema import Analysis


def __getattr__(name: str) -> Any:
    """Import the heavy rooms only when a public name is used, so that `--help` stays quick."""
    if name == "analyze":
        from analyzer.pipeline import analyze

        return analyze
    if name == "Analysis":
        from analyzer.schema import Analysis

        return Analysis
    raise AttributeError(name)
