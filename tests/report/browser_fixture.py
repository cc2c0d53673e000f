"""A headless Chromium for the tests of the page: every complaint of the console and every request is a failure."""

import os
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

SAMPLES = Path(__file__).parents[2] / "sample_results" / "single_files"
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)

WIDE = "Link,Fiber type,Length (m),Mated pairs,Loss 850 nm (dB),Loss 1300 nm (dB),Lamp,Remark\n"


@pytest.fixture(scope="module")
def browser():
    found = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=found, args=list(FLAGS))
        yield started
        started.close()


@pytest.fixture
def view(browser):
    """Opens addresses; at the end nothing may have been complained of, asked for or run."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    complaints, requests = [], []

    def open_page(address, ready="chart"):
        page = context.new_page()
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("request", lambda request: requests.append(request.url))
        page.goto(address)
        page.wait_for_selector(f"html[data-ready={ready}]")
        assert page.locator("#trouble").is_hidden()
        return page

    yield open_page
    context.close()
    assert complaints == []
    assert [url for url in requests if not url.startswith(("file:", "blob:", "data:"))] == []


@pytest.fixture(scope="module")
def rows_folder(tmp_path_factory):
    """A wide export, a long one of the same links, the traces of the sample, and the page of all of them."""
    from analyzer import analyze
    from analyzer.report.page import write_page

    place = tmp_path_factory.mktemp("rows")
    (place / "wide.csv").write_text(WIDE + "L1,OM4,100,2,0.61,0.55,S-07,behind the desk\nL2,OM4,90,2,0.5,0.4,,\n")
    long = [f"L1,850,{way},{0.6 + n / 100:.2f}" for n, way in enumerate(["A-B", "B-A"] * 3)]
    (place / "long.csv").write_text("Link,Wavelength (nm),Direction,Loss (dB)\n" + "\n".join(long) + "\n")
    (place / "trace.csv").write_bytes((SAMPLES / "trace_events.csv").read_bytes())
    write_page(analyze([place]), place / "page.html")
    return place


def until(page, condition):
    """Waits for a condition from outside: the page's policy forbids the evaluating that the browser's own waiting does."""
    for _ in range(200):
        if page.evaluate(condition):
            return
        page.wait_for_timeout(50)
    raise AssertionError(condition)
