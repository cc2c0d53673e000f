"""Versions of the tester and names of projects are read, and take no column away from others."""

import pytest

from analyzer.importing.headings import understand
from analyzer.importing.read import read_source
from analyzer.importing.source import Source

MEANT = {
    "software version": "Software version|SW version|Tester software|Tester software version|Instrument software rev|"
    "Softwarestand|Version du logiciel|Versión del software|Versione software|Versie software|Versão do software",
    "firmware version": "Firmware|FW version|Firmware revision|Firmwarestand|Version du micrologiciel|"
    "Versión de firmware|Versione del firmware|Firmwareversie|Versão do firmware",
    "limit table version": "Limit table version|Limit version|Test limit version|Version der Grenzwerte|"
    "Version des limites|Versión de los límites|Versione limiti|Versie grenswaarden|Versão dos limites",
    "project": "Project|Project name|Job|Job name|Site project|Projekt|Nom du projet|Proyecto|Progetto|Projectnaam|"
    "Nome do projeto",
}
RIVALS = {
    "note": "Job no|Job number|Job ID|Project no|Project ID|Projekt Nr|Chef de projet|Project manager|Project lead|"
    "Project engineer|Project description|Job comment|Version|File version|Tester version|HW version|Hardware version|"
    "Standard version|Software date|Firmware user",
    "ignored": "Project coordinator|Export software version|Projects|Product",
    "label": "Project link|Job / link name|Link",
    "cable": "Project cable no",
    "operator": "Job operator",
    "date": "Job date",
    "area": "Project site|Site",
    "length": "Project length (m)",
    "limit": "Limit|Limit (dB)",
    "limit name": "Limit name|Test limit",
    "edition": "Test standard",
    "tester": "Tester|Serial no",
}


@pytest.mark.parametrize(
    ("role", "heading"),
    [(role, heading) for table in (MEANT, RIVALS) for role, texts in table.items() for heading in texts.split("|")],
)
def test_headings_and_their_nearest_rivals(role, heading):
    assert understand((heading,)).role == role


def read(text):
    return read_source(Source("results.csv", text.encode()))


def test_every_column_is_that_of_its_own_heading():
    imported = read(
        "Project,Project manager,Job no,Label,Tester,Software version,Firmware,Limit,Limit version,Version,Loss 850 (dB)\n"
        "Invented Hall,C. Invented,77,L-01,T-1,5.10,2.0,Backbone A,7.4,3,0.41\n"
    )
    (record,) = imported.records.to_dict("records")
    said = {name: record[name] for name in ("project", "label", "tester", "software_version", "firmware_version")}
    assert said == {
        "project": "Invented Hall", "label": "L-01", "tester": "T-1", "software_version": "5.10", "firmware_version": "2.0",
    }  # fmt: skip
    assert (record["limit_table_version"], record["declared_limit"]) == ("7.4", "Backbone A")
    assert imported.readings["value"].tolist() == [0.41]
    assert imported.set_aside.empty


def test_lines_above_a_table_hold_for_it_and_for_the_tables_below():
    table = "Label,Loss 850 (dB)\nL-0{},0.41\n"
    imported = read(
        "Project,Invented Hall\nSoftware version: 5.1.2\nFirmware,2.0\nLimit table version,7.4\nProject manager,C. Invented\n\n"
        + table.format(1) + "\n\n" + table.format(2)
    )  # fmt: skip
    names = ["project", "software_version", "firmware_version", "limit_table_version"]
    assert imported.records[names].to_numpy().tolist() == [["Invented Hall", "5.1.2", "2.0", "7.4"]] * 2


def test_a_form_bears_its_own():
    imported = read("Link: L-01\nJob: Invented Hall\nFirmware: v2.0\nLoss 850 nm: 0.41 dB\n")
    assert imported.records[["label", "project", "firmware_version"]].to_numpy().tolist() == [
        ["L-01", "Invented Hall", "v2.0"]
    ]


def test_a_project_on_every_row_does_not_keep_a_label_from_holding_on():
    text = "Project,Label,Wavelength,Loss (dB)\n" + "".join(
        f"Invented Hall,{label},{wave},0.4\n" for label, wave in (("L-01", 850), ("", 1300), ("L-02", 850), ("", 1300))
    )
    records = read(text).records
    assert sorted(set(records["label"])) == ["L-01", "L-02"]
    assert set(records["project"]) == {"Invented Hall"}


def test_without_such_columns_nothing_is_said():
    records = read("Label,Loss 850 (dB)\nL-01,0.41\n").records
    assert records[["project", "software_version", "firmware_version", "limit_table_version"]].isna().all(axis=None)
