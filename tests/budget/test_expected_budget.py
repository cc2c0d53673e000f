"""The expected loss that stands in a budget of one link."""

import pytest

from analyzer.budget import fiber_budget


def budget(**changes):
    given = {"fiber": "OM4", "length_m": 120, "wavelength_nm": 850, "mated_pairs": 2, "splices": 0} | changes
    return fiber_budget(**given)


def test_a_budget_says_what_a_link_done_well_loses():
    got = budget()
    assert 0.3 < got.expected_db < got.expected_97_db < got.allowed_db
    assert [source.row_id for source in got.expected_sources] == ["FT-OPTOKON-OM4-850", "FS-IEC-BM-MM"]
    assert got.expected_notes == ("the expected loss rests on doubtful figures: FS-IEC-BM-MM",)


def test_cords_taken_out_by_the_reference_are_not_expected_either():
    losses = [budget(reference=reference).expected_db for reference in ("one-cord", "two-cord", "three-cord")]
    assert losses == sorted(losses, reverse=True)
    assert losses[2] == pytest.approx(0.3)


def test_the_grade_ordered_is_expected():
    given = {"fiber": "OS2", "wavelength_nm": 1310, "construction": "outside plant"}
    assert budget(**given, connection_grade="B").expected_97_db < budget(**given).expected_97_db
    assert budget(**given).expected_sources[1].row_id == "FS-IEC-C-SM"
    assert budget(**given).expected_notes == ()


def test_1310_on_multimode_is_expected_as_1300():
    assert budget(wavelength_nm=1310).expected_db == budget(wavelength_nm=1300).expected_db


@pytest.mark.parametrize(
    ("changes", "part"),
    [
        ({"fiber": "multimode", "coefficient_db_per_km": 3.0}, "a fact is missing"),
        ({"length_m": None, "sections": [(60, 3.0), (60, 3.5)]}, "a fact is missing"),
        ({"length_m": 120, "sections": [(60, 3.0), (60, 3.5)]}, "a fact is missing"),
        ({"fiber": "OM5", "wavelength_nm": 953}, "no typical attenuation"),
        ({"ends": ("cassette", "panel"), "mated_pairs": None}, "no spread of the loss of array connections"),
    ],
)
def test_what_has_no_source_is_not_expected(changes, part):
    got = budget(**changes)
    assert got.expected_db is None
    assert got.expected_97_db is None
    assert part in got.expected_notes[0]


def test_what_is_allowed_beside_is_not_expected():
    assert budget(other_db=2.0).expected_db == budget().expected_db
