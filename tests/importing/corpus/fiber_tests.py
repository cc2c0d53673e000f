"""What crews do: tests in several files, tests made again, powers instead of losses, lines that machines add."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from corpus import files
from corpus.layout import FACTS, Pen, layout, long, wide
from corpus.truth import DIRECTIONS, fiber_links

FAMILY = "tests and files"
PEN = Pen()


@layout(FAMILY, "one file for each direction: the records join")
def file_per_direction():
    return {f"{way}.csv": files.text(wide(PEN, fiber_links(), directions=(way,))) for way in DIRECTIONS}


@layout(FAMILY, "one file for each wavelength, wide and long mixed", absent=("verdict",))
def file_per_wavelength():
    made = {}
    for nm in (850, 1300, 1310, 1550):
        rows = [[PEN.heading(n) for n in ("label", *FACTS)] + [f"Loss {nm} nm {way} (dB)" for way in DIRECTIONS]]
        for link in fiber_links():
            if nm in link.wavelengths_nm:
                losses = [PEN.loss(link.loss(nm, way)) for way in DIRECTIONS]
                rows.append([PEN.fact(link, n) for n in ("label", *FACTS)] + losses)
        made[f"{nm}.csv"] = files.text(rows)
    head, *body = long(PEN, fiber_links())
    key = head.index("Wavelength (nm)")
    made["1300.csv"] = files.text([head[:-1], *(row[:-1] for row in body if row[key] == "1300")])
    return made


@layout(FAMILY, "tests made again: the older stand before and are history", absent=("date", "verdict"))
def tests_made_again(rng):
    head, *body = long(PEN, fiber_links())
    loss, day, label = head.index("Loss (dB)"), head.index("Date"), head.index("Link")
    again = set(rng.sample([link.label for link in fiber_links()], 9))
    older = []
    for row in body:
        if row[label] in again:
            own = list(row)
            own[loss], own[day] = f"{Decimal('1.30') + Decimal(rng.randrange(300)) / 100}", "2026-02-11"
            older.append(own)
    return {"again.csv": files.text([head, *older, *body])}


@layout(FAMILY, "tests made again: the newer stand first, times decide", absent=("date", "verdict"))
def tests_made_again_newest_first():
    pen = Pen(stamp="%d/%m/%Y %H:%M")
    facts = tuple(name for name in FACTS if name not in {"date", "time"})
    head, *body = long(pen, fiber_links(), facts=(*facts, "stamp"))
    loss, stamp = head.index("Loss (dB)"), head.index("Tested at")
    older = []
    for link, row in zip((link for link in fiber_links() for _ in range(4)), body, strict=True):
        if link.strand == 2:
            own = list(row)
            own[loss] = "3.90"
            own[stamp] = (link.tested_at - timedelta(hours=3)).strftime(pen.stamp)
            older.append(own)
    return {"newest_first.csv": files.text([head, *body, *older])}


def _lit_links():
    """Links through which light arrived both ways."""
    return tuple(link for link in fiber_links() if all(loss.value_db is not None for _, loss in link.losses))


@layout(FAMILY, "powers instead of losses: reference and measured power in dBm", links=_lit_links, absent=("verdict",))
def powers_alone():
    head = [PEN.heading(n) for n in ("label", *FACTS)]
    rows = [[*head, "Wavelength (nm)", "Direction", "Reference power (dBm)", "Measured power (dBm)"]]
    for link in _lit_links():
        known = [PEN.fact(link, n) for n in ("label", *FACTS)]
        for (nm, way), loss in link.losses:
            reference = Decimal("-19.870") if nm < 1310 else Decimal("-8.120")
            rows.append([*known, str(nm), PEN.direction(way), str(reference), str(reference - loss.value_db)])
    return {"powers.csv": files.text(rows)}


@layout(FAMILY, "powers in dBm beside the losses", links=_lit_links, may_set_aside=True)
def powers_beside():
    head, *body = long(PEN, _lit_links())
    place = head.index("Loss (dB)")
    rows = [[*head, "Reference power (dBm)", "Measured power (dBm)"]]
    rows += [[*row, "-19.870", str(Decimal("-19.870") - Decimal(row[place]))] for row in body]
    return {"powers.csv": files.text(rows)}


@layout(FAMILY, "wavelength and direction in one column: `850 nm A-B`")
def key_in_one_column():
    head, *body = long(PEN, fiber_links())
    nm, way = head.index("Wavelength (nm)"), head.index("Direction")
    short = {"A to B": "A-B", "B to A": "B-A"}
    rows = [[*head[:nm], "Test", *head[way + 1 :]]]
    rows += [[*row[:nm], f"{row[nm]} nm {short[row[way]]}", *row[way + 1 :]] for row in body]
    return {"key.csv": files.text(rows)}


@layout(FAMILY, "lines with a hash sign before the table")
def comment_lines():
    return {"comments.csv": b"# invented site\n# crew K\n#\n" + files.text(wide(PEN, fiber_links()))}


@layout(FAMILY, "a delimiter too many at the end of every line")
def trailing_delimiters():
    return {"trailing.csv": files.text([[*row, None] for row in wide(PEN, fiber_links())], delimiter=";")}


@layout(FAMILY, "the table begins far down and to the right")
def table_far_down():
    rows = [["Invented site"], *[[]] * 23]
    rows += [[None] * 6 + row for row in wide(Pen(typed=True), fiber_links())]
    return {"far.xlsx": files.workbook([files.Sheet("Loss", rows)])}


@layout(FAMILY, "the limit the tester had loaded as a name in a column of its own")
def limit_as_name():
    rows = [[*row, "Test limit" if n == 0 else "ANSI/TIA-568.3-E"] for n, row in enumerate(wide(PEN, fiber_links()))]
    return {"named.csv": files.text(rows)}


@layout(FAMILY, "lengths in meters and kilometers mixed, each with its unit")
def lengths_mixed_units():
    rows = wide(PEN, fiber_links())
    place = rows[0].index("Length (m)")
    rows[0][place] = "Length"
    for row, link in zip(rows[1:], fiber_links(), strict=True):
        row[place] = f"{link.length_m / 1000} km" if link.length_m > 1000 else f"{link.length_m} m"
    return {"mixed.csv": files.text(rows)}


@layout(FAMILY, "temperature, humidity and sheath marks beside the results")
def surroundings_beside(rng):
    head, *body = wide(PEN, fiber_links())
    rows = [["Temperature (°F)", "Humidity (%)", *head, "Sheath mark A (m)", "Sheath mark B (m)"]]
    rows += [[f"{rng.uniform(60, 80):.1f}", rng.randrange(30, 60), *row, "0102", "0178"] for row in body]
    return {"surroundings.csv": files.text(rows)}


@layout(FAMILY, "blanks around labels")
def labels_with_blanks():
    rows = wide(PEN, fiber_links())
    return {"blanks.csv": files.text([rows[0], *([f" {row[0]}  ", *row[1:]] for row in rows[1:])])}
