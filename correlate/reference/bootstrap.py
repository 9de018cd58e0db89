"""An interval for a mean over few repeats."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations_with_replacement
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

LEVEL: Final = 0.95
"""Nominal share of intervals that hold the true mean."""
MOST_EXACT: Final = 8
"""Up to so many repeats all resamples are counted instead of drawn."""
DRAWS: Final = 20_000
"""Resamples drawn beyond that."""
SEED: Final = 18571
"""Seed of the draws, fixed so that equal data give equal intervals."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """An interval and how it was found.

    Attributes
    ----------
    low, high
        Its ends.
    level
        Nominal share of such intervals that hold the true value.
    method
        In words.
    """

    low: float
    high: float
    level: float
    method: str


def interval_of_mean(values: Sequence[float], *, level: float = LEVEL) -> Interval:
    r"""Return a bootstrap interval for the mean of few independent values.

    The values are resampled with replacement. Plain percentiles are too narrow for few values, by the
    factor :math:`\sqrt{(n-1)/n}` and by taking normal for Student quantiles; the tail probability is
    therefore widened to :math:`\Phi(-\sqrt{n/(n-1)}\; t_{n-1})`. With up to eight values the distribution
    over all :math:`n^n` resamples is computed exactly.

    Parameters
    ----------
    values
        Three or more.
    level
        Between 0 and 1.

    Returns
    -------
    Interval
        It never reaches beyond the smallest and largest value, so with three to five values it holds the
        true mean less often than it says; ``docs/reference-data.md`` gives the measured share.

    Raises
    ------
    SettingsError
        Fewer than three values, or a level outside its range.

    References
    ----------
    .. [1] Efron, Tibshirani, "An introduction to the bootstrap" (1993): percentile interval.
    .. [2] Hesterberg, "What teachers should know about the bootstrap", The American Statistician 69 (2015):
       expanded percentiles for small samples, from memory.

    Examples
    --------
    >>> found = interval_of_mean([0.70, 0.72, 0.74, 0.76, 0.78])
    >>> round(found.low, 3), round(found.high, 3)
    (0.704, 0.776)
    """
    count = len(values)
    if count < 3 or not 0 < level < 1:
        raise SettingsError(
            f"{count} values at level {level!r} give no interval",
            remedy="give three or more, level in (0, 1)",
        )
    from scipy.stats import norm, t  # noqa: PLC0415 - only where needed

    student = float(t.ppf((1 + level) / 2, count - 1))
    tail = float(norm.cdf(-math.sqrt(count / (count - 1)) * student))
    exact = count <= MOST_EXACT
    means, weights = _all_means(values) if exact else _drawn_means(values)
    low, high = _quantiles(means, weights, tail), -_quantiles(-means, weights, tail)
    how = "all resamples" if exact else f"{DRAWS} resamples, seed {SEED}"
    return Interval(
        low=low, high=high, level=level, method=f"bootstrap over repeats, expanded percentiles, {how}"
    )


def _all_means(values: Sequence[float]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the mean of every multiset of the values, and the share of all resamples it stands for."""
    times, weights = _multisets(len(values))
    return np.asarray(times @ np.asarray(values) / len(values)), weights


@lru_cache(maxsize=MOST_EXACT)
def _multisets(count: int) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return how often each of so many values is in every multiset of as many, and the weights."""
    chosen = np.array(list(combinations_with_replacement(range(count), count)))
    times = np.stack([(chosen == index).sum(axis=1) for index in range(count)], axis=1)
    factorials = np.array([math.factorial(number) for number in range(count + 1)], dtype=np.float64)
    return times, factorials[count] / factorials[times].prod(axis=1) / float(count) ** count


def _drawn_means(values: Sequence[float]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    random = np.random.default_rng(SEED)
    drawn = random.integers(0, len(values), (DRAWS, len(values)))
    return np.asarray(np.asarray(values)[drawn].mean(axis=1)), np.full(DRAWS, 1 / DRAWS)


def _quantiles(means: NDArray[np.float64], weights: NDArray[np.float64], share: float) -> float:
    """Return the smallest mean at or below which lies the share of the weight."""
    order = np.argsort(means, kind="stable")
    below = np.cumsum(weights[order])
    return float(means[order][int(np.searchsorted(below, share * (1 - 1e-9)))])
