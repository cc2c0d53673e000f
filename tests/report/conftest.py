"""Fixtures of the tests of reports."""

from browser_fixture import browser, rows_folder, view

__all__ = ["browser", "rows_folder", "view"]
