"""Fixtures of the tests of reports."""

from browser_fixture import browser, view

__all__ = ["browser", "view"]
