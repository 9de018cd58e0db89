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
    from correlate.tuning.prediction import Draws, Guess, OutcomePredictor
    from correlate.tuning.runs import RunTable
    from correlate.tuning.search import SuccessModel

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
    """The acquisition function: the promise of points.

    Attributes
    ----------
    predictor
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

    predictor: OutcomePredictor
    outcomes: tuple[str, ...]
    limits: tuple[OutcomeLimit, ...]
    success: SuccessModel
    known: Floats

    @property
    def needed(self) -> tuple[str, ...]:
        """Outcomes to raise, then those of the limits."""
        return tuple(dict.fromkeys([*self.outcomes, *(limit.outcome for limit in self.limits)]))

    def log_promise(self, cube: Floats, weights: Floats) -> Floats:
        """Return the logarithm of the expected improvement times the chances, shape ``(m,)``.

        The outcomes are assumed to be normal and independent of each other.

        Parameters
        ----------
        cube
            Points of the unit cube, shape ``(m, d)``.
        weights
            Of the outcomes, shape ``(k,)``; of no meaning where there is one.
        """
        said = self.predictor.guess(cube, self.needed)
        gain = self._log_single(said) if len(self.outcomes) == 1 else self._log_weighted(said, weights)
        chance = np.zeros(len(cube))
        for limit in self.limits:
            guess = said[limit.outcome]
            chance += log_chance_above(guess.mean, guess.run_deviation, limit.least)
        return gain + chance + np.log(self._chance_of_success(cube))

    def promise(self, cube: Floats, weights: Floats, draws: Draws) -> Floats:
        """Return the expected improvement times the chance of success over draws, shape ``(m,)``.

        A draw counts with its improvement over the best run if it keeps every limit; its objectives and
        limits come from the same errors.
        """
        drawn = self.predictor.draw(cube, self.needed, draws)
        kept = np.ones((len(cube), len(draws.runs)))
        for limit in self.limits:
            softness = LIMIT_SOFTNESS * max(self.predictor.left_out(limit.outcome).error, 1e-12)
            kept *= np.exp(log_chance_above(drawn[limit.outcome], np.array(softness), limit.least))
        if len(self.outcomes) == 1:
            values, best = drawn[self.outcomes[0]], float(self.known.max())
        else:
            low, span = self._ranges()
            stacked = np.stack([drawn[name] for name in self.outcomes], axis=-1)
            values = weighted((stacked - low) / span, weights)
            best = float(weighted((self.known - low) / span, weights).max())
        gain = np.mean(kept * np.maximum(values - best, 0.0), axis=1)
        return np.asarray(gain * self._chance_of_success(cube))

    def believing(self, cube: Floats) -> Acquisition:
        """Return the promise of points once others are chosen, as if they had turned out as predicted."""
        said = self.predictor.means(cube, self.outcomes)
        values = np.array([said[name] for name in self.outcomes]).T
        return replace(self, predictor=self.predictor.believing(cube), known=np.vstack([self.known, values]))

    def _chance_of_success(self, cube: Floats) -> Floats:
        return np.maximum(self.success.chance(cube), LEAST_CHANCE)

    def _ranges(self) -> tuple[Floats, Floats]:
        return self.known.min(axis=0), np.maximum(np.ptp(self.known, axis=0), 1e-12)

    def _log_single(self, said: Mapping[str, Guess]) -> Floats:
        guess = said[self.outcomes[0]]
        return log_expected_improvement(guess.mean, guess.deviation, float(self.known.max()))

    def _log_weighted(self, said: Mapping[str, Guess], weights: Floats) -> Floats:
        """Average the improvement over draws, softly cut at 0 so that it has slopes."""
        low, span = self._ranges()
        best = float(weighted((self.known - low) / span, weights).max())
        draws = np.random.default_rng(0).standard_normal((DRAWS, len(self.outcomes)))
        mean = (np.array([said[name].mean for name in self.outcomes]).T - low) / span
        deviation = np.array([said[name].deviation for name in self.outcomes]).T / span
        drawn = weighted(mean[:, None, :] + deviation[:, None, :] * draws, weights)
        soft = _SOFTNESS * np.logaddexp(0.0, np.maximum((drawn - best) / _SOFTNESS, -600.0))
        return np.asarray(np.log(soft.mean(axis=1)))


LIMIT_SOFTNESS: Final = 0.3
"""A draw that misses a limit by less than this share of the leave-one-out error may still keep it. Chosen
here."""


def acquisition(table: RunTable, predictor: OutcomePredictor, goal: TuningGoal) -> Acquisition:
    """Put together what the promise of a point is made of."""
    raised = np.array([table.outcome(name) for name in goal.outcomes]).T
    kept = within_limits(table, goal) & np.isfinite(raised).all(axis=1)
    return Acquisition(
        predictor=predictor,
        outcomes=goal.outcomes,
        limits=tuple(limit for limit in limits_of(table, goal) if not predictor.flat(limit.outcome)),
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
