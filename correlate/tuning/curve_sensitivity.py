"""Sensitivity of a curve to each parameter over time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


POWER: Final = 9
"""Points of a base sample, as a power of two; each parameter costs one more sample of as many points."""
COLUMNS: Final = 240
"""Largest number of times at which a curve is examined."""
QUIET: Final = 0.02
"""No index is given where the spread is below this share of its largest value. Chosen here."""

ROUNDING: Final = 1e-9
"""Curves with a spread below this share of their size do not differ. Chosen here."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurveSensitivity:
    """Influence of the parameters on a curve, at each time.

    Attributes
    ----------
    time
        Shape ``(t,)``, s.
    spread
        Standard deviation of the curve while all parameters vary over their ranges, shape ``(t,)``, in the
        unit of the channel.
    first
        First-order Sobol' index of each parameter, the share of the variance that it explains alone,
        shape ``(d, t)``; nan where the spread is below ``QUIET`` of its largest.
    change
        Curve at the upper bound of each parameter minus that at its lower bound, the others averaged, shape
        ``(d, t)``, in the unit of the channel.
    share
        Share of the variance of all times together that each parameter explains alone, shape ``(d,)``.
    """

    time: Floats
    spread: Floats
    first: Floats
    change: Floats
    share: Floats

    @property
    def order(self) -> list[int]:
        """Columns of the parameters, the most influential first."""
        return [int(place) for place in np.argsort(-self.share, kind="stable")]


def curve_sensitivity(
    predict: Callable[[Floats], Floats], time: Floats, dimension: int, *, seed: int = 0, power: int = POWER
) -> CurveSensitivity:
    r"""Estimate first-order Sobol' indices of a curve at each time.

    .. math:: S_i(t) = \frac{\frac1N \sum_j f_{B,j}(t) \, (f_{AB_i,j}(t) - f_{A,j}(t))}{V(t)}

    Parameters
    ----------
    predict
        Maps points of the unit cube, shape ``(m, d)``, to curves of shape ``(m, t)``.
    time
        Shape ``(t,)``, s; at most ``COLUMNS`` of them are used.
    dimension
        Number of parameters, d.
    seed, power
        Of the Sobol' sample, and its size as a power of two.

    Returns
    -------
    CurveSensitivity

    References
    ----------
    .. [1] Saltelli, Annoni, Azzini, Campolongo, Ratto, Tarantola, Computer Physics Communications 181 (2010)
       259-270, table 2 (b); the mean is subtracted first, which lowers the sampling error.
    """
    from scipy.stats import qmc  # noqa: PLC0415 - slow to import

    at = np.unique(np.linspace(0, time.size - 1, min(COLUMNS, time.size)).round().astype(np.intp))
    both = qmc.Sobol(2 * dimension, rng=np.random.default_rng(seed)).random_base2(power)
    first, second = both[:, :dimension], both[:, dimension:]
    of_first, of_second = predict(first)[:, at], predict(second)[:, at]
    mean = 0.5 * (of_first.mean(axis=0) + of_second.mean(axis=0))
    of_first, of_second = of_first - mean, of_second - mean
    variance = 0.5 * (np.mean(of_first**2, axis=0) + np.mean(of_second**2, axis=0))
    explained, change = np.empty((2, dimension, at.size))
    for place in range(dimension):
        mixed = first.copy()
        mixed[:, place] = second[:, place]
        of_mixed = predict(mixed)[:, at] - mean
        explained[place] = np.mean(of_second * (of_mixed - of_first), axis=0)
        change[place] = _at_bound(predict, first, place, 1.0)[at] - _at_bound(predict, first, place, 0.0)[at]
    explained = np.maximum(explained, 0.0)
    least = max(QUIET * float(np.sqrt(variance.max())), ROUNDING * float(np.abs(mean).max()))
    quiet = variance <= least**2
    explained[:, quiet] = 0.0
    whole = float(variance[~quiet].sum())
    return CurveSensitivity(
        time=time[at],
        spread=np.sqrt(variance),
        first=np.where(quiet, np.nan, np.minimum(explained / np.where(quiet, 1.0, variance), 1.0)),
        change=change,
        share=explained.sum(axis=1) / whole if whole > 0 else np.zeros(dimension),
    )


def _at_bound(predict: Callable[[Floats], Floats], cube: Floats, place: int, bound: float) -> Floats:
    """Return the mean curve with a parameter at a bound, the others averaged, shape ``(t,)``."""
    points = cube[: len(cube) // 4].copy()
    points[:, place] = bound
    return np.asarray(predict(points).mean(axis=0))
