"""Power levels in dBm: loss is reference less measured power; beside a loss they are no second reading."""

from analyzer.importing import Source, read_source

_HEAD = "Link,Wavelength (nm),Direction,"


def readings(text):
    return read_source(Source("powers.csv", text.encode())).readings


def test_loss_has_the_digits_of_the_powers():
    rows = readings(f"{_HEAD}Reference power (dBm),Measured power (dBm)\nL1,850,A-B,-19.870,-20.330\n")
    assert rows["value"].tolist() == [0.46]
    assert rows["decimals"].tolist() == [3]


def test_the_loss_beside_powers_is_the_only_reading():
    text = f"{_HEAD}Loss (dB),Reference power (dBm),Measured power (dBm)\nL1,850,A-B,0.46,-19.870,-20.330\n"
    imported = read_source(Source("powers.csv", text.encode()))
    assert imported.readings["value"].tolist() == [0.46]
    assert "is the reading" in imported.columns.set_index("heading").loc["Measured power (dBm)", "why"]


def test_each_wavelength_has_its_own_reference():
    head = ",".join(f"Reference power {nm} nm (dBm),Measured power {nm} nm (dBm)" for nm in (850, 1300))
    rows = readings(f"Link,{head}\nL1,-20.00,-20.50,-21.00,-21.30\n")
    assert dict(zip(rows["wavelength_nm"], rows["value"], strict=True)) == {850: 0.5, 1300: 0.3}


def test_less_light_than_the_meter_sees_is_more_loss():
    rows = readings(f"{_HEAD}Reference power (dBm),Measured power (dBm)\nL1,850,A-B,-20.00,<-60.00\n")
    assert (rows["value"].tolist(), rows["bound"].astype(str).tolist()) == ([40.0], ["above"])


def test_no_light_beside_a_reference_is_over_range():
    rows = readings(f"{_HEAD}Reference power (dBm),Measured power (dBm)\nL1,850,A-B,-20.00,no light\n")
    assert rows["bound"].notna().all()
    assert len(rows) == 1
