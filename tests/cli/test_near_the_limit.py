"""What the terminal, the JSON and the head say near a limit: the rule with its risk, the probability, what is looser.

OM4, 120 m, two mated pairs, one-cord: 1.86 dB at 850 nm (TIA-568.3-E; by hand in docs/verdicts.md). Invented results.
"""

import json

import pytest
from scipy import stats

from analyzer.cli.main import outcome

HEAD = "Label,Fiber type,Length (m),Mated pairs,Splices,Reference,850 nm Loss (dB),1300 nm Loss (dB)\n"


@pytest.fixture
def run(tmp_path, capsys):
    def checked(rule, *losses, more=()):
        rows = [f"A-{at},OM4,120,2,0,one-cord,{loss:.2f},1.00\n" for at, loss in enumerate(losses, start=1)]
        (tmp_path / "results.csv").write_text(HEAD + "".join(rows), encoding="utf-8")
        job = f'[order]\nedition = "568.3-E"\n[rules]\naccuracy_db = 0.1\ndecision = "{rule}"\n'
        (tmp_path / "job.toml").write_text(job, encoding="utf-8")
        code = outcome(["check", str(tmp_path), *more])
        return code, capsys.readouterr().out

    return checked


def words(text):
    return " ".join(text.split())


def test_the_rule_is_named_with_its_risk_and_how_the_accuracy_is_taken(run):
    code, told = run("guarded rejection", 1.90)
    told = words(told)
    assert code == 0
    assert "Decision rule: guarded rejection (rejected only if worse than the limit by more than U" in told
    assert "wrong acceptance up to 97.5 %" in told
    assert "every error is equally likely: u = a / sqrt(3)" in told
    assert "LOOSER than the standard: decision rule guarded rejection" in told
    assert "Beyond the limit, and accepted by the decision rule" in told
    # Phi(-0.04 / (0.1 / sqrt 3)) = 24 % (scipy.stats)
    assert f"with {stats.norm.cdf(-0.04, scale=0.1 / 3**0.5):.0%}".replace("%", " %") in told


def test_a_guarded_rule_fails_what_passes_too_near_and_says_why(run):
    code, told = run("guarded acceptance", 1.80, 1.70)
    told = words(told)
    assert code == 1
    assert "1 link fails" in told
    assert "Within the limit by less than the uncertainty of the measurement" in told
    assert "the rules in force do not accept that" in told


def test_far_from_the_limit_no_probability_is_printed(run):
    _, told = run("simple acceptance with flag", 1.00)
    assert "probability it keeps" not in words(told)


def test_the_json_holds_rule_probability_and_expectation(run):
    _, told = run("guarded acceptance", 1.80, more=["--json"])
    document = json.loads(told)
    assert document["decision"]["rule"] == "guarded acceptance"
    assert document["decision"]["risk"] == "wrong acceptance below 2.5 %"
    reading = document["links"][0]["readings"][0]
    assert reading["p_conform"] == pytest.approx(stats.norm.cdf(0.06, scale=0.1 / 3**0.5), abs=1e-9)
    assert reading["accuracy"] == 0.1
    # typical cable 2.5 dB/km x 120 m, and two matings of grade Bm: docs/planning.md
    assert 0.30 < reading["expected_db"] < reading["expected_97_db"] < 1.86
    assert reading["place"] > 0.99
    assert document["batches"] == []


def test_a_missing_end_allowance_is_told_before_everything_else(tmp_path, capsys):
    path = tmp_path / "results.csv"
    path.write_text(HEAD + "A-1,OM4,120,2,0,one-cord,0.50,0.40\n", encoding="utf-8")
    assert outcome(["check", str(path), "--standard", "ISO"]) == 1
    told = words(capsys.readouterr().out)
    first = told.index("SETTLE FIRST 2 readings are not judged")
    assert first < told.index("1 link is incomplete")
    assert "state it as allowances.end_pair_db in job.toml" in told[first:]
