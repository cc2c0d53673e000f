"""What a twisted-pair record is judged by: grade, configuration, family and edition, and who said each."""

import pytest
from bench import facts, job_of, judged, schedule_of

from analyzer.budget.limit_names import read_limit_name
from analyzer.standards import load

VALUES = load()


def copper(**more):
    return {"label": "A", "medium": "twisted pair", **more}


def order(*rows, **more):
    one = facts(*(rows or (copper(),)), **more)
    return one.grade, one.configuration, one.standard, one.edition


def seeds(*rows, **more):
    return [(seed.code, seed.text) for seed in judged(*rows, **more)[0].seeds.itertuples()]


def test_the_name_of_the_loaded_limit_orders_where_nobody_else_does():
    one = facts(copper(declared_limit="TIA Cat 6A Perm. Link"))
    assert (one.grade, one.configuration, one.standard, one.edition) == ("6A", "permanent link", "TIA", "568.2-D")
    assert (one.grade_from, one.configuration_from, one.standard_from, one.edition_from) == (
        "file", "file", "file", "assumed",
    )  # fmt: skip


def test_a_grade_column_stands_above_the_name_of_the_limit():
    one = facts(copper(grade="6", declared_limit="TIA Cat 6A Perm. Link"))
    assert one.grade == "6"


def test_the_order_stands_above_the_export_and_the_difference_is_told():
    row = copper(declared_limit="TIA Cat 6 Channel")
    assert order(row, grade="6A")[:2] == ("6A", "channel")
    assert ("order-differs", "grade: the export says 6, ordered is 6A") in seeds(row, grade="6A")


def test_schedule_stands_above_the_job():
    job = job_of('[order]\ngrade = "6"\nconfiguration = "channel"\n')
    schedule = schedule_of({"label": "A", "grade": "6A", "configuration": "permanent link"})
    assert order(copper(), job=job, schedule=schedule)[:2] == ("6A", "permanent link")


def test_a_class_belongs_to_iso_without_any_word_of_a_family():
    one = facts(copper(grade="EA"))
    assert (one.standard, one.standard_from, one.edition) == ("ISO", "derived", "11801-1:2017")


def test_an_order_of_the_other_family_is_told_and_the_grade_decides():
    given = {"grade": "EA", "standard": "TIA"}
    assert order(copper(), **given)[2:] == ("ISO", "11801-1:2017")
    text = "the order says TIA, but grade EA belongs to ISO, which governs here"
    assert ("grade-of-other-family", text) in seeds(copper(), **given)


def test_an_edition_of_the_fiber_documents_says_the_family_alone():
    job = job_of('[order]\nstandard = "TIA"\nedition = "568.3-E"\ngrade = "6A"\n')
    one = facts(copper(), job=job)
    assert (one.standard, one.standard_from, one.edition, one.edition_from) == ("TIA", "job", "568.2-D", "assumed")
    assert seeds(copper(), job=job) == []


def test_an_edition_of_the_copper_documents_is_resolved_and_remembered():
    one = facts(copper(grade="6A"), edition="568-C.2")
    assert (one.edition, one.edition_from) == ("568-C.2", "command line")


def test_fiber_and_twisted_pair_of_one_file_have_editions_of_their_own():
    table = judged({"label": "F", "type": "OM4"}, copper(grade="6A"))[0].facts
    assert table["edition"].tolist() == ["568.3-E", "568.2-D"]


def test_an_unknown_edition_of_a_file_is_told():
    assert [code for code, _ in seeds(copper(grade="6A", edition="568.9-Z"))] == ["edition-unknown"]


# spellings are invented but for the trade terms in them; common practice, no source
@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("TIA Cat 6A Perm. Link", ("TIA", "", "6A", "permanent link", "")),
        ("TIA-568.2-D Cat.6 Channel", ("TIA", "568.2-D", "6", "channel", "")),
        ("TIA-568-C.2 Category 5e Permanent Link (+ all)", ("TIA", "568-C.2", "5e", "permanent link", "")),
        ("ISO/IEC 11801-1:2017 Class EA PL", ("ISO", "11801-1:2017", "EA", "permanent link", "")),
        ("ISO11801 PL2 Class Ea", ("ISO", "", "EA", "permanent link", "")),
        ("CAT6A MPTL", ("", "", "6A", "modular plug terminated link", "")),
        ("Class F channel", ("", "", "F", "channel", "")),
        ("Class F_A channel", ("", "", "FA", "channel", "")),
        ("ISO class EA / Cat 6A channel", ("ISO", "", "EA", "channel", "")),
        ("class EA / Cat 6A channel", ("", "", "", "channel", "")),
        ("EN 50173 Class D Chan", ("", "", "D", "channel", "another document")),
        ("10GBASE-T", ("", "", "", "", "an application")),
        ("Hall limits", ("", "", "", "", "")),
    ],
)
def test_names_of_limits(text, meant):
    assert tuple(read_limit_name(text, VALUES)) == meant
