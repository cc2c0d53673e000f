"""Editions and what each allows."""

import pytest

from analyzer import standards
from analyzer.errors import StandardsError

VALUES = standards.load()


@pytest.mark.parametrize(
    ("standard", "written", "edition"),
    [
        ("TIA", None, "568.3-E"),
        ("TIA", "568.3-E", "568.3-E"),
        ("TIA", "TIA-568.3-E", "568.3-E"),
        ("TIA", "ANSI/TIA-568.3-D", "568.3-D"),
        ("TIA", "568.3-E:2022", "568.3-E"),
        ("TIA", "tia 568-c.3", "568-C.3"),
        ("TIA", "E", "568.3-E"),
        ("ISO", None, "11801-1:2017"),
        ("ISO", "ISO/IEC 11801-1:2017", "11801-1:2017"),
        ("ISO", "11801-1", "11801-1:2017"),
        ("ISO", "11801:2002", "11801:2002"),
        ("ISO", "ISO/IEC 11801:2002/A1:2008", "11801:2002+A1"),
        ("ISO", "11801:2002 A1", "11801:2002+A1"),
    ],
)
def test_spellings_that_point_at_one_edition(standard, written, edition):
    assert standards.resolve_edition(VALUES, standard, written) == edition


@pytest.mark.parametrize(
    ("standard", "written", "part"),
    [
        ("TIA", "568.3", "known are 568-C.3, 568.3-D, 568.3-E"),
        ("TIA", "568.3-F", "known are 568-C.3"),
        ("TIA", "568.3-E:2021", "known are 568-C.3"),
        ("TIA", "", "known are 568-C.3"),
        ("ISO", "11801", "known are 11801:2002, 11801:2002+A1, 11801-1:2017"),
        ("ISO", "568.3-E", "known are 11801:2002"),
        ("EN", None, "known are TIA, ISO"),
    ],
)
def test_unknown_or_ambiguous_editions_list_those_known(standard, written, part):
    with pytest.raises(StandardsError) as caught:
        standards.resolve_edition(VALUES, standard, written)
    assert part in str(caught.value)


def test_no_spelling_is_shared():
    for row in VALUES.rows("editions"):
        for written in (row["edition"], row["document"], *(row["aliases"] or "").split("|")):
            assert standards.resolve_edition(VALUES, row["standard"], written) == row["edition"]


def test_an_amendment_leaves_its_base_standing():
    assert standards.editions_in_force(VALUES, "11801:2002+A1") == ("11801:2002+A1", "11801:2002")
    book = standards.allowances(VALUES, "ISO", "11801:2002+A1")
    assert book.cable("OS2", 1310)[0]["row_id"] == "FA-ISO-2002A1-OS2-1310"
    assert book.cable("OM3", 850)[0]["row_id"] == "FA-ISO-2002-OM3-850"
    assert standards.allowances(VALUES, "ISO", "11801:2002").cable("OS2", 1310) == ()


def test_each_key_of_an_edition_stands_once():
    for row in VALUES.rows("editions"):
        book = standards.allowances(VALUES, row["standard"], row["edition"])
        keys = ["type", "construction", "wavelength_nm"]
        assert not book.coefficients.duplicated(keys).any()
        assert not book.components.duplicated(["component", "medium"]).any()


def test_only_ceilings_for_every_component_govern():
    book = standards.allowances(VALUES, "ISO", "11801-1:2017")
    assert set(book.components["row_id"]) == {
        "FC-ISO-2017-PAIR-MM", "FC-ISO-2017-PAIR-SM", "FC-ISO-2017-SPLICE-MM", "FC-ISO-2017-SPLICE-SM",
    }  # fmt: skip
    assert book.component("array mated pair", "multimode") is None


def test_os1_has_no_row_in_the_newer_editions():
    for standard, edition in (("TIA", "568.3-D"), ("TIA", "568.3-E"), ("ISO", "11801-1:2017")):
        assert standards.allowances(VALUES, standard, edition).cable("OS1", 1310) == ()


def test_568_c_3_lets_the_construction_decide_for_every_single_mode_type():
    book = standards.allowances(VALUES, "TIA", "568-C.3")
    assert {row["coefficient_db_per_km"] for row in book.cable("OS1", 1310)} == {0.5, 1.0}
    assert {row["coefficient_db_per_km"] for row in book.cable("OS2", 1550, "outside plant")} == {0.5}
    assert {row["construction"] for row in book.cable("OS1a", 1310)} == {"inside plant"}
