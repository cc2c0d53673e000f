"""Files of reviewers' marks: read, merged, refused in one sentence."""

import json

import pytest

from analyzer.errors import FileUnreadable
from analyzer.job.marks import FORMAT, load_marks, parse_marks

ONE = {
    "link": "A-01",
    "mark": "accept",
    "note": "as agreed",
    "name": "R. One",
    "at": "2026-11-20T10:00:00",
    "fingerprint": "0" * 16,
}


def written(*entries, form=FORMAT):
    return json.dumps({"format": form, "marks": list(entries)}).encode()


def test_a_mark_is_read_as_written():
    (mark,) = parse_marks(written(ONE), "x.marks.json")
    assert (mark.link, mark.mark, mark.name, mark.file) == ("A-01", "accept", "R. One", "x.marks.json")


def test_two_files_merge_and_the_same_mark_is_one(tmp_path):
    (tmp_path / "a.marks.json").write_bytes(written(ONE))
    (tmp_path / "b.marks.json").write_bytes(written(ONE, {**ONE, "name": "R. Two"}))
    marks = load_marks(sorted(tmp_path.iterdir()))
    assert [mark.name for mark in marks] == ["R. One", "R. Two"]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"{", "is no JSON"),
        (b"[" * 100_000, "is no JSON"),
        (b"\xff\xfe\x00", "is no JSON"),
        (b"[]", "is no file of marks"),
        (written(ONE, form="other"), "is no file of marks"),
        (written({**ONE, "name": ""}), "mark 1 does not name a link and who marked it"),
        (written(ONE, {**ONE, "mark": "burn"}), "mark 2 (A-01) is 'burn' and not one of accept, query, retest"),
        (written({**ONE, "note": 3}), "mark 1 does not name"),
        (written("x"), "mark 1 does not name"),
    ],
)
def test_what_is_no_mark_is_one_sentence(content, said):
    with pytest.raises(FileUnreadable) as error:
        parse_marks(content, "x.marks.json")
    assert said in str(error.value)
    assert "x.marks.json" in str(error.value)
