"""Column maps: written, edited, used, found again, and refused with every mistake at once. All exports are invented."""

import io

import numpy as np
import pytest

from analyzer.importing import ReadContext, Source, read_schedule, read_source
from analyzer.importing.blocks import find_blocks
from analyzer.importing.columns import settle_columns
from analyzer.importing.explain import explain_file, unknown_tables
from analyzer.importing.grid import read_sheets
from analyzer.importing.map_text import MapError, load_maps, map_text, parse_map

EXPORT = """\
Link,Fiber type,Length,Loss 850 nm A to B (dB),Loss 850 nm B to A (dB),Foo,Date
T-1,OM4,120.5,0.61,0.62,0.11,03/04/2026
T-2,OM4,120.7,0.64,0.65,0.12,04/05/2026
"""
STRANGE = "Spalte;Nummer1;Wert A;Wert B\nx;L1;0,41;120\nx;L2;0,42;121\n"


def read(text, context=None):
    return read_source(Source("results.csv", text.encode()), context)


def written(text, name="results.csv"):
    source = Source(name, text if isinstance(text, bytes) else text.encode())
    tables = explain_file(source, ReadContext()).tables
    return map_text(tables, name, "map.columns.toml", {})


def edited(text, **changes):
    """Lines of a map with the keys of single columns replaced: heading -> lines."""
    parts = text.split("[[table.column]]\n")
    for number, part in enumerate(parts):
        for heading, lines in changes.items():
            if f'heading = "{heading.replace("_", " ")}"' in part:
                place = part.split("\n", 1)[0]
                parts[number] = f'{place}\nheading = "{heading.replace("_", " ")}"\n{lines}\n\n'
    return "[[table.column]]\n".join(parts)


def using(text):
    return ReadContext(maps=parse_map(text.encode(), "map.columns.toml"))


def test_a_map_as_written_changes_nothing_and_is_shown_as_said_by_the_map():
    plain, mapped = read(EXPORT), read(EXPORT, using(written(EXPORT)))
    for name in ("records", "readings", "set_aside"):
        assert getattr(plain, name).equals(getattr(mapped, name)), name
    assert mapped.columns["why"].tolist() == ["said by map.columns.toml"] * 7
    assert mapped.columns["sure"].tolist() == [1.0] * 7
    told = ("role", "parameter", "wavelength_nm", "direction", "unit", "heading")
    assert mapped.columns[list(told)].equals(plain.columns[list(told)])


def test_a_map_turns_an_ignored_column_into_values_and_back_and_sets_a_unit_and_the_order_of_dates():
    text = edited(
        written(EXPORT),
        Foo='role = "value"\nparameter = "loss"\nwavelength = 1300\nunit = "dB"',
        Length='role = "length"\nunit = "ft"',
    ).replace(
        'heading = "Loss 850 nm B to A (dB)"\nrole = "value"', 'heading = "Loss 850 nm B to A (dB)"\nrole = "ignored"'
    )
    text = text.replace('date_order = ""', 'date_order = "month first"')
    plain, mapped = read(EXPORT), read(EXPORT, using(text))
    assert plain.readings["value"].tolist() == [0.61, 0.62, 0.64, 0.65]
    assert mapped.readings["value"].tolist() == [0.61, 0.11, 0.64, 0.12]
    assert mapped.readings["wavelength_nm"].tolist() == [850, 1300, 850, 1300]
    assert np.isnan(plain.records["length_m"]).all()
    assert np.allclose(mapped.records["length_m"], [120.5 * 0.3048, 120.7 * 0.3048], rtol=1e-15)
    assert "unit-not-stated" not in mapped.seeds["code"].tolist()
    assert plain.records["tested_at"].isna().all()
    assert [str(day.date()) for day in mapped.records["tested_at"]] == ["2026-03-04", "2026-04-05"]


def test_a_map_chooses_the_label_and_the_column_that_was_taken_before_is_ignored():
    export = "Link,Circuit name,Loss 850 nm (dB)\nA1,B1,0.4\n"
    assert read(export).records["label"].tolist() == ["A1"]
    only = 'format = "cableproof-columns/1"\n[[table]]\nheadings = ["Link", "Circuit name", "Loss 850 nm (dB)"]\n'
    only += '[[table.column]]\nheading = "Circuit name"\nrole = "label"\n'
    mapped = read(export, using(only))
    assert mapped.records["label"].tolist() == ["B1"]
    assert mapped.columns["role"].tolist() == ["ignored", "label", "value"]
    assert mapped.columns["why"][0].endswith("map.columns.toml names another column")


def test_a_map_states_the_decimal_mark():
    export = "Link;Loss 850 nm (dB)\nL1;1,234\n"
    assert read(export).set_aside["code"].tolist() == ["ambiguous-number"]
    text = written(export).replace('decimal_mark = ""', 'decimal_mark = ","')
    assert read(export, using(text)).readings["value"].tolist() == [1.234]


def test_headings_of_which_no_word_is_known_are_described_and_read_by_the_map():
    tables = unknown_tables(Source("odd.csv", STRANGE.encode()))
    text = map_text(tables, "odd.csv", "map.columns.toml", {})
    text = edited(
        text, Nummer1='role = "label"', Wert_A='role = "value"\nwavelength = 850\nunit = "dB"', Wert_B='role = "length"\nunit = "m"'
    )  # fmt: skip
    mapped = read(STRANGE, using(text))
    assert mapped.records["label"].tolist() == ["L1", "L2"]
    assert mapped.readings["value"].tolist() == [0.41, 0.42]
    assert mapped.readings["parameter"].tolist() == ["loss", "loss"]
    assert mapped.records["length_m"].tolist() == [120, 121]
    assert mapped.set_aside.empty


def test_equal_headings_are_told_apart_by_their_letter():
    export = "Link,850 nm,850 nm\nL1,0.4,0.9\n"
    text = written(export).replace(
        'letter = "C"\nheading = "850 nm"\nrole = "value"', 'letter = "C"\nheading = "850 nm"\nrole = "ignored"'
    )
    assert read(export, using(text)).readings["value"].tolist() == [0.4]


@pytest.mark.parametrize(
    "export",
    [
        "Link,L1,L2\nLength (m),120,130\n850 nm A-B,0.4,0.5\n",
        "Link: L1\nLength: 120 m\nLoss 850 nm: 0.42 dB\n",
        "Cable;Fiber;850 nm;;1300 nm;\n;;A-B;B-A;A-B;B-A\nT;1;0,4;0,5;0,3;0,2\n",
    ],
)
def test_forms_tables_on_their_side_and_group_headings_have_maps_too(export):
    plain, mapped = read(export), read(export, using(written(export)))
    assert len(plain.readings)
    assert plain.readings.equals(mapped.readings)
    assert plain.records.equals(mapped.records)
    assert (mapped.columns.loc[mapped.columns["col"] >= 0, "why"] == "said by map.columns.toml").all()


def test_a_sheet_of_its_own_name_has_its_own_map():
    import xlsxwriter

    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer)
    for name in ("North", "South"):
        sheet = book.add_worksheet(name)
        sheet.write_row(0, 0, ["Link", "850 nm", "Foo"])
        sheet.write_row(1, 0, [f"{name}-1", 0.4, 7])
    book.close()
    text = written(buffer.getvalue(), "two.xlsx")
    north, south = text.split('sheet = "South"')
    south = south.replace('heading = "850 nm"\nrole = "value"', 'heading = "850 nm"\nrole = "ignored"')
    south = south.replace(
        'heading = "Foo"\nrole = "ignored"', 'heading = "Foo"\nrole = "value"\nparameter = "loss"\nunit = "dB"'
    )
    mapped = read_source(Source("two.xlsx", buffer.getvalue()), using(north + 'sheet = "South"' + south))
    assert mapped.readings["value"].tolist() == [0.4, 7]


def test_a_schedule_has_a_map_too():
    schedule = "Strecke X,Fasern,Long\nT1,2,80\n"
    source = Source("schedule.csv", schedule.encode())
    text = 'format = "cableproof-columns/1"\n[[table]]\nheadings = ["Strecke X", "Fasern", "Long"]\n'
    text += '[[table.column]]\nheading = "Strecke X"\nrole = "cable"\n[[table.column]]\nheading = "Fasern"\nrole = "strands"\n'
    text += '[[table.column]]\nheading = "Long"\nrole = "length"\nunit = "m"\n'
    frame, aside = read_schedule(source, using(text))
    assert frame["label"].tolist() == ["T1-01", "T1-02"]
    assert frame["length_m"].tolist() == [80, 80]
    assert aside.empty


def test_the_context_with_its_maps_is_hashable_and_a_changed_map_changes_it():
    text = written(EXPORT)
    other = text.replace('unit = "dB"', 'unit = ""', 1)
    assert hash(using(text)) == hash(using(text))
    assert using(text) == using(text)
    assert using(text) != using(other)


def test_every_mistake_is_told_at_once_with_the_nearest_known():
    text = written(EXPORT).replace('role = "label"', 'role = "lable"').replace('direction = "A-B"', 'direction = "AB"')
    text = text.replace('parameter = "loss"', 'parameter = "los"', 1).replace('heading = "Foo"', 'heading = "Fooo"')
    text = text.replace('decimal_mark = ""', 'decimal_mark = ";"').replace('unit = "dB"', 'unit = "ft"', 1)
    text = text.replace("wavelength = 850", "wavelenght = 850", 1)
    with pytest.raises(MapError) as caught:
        parse_map(text.encode(), "map.columns.toml")
    problems = caught.value.problems
    said = "\n".join(problems)
    for words in (
        "role 'lable' is not known; nearest is 'label'", "direction 'AB' is not known; nearest is 'A-B'",
        "parameter 'los' is not known; nearest is 'loss'", "'Fooo': this heading is not among the headings of the table; nearest is 'Foo'",
        "decimal_mark ';' is not known; accepted: '.', ','", "'wavelenght' is no key of a map; nearest is 'wavelength'",
    ):  # fmt: skip
        assert words in said, words
    assert all("\n" not in problem for problem in problems)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "at least one"),
        (b"format = 1\n", "format"),
        (b"table = [", "not TOML"),
        (b"\xff\xfe\x00", "not UTF-8"),
        (b'format = "cableproof-columns/1"\n[[table]]\n', "headings"),
        (b'format = "cableproof-columns/1"\n[[table]]\nheadings = ["Link"]\nfingerprint = "00"\n', "fingerprint"),
        (b'format = "cableproof-columns/1"\n[[table]]\nheadings = ["A"]\n[[table.column]]\nheading = "A"\nrole = "value"\n', "needs a parameter"),
        (b'format = "cableproof-columns/1"\n[[table]]\nheadings = ["A"]\n[[table.column]]\nheading = "A"\n', "role is missing"),
        (
            b'format = "cableproof-columns/1"\n[[table]]\nheadings = ["A"]\n[[table.column]]\nheading = "A"\nrole = "length"\nunit = "dB"\n',
            "does not fit length",
        ),
        (
            b'format = "cableproof-columns/1"\n[[table]]\nheadings = ["A", "B"]\n[[table.column]]\nheading = "A"\nrole = "label"\n[[table.column]]\nheading = "B"\nrole = "label"\n',
            "only one column",
        ),
    ],
)  # fmt: skip
def test_what_is_no_map_is_refused(content, says):
    with pytest.raises(MapError, match=says):
        parse_map(content, "map.columns.toml")


def test_two_maps_of_one_folder_for_the_same_headings_are_refused_unless_one_is_named(tmp_path):
    for name in ("a.columns.toml", "b.columns.toml"):
        (tmp_path / name).write_text(written(EXPORT), encoding="utf-8")
    both = [tmp_path / "a.columns.toml", tmp_path / "b.columns.toml"]
    with pytest.raises(MapError, match=r"a\.columns\.toml speaks of the same headings"):
        load_maps(None, both)
    assert load_maps(both[1], both)[0].source == "b.columns.toml"


def test_headings_of_any_text_go_through_the_map_file():
    headings = ['He said "no"', "tab\there", "back\\slash", "λ 850 nm [dB]", "Link #1", "été", "\x7f", "'''"]
    headings = ["Link", "Loss 850 nm", "850 nm A-B", *headings[:1], *headings[2:]]
    export = "\t".join(headings) + "\nL1" + "\t0.4" * (len(headings) - 1) + "\n"
    block = find_blocks(read_sheets(Source("x.tsv", export.encode()))[0])[0]
    assert len(block.headings) == len(headings)
    text = map_text([(block, settle_columns(block, "fiber"))], "x.tsv", "map.columns.toml", {})
    assert parse_map(text.encode(), "map.columns.toml")[0].fingerprint == block.fingerprint
