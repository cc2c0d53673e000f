"""What a batch of like links really loses per kilometer, per mating and per splice, and which links are off its line.

    loss = attenuation x length + mating loss x matings + splice loss x splices

fitted robustly, so that a tenth of bad links does not move it:

1. attenuation: Theil-Sen, the median of the slopes between all pairs of links with the same counts of matings and
   splices. With one such group it is scipy.stats.theilslopes; scipy has no form for several groups;
2. matings and splices: the medians, per group, of what the cable leaves over, shared out by least squares.

Only links of one fiber type, wavelength and reference method belong together. The model goes through zero: a wrong
reference shifts all links alike and shows as mating loss, unless the counts differ widely.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt

from analyzer.errors import OptionError

if TYPE_CHECKING:
    import pandas as pd

FEWEST_LINKS: Final = 8
MOST_IN_PAIRS: Final = 500
"""Links of one group whose pairs are looked at; of more, evenly spaced ones in the order of length."""
FAR_OFF: Final = 3.5
"""Robust standard deviations from the line at which a link is off it (a usual cut for modified z-scores; no source)."""
LEAST_OFF_DB: Final = 0.1
"""Nearer than this a link is never off the line (common practice, no source)."""
NORMAL_MAD: Final = 1.482602218505602
"""Standard deviation of a normal distribution in units of its median absolute deviation: 1 / Phi^-1(0.75)."""

Vector = npt.NDArray[np.float64]


class Estimate(NamedTuple):
    """A fitted figure and its interval; NaN where the batch cannot tell it."""

    value: float
    low: float
    high: float


UNKNOWN: Final = Estimate(np.nan, np.nan, np.nan)


@dataclass(frozen=True)
class BatchFit:
    """What one batch has."""

    attenuation_db_per_km: Estimate
    mating_db: Estimate
    splice_db: Estimate
    spread_db: float
    """Robust standard deviation of the links about the line [dB]."""
    expected_db: Vector
    """Loss on the line for each link given; NaN where a number of the link is missing."""
    off_line: npt.NDArray[np.int8]
    """1 loses far more than the batch, -1 far less, 0 neither."""
    links_used: int
    notes: tuple[str, ...]
    """What could not be told apart, one sentence each."""


def fit_batch(
    loss_db: npt.ArrayLike,
    length_m: npt.ArrayLike,
    matings: npt.ArrayLike,
    splices: npt.ArrayLike | None = None,
    confidence: float = 0.95,
) -> BatchFit | None:
    """Fit one batch of like links; None where fewer than 8 have all numbers.

    Args:
        loss_db: measured loss of each link [dB].
        length_m: length [m].
        matings: matings in the reading.
        splices: splices; none where not given.
        confidence: of the intervals.

    Returns:
        The fit. The interval of the attenuation is distribution-free (Sen 1968, from the variance of Kendall's S with
        ties, as in scipy.stats.theilslopes; groups add up their variances). Those of mating and splice loss are normal
        approximations: spread of the medians together with the doubt of the attenuation.

    Raises:
        OptionError: columns of unlike length, or a confidence outside 0 to 1.
    """
    columns = [np.asarray(each, dtype=np.float64) for each in (loss_db, length_m, matings)]
    columns.append(np.zeros(len(columns[0])) if splices is None else np.asarray(splices, dtype=np.float64))
    if len({len(each) for each in columns}) != 1:
        raise OptionError("loss, length, matings and splices of a batch must be columns of one length")
    if not 0 < confidence < 1:
        raise OptionError(f"a confidence lies between 0 and 1, not at {confidence}")
    complete = np.all(np.isfinite(columns), axis=0)
    loss, length, pairs, joints = (each[complete] for each in columns)
    if len(loss) < FEWEST_LINKS:
        return None
    counts, group = np.unique(np.column_stack([pairs, joints]), axis=0, return_inverse=True)
    group = group.ravel()
    slope = _slope(loss, length, group, confidence)
    if np.isnan(slope.value):
        return _undetermined(complete)
    rest = loss - slope.value * length
    shares, notes = _shares(rest, length, counts, group, slope, confidence)
    line = slope.value * length + _on_line(rest, counts, group, shares)
    residual = loss - line
    spread_db = float(NORMAL_MAD * np.median(np.abs(residual - np.median(residual))))
    far = np.abs(residual) > max(FAR_OFF * spread_db, LEAST_OFF_DB)
    expected_db, off_line = np.full(len(complete), np.nan), np.zeros(len(complete), dtype=np.int8)
    expected_db[complete] = line
    off_line[complete] = np.where(far, np.sign(residual), 0)
    per_km = Estimate(*(1000 * each for each in slope))
    return BatchFit(per_km, *shares, spread_db, expected_db, off_line, len(loss), notes)


def fit_batches(readings: pd.DataFrame, confidence: float = 0.95) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Fit every batch of a table of loss readings.

    Args:
        readings: one row each, with `type`, `wavelength_nm`, `reference` (these three make a batch), `length_m`,
            `matings`, `splices`, `value` [dB]; any further column `batch` splits further.
        confidence: of the intervals.

    Returns:
        One row per batch that could be fitted: its keys, `links_used`, `spread_db`, and value, low and high of
        `attenuation_db_per_km`, `mating_db`, `splice_db`, `note`. And a frame of the index of `readings`:
        `line_db`, `off_line` (1 far more, -1 far less, 0 neither).
    """
    import pandas as pd

    keys = [name for name in ("type", "wavelength_nm", "reference", "batch") if name in readings]
    each = pd.DataFrame({"line_db": np.nan, "off_line": np.int8(0)}, index=readings.index)
    fits = []
    groups: dict[tuple[Any, ...], Any] = dict(readings.groupby(keys, observed=True).indices)  # type: ignore[arg-type]  # several keys make tuples
    for key, positions in sorted(groups.items(), key=lambda item: str(item[0])):
        rows = readings.iloc[positions]
        fit = fit_batch(rows["value"], rows["length_m"], rows["matings"], rows["splices"], confidence)
        if fit is None:
            continue
        each.iloc[positions, 0] = fit.expected_db
        each.iloc[positions, 1] = fit.off_line
        fits.append(dict(zip(keys, key, strict=True)) | _flat(fit))
    columns = [*keys, "links_used", "spread_db", *_FIGURES, "note"]
    return pd.DataFrame(fits, columns=columns), each


_FIGURES: Final = tuple(
    f"{name}{end}" for name in ("attenuation_db_per_km", "mating_db", "splice_db") for end in ("", "_low", "_high")
)


def _flat(fit: BatchFit) -> dict[str, Any]:
    figures = (*fit.attenuation_db_per_km, *fit.mating_db, *fit.splice_db)
    return {
        "links_used": fit.links_used, "spread_db": fit.spread_db, **dict(zip(_FIGURES, figures, strict=True)),
        "note": "; ".join(fit.notes),
    }  # fmt: skip


def _undetermined(complete: npt.NDArray[np.bool_]) -> BatchFit:
    size = len(complete)
    note = "all links with the same counts have one length: cable and connections cannot be told apart"
    return BatchFit(
        UNKNOWN, UNKNOWN, UNKNOWN, np.nan, np.full(size, np.nan), np.zeros(size, dtype=np.int8), int(complete.sum()),
        (note,),
    )  # fmt: skip


def _slope(loss: Vector, length: Vector, group: npt.NDArray[np.intp], confidence: float) -> Estimate:
    """Median of the slopes within groups [dB/m] and its interval."""
    from scipy.special import ndtri  # type: ignore[import-untyped]  # scipy brings no types

    slopes, variance = [], 0.0
    for number in range(int(group.max()) + 1):
        inside = np.flatnonzero(group == number)
        inside = _thinned(inside[np.lexsort((loss[inside], length[inside]))])
        x, y = length[inside], loss[inside]
        first, second = np.triu_indices(len(x), 1)
        run = x[second] - x[first]
        apart = run > 0
        slopes.append((y[second] - y[first])[apart] / run[apart])
        variance += _kendall_variance(x, y)
    every = np.sort(np.concatenate(slopes))
    if len(every) == 0:
        return UNKNOWN
    z = float(ndtri((1 + confidence) / 2))
    reach = z * np.sqrt(variance)
    # ranks as scipy.stats.theilslopes takes them
    upper = min(round((len(every) + reach) / 2), len(every) - 1)
    lower = max(round((len(every) - reach) / 2) - 1, 0)
    return Estimate(float(np.median(every)), float(every[lower]), float(every[upper]))


def _thinned(order: npt.NDArray[np.intp]) -> npt.NDArray[np.intp]:
    if len(order) <= MOST_IN_PAIRS:
        return order
    return order[np.linspace(0, len(order) - 1, MOST_IN_PAIRS).round().astype(np.intp)]


def _kendall_variance(x: Vector, y: Vector) -> float:
    """Variance of Kendall's S with ties in either column (Sen 1968, equation 2.6, as scipy cites it)."""

    def term(size: Any) -> Any:
        return size * (size - 1) * (2 * size + 5)

    ties = [np.unique(each, return_counts=True)[1].astype(np.float64) for each in (x, y)]
    return float(max(term(float(len(x))) - sum(np.sum(term(each)) for each in ties), 0.0) / 18)


def _shares(
    rest: Vector, length: Vector, counts: Vector, group: npt.NDArray[np.intp], slope: Estimate, confidence: float
) -> tuple[tuple[Estimate, Estimate], tuple[str, ...]]:
    """What one mating and one splice lose [dB], from the medians of what the cable leaves over."""
    from scipy.special import ndtri

    size = np.bincount(group).astype(np.float64)
    median = np.array([np.median(rest[group == number]) for number in range(len(counts))])
    there = np.flatnonzero(np.any(counts > 0, axis=0))
    shares = [UNKNOWN, UNKNOWN]
    if len(there) == 0:
        return (shares[0], shares[1]), ("no mating and no splice stands in these readings",)
    weight = np.sqrt(size)[:, None]
    design = counts[:, there]
    if np.linalg.matrix_rank(design) < len(there):
        return (shares[0], shares[1]), (
            "matings and splices go together in these links: what one of them loses cannot be told apart",
        )
    solve = np.linalg.pinv(design * weight) * weight.T
    found = solve @ median
    residual = rest - design[group] @ found
    freedom = max(len(rest) - len(there) - 1, 1)
    deviation = NORMAL_MAD * np.median(np.abs(residual)) * np.sqrt(len(rest) / freedom)
    z = float(ndtri((1 + confidence) / 2))
    slope_error = (slope.high - slope.low) / (2 * z)
    middle = np.array([np.mean(length[group == number]) for number in range(len(counts))])
    # a median spreads sqrt(pi / 2) as widely as a mean; the doubt of the slope is shared by all groups
    covariance = np.diag(np.pi / 2 * deviation**2 / size) + slope_error**2 * np.outer(middle, middle)
    errors = z * np.sqrt(np.diag(solve @ covariance @ solve.T))
    for place, value, error in zip(there, found, errors, strict=True):
        shares[int(place)] = Estimate(float(value), float(value - error), float(value + error))
    return (shares[0], shares[1]), ()


def _on_line(
    rest: Vector, counts: Vector, group: npt.NDArray[np.intp], shares: tuple[Estimate, Estimate]
) -> Vector | float:
    """Loss of matings and splices on the line; the median of each group where they cannot be told apart."""
    values = np.array([share.value for share in shares])
    there = np.any(counts > 0, axis=0)
    if not there.any():
        return 0.0
    if np.isnan(values[there]).any():
        return np.asarray([np.median(rest[group == number]) for number in range(len(counts))])[group]
    return np.asarray(counts[group][:, there] @ values[there])
