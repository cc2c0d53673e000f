"""Sweep tables: every layout of the same curves gives the same points, and every cell is accounted for."""

import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.importing import Source, read_source
from analyzer.importing.curve_order import rising

GRID = [1.0, 4.0, 10.0, 16.0, 31.25, 62.5, 100.0, 250.0, 500.0]
SINGLES = ["1-2", "3-6", "4-5", "7-8"]
COMBINED = ["1-2/3-6", "1-2/4-5", "1-2/7-8", "3-6/4-5", "3-6/7-8", "4-5/7-8"]
SHORT = {name: name.replace("-", "").replace("/", "-") for name in [*SINGLES, *COMBINED]}


def curve(parameter, pair, end="A"):
    """Invented values, one decimal, distinct for every curve."""
    shift = [*SINGLES, *COMBINED].index(pair) * 0.4 + (0.2 if end == "B" else 0.0) + len(parameter) / 10
    base = 2.0 if parameter == "insertion loss" else 75.0
    slope = 14.0 if parameter == "insertion loss" else -14.0
    return [round(base + shift + slope * float(np.log10(f)), 1) for f in GRID]


def table(parameter, pairs, end="A", *, name=lambda pair: SHORT[pair], axis="Frequency (MHz)", extra=()):
    columns = [curve(parameter, pair, end) for pair in pairs]
    head = [axis, *(name(pair) for pair in pairs), *(title for title, _ in extra)]
    rows = [
        [f"{f:g}", *(f"{column[i]}" for column in columns), *(f"{cells[i]}" for _, cells in extra)]
        for i, f in enumerate(GRID)
    ]
    return [head, *rows]


def as_csv(lines, mark=","):
    return "\n".join(mark.join(line) if isinstance(line, list) else line for line in lines) + "\n"


def read(text, name="C-01.csv"):
    return read_source(Source(name, text if isinstance(text, bytes) else text.encode()))


def accounts_add_up(imported):
    file, aside = imported.file, imported.set_aside
    assert file["rows_read"] == file["rows_used"] + file["rows_set_aside"]
    assert file["rows_set_aside"] == (aside["counts_as"] == "row").sum()
    used = len(imported.readings) + len(imported.points.value)
    assert file["cells_read"] == used + (aside["counts_as"] == "reading cell").sum()
    assert file["cells_used"] == used
    assert int(imported.curves["n"].sum()) == len(imported.points.value)


def curves_of(imported):
    """(label, parameter, pair, end) -> (frequencies, values)."""
    accounts_add_up(imported)
    labels = imported.records["label"].to_numpy()
    found = {}
    columns = ["record", "parameter", "pair", "end"]
    for number, row in enumerate(imported.curves[columns].astype(object).to_numpy().tolist()):
        frequency, value = imported.points.curve(number)
        key = (labels[row[0]], *(word if isinstance(word, str) else "" for word in row[1:]))
        assert key not in found
        found[key] = (frequency.tolist(), value.tolist())
    return found


def workbook(sheets):
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, lines in sheets.items():
        sheet = book.create_sheet(title)
        for line in lines:
            cells = line if isinstance(line, list) else [line]
            sheet.append([float(cell) if _is_number(cell) else cell or None for cell in cells])
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


def _is_number(text):
    try:
        float(text)
    except ValueError:
        return False
    return "." in text or len(text) > 3 or text in {"1", "4", "10", "16", "100"}


def wanted(*curves, label="C-01"):
    return {(label, name, pair, end): (GRID, curve(name, pair, end or "A")) for name, pair, end in curves}


NEXT_A = [("NEXT", pair, "A") for pair in COMBINED]
LOSS = [("insertion loss", pair, "") for pair in SINGLES]


def layout_title_line():
    lines = ["Link: C-01", "Category: 6A", "", "NEXT at end A (dB)", *table("NEXT", COMBINED)]
    return "results.csv", as_csv(lines), wanted(*NEXT_A)


def layout_heading_says_all():
    lines = ["Link: C-01", "", *table("NEXT", COMBINED, name=lambda pair: f"NEXT {SHORT[pair]} end A (dB)")]
    return "results.csv", as_csv(lines), wanted(*NEXT_A)


def layout_two_tables_under_each_other():
    lines = [
        "Link: C-01", "", "NEXT, End A", *table("NEXT", COMBINED), "", "NEXT, End B", *table("NEXT", COMBINED, "B"),
        "", "Insertion loss", *table("insertion loss", SINGLES),
    ]  # fmt: skip
    both = [*NEXT_A, *(("NEXT", pair, "B") for pair in COMBINED)]
    return "results.csv", as_csv(lines), wanted(*both, *LOSS)


def layout_same_headings_only_a_title_between():
    first, second = table("NEXT", COMBINED), table("ACR-F", COMBINED)
    lines = ["Link: C-01", "", "NEXT", *first, "ACR-F", *second[1:]]
    both = [("NEXT", pair, "") for pair in COMBINED] + [("ACR-F", pair, "") for pair in COMBINED]
    return "results.csv", as_csv(lines), wanted(*both)


def layout_group_headings():
    one, two = table("NEXT", COMBINED), table("return loss", SINGLES)
    lines = [
        "Link: C-01", "", ["", "NEXT", "", "", "", "", "", "Return loss", "", "", ""],
        *([*left, *right[1:]] for left, right in zip(one, two, strict=True)),
    ]  # fmt: skip
    both = [("NEXT", pair, "") for pair in COMBINED] + [("return loss", pair, "") for pair in SINGLES]
    return "results.csv", as_csv(lines), wanted(*both)


def layout_frequency_over_two_lines():
    one = table("NEXT", COMBINED)
    lines = ["Link: C-01", "", ["Frequency (MHz)", "NEXT", "", "", "", "", ""], ["", *one[0][1:]], *one[1:]]
    return "results.csv", as_csv(lines), wanted(*(("NEXT", pair, "") for pair in COMBINED))


def layout_units_row():
    one = table("NEXT", COMBINED, axis="Frequency")
    lines = ["Link: C-01", "NEXT", one[0], ["MHz", *["dB"] * 6], *one[1:]]
    return "results.csv", as_csv(lines), wanted(*(("NEXT", pair, "") for pair in COMBINED))


def layout_decimal_comma():
    lines = ["Link: C-01", "NEXT", *table("NEXT", COMBINED)]
    text = as_csv(lines, ";").replace(".", ",")
    return "results.csv", text, wanted(*(("NEXT", pair, "") for pair in COMBINED))


def layout_named_by_the_file():
    return "export/C-01_NEXT.csv", as_csv(table("NEXT", COMBINED)), wanted(*(("NEXT", pair, "") for pair in COMBINED))


def layout_page_break():
    one = table("NEXT", COMBINED)
    lines = ["Link: C-01", "NEXT", *one[:5], "", "page 2 of 2", one[0], *one[5:]]
    return "results.csv", as_csv(lines), wanted(*(("NEXT", pair, "") for pair in COMBINED))


def layout_gigahertz():
    one = table("NEXT", COMBINED, axis="Frequency (GHz)")
    lines = ["Link: C-01", "NEXT", one[0], *([f"{float(row[0]) / 1000:g}", *row[1:]] for row in one[1:])]
    return "results.csv", as_csv(lines), wanted(*(("NEXT", pair, "") for pair in COMBINED))


def layout_hertz_without_unit():
    one = table("NEXT", COMBINED, axis="Frequency")
    lines = ["Link: C-01", "NEXT", one[0], *([f"{float(row[0]) * 1e6:.0f}", *row[1:]] for row in one[1:])]
    return "results.csv", as_csv(lines), wanted(*(("NEXT", pair, "") for pair in COMBINED))


def layout_falling():
    one = table("NEXT", COMBINED)
    return (
        "results.csv",
        as_csv(["Link: C-01", "NEXT", one[0], *one[:0:-1]]),
        wanted(*(("NEXT", pair, "") for pair in COMBINED)),
    )


def layout_side_by_side():
    one, two = table("NEXT", COMBINED), table("insertion loss", SINGLES)
    lines = [
        "Link: C-01", "", ["NEXT", *[""] * 7, "Insertion loss", *[""] * 4],
        *([*left, "", *right] for left, right in zip(one, two, strict=True)),
    ]  # fmt: skip
    return "results.csv", as_csv(lines), wanted(*(("NEXT", pair, "") for pair in COMBINED), *LOSS)


def layout_long():
    lines = [["Link", "Parameter", "Pair", "Frequency (MHz)", "Value (dB)"]]
    for name, pairs in (("NEXT", COMBINED[:2]), ("Insertion loss", SINGLES[:2])):
        for pair in pairs:
            values = curve("NEXT" if name == "NEXT" else "insertion loss", pair)
            lines += [["C-01", name, SHORT[pair], f"{f:g}", f"{v}"] for f, v in zip(GRID, values, strict=True)]
    both = [("NEXT", pair, "") for pair in COMBINED[:2]] + [("insertion loss", pair, "") for pair in SINGLES[:2]]
    return "results.csv", as_csv(lines), wanted(*both)


def layout_two_links_in_one_table():
    head = ["Link", *table("NEXT", COMBINED)[0]]
    lines = [head, *([label, *row] for label in ("C-01", "C-02") for row in table("NEXT", COMBINED)[1:])]
    curves = [("NEXT", pair, "") for pair in COMBINED]
    name = "NEXT.csv"
    return name, as_csv(lines), wanted(*curves) | wanted(*curves, label="C-02")


def layout_sheet_for_each_parameter():
    sheets = {
        "Summary": ["Link: C-01", "Category: 6A"],
        "NEXT": table("NEXT", COMBINED),
        "Insertion loss": table("insertion loss", SINGLES),
    }
    return "results.xlsx", workbook(sheets), wanted(*(("NEXT", pair, "") for pair in COMBINED), *LOSS)


def layout_sheet_for_each_link():
    sheets = {label: ["NEXT", *table("NEXT", COMBINED)] for label in ("C-01", "C-02")}
    curves = [("NEXT", pair, "") for pair in COMBINED]
    return "results.xlsx", workbook(sheets), wanted(*curves) | wanted(*curves, label="C-02")


def layout_german_form():
    lines = [["Strecke:", "C-01"], ["Messung:", "Nahnebensprechen"], *table("NEXT", COMBINED, axis="Frequenz [MHz]")]
    text = as_csv(lines, ";").replace(".", ",")
    return "export.csv", text, wanted(*(("NEXT", pair, "") for pair in COMBINED))


def layout_ends_over_pairs():
    both = zip(table("return loss", SINGLES), table("return loss", SINGLES, "B"), strict=True)
    lines = [
        "Link: C-01",
        "Return loss",
        ["", "Near end", "", "", "", "Far end", "", "", ""],
        *([*a, *b[1:]] for a, b in both),
    ]
    return "results.csv", as_csv(lines), wanted(*(("return loss", pair, end) for pair in SINGLES for end in "AB"))


def layout_versus():
    lines = ["Link: C-01", "ELFEXT", *table("ACR-F", COMBINED, name=lambda pair: pair.replace("/", " vs "))]
    return "results.csv", as_csv(lines), wanted(*(("ACR-F", pair, "") for pair in COMBINED))


def layout_pairs_damaged_into_dates():
    import datetime as dt

    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "C-01"
    sheet.append(["Return loss"])
    sheet.append(["Frequency (MHz)", *(dt.datetime(2026, int(p[0]), int(p[2])) for p in SINGLES)])  # noqa: DTZ001
    for row in table("return loss", SINGLES)[1:]:
        sheet.append([float(cell) for cell in row])
    data = io.BytesIO()
    book.save(data)
    return "results.xlsx", data.getvalue(), wanted(*(("return loss", pair, "") for pair in SINGLES))


def layout_another_link_under_the_same_headings():
    one = table("NEXT", COMBINED)
    curves = [("NEXT", pair, "") for pair in COMBINED]
    text = as_csv(["Link: C-01", "NEXT", *one, "Link: C-02", *one[1:]])
    return "results.csv", text, wanted(*curves) | wanted(*curves, label="C-02")


LAYOUTS = {name.removeprefix("layout_"): make for name, make in list(globals().items()) if name.startswith("layout_")}


@pytest.mark.parametrize("name", LAYOUTS)
def test_every_layout_gives_the_same_points(name):
    file, text, expected = LAYOUTS[name]()
    found = curves_of(read(text, file))
    assert found.keys() == expected.keys()
    for key, (frequency, value) in expected.items():
        np.testing.assert_allclose(found[key][0], frequency, rtol=1e-12)
        assert found[key][1] == value


def test_facts_above_belong_to_the_record_and_grids_are_shared():
    imported = read(as_csv(["Link: C-01", "Category: 6A", "Length: 45 m", "NEXT", *table("NEXT", COMBINED)]))
    record = imported.records.iloc[0]
    assert (record["label"], record["grade"], record["length_m"], record["medium"]) == (
        "C-01",
        "6A",
        45.0,
        "twisted pair",
    )
    assert len(imported.points.frequency_mhz) == 1
    assert imported.blocks["kind"].tolist() == ["sweep"]
    first = imported.curves.iloc[0]
    assert (first["row"], first["col"], first["n"], first["f_min_mhz"], first["f_max_mhz"]) == (6, 1, 9, 1.0, 500.0)


def test_a_printed_limit_stays_beside_its_curves():
    limit = [65.0 - i for i in range(len(GRID))]
    imported = read(as_csv(["NEXT", *table("NEXT", COMBINED, extra=[("Limit (dB)", limit)])]))
    assert imported.curves["has_limit"].all()
    assert len(imported.points.limit) == 1
    assert imported.points.printed_limit(5).tolist() == limit
    assert imported.file["cells_read"] == len(GRID) * 6


def test_gain_notation_is_read_by_magnitude():
    lines = table("insertion loss", SINGLES)
    lines[1:] = [[row[0], *(f"-{cell}" for cell in row[1:])] for row in lines[1:]]
    imported = read(as_csv(["Insertion loss", *lines]))
    assert curves_of(imported)["C-01", "insertion loss", "1-2", ""][1] == curve("insertion loss", "1-2")
    assert "gain-notation" in set(imported.seeds["code"])


def test_a_scalar_table_on_the_same_sheet_is_read_beside_the_curves():
    lines = [
        "Link: C-01", "", ["Label", "Length (m)", "NEXT 12-36 (dB)"], ["C-01", "45", "40.1"], ["C-02", "46", "40.2"], "",
        "NEXT", *table("NEXT", COMBINED),
    ]  # fmt: skip
    imported = read(as_csv(lines))
    accounts_add_up(imported)
    assert sorted(imported.readings["value"]) == [40.1, 40.2, 45.0, 46.0]
    assert len(imported.curves) == 6


def test_a_table_of_worst_points_stays_a_table_of_readings():
    pairs = "".join(f"C-01,{SHORT[pair]},4{i}.1,{100 + i}\n" for i, pair in enumerate(COMBINED))
    imported = read("Link,Pair,NEXT (dB),Frequency (MHz)\n" + pairs)
    accounts_add_up(imported)
    assert len(imported.curves) == 0
    assert imported.readings["frequency_mhz"].tolist() == [100.0, 101.0, 102.0, 103.0, 104.0, 105.0]


def codes_of(imported):
    accounts_add_up(imported)
    return imported.set_aside["code"].value_counts().to_dict()


def test_hertz_headed_megahertz_is_refused_in_a_sentence():
    one = table("NEXT", COMBINED)
    lines = [one[0], *([f"{float(row[0]) * 1e6:.0f}", *row[1:]] for row in one[1:])]
    imported = read(as_csv(["NEXT", *lines, "", "Insertion loss", *table("insertion loss", SINGLES)]))
    assert codes_of(imported) == {"impossible-frequency": 54}
    assert len(imported.curves) == 4
    assert "5e+08 MHz" in " ".join(imported.seeds["text"])


def test_a_pair_named_twice_with_different_values_is_set_aside():
    one = table("NEXT", COMBINED)
    one[0][2] = one[0][1]
    imported = read(as_csv(["NEXT", *one]))
    assert codes_of(imported) == {"pair-named-twice": 18}
    assert len(imported.curves) == 4
    assert "hold different values" in " ".join(imported.seeds["text"])


def test_a_pair_named_twice_with_equal_values_is_used_once():
    one = [[*row, row[1]] for row in table("NEXT", COMBINED)]
    imported = read(as_csv(["NEXT", *one]))
    assert codes_of(imported) == {"repeated-curve": 9}
    assert imported.curves["lost"].tolist() == [0] * 6


def test_both_orders_of_a_combination_are_two_measurements():
    one = [[*row, "63-12" if i == 0 else f"{50 - i}.5"] for i, row in enumerate(table("ACR-F", COMBINED))]
    one[0][-1] = "36-12"
    imported = read(as_csv(["ACR-F", *one]))
    assert codes_of(imported) == {}
    assert (imported.curves["pair"] == "1-2/3-6").sum() == 2


def test_cells_that_are_no_points_are_set_aside_and_count_against_their_curve():
    one = table("NEXT", COMBINED)
    one[1][1], one[2][1], one[3][1], one[4][1], one[5][2] = "---", ">70", "abc", "3 ns", ""
    imported = read(as_csv(["NEXT", *one]))
    assert codes_of(imported) == {"not-measured": 1, "bound-in-curve": 1, "not-a-number": 1, "wrong-unit": 1}
    assert imported.curves["n"].tolist() == [5, 8, 9, 9, 9, 9]
    assert imported.curves["lost"].tolist() == [4, 0, 0, 0, 0, 0]
    assert len(imported.points.frequency_mhz) == 3


def test_rows_without_a_frequency_and_statistics():
    one = table("NEXT", COMBINED)
    one[3][0] = ""
    lines = ["NEXT", *one, ["Minimum", *["40.1"] * 6], "All values invented"]
    imported = read(as_csv(lines))
    assert codes_of(imported) == {"no-frequency": 1, "no-frequency-cell": 6}
    assert imported.curves["lost"].tolist() == [1] * 6


def test_a_frequency_out_of_order_is_set_aside_and_the_rest_used():
    one = table("NEXT", COMBINED)
    one[5][0] = "3.125"
    imported = read(as_csv(["NEXT", *one]))
    assert codes_of(imported) == {"falling-frequency": 6}
    assert imported.points.frequency_mhz[0].tolist() == [f for f in GRID if f != 31.25]


def test_of_a_repeated_frequency_the_worse_value_is_used():
    one = table("NEXT", COMBINED[:1])
    one.insert(4, [one[3][0], "12.5"])
    imported = read(as_csv(["NEXT", *one]))
    assert codes_of(imported) == {"repeated-frequency": 1}
    assert imported.points.curve(0)[1][2] == 12.5


def test_a_table_that_names_no_parameter_is_set_aside():
    imported = read(
        as_csv(["Link: C-01", *table("NEXT", COMBINED), "", "Insertion loss", *table("insertion loss", SINGLES)])
    )
    assert codes_of(imported) == {"unknown-parameter": 54}


def test_a_column_of_numbers_that_no_word_places_is_told():
    one = [[*row, "humidity" if i == 0 else "21.5"] for i, row in enumerate(table("NEXT", COMBINED))]
    imported = read(as_csv(["NEXT", *one]))
    assert len(imported.curves) == 6
    assert "'humidity' holds 9 numbers and was left out" in " ".join(imported.seeds["text"])


@settings(max_examples=max(8, settings().max_examples // 3), deadline=None)
@given(st.lists(st.tuples(st.integers(1, 40), st.integers(0, 9)), min_size=1, max_size=30), st.booleans())
def test_whatever_the_order_the_kept_points_rise_and_all_are_accounted_for(points, ceiling):
    f = np.array([float(one) for one, _ in points])
    value = np.array([float(two) for _, two in points])
    order, problem, _ = rising(f, value, ceiling=ceiling)
    assert (np.diff(f[order]) > 0).all()
    assert len(order) + (problem > 0).sum() == len(f)
    assert (problem[order] == 0).all()


@settings(max_examples=max(8, settings().max_examples // 3), deadline=None)
@given(st.permutations(range(6)), st.sampled_from([",", ";", "\t"]))
def test_the_order_of_the_columns_never_matters(order, mark):
    one = table("NEXT", COMBINED)
    shuffled = [[row[0], *(row[1 + at] for at in order)] for row in one]
    assert curves_of(read(as_csv(["NEXT", *shuffled], mark))) == curves_of(read(as_csv(["NEXT", *one])))


# ------------------------------------------------------------------ what stands in every row and is no curve


def beside(column):
    """Six curves of NEXT with one more column."""
    return [[*row, column[at] if at < len(column) else column[-1]] for at, row in enumerate(table("NEXT", COMBINED))]


def test_a_length_in_every_row_is_the_length_of_the_link():
    for column in (["Length (m)", "55"], ["Length (ft)", "", "", "180.4462"]):
        imported = read(as_csv(["Link: C-01", "NEXT", *beside(column)]))
        assert imported.records["length_m"].round(3).tolist() == [55.0]
        assert len(imported.curves) == 6
        assert imported.seeds.empty


def test_lengths_that_differ_are_none_and_told():
    imported = read(as_csv(["Link: C-01", "NEXT", *beside(["Length (m)", "55", "56"])]))
    assert imported.records["length_m"].isna().all()
    assert codes_of(imported) == {"length-varies": 9}


def test_a_resistance_in_every_row_is_one_reading():
    imported = read(as_csv(["Link: C-01", "NEXT", *beside(["Loop resistance 12 (ohm)", "12.3"])]))
    one = imported.readings.iloc[0]
    assert (len(imported.readings), one["parameter"], one["pair"], one["value"]) == (1, "loop resistance", "1-2", 12.3)


def test_resistances_that_differ_are_none_and_told():
    imported = read(as_csv(["Link: C-01", "NEXT", *beside(["Loop resistance (ohm)", "12.3", "n/a", "12.4"])]))
    assert imported.readings.empty
    assert codes_of(imported) == {"varies-in-sweep": 8, "not-measured": 1}
