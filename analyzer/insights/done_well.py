"""Links that pass and yet lose more than links done well: a screening, with what chance alone would give beside it.

Three of a hundred links done well lie above their 97 % line by construction. So the count that is seen is set beside
the count that chance gives, nothing is a warning unless chance does not explain it, and single links are named only
where even the number of links looked at does not explain their place.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from analyzer.budget.expected import worse_than_done_well
from analyzer.budget.loss_spread import LINE
from analyzer.budget.wording import printed
from analyzer.insights.chances import stands_out
from analyzer.insights.joined import Joined, counted
from analyzer.insights.register import finding
from analyzer.schema import Analysis, Evidence, Finding

BEYOND_CHANCE = 0.01
"""Probability below which a count is no longer put down to chance (a usual level, no source)."""
NAMED = 5


def worse_than_links_done_well(analysis: Analysis) -> list[Finding]:
    """At most one finding: a warning where the count is beyond chance or links stand out for sure, else a note."""
    links = screened(analysis)
    above = links["above"].to_numpy()
    seen, looked_at = int(above.sum()), len(links)
    if not seen:
        return []
    by_chance = looked_at * (1 - LINE)
    worst = links[above & stands_out(links["p"].to_numpy())].sort_values(["p", "link"], kind="stable")
    text = (
        f"{seen} of {looked_at} links that pass {'loses' if seen == 1 else 'lose'} more than 97 of 100 such links done "
        f"well; chance alone gives about {by_chance:.1f}"
    )
    if p_of_count(seen, looked_at) >= BEYOND_CHANCE and worst.empty:
        return [finding("above-the-line", text, evidence=_evidence(analysis, links[above], looked_at, by_chance))]
    evidence = _evidence(analysis, links[above] if worst.empty else worst, looked_at, by_chance)
    return [
        finding("worse-than-done-well", text + _named(worst, analysis), _labels(worst, analysis), evidence=evidence)
    ]


def _evidence(analysis: Analysis, worst: pd.DataFrame, looked_at: int, by_chance: float) -> list[Evidence]:
    """What was looked at, what chance gives, and the readings that stand out most, each with its line."""
    head = worst.sort_values(["p", "link"], kind="stable").head(NAMED)
    lines = [
        counted(f"{label}: 97 of 100 done well stay under", line, "dB")
        for label, line in zip(_labels(head, analysis), head["expected_97_db"], strict=True)
    ]
    readings = Joined(analysis).of_readings(head["reading"].to_numpy())
    return [
        counted("links that pass and have a line", looked_at), counted("above it by chance alone", by_chance),
        *(piece for pair in zip(readings, lines, strict=True) for piece in pair),
    ]  # fmt: skip


def screened(analysis: Analysis) -> pd.DataFrame:
    """One row per passing link that has a place among links done well.

    Columns: `link`, `p` (of its worst reading, times the readings of the link), `above` (beyond the 97 % line by more
    than its accuracy), and that reading's `value`, `expected_97_db`, `wave`. The readings of a link share its connections: p times their number (Bonferroni) never says too much.
    """
    readings, judged = analysis.readings, analysis.judged
    use = (
        judged["in_force"]
        & judged["counts"]
        & judged["verdict"].isin(["pass", "marginal pass"])
        & judged["place"].notna()
    ).to_numpy()
    link = analysis.records["link"].to_numpy()[readings["record"].to_numpy()[use]]
    rows = pd.DataFrame(
        {
            "link": link,
            "p": 1.0 - judged["place"].to_numpy()[use],
            "value": readings["value"].to_numpy()[use],
            "expected_97_db": judged["expected_97_db"].to_numpy()[use],
            "accuracy": judged["accuracy"].to_numpy()[use],
            "wave": judged["judged_wavelength_nm"].to_numpy()[use],
            "reading": np.flatnonzero(use),
        }
    )
    rows = rows[(analysis.links["verdict"] != "fail").to_numpy()[link]]
    count = rows.groupby("link")["p"].transform("size")
    rows["p"] = np.minimum(rows["p"] * count, 1.0)
    rows = rows.sort_values(["link", "p"], kind="stable").drop_duplicates("link").reset_index(drop=True)
    beyond = worse_than_done_well(rows["value"], rows["expected_97_db"], rows["accuracy"])
    out: pd.DataFrame = rows.assign(above=beyond & (rows["p"] <= 1 - LINE))
    return out


def p_of_count(seen: int, looked_at: int) -> float:
    """Probability that chance alone puts at least `seen` of `looked_at` links above their 97 % line: binomial tail.

    P(X >= k) = I(0.03; k, n - k + 1), I the regularized incomplete beta function.
    """
    from scipy.special import betainc  # type: ignore[import-untyped]  # scipy brings no types

    return 1.0 if seen == 0 else float(betainc(seen, looked_at - seen + 1, 1 - LINE))


def _named(worst: pd.DataFrame, analysis: Analysis) -> str:
    if worst.empty:
        return ": no single link stands out, the whole lot does"
    head = worst.iloc[:NAMED]
    values, lines = printed(head["value"].to_numpy()), printed(head["expected_97_db"].to_numpy())
    named = [
        f"{label} {value} dB at {wave} nm where 97 of 100 stay under {line} dB"
        for label, value, wave, line in zip(_labels(head, analysis), values, head["wave"], lines, strict=True)
    ]
    rest = f"; and {len(worst) - NAMED} more" if len(worst) > NAMED else ""
    return f"; beyond chance: {', '.join(named)}{rest}"


def _labels(rows: pd.DataFrame, analysis: Analysis) -> list[str]:
    return analysis.links["label"].take(rows["link"].to_numpy()).tolist()
