"""How much a run at a point promises: improvement, limits kept, a good end."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.tuning.expected_improvement import log_chance_above, log_expected_improvement
from correlate.tuning.limits import limits_of, within_limits
from correlate.tuning.success import fit_success

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.limits import Limit
    from correlate.tuning.runs import RunTable
    from correlate.tuning.success import SuccessModel
    from correlate.tuning.surrogate import Surrogate

    Floats = NDArray[np.float64]

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
    limits: tuple[Limit, ...]
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
    """Put together what the promise of a point is made of.

    Parameters
    ----------
    table
        Of the runs.
    surrogates
        By outcome.
    goal
        What tuning is to raise, and what it must keep.

    Returns
    -------
    Acquisition
    """
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
