"""Tampering with a package: each is found and named, also where the checksums were written anew."""

import hashlib
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent / "report" / "package"))

from package_scene import MADE, make_job

from analyzer.cli.main import outcome
from analyzer.report.package.opened import held, opened
from analyzer.report.package.signature import is_signed_by, signer


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    place = tmp_path_factory.mktemp("verify")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", MADE)
        assert outcome(["closeout", str(make_job(place / "job")), "-o", str(place / "hall")]) == 0
    return place / "hall"


def change(path, old, new):
    content = path.read_bytes()
    assert old in content, (path, old)
    path.write_bytes(content.replace(old, new, 1))


def sealed(folder):
    """Write all checksums anew, as somebody would who knows what a bag is."""
    for manifest, files in (
        ("manifest-sha256.txt", sorted((folder / "data").rglob("*"))),
        (
            "tagmanifest-sha256.txt",
            sorted(path for path in folder.iterdir() if not path.name.startswith("tagmanifest")),
        ),
    ):
        lines = [
            f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.relative_to(folder).as_posix()}\n"
            for path in files
            if path.is_file()
        ]
        (folder / manifest).write_text("".join(lines))


def evidence(folder):
    change(folder / "data/evidence/trunk.csv", b",0.31,", b",0.32,")


def margin(folder):
    path = folder / "data/tables/readings.csv"
    lines = path.read_text("utf-8-sig").splitlines()
    at = lines[0].split(",").index("margin")
    cells = lines[1].split(",")
    cells[at] = "1.5"
    path.write_text("\n".join([lines[0], ",".join(cells), *lines[2:]]), encoding="utf-8-sig")


def verdict(folder):
    change(folder / "data/tables/links.csv", b",pass,", b",fail,")


def limit(folder):
    path = folder / "data/limits/values/fiber_components.csv"
    row = next(line for line in path.read_text().splitlines() if line.startswith("FC-TIA-E-PAIR-SM,"))
    change(path, row.encode(), row.replace("0.75", "0.95").encode())


def added(folder):
    (folder / "data/evidence/more.csv").write_text("x")


def renamed(folder):
    (folder / "data/evidence/again.csv").rename(folder / "data/evidence/once.csv")


def removed(folder):
    (folder / "data/evidence/again.csv").unlink()


def job(folder):
    change(folder / "data/job/job.toml", b'construction = "indoor-outdoor"', b'construction = "outside plant"')


def options(folder):
    change(folder / "data/job/options.json", b'"said": {}', b'"said": {"splices": 3}')


def swapped(folder):
    one, two = folder / "data/evidence/trunk.csv", folder / "data/evidence/again.csv"
    first, second = one.read_bytes(), two.read_bytes()
    one.write_bytes(second)
    two.write_bytes(first)


def parquet(folder):
    import pandas as pd

    path = folder / "data/tables/readings.parquet"
    frame = pd.read_parquet(path)
    frame.loc[3, "value"] += 0.01
    frame.to_parquet(path)


def cover(folder):
    change(folder / "cover.html", b"Invented Owner", b"Somebody Else")


def attachment(folder):
    change(folder / "data/attachments/calibration_certificates/T-1.txt", b"T-1", b"T-2")


TAMPERINGS = {
    evidence: ("evidence", "data/evidence/trunk.csv: was changed"),
    margin: ("reading", "data/tables/readings.csv: was changed"),
    verdict: ("reading", "data/tables/links.csv: was changed"),
    limit: ("limits", "data/limits/values/fiber_components.csv: was changed"),
    added: ("evidence", "data/evidence/more.csv: was added"),
    renamed: ("evidence", "data/evidence/again.csv: is missing"),
    removed: ("evidence", "data/evidence/again.csv: is missing"),
    job: ("rules", "data/job/job.toml: was changed"),
    options: ("rules", "data/job/options.json: was changed"),
    swapped: ("evidence", "data/evidence/trunk.csv: was changed"),
    parquet: ("reading", "data/tables/readings.parquet: was changed"),
    cover: ("package", "cover.html: was changed"),
    attachment: ("evidence", "T-1.txt: was changed"),
}


def all_but(*quick):
    """Each judges a package again: `quick` ones show the way while you work, all of them are run by CI."""
    return lambda some: [
        pytest.param(one, id=one.__name__, marks=[] if one in quick else pytest.mark.slow) for one in some
    ]


@pytest.mark.parametrize("tampering", TAMPERINGS, ids=lambda tampering: tampering.__name__)
def test_checksums_find_every_tampering(package, tmp_path, tampering):
    shutil.copytree(package, tmp_path / "copy")
    tampering(tmp_path / "copy")
    kind, text = TAMPERINGS[tampering]
    assert [one.kind for one in opened(tmp_path / "copy").differences if text in one.text] == [kind]


@pytest.mark.parametrize("tampering", all_but(evidence)(TAMPERINGS))
def test_tampering_is_found_and_named(package, tmp_path, capsys, tampering):
    shutil.copytree(package, tmp_path / "copy")
    tampering(tmp_path / "copy")
    assert outcome(["verify", str(tmp_path / "copy")]) == 1
    said = capsys.readouterr().out
    kind, text = TAMPERINGS[tampering]
    assert f"  {kind}:\n" in said
    assert text in said


AGAIN = {
    evidence: "HX-01-01), value: says 0.31, judged again 0.32",
    margin: "margin: says 1.5, judged again",
    verdict: "verdict: says fail, judged again pass",
    limit: "limit: says 1.56, judged again 1.96",
    removed: "tables/files.csv, row 2 (evidence/again.csv), status: says read, judged again unreadable",
    job: "limit: says 1.56, judged again 1.548",
    options: "limit: says 1.56, judged again 2.46",
    parquet: "tables/readings.parquet, row 5 (HX-01-01), value: says",
}


@pytest.mark.parametrize("tampering", all_but(evidence, limit)(AGAIN))
def test_new_checksums_do_not_hide_it(package, tmp_path, capsys, tampering):
    shutil.copytree(package, tmp_path / "copy")
    tampering(tmp_path / "copy")
    sealed(tmp_path / "copy")
    assert outcome(["verify", str(tmp_path / "copy")]) == 1
    assert AGAIN[tampering] in capsys.readouterr().out


def test_looser_limits_are_told_by_todays(package, tmp_path, capsys):
    """Values, tables and checksums all made anew with looser values: only today's values tell."""
    copy = tmp_path / "copy"
    shutil.copytree(package, copy)
    limit(copy)
    from analyzer.pipeline import judge_gathered
    from analyzer.report.package.tables import as_csv, as_parquet, package_tables

    the_job = held(opened(copy))
    for name, frame in package_tables(judge_gathered(the_job.gathered, the_job.given, the_job.values)).items():
        (copy / "data/tables" / f"{name}.csv").write_bytes(as_csv(frame))
        (copy / "data/tables" / f"{name}.parquet").write_bytes(as_parquet(frame))
    sealed(copy)
    assert outcome(["verify", str(copy)]) == 1
    said = capsys.readouterr().out
    assert "package's own limits: the same" in said
    assert "limit: says 1.96, judged again 1.56" in said


def test_an_untouched_package_verifies(package, capsys):
    assert outcome(["verify", str(package)]) == 0
    assert "as it was made" in capsys.readouterr().out


def test_a_truncated_zip_is_told(package, tmp_path, capsys):
    whole = Path(shutil.make_archive(str(tmp_path / "hall"), "zip", package.parent, package.name))
    assert outcome(["verify", str(whole)]) == 0
    content = whole.read_bytes()
    for share in (0.3, 0.95):
        whole.write_bytes(content[: int(len(content) * share)])
        assert outcome(["verify", str(whole)]) == 2
        assert "is no whole ZIP" in capsys.readouterr().err


def test_a_path_that_climbs_out_is_refused(tmp_path, capsys):
    with zipfile.ZipFile(tmp_path / "x.zip", "w") as archive:
        archive.writestr("bag/bagit.txt", "BagIt-Version: 1.0\n")
        archive.writestr("../out.txt", "x")
    assert outcome(["verify", str(tmp_path / "x.zip")]) == 2
    assert "leads out of it" in capsys.readouterr().err
    assert not (tmp_path.parent / "out.txt").exists()


def test_a_manifest_that_climbs_out_is_told(package, tmp_path, capsys):
    shutil.copytree(package, tmp_path / "copy")
    path = tmp_path / "copy" / "manifest-sha256.txt"
    path.write_text(path.read_text() + "0" * 64 + "  data/../../secret\n")
    assert outcome(["verify", str(tmp_path / "copy")]) == 1
    assert "a path that leads out of the package" in capsys.readouterr().out


@pytest.mark.parametrize(("name", "said"), [("none", "there is no such package"), ("empty", "is no package")])
def test_what_is_no_package_is_one_sentence(tmp_path, capsys, name, said):
    (tmp_path / "empty").mkdir()
    assert outcome(["verify", str(tmp_path / name)]) == 2
    assert said in capsys.readouterr().err


def make_keys(folder):
    for name in ("mine", "other"):
        subprocess.run(["openssl", "genpkey", "-algorithm", "ed25519", "-out", folder / f"{name}.pem"], check=True)
        subprocess.run(
            ["openssl", "pkey", "-in", folder / f"{name}.pem", "-pubout", "-out", folder / f"{name}.pub"], check=True
        )


def test_a_signature_is_that_of_its_key_and_its_bytes(tmp_path):
    make_keys(tmp_path)
    signature = signer(tmp_path / "mine.pem")(b"manifest")
    assert is_signed_by(b"manifest", signature, tmp_path / "mine.pub")
    assert not is_signed_by(b"manifest", signature, tmp_path / "other.pub")
    assert not is_signed_by(b"Manifest", signature, tmp_path / "mine.pub")


@pytest.mark.slow
def test_a_signature_is_checked(tmp_path, capsys):
    make_keys(tmp_path)
    folder = tmp_path / "signed"
    arguments = ["closeout", str(make_job(tmp_path / "job")), "-o", str(folder), "--sign", str(tmp_path / "mine.pem")]
    assert outcome(arguments) == 0
    assert outcome(["verify", str(folder), "--key", str(tmp_path / "mine.pub")]) == 0
    assert outcome(["verify", str(folder), "--key", str(tmp_path / "other.pub")]) == 1
    # openssl itself agrees (RFC 8032)
    import base64

    (tmp_path / "raw").write_bytes(base64.b64decode((folder / "signature.ed25519").read_bytes()))
    done = subprocess.run(
        ["openssl", "pkeyutl", "-verify", "-pubin", "-inkey", tmp_path / "mine.pub", "-rawin", "-in",
         folder / "tagmanifest-sha256.txt", "-sigfile", tmp_path / "raw"], capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "Verified Successfully" in done.stdout, done.stderr
    cover(folder)
    sealed(folder)
    assert outcome(["verify", str(folder), "--key", str(tmp_path / "mine.pub")]) == 1
    assert "NOT made by this key" in capsys.readouterr().out
