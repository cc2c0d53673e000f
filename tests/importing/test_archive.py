"""ZIPs of exports."""

import io
import zipfile

import pytest

from analyzer.errors import FileUnreadable
from analyzer.importing import Source, is_archive, members, read_source


def packed(files, **options):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, **options) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return buffer.getvalue()


def test_members_are_named_after_their_archive():
    data = packed(
        {"b/two.csv": "Link,850 nm\nL2,0.5\n", "a.csv": "Link,850 nm\nL1,0.4\n", "__MACOSX/a.csv": "x", "b/~$x": "x"}
    )
    source = Source("crew.zip", data)
    assert is_archive(source)
    found = members(source)
    assert [member.name for member in found] == ["crew.zip!a.csv", "crew.zip!b/two.csv"]
    assert read_source(found[0]).readings["value"].tolist() == [0.4]


def test_a_workbook_is_no_archive():
    assert not is_archive(Source("a.xlsx", packed({"[Content_Types].xml": "", "xl/workbook.xml": ""})))
    assert not is_archive(Source("a.csv", b"Link,850 nm\n"))


def test_a_bomb_is_refused():
    with pytest.raises(FileUnreadable, match="absurd size"):
        members(Source("bomb.zip", packed({"zeros.csv": b"0" * (64 << 20)}, compresslevel=9)))


def test_a_broken_archive_is_told():
    with pytest.raises(FileUnreadable, match="broken"):
        members(Source("a.zip", packed({"a.csv": "x" * 500})[:-30]))
