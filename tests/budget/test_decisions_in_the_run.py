"""Decision rules, probabilities and end connections as a whole run uses them, from job.toml to the verdict of a link.

OM4, 120 m, two mated pairs, one-cord: 1.86 dB allowed at 850 nm (TIA-568.3-E rows, by hand in docs/verdicts.md).
"""

import itertools

import numpy as np
import pytest
from bench import analysis, ask, first, job_of, judged, link, om4
from scipy import stats

from analyzer.budget import fiber_budget
from analyzer.budget.uncertainty import VERDICTS, decide
from analyzer.errors import OptionError
from analyzer.schema import CATEGORIES
from analyzer.standards import load

ALLOWED_DB = 1.86


def with_margin(margin_db):
    return om4(f"A{margin_db:+}", loss={850: round(ALLOWED_DB - margin_db, 4), 1300: 0.5}, accuracy_db=0.1)


def under(rule):
    return job_of(f'[rules]\ndecision = "{rule}"\n')


def test_the_closed_set_of_rules_is_that_of_the_values():
    assert [row["rule"] for row in load().rows("decision_rules")] == list(CATEGORIES["decision_rule"])


@pytest.mark.parametrize("rule", CATEGORIES["decision_rule"])
def test_the_judge_and_the_rule_agree_to_the_edge(rule):
    margins_db = (-0.31, -0.1, -0.05, 0.0, 0.05, 0.1, 0.12, 0.31)
    words = [VERDICTS[decide(ALLOWED_DB - margin_db, ALLOWED_DB, 0.1, rule)] for margin_db in margins_db]
    readings = ask(*map(with_margin, margins_db), job=under(rule)).told
    assert readings.loc[readings["wavelength_nm"] == 850, "verdict"].tolist() == words


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        # margins -0.05, 0.05, 0.1 (exactly the accuracy), 0.11; bands of ILAC-G8:09/2019 as decision_rules.csv has them
        ("simple acceptance", ["fail", "pass", "pass", "pass"]),
        ("simple acceptance with flag", ["fail", "marginal", "marginal", "pass"]),
        ("guarded acceptance", ["fail", "fail", "pass", "pass"]),
        ("guarded rejection", ["marginal", "pass", "pass", "pass"]),
        ("non-binary with guard band", ["fail", "fail", "pass", "pass"]),
    ],
)
def test_what_a_rule_makes_of_a_link(rule, words):
    margins = (-0.05, 0.05, 0.1, 0.11)
    assert judged(*map(with_margin, margins), job=under(rule))[1].links["verdict"].tolist() == words


def test_a_rule_with_a_guard_band_needs_an_accuracy_only_where_it_matters():
    job = under("guarded acceptance")
    near, far = om4("A", loss={850: 1.0, 1300: 0.5}), om4("B", loss={850: 1.9, 1300: 0.5})
    _, linked, readings = judged(near, far, job=job)
    assert readings[["verdict", "code"]].iloc[0].tolist() == ["not judged", "accuracy-needed"]
    assert readings["verdict"].iloc[2] == "fail"
    assert linked.links["verdict"].tolist() == ["incomplete", "fail"]


def test_the_mean_of_both_directions_follows_the_rule():
    row = om4(loss={(850, "A-B"): 1.70, (850, "B-A"): 1.84, 1300: 0.5}, accuracy_db=0.1)
    # mean 1.77 dB, margin 0.09 dB: within the accuracy
    text = '[rules]\njudge_mean = true\ndecision = "{}"\n'
    assert link(row, job=job_of(text.format("guarded acceptance"))).verdict == "fail"
    assert link(row, job=job_of(text.format("simple acceptance"))).verdict == "pass"


def test_only_a_rule_that_accepts_beyond_the_limit_is_looser():
    assert [entry["key"] for entry in _looser("guarded rejection")] == ["rules.decision"]
    assert _looser("guarded acceptance") == []


def _looser(rule):
    from analyzer.budget.looser import looser_than_standard

    return looser_than_standard(under(rule), load())


# --- probabilities


@pytest.mark.parametrize(("taken_as", "divisor"), [("even spread", 3**0.5), ("coverage k=2", 2.0)])
def test_probability_of_a_reading_is_that_of_jcgm_106(taken_as, divisor):
    # JCGM 106:2012, 7.4: p = Phi((T - y) / u); compared with scipy.stats
    job = job_of(f'[rules]\naccuracy_db = 0.2\naccuracy_taken_as = "{taken_as}"\n')
    one = first(om4(loss={850: 1.8, 1300: 0.5}), job=job)
    assert one.p_conform == pytest.approx(stats.norm.cdf(0.06, scale=0.2 / divisor), abs=1e-12)


def test_the_diode_of_jcgm_106_through_the_run():
    # example of JCGM 106:2012, clause 7 (recalled): T - y = 0.07, u = 0.05 gives 0.92; here as decibels
    job = job_of('[rules]\naccuracy_db = 0.1\naccuracy_taken_as = "coverage k=2"\n')
    one = first(om4(loss={850: ALLOWED_DB - 0.07, 1300: 0.5}), job=job)
    assert one.p_conform == pytest.approx(0.92, abs=5e-3)


def test_no_probability_without_an_accuracy_a_value_or_a_verdict():
    assert np.isnan(first(om4()).p_conform)
    job = job_of("[rules]\naccuracy_db = 0.2\n")
    bounds = (om4("A", loss={850: (1.8, "below")}), om4("B", loss={850: (np.nan, "over range")}))
    assert ask(*bounds, job=job).verdicts.judged["p_conform"].isna().tolist() == [True, True]
    assert np.isnan(first(om4(type=None), job=job, standard="ISO").p_conform)


# --- end connections: one answer for verdicts and sums

ISO = "11801-1:2017"


@pytest.mark.parametrize(
    "own", ["", "end_pair_db = 0.3\n", "mated_pair_db = 0.5\n", "mated_pair_db = 0.5\nend_pair_db = 0.3\n"]
)
def test_the_judge_and_the_sum_agree_on_iso(own):
    job = job_of(f"[allowances]\n{own}" if own else "")
    cases = list(itertools.product(CATEGORIES["reference"], (2, 3)))
    rows = [om4(f"{ref} {pairs}", reference=ref, mated_pairs=pairs, loss={850: 0.1}) for ref, pairs in cases]
    readings = ask(*rows, standard="ISO", edition=ISO, job=job).told
    assert len(readings) == len(cases)
    for (reference, pairs), one in zip(cases, readings.itertuples(), strict=True):
        _agrees(one, reference, pairs, job, own)


def _agrees(one, reference, pairs, job, own):
    given = {
        "mated_pair_db": job.allowances.mated_pair_db,
        "end_pair_db": (job.allowances.end_pair_db or {}).get("multimode"),
    }
    asked = {"fiber": "OM4", "length_m": 120, "wavelength_nm": 850, "mated_pairs": pairs, "splices": 0}
    asked |= {"reference": reference, "standard": "ISO", "edition": ISO, **given}
    if one.verdict == "not judged":
        assert one.code == "no-end-allowance"
        assert own == ""
        assert reference != "three-cord"
        with pytest.raises(OptionError, match="end_pair_db"):
            fiber_budget(**asked)
    else:
        assert one.limit == pytest.approx(fiber_budget(**asked).allowed_db)


def test_iso_by_hand():
    # 3.5 dB/km x 120 m + both ends at 0.3 dB + one mating between at 0.75 dB (rows of 11801-1:2017, recalled)
    job = job_of("[allowances]\nend_pair_db = 0.3\n")
    one = first(om4(mated_pairs=3, loss={850: 1.0}), standard="ISO", job=job)
    assert one.limit == pytest.approx(0.42 + 0.6 + 0.75)
    # two cords leave one end in the reading
    two = first(om4(mated_pairs=3, reference="two-cord", loss={850: 1.0}), standard="ISO", job=job)
    assert two.limit == pytest.approx(0.42 + 0.3 + 0.75)


def test_an_override_of_the_empty_row_settles_it_too():
    job = job_of('[overrides]\n"FC-14763-2014-REFRND-MM" = 0.35\n')
    one = first(om4(loss={850: 1.0}), standard="ISO", job=job)
    assert one.limit == pytest.approx(0.42 + 2 * 0.35)
    verdicts = judged(om4(loss={850: 1.0}), standard="ISO", job=job)[0]
    assert "FC-14763-2014-REFRND-MM" in verdicts.limits["rows"].iloc[0]


def test_a_missing_end_allowance_is_told_once_with_its_key():
    told = analysis(om4("A"), om4("B"), standard="ISO").findings
    (found,) = [each for each in told if each.code == "end-allowance-missing"]
    assert found.message.startswith("4 readings are not judged")
    assert "allowances.end_pair_db" in found.message
    assert found.links == ("A", "B")


def test_an_end_allowance_above_the_last_known_figure_is_looser():
    from analyzer.budget.looser import looser_than_standard

    def keys(text):
        return [entry["key"] for entry in looser_than_standard(job_of('[order]\nstandard = "ISO"\n' + text), load())]

    assert keys("[allowances]\nend_pair_db = 0.3\n") == []
    assert keys("[allowances]\nend_pair_db = 0.4\n") == ["allowances.end_pair_db.multimode"]
    assert keys("[allowances]\nend_pair_db = {single_mode = 0.6}\n") == ["allowances.end_pair_db.single_mode"]


def test_other_methods_take_end_connections_out_at_their_own_allowance():
    job = job_of('[order]\nstandard = "ISO"\n[allowances]\nend_pair_db = 0.3\n')
    # limit 0.42 + 2 x 0.3 = 1.02 dB at 850 nm; margin 0.40 dB: more than one end connection, less than two
    row = om4(reference=None, loss={850: 0.62, 1300: 0.05})
    (found,) = [each for each in analysis(row, job=job).findings if each.code == "reference-assumed"]
    assert "with two-cord 0 of the passes would fail, with three-cord 1" in found.message
