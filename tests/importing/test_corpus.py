"""Every layout of the corpus is read with no map and gives what its truth says; `pytest -s` prints layout × result.

The truth computes limits in decimal arithmetic of its own, with the allowances of ANSI/TIA-568.3-E named in
`corpus/truth.py`; the writer of the layouts shares no code with the reader.
"""

import random
import re
import sys
from collections import Counter
from pathlib import Path

import corpus_copper
import corpus_fiber
import corpus_table
import layouts_page
import pytest
from corpus import files
from corpus.copper_table import each_pair, long_rows
from corpus.copper_truth import copper_links, pair_by_pair
from corpus.layout import Layout, Pen, long, wide
from corpus.truth import fiber_links
from corpus.writer import all_layouts
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyzer.errors import CableproofError

pytestmark = pytest.mark.slow

LAYOUTS = all_layouts()
HERE = Path(__file__).parent
FEW = settings(
    max_examples=12, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.name)
def test_layout_gives_what_its_truth_says(layout, tmp_path):
    outcome = corpus_table.outcome_of(layout, tmp_path)
    sys.stdout.write(f"\n{corpus_table.line(outcome)}\n")
    if layout.name in layouts_page.not_read_yet():
        assert outcome.differences != [], "it is read right now: take it off corpus/not_read_yet.txt"
    else:
        assert outcome.differences == []


def test_every_layout_that_is_not_read_yet_exists():
    assert layouts_page.not_read_yet() <= {layout.name for layout in LAYOUTS}


# ------------------------------------------------------------------ the corpus itself


def test_corpus_is_as_large_as_promised():
    assert len(LAYOUTS) >= 60
    assert len(fiber_links()) == 40
    assert len(copper_links()) == 16


def test_layouts_are_the_same_every_time():
    chosen = [layout for layout in LAYOUTS if layout.name in {"wide_columns_by_lot", "french_wide_second", "kind_xlsx"}]
    assert len(chosen) == 3
    for layout in chosen:
        assert layout.files() == layout.files()


def test_truth_holds_its_edges():
    margins = {
        (link.label, *key): link.margin_db(*key) for link in fiber_links() for key, loss in link.losses if loss.value_db
    }
    assert margins["KX-07-06", 1310, "A-B"] == 0
    assert Counter(link.verdict for link in fiber_links()) == {"pass": 36, "fail": 4}
    assert sum(loss.bound == "over range" for link in fiber_links() for _, loss in link.losses) == 1


def test_writer_shares_no_code_with_the_reader():
    sources = sorted((HERE / "corpus").glob("*.py"))
    assert len(sources) > 8
    assert [
        path.name for path in sources if re.search(r"^\s*(from|import) analyzer", path.read_text(), re.MULTILINE)
    ] == []


def test_page_of_layouts_is_what_the_declarations_say():
    assert layouts_page.PAGE.read_text(encoding="utf-8") == layouts_page.page()


# ------------------------------------------------------------------ mutations

TABLES = {
    "wide": lambda: wide(Pen(), fiber_links()),
    "long": lambda: long(Pen(), fiber_links(), extras=("limit", "margin", "verdict")),
    "each pair": lambda: each_pair(Pen(), copper_links()),
    "pairs long": lambda: long_rows(Pen(), pair_by_pair, columns=("parameter", "pair", "end", "frequency", "value")),
}
FIBER = ("wide", "long")


def _layout(rows, **how):
    return Layout("mutated", "mutations", "", lambda: {"mutated.csv": files.text(rows, **how)})


def _tables(rows, folder, *, fiber):
    """Readings of a table with the labels of their links; accounts must add up, or one sentence refuses the file."""
    try:
        if fiber:
            analysis = corpus_fiber.run(_layout(rows), folder)
            counts, kept = analysis.files, corpus_fiber.judged_table(analysis)
        else:
            path = folder / "mutated.csv"
            path.write_bytes(files.text(rows))
            counts, kept = corpus_copper.counted([path])
    except CableproofError:  # one sentence, which the command line prints
        return None
    assert len(corpus_fiber.accounts(counts)) == 0
    return kept


def _bag(table):
    """Readings as a multiset, their place left out."""
    names = [name for name in ("label", "parameter", "wavelength_nm", "direction", "pair", "end", "frequency_mhz", "value",
                               "bound", "limit", "margin", "verdict") if name in table]  # fmt: skip
    return Counter(tuple(map(str, row)) for row in table[names].astype(object).to_numpy())


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("name", TABLES)
def test_order_of_columns_and_rows_never_matters(name, seed, tmp_path):
    rng = random.Random(seed)
    head, *body = TABLES[name]()
    straight = _tables([head, *body], tmp_path, fiber=name in FIBER)
    order = rng.sample(range(len(head)), len(head))
    shuffled = [[row[place] for place in order] for row in (head, *rng.sample(body, len(body)))]
    turned = _tables(shuffled, tmp_path, fiber=name in FIBER)
    assert straight is not None
    assert turned is not None
    assert _bag(turned) == _bag(straight)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("name", TABLES)
def test_dropped_rows_take_only_their_own_readings(name, seed, tmp_path):
    rng = random.Random(seed)
    head, *body = TABLES[name]()
    label = head.index("Link")
    kept = [row for row in body if rng.random() < 0.7]
    whole = _tables([head, *body], tmp_path, fiber=name in FIBER)
    fewer = _tables([head, *kept], tmp_path, fiber=name in FIBER)
    assert {row[label] for row in kept} == set(fewer["label"])
    assert not _bag(fewer) - _bag(whole)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("name", FIBER)
def test_repeated_rows_change_no_verdict(name, seed, tmp_path):
    rng = random.Random(seed)
    head, *body = TABLES[name]()
    repeated = [row for row in body for _ in range(rng.choice((1, 1, 2)))]
    whole = _tables([head, *body], tmp_path, fiber=True)
    again = _tables([head, *repeated], tmp_path, fiber=True)
    assert set(_bag(again)) == set(_bag(whole))


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("name", TABLES)
def test_any_loss_of_columns_keeps_the_accounts(name, seed, tmp_path):
    rng = random.Random(seed)
    rows = TABLES[name]()
    places = [place for place in range(len(rows[0])) for _ in range(rng.choice((0, 1, 1, 1, 2)))]
    _tables([[row[place] for place in places] for row in rows], tmp_path, fiber=name in FIBER)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("name", TABLES)
def test_any_loss_of_cells_keeps_the_accounts(name, seed, tmp_path):
    rng = random.Random(seed)
    odd = (None, "", "?", "n/a", "0", "-", "=1+1", "12,5,3", "\u0007", "PASS", "1e999")
    rows = [[rng.choice(odd) if rng.random() < 0.05 else cell for cell in row] for row in TABLES[name]()]
    _tables(rows, tmp_path, fiber=name in FIBER)


# ------------------------------------------------------------------ dialects and spellings

MARKS = st.sampled_from([(".", ""), (".", ","), (".", "'"), (",", ""), (",", "."), (",", " "), (",", "\u00a0")])
PENS = st.builds(
    lambda marks, unit, length_unit, day: Pen(decimal=marks[0], thousands=marks[1], unit_in_cell=unit, length_unit=length_unit, date=day),
    MARKS, st.booleans(), st.sampled_from(["m", "ft", "km"]),
    st.sampled_from(["%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%b-%Y"]),
)  # fmt: skip
DIALECTS = st.fixed_dictionaries({
    "delimiter": st.sampled_from([",", ";", "\t", "|"]),
    "encoding": st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    "newline": st.sampled_from(["\n", "\r\n", "\r"]),
    "quote_all": st.booleans(),
})  # fmt: skip


@FEW
@given(pen=PENS, dialect=DIALECTS, shape=st.sampled_from([wide, long]))
def test_any_dialect_gives_what_the_truth_says(pen, dialect, shape, tmp_path_factory):
    rows = shape(pen, fiber_links())
    layout = _layout(rows, **dialect)
    assert corpus_fiber.compare(layout, tmp_path_factory.mktemp("dialect")).differences == []


SPELLINGS = [
    "{0}", " {0} ", "{0} dB", "{0}dB", "{0} db", "+{0}", "{0}0", "{0}E0", "\u00a0{0}",
]  # fmt: skip


@FEW
@given(data=st.data())
def test_any_spelling_of_a_number_is_the_number(data, tmp_path_factory):
    spelled = data.draw(st.lists(st.sampled_from(SPELLINGS), min_size=160, max_size=160))
    head, *body = wide(Pen(), fiber_links())
    first = head.index("Loss 850 nm A to B (dB)")
    spell = iter(spelled)
    rows = [
        [next(spell).format(cell) if c >= first and cell and cell[0].isdigit() else cell for c, cell in enumerate(row)]
        for row in body
    ]
    layout = _layout([head, *rows])
    assert corpus_fiber.compare(layout, tmp_path_factory.mktemp("spelling")).differences == []
