"""The page: one HTML file that opens from disk, asks no network, and holds everything it shows.

The template has named slots and no logic. Data and the plotly script stand in it gzipped and in base64. What the head
says is a pack of its own, before the script; the table's data, the drawing script and the rows of the files stand behind
it, so that the head is read while the browser still takes them in. The security policy names every script
by its hash; docs/page.md says why each part of it is as it is.
"""

from __future__ import annotations

import base64
import hashlib
import html
import importlib.resources
import importlib.util
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.errors import CableproofError

if TYPE_CHECKING:
    from analyzer.schema import Analysis

SCRIPTS = (
    "base.js", "head.js", "words.js", "link.js", "strips.js", "pairs.js", "events.js", "raw.js", "history.js", "marks.js", "columns.js", "table.js", "chart.js", "margins.js", "map.js", "main.js",
)  # fmt: skip
"""Parts of the page's script in the order in which they are joined."""


def write_page(analysis: Analysis, path: Path) -> None:
    """Write the page of an analysis to `path`; the same analysis gives the same bytes.

    Args:
        analysis: a whole run, as `analyzer.analyze` gives it.
        path: the file to write; its folder must exist.

    Raises:
        OSError: the file cannot be written.
        CableproofError: the plotly package is installed without its script.
    """
    path.write_text(page_text(analysis), encoding="utf-8", newline="\n")


def page_text(analysis: Analysis, notice: str = "") -> str:
    """The page of an analysis as HTML text; `notice` stands above everything else (that a package is a draft)."""
    from analyzer.report.page_data import page_data, split
    from analyzer.report.page_pack import pack, packed
    from analyzer.report.page_raw import raw_rows

    raw = raw_rows(analysis)
    data = page_data(analysis, (raw.links, raw.of))
    head, rest = split(data)
    plotly = _plotly_script() if data["figure"] or data["margins"] or data["curves"]["reading"] else b""
    style = _template("page.css")
    script = '"use strict";\n(() => {\n' + "\n".join(_template(name) for name in SCRIPTS) + "\n})();\n"
    slots = {
        "policy": html.escape(_policy(script.encode(), plotly, style.encode())),
        "title": html.escape(f"cableproof: {data['sentence']}"),
        "style": style,
        "sentence": html.escape(data["sentence"]),
        "standing_line": html.escape(data["standing_line"]),
        "notice": f'<p class="looser" id="notice">{html.escape(notice)}</p>' if notice else "",
        "head": pack(head),
        "data": pack(rest),
        "raw": raw.packed,
        "plotly": packed(plotly),
        "script": script,
    }
    return _filled(_template("page.html"), slots)


def _filled(template: str, slots: dict[str, str]) -> str:
    """The template with every slot filled; what is put in is never searched for slots again."""
    pieces = template.split("{{")
    filled = [pieces[0]]
    for piece in pieces[1:]:
        name, rest = piece.split("}}", 1)
        filled += [slots[name], rest]
    return "".join(filled)


def _template(name: str) -> str:
    text = (importlib.resources.files("analyzer.report") / "templates" / name).read_text(encoding="utf-8")
    return text.replace("\r\n", "\n")


def _policy(script: bytes, plotly: bytes, style: bytes) -> str:
    """The page's content security policy: nothing from anywhere, two scripts and one style sheet by hash.

    The hash of the empty text lets plotly make its own empty style element, which it fills through the object model.
    """
    scripts = " ".join(_hash(text) for text in (script, plotly) if text)
    return (
        f"default-src 'none'; script-src {scripts}; style-src {_hash(style)} {_hash(b'')}; "
        "img-src data: blob:; base-uri 'none'; form-action 'none'"
    )


def _hash(text: bytes) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text).digest()).decode('ascii')}'"


def _plotly_script() -> bytes:
    """The script that the installed plotly package carries, read without importing that package."""
    found = importlib.util.find_spec("plotly")
    place = Path(found.origin).parent / "package_data" / "plotly.min.js" if found and found.origin else None
    if place is None or not place.is_file():
        raise CableproofError(
            "the plotly package is installed without its script; install it again: pip install --force-reinstall plotly"
        )
    return place.read_bytes()
