"""Drift, steps and the effect of exchanged parts in a series of qualification tests."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr
from correlate.laboratory.control_chart import parts_of
from correlate.statistics import LEVEL, student_quantile

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


LEAST_DEGREES: Final = 2
"""Fewest degrees of freedom that give an interval; chosen here."""
LEAST_SIDE: Final = 2
"""Fewest tests on either side of a step: the control chart shows single deviating tests. Chosen here."""
DRAWS: Final = 20_000
"""Simulated series behind the probability of a step; its standard error is 0.0005 at 0.005."""
SEED: Final = 20260301


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """A difference with its interval.

    Attributes
    ----------
    value, lower, upper
        The difference and the ends of its interval, in the unit of the quantity (per year for a drift).
    """

    value: float
    lower: float
    upper: float

    @property
    def is_distinguishable(self) -> bool:
        """Whether the interval excludes 0."""
        return self.lower > 0.0 or self.upper < 0.0


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class StepFound:
    """The most likely place of one step.

    Attributes
    ----------
    at
        Number of the first value after it, from 0.
    size
        Mean after less mean before, in the part in which it lies.
    probability
        Share of series without a step in which the largest step is as clear or clearer.
    """

    at: int
    size: float
    probability: float


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """What a series of tests shows.

    Attributes
    ----------
    drift
        Change per year that all parts have in common; None with too few tests.
    exchanges
        What each exchange changed, with the drift removed; None with too few tests.
    step
        The most likely step at a place where no part was exchanged; None with too few tests.
    is_step
        Whether the step is distinguishable, and describes the series better than the drift.
    is_drift
        Whether the drift is distinguishable, and describes the series better than the step.
    """

    drift: Effect | None
    exchanges: tuple[Effect | None, ...]
    step: StepFound | None
    is_step: bool
    is_drift: bool


def changes(
    years: Sequence[float],
    values: Sequence[float],
    *,
    starts: Sequence[int] = (),
    comparisons: int = 1,
    exchange_comparisons: int = 1,
) -> Changes:
    r"""Look for drift, one step, and the effect of exchanged parts.

    One straight line is fitted by least squares, with the same slope in all parts and a level for each part:

    .. math:: x_i = a_{p(i)} + b\,t_i + \varepsilon_i

    The drift is :math:`b`; the effect of an exchange is the difference of the levels on either side of it.
    Both have Student's interval. A step is looked for in
    :math:`x_i = a_{p(i)} + c\,[i \ge k] + \varepsilon_i`: of all places :math:`k`, that with the largest
    Student ratio of :math:`c`. How often the largest ratio is as large without a step is counted in 20,000
    simulated series of normal values with the same parts.

    Parameters
    ----------
    years
        When, in years, ascending. Shape ``(n,)``.
    values
        What was measured. Shape ``(n,)``.
    starts
        Numbers of the values that begin a new part, from 0.
    comparisons
        Number of tests for drift and step made together: intervals are widened (Bonferroni), so that
        at most 5 % of series without any change show one in any of them.
    exchange_comparisons
        The same for the effects of exchanges.

    Returns
    -------
    Changes

    References
    ----------
    .. [1] Least squares, Student's interval and Bonferroni's inequality: textbooks. The largest Student ratio
       of one step: Worsley, Journal of the American Statistical Association 74 (1979) 365-367 (from memory);
       calibrating it by simulation, and choosing between drift and step by the smaller sum of squares, are
       chosen here.

    Examples
    --------
    >>> found = changes([0.0, 0.5, 1.0, 1.5, 2.0], [10.0, 9.5, 9.1, 8.4, 8.0])
    >>> found.is_drift, round(found.drift.value, 2)
    (True, -1.02)
    """
    t, x = np.asarray(years, dtype=float), np.asarray(values, dtype=float)
    parts = parts_of(x.size, starts)
    levels = _levels(x.size, parts)
    line = _Fit.of(np.column_stack([levels, t]), x) if np.ptp(t) > 0 else None
    slope = np.zeros(len(parts) + 1)
    slope[-1] = 1.0
    drift = None if line is None else line.effect(slope, comparisons)
    exchanges = [
        None if line is None else line.effect(_difference(number, len(parts)), exchange_comparisons)
        for number in range(1, len(parts))
    ]
    step, left_by_step = _step(x, parts)
    shows_step = step is not None and step.probability < (1.0 - LEVEL) / comparisons
    shows_drift = drift is not None and drift.is_distinguishable
    drift_is_better = line is not None and line.left <= left_by_step
    return Changes(
        drift=drift,
        exchanges=tuple(exchanges),
        step=step,
        is_step=shows_step and not (shows_drift and drift_is_better),
        is_drift=shows_drift and (drift_is_better or not shows_step),
    )


@dataclass(frozen=True, slots=True)
class _Fit:
    """A fit: coefficients, inverse normal matrix, residual sum of squares, degrees of freedom."""

    coefficients: Floats
    inverse: Floats
    left: float
    degrees: int

    @classmethod
    def of(cls, columns: Floats, values: Floats) -> _Fit | None:
        """Fit; None where the columns depend on each other or too few degrees of freedom are left."""
        degrees = values.size - columns.shape[1]
        if degrees < LEAST_DEGREES or np.linalg.matrix_rank(columns) < columns.shape[1]:
            return None
        inverse: Floats = np.linalg.pinv(columns.T @ columns).astype(np.float64)
        coefficients: Floats = inverse @ columns.T @ values
        left = float(np.sum((values - columns @ coefficients) ** 2))
        return cls(coefficients, inverse, left, degrees)

    def effect(self, weights: Floats, comparisons: int) -> Effect:
        """Return a weighted sum of the coefficients with its interval."""
        value = float(weights @ self.coefficients)
        error = float(np.sqrt(self.left / self.degrees * (weights @ self.inverse @ weights)))
        half = student_quantile(1.0 - (1.0 - LEVEL) / (2 * comparisons), self.degrees) * error
        return Effect(value=value, lower=value - half, upper=value + half)


def _levels(count: int, parts: Sequence[slice]) -> Floats:
    """Return one column per part: 1 within the part, else 0."""
    columns = np.zeros((count, len(parts)))
    for number, part in enumerate(parts):
        columns[part, number] = 1.0
    return columns


def _difference(number: int, count: int) -> Floats:
    """Return the weights of the level of a part less that of the part before; the slope has none."""
    weights = np.zeros(count + 1)
    weights[number - 1 : number + 1] = -1.0, 1.0
    return weights


def _step(values: Floats, parts: Sequence[slice]) -> tuple[StepFound | None, float]:
    """Return the most likely step, and the residual sum of squares with it."""
    bounds = tuple((part.start, part.stop) for part in parts)
    places, columns = _steps(values.size, bounds)
    degrees = values.size - len(parts) - 1
    if not places or degrees < LEAST_DEGREES:
        return None, np.inf
    residual = _without_levels(values[np.newaxis], parts)
    total = float(np.sum(residual**2))
    if total == 0.0:
        return None, np.inf
    explained = (residual @ columns)[0] ** 2
    best = int(np.argmax(explained))
    at = places[best]
    part = next(one for one in parts if one.start < at < one.stop)
    share = float(explained[best] / total)
    beyond = int(np.count_nonzero(_largest_shares(values.size, bounds) >= share))
    size = float(values[at : part.stop].mean() - values[part.start : at].mean())
    found = StepFound(at=at, size=size, probability=(beyond + 1) / (DRAWS + 1))
    return found, total - float(explained[best])


def _without_levels(series: Floats, parts: Sequence[slice]) -> Floats:
    """Subtract the mean of each part; series of shape ``(m, n)``."""
    left = series.copy()
    for part in parts:
        left[:, part] -= left[:, part].mean(axis=1, keepdims=True)
    return left


def _steps(count: int, bounds: tuple[tuple[int, int], ...]) -> tuple[list[int], Floats]:
    """Return the places where a step can be, and one column each: of unit length, without levels."""
    places = [at for start, stop in bounds for at in range(start + LEAST_SIDE, stop - LEAST_SIDE + 1)]
    columns = np.zeros((count, len(places)))
    for number, at in enumerate(places):
        start, stop = next(one for one in bounds if one[0] < at < one[1])
        columns[at:stop, number] = 1.0
        columns[start:stop, number] -= (stop - at) / (stop - start)
    return places, columns / np.linalg.norm(columns, axis=0)


@lru_cache(maxsize=64)
def _largest_shares(count: int, bounds: tuple[tuple[int, int], ...]) -> Floats:
    """Return, of simulated series without a step, the largest share of the squares that a step explains.

    The share and the Student ratio of the step grow together, so either may be compared.
    """
    random = np.random.Generator(np.random.PCG64([SEED, count, *(start for start, _ in bounds)]))
    _, columns = _steps(count, bounds)
    parts = [slice(start, stop) for start, stop in bounds]
    series = _without_levels(random.standard_normal((DRAWS, count)), parts)
    shares: Floats = np.max((series @ columns) ** 2, axis=1) / np.sum(series**2, axis=1)
    return shares
