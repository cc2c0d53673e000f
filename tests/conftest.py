"""Rules that hold for every test: hypothesis repeats itself, and in CI nothing may be skipped."""

import gc
import os
import shutil

import hypothesis
import pytest

BROWSERS = ("chromium", "chromium-browser", "google-chrome")
IN_CI = os.environ.get("CI", "").lower() == "true"

hypothesis.settings.register_profile("ci", derandomize=True, max_examples=25, deadline=None, database=None)
hypothesis.settings.register_profile("search", max_examples=2000, deadline=None)
hypothesis.settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))


def pytest_collection_finish():
    """Modules and collected tests live to the end: the garbage collector need not look at them at each test."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(100_000, 50, 100)


def pytest_collection_modifyitems(items):
    """Where no browser is installed the browser tests say so; in CI that is a failure, see below."""
    if any(shutil.which(name) for name in BROWSERS):
        return
    no_browser = pytest.mark.skip(reason="no Chromium here: install it to run the tests that drive the page")
    for item in items:
        if item.get_closest_marker("browser"):
            item.add_marker(no_browser)


def _no_skips(report):
    if IN_CI and report.skipped:
        report.outcome = "failed"
        report.longrepr = f"skipped, which CI does not accept: {report.longrepr}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport():
    """A skipped test is a failed one in CI."""
    return _no_skips((yield))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report():
    """The same for a whole file that skips itself."""
    return _no_skips((yield))
