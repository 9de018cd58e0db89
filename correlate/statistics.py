"""Means and paired differences of few values, with Student's intervals.

Three to ten repeats are the rule in a laboratory, so nothing here takes a normal distribution for Student's,
and nothing that belongs together in pairs is treated as two independent samples.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from correlate.display import short_repr
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

Verdict = Literal["better", "worse", "not distinguishable"]

ROUNDING: Final = 1e-12
"""Ratings that are closer than this are equal: sums in another order differ by as much."""
WIDENING: Final = 0.2
"""Over the degrees of freedom, what is added to the width of a two-sided interval. Ratings are skewed: with
Student's t alone, equal models were called different in 7.0 % instead of 5 % of cases with 3 repeats. Found
by simulation; see ``docs/statistics.md``."""
FEW: Final = 8
"""numpy adds fewer values than this in order, so plain Python gives the same bits in a tenth of the time."""
LEVEL: Final = 0.95
"""Share of intervals that hold the true value, where nothing else is said."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A mean of few values and how well it is known.

    Attributes
    ----------
    value
        The mean.
    standard_error
        Of the mean; 0 where all values are equal.
    degrees
        Degrees of freedom of the standard error; need not be whole after a weighted sum.
    count
        Values behind it; the fewest of the parts after a weighted sum.
    """

    value: float
    standard_error: float
    degrees: float
    count: int

    def half_width(self, level: float = LEVEL) -> float:
        """Return half the width of the two-sided interval of Student's t, widened for skewed ratings."""
        widened = 1.0 + WIDENING / self.degrees
        return widened * student_quantile(0.5 + level / 2, self.degrees) * self.standard_error

    def lower(self, level: float = LEVEL) -> float:
        """Return the lower end of the two-sided interval."""
        return self.value - self.half_width(level)

    def upper(self, level: float = LEVEL) -> float:
        """Return the upper end of the two-sided interval."""
        return self.value + self.half_width(level)

    def least(self, level: float = LEVEL) -> float:
        """Return the one-sided lower bound: the true value is below it in ``1 - level`` of all cases."""
        return self.value - student_quantile(level, self.degrees) * self.standard_error

    def most(self, level: float = LEVEL) -> float:
        """Return the one-sided upper bound."""
        return self.value + student_quantile(level, self.degrees) * self.standard_error

    def verdict(self, level: float = LEVEL) -> Verdict:
        """Judge a difference: better or worse where the two-sided interval leaves out 0."""
        if self.lower(level) > ROUNDING:
            return "better"
        return "worse" if self.upper(level) < -ROUNDING else "not distinguishable"

    def is_no_worse_than(self, margin: float, level: float = LEVEL) -> bool:
        """Say whether a difference is shown to lie no lower than ``-margin``: the one-sided bound does."""
        return self.least(level) >= -_checked(margin) - ROUNDING

    def is_equivalent_within(self, margin: float, level: float = LEVEL) -> bool:
        """Say whether a difference is shown to lie within ``±margin``, by two one-sided tests.

        References
        ----------
        .. [1] Schuirmann, Journal of Pharmacokinetics and Biopharmaceutics 15 (1987) 657-680.
        """
        return self.is_no_worse_than(margin, level) and self.most(level) <= margin + ROUNDING


def _checked(margin: float) -> float:
    if not margin >= 0:
        raise SettingsError(f"the margin is {margin}", where="statistics", remedy="give 0 or more")
    return margin


def mean_estimate(values: Sequence[float]) -> Estimate | None:
    r"""Estimate the mean of independent values.

    .. math:: \bar x = \frac1n \sum x_i, \qquad s_{\bar x}^2 = \frac{1}{n(n-1)} \sum (x_i - \bar x)^2

    Parameters
    ----------
    values
        One a repeat.

    Returns
    -------
    Estimate or None
        None with fewer than two values.

    References
    ----------
    .. [1] Student, Biometrika 6 (1908) 1-25. Coverage for ratings: see ``docs/statistics.md``.

    Examples
    --------
    >>> found = mean_estimate([0.80, 0.82, 0.84])
    >>> round(found.value, 6), round(found.lower(), 4), round(found.upper(), 4)
    (0.82, 0.7653, 0.8747)
    """
    if len(values) < 2:
        return None
    mean, deviation = mean_and_deviation(values)
    count = len(values)
    return Estimate(value=mean, standard_error=deviation / math.sqrt(count), degrees=count - 1.0, count=count)


def mean_and_deviation(values: Sequence[float]) -> tuple[float, float]:
    r"""Return mean and standard deviation of two or more values.

    .. math:: \bar x = \frac1n \sum x_i, \qquad s^2 = \frac{1}{n-1} \sum (x_i - \bar x)^2

    Examples
    --------
    >>> mean_and_deviation([1.0, 2.0, 3.0])
    (2.0, 1.0)
    """
    count = len(values)
    if count >= FEW:
        array = np.asarray(values, dtype=float)
        return float(array.mean()), float(array.std(ddof=1))
    total = 0.0
    for value in values:
        total += float(value)
    mean = total / count
    squares = 0.0
    for value in values:
        squares += (float(value) - mean) * (float(value) - mean)
    return mean, math.sqrt(squares / (count - 1))


def mean_of_repeats(values: Sequence[float]) -> float:
    """Return the mean of the values of some repeats; the same bits in whatever order they are given.

    Examples
    --------
    >>> mean_of_repeats([0.1, 0.2, 0.3]) == mean_of_repeats([0.3, 0.2, 0.1])
    True
    """
    return math.fsum(values) / len(values)


def paired_difference(before: Mapping[str, float], after: Mapping[str, float]) -> Estimate | None:
    """Estimate ``after - before`` from the repeats that both have.

    Examples
    --------
    >>> found = paired_difference({"a": 0.80, "b": 0.70, "c": 0.75}, {"a": 0.77, "b": 0.67, "c": 0.71})
    >>> round(found.value, 4), found.verdict()
    (-0.0333, 'worse')
    """
    return mean_estimate([after[name] - value for name, value in before.items() if name in after])


def weighted_sum(parts: Iterable[tuple[float, Estimate | None]]) -> Estimate | None:
    r"""Add up independent estimates.

    .. math:: s^2 = \sum w_i^2 s_i^2, \qquad \nu = \frac{s^4}{\sum w_i^4 s_i^4 / \nu_i}

    Parameters
    ----------
    parts
        Weight and estimate, or None where it is not known; the weights are used as they are.

    Returns
    -------
    Estimate or None
        None without parts, and where a part is not known.

    References
    ----------
    .. [1] Welch, Biometrika 34 (1947) 28-35; Satterthwaite, Biometrics Bulletin 2 (1946) 110-114.
    """
    given = list(parts)
    listed = [(weight, one) for weight, one in given if one is not None]
    if not listed or len(listed) < len(given):
        return None
    variances = [(weight * one.standard_error) ** 2 for weight, one in listed]
    total = sum(variances)
    spread = sum(variance**2 / one.degrees for variance, (_, one) in zip(variances, listed, strict=True))
    return Estimate(
        value=sum(weight * one.value for weight, one in listed),
        standard_error=math.sqrt(total),
        degrees=total**2 / spread if spread > 0 else min(one.degrees for _, one in listed),
        count=min(one.count for _, one in listed),
    )


@lru_cache(maxsize=4096)
def student_quantile(share: float, degrees: float) -> float:
    """Return the quantile of Student's t distribution; cached, because numbers of repeats recur.

    Examples
    --------
    >>> round(student_quantile(0.975, 4), 3)
    2.776
    """
    from scipy.special import stdtrit  # noqa: PLC0415 - slow to load, and not every command needs it

    return float(stdtrit(degrees, share))
