"""What a further run may gain: expected improvement, and the acquisition function."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.tuning.guards import limits_of, within_limits
from correlate.tuning.search import fit_success

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.guards import OutcomeLimit
    from correlate.tuning.runs import RunTable
    from correlate.tuning.search import SuccessModel
    from correlate.tuning.surrogate import Surrogate

    Floats = NDArray[np.float64]


def expected_improvement(mean: Floats, deviation: Floats, best: float) -> Floats:
    r"""Return the expected improvement over the best value when more is better.

    .. math:: E[\max(f - f^*, 0)] = \sigma (\varphi(z) + z \Phi(z)), \qquad z = (\mu - f^*) / \sigma

    Parameters
    ----------
    mean, deviation
        Of the normal guess, shape ``(n,)``; a deviation of 0 is a certain guess.
    best
        Value to beat.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``, in the unit of the mean, 0 or more.

    References
    ----------
    .. [1] Jones, Schonlau, Welch, Journal of Global Optimization 13 (1998) 455-492, eq. 15 (number from
       memory). Deviation: maximises.

    Examples
    --------
    >>> import numpy as np
    >>> expected_improvement(np.array([1.0, 3.0]), np.array([1.0, 0.0]), 1.0).round(6).tolist()
    [0.398942, 2.0]
    """
    certain = np.maximum(mean - best, 0.0)
    return np.where(deviation > 0, np.exp(log_expected_improvement(mean, deviation, best)), certain)


def log_expected_improvement(mean: Floats, deviation: Floats, best: float) -> Floats:
    r"""Return its natural logarithm, right even where the improvement itself would round to 0.

    .. math:: \ln \sigma + \ln \varphi(z) + \ln(1 + z \, \Phi(z) / \varphi(z))

    Parameters
    ----------
    mean, deviation, best
        As for :func:`expected_improvement`.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``; very low, but finite, where a certain guess is no improvement.

    References
    ----------
    .. [1] The idea: Ament, Daulton, Eriksson, Balandat, Bakshy, "Unexpected improvements to expected
       improvement for Bayesian optimization", NeurIPS 2023. The form with the scaled complementary error
       function is derived here.
    """
    from scipy.special import erfcx, log_ndtr  # noqa: PLC0415 - slow to import

    # A certain guess is given the least deviation that keeps the quotient finite.
    sigma = np.maximum(deviation, 1e-12)
    z = (mean - best) / sigma
    low, high = np.minimum(z, 0.0), np.maximum(z, 0.0)
    mills = np.sqrt(np.pi / 2) * erfcx(-low / np.sqrt(2))
    # Far down the two terms cancel to rounding; there the first term of the series is exact enough.
    tail = np.where(low > -1e5, 1 + low * mills, 1 / np.maximum(low**2, 1.0))
    below = -0.5 * low**2 - 0.5 * np.log(2 * np.pi) + np.log(tail)
    above = np.log(np.exp(-0.5 * high**2) / np.sqrt(2 * np.pi) + high * np.exp(log_ndtr(high)))
    return np.asarray(np.log(sigma) + np.where(z < 0, below, above))


def log_chance_above(mean: Floats, deviation: Floats, least: float) -> Floats:
    """Return the natural logarithm of the chance that a normal guess is at least a value.

    Parameters
    ----------
    mean, deviation
        Of the guess, shape ``(n,)``.
    least
        The value.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``, 0 or less.
    """
    from scipy.special import log_ndtr  # noqa: PLC0415 - slow to import

    return np.asarray(log_ndtr((mean - least) / np.maximum(deviation, 1e-12)))


LEAST_CHANCE: Final = 1e-6
"""Chances are not counted lower than this, so that the search can still tell bad from worse."""
DRAWS: Final = 128
"""Draws of the outcomes with which a weighted improvement is averaged."""
SUM_SHARE: Final = 0.05
"""Share of the plain weighted sum beside the worst weighted outcome, as Knowles (2006) has it."""
_SOFTNESS: Final = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Acquisition:
    """The promise of points, as a natural logarithm.

    Attributes
    ----------
    surrogates
        Of the outcomes to raise and of the limits.
    outcomes
        To raise.
    limits
        To keep.
    success
        Chance of a good end.
    known
        Of the finished runs that keep the limits, what the outcomes to raise are, shape ``(n, k)``.
    """

    surrogates: Mapping[str, Surrogate]
    outcomes: tuple[str, ...]
    limits: tuple[OutcomeLimit, ...]
    success: SuccessModel
    known: Floats

    def log_promise(self, cube: Floats, weights: Floats) -> Floats:
        """Return the logarithm of the expected improvement times the chances, shape ``(m,)``.

        Parameters
        ----------
        cube
            Points of the unit cube, shape ``(m, d)``.
        weights
            Of the outcomes, shape ``(k,)``; of no meaning where there is one.
        """
        gain = self._log_single(cube) if len(self.outcomes) == 1 else self._log_weighted(cube, weights)
        return gain + self.log_limits(cube) + np.log(np.maximum(self.success.chance(cube), LEAST_CHANCE))

    def log_limits(self, cube: Floats) -> Floats:
        """Return the logarithm of the chance that every limit holds, shape ``(m,)``.

        The errors of the surrogates are taken as independent.
        """
        chance = np.zeros(len(cube))
        for limit in self.limits:
            surrogate = self.surrogates[limit.outcome]
            if not surrogate.flat:
                said = surrogate.predict_cube(cube)
                chance += log_chance_above(said.mean, said.run_deviation, limit.least)
        return chance

    def believing(self, cube: Floats) -> Acquisition:
        """Return the promise of points once others are chosen, as if they had turned out as predicted."""
        surrogates = {name: one.believing(cube) for name, one in self.surrogates.items()}
        said = np.array([surrogates[name].mean_cube(cube) for name in self.outcomes]).T
        return replace(self, surrogates=surrogates, known=np.vstack([self.known, said]))

    def _log_single(self, cube: Floats) -> Floats:
        said = self.surrogates[self.outcomes[0]].predict_cube(cube)
        return log_expected_improvement(said.mean, said.deviation, float(self.known.max()))

    def _log_weighted(self, cube: Floats, weights: Floats) -> Floats:
        """Average the improvement over draws, softly cut at 0 so that it has slopes."""
        low = self.known.min(axis=0)
        span = np.maximum(np.ptp(self.known, axis=0), 1e-12)
        best = float(weighted((self.known - low) / span, weights).max())
        draws = np.random.default_rng(0).standard_normal((DRAWS, len(self.outcomes)))
        said = [self.surrogates[name].predict_cube(cube) for name in self.outcomes]
        mean = (np.array([one.mean for one in said]).T - low) / span
        deviation = np.array([one.deviation for one in said]).T / span
        drawn = weighted(mean[:, None, :] + deviation[:, None, :] * draws, weights)
        soft = _SOFTNESS * np.logaddexp(0.0, np.maximum((drawn - best) / _SOFTNESS, -600.0))
        return np.asarray(np.log(soft.mean(axis=1)))


def acquisition(table: RunTable, surrogates: Mapping[str, Surrogate], goal: TuningGoal) -> Acquisition:
    """Put together what the promise of a point is made of."""
    raised = np.array([table.outcome(name) for name in goal.outcomes]).T
    kept = within_limits(table, goal) & np.isfinite(raised).all(axis=1)
    return Acquisition(
        surrogates={name: one for name, one in surrogates.items() if not one.flat},
        outcomes=goal.outcomes,
        limits=tuple(limit for limit in limits_of(table, goal) if not surrogates[limit.outcome].flat),
        success=fit_success(table),
        known=raised[kept],
    )


def weighted(values: Floats, weights: Floats) -> Floats:
    r"""Return the worst weighted outcome, and a little of their sum.

    .. math:: g(f) = \min_k w_k f_k + 0.05 \sum_k w_k f_k

    Parameters
    ----------
    values
        Outcomes over their ranges among the runs, last axis ``k``.
    weights
        Shape ``(k,)``.

    Returns
    -------
    numpy.ndarray
        One axis less.

    References
    ----------
    .. [1] J. Knowles, "ParEGO", IEEE Transactions on Evolutionary Computation 10 (2006) 50-66. Deviations:
       it is maximised, and averaged over draws of one surrogate an outcome.
    """
    terms = values * weights
    return np.asarray(terms.min(axis=-1) + SUM_SHARE * terms.sum(axis=-1))
