"""The tables of docs/planning.md, made from the package: `python tests/budget/planning_page.py` writes them anew."""

from __future__ import annotations

import sys
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[2]
if __name__ == "__main__":
    sys.path.insert(0, str(REPOSITORY))

import numpy as np  # noqa: E402 - the path above comes first where this runs as a script
from scipy import optimize, signal, stats  # noqa: E402

from analyzer import standards  # noqa: E402
from analyzer.budget import FiberBudget, fiber_budget  # noqa: E402
from analyzer.budget.end_connections import OLDER, end_row  # noqa: E402
from analyzer.budget.loss_spread import Spread, fit_gamma  # noqa: E402
from analyzer.errors import OptionError  # noqa: E402

PAGE = REPOSITORY / "docs" / "planning.md"
TIA, ISO = "568.3-E", "11801-1:2017"

LINKS = {
    "OM4, 80 m, panel to panel": {"fiber": "OM4", "length_m": 80, "ends": ("panel", "panel")},
    "OM3, 200 m, pigtail to pigtail": {"fiber": "OM3", "length_m": 200, "ends": ("pigtail", "pigtail")},
    "OM4, 60 m, cassette to cassette": {"fiber": "OM4", "length_m": 60, "ends": ("cassette", "cassette")},
    "OS2 indoor-outdoor, 400 m, pigtail to pigtail": {
        "fiber": "OS2", "length_m": 400, "ends": ("pigtail", "pigtail"), "construction": "indoor-outdoor",
    },
    "OS2 outside plant, 3,000 m, 4 mated pairs, 6 splices": {
        "fiber": "OS2", "length_m": 3000, "mated_pairs": 4, "splices": 6, "construction": "outside plant",
    },
}  # fmt: skip
"""Five invented links of usual kinds."""

NOT_KNOWN = "no source"


def wavelengths(link: dict) -> tuple[int, int]:
    return (850, 1300) if link["fiber"].startswith("OM") else (1310, 1550)


def budget(link: dict, wavelength_nm: int, standard: str, reference: str, **changes) -> FiberBudget | None:
    given = {"standard": standard, "edition": TIA if standard == "TIA" else ISO, **link, **changes}
    if standard == "ISO":
        given.pop("construction", None)  # ISO has one row for OS2, whatever its construction
    try:
        return fiber_budget(**given, wavelength_nm=wavelength_nm, reference=reference)
    except OptionError:
        return None


def iso(link: dict, wavelength_nm: int, reference: str, ends_db: dict | None) -> FiberBudget | None:
    """The ISO limit with this reference method; end connections at the figures given, or at those in force."""
    own = {} if ends_db is None else {"end_pair_db": ends_db[standards.medium_of(link["fiber"])]}
    return budget(link, wavelength_nm, "ISO", reference, **own)


def ends_of_2006() -> dict[str, float]:
    """End allowances of ISO/IEC 14763-3:2006, as the values hold them (recalled)."""
    found = {medium: end_row(standards.load(), medium, OLDER) for medium in ("multimode", "single-mode")}
    return {medium: row["max_loss_db"] for medium, row in found.items() if row}


def shown(number: float | None) -> str:
    return NOT_KNOWN if number is None else f"{number:.2f}"


def link_table() -> str:
    heads = [
        "link", "nm", "TIA one-cord", "TIA two-cord", "TIA three-cord", "ISO one-cord", "ISO two-cord", "ISO three-cord",
        "ISO one-cord, ends of 2006", "ISO two-cord, ends of 2006", "done well: middle", "done well: 97 of 100",
    ]  # fmt: skip
    methods = ("one-cord", "two-cord", "three-cord")
    rows = []
    for name, link in LINKS.items():
        for wavelength_nm in wavelengths(link):
            tia = [budget(link, wavelength_nm, "TIA", reference) for reference in methods]
            now = [iso(link, wavelength_nm, reference, None) for reference in methods]
            then = [iso(link, wavelength_nm, reference, ends_of_2006()) for reference in methods[:2]]
            rows.append([
                name, str(wavelength_nm), *(shown(each and each.allowed_db) for each in (*tia, *now, *then)),
                shown(tia[0].expected_db), shown(tia[0].expected_97_db),
            ])  # fmt: skip
    return as_markdown(heads, rows)


def source_list() -> str:
    found = {}
    for link in LINKS.values():
        for wavelength_nm in wavelengths(link):
            budgets = [
                budget(link, wavelength_nm, "TIA", "one-cord"),
                iso(link, wavelength_nm, "three-cord", None),
                iso(link, wavelength_nm, "one-cord", ends_of_2006()),
            ]
            for each in budgets:
                if each is not None:
                    found |= {source.row_id: source.text for source in (*each.sources, *each.expected_sources)}
    for row_id in ("FC-14763-2006-REFRND-MM", "FC-14763-2006-REFRND-SM"):
        found[row_id] = standards.describe(standards.load().row(row_id))
    return "\n".join(f"- `{row_id}` {found[row_id]}" for row_id in sorted(found))


def family_table() -> str:
    """Middle and 97 % line of 1, 2 and 4 matings of grade C under three distributions with the same two figures."""
    mean_db, q97_db, step_db = 0.25, 0.5, 0.001
    edges = (np.arange(8000) + 0.5) * step_db
    rows = []
    for name, one in families(mean_db, q97_db).items():
        mass = np.diff(one.cdf(edges), prepend=0.0)
        cells, total = [name], np.array([1.0])
        for count in range(1, 5):
            total = signal.fftconvolve(total, mass)
            if count in {1, 2, 4}:
                share = np.cumsum(total)
                middle, line = (edges[np.searchsorted(share, wanted)] for wanted in (0.5, 0.97))
                cells.append(f"{middle:.2f} / {line:.2f}")
        rows.append(cells)
    return as_markdown(["distribution", "1 mating", "2 matings", "4 matings"], rows)


def families(mean_db: float, q97_db: float) -> dict:
    gamma = fit_gamma(Spread(mean_db, q97_db))

    def lognormal(sigma: float):
        return stats.lognorm(sigma, scale=mean_db * np.exp(-(sigma**2) / 2))

    def weibull(shape: float):
        return stats.weibull_min(shape, scale=mean_db / stats.weibull_min(shape).mean())

    def solved(family, low: float, high: float):
        return family(optimize.brentq(lambda shape: family(shape).ppf(0.97) - q97_db, low, high))

    return {
        "gamma": stats.gamma(gamma.shape, scale=gamma.scale_db),
        "lognormal": solved(lognormal, 0.05, 1.5),
        "Weibull": solved(weibull, 1.0, 10.0),
    }


def as_markdown(heads: list[str], rows: list[list[str]]) -> str:
    lines = ["| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
    return "\n".join([*lines, *("| " + " | ".join(row) + " |" for row in rows)])


PARTS = {"links": link_table, "sources": source_list, "families": family_table}


def filled(text: str) -> str:
    """The page with everything between its markers made anew."""
    for name, make in PARTS.items():
        before, begin, rest = text.partition(f"<!-- {name}: made by tests/budget/planning_page.py -->\n")
        _, end, after = rest.partition(f"<!-- end of {name} -->")
        assert begin, f"the page has no place for {name}"
        assert end, f"the page has no end for {name}"
        text = f"{before}{begin}{make()}\n{end}{after}"
    return text


if __name__ == "__main__":
    PAGE.write_text(filled(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
