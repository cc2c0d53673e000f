"""The tidy tables: what conforms stays as it is, and no two tables share what one of them changes."""

import pandas as pd
import pytest

from analyzer import schema


def test_a_table_that_conforms_keeps_its_content_and_gets_a_plain_index():
    made = schema.conform("links", pd.DataFrame({"label": ["a", "b"]}))
    again = schema.conform("links", made.set_axis([7, 9]))
    pd.testing.assert_frame_equal(again, made)


def test_a_type_that_differs_is_cast():
    made = schema.conform("links", pd.DataFrame({"label": ["a"]}))
    other = made.astype({"label": "object"})
    pd.testing.assert_frame_equal(schema.conform("links", other), made)


@pytest.mark.parametrize("name", ["records", "judged", "links"])
def test_what_is_written_into_an_empty_table_stays_out_of_the_next(name):
    first = schema.empty(name)
    first["more"] = 1
    del first[next(iter(schema.TABLES[name]))]
    assert list(schema.empty(name).columns) == list(schema.TABLES[name])
    assert len(schema.empty(name)) == 0


def test_absent_texts_are_not_shared_between_columns():
    frame = schema.conform("links", pd.DataFrame({"label": ["a"]}))
    texts = [name for name, spec in schema.TABLES["links"].items() if spec.dtype == "s" and name != "label"]
    frame.loc[0, texts[0]] = "x"
    assert frame[texts[1:]].isna().all(axis=None)
