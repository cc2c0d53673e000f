"""How large the page is and how fast it answers, in a real browser: an invented export of fiber, four readings a link.

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

sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np
import pandas as pd
from playwright.sync_api import Page, sync_playwright

from analyzer import analyze
from analyzer.report.page import write_page
from analyzer.schema import Analysis

PAINTED = """(act) => new Promise((resolve) => {
  const start = performance.now();
  const watch = new MutationObserver(() => {
    watch.disconnect();
    requestAnimationFrame(() => { const paint = new MessageChannel(); paint.port1.onmessage = () => resolve(performance.now() - start); paint.port2.postMessage(0); });
  });
  watch.observe(document.getElementById("shown"), { childList: true });
  act();
})"""
FILTERS = {
    "search": "(() => { const s = document.getElementById('search'); s.value = '-07'; s.dispatchEvent(new Event('input')); })()",
    "search cleared": "(() => { const s = document.getElementById('search'); s.value = ''; s.dispatchEvent(new Event('input')); })()",
    "verdict fail": "document.querySelector('#strip button.fail').click()",
    "area": "(() => { const s = document.getElementById('facet-area'); s.value = '1'; s.dispatchEvent(new Event('change')); })()",
    "show all": "(() => { const s = document.getElementById('facet-area'); s.value = ''; s.dispatchEvent(new Event('change')); document.querySelector('#strip button.fail').click(); })()",
    "sort by link": "document.querySelector('.headings [data-name=label] button').click()",
}


def invented(links: int, folder: Path) -> Analysis:
    """An export of trunks of 24 strands in nine areas, judged whole: both wavelengths, both directions."""
    chance = np.random.default_rng(20260101)
    number = np.arange(links)
    trunk = pd.Series(number // 24).astype(str).str.zfill(4)
    length = np.round(40 + (number // 24 * 7919) % 400 + chance.uniform(0, 3, links), 1)
    frame = pd.DataFrame(
        {
            "Link label": "TR-" + trunk + "-" + pd.Series(number % 24 + 1).astype(str).str.zfill(2),
            "Cable": "TR-" + trunk,
            "Area": "Area " + pd.Series(number // 2400 % 9).astype(str),
            "Location A": "Room " + pd.Series(number // 240).astype(str),
            "Fiber type": "OM4",
            "Date": "2026-03-" + pd.Series(number // 960 % 28 + 1).astype(str).str.zfill(2) + " 10:15:00",
            "Operator": "crew " + pd.Series(number % 4).astype(str),
            "Length (m)": length,
            "Mated pairs": 2,
            "Splices": 0,
        }
    )
    bad = chance.choice([0.0, 0.5, 1.6], links, p=[0.97, 0.01, 0.02])
    for wave, slope in ((850, 2.4), (1300, 0.7)):
        for ends in ("A-B", "B-A"):
            loss = slope * length / 1000 + 0.4 + bad + chance.gamma(2, 0.08, links)
            frame[f"Loss {wave} nm {ends} (dB)"] = np.round(loss, 2)
    path = folder / "export.csv"
    frame.to_csv(path, index=False)
    return analyze([path])


def filter_ms(page: Page, act: str) -> float:
    """From the change to the frame that shows it."""
    return float(page.evaluate(f"({PAINTED})(() => {{ {act}; }})"))


def measure(links: int) -> None:
    """Print size and times of a page of so many links."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        analysis = invented(links, Path(folder))
        path = Path(folder) / "page.html"
        start = time.perf_counter()
        write_page(analysis, path)
        written = time.perf_counter() - start
        found = os.environ.get("CHROMIUM") or shutil.which("chromium")
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(path.as_uri(), wait_until="commit")
        page.wait_for_selector("html[data-ready=chart]", timeout=120_000)
        head, table, chart = (
            page.evaluate(f"performance.getEntriesByName('{name}')[0]?.startTime ?? -1")
            for name in ("head", "table", "chart")
        )
        page.wait_for_timeout(1500)
        told = {}
        for name, act in FILTERS.items():
            told[name] = round(filter_ms(page, act))
            page.wait_for_timeout(1500)  # the charts follow the table
        browser.close()
        sys.stdout.write(
            f"{links:,} links ({analysis.totals}), {len(analysis.readings):,} readings: {path.stat().st_size / 1e6:.1f} MB, written in {written:.1f} s; head {head:.0f} ms, "
            f"table {table:.0f} ms, charts {chart:.0f} ms; filters in ms {told}; load {os.getloadavg()[0]:.1f}\n"
        )


if __name__ == "__main__":
    for amount in sys.argv[1:] or ["10000"]:
        measure(int(amount))
