"""Wide fiber tables: one row for each strand, words of the headings in many orders."""

from __future__ import annotations

from corpus import files
from corpus.layout import FACTS, Pen, all_wavelengths, layout, register, wide, without
from corpus.truth import DIRECTIONS, fiber_links

FAMILY = "wide"
BOTH = ("limit", "margin")


@layout(FAMILY, "one row per strand, wavelength and direction in the headings")
def wide_plain():
    return {"plain.csv": files.text(wide(Pen(), fiber_links()))}


@layout(FAMILY, "columns in reverse order: readings first, label last")
def wide_reversed_columns():
    return {"reversed.csv": files.text([row[::-1] for row in wide(Pen(), fiber_links())])}


@layout(FAMILY, "columns in an order drawn by lot")
def wide_columns_by_lot(rng):
    rows = wide(Pen(), fiber_links())
    order = rng.sample(range(len(rows[0])), len(rows[0]))
    return {"by_lot.csv": files.text([[row[place] for place in order] for row in rows])}


@layout(FAMILY, "columns of no interest in between: color of the jacket, weather, price, remark")
def wide_foreign_columns_between(rng):
    rows = wide(Pen(), fiber_links())
    foreign = {2: "Jacket color", 5: "Weather", 8: "Price of patching", 13: "Remark"}
    words = {"Jacket color": ("aqua", "yellow"), "Weather": ("dry", "rain"), "Remark": ("", "door was locked")}
    made = []
    for number, row in enumerate(rows):
        own = list(row)
        for place, heading in sorted(foreign.items(), reverse=True):
            filler = f"{rng.uniform(20, 40):.2f}" if heading.startswith("Price") else rng.choice(words[heading])
            own.insert(place, heading if number == 0 else filler)
        made.append(own)
    return {"foreign.csv": files.text(made)}


@layout(FAMILY, "further columns that number things: running number, record number, barcode")
def wide_extra_id_columns(rng):
    head, *body = wide(Pen(), fiber_links())
    made = [["No.", "Record no.", "Barcode", *head]]
    made += [[str(n), f"R{7000 + n}", f"40{rng.randrange(10**9):010d}", *row] for n, row in enumerate(body, start=1)]
    return {"numbered.csv": files.text(made)}


def _named(name, what, heading):
    def made():
        return {f"{name}.csv": files.text(wide(Pen(), fiber_links(), heading=heading))}

    register(name, FAMILY, what, made)


_FORTH = {"A-B": "A→B", "B-A": "B→A"}
_WORDS = {"A-B": "A to B", "B-A": "B to A"}
_LETTERS = {"A-B": "AB", "B-A": "BA"}
_ENDS = {"A-B": "near end", "B-A": "far end"}
_UNITS = {"A-B": "local", "B-A": "remote"}
_BOTH = {"A-B": "End 1 to End 2", "B-A": "End 2 to End 1"}

_named("wide_terse_headings", "headings such as `IL A→B @850`", lambda nm, way: f"IL {_FORTH[way]} @{nm}")
_named("wide_inverted_words", "headings such as `850 nm Loss A-B [dB]`", lambda nm, way: f"{nm} nm Loss {way} [dB]")
_named("wide_slashed_words", "headings such as `A to B / 850 / dB`", lambda nm, way: f"{_WORDS[way]} / {nm} / dB")
_named(
    "wide_underscores", "headings such as `loss_850nm_ab_db`", lambda nm, way: f"loss_{nm}nm_{_LETTERS[way].lower()}_db"
)
_named("wide_capitals", "headings such as `ATTENUATION DB A>B 850NM`",
       lambda nm, way: f"ATTENUATION DB {way.replace('-', '>')} {nm}NM")  # fmt: skip
_named("wide_comma_units", "headings such as `Insertion Loss, A-B, 1310nm, dB`",
       lambda nm, way: f"Insertion Loss, {way}, {nm}nm, dB")  # fmt: skip
_named("wide_numbered_ends", "headings such as `Loss End 1 to End 2 850nm (dB)`",
       lambda nm, way: f"Loss {_BOTH[way]} {nm}nm (dB)")  # fmt: skip
_named("wide_old_word_attenuation", "headings such as `Attenuation (dB) 850nm A/B`",
       lambda nm, way: f"Attenuation (dB) {nm}nm {way.replace('-', '/')}")  # fmt: skip
_named(
    "wide_near_and_far",
    "measured from the near end and from the far end",
    lambda nm, way: f"Loss {nm} nm {_ENDS[way]} (dB)",
)
_named(
    "wide_local_and_remote",
    "measured at the local and at the remote unit",
    lambda nm, way: f"{_UNITS[way]} {nm} nm loss dB",
)
_named("wide_micrometers", "wavelengths in micrometers: `Loss A-B 0.85 µm (dB)`",
       lambda nm, way: f"Loss {way} {nm / 1000:g} µm (dB)")  # fmt: skip


def _beside(order):
    """Wide rows with limit and margin beside each value, in the order named."""
    pen, links = Pen(), fiber_links()
    keys = [(nm, way) for nm in all_wavelengths(links) for way in DIRECTIONS]
    words = {"value": "Loss", "limit": "Limit", "margin": "Margin", "verdict": "Result"}
    head = [pen.heading(name) for name in ("label", *FACTS)]
    for nm, way in keys:
        head += [f"{words[part]} {nm} nm {way}" + ("" if part == "verdict" else " (dB)") for part in order]
    rows = [head]
    for link in links:
        losses = dict(link.losses)
        row = [pen.fact(link, name) for name in ("label", *FACTS)]
        for key in keys:
            if key not in losses:
                row += [None] * len(order)
                continue
            margin = link.margin_db(*key)
            cells = {
                "value": pen.loss(losses[key]),
                "limit": pen.number(link.limit_db(key[0])),
                "margin": None if margin is None else pen.number(margin),
                "verdict": pen.verdict(link.passes(*key)),
            }
            row += [cells[part] for part in order]
        rows.append(row)
    return rows


@layout(FAMILY, "limit and margin beside each value", absent=("verdict",), prints=BOTH)
def wide_limits_and_margins():
    return {"margins.csv": files.text(_beside(("value", "limit", "margin")))}


@layout(FAMILY, "verdict, margin and limit stand before the value", absent=("verdict",), prints=BOTH)
def wide_value_last():
    return {"value_last.csv": files.text(_beside(("verdict", "margin", "limit", "value")))}


@layout(FAMILY, "cable and strand in two columns instead of a label", absent=("label",))
def wide_cable_and_strand():
    return {"cable_and_strand.csv": files.text(wide(Pen(), fiber_links(), label=("cable", "strand")))}


@layout(FAMILY, "label, cable, strand and both places")
def wide_all_names():
    names = ("place_a", "cable", "label", "strand", "place_b")
    return {"all_names.csv": files.text(wide(Pen(), fiber_links(), label=names))}


@layout(FAMILY, "construction in the type: `OS2 outside plant`")
def wide_construction_in_type():
    rows = wide(Pen(), fiber_links(), facts=without("construction"))
    place = rows[0].index("Fiber type") if "Fiber type" in rows[0] else 1
    return {
        "type.csv": files.text(
            [
                [*r[:place], f"{r[place]} outside plant" if r[place] == "OS2" else r[place], *r[place + 1 :]]
                for r in rows
            ]
        )
    }


@layout(
    FAMILY,
    "readings alone: facts come from the schedule",
    absent=(
        "type",
        "construction",
        "length_m",
        "mated_pairs",
        "splices",
        "reference",
        "date",
        "tester",
        "operator",
        "verdict",
    ),
)
def wide_readings_alone():
    return {"alone.csv": files.text(wide(Pen(), fiber_links(), facts=(), tail=()))}
