"""What makes acceptance easier than the standard is listed with its grant; what makes it harder is not."""

import pytest
from bench import job_of, judged, om4

from analyzer.budget.looser import looser_than_standard
from analyzer.budget.rules import rules_in_force
from analyzer.budget.uncertainty import decision_rules
from analyzer.standards import load

GRANT = """
[[grants]]
what = "{key}"
by = "B. Owner (invented)"
date = 2026-11-25
reference = "minute 7"
"""

LOOSER = {
    "allowances.mated_pair_db": "[allowances]\nmated_pair_db = 0.76\n",
    "allowances.array_pair_db": "[allowances]\narray_pair_db = 0.76\n",
    "allowances.splice_db": "[allowances]\nsplice_db = 0.31\n",
    "allowances.attenuation_db_per_km.OM4.850": "[allowances.attenuation_db_per_km]\nOM4 = {850 = 3.1}\n",
    "overrides.FC-TIA-E-PAIR-MM": '[overrides]\n"FC-TIA-E-PAIR-MM" = 0.76\n',
    "overrides.RL-TIA-D-PAIR-MM": '[overrides]\n"RL-TIA-D-PAIR-MM" = 19\n',
    "required.multimode": "[required]\nmultimode = [850]\n",
    "required.single_mode": "[required]\nsingle_mode = [1550]\n",
    "required.twisted_pair": '[required]\ntwisted_pair = ["wire map", "NEXT"]\n',
    "exemptions.alien_crosstalk_met_by_design": "[exemptions]\nalien_crosstalk_met_by_design = true\n",
    "conditions.consolidation_point": "[conditions]\nconsolidation_point = true\n",
    "conditions.environment": '[conditions]\nenvironment = "E1"\n',
    # candidate a allows 1.7 dB more at 500 MHz than candidate b
    "candidates.6A permanent link insertion loss": '[candidates]\n"6A permanent link insertion loss" = "a"\n',
    "required.length": "[required]\nlength = false\n",
    "rules.judge_mean": "[rules]\njudge_mean = true\n",
    "rules.length_difference_percent": "[rules]\nlength_difference_percent = 20.0\n",
    "admissible.mated_pairs": "[admissible]\nmated_pairs = [3, 4]\n",
    "admissible.splices": "[admissible]\nsplices = [1, 2]\n",
    "admissible.fiber": '[admissible]\nfiber = ["OM1"]\n',
    "admissible.construction": '[admissible]\nconstruction = ["indoor-outdoor"]\n',
}

NOT_LOOSER = [
    "",
    "[allowances]\nmated_pair_db = 0.75\nsplice_db = 0.3\narray_pair_db = 0.35\n",
    "[allowances.attenuation_db_per_km]\nOM4 = {850 = 3.0}\n",
    '[overrides]\n"FC-TIA-E-PAIR-MM" = 0.5\n',
    '[overrides]\n"RL-TIA-D-PAIR-MM" = 21\n',
    "[required]\nmultimode = [850, 1300]\nsingle_mode = [1310, 1550, 1625]\ndirections = 2\n",
    '[rules]\nmarginal = "fail"\nlength_difference_percent = 5.0\naccuracy_db = 0.1\n',
    "[admissible]\nmated_pairs = [2, 3]\nsplices = [0, 0]\n",
    '[candidates]\n"6A permanent link insertion loss" = "b"\n',
    "[conditions]\nconsolidation_point = false\n",
    "[exemptions]\nreturn_loss_at_low_insertion_loss = false\n",
    '[[limits]]\nname = "n"\nsource = "s"\nmax_db = 9.0\n',
]


def looser(text):
    job = job_of(text)
    return looser_than_standard(job, load(overrides=job.overrides))


@pytest.mark.parametrize("key", LOOSER)
def test_what_is_looser_is_listed_without_a_grant(key):
    (entry,) = looser(LOOSER[key])
    assert (entry["key"], entry["granted_by"], entry["date"], entry["reference"]) == (key, None, None, None)
    assert entry["what"]


@pytest.mark.parametrize("key", LOOSER)
def test_what_is_looser_is_listed_with_its_grant(key):
    (entry,) = looser(LOOSER[key] + GRANT.format(key=key))
    assert (entry["granted_by"], entry["date"], entry["reference"]) == ("B. Owner (invented)", "2026-11-25", "minute 7")


@pytest.mark.parametrize("text", NOT_LOOSER)
def test_what_is_not_looser_is_not_listed(text):
    assert looser(text) == []


def test_an_own_allowance_is_compared_with_the_printed_value_not_with_an_override():
    text = '[overrides]\n"FC-TIA-E-PAIR-MM" = 2.0\n"FC-TIA-E-PAIR-SM" = 2.0\n[allowances]\nmated_pair_db = 1.0\n'
    assert "allowances.mated_pair_db" in [entry["key"] for entry in looser(text)]


def test_arrays_of_an_edition_without_a_figure_are_compared_with_its_mated_pair():
    text = '[order]\nedition = "568-C.3"\n[allowances]\narray_pair_db = 0.76\n'
    assert [entry["key"] for entry in looser(text)] == ["allowances.array_pair_db"]


def test_an_own_allowance_in_place_of_an_end_allowance_that_is_not_known_is_listed():
    text = '[order]\nstandard = "ISO"\n[allowances]\nmated_pair_db = 0.5\n'
    assert "not known here" in looser(text)[0]["what"]


def test_rules_in_force_say_who_ordered_and_what_the_owner_does():
    job = job_of('[order]\nedition = "568.3-D"\n[rules]\nmarginal = "fail"\n[required]\ndirections = 2\n')
    verdicts, linked, _ = judged(om4(), om4("B", reference=None), job=job)
    rules = rules_in_force(verdicts.facts, job, linked.link_of_record)
    assert rules == [
        "allowances of TIA-568.3-D for 2 links (said by: job)",
        "one-cord reference for 1 link (said by: file)",
        "one-cord reference for 1 link (assumed)",
        decision_rules()["simple acceptance with flag"].sentence,
        "a pass within the measurement accuracy counts as a fail",
        "loss is required in both directions",
    ]


def test_rules_in_force_say_that_nothing_was_ordered():
    verdicts, linked, _ = judged(om4(), om4())
    assert rules_in_force(verdicts.facts, job_of(""), linked.link_of_record)[0] == (
        "allowances of TIA-568.3-E for 1 link (nothing else was ordered: the newest edition known here)"
    )
