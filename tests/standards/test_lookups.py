"""Small tables of facts: admissible sets, wavelengths, reference methods."""

import pytest

from analyzer import standards
from analyzer.schema import CATEGORIES

VALUES = standards.load()


@pytest.mark.parametrize(
    ("fact", "given", "standard", "expected"),
    [
        ("type", "multimode", None, ("OM1", "OM2", "OM3", "OM4", "OM5")),
        ("type", "50/125", "TIA", ("OM2", "OM3", "OM4", "OM5")),
        ("type", "62.5/125", None, ("OM1",)),
        ("type", "single-mode", None, ("OS1", "OS1a", "OS2")),
        ("construction", "OS2", "TIA", ("indoor-outdoor", "outside plant")),
        ("construction", "OS2", "ISO", ()),
        ("construction", "OM4", "TIA", ()),
        ("mated pairs", None, "TIA", ("2", "3", "4")),
        ("splices", None, None, ("0", "1", "2")),
    ],
)
def test_admissible_sets(fact, given, standard, expected):
    assert standards.admissible(VALUES, fact, given, standard) == expected


def test_admissible_words_are_those_of_the_schema():
    for row in VALUES.rows("admissible"):
        if row["fact"] in CATEGORIES:
            assert set(row["values"].split("|")) <= set(CATEGORIES[row["fact"]])


@pytest.mark.parametrize(
    ("written", "medium", "nominal"),
    [
        (850, "multimode", 850),
        (1300, "multimode", 1300),
        (1310, "multimode", 1300),
        (1310, "single-mode", 1310),
        (1300, "single-mode", 1310),
        (850, "single-mode", None),
        (1550, "multimode", None),
    ],
)
def test_nominal_wavelengths(written, medium, nominal):
    assert standards.nominal_wavelength_nm(VALUES, written, medium) == nominal


def test_what_a_wavelength_proves():
    proves = {}
    for row in VALUES.rows("wavelengths"):
        proves.setdefault(row["written_nm"], set()).add(row["implies"])
    assert proves[850] == {"multimode"}
    assert proves[1550] == {"single-mode"}
    assert proves[1310] == {None}
    media = {row["written_nm"]: set() for row in VALUES.rows("wavelengths")}
    for row in VALUES.rows("wavelengths"):
        media[row["written_nm"]].add(row["medium"])
    for written, words in proves.items():
        if len(media[written]) == 2:
            assert words == {None}, f"{written} nm stands under both media and can prove neither"


def test_a_nominal_wavelength_of_a_required_test_has_limits_in_the_newest_editions():
    for row in VALUES.rows("wavelengths"):
        if row["required_test"]:
            for standard in ("TIA", "ISO"):
                rows = standards.allowances(VALUES, standard).coefficient_rows
                assert any(limit["wavelength_nm"] == row["nominal_nm"] for limit in rows)


@pytest.mark.parametrize(
    ("name", "document", "medium", "expected"),
    [
        ("one-cord", None, None, "one-cord"),
        ("One cord", None, None, "one-cord"),
        # owner construction standard, section 17000, page 14 (read): method B for multimode, A.1 for single-mode
        ("Method B", "TIA-526-14-A", None, "one-cord"),
        ("ANSI/TIA/EIA-526-14-A Method B", None, None, "one-cord"),
        ("Method A.1", "TIA-526-7", None, "one-cord"),
        ("A.1", None, None, "one-cord"),
        ("A.3", None, None, "three-cord"),
        ("Method A", "TIA-526-14-A", None, "two-cord"),
        ("C", None, "multimode", "three-cord"),
        ("Method B", None, None, None),
        ("Method B", None, "single-mode", None),
        ("Annex B", "IEC 61280-4-1", None, None),
        ("Annex A", "IEC 61280-4-1", None, "one-cord"),
        ("method Z", "TIA-526-14-A", None, None),
        ("", None, None, None),
    ],
)
def test_reference_methods(name, document, medium, expected):
    assert standards.reference_method(VALUES, name, document, medium) == expected


def test_cords_match_the_plain_name_everywhere():
    cords = {"one-cord": 0, "two-cord": 1, "three-cord": 2}
    assert all(row["cords_subtracted"] == cords[row["reference"]] for row in VALUES.rows("references"))
