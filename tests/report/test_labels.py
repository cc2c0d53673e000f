from hypothesis import given
from hypothesis import strategies as st

from analyzer.report.labels import column_letter, natural_order, ranges


def test_numbers_in_labels_sort_as_numbers():
    assert natural_order(["TB-10", "tb-2", "TB-1", "A-2-10", "A-2-9"]) == ["A-2-9", "A-2-10", "TB-1", "tb-2", "TB-10"]


def test_three_or_more_in_a_row_become_a_range():
    assert ranges(["TB-01-03", "TB-01-01", "TB-01-02"]) == ["TB-01-01 … TB-01-03"]
    assert ranges(["X-1", "X-2"]) == ["X-1", "X-2"]


def test_a_gap_splits_the_range():
    labels = [f"T-{number}" for number in (1, 2, 3, 5, 6, 7, 9)]
    assert ranges(labels) == ["T-1 … T-3", "T-5 … T-7", "T-9"]


def test_a_range_goes_on_over_ten_only_where_numbers_are_written_alike():
    assert ranges([f"T-{number}" for number in range(8, 12)]) == ["T-8 … T-11"]
    assert ranges([f"T-{number:02d}" for number in range(8, 12)]) == ["T-08 … T-11"]
    assert ranges(["T-09", "T-10", "T-011"]) == ["T-09", "T-10", "T-011"]


def test_what_stands_behind_the_number_must_be_the_same():
    assert ranges(["1A", "2B", "3A"]) == ["1A", "2B", "3A"]
    assert ranges(["1A", "2A", "3A"]) == ["1A … 3A"]


@given(st.sets(st.integers(0, 60)))
def test_ranges_stand_for_exactly_the_labels_given(numbers):
    spelled = set()
    for text in ranges([f"T-{number}" for number in numbers]):
        first, _, last = text.partition(" … ")
        spelled |= set(range(int(first[2:]), int((last or first)[2:]) + 1))
    assert spelled == numbers


def test_letters_as_spreadsheets_count_them():
    # The last column of a sheet is XFD, number 16,384 (ECMA-376 part 1, the cell reference of SpreadsheetML).
    assert [column_letter(col) for col in (0, 25, 26, 701, 702, 16_383)] == ["A", "Z", "AA", "ZZ", "AAA", "XFD"]
    assert column_letter(-1) == ""
