"""How large the page is and how fast it answers, in a real browser: links of invented fiber, four readings each.

    python tests/benchmarks/page_size_and_speed.py 10000 100000

Times are those of the browser from opening the file: the head readable, the table usable, and from the change of a
filter to the next frame painted. Run it on a calm machine; the load is printed beside the figures.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1] / "report")]

from page_fixture import many_links
from playwright.sync_api import Page, sync_playwright

from analyzer.report.page import write_page

PAINTED = """(act) => new Promise((resolve) => {
  const start = performance.now();
  act();
  requestAnimationFrame(() => requestAnimationFrame(() => resolve(performance.now() - start)));
})"""
FILTERS = {
    "verdict fail": "document.querySelector('#strip button.fail').click()",
    "area": "(() => { const s = document.getElementById('facet-area'); s.value = '1'; s.dispatchEvent(new Event('change')); })()",
    "show all": "(() => { const s = document.getElementById('facet-area'); s.value = ''; s.dispatchEvent(new Event('change')); document.querySelector('#strip button.fail').click(); })()",
    "sort by link": "document.querySelector('.headings [data-name=label] button').click()",
}


def filter_ms(page: Page, act: str) -> float:
    """From the change to the frame that shows it."""
    return float(page.evaluate(f"({PAINTED})(() => {{ {act}; }})"))


def measure(links: int) -> None:
    """Print size and times of a page of so many links."""
    analysis = many_links(links)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        path = Path(folder) / "page.html"
        start = time.perf_counter()
        write_page(analysis, path)
        written = time.perf_counter() - start
        found = os.environ.get("CHROMIUM") or shutil.which("chromium")
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(path.as_uri(), wait_until="commit")
        page.wait_for_selector("html[data-ready=chart]", timeout=120_000)
        head, table, chart = (page.evaluate(f"performance.getEntriesByName('{name}')[0]?.startTime ?? -1") for name in ("head", "table", "chart"))
        page.wait_for_timeout(1500)
        told = {name: round(filter_ms(page, act)) for name, act in FILTERS.items()}
        browser.close()
        print(
            f"{links:,} links: {path.stat().st_size / 1e6:.1f} MB, written in {written:.1f} s; head {head:.0f} ms, "
            f"table {table:.0f} ms, charts {chart:.0f} ms; filters in ms {told}; load {os.getloadavg()[0]:.1f}"
        )


if __name__ == "__main__":
    for amount in sys.argv[1:] or ["10000"]:
        measure(int(amount))
