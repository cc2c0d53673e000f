"""A hostile export from file to screen: markup, script, formulas and right-to-left text in every text field."""

import csv

import pytest
from playwright.sync_api import expect

from analyzer import analyze
from analyzer.report.page import write_page

pytestmark = pytest.mark.browser
TEXTS = (
    "<img src=x onerror=document.title=1>",
    "<script>alert(1)</script>",
    '"><svg onload=alert(1)>',
    "javascript:alert(1)",
    '=HYPERLINK("http://example.invalid")',
    "@SUM(1+1)*cmd",
    "\u202e\u05de\u05e1\u05d3\u05e8\u05d5\u05df\u202c {{data}}",
    "${alert(1)} `x` \\u003cb\\u003e &lt;i&gt;",
)
FIELDS = ("Link label", "Cable", "Location A", "Location B", "Operator", "Tester", "Limit name", "Comment")
NOT_USED = '<b onclick="alert(1)">\u202eSerial {{script}}'


@pytest.fixture
def hostile_export(tmp_path):
    path = tmp_path / "<b onmouseover=alert(1)>&{{script}}.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["<svg onload=alert(1)> =1+1"])
        writer.writerow([*FIELDS, "Fiber type", "Length (m)", "Loss 850 nm (dB)", "Loss 1300 nm (dB)", NOT_USED])
        for number, text in enumerate(TEXTS * 2):
            words = [f"{text} {number}" if field == "Link label" else text for field in FIELDS]
            writer.writerow([*words, "OM4", 100 + number, 0.9 if number % 5 else 3.9, 0.7, TEXTS[number % 3]])
    return path


@pytest.fixture
def hostile_page(tmp_path, hostile_export):
    analysis = analyze([hostile_export])
    assert analysis.totals["links"] == 2 * len(TEXTS)
    write_page(analysis, tmp_path / "page.html")
    return (tmp_path / "page.html").as_uri()


def test_every_text_of_a_hostile_export_stays_text(view, hostile_page, hostile_export):
    page = view(hostile_page)
    title = page.title()
    rows = page.locator(".body > .row")
    expect(rows).to_have_count(2 * len(TEXTS))
    shown = rows.locator(":scope > :first-child").all_text_contents()
    assert {text.rsplit(" ", 1)[0] for text in shown} == set(TEXTS)
    for at in range(len(TEXTS)):
        rows.nth(at).click()
    for button in page.locator(".compare:enabled").all()[:2]:
        button.click()
    page.locator(".mark-form input").nth(0).fill(TEXTS[0])
    page.locator(".mark-form input").nth(1).fill(TEXTS[2])
    page.locator(".kinds button").first.click()
    page.evaluate("for (const fold of document.querySelectorAll('details')) fold.open = true")
    lists = page.locator(".raw-list")
    expect(lists).to_have_count(len(TEXTS))
    shown = page.evaluate(
        "[...document.querySelectorAll('.raw-list')].map((each) => [...each.querySelectorAll('tbody tr')].map((row) => [row.children[1].textContent, row.children[2].textContent]))"
    )
    written = {row[0][1]: [tuple(cell) for cell in row] for row in shown}
    with hostile_export.open(encoding="utf-8", newline="") as file:
        _, head, *rows = csv.reader(file)
    for row in rows:
        if row[0] in written:
            assert written[row[0]] == [*zip(head, row, strict=True)]
    assert len(written) == len(TEXTS)
    expect(page.locator(".raw-above").first).to_contain_text("<svg onload=alert(1)> =1+1")
    assert page.locator("main :is(img, script, svg[onload], iframe, b[onmouseover], b[onclick])").count() == 0
    assert page.title() == title
    assert page.evaluate(
        "[...document.querySelectorAll('a[href]')].every((a) => a.getAttribute('href').startsWith('#'))"
    )
    assert len(page.pdf()) > 10_000
