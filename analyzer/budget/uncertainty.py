"""How sure a verdict is: probability of conformance, guard bands, decision rules.

Symbols as in JCGM 106:2012: y measured value, u standard uncertainty, U = k u expanded uncertainty, T limit, w guard
band, Phi the normal distribution function. The clauses are recalled; the published examples of
tests/budget/data/decision_checks.csv come out (four of them read, the others recalled and recomputed).

A tester's stated accuracy a is a bound, not a standard deviation. The bands of a verdict need no distribution: they
compare the margin with a itself (`expanded = a`). Only a probability needs one, and whoever prints it says which:
`TAKEN_AS` lists the choices, `standard_uncertainty` applies one.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt

from analyzer import standards
from analyzer.errors import OptionError

Numbers = npt.ArrayLike
Sense = Literal["ceiling", "floor"]

TAKEN_AS: Final = {"even spread": 3.0**0.5, "coverage k=2": 2.0}
"""Divisor that makes a standard uncertainty of a stated accuracy, by what the accuracy is taken for."""

TAKEN_AS_WORDS: Final = {
    "even spread": "the stated accuracy is taken as a bound within which every error is equally likely: u = a / sqrt(3)",
    "coverage k=2": "the stated accuracy is taken to cover 95 of 100 errors: u = a / 2",
}
"""The sentence that stands beside every probability."""

VERDICTS: Final = ("fail", "marginal fail", "marginal pass", "pass")
"""Verdicts by code; a higher code is never given to a lower margin. NOT_JUDGED stands for a missing number."""

NOT_JUDGED: Final = -1
ZERO_MARGIN: Final = 1e-9
"""A margin this near to nothing is nothing, and passes."""
DEFAULT_RULE: Final = "simple acceptance with flag"


def standard_uncertainty(accuracy: Numbers, taken_as: str = "even spread") -> Any:
    """Standard uncertainty u of a stated accuracy a [same unit]; NaN where it is unknown.

    "even spread": u = a / sqrt(3), the rectangular distribution of half-width a (GUM, JCGM 100:2008, 4.3.7; recalled).
    "coverage k=2": u = a / 2, a taken as U at about 95 % (4.3.4; recalled).

    Raises:
        OptionError: `taken_as` is neither.
    """
    if taken_as not in TAKEN_AS:
        raise OptionError(f"an accuracy cannot be taken as {taken_as!r}; known are {', '.join(TAKEN_AS)}")
    return _numbers(accuracy) / TAKEN_AS[taken_as]


def combined(*uncertainties: Numbers) -> Any:
    """Independent standard uncertainties together: u = sqrt(u1^2 + u2^2 + ...) (JCGM 100:2008, 5.1.2; recalled).

    A common error (one bad reference for all readings) is not independent and must not go in twice.
    """
    total = np.zeros(())
    for each in uncertainties:
        total = total + _numbers(each) ** 2
    return np.sqrt(total)[()]


def margin_of(value: Numbers, limit: Numbers, sense: Sense = "ceiling") -> Any:
    """Distance to the limit, positive on the good side; |margin| up to 1e-9 is 0."""
    margin = _numbers(limit) - _numbers(value) if _is_ceiling(sense) else _numbers(value) - _numbers(limit)
    return np.where(np.abs(margin) <= ZERO_MARGIN, 0.0, margin)[()]


def p_conform(value: Numbers, limit: Numbers, u: Numbers, sense: Sense = "ceiling") -> Any:
    """Probability that the true value keeps the limit, arrays or numbers alike.

    ceiling: p = Phi((T - y) / u);  floor: p = Phi((y - T) / u)   (JCGM 106:2012, 7.4, vague prior; recalled)

    At the limit p = 0.5 whatever u is. u = 0 makes a step (0.5 at the limit); a NaN, or u below zero, gives NaN.
    Errors of the readings of one link go together: never multiply their probabilities, give the lowest.
    """
    return _phi_ratio(margin_of(value, limit, sense), _numbers(u))


def p_conform_between(value: Numbers, low: Numbers, high: Numbers, u: Numbers) -> Any:
    """Probability that the true value lies between two limits.

    p = Phi((T_U - y) / u) - Phi((T_L - y) / u)   (JCGM 106:2012, 7.5; recalled)
    """
    spread = _numbers(u)
    return _phi_ratio(_numbers(high) - _numbers(value), spread) - _phi_ratio(_numbers(low) - _numbers(value), spread)


def guard_band(u: Numbers, probability: float) -> Any:
    """Margin that makes a conformance probability sure: w = z(p) u, z the normal quantile [unit of u].

    (JCGM 106:2012, 8.3.2, with p_conform solved for the margin; recalled.) p = 0.95 gives 1.645 u; p below a half gives
    a band outside the limit.

    Raises:
        OptionError: the probability does not lie between 0 and 1.
    """
    from scipy.special import ndtri  # type: ignore[import-untyped]  # scipy brings no types

    if not 0 < probability < 1:
        raise OptionError(f"a probability lies between 0 and 1, not at {probability}")
    return _numbers(u) * float(ndtri(probability))


@dataclass(frozen=True)
class DecisionRule:
    """One row of decision_rules.csv."""

    name: str
    accept_guard: float
    """pass from a margin of this many U"""
    reject_guard: float
    """fail below a margin of minus this many U"""
    accepts: tuple[str, ...]
    words: str
    risk: str
    row_id: str
    source: str

    @property
    def accept_from(self) -> float:
        """Least accepted margin in units of U: the acceptance limit."""
        if "marginal fail" in self.accepts:
            return -self.reject_guard
        return 0.0 if "marginal pass" in self.accepts else self.accept_guard

    @property
    def sentence(self) -> str:
        """The rule, its risk and its source, for print."""
        return f"decision rule: {self.name} ({self.words}); risk: {self.risk} ({self.source})"


def decision_rules(values: standards.Values | None = None) -> dict[str, DecisionRule]:
    """Every rule by its name."""
    return _rules(values or standards.load())


def decide(
    value: Numbers,
    limit: Numbers,
    expanded: Numbers,
    rule: str = DEFAULT_RULE,
    sense: Sense = "ceiling",
    values: standards.Values | None = None,
) -> Any:
    """Verdict of each reading under a decision rule, as a code into `VERDICTS` (int8); NOT_JUDGED where one is missing.

    Args:
        value: measured values.
        limit: their limits.
        expanded: expanded uncertainty U = 2 u, or the stated accuracy itself. NaN: unknown, then nothing is marginal;
            what a rule accepts or rejects only beyond a guard band is then NOT_JUDGED.
        rule: a name of decision_rules.csv.
        sense: "ceiling" (loss) or "floor" (return loss).
        values: values in force.

    Returns:
        pass beyond accept_guard x U, fail beyond -reject_guard x U, between them marginal pass from a margin of 0, else
        marginal fail; `decide_margin` says what holds at the edges. For a given limit and U a better value never has a
        worse code.

    Raises:
        OptionError: unknown rule or sense.

    Source: bands of ILAC-G8:09/2019, 4.2 (as restated by the sources of decision_rules.csv), JCGM 106:2012, clause 8.
    """
    return decide_margin(margin_of(value, limit, sense), expanded, rule, values)


def decide_margin(
    margin: Numbers, expanded: Numbers, rule: str = DEFAULT_RULE, values: standards.Values | None = None
) -> Any:
    """`decide` for margins that are known already, positive on the good side: the one place of the rule.

    The edge of a band: a margin of exactly a is within the accuracy, so it is marginal, on either side of the limit.
    Only where the band is the condition of acceptance (a plain pass alone is accepted) does its edge belong to the
    pass: ILAC-G8 accepts at the acceptance limit itself.
    """
    chosen = _rule(rule, values)
    margin, band = np.broadcast_arrays(_numbers(margin), _numbers(expanded))
    unsure = np.isnan(margin) | (band < 0)
    if chosen.accept_from != 0:
        # without an accuracy only the side that the band cannot reach is sure
        unsure |= np.isnan(band) & ((margin >= 0) == (chosen.accept_from > 0))
    band = np.where(band > 0, band, 0.0)
    edge = ZERO_MARGIN if "marginal pass" in chosen.accepts else -ZERO_MARGIN
    within_above = (margin < chosen.accept_guard * band + edge) & (band > 0)
    within_below = (margin >= -(chosen.reject_guard * band + ZERO_MARGIN)) & (chosen.reject_guard > 0) & (band > 0)
    codes = np.where(
        margin >= 0,
        np.where(within_above & (chosen.accept_guard > 0), 2, 3),
        np.where(within_below, 1, 0),
    )
    return np.where(unsure, NOT_JUDGED, codes).astype(np.int8)[()]


def conformance(margin: Numbers, accuracy: Numbers, taken_as: str = "even spread") -> Any:
    """`p_conform` of margins that are known already, with a stated accuracy; NaN where either is missing."""
    return _phi_ratio(_numbers(margin), standard_uncertainty(accuracy, taken_as))


def accepted(codes: Any, rule: str = DEFAULT_RULE, values: standards.Values | None = None) -> Any:
    """Whether the rule accepts each verdict code of `decide`; what was not judged is never accepted."""
    chosen = _rule(rule, values)
    return np.isin(codes, [VERDICTS.index(word) for word in chosen.accepts])


def worst_risk(rule: str, values: standards.Values | None = None, k: float = 2.0) -> tuple[float, float]:
    """Largest probability of accepting what does not conform, and of rejecting what does, at the edge of the rule.

    With the acceptance limit at a margin of r U and U = k u: wrong acceptance Phi(-k r), wrong rejection Phi(k r)
    (JCGM 106:2012, 9.3 read as a worst case; recalled). The published figures of decision_rules.csv come out.
    """
    from scipy.special import ndtr  # type: ignore[import-untyped]  # scipy brings no types

    edge = k * _rule(rule, values).accept_from
    return float(ndtr(-edge)), float(ndtr(edge))


@lru_cache(maxsize=8)
def _rules(values: standards.Values) -> dict[str, DecisionRule]:
    return {
        row["rule"]: DecisionRule(
            row["rule"], row["accept_guard"], row["reject_guard"], tuple(row["accepts"].split("|")), row["words"],
            row["risk"], row["row_id"], f"{row['document']}{', ' + row['clause'] if row['clause'] else ''}",
        )
        for row in values.rows("decision_rules")
    }  # fmt: skip


def _rule(name: str, values: standards.Values | None) -> DecisionRule:
    rules = decision_rules(values)
    if name not in rules:
        raise OptionError(f"decision rule {name!r} is not known; known are {', '.join(rules)}")
    return rules[name]


def _is_ceiling(sense: str) -> bool:
    if sense not in {"ceiling", "floor"}:
        raise OptionError(f"a limit is a ceiling or a floor, not {sense!r}")
    return sense == "ceiling"


def _phi_ratio(margin: Any, u: Any) -> Any:
    """Phi(margin / u); a step where u is 0."""
    if np.isnan(np.asarray(margin) + np.asarray(u)).all():  # nothing to ask: spares a small check loading scipy
        return np.full(np.broadcast_shapes(np.shape(margin), np.shape(u)), np.nan)[()]
    from scipy.special import ndtr  # type: ignore[import-untyped]  # scipy brings no types

    with np.errstate(divide="ignore", invalid="ignore"):
        p = ndtr(np.divide(margin, u))
    p = np.where((u == 0) & ~np.isnan(margin), 0.5 + 0.5 * np.sign(margin), p)
    return np.where(u < 0, np.nan, p)[()]


def _numbers(value: Numbers) -> Any:
    return np.asarray(value, dtype=np.float64)[()]
