"""Which limit, margin or verdict column belongs to which value column."""

from __future__ import annotations

from analyzer.importing.columns import Use


def companion(use: Use, others: list[Use], values: list[Use]) -> Use | None:
    """The limit, margin or verdict column that belongs to a value column: same words, else the next to its right."""

    def fits(other: Use) -> int:
        score = 0
        for name in ("parameter", "wavelength_nm", "direction", "pair", "end", "frequency_mhz"):
            mine, its = getattr(use, name), getattr(other, name)
            if its in {"", -1}:
                continue
            if mine in {"", -1}:
                if name in {"direction", "end"}:
                    return -1
                continue
            if mine != its:
                return -1
            score += 1
        return score

    ranked = [(fits(other), other) for other in others]
    best = max((score for score, _ in ranked), default=-1)
    if best > 0:
        equal = [other for score, other in ranked if score == best]
        specific = [other for other in equal if _nearest_value(other, values, fits_only=use) is use] or equal
        return min(specific, key=lambda other: (abs(other.col - use.col), other.col))
    vague = [other for score, other in ranked if score == 0]
    values = _speak_for(vague, values)
    if not vague or use not in values:
        return None
    if len(values) == 1:
        return vague[0]
    if len(vague) == 1:
        alike = {(value.parameter, value.wavelength_nm, value.pair) for value in values}
        return vague[0] if len(alike) == 1 else None
    following = [other for other in vague if _nearest_value(other, values) is use]
    return min(following, key=lambda other: abs(other.col - use.col)) if following else None


def _speak_for(vague: list[Use], values: list[Use]) -> list[Use]:
    """Value columns that a limit, margin or verdict without words can belong to.

    Where the rows name the parameter, the column of their values. A wire map has neither limit nor margin.
    """
    told_by_rows = [value for value in values if not value.parameter]
    if told_by_rows:
        return told_by_rows
    numbers = any(other.role in {"limit", "margin"} for other in vague)
    return [value for value in values if not (numbers and value.parameter == "wire map")]


def _nearest_value(other: Use, values: list[Use], fits_only: Use | None = None) -> Use | None:
    """The nearest value column to the left, which is the one a limit without words belongs to."""
    left = [value for value in values if value.col < other.col]
    if fits_only is not None:
        left = [
            value
            for value in left
            if (value.parameter, value.wavelength_nm) == (fits_only.parameter, fits_only.wavelength_nm)
        ]
    return max(left, key=lambda value: value.col, default=None)
