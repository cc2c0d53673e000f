"""ACR-F from far-end crosstalk: FEXT less the insertion loss of the disturbed pair.

The definition is that of ISO/IEC 11801-1 and TIA-568.2-D (ACR-F_ik = FEXT_ik - IL_k), from memory; it is worked out here
point by point in plain Python. Which of two pairs is disturbed, a heading such as `FEXT 12-36` does not say.
"""

import math

import numpy as np
import pytest
from test_curves import GRID, VALUES, given_curves, of, reason

from analyzer import analyze, schema
from analyzer.budget.curves import judge_curves
from analyzer.standards import limit, limit_lines

SINGLES, COMBINED = schema.CATEGORIES["pair"][:4], schema.CATEGORIES["pair"][4:]
RATIO = limit("ACR-F", grade="6A", configuration="permanent link", frequency_mhz=GRID, values=VALUES)
LOSS = {pair: (1.0 + 0.02 * number) * 1.5 * np.sqrt(GRID) for number, pair in enumerate(SINGLES)}


def lines_for(_, parameter):
    if "FEXT" in parameter:
        return ()
    return limit_lines(VALUES, parameter=parameter, grade="6A", configuration="permanent link")


def losses(end="A"):
    return [(0, "insertion loss", pair, end, GRID, LOSS[pair]) for pair in SINGLES]


def fext(above, end="A", combined=COMBINED):
    """Far-end crosstalk whose ratio is `above` the limit with the loss of the pair that loses more."""
    lost = {name: np.maximum(*(LOSS[pair] for pair in name.split("/"))) for name in combined}
    return [(0, "FEXT", name, end, GRID, RATIO + above + lost[name]) for name in combined]


def judged(*rows, **more):
    curves, points = given_curves(*rows)
    return judge_curves(curves, points, lines_for, **more)


def test_ratio_is_crosstalk_less_the_greater_loss():
    rows = [*losses(), *fext(2.0)]
    result = judged(*rows)
    numbers = result.curves[result.curves["parameter"] == "ACR-F"]["curve"].tolist()
    assert len(numbers) == 6
    by_pair = {(row[1], row[2]): row[5] for row in rows}
    for number in numbers:
        name = result.curves["pair"].iloc[number]
        one, other = name.split("/")
        for at in (0, 57, len(GRID) - 1):
            more = max(by_pair["insertion loss", one][at], by_pair["insertion loss", other][at])
            assert result.curve(number)[1][at] == pytest.approx(by_pair["FEXT", name][at] - more)
    row = of(result, "ACR-F", "1-2/3-6")
    assert (row["verdict"], reason(result, row)) == ("pass", "computed-curve")
    assert row["margin"] == pytest.approx(2.0)


def test_power_sum_is_that_of_the_three_ratios():
    result = judged(*losses(), *fext(5.0))
    held = {
        result.curves["pair"].iloc[n]: result.curve(n)[1] for n in result.curves.query("parameter == 'ACR-F'")["curve"]
    }
    (number,) = result.curves.query("parameter == 'PSACR-F' and pair == '3-6'")["curve"]
    three = [held[name][20] for name in ("1-2/3-6", "3-6/4-5", "3-6/7-8")]
    assert result.curve(number)[1][20] == pytest.approx(-10 * math.log10(sum(10 ** (-one / 10) for one in three)))


def test_what_fails_by_one_loss_and_passes_by_the_other_is_left_open():
    """Pairs 1-2 and 7-8 differ by 6 % of 33.5 dB at the top, 2 dB; the greater loss alone makes it fail."""
    result = judged(*losses(), *fext(-0.01))
    row = of(result, "ACR-F", "1-2/7-8")
    assert (row["verdict"], reason(result, row)) == ("not judged", "disturbed-pair-open")


def test_what_fails_by_both_losses_fails():
    result = judged(*losses(), *fext(-5.0))
    assert of(result, "ACR-F")["verdict"].tolist() == ["fail"] * 6
    assert of(result, "PSACR-F")["verdict"].tolist() == ["fail"] * 4


def test_a_power_sum_of_far_end_crosstalk_has_its_pair():
    above = limit("PSACR-F", grade="6A", configuration="permanent link", frequency_mhz=GRID, values=VALUES) + 1.0
    rows = [(0, "PSFEXT", pair, "A", GRID, above + LOSS[pair]) for pair in SINGLES]
    row = of(judged(*losses(), *rows), "PSACR-F", "7-8")
    assert (row["verdict"], row["margin"]) == ("pass", pytest.approx(1.0))


def test_crosstalk_that_stands_twice_gives_the_worse():
    twice = [*fext(4.0), *fext(2.0)]
    result = judged(*losses(), *twice)
    assert len(of(result, "ACR-F")) == 6
    assert of(result, "ACR-F", "1-2/3-6")["margin"] == pytest.approx(2.0)


def test_ratios_of_the_export_are_judged_and_compared():
    own = [(0, "ACR-F", name, "A", GRID, RATIO + 3.0) for name in COMBINED]
    result = judged(*losses(), *fext(4.0), *own)
    assert of(result, "ACR-F")["margin"].round(6).tolist() == [3.0] * 6
    assert set(result.differences["parameter"]) == {"ACR-F"}
    assert result.differences["difference_db"].max() == pytest.approx(1.0)


@pytest.mark.parametrize("rows", [fext(2.0), [*fext(2.0), *losses("B")]])
def test_crosstalk_itself_is_not_judged_and_says_why(rows):
    result = judged(*rows)
    row = of(result, "FEXT", "1-2/3-6")
    assert (row["verdict"], reason(result, row)) == ("not judged", "judged-as-ratio")


def test_no_loss_no_ratio():
    assert of(judged(*fext(2.0)), "ACR-F").empty


def test_rows_of_far_end_crosstalk_are_shown_and_not_judged(tmp_path):
    file = tmp_path / "rows.csv"
    file.write_text(
        "Link,Category,Configuration,Parameter,Pair,End,Frequency (MHz),Value (dB)\n"
        "C-01,6A,permanent link,FEXT,12-36,A,100,60.1\nC-01,6A,permanent link,NEXT,12-36,A,100,60.1\n",
        encoding="utf-8",
    )
    analysis = analyze([file])
    assert analysis.files["cells_used"].tolist() == [2]
    codes = analysis.reasons["code"].reindex(analysis.judged["reason"]).tolist()
    assert (analysis.judged["verdict"].iloc[0], codes[0]) == ("not judged", "judged-as-ratio")
    assert not analysis.judged["counts"].iloc[0]
