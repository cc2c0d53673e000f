"""job.toml is read strictly: nothing that was written is ever ignored."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
from pathlib import Path

import pytest

from analyzer.errors import FileMissing, FileUnreadable, JobError
from analyzer.job import Job, known_keys, load_job
from analyzer.job.models import stated_keys

EXAMPLE = Path(__file__).parents[2] / "docs" / "job_example.toml"
DESCRIPTION = EXAMPLE.with_name("job.md")
FREE_NAMES = {
    "candidates",
    "people.certified_until",
    "allowances.attenuation_db_per_km",
    "overrides",
    "confirmed",
    "closeout",
}


@pytest.fixture
def job_of(tmp_path):
    def make(text, encoding="utf-8"):
        path = tmp_path / "job.toml"
        path.write_bytes(text.encode(encoding))
        return load_job(path)

    return make


@pytest.fixture
def problems_of(job_of):
    def make(text, **more):
        with pytest.raises(JobError) as caught:
            job_of(text, **more)
        return list(caught.value.problems)

    return make


def leaf_patterns():
    """Every key that holds a value and not a table."""
    keys = known_keys()
    return [key for key in keys if not any(other.startswith((f"{key}.", f"{key}[]")) for other in keys)]


def test_every_fact_of_a_small_file_is_read(job_of, tmp_path):
    job = job_of(
        '[order]\nstandard = "tia"\nedition = "568.3-E"\n'
        '[facts]\nfiber = "om4"\nlength_m = 120\nends = ["Panel", "plug"]\nreference = "2 cord"\n'
        '[allowances.attenuation_db_per_km]\nom4 = {850 = 2.5}\n[job]\ndate = "2026-11-25"\n'
    )
    assert (job.order.standard, job.order.edition) == ("TIA", "568.3-E")
    assert (job.facts.fiber, job.facts.length_m, job.facts.ends) == ("OM4", 120.0, ["panel", "plug"])
    assert job.facts.reference == "two-cord"
    assert job.allowances.attenuation_db_per_km == {"OM4": {850: 2.5}}
    assert job.job.date == dt.date(2026, 11, 25)
    assert job.folder == tmp_path
    assert job.given == {
        "order.standard", "order.edition", "facts.fiber", "facts.length_m", "facts.ends", "facts.reference",
        "allowances.attenuation_db_per_km", "allowances.attenuation_db_per_km.OM4",
        "allowances.attenuation_db_per_km.OM4.850", "job.date",
    }  # fmt: skip


def test_the_empty_job_states_nothing(job_of):
    assert Job().given == frozenset()
    assert Job().folder is None
    assert job_of("# nothing ordered yet\n").hash() == Job().hash()
    assert Job().facts.length_m is None
    assert Job().rules.marginal == "list apart"
    assert Job().required.multimode == [850, 1300]
    assert Job().admissible.mated_pairs is None


def test_a_byte_order_mark_does_not_matter(job_of):
    assert job_of('[order]\nfiber = "OM3"\n', encoding="utf-8-sig").order.fiber == "OM3"


def test_the_example_loads_and_holds_every_key():
    job = load_job(EXAMPLE)
    held = stated_keys(job.model_dump(exclude_unset=True))
    for key in leaf_patterns():
        if "[]." in key:
            table, name = key.split("[].")
            assert any(name in entry.model_fields_set for entry in getattr(job, table)), key
        elif key.startswith("confirmed.*"):
            assert all(key.rsplit(".", 1)[1] in entry.model_fields_set for entry in job.confirmed.values()), key
            assert job.confirmed
        elif key.startswith("closeout.*"):
            assert any(key.rsplit(".", 1)[1] in entry.model_fields_set for entry in job.closeout.values()), key
        elif key in FREE_NAMES:
            assert any(one.startswith(f"{key}.") for one in held), key
        else:
            assert key in held, key
    assert job.job.invented is True


def test_the_description_names_every_key():
    text = DESCRIPTION.read_text(encoding="utf-8")
    missing = [key for key in known_keys() if f"`{key}`" not in text]
    assert missing == []


def test_the_description_names_no_key_that_does_not_exist():
    tables = tuple(f"`{name}{joint}" for name in Job.model_fields for joint in (".", "[]."))
    rows = [
        line.split("|")[1].strip()
        for line in DESCRIPTION.read_text(encoding="utf-8").splitlines()
        if line.startswith("| `")
    ]
    written = {row.strip("`") for row in rows if row.startswith(tables)}
    assert written - known_keys().keys() == set()
    assert len(written) > 50


def test_the_description_says_what_is_accepted_and_the_default():
    text = DESCRIPTION.read_text(encoding="utf-8")
    for key, known in known_keys().items():
        if key in leaf_patterns():
            row = next(line for line in text.splitlines() if line.startswith(f"| `{key}` |"))
            assert f"| {known.meaning} |" in row, key
            assert f"| {known.accepts} |" in row, key
            default = str(known.default).lower() if isinstance(known.default, bool) else known.default or ""
            assert row.endswith(f"| {str(default).removesuffix('.0')} |"), key


@pytest.mark.parametrize(
    ("written", "nearest"),
    [
        ('[order]\nstandrad = "TIA"\n', "order.standrad is not a key; nearest known: order.standard"),
        ("[alowances]\nsplice_db = 1\n", "alowances is not a key; nearest known: allowances"),
        ('[facts]\ngrade = "6A"\n', "facts.grade is not a key; nearest known: order.grade"),
        ('fiber = "OM4"\n', "fiber is not a key; nearest known: order.fiber"),
        ('standrad = "TIA"\n', "standrad is not a key; nearest known: order.standard"),
        ('"[grants]" = 1\n', '"[grants]" is not a key; nearest known: grants'),
        ('"gra\\nts" = 1\n', '"gra\\nts" is not a key; nearest known: grants'),
        ("[facts]\nlenght_m = 3\n", "facts.lenght_m is not a key; nearest known: facts.length_m"),
        (
            '[[limits]]\nname = "a"\nsource = "b"\nmax_db = 1\nwavelenght = 850\n',
            "limits[1].wavelenght is not a key; nearest known: limits[1].wavelength_nm",
        ),
        (
            '[confirmed]\nR = {by = "a", document = "b", date = 2026-01-02, dte = 1}\n',
            "confirmed.R.dte is not a key; nearest known: confirmed.R.date",
        ),
    ],
)
def test_an_unknown_key_names_the_nearest_known_one(problems_of, written, nearest):
    assert problems_of(written) == [nearest]


@pytest.mark.parametrize(
    ("written", "start"),
    [
        ("[facts]\nlength_m = -0.1\n", "facts.length_m is -0.1; accepted: a number of meters"),
        ("[facts]\nlength_m = nan\n", "facts.length_m is NaN; accepted: a number of meters"),
        ("[facts]\nlength_m = inf\n", "facts.length_m is Infinity; accepted: a number of meters"),
        ('[facts]\nlength_m = "120"\n', 'facts.length_m is "120"; accepted: a number of meters'),
        ("[facts]\nlength_m = true\n", "facts.length_m is true; accepted: a number of meters"),
        ("[facts]\nmated_pairs = 2.0\n", "facts.mated_pairs is 2.0; accepted: a whole number"),
        ("[facts]\nmated_pairs = -1\n", "facts.mated_pairs is -1; accepted: a whole number"),
        ("[facts]\nmated_pairs = true\n", "facts.mated_pairs is true; accepted: a whole number"),
        ('[facts]\nends = ["panel"]\n', 'facts.ends is ["panel"]; accepted: a list of two'),
        ('[facts]\nends = ["panel", "wall"]\n', 'facts.ends[2] is "wall"; accepted: a list of two'),
        ('[facts]\nreference = "B"\n', 'facts.reference is "B" (a letter names different methods'),
        ("[facts]\nfiber = 4\n", "facts.fiber is 4; accepted: OM1, OM2"),
        ('[order]\nfiber = "OM6"\n', 'order.fiber is "OM6"; accepted: OM1, OM2'),
        ('[order]\nedition = "  "\n', 'order.edition is "  " (empty); accepted: a text'),
        ("order = 3\n", "order is 3; accepted: a table [order]"),
        ("[limits]\nname = 'x'\n", 'limits is {"name": "x"}; accepted: tables [[limits]]'),
        ("[admissible]\nmated_pairs = [4, 2]\n", "admissible.mated_pairs is [4, 2] (the first is larger than the second)"),
        ("[admissible]\nsplices = [1]\n", "admissible.splices is [1]; accepted: two whole numbers"),
        ("[admissible]\nfiber = []\n", "admissible.fiber is []; accepted: a list"),
        ("[required]\nmultimode = [599]\n", "required.multimode[1] is 599; accepted: a list of whole nanometers"),
        ("[required]\nsingle_mode = [1701]\n", "required.single_mode[1] is 1701; accepted: a list of whole"),
        ("[required]\nmultimode = [850, 1310]\n", "required.multimode is [850, 1310] (multimode fiber is judged at 1300 nm"),
        ("[required]\nmultimode = []\n", "required.multimode is []; accepted: a list of whole nanometers"),
        ("[required]\nmultimode = [850, 850]\n", "required.multimode is [850, 850] (one stands there twice)"),
        ("[required]\ndirections = 3\n", "required.directions is 3; accepted: 1 or 2"),
        ("[rules]\naccuracy_db = -0.1\n", "rules.accuracy_db is -0.1; accepted: a number of dB, 0 or more"),
        ('[rules]\nmarginal = "ignore"\n', 'rules.marginal is "ignore"; accepted: "accept", "list apart" or "fail"'),
        (
            "[allowances.attenuation_db_per_km]\nOM4 = {500 = 1}\n",
            "allowances.attenuation_db_per_km.OM4.500 is 500; accepted: fiber types",
        ),
        (
            "[allowances.attenuation_db_per_km]\nOM4 = {850 = 1}\nom4 = {850 = 2}\n",
            "allowances.attenuation_db_per_km is {",
        ),
        (
            "[allowances.attenuation_db_per_km]\nOS2 = {1300 = 1}\n",
            'allowances.attenuation_db_per_km is {"OS2": {"1300": 1}} (single-mode fiber is judged at 1310 nm',
        ),
        ('[[limits]]\nname = "a"\nmax_db = 1\n', "limits[1].source is missing; accepted: a text"),
        ('[[limits]]\nname = "a"\nsource = "b"\n', "limits[1]: no number stands there; give max_db or min"),
        ('[[limits]]\nname = "a"\nsource = "b"\nmax = 2\n', "limits[1]: loss is in dB; write max_db instead of max"),
        (
            '[[limits]]\nname = "a"\nsource = "b"\nparameter = "length"\nmax_db = 1\n',
            "limits[1]: length is in m, not in dB; write max instead of max_db",
        ),
        ('[[limits]]\nname = "a"\nsource = "b"\nmax_db = 1\nmin = 2\n', "limits[1]: min is larger than"),
        (
            '[[limits]]\nname = "a"\nsource = "b"\nmax_db = 1\nfiber = "OM3"\nwavelength_nm = 1310\n',
            "limits[1].wavelength_nm is 1310 (multimode fiber is judged at 1300 nm",
        ),
        ('[overrides]\nR = "x"\n', 'overrides.R is "x"; accepted: row ids with numbers'),
        ("[confirmed]\nR = {}\n", "confirmed.R.by is missing"),
        ("[job]\ndate = 2026-01-01T10:00:00\n", "job.date is 2026-01-01T10:00:00; accepted: a date such as"),
        ('[job]\ndate = "2026-02-30"\n', 'job.date is "2026-02-30" (no date); accepted: a date such as'),
        ('[schedule]\nfile = "../other.xlsx"\n', 'schedule.file is "../other.xlsx" (it leads out of the job folder)'),
        ('[schedule]\nfile = "/tmp/other.xlsx"\n', 'schedule.file is "/tmp/other.xlsx" (it leads out'),
        ("[evidence]\nfolder = 'C:\\data'\n", "evidence.folder is "),
    ],
)  # fmt: skip
def test_a_value_that_makes_no_sense_is_refused(problems_of, written, start):
    assert problems_of(written)[0].startswith(start)


GRANT = 'by = "x"\ndate = 2026-01-01\nreference = "y"\n'


@pytest.mark.parametrize(
    ("what", "why"),
    [
        ("allowances.mated_pair_db", "which this file does not state; state it or remove the grant"),
        ("overrides.FC-X.1", "which this file does not state; state it or remove the grant"),
        ("alowances.splice_db", "which is not a key; nearest known: allowances.splice_db"),
        ("required", "which is a whole table; name the one key of it that is looser"),
    ],
)
def test_a_grant_must_speak_of_something_stated(problems_of, what, why):
    text = f'[required]\ndirections = 1\n[[grants]]\nwhat = "{what}"\n{GRANT}'
    assert problems_of(text) == [f'grants[1].what is "{what}", {why}']


def test_a_grant_covers_its_key_and_what_lies_below(job_of):
    job = job_of(
        "[allowances]\nmated_pair_db = 0.9\n[allowances.attenuation_db_per_km]\nOM4 = {850 = 4.0}\n"
        f'[[grants]]\nwhat = "allowances.attenuation_db_per_km.om4"\n{GRANT}'
    )
    assert job.grant_for("allowances.attenuation_db_per_km.OM4.850") is job.grants[0]
    assert job.grant_for("allowances.attenuation_db_per_km.OM40") is None
    assert job.grant_for("allowances.attenuation_db_per_km") is None
    assert job.grant_for("allowances.mated_pair_db") is None


def test_all_mistakes_are_told_at_once(problems_of):
    text = (
        '[order]\nfiber = "OM6"\n[fact]\nlength_m = 1\n[facts]\nsplices = -1\n'
        f'[[limits]]\nmax_dB = 1\n[[grants]]\nwhat = "rules.judge_mean"\n{GRANT}'
    )
    told = problems_of(text)
    for start in (
        "order.fiber",
        "fact is not a key",
        "facts.splices",
        "limits[1].name",
        "limits[1].source",
        "limits[1].max_dB",
        "limits[1]:",
        "grants[1].what",
    ):
        assert any(problem.startswith(start) for problem in told), (start, told)


def test_the_message_counts_and_names_the_file(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text("a = 1\n", encoding="utf-8")
    with pytest.raises(JobError, match=r"job\.toml: 1 mistake\n  a is not a key; nearest known:"):
        load_job(path)


@pytest.mark.parametrize(
    ("written", "start"),
    [
        ('[order]\nfiber = "OM4\n', "line 2, column 13: this is not TOML"),
        ("[order]\nfiber OM4\n", "line 2, column 7: this is not TOML"),
        ("[order]\na = 1\na = 2\n", "line 3, column 6: this is not TOML"),
        ("[order\n", "line 1, column 7: this is not TOML"),
        ("a = " + "[" * 5000, "a value is too long or too deeply nested"),
        ("a = 1" + "0" * 5000, "a value is too long or too deeply nested"),
    ],
)
def test_broken_toml_is_one_sentence_with_its_line(problems_of, written, start):
    told = problems_of(written)
    assert len(told) == 1
    assert told[0].startswith(start)
    assert "\n" not in told[0]


def test_another_encoding_is_told(problems_of):
    assert problems_of('[job]\nname = "Größe"\n', encoding="cp1252") == [
        "the text is not UTF-8; save the file as UTF-8"
    ]


def test_no_file_and_a_folder_are_told(tmp_path):
    with pytest.raises(FileMissing, match=r"nowhere\.toml: no such file"):
        load_job(tmp_path / "nowhere.toml")
    with pytest.raises(FileUnreadable):
        load_job(tmp_path)


def test_the_hash_follows_the_content_alone(job_of):
    first = job_of('[order]\nfiber = "OM4"\n[facts]\nlength_m = 120\nsplices = 0\n').hash()
    assert job_of('# remark\n[facts]\nsplices = 0\nlength_m = 120.0\n[order]\nfiber = "om 4"\n').hash() == first
    assert job_of('[order]\nfiber = "OM4"\n[facts]\nlength_m = 121\nsplices = 0\n').hash() != first
    assert job_of('[order]\nfiber = "OM4"\n[facts]\nlength_m = 120\n').hash() != first
    assert len(first) == 64


def test_stating_a_default_counts_as_said(job_of):
    said = job_of("[required]\nmultimode = [850, 1300]\n")
    assert said.says("required.multimode")
    assert not Job().says("required.multimode")
    assert said.hash() != Job().hash()


def test_a_job_cannot_be_changed_after_reading():
    with pytest.raises(ValueError, match="frozen"):
        Job().facts.length_m = 3.0


def test_own_limits_offer_ceiling_and_floor(job_of):
    job = job_of(
        '[[limits]]\nname = "a"\nsource = "b"\nmax_db = 1.9\n'
        '[[limits]]\nname = "c"\nsource = "d"\nparameter = "Length"\nmin = 1\nmax = 300\n'
    )
    assert (job.limits[0].parameter, job.limits[0].ceiling, job.limits[0].floor) == ("loss", 1.9, None)
    assert (job.limits[1].parameter, job.limits[1].ceiling, job.limits[1].floor) == ("length", 300.0, 1.0)


@pytest.mark.parametrize("module", ["analyzer.job.loading", "analyzer.job.command_line"])
def test_reading_a_job_needs_no_table_library(module):
    heavy = {"pandas", "numpy"} if module.endswith("loading") else {"pandas", "numpy", "pydantic"}
    code = f"import sys, {module}; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], check=True, cwd=EXAMPLE.parents[1], capture_output=True, text=True
    )
    loaded = set(done.stdout.split())
    assert module in loaded
    assert heavy & loaded == set()


def test_a_key_named_like_a_mark_of_the_checker_is_told_too(problems_of):
    assert problems_of('"[key]" = 1\n')[0].startswith('"[key]" is not a key; nearest known: ')
