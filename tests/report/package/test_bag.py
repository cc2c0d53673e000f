"""The bag against RFC 8493, judged by the library `bagit` and by sha256sum."""

import datetime as dt
import hashlib
import subprocess
import zipfile

import bagit
import pytest

from analyzer.errors import OptionError
from analyzer.report.package.bag import BagWriter, EvidenceChanged, safe_name

WHEN = dt.datetime(2026, 11, 18, 9, 30, tzinfo=dt.UTC)


def make(place, names=("a.txt",)):
    with BagWriter(place, WHEN) as bag:
        for name in names:
            bag.add(bag.free_name(name), name.encode("utf-8", "replace"))
        bag.write_manifest()
        bag.finish({"Source-Organization": "Invented Crew"})


def test_bagit_and_sha256sum_accept_it(tmp_path):
    make(tmp_path / "bag", ["a.txt", "b/ü 50%.txt", "b/two words.csv"])
    bag = bagit.Bag(str(tmp_path / "bag"))
    assert bag.validate()
    assert bag.version_info == (1, 0)
    for manifest in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
        done = subprocess.run(
            ["sha256sum", "--quiet", "-c", manifest], cwd=tmp_path / "bag", capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stdout + done.stderr


def test_payload_oxum_counts_bytes_and_files(tmp_path):
    make(tmp_path / "bag", ["abc", "de"])
    assert "Payload-Oxum: 5.2" in (tmp_path / "bag" / "bag-info.txt").read_text()  # RFC 8493, 2.2.2


def test_a_zip_holds_one_folder_and_the_same_bytes_each_time(tmp_path):
    (tmp_path / "one").mkdir()
    (tmp_path / "two").mkdir()
    for name in ("one", "two"):
        make(tmp_path / name / "bag.zip", ["a.txt", "b/c.txt"])
    first, second = ((tmp_path / name / "bag.zip").read_bytes() for name in ("one", "two"))
    assert first == second
    with zipfile.ZipFile(tmp_path / "one" / "bag.zip") as archive:
        assert {name.partition("/")[0] for name in archive.namelist()} == {"bag"}  # RFC 8493, 4.1
        archive.extractall(tmp_path / "out")
    assert bagit.Bag(str(tmp_path / "out" / "bag")).validate()


def test_names_that_differ_in_case_alone_are_kept_apart(tmp_path):
    make(tmp_path / "bag", ["x/Data.csv", "x/data.csv", "x/DATA.CSV"])
    assert len(list((tmp_path / "bag" / "data" / "x").iterdir())) == 3
    assert len({path.name.casefold() for path in (tmp_path / "bag" / "data" / "x").iterdir()}) == 3


@pytest.mark.parametrize(
    ("wanted", "safe"),
    [
        ("../../etc/passwd", "up/up/etc/passwd"),
        ("/srv/a.csv", "srv/a.csv"),
        ("C:\\x\\a.csv", "C_/x/a.csv"),
        ("con.csv", "_con.csv"),
        ("a<b>|c?.csv", "a_b__c_.csv"),
        ("ends in dot. ", "ends in dot"),
        ("", "unnamed"),
        ("tab\there", "tab_here"),
        ("שלום.csv", "שלום.csv"),
    ],
)
def test_names_are_safe_everywhere(wanted, safe):
    assert safe_name(wanted) == safe


def test_a_300_character_name_is_cut_and_stays_itself():
    one, two = safe_name("x" * 300 + "1.csv"), safe_name("x" * 300 + "2.csv")
    assert one != two
    assert len(one) <= 120
    assert one.endswith(".csv")


def test_what_breaks_leaves_nothing(tmp_path):
    def broken():
        with BagWriter(tmp_path / "bag", WHEN) as bag:
            bag.add("a.txt", b"a")
            raise OSError(28, "No space left on device")

    with pytest.raises(OSError, match="No space"):
        broken()
    assert list(tmp_path.iterdir()) == []


def test_an_existing_place_is_never_replaced(tmp_path):
    (tmp_path / "bag").mkdir()
    (tmp_path / "bag" / "mine.txt").write_text("mine")
    with pytest.raises(OptionError, match="exists already"):
        make(tmp_path / "bag")
    assert [path.name for path in (tmp_path / "bag").iterdir()] == ["mine.txt"]
    assert [path.name for path in tmp_path.iterdir()] == ["bag"]


def test_a_file_that_changed_is_not_packed(tmp_path):
    source = tmp_path / "export.csv"
    source.write_text("new")
    read = hashlib.sha256(b"old").hexdigest()
    with BagWriter(tmp_path / "bag", WHEN) as bag, pytest.raises(EvidenceChanged, match="changed between reading"):
        bag.add_file("evidence/export.csv", source, read)
