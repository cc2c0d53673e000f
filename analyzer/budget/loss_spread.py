"""How the loss of components adds up when each of them varies: fit of one, convolution of all.

One component: a gamma distribution with the published mean and 97 % value. A gamma is never negative, is fixed by
these two figures alone, and is what the trade's physics suggests: the loss of a joint is close to a sum of squares of
normally spread errors (offset across two axes, tilt, size of the mode), and sums of squared normal errors are gamma or
nearly so. docs/planning.md compares it with the lognormal and the Weibull distribution through the same two figures.

All components: the convolution on a fine grid. Cable has no spread here and only shifts the sum, so that links of any
length share one curve per combination of counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from analyzer.errors import OptionError

STEP_DB = 0.0005
MOST_POINTS = 2**18
LINE = 0.97
"""The share of good links that stay under the line: the one for which component grades are published."""

_LEAST_SHAPE, _LARGEST_SHAPE = 1.0, 1e9


class Spread(NamedTuple):
    """Loss of one component over many of them [dB]."""

    mean_db: float
    q97_db: float


class Gamma(NamedTuple):
    """Gamma distribution of a loss: mean = shape x scale_db."""

    shape: float
    scale_db: float


@dataclass(frozen=True)
class Curve:
    """Distribution of a sum of component losses: `share` of links lose at most `loss_db`; linear between the points."""

    loss_db: npt.NDArray[np.float64]
    share: npt.NDArray[np.float64]

    def share_below(self, loss_db: Any) -> Any:
        """Share of links done well that lose less, 0 to 1; NaN in, NaN out."""
        found = np.interp(loss_db, self.loss_db, self.share, left=0.0, right=1.0)
        return np.where(np.isnan(loss_db), np.nan, found)[()]

    def loss_at(self, share: Any) -> Any:
        """Loss that this share of links stays under [dB]."""
        return np.interp(share, self.share, self.loss_db)


@lru_cache(maxsize=256)
def fit_gamma(spread: Spread) -> Gamma:
    """The gamma distribution with this mean and this 97 % value.

    Solves q97 / mean = G(0.97; k) / k for the shape k, G the inverse of the regularized gamma function
    (scipy.special.gammaincinv). From k = 1 on the right side falls steadily from 3.51 to 1, so that there is one answer
    by bisection; a shape below 1 would mean that a perfect joint is the likeliest, which no grade says.

    Raises:
        OptionError: the 97 % value is not above the mean, or more than 3.5 times the mean.
    """
    from scipy.special import gammaincinv  # type: ignore[import-untyped]  # scipy brings no types

    mean_db, q97_db = spread
    if not (mean_db > 0 and mean_db < q97_db < np.inf):
        raise OptionError(f"a mean of {mean_db:g} dB and a 97 % value of {q97_db:g} dB fit no distribution of a loss")
    wanted = q97_db / mean_db
    low, high = np.log(_LEAST_SHAPE), np.log(_LARGEST_SHAPE)
    if wanted > gammaincinv(_LEAST_SHAPE, LINE):
        raise OptionError(
            f"a 97 % value of {q97_db:g} dB is too far above a mean of {mean_db:g} dB; it may be 3.5 times the mean"
        )
    for _ in range(80):
        middle = (low + high) / 2
        shape = np.exp(middle)
        low, high = (middle, high) if gammaincinv(shape, LINE) / shape > wanted else (low, middle)
    shape = float(np.exp((low + high) / 2))
    return Gamma(shape, mean_db / shape)


@lru_cache(maxsize=512)
def sum_curve(parts: tuple[tuple[Spread, int], ...]) -> Curve | None:
    """Distribution of the loss of all components together; None where there is none of any.

    Args:
        parts: (spread of one component, how many of it), independent of each other.

    Returns:
        The curve on a grid of 0.0005 dB (see `_grid`). Each component is laid on the grid with the probability of the cell around each
        point; the transform of the sum is the product of the transforms, each to the power of its count.
    """
    parts = tuple((spread, count) for spread, count in parts if count > 0)
    if not parts:
        return None
    gammas = [(fit_gamma(spread), count) for spread, count in parts]
    size, step_db = _grid(gammas)
    transform = np.ones(size // 2 + 1, dtype=np.complex128)
    for gamma, count in gammas:
        transform *= np.fft.rfft(_mass(gamma, size, step_db)) ** count
    mass = np.maximum(np.fft.irfft(transform, size), 0.0)
    share = np.cumsum(mass)
    share /= share[-1]
    loss_db = (np.arange(size) + 0.5) * step_db
    used = int(np.searchsorted(share, 1.0 - 1e-12)) + 1
    return Curve(np.concatenate([[0.0], loss_db[:used]]), np.concatenate([[0.0], share[:used]]))


def _grid(gammas: list[tuple[Gamma, int]]) -> tuple[int, float]:
    """Points and step of a grid so long that nothing of the sum lies beyond it, where it would come back at its start.

    The step is 0.0005 dB, coarser where absurd counts would need too many points.
    """
    mean_db = sum(count * gamma.shape * gamma.scale_db for gamma, count in gammas)
    deviation_db = sum(count * gamma.shape * gamma.scale_db**2 for gamma, count in gammas) ** 0.5
    largest_scale_db = max(gamma.scale_db for gamma, _ in gammas)
    reach_db = mean_db + 10 * deviation_db + 30 * largest_scale_db
    step_db = STEP_DB * max(1.0, reach_db / STEP_DB / MOST_POINTS)
    return int(2 ** np.ceil(np.log2(reach_db / step_db))), step_db


def _mass(gamma: Gamma, size: int, step_db: float) -> npt.NDArray[np.float64]:
    """Probability of each cell; the first reaches from 0 to half a step."""
    from scipy.special import gammainc

    edges_db = (np.arange(size) + 0.5) * step_db
    below = gammainc(gamma.shape, edges_db / gamma.scale_db)
    return np.asarray(np.diff(below, prepend=0.0), dtype=np.float64)
