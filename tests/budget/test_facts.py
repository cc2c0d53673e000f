"""Who is believed: every fact has one order of speakers, and where file and schedule differ the stricter decides."""

import pytest
from bench import facts, first, job_of, judged, om4, schedule_of, told

JOB_PAIRS = job_of("[facts]\nmated_pairs = 5\nsplices = 1\n")


def no_counts(**more):
    return om4(mated_pairs=None, splices=None, **more)


def texts_of(code, *rows, **more):
    verdicts, linked, _ = judged(*rows, **more)
    seeds = [*verdicts.seeds.itertuples(), *linked.seeds.itertuples()]
    return [seed.text for seed in seeds if seed.code == code]


# --- what was built: command line, file, schedule, job


def test_job_is_the_weakest_source_of_a_built_fact():
    one = facts(no_counts(), job=JOB_PAIRS)
    assert (one.mated_pairs, one.mated_pairs_from) == (5, "job")


def test_schedule_stands_above_the_job():
    one = facts(no_counts(), job=JOB_PAIRS, schedule=schedule_of({"label": "A", "mated_pairs": 3}))
    assert (one.mated_pairs, one.mated_pairs_from) == (3, "schedule")


def test_file_stands_above_schedule_and_job():
    one = facts(om4(), job=JOB_PAIRS, schedule=schedule_of({"label": "A", "mated_pairs": 3}))
    assert (one.mated_pairs, one.mated_pairs_from) == (2, "file")


def test_command_line_stands_above_all():
    one = facts(om4(), job=JOB_PAIRS, schedule=schedule_of({"label": "A", "mated_pairs": 3}), mated_pairs=4)
    assert (one.mated_pairs, one.mated_pairs_from) == (4, "command line")


def test_command_line_ends_the_quarrel_of_file_and_schedule():
    schedule = schedule_of({"label": "A", "mated_pairs": 3})
    assert texts_of("fact-differs", om4(), schedule=schedule, mated_pairs=4) == []


def test_a_fact_that_nobody_says_is_missing():
    one = facts(no_counts())
    assert (one.mated_pairs_from, one.missing) == ("missing", "mated pairs; splices")


def test_length_of_the_command_line_counts_as_a_length():
    assert judged(om4(length_m=None), length_m=120.0)[1].links.iloc[0].length_from == "command line"


def test_segment_is_a_built_fact_of_the_job_page():
    job = job_of('[facts]\nsegment = "backbone"\n')
    assert facts(om4(segment="horizontal"), job=job).segment == "horizontal"


# --- what was ordered: command line, schedule, job, export

JOB_D = job_of('[order]\nstandard = "TIA"\nedition = "568.3-D"\n')


def test_export_orders_where_nobody_else_does():
    one = facts(om4(declared_limit="TIA-568.3-D multimode"))
    assert (one.edition, one.edition_from) == ("568.3-D", "file")


def test_job_stands_above_the_export():
    one = facts(om4(declared_limit="TIA-568-C.3"), job=JOB_D)
    assert (one.edition, one.edition_from) == ("568.3-D", "job")


def test_schedule_stands_above_the_job_for_orders():
    one = facts(om4(), job=JOB_D, schedule=schedule_of({"label": "A", "edition": "568-C.3"}))
    assert (one.edition, one.edition_from) == ("568-C.3", "schedule")


def test_command_line_stands_above_the_schedule_for_orders():
    one = facts(om4(), schedule=schedule_of({"label": "A", "edition": "568-C.3"}), edition="568.3-D")
    assert (one.edition, one.edition_from) == ("568.3-D", "command line")


def test_nothing_ordered_means_the_newest_edition_and_says_that_it_is_assumed():
    one = facts(om4())
    assert (one.standard, one.edition, one.edition_from) == ("TIA", "568.3-E", "assumed")


def test_ordered_edition_is_not_replaced_by_a_family_that_the_file_names():
    one = facts(om4(standard="ISO"), job=job_of('[order]\nedition = "568.3-D"\n'))
    assert (one.standard, one.edition) == ("TIA", "568.3-D")


def test_family_alone_takes_its_edition_from_the_export():
    one = facts(om4(declared_limit="TIA-568.3-D"), job=job_of('[order]\nstandard = "TIA"\n'))
    assert (one.edition, one.edition_from) == ("568.3-D", "file")


def test_edition_of_another_family_is_only_declared():
    one = facts(om4(edition="568.3-D"), job=job_of('[order]\nstandard = "ISO"\n'))
    assert (one.standard, one.edition) == ("ISO", "11801-1:2017")
    assert told(om4(edition="568.3-D"), job=job_of('[order]\nstandard = "ISO"\n')).count("edition-unknown") == 0


def test_export_tested_to_another_edition_is_told():
    assert texts_of("order-differs", om4(declared_limit="TIA-568-C.3"), job=JOB_D) == [
        "edition: the export says 568-C.3, ordered is 568.3-D"
    ]


def test_export_tested_to_the_ordered_edition_is_not_told():
    assert "order-differs" not in told(om4(declared_limit="TIA-568.3-D"), job=JOB_D)


def test_configuration_that_was_not_ordered_is_told():
    job = job_of('[order]\nconfiguration = "permanent link"\n')
    assert facts(om4(configuration="channel"), job=job).configuration == "permanent link"
    assert "order-differs" in told(om4(configuration="channel"), job=job)


def test_another_fiber_than_the_ordered_one_is_told():
    assert texts_of("order-differs", om4(type="OM3"), job=job_of('[order]\nfiber = "OM4"\n')) == [
        "fiber type: the export says OM3, ordered is OM4"
    ]


def test_unknown_edition_is_told_and_left_out():
    assert facts(om4(edition="568.9-Z")).edition == "568.3-E"
    assert texts_of("edition-unknown", om4(edition="568.9-Z")) == ["the edition 568.9-Z is not known here"]


# --- file and schedule differ: the stricter decides, whichever it is, and it is told


@pytest.mark.parametrize(("file", "schedule", "decides"), [(2, 4, 2), (4, 2, 2)])
@pytest.mark.parametrize("fact", ["mated_pairs", "splices"])
def test_the_lower_count_decides(fact, file, schedule, decides):
    rows = (om4(**{fact: file}),)
    given = {"schedule": schedule_of({"label": "A", fact: schedule})}
    assert facts(*rows, **given)[fact] == decides
    words = fact.replace("_", " ")
    assert texts_of("fact-differs", *rows, **given) == [f"{words}: the file says {file}.0, the schedule {schedule}.0"]


@pytest.mark.parametrize(("file", "schedule", "decides"), [(100.0, 150.0, 100.0), (150.0, 100.0, 100.0)])
def test_the_shorter_length_decides(file, schedule, decides):
    given = {"schedule": schedule_of({"label": "A", "length_m": schedule})}
    assert facts(om4(length_m=file), **given).length_m == decides
    assert "fact-differs" in told(om4(length_m=file), **given)


def test_lengths_within_a_tenth_are_one_length():
    given = {"schedule": schedule_of({"label": "A", "length_m": 110.0})}
    assert facts(om4(length_m=120.0), **given).length_m == 120.0  # 10 m apart, 10 % of 120 m is 12 m
    assert "fact-differs" not in told(om4(length_m=120.0), **given)


@pytest.mark.parametrize(("file", "schedule"), [("one-cord", "three-cord"), ("three-cord", "one-cord")])
def test_the_method_that_takes_out_more_matings_decides(file, schedule):
    given = {"schedule": schedule_of({"label": "A", "reference": schedule})}
    assert facts(om4(reference=file), **given).reference == "three-cord"


@pytest.mark.parametrize(
    ("file", "schedule"), [("indoor-outdoor", "outside plant"), ("outside plant", "indoor-outdoor")]
)
def test_the_construction_with_the_lower_attenuation_decides(file, schedule):
    row = om4(type="OS2", construction=file, loss={1310: 1.0, 1550: 1.0})
    assert facts(row, schedule=schedule_of({"label": "A", "construction": schedule})).construction == "outside plant"


@pytest.mark.parametrize(("file", "schedule"), [("horizontal", "backbone"), ("backbone", "horizontal")])
def test_backbone_asks_for_more_than_horizontal(file, schedule):
    assert facts(om4(segment=file), schedule=schedule_of({"label": "A", "segment": schedule})).segment == "backbone"


@pytest.mark.parametrize(("file", "schedule"), [("panel", "pigtail"), ("pigtail", "panel")])
def test_of_two_ends_the_one_with_fewer_parts_decides(file, schedule):
    row = no_counts(end_type_a=file, end_type_b="panel")
    given = {"schedule": schedule_of({"label": "A", "end_type_a": schedule})}
    assert facts(row, **given).end_type_a == "panel"  # a pigtail adds a splice


@pytest.mark.parametrize(("file", "schedule"), [("panel", "plug"), ("plug", "panel")])
def test_beside_stated_counts_a_plug_adds_a_mating_and_a_panel_none(file, schedule):
    row = om4(end_type_a=file, end_type_b="panel")
    one = facts(row, schedule=schedule_of({"label": "A", "end_type_a": schedule}))
    assert (one.end_type_a, one.matings_in_reading) == ("panel", 2)


@pytest.mark.parametrize(("file", "schedule"), [("OM3", "OM1"), ("OM1", "OM3")])
def test_of_two_types_the_lower_limit_decides_at_each_wavelength(file, schedule):
    # OM3 3.0 dB/km, OM1 3.5 dB/km: 3.0 × 0.120 + 2 × 0.75 = 1.86 dB decides, not 3.5 × 0.120 + 1.50 = 1.92 dB
    row = om4(type=file, loss={850: 1.90, 1300: 1.0})
    reading = first(row, schedule=schedule_of({"label": "A", "type": schedule}))
    assert (reading.verdict, round(reading.limit, 4)) == ("fail", 1.86)
    assert "file and schedule differ" in reading.why


def test_a_fail_by_one_of_two_types_is_a_fail_though_the_other_has_no_limit_there():
    row = om4(loss={850: 3.0, 1300: 1.0})
    reading = first(row, schedule=schedule_of({"label": "A", "type": "OS2"}))
    assert reading.verdict == "fail"


def test_a_pass_by_one_of_two_types_is_no_pass_where_the_other_has_no_limit():
    reading = first(om4(), schedule=schedule_of({"label": "A", "type": "OS2"}))
    assert reading.verdict == "not judged"


@pytest.mark.parametrize(("arrays_db", "decides"), [(0.35, 2), (1.0, 0)])
def test_of_two_counts_of_arrays_the_one_that_is_allowed_less_decides(arrays_db, decides):
    job = job_of(f"[allowances]\narray_pair_db = {arrays_db}\n")
    given = {"job": job, "schedule": schedule_of({"label": "A", "array_pairs": 2})}
    assert facts(om4(array_pairs=0), **given).array_pairs == decides


# --- ends and counts: in the reading = mated pairs + plug ends - (0, 1, 2)


@pytest.mark.parametrize(
    ("ends", "pairs", "splices", "plugs"),
    [
        (("panel", "panel"), 2, 0, 0),
        (("pigtail", "pigtail"), 2, 2, 0),
        (("panel", "pigtail"), 2, 1, 0),
        (("cassette", "cassette"), 4, 0, 0),
        (("jack", "panel"), 2, 0, 0),
        (("panel", "plug"), 1, 0, 1),
        (("plug", "plug"), 0, 0, 2),
    ],
)
def test_ends_become_counts_and_the_reference_takes_matings_out(ends, pairs, splices, plugs):
    row = no_counts(end_type_a=ends[0], end_type_b=ends[1])
    references = ("one-cord", "two-cord", "three-cord")
    told = judged(*(row | {"label": reference, "reference": reference} for reference in references))[0].facts
    assert told["reference"].tolist() == list(references)
    assert set(told[["mated_pairs", "splices", "plug_ends"]].itertuples(index=False, name=None)) == {
        (pairs, splices, plugs)
    }
    # a cord takes one mating out: for example 1 + 1 - 2 = 0
    assert told["matings_in_reading"].tolist() == [pairs + plugs - cords for cords in (0, 1, 2)]
    assert set(told["mated_pairs_from"]) == {"derived"}


def test_a_cassette_has_one_array_mating_among_its_two():
    assert facts(no_counts(end_type_a="cassette", end_type_b="cassette")).array_pairs == 2


def test_stated_counts_stand_above_ends_for_there_may_be_matings_between():
    assert facts(om4(mated_pairs=4, end_type_a="panel", end_type_b="panel")).mated_pairs == 4


def test_ends_of_the_file_stand_above_a_count_that_the_job_gives_for_all_links():
    one = facts(no_counts(end_type_a="panel", end_type_b="panel"), job=JOB_PAIRS)
    assert (one.mated_pairs, one.splices) == (2, 0)


def test_ends_of_the_command_line_stand_above_counts_of_the_file():
    assert facts(om4(mated_pairs=4), ends=("panel", "panel")).mated_pairs == 2


def test_one_end_alone_does_not_make_a_count():
    assert facts(no_counts(end_type_a="panel")).mated_pairs_from == "missing"


def test_no_reference_method_means_one_cord_and_says_that_it_is_assumed():
    one = facts(om4(reference=None))
    assert (one.reference, one.reference_from) == ("one-cord", "assumed")


# --- glass


@pytest.mark.parametrize(
    ("waves", "glass"), [((850,), "multimode"), ((1550,), "single-mode"), ((1300,), None), ((850, 1550), None)]
)
def test_wavelengths_imply_the_glass(waves, glass):
    one = facts({"label": "A", "loss": dict.fromkeys(waves, 0.5)})
    assert (one.glass if isinstance(one.glass, str) else None) == glass


def test_records_of_one_label_speak_together():
    rows = [{"label": "A", "loss": {850: 0.5}}, {"label": "A", "loss": {1300: 0.5}}]
    assert judged(*rows)[0].facts["glass"].tolist() == ["multimode", "multimode"]


def test_records_without_a_label_do_not_speak_for_each_other():
    rows = [{"label": "A", "key": None, "loss": {850: 0.5}}, {"label": "B", "key": None, "loss": {1300: 0.5}}]
    assert judged(*rows)[0].facts["glass"].isna().tolist() == [False, True]


def test_a_type_says_the_medium():
    assert facts(om4()).medium == "fiber"
