"""The page in a real browser, opened from disk: real clicks and keys, no errors, no requests."""

import csv
import re

import numpy as np
import pytest
from browser_fixture import until
from page_fixture import HOSTILE, make_analysis, many_links
from playwright.sync_api import expect

from analyzer.report import page_figure
from analyzer.report.page import write_page
from analyzer.report.page_margins import bar_of, margin_spread

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "page.html"
    write_page(make_analysis(), path)
    return path.as_uri()


def labels(page):
    return page.locator(".body .row > :first-child").all_inner_texts()


def test_head_says_what_the_analysis_says(view, address):
    page = view(address)
    assert page.title() == "cableproof: Not yet: of 37 links, 4 fail and 5 are incomplete."
    expect(page.locator("#records")).to_contain_text("37 rows read = 36 used + 1 set aside.")
    expect(page.locator("#terms")).to_contain_text("Granted by A. Person, owner's side, 2026-02-01, letter 4.")
    expect(page.locator("#terms")).to_contain_text("Nobody on the owner's side is named")
    said = [" ".join(text.split()) for text in page.locator("#strip button").all_inner_texts()]
    assert said == ["pass 26", "marginal 2", "fail 4", "incomplete 5"]


def test_band_shows_true_shares(view, address):
    page = view(address)
    widths = [
        page.locator(f"#band .{verdict}").bounding_box()["width"]
        for verdict in ("pass", "marginal", "fail", "incomplete")
    ]
    assert [width / sum(widths) for width in widths] == pytest.approx([26 / 37, 2 / 37, 4 / 37, 5 / 37], abs=0.005)


def test_hostile_labels_are_text(view, address):
    page = view(address)
    assert set(HOSTILE) <= set(page.locator(".body .row > :first-child").all_text_contents())
    assert page.locator("main img, main script, main b:text-is('bold')").count() == 0


def test_strip_search_and_facets_filter(view, address):
    page = view(address)
    page.locator("#strip button.fail").click()
    expect(page.locator("#shown")).to_contain_text("4 of 37 links shown")
    assert page.locator("#strip button.fail").get_attribute("aria-pressed") == "true"
    assert page.locator(".body .word").all_inner_texts() == ["fail"] * 4
    until(page, "document.getElementById('plot').data.every((trace) => trace.meta !== 'pass' || !trace.x.length)")
    assert page.evaluate("document.getElementById('plot').data.find((trace) => trace.meta === 'fail').x.length") == 2
    page.locator("#search").fill("stage sh-b")
    expect(page.locator("#shown")).to_contain_text("2 of 37 links shown")
    page.get_by_role("button", name="Show all links").click()
    expect(page.locator("#shown")).to_have_text("All 37 links shown.")
    page.locator("#facet-area").select_option("Control rooms")
    expect(page.locator("#shown")).to_contain_text("8 of 37 links shown")
    page.locator("#search").fill("no such thing")
    expect(page.locator("#shown")).to_contain_text("0 of 37 links shown")


def test_a_finding_shows_its_links(view, address):
    page = view(address)
    page.get_by_role("button", name="show these 5 in the table").click()
    expect(page.locator("#shown")).to_contain_text("5 of 37 links shown, named by the finding facts-missing")
    page.locator(".named a", has_text="NT-A-07").click()
    expect(page.locator(".detail")).to_contain_text("Fails with margin")


def test_findings_of_one_kind_stand_together_and_errors_are_never_folded(view, address):
    page = view(address)
    expect(page.locator("#findings .finding:not(.group):visible")).to_have_count(2 + 2 + 2 + 1)
    group = page.locator("#findings .group")
    expect(group).to_contain_text("5 findings of one kind repeated-row")
    expect(group.locator(".next")).to_have_text("Look at the export.")
    group.locator("summary", has_text="3 more of them").click()
    expect(group.locator(".finding:visible")).to_have_count(5)


def test_sorting_by_heading(view, address):
    page = view(address)
    head = page.get_by_role("columnheader", name="Length m")
    head.get_by_role("button").click()
    assert head.get_attribute("aria-sort") == "ascending"
    lengths = [float(text) for text in page.locator(".body .row > :nth-child(6)").all_inner_texts() if text]
    assert lengths == sorted(lengths)
    assert len(lengths) == 33
    head.get_by_role("button").click()
    assert head.get_attribute("aria-sort") == "descending"
    assert float(page.locator(".body .row > :nth-child(6)").first.inner_text()) == max(lengths)
    page.get_by_role("columnheader", name="Link").get_by_role("button").click()
    assert [text for text in labels(page) if text.startswith("NT-A")] == [f"NT-A-{n:02d}" for n in range(1, 13)]


def test_keys_move_open_and_close(view, address):
    page = view(address)
    page.locator("#search").focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowUp")
    second = page.locator(".body .row").nth(1)
    expect(second).to_be_focused()
    page.keyboard.press("Enter")
    assert second.get_attribute("aria-expanded") == "true"
    expect(page.locator(".detail")).to_have_count(1)
    page.keyboard.press("Enter")
    expect(page.locator(".detail")).to_have_count(0)
    expect(second).to_be_focused()
    page.keyboard.press("End")
    expect(page.locator(".body .row").last).to_be_focused()


def test_address_opens_a_link_with_its_arithmetic(view, address):
    """125 m of 3.00 dB/km and two matings of 0.75 dB: 0.375 + 1.5 = 1.875 dB, printed 1.88."""
    page = view(address + "#link=NT-A-07")
    detail = page.locator(".detail")
    expect(detail).to_contain_text(
        "cable 125.0 m \u00d7 3.00 dB/km = 0.38 + 2 matings \u00d7 0.75 = 1.50 + 0 splices \u00d7 0.30 = 0.00 = allowed 1.88 dB"
    )
    expect(detail).to_contain_text("exports/north trunk.csv, row 11, column D")
    expect(detail).to_contain_text("“Loss 850 <nm>”")
    expect(detail).to_contain_text("One strand is 1.05 dB worse")
    cable, matings = (
        detail.locator(f".bar >> nth=0 >> .allowed .{part}").bounding_box()["width"] for part in ("cable", "matings")
    )
    assert matings / cable == pytest.approx(1.5 / 0.375, rel=0.02)


def test_address_survives_a_hostile_label(view, address):
    page = view(address)
    page.locator("#search").fill("owned")
    expect(page.locator("#shown")).to_contain_text("1 of 37")
    page.locator(".body .row").click()
    again = view(page.url)
    expect(again.locator(".detail b").first).to_have_text(HOSTILE[0])


def test_missing_superseded_and_over_range_are_told(view, address):
    page = view(address + "#link=CR-C-02")
    expect(page.locator(".detail .facts tr", has_text="missing")).to_contain_text("length")
    page = view(address + "#link=SH-B-02")
    expect(page.locator(".detail")).to_contain_text("2 readings of earlier tests, superseded")
    page = view(address + "#link=SH-B-09")
    expect(page.locator(".detail")).to_contain_text("measured over range")
    page = view(address + "#link=CR-C-08")
    expect(page.locator(".detail")).to_contain_text("no record names it")


def test_both_directions_are_judged_and_their_mean_is_shown(view, address):
    page = view(address + "#link=NT-A-01")
    values = page.locator(".detail .bar-head > :nth-child(2)").all_inner_texts()
    assert len(values) == 4
    at_850 = [
        float(re.search(r"measured ([0-9.]+) dB", text)[1])
        for text in page.locator(".detail .bar-head").all_inner_texts()
        if text.startswith("850")
    ]
    said = page.locator(".detail", has_text="mean of both directions").inner_text()
    assert float(re.search(r"850 nm, mean of both directions: ([0-9.]+) dB", said)[1]) == pytest.approx(
        sum(at_850) / 2, abs=0.0051
    )


def test_colors_turn_with_the_scheme(view, address):
    page = view(address)
    page.emulate_media(color_scheme="dark")
    until(page, "document.getElementById('plot')._fullLayout.font.color === '#e9e6de'")


def test_a_record_bears_the_versions_of_its_tester_and_its_project(view, address):
    page = view(f"{address}#link=NT-A-07")
    cells = page.locator(".detail .sheet.records tr").nth(1).locator("td")
    expect(cells.nth(2)).to_have_text("unit 12, software 5.1 <b>, limit tables 7.4")
    expect(cells.nth(4)).to_contain_text(", project Invented Hall")


def test_print_holds_every_link_and_no_controls(view, address):
    page = view(address)
    page.emulate_media(media="print")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert page.locator(".body .row").count() == 37
    expect(page.locator("#tools")).to_be_hidden()
    assert page.locator("#records details:not([open]), #findings details:not([open])").count() == 0
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert page.locator("#records details[open]").count() == 0


def test_unconfirmed_limits_bear_the_mark(view, address):
    page = view(address + "#link=SH-B-01")
    allowed = page.locator(".detail .bar-head > :nth-child(3)").all_inner_texts()
    assert sorted(text.endswith("\u2020") for text in allowed) == [False, True]
    expect(page.locator("#terms")).to_contain_text("12 of 73 verdicts rest on limits that nobody has yet confirmed")


def test_a_click_on_a_point_opens_its_link(view, address):
    page = view(address)
    page.locator("#wavelengths label", has_text="1310 nm").click()
    until(page, "document.querySelectorAll('#plot .trace.scatter').length > 2")
    box = page.locator("#plot .scatterlayer .trace:last-child .point").last.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    expect(page.locator("#readout")).to_contain_text("SH-B-05: 3.15 dB at 1310 nm over 627.0 m, fail.")
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    expect(page.locator(".detail b").first).to_have_text("SH-B-05")


def test_no_sideways_scroll_on_a_phone(view, address):
    page = view(address + "#link=NT-A-07")
    page.set_viewport_size({"width": 390, "height": 800})
    page.wait_for_timeout(200)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


@pytest.mark.slow
def test_many_links_are_reached_through_a_window_of_rows(view, tmp_path):
    write_page(many_links(3000), tmp_path / "many.html")
    page = view((tmp_path / "many.html").as_uri() + "#link=TR-0100-05")
    expect(page.locator(".detail")).to_be_in_viewport()
    assert page.locator(".body .row").count() < 120
    page.keyboard.press("End")
    expect(page.locator(".body .row:focus")).to_have_attribute("aria-rowindex", "3001")
    page.keyboard.press("Home")
    expect(page.locator(".body .row:focus")).to_have_attribute("aria-rowindex", "2")
    expect(page.locator(".body .row:focus")).to_be_in_viewport()


def test_columns_are_chosen_and_saved_as_csv_for_a_spreadsheet(view, address, tmp_path):
    """Outside check: the csv module of Python reads the file; no cell of text begins as a formula does."""
    page = view(address)
    page.locator("#table-tools summary").click()
    page.locator("#table-tools label", has_text="Place B").click()
    page.locator("#table-tools label", has_text="Decided by").click()
    page.locator("#facet-area").select_option('Loft & "Grid"')
    heads = [text.split("\n")[0] for text in page.locator(".headings button").all_inner_texts()]
    assert "Place B" in heads
    assert "Decided by" not in heads
    with page.expect_download() as download:
        page.locator("#csv").click()
    download.value.save_as(tmp_path / "links.csv")
    with (tmp_path / "links.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    assert rows[0] == heads
    assert {row[0].removeprefix("'") for row in rows[1:-2]} == set(HOSTILE)
    assert "'" + HOSTILE[-1] in [row[0] for row in rows[1:-2]]
    assert not [cell for row in rows[1:-2] for cell in row if cell[:1] in "=+@" and cell]
    margins = [float(row[heads.index("Margin dB")]) for row in rows[1:-2]]
    assert min(margins) < 0 < max(margins)
    assert rows[-1][0].startswith("Computed with cableproof")


def test_findings_are_a_facet(view, address):
    page = view(address)
    page.locator("#facet-finding").select_option(label="stands-out (2)")
    expect(page.locator("#shown")).to_contain_text("2 of 37 links shown, named by the finding stands-out")


def test_chart_map_and_table_share_one_selection(view, address):
    page = view(address)
    page.locator(".cell", has_text="05").filter(has_text="fail").click()
    expect(page.locator(".detail b").first).to_have_text("SH-B-05")
    expect(page.locator(".cell[aria-current]")).to_have_attribute("aria-label", "SH-B-05: fail")
    page.locator("#wavelengths label", has_text="1310 nm").click()
    until(page, "document.getElementById('plot').data.some((trace) => trace.meta === 'selected' && trace.x[0] === 627)")
    page.locator(".body .row", has_text="NT-A-07").click()
    expect(page.locator(".cell[aria-current]")).to_have_attribute("aria-label", "NT-A-07: fail")
    page.locator("#map-says label", has_text="least margin").click()
    expect(page.locator(".cell[aria-current]")).to_contain_text("\u22120.4")
    page.locator("#strip button.incomplete").click()
    expect(page.locator(".cell")).to_have_count(5)


def test_keys_move_between_the_ports_of_a_panel(view, address):
    page = view(address)
    page.locator(".cells").first.locator(".cell").first.focus()
    page.keyboard.press("ArrowRight")
    expect(page.locator(".cell:focus")).to_have_attribute("aria-label", "CR-C-02: incomplete")
    page.keyboard.press("End")
    page.keyboard.press("Enter")
    expect(page.locator(".detail b").first).to_have_text("CR-C-06")


def test_bars_counted_in_the_page_follow_the_rule_of_the_analysis(view, address):
    """Narrowed to one area the page counts by itself; `bar_of` counts the same readings here."""
    analysis = make_analysis()
    (entry,) = margin_spread(analysis)
    link = analysis.records.set_index("record")["link"].reindex(analysis.readings["record"]).to_numpy()
    north = (analysis.links["area"].to_numpy() == "North")[link] & analysis.judged["in_force"].to_numpy()
    margins = analysis.judged["margin"].to_numpy()[north]
    expected = np.bincount(bar_of(margins, entry["step"], entry["first"], entry["bars"]), minlength=entry["bars"])
    page = view(address)
    page.locator("#facet-area").select_option("North")
    bars = "document.getElementById('margin-plot').data"
    until(page, f"{bars}.reduce((sum, trace) => sum + trace.y.reduce((a, b) => a + b), 0) === {len(margins)}")
    assert np.sum(page.evaluate(f"{bars}.map((trace) => trace.y)"), axis=0).tolist() == expected.tolist()


def test_a_bar_shows_its_links(view, address):
    page = view(address)
    page.locator("#margins").scroll_into_view_if_needed()
    page.locator("#margin-plot .trace.bars").first.locator(".point path").first.click(force=True)
    expect(page.locator("#shown")).to_contain_text("1 of 37 links shown: loss, margin \u22120.8 to \u22120.7 dB, fail")
    assert labels(page) == ["SH-B-05"]


def test_retests_are_a_history_with_dates(view, address):
    page = view(address + "#link=SH-B-02")
    page.locator(".detail summary", has_text="superseded").click()
    rows = [" | ".join(row.split("\t")) for row in page.locator(".detail .history tbody tr").all_inner_texts()]
    assert len(rows) == 4
    assert "2026-03-04 10:15:00" in rows[0]
    assert "superseded" in rows[0]
    assert "2026-03-05 10:15:00" in rows[1]
    assert "in force" in rows[1]


def test_two_to_four_links_are_compared_side_by_side(view, address):
    page = view(address)
    for number in range(1, 6):
        page.locator(".body > .row", has_text=f"NT-A-{number:02d}").click()
        if number < 5:
            page.locator(".detail", has_text=f"NT-A-{number:02d}").get_by_role(
                "button", name="Compare this link"
            ).click()
    expect(page.locator("#compared thead th")).to_have_text(["Reading", "NT-A-01", "NT-A-02", "NT-A-03", "NT-A-04"])
    expect(page.get_by_role("button", name="4 links are compared already")).to_be_disabled()
    row = page.locator("#compared tbody tr", has_text="850 nm A-B").first
    expect(row).to_contain_text("limit 1.86 dB, margin")
    page.get_by_role("button", name="Clear the comparison").click()
    expect(page.locator("#compared")).to_be_hidden()


def test_what_is_read_stays_in_place_while_the_map_shrinks(view, address):
    page = view(address)
    page.locator("#search").scroll_into_view_if_needed()
    page.evaluate("window.scrollBy(0, 300)")
    before = page.locator("#search").bounding_box()["y"]
    page.evaluate(
        "(text) => { const s = document.getElementById('search'); s.value = text; s.dispatchEvent(new Event('input')); }",
        "passes, least",
    )
    expect(page.locator(".cell")).to_have_count(27)
    assert page.locator("#search").bounding_box()["y"] == pytest.approx(before, abs=2)


def test_crowded_charts_count_in_cells_until_a_filter_leaves_few(view, tmp_path, monkeypatch):
    """With 20 points as the most; area North has 12 links, four of them measured in both directions: 16 readings at 850 nm."""
    monkeypatch.setattr(page_figure, "MOST_POINTS", 20)
    analysis = make_analysis()
    write_page(analysis, tmp_path / "page.html")
    page = view((tmp_path / "page.html").as_uri())
    length = analysis.facts.set_index("record")["length_m"].reindex(analysis.readings["record"]).to_numpy()
    here = (analysis.readings["wavelength_nm"] == 850) & analysis.readings["value"].notna() & ~np.isnan(length)
    cells = "document.getElementById('plot').data.filter((trace) => trace.meta === 'density')"
    until(page, f"{cells}.length === 1")
    total = page.evaluate(f"{cells}[0].z.flat().reduce((sum, count) => sum + (count ?? 0), 0)")
    assert total == here.sum() > 20
    expect(page.locator("#undrawn")).to_contain_text("More than 20 readings: they are counted in cells")
    page.locator("#facet-area").select_option("North")
    until(page, f"{cells}.length === 0")
    drawn = (
        "document.getElementById('plot').data.filter((trace) => ['pass', 'marginal pass', 'fail'].includes(trace.meta))"
    )
    assert page.evaluate(f"{drawn}.reduce((sum, trace) => sum + trace.x.length, 0)") == 16
    expect(page.locator("#undrawn")).not_to_contain_text("counted in cells")
