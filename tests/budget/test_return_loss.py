"""Optical return loss of links: floors of one joint for information, own floors that decide, both signs read."""

import numpy as np
import pytest

import analyzer

# RL-TIA-E-PAIR-MM 20 dB, RL-TIA-E-PAIR-FLAT-SM 35 dB: as recalled in reference fibre/limits_optical_return_loss.csv
HEAD = "Link,Type,Length (m),Mated pairs,Splices,Loss {0} nm (dB),Loss {1} nm (dB),ORL {1} nm (dB),Reference\n"
OWN = '[[limits]]\nname = "owner\'s floor"\nsource = "cabling brief, clause 4"\nparameter = "optical return loss"\nmin = 32\n'


def run(tmp_path, *values, fiber="OS2", waves=(1310, 1550), job=""):
    (tmp_path / "evidence").mkdir()
    rows = [f"A-{n},{fiber},100,2,0,0.5,0.5,{value},1-cord" for n, value in enumerate(values, start=1)]
    (tmp_path / "evidence" / "a.csv").write_text(HEAD.format(*waves) + "\n".join(rows) + "\n")
    if job:
        (tmp_path / "job.toml").write_text(job)
    return analyzer.analyze(tmp_path)


def judged(found):
    return found.judged[(found.readings["parameter"] == "optical return loss").to_numpy()].reset_index(drop=True)


@pytest.mark.parametrize(("fiber", "waves", "floor"), [("OS2", (1310, 1550), 35.0), ("OM4", (850, 1300), 20.0)])
def test_a_link_above_the_floor_of_one_joint_has_no_joint_below_it(tmp_path, fiber, waves, floor):
    found = run(tmp_path, floor, floor + 4, floor - 0.1, fiber=fiber, waves=waves)
    rows = judged(found)
    assert rows["verdict"].tolist() == ["pass", "pass", "not judged"]
    assert rows["limit"].tolist() == [floor] * 3
    np.testing.assert_allclose(rows["margin"], [0.0, 4.0, np.nan])
    assert not rows["counts"].any()
    assert found.links["verdict"].tolist() == ["pass"] * 3
    codes = found.reasons.set_index("reason")["code"].reindex(rows["reason"]).tolist()
    assert codes == ["floor-of-one-joint", "floor-of-one-joint", "below-one-joint"]


def test_several_good_joints_may_send_back_more_than_one_may():
    # two joints of 36 dB, each better than 35 dB, send back together 36 - 10 log10(2) = 32.99 dB: sum of powers
    both = -10 * np.log10(2 * 10 ** (-36 / 10))
    assert both == pytest.approx(36 - 10 * np.log10(2))
    assert both < 35


def test_an_own_floor_decides(tmp_path):
    found = run(tmp_path, 33, 31, ">30", ">33", "<31", job=OWN)
    rows = judged(found)
    assert rows["verdict"].tolist() == ["pass", "fail", "not judged", "pass", "fail"]
    assert rows["counts"].all()
    assert found.links["verdict"].tolist()[:2] == ["pass", "fail"]
    assert found.links["verdict"].tolist()[2:] == ["incomplete", "pass", "fail"]
    assert found.links["missing"][2] == "optical return loss could not be judged"
    limit = found.limits.set_index("limit_id")["text"].reindex(rows["limit_id"])
    assert limit.str.contains("cabling brief, clause 4").all()


@pytest.mark.parametrize("values", [("-45", "-33"), ("45", "33"), ("-45", "33"), ("-45",), ("<-45", "33")])
def test_both_signs_mean_the_same_and_a_minus_is_told(tmp_path, values):
    found = run(tmp_path, *values, job=OWN)
    value = found.readings.loc[(found.readings["parameter"] == "optical return loss").to_numpy(), "value"]
    assert value.tolist() == [45.0, 33.0][: len(values)]
    assert judged(found)["verdict"].tolist() == ["pass"] * len(values)
    told = any(finding.code == "reflectance-sign" for finding in found.findings)
    assert told == any("-" in value for value in values)
