"""The file: same bytes each time, closed to the network, texts of files never markup."""

import base64
import gzip
import hashlib
import json
import re

import pytest
from page_fixture import HOSTILE, make_analysis

from analyzer import schema
from analyzer.report.page import page_text, write_page
from analyzer.report.page_data import page_data


@pytest.fixture(scope="module")
def text():
    return page_text(make_analysis())


def packed(text, name):
    return gzip.decompress(base64.b64decode(re.search(rf'id="{name}">([^<]*)<', text)[1]))


def test_same_bytes_each_time(text, tmp_path):
    write_page(make_analysis(), tmp_path / "page.html")
    assert (tmp_path / "page.html").read_bytes() == text.encode()


def test_the_page_holds_the_data_whole(text):
    head, rest = (json.loads(packed(text, name)) for name in ("head", "data"))
    whole = head | {name: told for name, told in rest.items() if name != "named"}
    whole["findings"] = [each | {"links": links} for each, links in zip(head["findings"], rest["named"], strict=True)]
    assert whole == page_data(make_analysis())


def test_answer_and_standing_line_stand_in_the_file_itself(text):
    assert '<h1 id="sentence">Not yet: of 37 links, 4 fail and 5 are incomplete.</h1>' in text
    assert "Computed with cableproof from the records named; not a test instrument&#x27;s record." in text


def test_no_text_of_a_file_stands_in_the_markup(text):
    assert not any(label in text for label in HOSTILE)
    assert "north trunk" not in text


def test_policy_names_exactly_the_scripts_and_style_by_hash(text):
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)[1].replace("&#x27;", "'")
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert "unsafe" not in policy

    def named(content):
        return f"'sha256-{base64.b64encode(hashlib.sha256(content).digest()).decode()}'"

    own = re.search(r"<script>(.*?)</script>", text, re.DOTALL)[1].encode()
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL)[1].encode()
    assert rules["script-src"].split() == [named(own), named(packed(text, "plotly"))]
    assert rules["style-src"].split() == [named(style), named(b"")]


def test_nothing_is_fetched_from_anywhere(text):
    bare = re.sub(r'<script type="text/plain".*?</script>', "", text, flags=re.DOTALL)
    assert not re.search(
        r"https?://|\bsrc=|<link|@import|url\(|\bfetch\(|XMLHttpRequest|innerHTML|insertAdjacentHTML", bare
    )


def test_a_page_without_fiber_carries_no_drawing_script(tmp_path):
    analysis = make_analysis()
    empty = {name: schema.empty(name) for name in ("records", "facts", "readings", "judged", "links")}
    empty["records"]["link"] = empty["records"]["record"]
    for name, frame in empty.items():
        setattr(analysis, name, frame)
    analysis.totals = {"links": 0, "pass": 0, "marginal": 0, "fail": 0, "incomplete": 0}
    write_page(analysis, tmp_path / "page.html")
    assert (tmp_path / "page.html").stat().st_size < 200_000


def luminance(color):
    """Relative luminance as WCAG 2.2 defines it."""
    digits = color.lstrip("#")
    digits = digits if len(digits) == 6 else "".join(digit * 2 for digit in digits)
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def palettes(text):
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL)[1]
    blocks = [
        dict(re.findall(r"--([a-z-]+): (#[0-9a-f]+)", block))
        for block in re.findall(r":root \{(.*?)\}", style, re.DOTALL)
    ]
    return [block for block in blocks if "paper" in block]


def test_black_on_white_is_21_to_1():
    """WCAG 2.2, definition of contrast ratio: it ranges from 1 to 21."""
    assert contrast("#000", "#ffffff") == pytest.approx(21)


def test_contrast_of_words_and_marks(text):
    """WCAG 2.2, success criteria 1.4.3 (4.5 to 1 for text) and 1.4.11 (3 to 1 for graphics)."""
    assert len(palettes(text)) == 3  # light, dark, print
    for color in palettes(text):
        for ink, ground in (
            ("ink", "paper"),
            ("soft", "paper"),
            ("ink", "tint"),
            ("soft", "tint"),
            ("paper", "ink"),
            ("cable-ink", "cable"),
            ("matings-ink", "matings"),
        ):
            assert contrast(color[ink], color[ground]) >= 4.5, (ink, ground)
        for mark in ("pass", "marginal", "fail", "incomplete", "splices", "soft"):
            assert contrast(color[mark], color["paper"]) >= 3, mark
        assert len({color[verdict] for verdict in ("pass", "marginal", "fail", "incomplete")}) == 4
