"""The page for everyone: axe-core finds no serious barrier, in light and dark, wide and on a phone; all colors as shown.

Outside checks: axe-core 4 (rules of WCAG 2.0 to 2.2, level AA), run in the browser itself.
"""

import importlib.resources

import pytest
from page_fixture import make_analysis
from pair_fixture import copper_analysis

from analyzer.report.page import write_page

pytestmark = pytest.mark.browser
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def barriers(page):
    """Violations by rule, with where they stand; of any impact."""
    axe = (importlib.resources.files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")
    page.evaluate(axe + "\n0")
    found = page.evaluate(
        "(tags) => axe.run(document, { runOnly: tags, resultTypes: ['violations'] }).then((result) => result.violations)",
        TAGS,
    )
    return [(one["impact"], one["id"], [node["html"][:160] for node in one["nodes"][:4]]) for one in found]


@pytest.fixture(scope="module")
def fiber(tmp_path_factory):
    path = tmp_path_factory.mktemp("access") / "fiber.html"
    write_page(make_analysis(), path)
    return path.as_uri()


@pytest.fixture(scope="module")
def copper(tmp_path_factory):
    path = tmp_path_factory.mktemp("access") / "copper.html"
    write_page(copper_analysis(), path)
    return path.as_uri()


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (1280, "dark"), (390, "light")])
def test_no_serious_barrier_on_a_page_of_fiber(view, fiber, width, scheme):
    page = view(fiber)
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=scheme)
    for label in ("NT-A-07", "NT-A-03", "SH-B-02"):
        page.locator(".body > .row", has_text=label).click()
        page.locator(".detail", has_text=label).locator(".compare").first.click()
    page.locator(".detail .mark-form input").first.fill("A. Reviewer")
    page.locator(".detail .kinds button", has_text="accept").first.click()
    page.evaluate("for (const fold of document.querySelectorAll('details')) fold.open = true")
    page.wait_for_timeout(300)
    assert [barrier for barrier in barriers(page) if barrier[0] in {"serious", "critical", "moderate"}] == []


def test_no_serious_barrier_on_a_page_of_twisted_pair(view, copper):
    page = view(copper)
    page.locator(".body > .row").first.click()
    page.locator("#map-says label", has_text="least margin").click()
    page.wait_for_timeout(300)
    assert [barrier for barrier in barriers(page) if barrier[0] in {"serious", "critical", "moderate"}] == []


@pytest.mark.parametrize("width", [1280, 390])
def test_no_serious_barrier_with_rows_of_files_and_events(view, rows_folder, width):
    page = view((rows_folder / "page.html").as_uri())
    page.set_viewport_size({"width": width, "height": 900})
    for label in ("SF-105-01", "L1", "L2"):
        page.locator(".body > .row", has_text=label).first.click()
        page.locator(".detail", has_text=label).locator(".raw summary").first.click()
    page.locator(".raw-place").nth(5).wait_for()
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert [barrier for barrier in barriers(page) if barrier[0] in {"serious", "critical", "moderate"}] == []
