"""What a package holds, told by files that other programs read: CSV, Parquet, the cover letter."""

import csv
import io
import json
import subprocess

import bagit
import pandas as pd
import pytest
from package_scene import HEAD, JOB, MADE, make_job, row

from analyzer import analyze
from analyzer.cli.main import outcome


def rows(path):
    return list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"))))


def test_bagit_accepts_it(package):
    assert bagit.Bag(str(package)).validate()


def test_sha256sum_accepts_it(package):
    for manifest in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
        done = subprocess.run(["sha256sum", "--quiet", "-c", manifest], cwd=package, capture_output=True, check=False)
        assert done.returncode == 0, done.stdout


def test_the_evidence_is_untouched(package, job_folder):
    for name in ("trunk.csv", "again.csv"):
        assert (package / "data" / "evidence" / name).read_bytes() == (job_folder / "evidence" / name).read_bytes()
    for name in ("job.toml", "schedule.csv"):
        assert (package / "data" / "job" / name).read_bytes() == (job_folder / name).read_bytes()


def test_the_tables_are_those_of_check(package, job_folder):
    analysis = analyze(job_folder)
    links = rows(package / "data" / "tables" / "links.csv")
    assert [link["label"] for link in links] == analysis.links["label"].tolist()
    assert [link["verdict"] for link in links] == analysis.links["verdict"].astype(str).tolist()
    told = pd.read_parquet(package / "data" / "tables" / "readings.parquet")
    kept = ~(analysis.judged["verdict"].isin(["fail"]) & ~analysis.judged["in_force"]).to_numpy()
    assert told["margin"].tolist() == analysis.judged["margin"][kept].tolist()


def test_failed_tests_lie_apart_as_the_owner_asks(package):
    apart = rows(package / "data" / "tables" / "readings_replaced.csv")
    assert [(one["link"], one["value"], one["verdict"]) for one in apart] == [("HX-01-12", "2.4", "fail")]
    assert "2.4" not in {one["value"] for one in rows(package / "data" / "tables" / "readings.csv")}


def test_the_dictionary_names_every_column(package):
    known = {(one["table"], one["column"]) for one in rows(package / "data" / "tables" / "dictionary.csv")}
    for path in (package / "data" / "tables").glob("*.csv"):
        if path.stem != "dictionary":
            head = path.read_text("utf-8-sig").splitlines()[0].split(",")
            assert {(path.stem, column) for column in head} <= known
    meanings = [one["meaning"] for one in rows(package / "data" / "tables" / "dictionary.csv")]
    assert all(meanings)


def test_the_cover_quotes_the_checksum_of_the_manifest(package):
    done = subprocess.run(["sha256sum", "manifest-sha256.txt"], cwd=package, capture_output=True, text=True, check=True)
    cover = (package / "cover.html").read_text("utf-8")
    assert done.stdout.split()[0] in cover
    for said in ("Invented Hall", "12 links", "Looser than the standard", "laser light", "unconfirmed", "<script"):
        assert (said in cover) == (said != "<script"), said


def test_the_used_limits_are_rows_of_the_values_files(package):
    used = rows(package / "data" / "limits" / "used.csv")
    texts = "".join(path.read_text() for path in (package / "data" / "limits" / "values").glob("*.csv"))
    assert used
    for one in used:
        assert one["document"]
        assert f"\n{one['row_id']}," in texts


@pytest.mark.slow
def test_options_of_the_command_line_are_marked(tmp_path):
    job = make_job(tmp_path / "job")
    outcome(["closeout", str(job), "-o", str(tmp_path / "out"), "--splices", "1"])
    options = json.loads((tmp_path / "out" / "data" / "job" / "options.json").read_text())
    assert options["said"] == {"splices": 1}
    assert "stand above" in options["about"]


def test_the_as_built_schedule_holds_every_scheduled_link(package):
    built = rows(package / "data" / "as_built.csv")
    assert len(built) == 12
    assert {one["verdict"] for one in built} == {"pass"}
    assert {one["measured_length_m"] for one in built} == {"120.0"}


@pytest.mark.slow
def test_the_same_inputs_give_the_same_bytes(job_folder, tmp_path, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", MADE)
    places = [tmp_path / name / "hall.zip" for name in ("one", "two")]
    for place in places:
        assert outcome(["closeout", str(job_folder), "-o", str(place)]) == 0
    assert places[0].read_bytes() == places[1].read_bytes()


def test_what_is_missing_makes_a_draft_on_every_page(tmp_path, capsys):
    from pypdf import PdfReader

    job = make_job(tmp_path / "job", attachments=False)
    assert outcome(["closeout", str(job), "-o", str(tmp_path / "out")]) == 1
    said = capsys.readouterr().out
    assert "not met: calibration certificates (no file lies in attachments/calibration_certificates/)" in said
    assert "draft" in (tmp_path / "out" / "bag-info.txt").read_text()
    assert "Draft: this package is not final" in (tmp_path / "out" / "data" / "report.html").read_text()
    assert "This package is a draft" in (tmp_path / "out" / "cover.html").read_text()
    for page in PdfReader(tmp_path / "out" / "data" / "report.pdf").pages:
        assert "DRAFT" in page.extract_text()


def test_a_grant_makes_it_final(tmp_path):
    grant = (
        '\n[[grants]]\nwhat = "closeout.calibration_certificates"\nby = "Invented Owner"\n'
        'date = 2026-11-10\nreference = "minute 4"\n'
    )
    job = make_job(tmp_path / "job", attachments=False, job=JOB + grant)
    assert outcome(["closeout", str(job), "-o", str(tmp_path / "out")]) == 0
    assert "granted by Invented Owner, 2026-11-10, minute 4" in (tmp_path / "out" / "cover.html").read_text()


@pytest.mark.slow
def test_odd_labels_and_names_are_packed_and_judged_again(tmp_path):
    labels = ["=1+1", "x" * 300, "שלום-1", "a/b\\c:*?", "<script>alert(1)</script>", "CON"]
    job = tmp_path / "job"
    (job / "evidence" / "sub").mkdir(parents=True)
    head = HEAD.replace("Cable ID,Fiber,", "Label,")
    body = "".join(row(1, 0.4, 0.3).replace("HX-01,1,", f'"{label}",') for label in labels)
    (job / "evidence" / "export.csv").write_text(head + body)
    (job / "evidence" / "sub" / "export.csv").write_text(head + row(1, 0.5, 0.3).replace("HX-01,1,", "other,"))
    (job / "evidence" / ("long" * 40 + ".csv")).write_text(head + row(1, 0.5, 0.3).replace("HX-01,1,", "third,"))
    assert outcome(["closeout", str(job), "-o", str(tmp_path / "out.zip")]) == 0
    assert outcome(["verify", str(tmp_path / "out.zip")]) == 0


@pytest.mark.slow
def test_a_zip_of_exports_is_packed_as_it_is(tmp_path, job_folder):
    import shutil

    archive = shutil.make_archive(str(tmp_path / "exports"), "zip", job_folder / "evidence")
    assert (
        outcome(
            ["closeout", archive, "-o", str(tmp_path / "out"), "--fiber", "OS2", "--construction", "indoor-outdoor"]
        )
        == 0
    )
    assert (tmp_path / "out" / "data" / "evidence" / "exports.zip").is_file()
    assert outcome(["verify", str(tmp_path / "out")]) == 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "say where the package goes"),
        (["-o", "{job}"], "exists already"),
        (["-o", "{job}/evidence/pack"], "lies inside the evidence"),
        (["-o", "{tmp}/new", "--sign", "{tmp}/none.pem"], "cannot be read"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(tmp_path, job_folder, capsys, arguments, said):
    filled = [part.format(job=job_folder, tmp=tmp_path) for part in arguments]
    assert outcome(["closeout", str(job_folder), *filled]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert "Traceback" not in told
    assert not (tmp_path / "new").exists()


@pytest.mark.slow
def test_a_part_of_the_job_is_closed_out_by_area(tmp_path, capsys):
    folder = tmp_path / "job"
    folder.mkdir()
    head = HEAD.replace("Cable ID,Fiber,", "Label,Area,")
    body = [
        row(1, 0.4, 0.3).replace("HX-01,1,", f"{label},{area},") for label, area in (("A-1", "West"), ("B-1", "East"))
    ]
    (folder / "x.csv").write_text(head + "".join(body))
    out = tmp_path / "out"
    arguments = ["--area", "West", "--construction", "indoor-outdoor"]
    assert outcome(["closeout", str(folder), "-o", str(out), *arguments]) == 0
    assert [link["label"] for link in rows(out / "data" / "tables" / "links.csv")] == ["A-1"]
    assert "area West" in (out / "cover.html").read_text("utf-8")
    capsys.readouterr()
    assert outcome(["verify", str(out)]) == 0


def test_evidence_that_changes_meanwhile_stops_it(tmp_path, monkeypatch, capsys):
    from analyzer.report.package import contents

    job = make_job(tmp_path / "job")
    real = contents.copy_evidence

    def changed(bag, gathered, analysis):
        path = job / "evidence" / "trunk.csv"
        path.write_text(path.read_text() + row(13, 0.4, 0.3))
        return real(bag, gathered, analysis)

    monkeypatch.setattr(contents, "copy_evidence", changed)
    assert outcome(["closeout", str(job), "-o", str(tmp_path / "out")]) == 2
    assert "trunk.csv: changed between reading and copying" in capsys.readouterr().err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job"]


def test_a_full_disk_is_one_sentence_and_leaves_nothing(tmp_path, monkeypatch, capsys):
    from analyzer.report.package.bag import BagWriter

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(BagWriter, "write_manifest", full)
    assert outcome(["closeout", str(make_job(tmp_path / "job")), "-o", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert "No space left on device" in said
    assert "fault of cableproof" not in said
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job"]
