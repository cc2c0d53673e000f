"""Links of twisted pair on the page, in a real browser: strips, bars, the curve on demand, hostile texts."""

import os
import shutil
from urllib.parse import quote

import pytest
from pair_fixture import HOSTILE_LABEL, HOSTILE_PROVED, copper_analysis
from playwright.sync_api import expect, sync_playwright

from analyzer.report.page import write_page

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    path = tmp_path_factory.mktemp("pairs") / "page.html"
    write_page(copper_analysis(), path)
    return path.as_uri()


@pytest.fixture
def opened(address):
    """Opens the page with one link open; at the end nothing may have been complained of or asked for."""
    found = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    complaints, requests = [], []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("request", lambda request: requests.append(request.url))

        def open_link(label):
            page.goto(f"{address}#link={quote(label, safe='')}")
            page.wait_for_selector("html[data-ready=chart]")
            return page

        yield open_link
        browser.close()
    assert complaints == []
    assert [url for url in requests if not url.startswith("file:")] == []


def test_a_swept_link_opens_with_a_strip_for_each_curve_and_draws_one_on_demand(opened):
    page = opened("RH-01")
    groups = page.locator(".detail details.strips")
    assert [text.split(":")[0] for text in groups.locator("summary").all_inner_texts()] == [
        "NEXT", "insertion loss", "return loss",
    ]  # fmt: skip
    rows = groups.nth(0).locator(".strip-row:not(.axis)")
    assert rows.count() == 12
    first = " ".join(rows.first.inner_text().split())
    assert first == "fail 4-5/7-8, end B −1.17 dB † at 140 MHz"
    assert rows.first.locator(".strip .beyond").count() == 1
    assert rows.nth(1).locator(".strip .beyond").count() == 0
    rows.first.locator("button").click()
    expect(groups.nth(0).locator(".curve .main-svg").first).to_be_visible()
    expect(groups.nth(0).locator(".curve").first).to_contain_text("102 points were measured, up to 500 MHz")
    strip = rows.first.locator(".strip").bounding_box()
    page.mouse.move(strip["x"] + 1, strip["y"] + 5)
    expect(groups.nth(0).locator(".at-point")).to_contain_text("no point judged")
    expect(page.locator(".detail")).to_contain_text("Best grade proved: 6 permanent link.")


def test_worst_points_are_bars_from_their_limit(opened):
    page = opened("DP-04")
    bars = page.locator(".detail .bar-row:not(.axis)")
    assert [" ".join(text.split()) for text in bars.all_inner_texts()[:2]] == [
        "fail NEXT 3-6/4-5 at end B, 100 MHz 40.70, needed 41.80 dB † −1.10 dB",
        "fail PSNEXT 4-5 at end B, 62.5 MHz 38.90, needed 39.30 dB † −0.40 dB",
    ]
    assert bars.locator(".over").count() == 2
    head = page.locator(".detail .readings thead th").all_inner_texts()
    assert head[:7] == ["Parameter", "Pair", "End", "Frequency", "Measured", "Limit", "Margin"]
    page.locator("#facet-configuration").select_option(label="modular plug terminated link")
    assert page.locator(".body .row > :first-child").all_inner_texts() == ["CM-01"]


def test_hostile_texts_of_twisted_pair_are_shown_as_they_are(opened):
    page = opened(HOSTILE_LABEL)
    expect(page.locator(".detail")).to_contain_text(HOSTILE_LABEL)
    expect(page.locator(".detail")).to_contain_text(HOSTILE_PROVED)
    assert page.title().startswith("cableproof: ")
    assert page.locator(".detail img, .detail script").count() == 0
