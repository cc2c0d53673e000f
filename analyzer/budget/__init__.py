"""Facts, limits, verdicts: what each link is allowed, what was measured, whether that is enough.

Read `fiber` first: the sum; `one_link` answers for one link.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__all__ = ["FiberBudget", "fiber_budget"]

if TYPE_CHECKING:
    from analyzer.budget.one_link import FiberBudget, fiber_budget


def __getattr__(name: str) -> Any:
    """Import numpy only when a sum is asked for, so that `--help` stays quick."""
    if name in __all__:
        from analyzer.budget import one_link

        return getattr(one_link, name)
    raise AttributeError(name)
